//! Month totals.

use super::Read;
use crate::error::StorageError;
use crate::record::json;
use domain::book::component::Component;
use domain::book::contents::Contents;
use domain::book::month::{FlowTotal, Month, VesselMasses, VesselStatement};
use domain::book::outcome::Measure;
use domain::fleet::Vessel;
use domain::ids::{PlaceId, ShopId};
use domain::job::Account;
use std::collections::HashMap;
use uuid::Uuid;

/// What moved in and out of a vessel over whole months.
#[derive(Default)]
struct Turnover {
    taken_in: Contents,
    given_out: Contents,
    /// What came in less what went out after them.
    later: Contents,
    /// In less out, each posting mixed by itself, mL.
    shown_ml: i64,
    masses: VesselMasses,
}

/// What went one way between a vessel and one other account, all postings together.
struct Weighed {
    comes_in: bool,
    account: String,
    shown_ml: i64,
    mass_g: i64,
    without_mass: i64,
}

impl Turnover {
    fn weigh(&mut self, vessel: PlaceId, moved: &Weighed) {
        let sign = if moved.comes_in { 1 } else { -1 };
        let signed = |figure: i64| figure.saturating_mul(sign);
        self.shown_ml = self.shown_ml.saturating_add(signed(moved.shown_ml));
        let sums = &mut self.masses;
        sums.without_mass = sums.without_mass.saturating_add(moved.without_mass);
        let is = |account: Account| moved.account == account.word();
        let nobody_moved_it = is(Account::NotAccountedFor) || is(Account::Opening);
        let (sum, g) = match moved.comes_in {
            _ if nobody_moved_it => (&mut sums.corrected_g, signed(moved.mass_g)),
            true => (&mut sums.came_in_g, moved.mass_g),
            false if is(Account::Carrier) => (&mut sums.shipped_g, moved.mass_g),
            false if is(Account::Loop(vessel)) => (&mut sums.into_units_g, moved.mass_g),
            false => (&mut sums.other_out_g, moved.mass_g),
        };
        *sum = sum.saturating_add(g);
    }

