//! The yards' local time: both lie in one zone, and the demonstration ends on its day 0.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveDateTime, Offset, TimeZone, Utc};
use chrono_tz::Tz;
use domain::moment::{MINUTE_MS, Moment};

use super::{Made, Unmade};

pub(super) const ZONE: Tz = chrono_tz::America::Denver;
/// The first day of the record, a Tuesday.
pub(super) const FIRST_DAY: &str = "2025-04-01";
/// The day the demonstration shows as today, a Monday.
pub(crate) const DAY_0: &str = "2026-10-05";
/// When its business clock starts on that day.
pub(crate) const START_OF_WORK: &str = "07:00";

/// A point in time with the local date and offset a shop would have entered it under.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) struct At {
    pub(super) moment: Moment,
    pub(super) date: NaiveDate,
    pub(super) offset_min: i16,
}

impl At {
    /// A local date and time of day: `at("2026-07-20", "09:30")`.
    pub(super) fn local(date: &str, time: &str) -> Made<Self> {
        let text = format!("{date}T{time}:00");
        let local: NaiveDateTime = text.parse().map_err(|_| Unmade::Calendar(text))?;
        Self::of_local(local)
    }

    /// So many minutes after local midnight of a date.
    pub(super) fn on(date: NaiveDate, minute: i64) -> Made<Self> {
        let minute = u32::try_from(minute).unwrap_or(0).min(1_439);
        let local = date
            .and_hms_opt(minute / 60, minute % 60, 0)
            .ok_or_else(|| Unmade::Calendar(format!("{date} {minute}")))?;
        Self::of_local(local)
    }

    fn of_local(local: NaiveDateTime) -> Made<Self> {
        // Work does not fall into the hour that is skipped or repeated at night.
        let zoned = ZONE
            .from_local_datetime(&local)
            .earliest()
            .ok_or_else(|| Unmade::Calendar(local.to_string()))?;
        Ok(Self {
            moment: Moment(zoned.timestamp_millis()),
            date: local.date(),
            offset_min: offset_of(&zoned)?,
        })
    }

    pub(super) fn plus_minutes(self, minutes: i64) -> Made<Self> {
        let moment = self.moment.plus_ms(minutes * MINUTE_MS);
        let utc = moment
            .utc()
            .ok_or_else(|| Unmade::Calendar(format!("{moment:?}")))?;
        let zoned = utc.with_timezone(&ZONE);
        Ok(Self {
            moment,
            date: zoned.date_naive(),
            offset_min: offset_of(&zoned)?,
        })
    }
}

fn offset_of(zoned: &DateTime<Tz>) -> Made<i16> {
    i16::try_from(zoned.offset().fix().local_minus_utc() / 60)
        .map_err(|_| Unmade::Calendar(zoned.to_string()))
}

pub(super) fn day(text: &str) -> Made<NaiveDate> {
    text.parse().map_err(|_| Unmade::Calendar(text.to_owned()))
}

/// The moment the business clock starts on a day.
pub(crate) fn start_of_work(date: NaiveDate) -> Made<DateTime<Utc>> {
    let at = At::local(&date.to_string(), START_OF_WORK)?;
    at.moment
        .utc()
        .ok_or_else(|| Unmade::Calendar(date.to_string()))
}

/// The day so many days after the first of the record.
pub(super) fn day_of_record(days: i64) -> Made<NaiveDate> {
    let first = day(FIRST_DAY)?;
    u64::try_from(days)
        .ok()
        .and_then(|days| first.checked_add_days(Days::new(days)))
        .ok_or_else(|| Unmade::Calendar(format!("{FIRST_DAY} + {days} days")))
}

/// Days from the first of the record up to day 0.
pub(super) fn days_of_record() -> Made<i64> {
    Ok(day(DAY_0)?
        .signed_duration_since(day(FIRST_DAY)?)
        .num_days())
}

/// Work is done from Monday to Saturday; a Sunday becomes the Monday after.
pub(super) fn work_day(date: NaiveDate) -> NaiveDate {
    if date.weekday() == chrono::Weekday::Sun {
        date.checked_add_days(Days::new(1)).unwrap_or(date)
    } else {
        date
    }
}

/// The month of the record a date lies in: April 2025 is 1, September 2026 is 18.
pub(super) fn month_of_record(date: NaiveDate) -> i64 {
    i64::from(date.year() - 2025) * 12 + i64::from(date.month()) - 3
}
