//! Month totals.

use super::Read;
use crate::error::StorageError;
use domain::book::month::{FlowTotal, Month};
use domain::book::outcome::Measure;
use domain::ids::ShopId;

impl Read {
    /// Volumes by measure over whole months, of one shop or all, in the order of statements.
    pub async fn list_month_totals(
        &mut self,
        shop: Option<ShopId>,
        (first, last): (Month, Month),
    ) -> Result<Vec<FlowTotal>, StorageError> {
        let shop = shop.map(|shop| shop.0);
        let (first, last) = (first.to_string(), last.to_string());
        let rows = sqlx::query!(
            r#"select measure as "measure!", cast(sum(typed_ml) as integer) as "typed_ml!: i64",
                      cast(sum(shown_ml) as integer) as "shown_ml!: i64",
                      cast(sum(mass_g) as integer) as "mass_g!: i64",
                      cast(sum(lines) as integer) as "lines!: i64",
                      cast(sum(lines_without_mass) as integer) as "lines_without_mass!: i64"
               from month_totals
               where month between ?1 and ?2 and (?3 is null or shop = ?3)
               group by measure"#,
            first,
            last,
            shop
        )
        .fetch_all(self.connection())
        .await?;
        let mut totals = rows
            .into_iter()
            .map(|row| {
                Ok(FlowTotal {
                    measure: Measure::from_code(&row.measure).ok_or_else(|| {
                        StorageError::corrupt("month_totals", &row.measure, "unknown measure")
                    })?,
                    typed_ml: row.typed_ml,
                    shown_ml: row.shown_ml,
                    mass_g: row.mass_g,
                    lines: row.lines,
                    lines_without_mass: row.lines_without_mass,
                })
            })
            .collect::<Result<Vec<_>, StorageError>>()?;
        totals.sort_by_key(|total| total.measure);
        Ok(totals)
    }

    /// Sequence numbers of the facts that closed a month; the first holds its statement.
    pub async fn list_month_closings(
        &mut self,
        shop: ShopId,
        month: Month,
    ) -> Result<Vec<i64>, StorageError> {
        let month = month.to_string();
        Ok(sqlx::query_scalar!(
            "select seq from closed_months where shop = ?1 and month = ?2 order by seq",
            shop.0,
            month
        )
        .fetch_all(self.connection())
        .await?)
    }
}
