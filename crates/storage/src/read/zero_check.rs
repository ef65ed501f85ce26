//! Instruments checked with water.

use super::Read;
use crate::error::StorageError;
use chrono::NaiveDate;
use domain::condition::zero::ZeroChecked;
use domain::ids::{InstrumentId, PersonId};
use domain::moment::Moment;
use domain::quantity::Temperature;
use uuid::Uuid;

struct Stored {
    seq: i64,
    day: String,
    millicelsius: i64,
    person: Option<Uuid>,
}

impl Stored {
    fn read(&self) -> Result<ZeroChecked, StorageError> {
        let corrupt = |column| StorageError::corrupt("zero_checks", self.seq, column);
        let reads = i32::try_from(self.millicelsius).ok();
        let reads = reads.and_then(|reads| Temperature::from_millicelsius(reads).ok());
        Ok(ZeroChecked {
            day: self.day.parse().map_err(|_| corrupt("day"))?,
            by: self.person.map(PersonId),
            reads: reads.ok_or_else(|| corrupt("millicelsius"))?,
        })
    }
}

impl Read {
    /// The check of an instrument that something read at a moment of a day goes by: the last one until
    /// then; the first one later on that day where there was none on it before; none where there was
    /// none at all.
    pub async fn zero_check_for(
        &mut self,
        instrument: InstrumentId,
        (day, at): (NaiveDate, Moment),
    ) -> Result<Option<ZeroChecked>, StorageError> {
        let day = day.to_string();
        let before = sqlx::query_as!(
            Stored,
            r#"select seq, day, millicelsius, person as "person: Uuid" from zero_checks
               where instrument = ?1 and (day, happened_at) <= (?2, ?3)
               order by day desc, happened_at desc, seq desc
               limit 1"#,
            instrument.0,
            day,
            at.0
        )
        .fetch_optional(self.connection())
        .await?;
        if let Some(before) = before.as_ref().filter(|before| before.day == day) {
            return before.read().map(Some);
        }
        let later = sqlx::query_as!(
            Stored,
            r#"select seq, day, millicelsius, person as "person: Uuid" from zero_checks
               where instrument = ?1 and day = ?2 and happened_at > ?3
               order by happened_at, seq
               limit 1"#,
            instrument.0,
            day,
            at.0
        )
        .fetch_optional(self.connection())
        .await?;
        later.or(before).as_ref().map(Stored::read).transpose()
    }
}
