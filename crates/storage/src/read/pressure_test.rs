//! The last pressure test of a loop that counts and has its figures.

use super::Read;
use crate::error::StorageError;
use crate::record::json;
use domain::fact::{Fact, What};
use domain::ids::{FactKey, PlaceId};
use domain::job::Details;
use domain::moment::Moment;
use domain::pressure_test::PressureTest;
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
    /// The loop was filled after it.
    pub filled_since: bool,
}

impl Read {
    /// The last test of each of these loops that has one.
    pub async fn list_last_pressure_tests(
        &mut self,
        places: &[PlaceId],
    ) -> Result<HashMap<PlaceId, Arc<LastPressureTest>>, StorageError> {
        let places = json(places)?;
        let rows = sqlx::query!(
            r#"select jobs.seq as "seq!", jobs.place as "place!: Uuid", jobs.key as "key!: Uuid",
                      jobs.replayed_at as "at!", record.body as "body!",
                      coalesce(shops.altitude_m, 0) as "altitude_m!: i64",
                      exists (select 1 from jobs as fill
                              cross join outcomes on outcomes.seq = fill.seq
                              where fill.unit = jobs.unit and fill.kind = 'fill'
                                and fill.place = jobs.place
                                and (fill.replayed_at, fill.made_at, fill.key)
                                    > (jobs.replayed_at, jobs.made_at, jobs.key)
                                and outcomes.standing = 'posted') as "filled_since!: bool"
               from json_each(?1) as wanted
               cross join jobs on jobs.seq =
                 (select test.seq from jobs as test
                  cross join outcomes on outcomes.seq = test.seq
                  cross join record on record.seq = test.seq
                  where test.place = unhex(wanted.value, '-') and test.kind = 'pressure_test'
                    and outcomes.standing = 'posted'
                    and json_type(record.body, '$.what.job.details.pressure_test') = 'object'
                  order by test.replayed_at desc, test.made_at desc, test.key desc
                  limit 1)
               cross join record on record.seq = jobs.seq
               left join shops on shops.id = jobs.shop"#,
            places
        )
        .fetch_all(self.connection())
        .await?;
        let mut tests = HashMap::new();
        for row in rows {
            let corrupt = |what: String| StorageError::corrupt("record", row.seq, what);
            let fact: Fact =
                serde_json::from_str(&row.body).map_err(|error| corrupt(error.to_string()))?;
            let What::Job(job) = fact.what else {
                return Err(corrupt("it is no job".to_owned()));
            };
            let Some(Details::PressureTest(test)) = job.details else {
                return Err(corrupt("it is no pressure test".to_owned()));
            };
            let last = LastPressureTest {
                key: FactKey(row.key),
                at: Moment(row.at),
                test: *test,
                altitude_m: row.altitude_m,
                filled_since: row.filled_since,
            };
            tests.insert(PlaceId(row.place), Arc::new(last));
        }
        Ok(tests)
    }
}
