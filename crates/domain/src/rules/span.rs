//! Spans of the calendar, and what day one ends on.

use std::fmt;
use std::str::FromStr;

use chrono::{Datelike, Days, NaiveDate};

/// A span as rules state it.
///
/// ```
/// use domain::rules::Span;
/// let leap_day: chrono::NaiveDate = "2028-02-29".parse()?;
/// let end = "1 y".parse::<Span>()?.after(leap_day);
/// assert_eq!(end.map(|day| day.to_string()).as_deref(), Some("2029-03-01"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Span {
    /// Calendar days.
    Days(u16),
    /// Calendar years.
    Years(u8),
}

impl Span {
    /// The day that lies one span after `start`; none beyond the calendar.
    ///
    /// 29 February and some years is 1 March where that year has none: never shorter.
    pub fn after(self, start: NaiveDate) -> Option<NaiveDate> {
        match self {
            Self::Days(days) => start.checked_add_days(Days::new(u64::from(days))),
            Self::Years(years) => {
                let year = start.year().checked_add(i32::from(years))?;
                start
                    .with_year(year)
                    .or_else(|| NaiveDate::from_ymd_opt(year, 3, 1))
            }
        }
    }
}

impl FromStr for Span {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let problem = || format!("\"{text}\" is no span like \"180 d\" or \"3 y\"");
        let (number, unit) = text.split_once(' ').ok_or_else(problem)?;
        match unit {
            "d" => number.parse().map(Self::Days).map_err(|_| problem()),
            "y" => number.parse().map(Self::Years).map_err(|_| problem()),
            _ => Err(problem()),
        }
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Days(1) => f.write_str("1 day"),
            Self::Days(days) => write!(f, "{days} days"),
            Self::Years(1) => f.write_str("1 year"),
            Self::Years(years) => write!(f, "{years} years"),
        }
    }
}

/// Days from `today` to `deadline`; below 0 when it is overdue.
pub fn days_left(deadline: NaiveDate, today: NaiveDate) -> i64 {
    deadline.signed_duration_since(today).num_days()
}
