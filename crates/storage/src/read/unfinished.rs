//! What was begun on loops of a shop and is not finished.

use super::Read;
use crate::error::StorageError;
use domain::ids::{PersonId, PlaceId, ShopId, UnitId};
use domain::moment::Moment;
use uuid::Uuid;

/// A loop that stands drained, or whose level nobody has looked at since it was filled.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Unfinished {
    /// Its unit.
    pub unit: UnitId,
    /// The number painted on it.
    pub unit_number: String,
    /// The loop.
    pub place: PlaceId,
    /// Since when: the draw, or the fill.
    pub since: Moment,
    /// The job that left it so: its place in the record.
    pub seq: Option<i64>,
    /// Who did it.
    pub person: Option<PersonId>,
    /// What it holds now, mL.
    pub shown_ml: i64,
    /// Its nominal capacity, mL.
    pub capacity_ml: Option<i64>,
}

/// Whether the job that left a loop so is looked up: whoever only counts has no use for it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum LastJob {
    /// With who did it.
    Named,
    /// Not looked up.
    LeftOut,
}

struct Stored {
    unit: Uuid,
    unit_number: String,
    place: Uuid,
    since: i64,
    seq: Option<i64>,
    person: Option<Uuid>,
    shown_ml: i64,
    capacity_ml: Option<i64>,
}

impl From<Stored> for Unfinished {
    fn from(stored: Stored) -> Self {
        Self {
            unit: UnitId(stored.unit),
            unit_number: stored.unit_number,
            place: PlaceId(stored.place),
            since: Moment(stored.since),
            seq: stored.seq,
            person: stored.person.map(PersonId),
            shown_ml: stored.shown_ml,
            capacity_ml: stored.capacity_ml,
        }
    }
}

impl Read {
    /// Loops of a shop out of which coolant was taken into a vessel and nothing filled in since,
    /// the longest first; those that still hold `least_level_millionths` of their capacity are left
    /// out, because a little that was taken out leaves nothing to be finished.
    pub async fn list_drained(
        &mut self,
        shop: ShopId,
        least_level_millionths: i64,
        (most, last): (i64, LastJob),
    ) -> Result<Vec<Unfinished>, StorageError> {
        let named = last == LastJob::Named;
        let rows = sqlx::query_as!(
            Stored,
            r#"select units.id as "unit!: Uuid", units.number as "unit_number!",
                      state.place as "place!: Uuid", state.drained_since as "since!",
                      job.seq as "seq?", job.person as "person?: Uuid",
                      state.shown_ml as "shown_ml!", loops.capacity_ml
               from place_states as state indexed by places_drained
               cross join loops on loops.place = state.place
               cross join units on units.id = loops.unit
               left join jobs as job on job.seq = (
                 select done.seq from jobs as done
                 join outcomes on outcomes.seq = done.seq and outcomes.standing = 'posted'
                 where ?4 and done.unit = units.id and done.replayed_at = state.drained_since
                   and done.place = state.place
                 limit 1)
               where state.drained_since is not null and state.retired = 0 and units.shop = ?1
                 and (loops.capacity_ml is null
                   or state.shown_ml * 1000000 < loops.capacity_ml * ?2)
               order by state.drained_since
               limit ?3"#,
            shop.0,
            least_level_millionths,
            most,
            named
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows.into_iter().map(Unfinished::from).collect())
    }

    /// Loops of a shop that were filled since `since` and whose level nobody has looked at after
    /// that, the longest first.
    pub async fn list_levels_to_look_at(
        &mut self,
        shop: ShopId,
        since: Moment,
        (most, last): (i64, LastJob),
    ) -> Result<Vec<Unfinished>, StorageError> {
        let named = last == LastJob::Named;
        let rows = sqlx::query_as!(
            Stored,
            r#"select units.id as "unit!: Uuid", units.number as "unit_number!",
                      state.place as "place!: Uuid", state.level_to_look_at as "since!",
                      job.seq as "seq?", job.person as "person?: Uuid",
                      state.shown_ml as "shown_ml!", loops.capacity_ml
               from place_states as state indexed by places_to_look_at
               cross join loops on loops.place = state.place
               cross join units on units.id = loops.unit
               left join jobs as job on job.seq = (
                 select done.seq from jobs as done
                 join outcomes on outcomes.seq = done.seq and outcomes.standing = 'posted'
                 where ?4 and done.unit = units.id and done.replayed_at = state.level_to_look_at
                   and done.place = state.place
                 limit 1)
               where state.level_to_look_at >= ?2 and state.retired = 0 and units.shop = ?1
               order by state.level_to_look_at
               limit ?3"#,
            shop.0,
            since.0,
            most,
            named
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows.into_iter().map(Unfinished::from).collect())
    }
}
