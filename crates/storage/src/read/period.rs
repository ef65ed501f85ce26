//! What happened in a shop over a period: the facts behind its figures.

use super::Read;
use super::job::{JobRow, PostingRow};
use crate::error::StorageError;
use domain::book::month::Month;
use domain::book::outcome::{Measure, Why};
use domain::condition::comeback::{WITHIN_MS, comebacks};
use domain::ids::{FactKey, PlaceId, ShopId, UnitId};
use domain::job::Account;
use domain::moment::Moment;
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use uuid::Uuid;

/// A shop and a period: from a moment on and before another.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Period {
    /// The shop.
    pub shop: ShopId,
    /// The first moment of it.
    pub from: Moment,
    /// The first moment after it.
    pub to: Moment,
}

/// What counts under a measure in a month, without [what it leaves out](Measure::leaves_out).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct MonthFlow {
    /// The month.
    pub month: Month,
    /// What it counts as.
    pub measure: Measure,
    /// Mixed, at 20 °C, mL.
    pub shown_ml: i64,
    /// Lines that count under it.
    pub lines: i64,
}

/// Work that may have to be done again.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Done {
    /// Its place in the record.
    pub seq: i64,
    /// The day in the shop.
    pub local_date: String,
    /// It did not last: see what was asked for.
    pub again: bool,
}

/// A job in which vessels that hold no waste were dipped.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct DipJob {
    /// Its place in the record.
    pub seq: i64,
    /// The day in the shop.
    pub local_date: String,
    /// What the book held less what was there, over these vessels, mixed, at 20 °C, mL.
    pub missing_ml: i64,
}

/// A dip at which book and vessel differed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct DipRow {
    /// Its place in the record.
    pub seq: i64,
    /// The vessel.
    pub vessel: PlaceId,
    /// Its name.
    pub name: String,
    /// The day in the shop.
    pub local_date: String,
    /// What the book held less what was there, mixed, at 20 °C, mL.
    pub missing_ml: i64,
}

/// Dips of vessels that hold no waste.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Dips {
    /// The jobs, oldest first.
    pub jobs: Vec<DipJob>,
    /// Where book and vessel differed, oldest first.
    pub differing: Vec<DipRow>,
}

/// A job in which coolant was bought. Plain water is none.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Paid {
    /// Its place in the record.
    pub seq: i64,
    /// Lines of coolant bought.
    pub lines: i64,
    /// Of these with a price.
    pub with_price: i64,
    /// What they cost together, hundredths.
    pub hundredths: i64,
}

/// A job with a volume of it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct JobVolume {
    /// Its place in the record.
    pub seq: i64,
    /// Mixed, at 20 °C, mL.
    pub ml: i64,
}

/// A job with what its sheet holds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Logged {
    /// Its place in the record.
    pub seq: i64,
    /// The code of its kind.
    pub kind: String,
    /// How it stands.
    pub standing: String,
    /// The unit it was done on.
    pub unit: Option<Uuid>,
    /// A meter was read.
    pub meter: bool,
    /// It says where the level stood at the end.
    pub mark: bool,
    /// It says what every coolant was that went in from outside.
    pub fluid: bool,
}

impl Logged {
    /// It does not count any more: taken back, or another was put in its place.
    pub fn is_taken_back(&self) -> bool {
        self.standing == "voided"
    }
}

/// A sample, and when its result came.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SampleBack {
    /// Its place in the record.
    pub seq: i64,
    /// The day it was taken.
    pub taken: String,
    /// The day the laboratory reported it; where it does not say, the day it came in.
    pub back: Option<String>,
}

impl Read {
    /// Volumes by month and measure, of the months that have any.
    pub async fn list_flows_by_month(
        &mut self,
        shop: ShopId,
        (first, last): (Month, Month),
    ) -> Result<Vec<MonthFlow>, StorageError> {
        let (first, last) = (first.to_string(), last.to_string());
        let rows = sqlx::query!(
            "select month, measure, shown_ml, lines from month_totals
             where shop = ?1 and month between ?2 and ?3 order by month, measure",
            shop.0,
            first,
            last
        )
        .fetch_all(self.connection())
        .await?;
        let flow = rows.into_iter().map(|row| {
            let corrupt = |what| StorageError::corrupt("month_totals", &row.measure, what);
            Ok(MonthFlow {
                month: Month::try_from(row.month.clone()).map_err(|_| corrupt("unknown month"))?,
                measure: Measure::from_code(&row.measure)
                    .ok_or_else(|| corrupt("unknown measure"))?,
                shown_ml: row.shown_ml,
                lines: row.lines,
            })
        });
        let flows = flow.collect::<Result<Vec<MonthFlow>, StorageError>>()?;
        let left_out = |of: &MonthFlow| {
            let less = of.measure.leaves_out()?;
            let mut flows = flows.iter();
            flows.find(|each| (each.month, each.measure) == (of.month, less))
        };
        let net = |flow: &MonthFlow| match left_out(flow) {
            None => *flow,
            Some(less) => MonthFlow {
                shown_ml: flow.shown_ml.saturating_sub(less.shown_ml),
                lines: flow.lines.saturating_sub(less.lines),
                ..*flow
            },
        };
        Ok(flows.iter().map(net).collect())
    }

