//! How a place came to hold what it holds.

use super::job::{Change, Moved, moved};
use super::{Read, order, page_start};
use crate::error::StorageError;
use domain::book::Order;
use domain::book::chemistry::Chemistry;
use domain::book::outcome::{Figures, Knowledge};
use domain::ids::{FactKey, PersonId, PlaceId};
use uuid::Uuid;

/// One line of a place's history. A fact that does not count has its line too, with the figures
/// as they stood.
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
    /// The void, or the job in its place.
    pub voided_by: Option<FactKey>,
    /// Of a top-up: what it counts as.
    pub top_up: Option<String>,
    /// Who did it, or entered it where it is no job.
    pub person: Option<PersonId>,
    /// Their handle.
    pub person_handle: Option<String>,
    /// Of a job: the date in the shop.
    pub local_date: Option<String>,
    /// Of a job: the shop's offset from UTC at entry, minutes.
    pub utc_offset_min: Option<i64>,
    /// Of a job: how finely its time was given.
    pub precision: Option<String>,
    /// Of a job: digest of its note.
    pub note_digest: Option<String>,
    /// What was moved in, mixed at 20 °C, mL.
    pub in_ml: i64,
    /// What was moved out, mixed at 20 °C, mL.
    pub out_ml: i64,
    /// Its postings to and from this place.
    pub moved: Vec<Moved>,
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
    /// What it held before, as far as a freeze point depends on it.
    pub chemistry_before: Chemistry,
    /// The same after.
    pub chemistry_after: Chemistry,
    /// Its questions that nobody answered.
    pub open_questions: i64,
}

impl HistoryRow {
    /// The figures before.
    pub fn before(&self) -> Figures {
        Figures {
            shown_ml: self.shown_before_ml,
            fraction_millionths: self.fraction_before_millionths,
            sigma_millionths: self.sigma_before_millionths,
            knowledge: Knowledge::from_code(&self.knowledge_before).unwrap_or_default(),
        }
    }

    /// The figures after.
    pub fn after(&self) -> Figures {
        Figures {
            shown_ml: self.shown_after_ml,
            fraction_millionths: self.fraction_after_millionths,
            sigma_millionths: self.sigma_after_millionths,
            knowledge: Knowledge::from_code(&self.knowledge_after).unwrap_or_default(),
        }
    }
}

struct Stored {
    happened_at: i64,
    made_at: i64,
    key: Uuid,
    seq: i64,
    job_kind: Option<String>,
    fact_kind: String,
    person: Option<Uuid>,
    person_handle: Option<String>,
    local_date: Option<String>,
    utc_offset_min: Option<i64>,
    precision: Option<String>,
    note_digest: Option<String>,
    standing: String,
    voided_by: Option<Uuid>,
    top_up: Option<String>,
    postings: String,
    changes: String,
    open_questions: i64,
}

impl Stored {
    fn into_row(self, place: PlaceId) -> Result<HistoryRow, StorageError> {
        let corrupt = |what: String| StorageError::corrupt("outcomes", self.seq, what);
        let changes: Vec<Change> =
            serde_json::from_str(&self.changes).map_err(|error| corrupt(error.to_string()))?;
        let change = changes
            .into_iter()
            .find(|change| change.place == place)
            .ok_or_else(|| corrupt(format!("it does not touch {}", place.0)))?;
        let mut moved = moved(self.seq, &self.postings)?;
        moved.retain(|moved| [moved.from_place, moved.to_place].contains(&Some(place)));
        let sum = |is: &dyn Fn(&Moved) -> bool| {
            moved
                .iter()
                .filter(|moved| moved.why == "moved" && is(moved))
                .map(|moved| moved.shown_ml)
                .sum()
        };
        let (before, after) = (change.before, change.after);
        Ok(HistoryRow {
            order: order(self.happened_at, self.made_at, self.key),
            seq: self.seq,
            job_kind: self.job_kind,
            fact_kind: self.fact_kind,
            standing: self.standing,
            voided_by: self.voided_by.map(FactKey),
            top_up: self.top_up,
            person: self.person.map(PersonId),
            person_handle: self.person_handle,
            local_date: self.local_date,
            utc_offset_min: self.utc_offset_min,
            precision: self.precision,
            note_digest: self.note_digest,
            in_ml: sum(&|moved| moved.to_place == Some(place)),
            out_ml: sum(&|moved| moved.from_place == Some(place)),
            moved,
            shown_before_ml: before.0,
            shown_after_ml: after.0,
            fraction_before_millionths: before.1,
            fraction_after_millionths: after.1,
            sigma_before_millionths: before.2,
            sigma_after_millionths: after.2,
            knowledge_before: before.3,
            knowledge_after: after.3,
            chemistry_before: Chemistry::from_code(&before.4).unwrap_or_default(),
            chemistry_after: Chemistry::from_code(&after.4).unwrap_or_default(),
            open_questions: self.open_questions,
        })
    }
}

impl Read {
    /// A page of a place's history, newest first, from before `before` on.
    pub async fn list_place_history(
        &mut self,
        place: PlaceId,
        before: Option<Order>,
        most: i64,
    ) -> Result<Vec<HistoryRow>, StorageError> {
        let (happened_at, made_at, key) = page_start(before);
        let rows = sqlx::query_as!(
            Stored,
            r#"select change.happened_at as "happened_at!", change.made_at as "made_at!",
                      change.key as "key!: Uuid", change.seq as "seq!",
                      jobs.kind as "job_kind?", record.kind as "fact_kind!",
                      coalesce(jobs.person, record.person) as "person?: Uuid",
                      people.handle as "person_handle?", jobs.local_date as "local_date?",
                      jobs.utc_offset_min as "utc_offset_min?", jobs.precision as "precision?",
                      jobs.note_digest, outcomes.standing as "standing!",
                      outcomes.voided_by as "voided_by?: Uuid", outcomes.top_up,
                      outcomes.postings as "postings!", outcomes.changes as "changes!",
                      (select count(*) from questions
                       where questions.seq = change.seq and answer is null)
                        as "open_questions!: i64"
               from place_changes as change
               cross join record on record.seq = change.seq
               cross join outcomes on outcomes.seq = change.seq
               left join jobs on jobs.seq = change.seq
               left join people on people.id = coalesce(jobs.person, record.person)
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
        rows.into_iter().map(|row| row.into_row(place)).collect()
    }

    /// The ids under which facts tell of a place: its own, and those given up for it. Of two merges of one id
    /// the later counts.
    pub async fn list_ids_of_place(
        &mut self,
        place: PlaceId,
    ) -> Result<Vec<PlaceId>, StorageError> {
        let ids = sqlx::query_scalar!(
            r#"with recursive same (place) as (
                 select ?1
                 union
                 select merges.from_place
                 from same
                 cross join merges on merges.into_place = same.place
                 where not exists (
                   select 1 from merges as later
                   where later.from_place = merges.from_place
                     and (later.happened_at, later.made_at, later.key)
                       > (merges.happened_at, merges.made_at, merges.key))
               )
               select place as "place!: Uuid" from same"#,
            place.0
        )
        .fetch_all(self.connection())
        .await?;
        Ok(ids.into_iter().map(PlaceId).collect())
    }
}
