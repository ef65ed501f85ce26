//! Month totals.

use super::{PostingRow, Read, VesselNow};
use crate::error::StorageError;
use chrono::NaiveTime;
use domain::book::contents::Contents;
use domain::book::month::{FlowTotal, Month, VesselMasses, VesselStatement};
use domain::book::outcome::Measure;
use domain::fleet::Vessel;
use domain::ids::{PlaceId, ShopId};
use domain::job::Account;
use domain::moment::{DAY_MS, Moment};

/// What moved in and out of a vessel.
#[derive(Default)]
struct Turnover {
    taken_in: Contents,
    given_out: Contents,
    /// In less out, each mixed by itself, mL.
    shown_ml: i64,
    masses: VesselMasses,
}

impl Turnover {
    fn take(&mut self, vessel: PlaceId, posting: &PostingRow) {
        if posting.to_place == Some(vessel) {
            self.taken_in.add(&posting.contents);
            self.shown_ml = self.shown_ml.saturating_add(posting.shown_ml);
            self.weigh(vessel, posting, 1);
        }
        if posting.from_place == Some(vessel) {
            self.given_out.add(&posting.contents);
            self.shown_ml = self.shown_ml.saturating_sub(posting.shown_ml);
            self.weigh(vessel, posting, -1);
        }
    }

    /// Adds the mass of what came in, or of what went out where `sign` is −1.
    fn weigh(&mut self, vessel: PlaceId, posting: &PostingRow, sign: i64) {
        let sums = &mut self.masses;
        let Some(g) = posting.contents.mass_g() else {
            sums.without_mass = sums.without_mass.saturating_add(1);
            return;
        };
        let comes_in = sign > 0;
        let other = if comes_in {
            &posting.from_account
        } else {
            &posting.to_account
        };
        let is = |account: Account| other == account.word();
        let nobody_moved_it = is(Account::NotAccountedFor) || is(Account::Opening);
        let (sum, g) = match comes_in {
            _ if nobody_moved_it => (&mut sums.corrected_g, g.saturating_mul(sign)),
            true => (&mut sums.came_in_g, g),
            false if is(Account::Carrier) => (&mut sums.shipped_g, g),
            false if is(Account::Loop(vessel)) => (&mut sums.into_units_g, g),
            false => (&mut sums.other_out_g, g),
        };
        *sum = sum.saturating_add(g);
    }

    /// What a vessel held before all of this, when it holds `after` now.
    fn before(&self, after: &Contents) -> Contents {
        let mut before = after.clone();
        before.subtract(&self.taken_in);
        before.add(&self.given_out);
        before
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
    /// came in and went out in between: worked out backwards from what they hold now, so that it
    /// closes exactly. A vessel that no fact was about yet is left out.
    pub async fn list_vessel_statements(
        &mut self,
        shop: ShopId,
        months: (Month, Month),
    ) -> Result<Vec<(Vessel, VesselStatement, VesselMasses)>, StorageError> {
        let mut all = Vec::new();
        for VesselNow { card, held, .. } in self.list_vessels_of_shop_with_contents(shop).await? {
            if let Some(held) = held {
                let about = (card.id, held.contents);
                let (statement, masses) = self.vessel_statement(about, months).await?;
                all.push((card, statement, masses));
            }
        }
        Ok(all)
    }

    async fn vessel_statement(
        &mut self,
        (vessel, now): (PlaceId, Contents),
        (first, last): (Month, Month),
    ) -> Result<(VesselStatement, VesselMasses), StorageError> {
        // Local days begin up to one before those of Greenwich.
        let begins: Moment = first.first_day().and_time(NaiveTime::MIN).and_utc().into();
        let from = begins.plus_ms(-DAY_MS);
        let (first, last) = (first.to_string(), last.to_string());
        let rows = sqlx::query!(
            r#"select outcomes.seq as "seq!", outcomes.month as "month!",
                      outcomes.postings as "postings!"
               from place_changes as change
               cross join outcomes on outcomes.seq = change.seq and outcomes.standing = 'posted'
               where change.place = ?1 and change.happened_at >= ?2 and outcomes.month >= ?3"#,
            vessel.0,
            from.0,
            first
        )
        .fetch_all(self.connection())
        .await?;
        let (mut within, mut later) = (Turnover::default(), Turnover::default());
        for row in rows {
            let postings: Vec<PostingRow> = serde_json::from_str(&row.postings)
                .map_err(|error| StorageError::corrupt("outcomes", row.seq, error.to_string()))?;
            let turnover = if row.month <= last {
                &mut within
            } else {
                &mut later
            };
            for posting in &postings {
                turnover.take(vessel, posting);
            }
        }
        let closing = later.before(&now);
        let opening = within.before(&closing);
        let statement = VesselStatement {
            vessel,
            shrink_on_mixing_ml: closing
                .shown_ml()
                .saturating_sub(opening.shown_ml())
                .saturating_sub(within.shown_ml),
            opening,
            taken_in: within.taken_in,
            given_out: within.given_out,
            closing,
        };
        Ok((statement, within.masses))
    }
}
