//! Instruments checked with water.

use super::Read;
use crate::error::StorageError;
use chrono::NaiveDate;
use domain::condition::zero::ZeroChecked;
use domain::ids::{InstrumentId, PersonId, ShopId};
use domain::moment::Moment;
use domain::quantity::Temperature;
use std::collections::HashMap;
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

    /// The last check of each instrument of a shop until the end of a day; one that was never checked is left
    /// out.
    pub async fn list_last_zero_checks(
        &mut self,
        shop: ShopId,
        day: NaiveDate,
    ) -> Result<HashMap<InstrumentId, ZeroChecked>, StorageError> {
        let day = day.to_string();
        let rows = sqlx::query!(
            r#"select instruments.id as "instrument!: Uuid", checked.seq as "seq!",
                      checked.day as "day!", checked.millicelsius as "millicelsius!",
                      checked.person as "person?: Uuid"
               from instruments
               cross join zero_checks as checked on checked.seq =
                 (select own.seq from zero_checks as own
                  where own.instrument = instruments.id and own.day <= ?2
                  order by own.day desc, own.happened_at desc, own.seq desc limit 1)
               where instruments.shop = ?1"#,
            shop.0,
            day
        )
        .fetch_all(self.connection())
        .await?;
        let checks = rows.into_iter().map(|row| {
            let stored = Stored {
                seq: row.seq,
                day: row.day,
                millicelsius: row.millicelsius,
                person: row.person,
            };
            Ok((InstrumentId(row.instrument), stored.read()?))
        });
        checks.collect()
    }
}
