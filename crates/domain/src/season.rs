//! A day that comes round every year.

use chrono::{Datelike, Days, NaiveDate};
use serde::{Deserialize, Serialize};

/// A day of every year, as the first frost of a place: written "11-15", month first.
///
/// ```
/// use domain::season::YearDay;
/// let frost = YearDay::try_from("11-15".to_owned())?;
/// assert_eq!(frost.in_year(2026), "2026-11-15".parse().ok());
/// assert!(YearDay::try_from("02-30".to_owned()).is_err());
/// # Ok::<(), String>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct YearDay {
    month: u32,
    day: u32,
}

impl YearDay {
    /// That day in a year; 29 February is the 28th where there is none. None beyond the calendar.
    pub fn in_year(self, year: i32) -> Option<NaiveDate> {
        NaiveDate::from_ymd_opt(year, self.month, self.day)
            .or_else(|| NaiveDate::from_ymd_opt(year, 2, 28))
    }

    /// The one a season is about: the last one to have come for as long as the season after it goes
    /// on, else the next one.
    pub fn around(self, today: NaiveDate, goes_on_days: i64) -> Option<NaiveDate> {
        let goes_on = Days::new(u64::try_from(goes_on_days).ok()?);
        (-1..=1)
            .filter_map(|by| self.in_year(today.year().checked_add(by)?))
            .find(|day| {
                day.checked_add_days(goes_on)
                    .is_some_and(|end| today <= end)
            })
    }
}

impl std::fmt::Display for YearDay {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:02}-{:02}", self.month, self.day)
    }
}

impl From<YearDay> for String {
    fn from(day: YearDay) -> Self {
        day.to_string()
    }
}

impl TryFrom<String> for YearDay {
    type Error = String;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        let problem = || format!("\"{text}\" is no day of the year written as 11-15, month first");
        let (month, day) = text.split_once('-').ok_or_else(problem)?;
        let number = |digits: &str| {
            let is_number =
                (1..=2).contains(&digits.len()) && digits.bytes().all(|byte| byte.is_ascii_digit());
            digits.parse().ok().filter(|_| is_number)
        };
        let (month, day) = number(month).zip(number(day)).ok_or_else(problem)?;
        // 2024 has every day that a year can have.
        NaiveDate::from_ymd_opt(2024, month, day).ok_or_else(problem)?;
        Ok(Self { month, day })
    }
}
