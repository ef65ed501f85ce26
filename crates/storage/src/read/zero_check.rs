//! Instruments checked with water.

use super::Read;
use crate::error::StorageError;
use chrono::NaiveDate;
use domain::condition::zero::ZeroChecked;
use domain::ids::{InstrumentId, PersonId};
use domain::quantity::Temperature;
use uuid::Uuid;

impl Read {
    /// The last check of an instrument on a day or before it; none where there was none.
    pub async fn last_zero_check(
        &mut self,
        instrument: InstrumentId,
        day: NaiveDate,
    ) -> Result<Option<ZeroChecked>, StorageError> {
        let until = day.to_string();
        let row = sqlx::query!(
            r#"select seq, day, millicelsius, person as "person: Uuid" from zero_checks
               where instrument = ?1 and day <= ?2
               order by day desc, happened_at desc, seq desc
               limit 1"#,
            instrument.0,
            until
        )
        .fetch_optional(self.connection())
        .await?;
        row.map(|row| {
            let corrupt = |column| StorageError::corrupt("zero_checks", row.seq, column);
            let reads = i32::try_from(row.millicelsius).ok();
            let reads = reads.and_then(|reads| Temperature::from_millicelsius(reads).ok());
            Ok(ZeroChecked {
                day: row.day.parse().map_err(|_| corrupt("day"))?,
                by: row.person.map(PersonId),
                reads: reads.ok_or_else(|| corrupt("millicelsius"))?,
            })
        })
        .transpose()
    }
}
