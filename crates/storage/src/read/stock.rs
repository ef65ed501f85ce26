//! What went out of a shop's vessels of fresh fluid lately.

use super::Read;
use crate::error::StorageError;
use domain::book::component::{Base, InhibitorClass};
use domain::book::month::Month;
use domain::ids::{PlaceId, ShopId};
use domain::moment::Moment;
use uuid::Uuid;

/// One vessel of fresh fluid, retired ones among them: a drum that was emptied tells of the use as well.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct StockUse {
    /// The vessel.
    pub vessel: PlaceId,
    /// What it is kept for.
    pub kind: (Base, InhibitorClass),
    /// What went into loops less what came from there, mL at 20 °C.
    pub to_units_ml: i64,
    /// What went into other vessels less what came from there, mL at 20 °C.
    pub to_vessels_ml: i64,
    /// Concentrate that went out, mL before mixing at 20 °C.
    pub concentrate_out_ml: i64,
    /// All that went out, mL before mixing at 20 °C.
    pub out_ml: i64,
    /// When a fact first touched it; none where none did.
    pub first_at: Option<Moment>,
}

impl Read {
    /// What went out of the vessels a shop keeps for fresh fluid from the first day of a month on: from the
    /// sums of their months, whatever the record holds.
    pub async fn list_stock_use(
        &mut self,
        shop: ShopId,
        since: Month,
    ) -> Result<Vec<StockUse>, StorageError> {
        let since = since.to_string();
        let rows = sqlx::query!(
            r#"select vessels.id as "vessel!: Uuid", vessels.base as "base!", vessels.class as "class!",
                      (select coalesce(sum(iif(moved.way = 'out', moved.shown_ml, -moved.shown_ml)), 0)
                       from vessel_month_masses as moved
                       where moved.vessel = vessels.id and moved.month >= ?2
                         and moved.account = 'loop') as "to_units_ml!: i64",
                      (select coalesce(sum(iif(moved.way = 'out', moved.shown_ml, -moved.shown_ml)), 0)
                       from vessel_month_masses as moved
                       where moved.vessel = vessels.id and moved.month >= ?2
                         and moved.account = 'vessel') as "to_vessels_ml!: i64",
                      (select coalesce(sum(part.out_ml), 0) from vessel_month_contents as part
                       where part.vessel = vessels.id and part.month >= ?2
                         and part.component <> 'water') as "concentrate_out_ml!: i64",
                      (select coalesce(sum(part.out_ml), 0) from vessel_month_contents as part
                       where part.vessel = vessels.id and part.month >= ?2) as "out_ml!: i64",
                      (select happened_at from place_changes where place = vessels.id
                       order by happened_at limit 1) as "first_at?: i64"
               from vessels where vessels.shop = ?1 and vessels.holds = 'fresh'
               order by vessels.name, vessels.id"#,
            shop.0,
            since
        )
        .fetch_all(self.connection())
        .await?;
        let used = rows.into_iter().map(|row| {
            let kind = Base::from_word(&row.base).zip(InhibitorClass::from_word(&row.class));
            Ok(StockUse {
                vessel: PlaceId(row.vessel),
                kind: kind.ok_or_else(|| StorageError::corrupt("vessels", row.vessel, "class"))?,
                to_units_ml: row.to_units_ml,
                to_vessels_ml: row.to_vessels_ml,
                concentrate_out_ml: row.concentrate_out_ml,
                out_ml: row.out_ml,
                first_at: row.first_at.map(Moment),
            })
        });
        used.collect()
    }
}
