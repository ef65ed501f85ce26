//! Samples that were sent to a laboratory, and what came back.

use super::Read;
use crate::error::StorageError;
use crate::record::json;
use domain::ids::{FactKey, PlaceId, ShopId, UnitId};
use domain::job::Account;
use domain::moment::Moment;
use uuid::Uuid;

/// A sample of a shop that counts.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SampleRow {
    /// The job that took it.
    pub key: FactKey,
    /// The job that took it as it was logged first, before anybody corrected it.
    pub first: FactKey,
    /// Its place in the record.
    pub seq: i64,
    /// The number on the bottle.
    pub bottle: String,
    /// The unit; none for a vessel's.
    pub unit: Option<UnitId>,
    /// The number painted on it.
    pub unit_number: Option<String>,
    /// The loop or vessel.
    pub place: Option<Account>,
    /// The vessel's name.
    pub vessel: Option<String>,
    /// When it was taken, as the replay has it.
    pub taken_at: Moment,
    /// A code of [`domain::moment::Precision`].
    pub precision: String,
    /// The day in the shop.
    pub local_date: String,
    /// The shop's offset from UTC then, minutes.
    pub utc_offset_min: i64,
    /// A result of it that counts, as the book reads it.
    pub result: Option<FactKey>,
    /// A laboratory's sheet of it is on record as a fact of its own.
    pub has_sheet: bool,
}

struct Stored {
    key: Uuid,
    first: Uuid,
    seq: i64,
    bottle: String,
    unit: Option<Uuid>,
    unit_number: Option<String>,
    place: Option<Uuid>,
    vessel: Option<String>,
    taken_at: i64,
    precision: String,
    local_date: String,
    utc_offset_min: i64,
    result: Option<Uuid>,
    has_sheet: bool,
}

impl From<Stored> for SampleRow {
    fn from(stored: Stored) -> Self {
        let account = |place| match stored.unit {
            Some(_) => Account::Loop(PlaceId(place)),
            None => Account::Vessel(PlaceId(place)),
        };
        Self {
            key: FactKey(stored.key),
            first: FactKey(stored.first),
            seq: stored.seq,
            bottle: stored.bottle,
            place: stored.place.map(account),
            unit: stored.unit.map(UnitId),
            unit_number: stored.unit_number,
            vessel: stored.vessel,
            taken_at: Moment(stored.taken_at),
            precision: stored.precision,
            local_date: stored.local_date,
            utc_offset_min: stored.utc_offset_min,
            result: stored.result.map(FactKey),
            has_sheet: stored.has_sheet,
        }
    }
}

impl Read {
    /// The latest samples of a shop from `from` on, newest first.
    pub async fn list_samples(
        &mut self,
        shop: ShopId,
        from: Moment,
        most: i64,
    ) -> Result<Vec<SampleRow>, StorageError> {
        let seqs = sqlx::query_scalar!(
            r#"select jobs.seq as "seq!: i64"
               from jobs indexed by jobs_of_shop_by_kind
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing <> 'voided'
               where jobs.shop = ?1 and jobs.kind = 'sample' and jobs.replayed_at >= ?2
                 and jobs.bottle is not null
               order by jobs.replayed_at desc
               limit ?3"#,
            shop.0,
            from.0,
            most
        )
        .fetch_all(self.connection())
        .await?;
        self.list_samples_at(&seqs).await
    }

    /// The samples of a shop with one of these numbers on their bottle, in any letter case, the latest
    /// of each number first.
    pub async fn find_samples(
        &mut self,
        shop: ShopId,
        bottles: &[&str],
    ) -> Result<Vec<SampleRow>, StorageError> {
        let bottles = json(bottles)?;
        let seqs = sqlx::query_scalar!(
            r#"select jobs.seq as "seq!: i64"
               from json_each(?1) as wanted
               cross join jobs on jobs.shop = ?2 and jobs.bottle = wanted.value
                 and jobs.bottle is not null
               order by wanted.key, jobs.replayed_at desc"#,
            bottles,
            shop.0
        )
        .fetch_all(self.connection())
        .await?;
        self.list_samples_at(&seqs).await
    }

    /// One sample by its place in the record; none where it was taken back.
    pub async fn find_sample(&mut self, seq: i64) -> Result<Option<SampleRow>, StorageError> {
        Ok(self.list_samples_at(&[seq]).await?.pop())
    }

    /// Samples by their places in the record, those that were taken back left out. A result stays with the
    /// sample it was logged on however often that was corrected since.
    async fn list_samples_at(&mut self, seqs: &[i64]) -> Result<Vec<SampleRow>, StorageError> {
        let seqs = json(seqs)?;
        let rows = sqlx::query_as!(
            Stored,
            r#"with recursive version(sample, key, replaces) as (
                 select jobs.key, jobs.key, jobs.replaces
                 from json_each(?1) as wanted
                 cross join jobs on jobs.seq = wanted.value
                 where jobs.kind = 'sample'
                 union
                 select version.sample, older.key, older.replaces from version
                 cross join record on record.key = version.replaces
                 cross join jobs as older on older.seq = record.seq)
               select jobs.key as "key!: Uuid",
                      coalesce((select version.key from version
                       where version.sample = jobs.key and version.replaces is null),
                       jobs.key) as "first!: Uuid",
                      jobs.seq as "seq!", coalesce(jobs.bottle, '') as "bottle!: String",
                      jobs.unit as "unit?: Uuid", units.number as "unit_number?",
                      jobs.place as "place?: Uuid", vessels.name as "vessel?",
                      jobs.replayed_at as "taken_at!", jobs.precision as "precision!",
                      jobs.local_date as "local_date!", jobs.utc_offset_min as "utc_offset_min!",
                      (select later.key from version
                       cross join jobs as later on later.follows = version.key
                         and later.kind = 'condition_test'
                       cross join outcomes as of on of.seq = later.seq
                       where version.sample = jobs.key and of.standing <> 'voided')
                        as "result?: Uuid",
                      exists (select 1 from facts_about as about
                       where about.subject = jobs.key and about.kind = 'laboratory_result')
                        as "has_sheet!: bool"
               from json_each(?1) as wanted
               cross join jobs on jobs.seq = wanted.value
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing <> 'voided'
               left join units on units.id = jobs.unit
               left join vessels on vessels.id = jobs.place
               where jobs.kind = 'sample'
               order by wanted.key"#,
            seqs
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows.into_iter().map(SampleRow::from).collect())
    }
}
