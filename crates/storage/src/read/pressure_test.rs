//! The last pressure tests of a loop that count and have their figures.

use super::job::{Change, PlaceFigures};
use super::{Read, card};
use crate::error::StorageError;
use crate::record::json;
use domain::book::chemistry::Chemistry;
use domain::book::outcome::Figures;
use domain::fact::{Fact, What};
use domain::fleet::Unit;
use domain::gate;
use domain::ids::{FactKey, PlaceId};
use domain::job::Details;
use domain::moment::Moment;
use domain::pressure_test::PressureTest;
use domain::quantity::GaugePressure;
use std::collections::HashMap;
use std::sync::Arc;
use uuid::Uuid;

/// A pressure test as it was recorded.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LastPressureTest {
    /// The job.
    pub key: FactKey,
    /// When it was done.
    pub at: Moment,
    /// What was read.
    pub test: PressureTest,
    /// How high the shop lies it was done in, m.
    pub altitude_m: i64,
    /// The lowest rated part on the loop's card.
    pub rating: Option<GaugePressure>,
    /// What the loop held then.
    pub held: Option<(Figures, Chemistry)>,
    /// The loop was filled after it.
    pub filled_since: bool,
}

struct Stored {
    seq: i64,
    place: Uuid,
    key: Uuid,
    at: i64,
    body: String,
    changes: String,
    unit: Option<Uuid>,
    card: Option<String>,
    altitude_m: i64,
    filled_since: bool,
}

impl Stored {
    fn into_test(self) -> Result<LastPressureTest, StorageError> {
        let corrupt = |what: String| StorageError::corrupt("record", self.seq, what);
        let fact: Fact =
            serde_json::from_str(&self.body).map_err(|error| corrupt(error.to_string()))?;
        let What::Job(job) = fact.what else {
            return Err(corrupt("it is no job".to_owned()));
        };
        let Some(Details::PressureTest(test)) = job.details else {
            return Err(corrupt("it is no pressure test".to_owned()));
        };
        let known = Beside {
            changes: &self.changes,
            card: self.unit.zip(self.card.as_deref()),
        };
        let (rating, held) = known.of_loop(self.seq, PlaceId(self.place))?;
        Ok(LastPressureTest {
            key: FactKey(self.key),
            at: Moment(self.at),
            test: *test,
            altitude_m: self.altitude_m,
            rating,
            held,
            filled_since: self.filled_since,
        })
    }
}

/// The lowest rated part of a loop, and what it held by the book.
pub(super) type OfLoop = (Option<GaugePressure>, Option<(Figures, Chemistry)>);

/// What stands beside a pressure test: its outcome's changes, and its unit with the card.
pub(super) struct Beside<'a> {
    pub(super) changes: &'a str,
    pub(super) card: Option<(Uuid, &'a str)>,
}

impl Beside<'_> {
    /// What they say of a loop as it was when it was tested.
    pub(super) fn of_loop(&self, seq: i64, place: PlaceId) -> Result<OfLoop, StorageError> {
        let changes: Vec<Change> = serde_json::from_str(self.changes)
            .map_err(|error| StorageError::corrupt("outcomes", seq, error.to_string()))?;
        let held = changes
            .into_iter()
            .find(|change| change.place == place)
            .map(|change| PlaceFigures::from(change).before);
        let unit: Option<Unit> = match self.card {
            Some((unit, kept)) => Some(card::card("units", unit, kept)?),
            None => None,
        };
        let of = unit.and_then(|unit| unit.loops.into_iter().find(|each| each.id == place));
        Ok((of.as_ref().and_then(gate::lowest_rating), held))
    }
}

impl Read {
    /// Of each of these loops that has any: its last test, and those before it that no fill came
    /// after, the newest first.
    pub async fn list_last_pressure_tests(
        &mut self,
        places: &[PlaceId],
    ) -> Result<HashMap<PlaceId, Arc<[LastPressureTest]>>, StorageError> {
        let places = json(places)?;
        let rows = sqlx::query_as!(
            Stored,
            r#"select jobs.seq as "seq!", jobs.place as "place!: Uuid", jobs.key as "key!: Uuid",
                      jobs.replayed_at as "at!", record.body as "body!",
                      outcomes.changes as "changes!", units.id as "unit?: Uuid",
                      units.card as "card?", coalesce(shops.altitude_m, 0) as "altitude_m!: i64",
                      exists (select 1 from jobs as fill
                              cross join outcomes as filled on filled.seq = fill.seq
                              where fill.kind = 'fill' and fill.place = jobs.place
                                and (fill.replayed_at, fill.made_at, fill.key)
                                    > (jobs.replayed_at, jobs.made_at, jobs.key)
                                and filled.standing = 'posted') as "filled_since!: bool"
               from json_each(?1) as wanted
               cross join jobs on jobs.place = unhex(wanted.value, '-')
                 and jobs.kind = 'pressure_test'
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               cross join record on record.seq = jobs.seq
               left join units on units.id = jobs.unit
               left join shops on shops.id = jobs.shop
               where json_type(record.body, '$.what.job.details.pressure_test') = 'object'
               order by wanted.key, jobs.replayed_at desc, jobs.made_at desc, jobs.key desc"#,
            places
        )
        .fetch_all(self.connection())
        .await?;
        let mut tests: HashMap<PlaceId, Vec<LastPressureTest>> = HashMap::new();
        for row in rows {
            let of = tests.entry(PlaceId(row.place)).or_default();
            if of.is_empty() || !row.filled_since {
                of.push(row.into_test()?);
            }
        }
        Ok(tests
            .into_iter()
            .map(|(place, tests)| (place, tests.into()))
            .collect())
    }
}
