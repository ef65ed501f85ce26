//! What places hold, and how they came to hold it.

use super::{Read, order, page_start};
use crate::error::StorageError;
use domain::book::Order;
use domain::book::contents::Contents;
use domain::ids::{PlaceId, ShopId, UnitId};
use domain::moment::Moment;
use serde::Deserialize;
use uuid::Uuid;

/// What a loop or vessel holds by the book.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PlaceContents {
    /// The place.
    pub place: PlaceId,
    /// "loop" or "vessel".
    pub account: String,
    /// The unit it is a loop of.
    pub unit: Option<UnitId>,
    /// Number of that unit.
    pub unit_number: Option<String>,
    /// Name of the loop or vessel; none when nobody has a card for it.
    pub name: Option<String>,
    /// The shop it belongs to.
    pub shop: Option<ShopId>,
    /// Millilitres by component, before mixing at 20 °C.
    pub contents: Contents,
    /// The same mixed.
    pub shown_ml: i64,
    /// Strength, millionths.
    pub fraction_millionths: i64,
    /// Its standard deviation, millionths.
    pub sigma_millionths: i64,
    /// How it is known.
    pub knowledge: String,
    /// When a reading last counted.
    pub last_reading_at: Option<Moment>,
    /// When it was last dipped.
    pub last_dip_at: Option<Moment>,
    /// When it was last proved full.
    pub last_full_at: Option<Moment>,
    /// The day its contents became waste.
    pub generation_date: Option<String>,
    /// Whether it was retired.
    pub retired: bool,
    /// Its history is being worked out again.
    pub being_worked_out_again: bool,
}

/// What an account outside came to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Balance {
    /// The account.
    pub account: String,
    /// The component.
    pub component: String,
    /// Millilitres before mixing at 20 °C; negative for what came from there.
    pub ml: i64,
}

/// One line of a place's history.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct HistoryRow {
    /// Where it stands in the replay; the next page begins before the last row's.
    pub order: Order,
    /// Its place in the record.
    pub seq: i64,
    /// Kind of job; none for an opening, a decision or a retirement.
    pub job_kind: Option<String>,
    /// Kind of fact.
    pub fact_kind: String,
    /// How it stands.
    pub standing: String,
    /// Volume before, mL.
    pub shown_before_ml: i64,
    /// Volume after, mL.
    pub shown_after_ml: i64,
    /// Strength before, millionths.
    pub fraction_before_millionths: i64,
    /// Strength after, millionths.
    pub fraction_after_millionths: i64,
    /// Standard deviation before, millionths.
    pub sigma_before_millionths: i64,
    /// Standard deviation after, millionths.
    pub sigma_after_millionths: i64,
    /// How the strength was known before.
    pub knowledge_before: String,
    /// How it is known after.
    pub knowledge_after: String,
}

/// A place before and after a fact, as an outcome keeps it.
#[derive(Deserialize)]
struct Change {
    place: PlaceId,
    before: (i64, i64, i64, String),
    after: (i64, i64, i64, String),
}

