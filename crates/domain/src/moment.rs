//! Points in time as the record keeps them, and how sure a time is.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

/// A point in time: milliseconds since 1970-01-01T00:00Z.
#[derive(
    Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Moment(pub i64);

/// Milliseconds in a day.
pub const DAY_MS: i64 = 86_400_000;
/// Milliseconds in a minute.
pub const MINUTE_MS: i64 = 60_000;

impl Moment {
    /// The moment `ms` milliseconds later, held at the ends of the range.
    #[must_use]
    pub fn plus_ms(self, ms: i64) -> Self {
        Self(self.0.saturating_add(ms))
    }

    /// Milliseconds from `earlier` to this moment, negative when it is later.
    pub fn ms_since(self, earlier: Self) -> i64 {
        self.0.saturating_sub(earlier.0)
    }

    /// The same moment on the calendar, `None` beyond the calendar's range.
    pub fn utc(self) -> Option<DateTime<Utc>> {
        DateTime::from_timestamp_millis(self.0)
    }

    /// The local date at a fixed offset from UTC, in minutes.
    pub fn date_at_offset(self, utc_offset_min: i16) -> Option<NaiveDate> {
        self.utc()
            .and_then(|at| at.checked_add_signed(TimeDelta::minutes(i64::from(utc_offset_min))))
            .map(|at| at.date_naive())
    }
}

impl From<DateTime<Utc>> for Moment {
    fn from(at: DateTime<Utc>) -> Self {
        Self(at.timestamp_millis())
    }
}

/// How finely a time was given.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Precision {
    /// To the minute.
    #[default]
    Minute,
    /// To the hour.
    Hour,
    /// Only the day is known.
    Day,
}

/// When a fact happened, as entered, with all that is needed to place it later.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct When {
    /// When it happened, as entered.
    pub happened_at: Moment,
    /// How finely that was given.
    #[serde(default)]
    pub precision: Precision,
    /// The date in the shop at entry; month membership uses it and is never recomputed.
    pub local_date: NaiveDate,
    /// The shop's offset from UTC at entry, minutes.
    pub utc_offset_min: i16,
    /// When the form was opened, by the clock of the machine it was opened on.
    pub made_at: Moment,
    /// Server clock minus that machine's clock, milliseconds.
    #[serde(default)]
    pub clock_offset_ms: i64,
}

/// How far ahead of the server a time may lie and still be believed.
pub const CLOCK_TOLERANCE_MS: i64 = 10 * MINUTE_MS;

impl When {
    /// When it happened, corrected by the clock offset.
    pub fn happened(&self) -> Moment {
        self.happened_at.plus_ms(self.clock_offset_ms)
    }

    /// When the form was opened, corrected by the clock offset.
    pub fn made(&self) -> Moment {
        self.made_at.plus_ms(self.clock_offset_ms)
    }

    /// Whether the time can be believed by a server that received it at `received_at`.
    pub fn is_believed(&self, received_at: Moment) -> bool {
        self.happened().ms_since(received_at) <= CLOCK_TOLERANCE_MS
    }

    /// When it takes its place in the replay: as it happened, or at arrival when not believed.
    pub fn replayed_at(&self, received_at: Moment) -> Moment {
        if self.is_believed(received_at) {
            self.happened()
        } else {
            received_at
        }
    }

    /// The local date that decides the month.
    pub fn book_date(&self, received_at: Moment) -> NaiveDate {
        if self.is_believed(received_at) {
            self.local_date
        } else {
            received_at
                .date_at_offset(self.utc_offset_min)
                .unwrap_or(self.local_date)
        }
    }
}