    /// Jobs of a month that count under a measure, newest first, each with what counts, mL, without
    /// [what the measure leaves out](Measure::leaves_out).
    pub async fn list_jobs_of_measure(
        &mut self,
        within: Period,
        (measure, month): (Measure, Month),
    ) -> Result<Vec<JobVolume>, StorageError> {
        let less = measure.leaves_out().map(Measure::code);
        let (measure, month) = (measure.code(), month.to_string());
        Ok(sqlx::query_as!(
            JobVolume,
            r#"select jobs.seq as "seq!",
                      (select sum(iif(value ->> 'measure' = ?4, 1, -1) * (value ->> 'shown_ml'))
                       from json_each(outcomes.flows)
                       where value ->> 'measure' in (?4, ?6)) as "ml!: i64"
               from jobs
               cross join outcomes on outcomes.seq = jobs.seq
               where jobs.shop = ?1 and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
                 and outcomes.month = ?5
                 and (select sum(iif(value ->> 'measure' = ?4, 1, -1))
                      from json_each(outcomes.flows)
                      where value ->> 'measure' in (?4, ?6)) > 0
               order by jobs.replayed_at desc, jobs.made_at desc, jobs.key desc"#,
            within.shop.0,
            within.from.0,
            within.to.0,
            measure,
            month,
            less
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Fills and exchanges that count, oldest first. `again`: they came back, as
    /// [`comebacks`] tells it.
    pub async fn list_fills(&mut self, within: Period) -> Result<Vec<Done>, StorageError> {
        let rows = sqlx::query!(
            r#"select jobs.seq as "seq!", jobs.key as "key!: Uuid",
                      jobs.local_date as "local_date!", jobs.unit as "unit!: Uuid"
               from jobs indexed by jobs_of_shop_by_kind
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               where jobs.shop = ?1 and jobs.kind in ('fill', 'exchange')
                 and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
                 and jobs.unit is not null
               order by jobs.replayed_at"#,
            within.shop.0,
            within.from.0,
            within.to.0
        )
        .fetch_all(self.connection())
        .await?;
        let units: BTreeSet<UnitId> = rows.iter().map(|row| UnitId(row.unit)).collect();
        let units: Vec<UnitId> = units.into_iter().collect();
        let until = within.to.plus_ms(WITHIN_MS);
        let works = self.list_work(&units, (within.from, until)).await?;
        let back: HashSet<FactKey> = works
            .values()
            .flat_map(|work| comebacks(work))
            .map(|comeback| comeback.first)
            .collect();
        Ok(rows
            .into_iter()
            .map(|row| Done {
                seq: row.seq,
                local_date: row.local_date,
                again: back.contains(&FactKey(row.key)),
            })
            .collect())
    }

    /// Leak repairs that count, oldest first. `again`: the same loop was mended once more within 30
    /// days.
    pub async fn list_repairs(&mut self, within: Period) -> Result<Vec<Done>, StorageError> {
        Ok(sqlx::query_as!(
            Done,
            r#"select jobs.seq as "seq!", jobs.local_date as "local_date!",
                      exists (select 1 from jobs as later
                              cross join outcomes as result on result.seq = later.seq
                              where later.unit = jobs.unit and later.place = jobs.place
                                and later.replayed_at > jobs.replayed_at
                                and later.replayed_at <= jobs.replayed_at + 2592000000
                                and later.kind = 'leak_repair' and result.standing = 'posted')
                        as "again!: bool"
               from jobs indexed by jobs_of_shop_by_kind
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               where jobs.shop = ?1 and jobs.kind = 'leak_repair'
                 and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
                 and jobs.unit is not null
               order by jobs.replayed_at"#,
            within.shop.0,
            within.from.0,
            within.to.0
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Dips of vessels that hold no waste. One job may dip several.
    pub async fn list_dips_of_stock(&mut self, within: Period) -> Result<Dips, StorageError> {
        let stock = sqlx::query!(
            r#"select id as "id!: Uuid", name as "name!" from vessels
               where shop = ?1 and holds <> 'waste' and kind <> 'waste_container'"#,
            within.shop.0
        )
        .fetch_all(self.connection())
        .await?;
        let names: HashMap<PlaceId, String> = stock
            .into_iter()
            .map(|row| (PlaceId(row.id), row.name))
            .collect();
        let rows = sqlx::query!(
            r#"select jobs.seq as "seq!", jobs.local_date as "local_date!",
                      outcomes.postings as "postings!", outcomes.changes as "changes!"
               from jobs indexed by jobs_of_shop_by_kind
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               where jobs.shop = ?1 and jobs.kind = 'dip'
                 and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
               order by jobs.replayed_at, jobs.seq"#,
            within.shop.0,
            within.from.0,
            within.to.0
        )
        .fetch_all(self.connection())
        .await?;
        let mut dips = Dips::default();
        for row in rows {
            let corrupt = |error: serde_json::Error| {
                StorageError::corrupt("outcomes", row.seq, error.to_string())
            };
            // A dip that agrees posts nothing, and stands among the places that were looked at.
            let dipped: Vec<Dipped> = serde_json::from_str(&row.changes).map_err(corrupt)?;
            if !dipped.iter().any(|each| names.contains_key(&each.place)) {
                continue;
            }
            let postings: Vec<PostingRow> = serde_json::from_str(&row.postings).map_err(corrupt)?;
            let mut missing_in_all = 0_i64;
            for (vessel, missing_ml) in missing(&postings) {
                if let Some(name) = names.get(&vessel) {
                    missing_in_all = missing_in_all.saturating_add(missing_ml);
                    dips.differing.push(DipRow {
                        seq: row.seq,
                        vessel,
                        name: name.clone(),
                        local_date: row.local_date.clone(),
                        missing_ml,
                    });
                }
            }
            dips.jobs.push(DipJob {
                seq: row.seq,
                local_date: row.local_date,
                missing_ml: missing_in_all,
            });
        }
        Ok(dips)
    }

    /// Jobs in which coolant was bought, oldest first: what was received, and what went straight from a
    /// can into a loop.
    pub async fn list_paid(&mut self, within: Period) -> Result<Vec<Paid>, StorageError> {
        Ok(sqlx::query_as!(
            Paid,
            r#"select jobs.seq as "seq!", count(*) as "lines!: i64",
                      count(line.value ->> '$.movement.fluid.price_hundredths')
                        as "with_price!: i64",
                      coalesce(sum(line.value ->> '$.movement.fluid.price_hundredths'), 0)
                        as "hundredths!: i64"
               from jobs
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
                 and outcomes.flows like '%"bought"%'
               cross join record on record.seq = jobs.seq
               cross join json_each(record.body, '$.what.job.lines') as line
                 on line.value ->> '$.movement.from' = 'supplier'
                 and coalesce(line.value ->> '$.movement.fluid.strength', 1) > 0
               where jobs.shop = ?1 and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
               group by jobs.seq
               order by jobs.replayed_at, jobs.seq"#,
            within.shop.0,
            within.from.0,
            within.to.0
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Jobs after which the book had more or less than was seen, oldest first: what went to
    /// *not accounted for*, below 0 what came from it. Readings of strength move next to nothing of it.
    pub async fn list_unaccounted(
        &mut self,
        within: Period,
    ) -> Result<Vec<JobVolume>, StorageError> {
        let account = Account::NotAccountedFor.word();
        Ok(sqlx::query_as!(
            JobVolume,
            r#"select jobs.seq as "seq!",
                      sum(iif(posting.value ->> 'to_account' = ?4, 1, -1)
                          * (posting.value ->> 'shown_ml')) as "ml!: i64"
               from jobs
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
                 and outcomes.postings like '%not accounted for%'
               cross join json_each(outcomes.postings) as posting
                 on ?4 in (posting.value ->> 'to_account', posting.value ->> 'from_account')
               where jobs.shop = ?1 and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
               group by jobs.seq
               having sum(iif(posting.value ->> 'to_account' = ?4, 1, -1)
                          * (posting.value ->> 'shown_ml')) <> 0
               order by jobs.replayed_at, jobs.seq"#,
            within.shop.0,
            within.from.0,
            within.to.0,
            account
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// The jobs of the period that do not count any more, newest first.
    pub async fn list_taken_back(&mut self, within: Period) -> Result<Vec<JobRow>, StorageError> {
        let seqs = sqlx::query_scalar!(
            "select outcomes.seq from outcomes indexed by outcomes_not_counting
             cross join jobs on jobs.seq = outcomes.seq
             where outcomes.shop = ?1 and outcomes.happened_at >= ?2 and outcomes.happened_at < ?3
               and outcomes.standing = 'voided' and outcomes.standing <> 'posted'
             order by outcomes.happened_at desc, outcomes.made_at desc",
            within.shop.0,
            within.from.0,
            within.to.0
        )
        .fetch_all(self.connection())
        .await?;
        self.list_jobs(&seqs).await
    }

    /// All jobs of the period, oldest first, with what their sheets hold.
    pub async fn list_logged(&mut self, within: Period) -> Result<Vec<Logged>, StorageError> {
        Ok(sqlx::query_as!(
            Logged,
            r#"select jobs.seq as "seq!", jobs.kind as "kind!",
                      outcomes.standing as "standing!", jobs.unit as "unit: Uuid",
                      coalesce(json_array_length(record.body, '$.what.job.meters'), 0) > 0
                        as "meter!: bool",
                      record.body ->> '$.what.job.mark' is not null as "mark!: bool",
                      not exists (
                        select 1 from json_each(record.body, '$.what.job.lines') as line
                        where line.value ->> '$.movement.from' = 'supplier'
                          and (line.value ->> '$.movement.fluid.class' is null
                               or line.value ->> '$.movement.fluid.class' = 'unknown')
                          and coalesce(line.value ->> '$.movement.fluid.strength', 1) > 0)
                        as "fluid!: bool"
               from jobs
               cross join outcomes on outcomes.seq = jobs.seq
               cross join record on record.seq = jobs.seq
               where jobs.shop = ?1 and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
               order by jobs.replayed_at, jobs.seq"#,
            within.shop.0,
            within.from.0,
            within.to.0
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Samples taken in the period that count, oldest first, each with when its result came: a result
    /// stays with its sample however often that was corrected since.
    pub async fn list_samples_back(
        &mut self,
        within: Period,
    ) -> Result<Vec<SampleBack>, StorageError> {
        Ok(sqlx::query_as!(
            SampleBack,
            r#"select jobs.seq as "seq!", jobs.local_date as "taken!",
                      (with recursive version(key, replaces) as (
                         select jobs.key, jobs.replaces
                         union
                         select older.key, older.replaces from version
                         cross join record as earlier on earlier.key = version.replaces
                         cross join jobs as older on older.seq = earlier.seq)
                       select min(coalesce(
                         record.body ->> '$.what.job.details.laboratory.reported_on',
                         date(record.at / 1000 + jobs.utc_offset_min * 60, 'unixepoch')))
                       from version
                       cross join jobs as result on result.follows = version.key
                         and result.kind = 'condition_test'
                       cross join outcomes as of on of.seq = result.seq
                         and of.standing <> 'voided'
                       cross join record on record.seq = result.seq)
                        as "back: String"
               from jobs indexed by jobs_of_shop_by_kind
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing <> 'voided'
               where jobs.shop = ?1 and jobs.kind = 'sample'
                 and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
                 and jobs.bottle is not null
               order by jobs.replayed_at, jobs.seq"#,
            within.shop.0,
            within.from.0,
            within.to.0
        )
        .fetch_all(self.connection())
        .await?)
    }
}

/// A vessel that a dip was about.
#[derive(Deserialize)]
struct Dipped {
    place: PlaceId,
}

/// What the postings of a dip take out of each vessel, mL; below 0 where more was there.
fn missing(postings: &[PostingRow]) -> BTreeMap<PlaceId, i64> {
    let unknown = Account::NotAccountedFor.word();
    let mut missing: BTreeMap<PlaceId, i64> = BTreeMap::new();
    for posting in postings
        .iter()
        .filter(|posting| posting.why == Why::Dip.code())
    {
        let (vessel, ml) = match (posting.from_place, posting.to_place) {
            (Some(from), _) if posting.to_account == unknown => (from, posting.shown_ml),
            (_, Some(to)) if posting.from_account == unknown => {
                (to, posting.shown_ml.saturating_neg())
            }
            _ => continue,
        };
        let sum = missing.entry(vessel).or_default();
        *sum = sum.saturating_add(ml);
    }
    missing
}
