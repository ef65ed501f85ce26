//! Jobs and what the book made of them.

use super::{Read, order, page_start};
use crate::error::StorageError;
use domain::book::Order;
use domain::book::contents::Contents;
use domain::ids::{FactKey, PersonId, PlaceId, ShopId, UnitId};
use serde::Deserialize;
use uuid::Uuid;

/// A job in a list.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct JobRow {
    /// Where it stands in the replay; the next page begins before the last row's.
    pub order: Order,
    /// Its place in the record.
    pub seq: i64,
    /// Kind of job.
    pub kind: String,
    /// The shop.
    pub shop: ShopId,
    /// The unit.
    pub unit: Option<UnitId>,
    /// The loop or vessel.
    pub place: Option<PlaceId>,
    /// The date in the shop.
    pub local_date: String,
    /// Who did it.
    pub person: Option<PersonId>,
    /// How it stands.
    pub standing: String,
}

/// How a fact stands in the book.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct OutcomeRow {
    /// Where it stands in the replay.
    pub order: Order,
    /// A code of [`domain::book::outcome::Standing`].
    pub standing: String,
    /// The void, or the job in its place.
    pub voided_by: Option<FactKey>,
    /// Of a top-up: what it counts as.
    pub top_up: Option<String>,
}

/// One posting of a fact.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
pub struct PostingRow {
    /// The line it comes from.
    pub line: i64,
    /// Why it was made.
    pub why: String,
    /// Account it comes from.
    pub from_account: String,
    /// Place it comes from.
    pub from_place: Option<PlaceId>,
    /// Account it goes to.
    pub to_account: String,
    /// Place it goes to.
    pub to_place: Option<PlaceId>,
    /// What, in mL before mixing at 20 °C.
    pub contents: Contents,
    /// The same mixed.
    pub shown_ml: i64,
}

impl Read {
    /// A page of a unit's jobs, newest first, from before `before` on.
    pub async fn list_jobs_of_unit(
        &mut self,
        unit: UnitId,
        before: Option<Order>,
        most: i64,
    ) -> Result<Vec<JobRow>, StorageError> {
        let (happened_at, made_at, key) = page_start(before);
        let rows = sqlx::query!(
            r#"select jobs.key as "key!: Uuid", jobs.replayed_at as "replayed_at!",
                      jobs.made_at as "made_at!", jobs.seq as "seq!", jobs.kind as "kind!",
                      jobs.shop as "shop!: Uuid", jobs.unit as "unit?: Uuid",
                      jobs.place as "place?: Uuid", jobs.local_date as "local_date!",
                      jobs.person as "person?: Uuid", outcomes.standing as "standing!"
               from jobs cross join outcomes on outcomes.seq = jobs.seq
               where jobs.unit = ?1
                 and (jobs.replayed_at, jobs.made_at, jobs.key) < (?2, ?3, ?4)
               order by jobs.replayed_at desc, jobs.made_at desc, jobs.key desc
               limit ?5"#,
            unit.0,
            happened_at,
            made_at,
            key,
            most
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows
            .into_iter()
            .map(|row| JobRow {
                order: order(row.replayed_at, row.made_at, row.key),
                seq: row.seq,
                kind: row.kind,
                shop: ShopId(row.shop),
                unit: row.unit.map(UnitId),
                place: row.place.map(PlaceId),
                local_date: row.local_date,
                person: row.person.map(PersonId),
                standing: row.standing,
            })
            .collect())
    }

    /// A page of a shop's jobs, newest first, from before `before` on.
    pub async fn list_jobs_of_shop(
        &mut self,
        shop: ShopId,
        before: Option<Order>,
        most: i64,
    ) -> Result<Vec<JobRow>, StorageError> {
        let (happened_at, made_at, key) = page_start(before);
        let rows = sqlx::query!(
            r#"select jobs.key as "key!: Uuid", jobs.replayed_at as "replayed_at!",
                      jobs.made_at as "made_at!", jobs.seq as "seq!", jobs.kind as "kind!",
                      jobs.shop as "shop!: Uuid", jobs.unit as "unit?: Uuid",
                      jobs.place as "place?: Uuid", jobs.local_date as "local_date!",
                      jobs.person as "person?: Uuid", outcomes.standing as "standing!"
               from jobs cross join outcomes on outcomes.seq = jobs.seq
               where jobs.shop = ?1
                 and (jobs.replayed_at, jobs.made_at, jobs.key) < (?2, ?3, ?4)
               order by jobs.replayed_at desc, jobs.made_at desc, jobs.key desc
               limit ?5"#,
            shop.0,
            happened_at,
            made_at,
            key,
            most
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows
            .into_iter()
            .map(|row| JobRow {
                order: order(row.replayed_at, row.made_at, row.key),
                seq: row.seq,
                kind: row.kind,
                shop: ShopId(row.shop),
                unit: row.unit.map(UnitId),
                place: row.place.map(PlaceId),
                local_date: row.local_date,
                person: row.person.map(PersonId),
                standing: row.standing,
            })
            .collect())
    }

    /// How a fact stands in the book; none when it is not one the book works out.
    pub async fn find_outcome(&mut self, key: FactKey) -> Result<Option<OutcomeRow>, StorageError> {
        let row = sqlx::query!(
            r#"select happened_at, made_at, standing, voided_by as "voided_by: Uuid", top_up
               from outcomes
               where seq = (select seq from record where key = ?1)"#,
            key.0
        )
        .fetch_optional(self.connection())
        .await?;
        Ok(row.map(|row| OutcomeRow {
            order: order(row.happened_at, row.made_at, key.0),
            standing: row.standing,
            voided_by: row.voided_by.map(FactKey),
            top_up: row.top_up,
        }))
    }

    /// The postings of a fact, in the order they were worked out.
    pub async fn list_postings(&mut self, key: FactKey) -> Result<Vec<PostingRow>, StorageError> {
        let postings = sqlx::query_scalar!(
            "select postings from outcomes where seq = (select seq from record where key = ?1)",
            key.0
        )
        .fetch_optional(self.connection())
        .await?;
        postings.map_or(Ok(Vec::new()), |postings| {
            serde_json::from_str(&postings)
                .map_err(|error| StorageError::corrupt("outcomes", key, error.to_string()))
        })
    }
}
