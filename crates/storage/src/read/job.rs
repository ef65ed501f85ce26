//! Jobs and what the book made of them.

use super::{Read, order, page_start};
use crate::error::StorageError;
use crate::record::json;
use domain::book::Order;
use domain::book::chemistry::Chemistry;
use domain::book::contents::Contents;
use domain::book::outcome::{Figures, Knowledge};
use domain::ids::{FactKey, PersonId, PlaceId, ShopId, UnitId};
use domain::job::JobKind;
use domain::moment::Moment;
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
    /// Its number; none where nobody has a card for it.
    pub unit_number: Option<String>,
    /// The loop or vessel.
    pub place: Option<PlaceId>,
    /// When it happened, as entered.
    pub happened_at: Moment,
    /// How finely that was given.
    pub precision: String,
    /// The date in the shop.
    pub local_date: String,
    /// The shop's offset from UTC at entry, minutes.
    pub utc_offset_min: i64,
    /// Who did it.
    pub person: Option<PersonId>,
    /// Their handle.
    pub person_handle: Option<String>,
    /// How the person was proved.
    pub proved: String,
    /// The job whose place it takes.
    pub replaces: Option<FactKey>,
    /// The job it goes on from.
    pub follows: Option<FactKey>,
    /// Digest of its note.
    pub note_digest: Option<String>,
    /// How it stands.
    pub standing: String,
    /// The void, or the job in its place.
    pub voided_by: Option<FactKey>,
    /// Of a top-up: what it counts as.
    pub top_up: Option<String>,
    /// Its postings, without what they are made of.
    pub moved: Vec<Moved>,
    /// The places it is about, before and after.
    pub changes: Vec<PlaceFigures>,
    /// Its questions that nobody answered.
    pub open_questions: i64,
}

impl JobRow {
    /// What was moved, mixed at 20 °C, mL; what the book worked out besides is not in it.
    pub fn moved_ml(&self) -> i64 {
        self.moved
            .iter()
            .filter(|moved| moved.why == "moved")
            .map(|moved| moved.shown_ml)
            .sum()
    }
}

/// A posting without what it is made of.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
pub struct Moved {
    /// The line it comes from.
    pub line: i64,
    /// Why it was made: a code of [`domain::book::outcome::Why`].
    pub why: String,
    /// Account it comes from.
    pub from_account: String,
    /// Place it comes from.
    pub from_place: Option<PlaceId>,
    /// Account it goes to.
    pub to_account: String,
    /// Place it goes to.
    pub to_place: Option<PlaceId>,
    /// How much, mixed at 20 °C, mL.
    pub shown_ml: i64,
}

/// A place before and after a fact.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct PlaceFigures {
    /// The place.
    pub place: PlaceId,
    /// Before, and of what.
    pub before: (Figures, Chemistry),
    /// After, and of what.
    pub after: (Figures, Chemistry),
}

/// A place before and after a fact, as an outcome keeps it.
#[derive(Deserialize)]
pub(super) struct Change {
    pub(super) place: PlaceId,
    pub(super) before: (i64, i64, i64, String, String),
    pub(super) after: (i64, i64, i64, String, String),
}

impl From<Change> for PlaceFigures {
    fn from(change: Change) -> Self {
        let side = |(shown_ml, fraction, sigma, knowledge, glycol): (_, _, _, String, String)| {
            let figures = Figures {
                shown_ml,
                fraction_millionths: fraction,
                sigma_millionths: sigma,
                knowledge: Knowledge::from_code(&knowledge).unwrap_or_default(),
            };
            (figures, Chemistry::from_code(&glycol).unwrap_or_default())
        };
        Self {
            place: change.place,
            before: side(change.before),
            after: side(change.after),
        }
    }
}

/// The postings of an outcome, without what they are made of.
pub(super) fn moved(seq: i64, postings: &str) -> Result<Vec<Moved>, StorageError> {
    serde_json::from_str(postings)
        .map_err(|error| StorageError::corrupt("outcomes", seq, error.to_string()))
}