impl Read {
    /// What every place holds, vessels first, by name and number.
    pub async fn list_contents(&mut self) -> Result<Vec<PlaceContents>, StorageError> {
        let rows = sqlx::query!(
            r#"select state.place as "place!: Uuid", state.account as "account!",
                      units.id as "unit?: Uuid", units.number as "unit_number?",
                      coalesce(vessels.name, loops.name) as "name?: String",
                      coalesce(vessels.shop, units.shop) as "shop?: Uuid",
                      state.contents as "contents!", state.shown_ml as "shown_ml!",
                      state.fraction_millionths as "fraction_millionths!",
                      state.sigma_millionths as "sigma_millionths!",
                      state.knowledge as "knowledge!", state.last_reading_at,
                      state.last_dip_at, state.last_full_at, state.generation_date,
                      state.retired as "retired!: bool",
                      stale_places.place is not null as "stale!: bool"
               from place_states as state
               left join vessels on vessels.id = state.place
               left join units on units.id =
                 (select loops.unit from loops join units as owner on owner.id = loops.unit
                  where loops.place = state.place
                  order by owner.happened_at desc, owner.made_at desc, owner.key desc limit 1)
               left join loops on loops.unit = units.id and loops.n =
                 (select min(own.n) from loops as own
                  where own.unit = units.id and own.place = state.place)
               left join stale_places on stale_places.place = state.place
               order by state.account desc, vessels.name, units.number, loops.n, state.place"#
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter()
            .map(|row| {
                let contents = serde_json::from_str(&row.contents).map_err(|error| {
                    StorageError::corrupt("place_states", row.place, error.to_string())
                })?;
                Ok(PlaceContents {
                    place: PlaceId(row.place),
                    account: row.account,
                    unit: row.unit.map(UnitId),
                    unit_number: row.unit_number,
                    name: row.name,
                    shop: row.shop.map(ShopId),
                    contents,
                    shown_ml: row.shown_ml,
                    fraction_millionths: row.fraction_millionths,
                    sigma_millionths: row.sigma_millionths,
                    knowledge: row.knowledge,
                    last_reading_at: row.last_reading_at.map(Moment),
                    last_dip_at: row.last_dip_at.map(Moment),
                    last_full_at: row.last_full_at.map(Moment),
                    generation_date: row.generation_date,
                    retired: row.retired,
                    being_worked_out_again: row.stale,
                })
            })
            .collect()
    }

    /// What every account outside came to, by component.
    pub async fn list_outside_balances(&mut self) -> Result<Vec<Balance>, StorageError> {
        Ok(sqlx::query_as!(
            Balance,
            "select account, component, ml from outside_balances order by account, component"
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Whether a place has an opening on record that is not voided or set aside.
    pub async fn has_opening(&mut self, place: PlaceId) -> Result<bool, StorageError> {
        Ok(sqlx::query_scalar!(
            r#"select exists (
                 select 1 from facts_about as about
                 cross join outcomes on outcomes.seq = about.seq
                 where about.subject = ?1 and about.kind = 'opening'
                   and outcomes.standing = 'posted'
               ) as "is: bool""#,
            place.0
        )
        .fetch_one(self.connection())
        .await?)
    }

    /// A page of a place's history, newest first, from before `before` on.
    pub async fn list_place_history(
        &mut self,
        place: PlaceId,
        before: Option<Order>,
        most: i64,
    ) -> Result<Vec<HistoryRow>, StorageError> {
        let (happened_at, made_at, key) = page_start(before);
        let rows = sqlx::query!(
            r#"select change.happened_at as "happened_at!", change.made_at as "made_at!",
                      change.key as "key!: Uuid", change.seq as "seq!",
                      jobs.kind as "job_kind?", record.kind as "fact_kind!",
                      outcomes.standing as "standing!", outcomes.changes as "changes!"
               from place_changes as change
               cross join record on record.seq = change.seq
               cross join outcomes on outcomes.seq = change.seq
               left join jobs on jobs.seq = change.seq
               where change.place = ?1
                 and (change.happened_at, change.made_at, change.key) < (?2, ?3, ?4)
               order by change.happened_at desc, change.made_at desc, change.key desc
               limit ?5"#,
            place.0,
            happened_at,
            made_at,
            key,
            most
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter()
            .map(|row| {
                let corrupt = |what: String| StorageError::corrupt("outcomes", row.seq, what);
                let changes: Vec<Change> = serde_json::from_str(&row.changes)
                    .map_err(|error| corrupt(error.to_string()))?;
                let change = changes
                    .into_iter()
                    .find(|change| change.place == place)
                    .ok_or_else(|| corrupt(format!("it does not touch {}", place.0)))?;
                let (before, after) = (change.before, change.after);
                Ok(HistoryRow {
                    order: order(row.happened_at, row.made_at, row.key),
                    seq: row.seq,
                    job_kind: row.job_kind,
                    fact_kind: row.fact_kind,
                    standing: row.standing,
                    shown_before_ml: before.0,
                    shown_after_ml: after.0,
                    fraction_before_millionths: before.1,
                    fraction_after_millionths: after.1,
                    sigma_before_millionths: before.2,
                    sigma_after_millionths: after.2,
                    knowledge_before: before.3,
                    knowledge_after: after.3,
                })
            })
            .collect()
    }
}
