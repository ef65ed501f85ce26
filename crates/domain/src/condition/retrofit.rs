//! The programme that fits a quick-disconnect drain to every unit: how far it is, when it ends at this
//! pace, and which unit pays its fitting back first.

use chrono::{Days, NaiveDate};

use crate::quantity::rounding::{float, nearest};

/// What the programme is reckoned by: money in hundredths of the shop's currency.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct RetrofitPolicy {
    /// A fitting with its seal.
    pub fitting_hundredths: i64,
    /// Work to fit one, minutes.
    pub fit_minutes: i64,
    /// A minute of work.
    pub minute_hundredths: i64,
    /// Work it saves at each drain, minutes.
    pub saved_minutes: i64,
    /// Coolant it saves at each drain, litres.
    pub saved_l: f64,
    /// A litre of that coolant.
    pub litre_hundredths: i64,
    /// All units are to have one so long after the first, days, where no other day is set.
    pub within_days: i64,
    /// The pace is that of so many days, days.
    pub pace_days: i64,
}

impl RetrofitPolicy {
    /// Months until a fitting has paid for itself on a unit that is drained so often a year:
    /// (fitting + its work) ÷ (drains a year × what each saves). None where nothing is saved.
    ///
    /// ```
    /// use domain::condition::retrofit::RetrofitPolicy;
    /// // 55 and 36 min at 95 an hour; each drain saves 27 min and 2.5 L at 4.20: 112 ÷ (1.4 × 53.25)
    /// // years are 18 months.
    /// let policy = RetrofitPolicy {
    ///     fitting_hundredths: 55_00, fit_minutes: 36, minute_hundredths: 1_58,
    ///     saved_minutes: 27, saved_l: 2.5, litre_hundredths: 4_20, within_days: 730, pace_days: 180,
    /// };
    /// assert_eq!(policy.payback_months(1.4).map(f64::round), Some(18.0));
    /// assert_eq!(policy.payback_months(0.0), None);
    /// ```
    pub fn payback_months(&self, drains_a_year: f64) -> Option<f64> {
        let minute = float(self.minute_hundredths);
        let cost = float(self.fitting_hundredths) + float(self.fit_minutes) * minute;
        let saved =
            float(self.saved_minutes) * minute + self.saved_l * float(self.litre_hundredths);
        let a_year = drains_a_year * saved;
        (a_year > 0.0).then(|| 12.0 * cost / a_year)
    }
}

/// When the last unit will have its fitting, if it goes on so.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Finish {
    /// Every unit in scope has one.
    Done,
    /// On this day.
    On(NaiveDate),
    /// None was fitted within the days the pace is read off, or it lies beyond any calendar.
    NoPace,
}

/// How far the programme is.
#[derive(Clone, PartialEq, Debug)]
pub struct Progress {
    /// Units in scope.
    pub scope: usize,
    /// The day each of those that are done was fitted, in order.
    pub done: Vec<NaiveDate>,
    /// Fitted within the days the pace is read off.
    pub lately: usize,
    /// When it ends at that pace.
    pub finish: Finish,
    /// The day it is to be done by; none before the first fitting, unless a day is set.
    pub wanted_by: Option<NaiveDate>,
}

impl Progress {
    /// Of units in scope with the day each was fitted, as of `today`. The pace is that of the days before
    /// it that the policy says, counted from the first fitting where that was later.
    pub fn of(
        fitted: &[Option<NaiveDate>],
        today: NaiveDate,
        wanted_by: Option<NaiveDate>,
        policy: &RetrofitPolicy,
    ) -> Self {
        let mut done: Vec<NaiveDate> = fitted.iter().flatten().copied().collect();
        done.sort_unstable();
        let since = day_before(today, policy.pace_days);
        let since = done.first().map_or(since, |first| since.max(*first));
        let lately = done
            .iter()
            .filter(|day| **day >= since && **day <= today)
            .count();
        let left = fitted.len().saturating_sub(done.len());
        let days = today.signed_duration_since(since).num_days().max(1);
        let finish = match (left, lately) {
            (0, _) => Finish::Done,
            (_, 0) => Finish::NoPace,
            _ => nearest((float(count(left)) * float(days) / float(count(lately))).ceil())
                .and_then(|more| day_after(today, more))
                .map_or(Finish::NoPace, Finish::On),
        };
        let by_policy = done
            .first()
            .and_then(|first| day_after(*first, policy.within_days));
        Self {
            scope: fitted.len(),
            lately,
            finish,
            wanted_by: wanted_by.or(by_policy),
            done,
        }
    }

    /// Done by the end of a day.
    pub fn done_by(&self, day: NaiveDate) -> usize {
        self.done.partition_point(|done| *done <= day)
    }

    /// What the plan says for a day: an even pace from the first fitting to the day all are wanted.
    pub fn planned_by(&self, day: NaiveDate) -> Option<usize> {
        let (first, last) = (*self.done.first()?, self.wanted_by?);
        let all = last.signed_duration_since(first).num_days();
        if all <= 0 || day >= last {
            return (day >= last).then_some(self.scope);
        }
        let gone = day.signed_duration_since(first).num_days().max(0);
        nearest(float(count(self.scope)) * float(gone) / float(all))
            .and_then(|planned| usize::try_from(planned).ok())
    }

    /// At this pace the day it is to be done by is missed.
    pub fn misses(&self) -> bool {
        match (self.finish, self.wanted_by) {
            (Finish::On(day), Some(wanted)) => day > wanted,
            (Finish::NoPace, Some(_)) => true,
            _ => false,
        }
    }
}

/// When a unit is likely to be in the shop again: as long after its last visit as visits lay apart within
/// the days they were counted over. None without a visit, and never before `today`.
pub fn next_visit(
    last: Option<NaiveDate>,
    (visits, over_days): (i64, i64),
    today: NaiveDate,
) -> Option<NaiveDate> {
    let apart = over_days.checked_div(visits.max(1))?;
    day_after(last?, apart).map(|day| day.max(today))
}

fn count(units: usize) -> i64 {
    i64::try_from(units).unwrap_or(i64::MAX)
}

fn day_after(day: NaiveDate, days: i64) -> Option<NaiveDate> {
    day.checked_add_days(Days::new(u64::try_from(days).ok()?))
}

fn day_before(day: NaiveDate, days: i64) -> NaiveDate {
    let days = u64::try_from(days).unwrap_or(0);
    day.checked_sub_days(Days::new(days))
        .unwrap_or(NaiveDate::MIN)
}