struct Stored {
    key: Uuid,
    seq: i64,
    replayed_at: i64,
    made_at: i64,
    kind: String,
    shop: Uuid,
    unit: Option<Uuid>,
    unit_number: Option<String>,
    place: Option<Uuid>,
    happened_at: i64,
    precision: String,
    local_date: String,
    utc_offset_min: i64,
    person: Option<Uuid>,
    person_handle: Option<String>,
    proved: String,
    replaces: Option<Uuid>,
    follows: Option<Uuid>,
    note_digest: Option<String>,
    standing: String,
    voided_by: Option<Uuid>,
    top_up: Option<String>,
    postings: String,
    changes: String,
    open_questions: i64,
}

impl Stored {
    fn into_row(self) -> Result<JobRow, StorageError> {
        let changes: Vec<Change> = serde_json::from_str(&self.changes)
            .map_err(|error| StorageError::corrupt("outcomes", self.seq, error.to_string()))?;
        Ok(JobRow {
            order: order(self.replayed_at, self.made_at, self.key),
            seq: self.seq,
            kind: self.kind,
            shop: ShopId(self.shop),
            unit: self.unit.map(UnitId),
            unit_number: self.unit_number,
            place: self.place.map(PlaceId),
            happened_at: Moment(self.happened_at),
            precision: self.precision,
            local_date: self.local_date,
            utc_offset_min: self.utc_offset_min,
            person: self.person.map(PersonId),
            person_handle: self.person_handle,
            proved: self.proved,
            replaces: self.replaces.map(FactKey),
            follows: self.follows.map(FactKey),
            note_digest: self.note_digest,
            standing: self.standing,
            voided_by: self.voided_by.map(FactKey),
            top_up: self.top_up,
            moved: moved(self.seq, &self.postings)?,
            changes: changes.into_iter().map(PlaceFigures::from).collect(),
            open_questions: self.open_questions,
        })
    }
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
        let seqs = sqlx::query_scalar!(
            "select seq from jobs
             where unit = ?1 and (replayed_at, made_at, key) < (?2, ?3, ?4)
             order by replayed_at desc, made_at desc, key desc
             limit ?5",
            unit.0,
            happened_at,
            made_at,
            key,
            most
        )
        .fetch_all(self.connection())
        .await?;
        self.list_jobs(&seqs).await
    }

    /// A page of a shop's jobs, newest first, from before `before` on.
    pub async fn list_jobs_of_shop(
        &mut self,
        shop: ShopId,
        before: Option<Order>,
        most: i64,
    ) -> Result<Vec<JobRow>, StorageError> {
        let (happened_at, made_at, key) = page_start(before);
        let seqs = sqlx::query_scalar!(
            "select seq from jobs
             where shop = ?1 and (replayed_at, made_at, key) < (?2, ?3, ?4)
             order by replayed_at desc, made_at desc, key desc
             limit ?5",
            shop.0,
            happened_at,
            made_at,
            key,
            most
        )
        .fetch_all(self.connection())
        .await?;
        self.list_jobs(&seqs).await
    }

    /// The jobs of a shop from `from` on, newest first.
    pub async fn list_jobs_of_shop_since(
        &mut self,
        shop: ShopId,
        from: Moment,
        most: i64,
    ) -> Result<Vec<JobRow>, StorageError> {
        let seqs = sqlx::query_scalar!(
            "select seq from jobs where shop = ?1 and replayed_at >= ?2
             order by replayed_at desc, made_at desc, key desc
             limit ?3",
            shop.0,
            from.0,
            most
        )
        .fetch_all(self.connection())
        .await?;
        self.list_jobs(&seqs).await
    }

    /// The jobs of one person in a shop from `from` on, newest first: their places in the record.
    pub async fn list_jobs_of_person_since(
        &mut self,
        (shop, person): (ShopId, PersonId),
        from: Moment,
    ) -> Result<Vec<i64>, StorageError> {
        Ok(sqlx::query_scalar!(
            "select seq from jobs
             where shop = ?1 and replayed_at >= ?2 and person = ?3
             order by replayed_at desc, made_at desc, key desc",
            shop.0,
            from.0,
            person.0
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Shipments of a shop that happened between two moments, count, and have no name under them, oldest
    /// first: their places in the record.
    pub async fn list_shipments_not_signed(
        &mut self,
        shop: ShopId,
        (from, to): (Moment, Moment),
    ) -> Result<Vec<i64>, StorageError> {
        Ok(sqlx::query_scalar!(
            "select jobs.seq from jobs indexed by jobs_of_shop_by_kind
             cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing <> 'voided'
             where jobs.shop = ?1 and jobs.kind = 'ship'
               and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
               and not exists (select 1 from facts_about as about
                               where about.subject = jobs.key and about.kind = 'signed')
             order by jobs.replayed_at",
            shop.0,
            from.0,
            to.0
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// The jobs of one kind on a unit from `from` on, newest first.
    pub async fn list_jobs_of_unit_of_kind(
        &mut self,
        unit: UnitId,
        kind: JobKind,
        from: Moment,
    ) -> Result<Vec<JobRow>, StorageError> {
        let kind = kind.code();
        let seqs = sqlx::query_scalar!(
            "select seq from jobs where unit = ?1 and replayed_at >= ?2 and kind = ?3
             order by replayed_at desc, made_at desc, key desc",
            unit.0,
            from.0,
            kind
        )
        .fetch_all(self.connection())
        .await?;
        self.list_jobs(&seqs).await
    }

    /// How many jobs a shop has on record from `from` on.
    pub async fn count_jobs_of_shop_since(
        &mut self,
        shop: ShopId,
        from: Moment,
    ) -> Result<i64, StorageError> {
        Ok(sqlx::query_scalar!(
            "select count(*) from jobs where shop = ?1 and replayed_at >= ?2",
            shop.0,
            from.0
        )
        .fetch_one(self.connection())
        .await?)
    }

    /// A job by its key; none when the key is no job's.
    pub async fn find_job(&mut self, key: FactKey) -> Result<Option<JobRow>, StorageError> {
        Ok(self.list_jobs_by_key(&[key]).await?.pop())
    }

    /// Jobs by their keys, in the order they are asked for; a key of no job gives nothing.
    pub async fn list_jobs_by_key(
        &mut self,
        keys: &[FactKey],
    ) -> Result<Vec<JobRow>, StorageError> {
        let keys = json(keys)?;
        let seqs = sqlx::query_scalar!(
            r#"select record.seq as "seq!"
               from json_each(?1) as wanted
               cross join record on record.key = unhex(wanted.value, '-')
               order by wanted.key"#,
            keys
        )
        .fetch_all(self.connection())
        .await?;
        self.list_jobs(&seqs).await
    }

    /// Jobs by their places in the record, in the order they are asked for.
    pub async fn list_jobs(&mut self, seqs: &[i64]) -> Result<Vec<JobRow>, StorageError> {
        let seqs = json(seqs)?;
        let rows = sqlx::query_as!(
            Stored,
            r#"select jobs.key as "key!: Uuid", jobs.seq as "seq!",
                      jobs.replayed_at as "replayed_at!", jobs.made_at as "made_at!",
                      jobs.kind as "kind!", jobs.shop as "shop!: Uuid",
                      jobs.unit as "unit?: Uuid", units.number as "unit_number?",
                      jobs.place as "place?: Uuid", jobs.happened_at as "happened_at!",
                      jobs.precision as "precision!", jobs.local_date as "local_date!",
                      jobs.utc_offset_min as "utc_offset_min!", jobs.person as "person?: Uuid",
                      people.handle as "person_handle?", jobs.proved as "proved!",
                      jobs.replaces as "replaces?: Uuid", jobs.follows as "follows?: Uuid",
                      jobs.note_digest, outcomes.standing as "standing!",
                      outcomes.voided_by as "voided_by?: Uuid", outcomes.top_up,
                      outcomes.postings as "postings!", outcomes.changes as "changes!",
                      (select count(*) from questions
                       where questions.seq = jobs.seq and answer is null)
                        as "open_questions!: i64"
               from json_each(?1) as wanted
               cross join jobs on jobs.seq = wanted.value
               cross join outcomes on outcomes.seq = jobs.seq
               left join units on units.id = jobs.unit
               left join people on people.id = jobs.person
               order by wanted.key"#,
            seqs
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter().map(Stored::into_row).collect()
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
