//! What jobs took out of loops and put into them, for what their capacities, fills and comebacks are
//! worked out from.

use super::Read;
use super::job::{Change, PostingRow};
use crate::error::StorageError;
use crate::record::json;
use domain::book::outcome::TopUpClass;
use domain::condition::work::LoopWork;
use domain::ids::{FactKey, PlaceId, UnitId};
use domain::job::JobKind;
use domain::moment::Moment;
use std::collections::HashMap;
use uuid::Uuid;

/// The work on loops, each in the order of time.
pub type Works = HashMap<PlaceId, Vec<LoopWork>>;

struct WorkRow {
    seq: i64,
    key: Uuid,
    kind: String,
    place: Option<Uuid>,
    at: i64,
    local_date: String,
    follows: Option<Uuid>,
    top_up: Option<String>,
    postings: String,
    changes: String,
    mark: Option<String>,
    under_vacuum: bool,
    leak_class: i64,
}

impl Read {
    /// What was done to the loops of some units from a moment on and up to another.
    pub async fn list_work(
        &mut self,
        units: &[UnitId],
        (from, to): (Moment, Moment),
    ) -> Result<Works, StorageError> {
        let units = json(units)?;
        let rows = sqlx::query_as!(
            WorkRow,
            r#"select jobs.seq as "seq!", jobs.key as "key!: Uuid", jobs.kind as "kind!",
                      jobs.place as "place: Uuid", jobs.replayed_at as "at!",
                      jobs.local_date as "local_date!", jobs.follows as "follows: Uuid",
                      outcomes.top_up, outcomes.postings as "postings!",
                      outcomes.changes as "changes!", record.body ->> '$.what.job.mark' as "mark: String",
                      record.body ->> '$.what.job.planned.vacuum' is not null
                        as "under_vacuum!: bool",
                      coalesce(record.body ->> '$.what.job.details.pressure_test.leak_class', 0)
                        as "leak_class!: i64"
               from json_each(?1) as wanted
               cross join jobs on jobs.unit = unhex(wanted.value, '-')
                 and jobs.replayed_at >= ?2 and jobs.replayed_at <= ?3
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               cross join record on record.seq = jobs.seq
               where jobs.kind in ('recover', 'spill', 'fill', 'exchange', 'correct', 'flush',
                                   'top_up', 'fit_coupling', 'leak_repair', 'pressure_test')
               order by wanted.key, jobs.replayed_at, jobs.made_at, jobs.key"#,
            units,
            from.0,
            to.0
        )
        .fetch_all(self.connection())
        .await?;
        let mut works = Works::new();
        for row in rows {
            row.add_to(&mut works)?;
        }
        Ok(works)
    }
}

impl WorkRow {
    fn add_to(self, works: &mut Works) -> Result<(), StorageError> {
        let corrupt = |what: String| StorageError::corrupt("outcomes", self.seq, what);
        let postings: Vec<PostingRow> =
            serde_json::from_str(&self.postings).map_err(|error| corrupt(error.to_string()))?;
        let changes: Vec<Change> =
            serde_json::from_str(&self.changes).map_err(|error| corrupt(error.to_string()))?;
        let mut places: Vec<PlaceId> = self.place.map(PlaceId).into_iter().collect();
        let moved = postings.iter().filter(|posting| posting.why == "moved");
        let loops = moved.flat_map(|posting| {
            let from = (posting.from_account == "loop").then_some(posting.from_place);
            let to = (posting.to_account == "loop").then_some(posting.to_place);
            [from, to].into_iter().flatten().flatten()
        });
        for place in loops {
            if !places.contains(&place) {
                places.push(place);
            }
        }
        for place in places {
            let work = self.on(place, &postings, &changes)?;
            works.entry(place).or_default().push(work);
        }
        Ok(())
    }

    fn on(
        &self,
        place: PlaceId,
        postings: &[PostingRow],
        changes: &[Change],
    ) -> Result<LoopWork, StorageError> {
        let corrupt = |what| StorageError::corrupt("jobs", self.seq, what);
        let sum = |why: &str, of: fn(&PostingRow) -> Option<PlaceId>| {
            let each = postings.iter().filter(|posting| posting.why == why);
            let each = each.filter(|posting| of(posting) == Some(place));
            each.map(|posting| posting.shown_ml)
                .fold(0, i64::saturating_add)
        };
        let before = changes.iter().find(|change| change.place == place);
        // The book opens a loop with the first job on it.
        let opened_ml = sum("opening", |posting| posting.to_place);
        Ok(LoopWork {
            at: Moment(self.at),
            day: self
                .local_date
                .parse()
                .map_err(|_| corrupt("its date is no date"))?,
            key: FactKey(self.key),
            kind: JobKind::from_code(&self.kind).ok_or_else(|| corrupt("unknown kind"))?,
            out_ml: sum("moved", |posting| posting.from_place),
            put_in_ml: sum("moved", |posting| posting.to_place),
            held_before_ml: before
                .map_or(0, |change| change.before.0)
                .saturating_add(opened_ml),
            under_vacuum: self.under_vacuum,
            to_the_mark: self.mark.as_deref() == Some("at")
                || postings.iter().any(|posting| posting.why == "used_up"),
            top_up: match self.top_up.as_deref() {
                Some("completion") => Some(TopUpClass::Completion),
                Some(_) => Some(TopUpClass::Consumption),
                None => None,
            },
            follows: self.follows.map(FactKey),
            leak_seen: self.leak_class > 0,
        })
    }
}