    /// The statement of a vessel that holds `now`.
    fn statement(self, vessel: PlaceId, now: Contents) -> (VesselStatement, VesselMasses) {
        let mut closing = now;
        closing.subtract(&self.later);
        let mut opening = closing.clone();
        opening.subtract(&self.taken_in);
        opening.add(&self.given_out);
        let statement = VesselStatement {
            vessel,
            shrink_on_mixing_ml: closing
                .shown_ml()
                .saturating_sub(opening.shown_ml())
                .saturating_sub(self.shown_ml),
            opening,
            taken_in: self.taken_in,
            given_out: self.given_out,
            closing,
        };
        (statement, self.masses)
    }
}

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

    /// The first month a shop has a total, a vessel that moved anything, or a closing in; none before
    /// the first.
    pub async fn first_month(&mut self, shop: ShopId) -> Result<Option<Month>, StorageError> {
        let first = sqlx::query_scalar!(
            r#"select min(month) as "month: String" from
                 (select min(month) as month from month_totals where shop = ?1
                  union all
                  select min(month) from closed_months where shop = ?1
                  union all
                  select min((select min(moved.month) from vessel_month_masses as moved
                              where moved.vessel = vessels.id))
                  from vessels where vessels.shop = ?1)"#,
            shop.0
        )
        .fetch_one(self.connection())
        .await?;
        first
            .map(|month| {
                Month::try_from(month)
                    .map_err(|month| StorageError::corrupt("month_totals", shop, month))
            })
            .transpose()
    }

    /// The first facts of a month of a shop that the book works out and that came in after a place in
    /// the record.
    pub async fn list_facts_of_month_after(
        &mut self,
        (shop, month): (ShopId, Month),
        after: i64,
        most: i64,
    ) -> Result<Vec<i64>, StorageError> {
        let month = month.to_string();
        Ok(sqlx::query_scalar!(
            "select seq from outcomes where seq > ?1 and shop = ?2 and month = ?3
             order by seq limit ?4",
            after,
            shop.0,
            month,
            most
        )
        .fetch_all(self.connection())
        .await?)
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

    /// What the vessels of a shop held when the first month began and the last one ended, and what
    /// came in and went out in between: worked out backwards from what they hold now, by the sums of
    /// each month, so that it closes exactly. A vessel that no fact was about yet is left out.
    pub async fn list_vessel_statements(
        &mut self,
        shop: ShopId,
        months: (Month, Month),
    ) -> Result<Vec<(Vessel, VesselStatement, VesselMasses)>, StorageError> {
        let cards = self.list_vessels(shop).await?;
        let ids: Vec<PlaceId> = cards.iter().map(|card| card.id).collect();
        let held = self.list_places(&ids).await?.into_iter();
        let mut held: HashMap<PlaceId, Contents> =
            held.map(|held| (held.place, held.contents)).collect();
        let mut turnovers = self.turnovers(&ids, months).await?;
        let of_card = |card: Vessel| {
            let now = held.remove(&card.id)?;
            let turnover = turnovers.remove(&card.id).unwrap_or_default();
            let (statement, masses) = turnover.statement(card.id, now);
            Some((card, statement, masses))
        };
        Ok(cards.into_iter().filter_map(of_card).collect())
    }

    async fn turnovers(
        &mut self,
        vessels: &[PlaceId],
        (first, last): (Month, Month),
    ) -> Result<HashMap<PlaceId, Turnover>, StorageError> {
        let vessels = json(vessels)?;
        let (first, last) = (first.to_string(), last.to_string());
        let mut all: HashMap<PlaceId, Turnover> = HashMap::new();
        let moved = sqlx::query!(
            r#"select moved.vessel as "vessel!: Uuid", moved.component as "component!",
                      sum(iif(moved.month <= ?3, moved.in_ml, 0)) as "in_ml!: i64",
                      sum(iif(moved.month <= ?3, moved.out_ml, 0)) as "out_ml!: i64",
                      sum(iif(moved.month > ?3, moved.in_ml - moved.out_ml, 0)) as "later_ml!: i64"
               from json_each(?1) as wanted
               cross join vessel_month_contents as moved
                 on moved.vessel = unhex(wanted.value, '-') and moved.month >= ?2
               group by moved.vessel, moved.component"#,
            vessels,
            first,
            last
        )
        .fetch_all(self.connection())
        .await?;
        for row in moved {
            let component = Component::from_name(&row.component).ok_or_else(|| {
                StorageError::corrupt("vessel_month_contents", &row.component, "component")
            })?;
            let turnover = all.entry(PlaceId(row.vessel)).or_default();
            turnover.taken_in.add_part(component, row.in_ml);
            turnover.given_out.add_part(component, row.out_ml);
            turnover.later.add_part(component, row.later_ml);
        }
        let weighed = sqlx::query!(
            r#"select moved.vessel as "vessel!: Uuid", moved.way as "way!",
                      moved.account as "account!", sum(moved.shown_ml) as "shown_ml!: i64",
                      sum(moved.mass_g) as "mass_g!: i64",
                      sum(moved.postings_without_mass) as "without_mass!: i64"
               from json_each(?1) as wanted
               cross join vessel_month_masses as moved
                 on moved.vessel = unhex(wanted.value, '-') and moved.month between ?2 and ?3
               group by moved.vessel, moved.way, moved.account"#,
            vessels,
            first,
            last
        )
        .fetch_all(self.connection())
        .await?;
        for row in weighed {
            let vessel = PlaceId(row.vessel);
            let moved = Weighed {
                comes_in: row.way == "in",
                account: row.account,
                shown_ml: row.shown_ml,
                mass_g: row.mass_g,
                without_mass: row.without_mass,
            };
            all.entry(vessel).or_default().weigh(vessel, &moved);
        }
        Ok(all)
    }
}
