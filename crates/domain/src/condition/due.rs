//! Work that is due: by date, distance, hours or litres added, whichever comes first; when its window
//! is open, what was put off, and what comes first of all that waits.

use chrono::{Days, NaiveDate};

use super::task::Weights;
use crate::ids::PlaceId;
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{Distance, RunningTime, Volume};
use crate::season::YearDay;

/// What brings a task about.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum DueBy {
    /// Days.
    Days,
    /// Distance.
    Distance,
    /// Hours run.
    Hours,
    /// Litres added since.
    Added,
    /// The first frost of the place.
    Season,
}

/// How often a task is done: each limit that is there counts, and the first to be reached brings it.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Interval {
    /// Days.
    pub days: Option<i64>,
    /// Distance.
    pub distance: Option<Distance>,
    /// Hours run.
    pub hours: Option<RunningTime>,
    /// Litres added since.
    pub added: Option<Volume>,
}

/// What has gone by since it was last done; none where no meter tells.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Gone {
    /// Days.
    pub days: i64,
    /// Distance.
    pub distance: Option<Distance>,
    /// Hours run.
    pub hours: Option<RunningTime>,
    /// Litres added.
    pub added: Option<Volume>,
}

/// A task that was put off. Why stands in the record.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Deferral {
    /// The new date.
    pub until: NaiveDate,
}

/// Lines of due work.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct DuePolicy {
    /// The part of the interval before and after its end in which doing it is on time, 0 to 1.
    pub window: f64,
    /// The check before winter opens so many days before the first frost of the place.
    pub winter_opens_days: i64,
    /// So many days after the first frost it is about the next winter.
    pub winter_ends_days: i64,
    /// A test is due once so much of a loop's capacity was topped up since, 0 to 1.
    pub test_added: f64,
    /// Work is put off by so many days at most.
    pub put_off_days: i64,
    /// The share of tasks done on time that is aimed at, 0 to 1.
    pub on_time: f64,
    /// How much harm each kind of work does undone against the others.
    pub weights: Weights,
}

/// How a task stands.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum DueState {
    /// Past its window.
    Overdue,
    /// Its window is open.
    InWindow,
    /// Put off to a date that has not come.
    Deferred,
    /// Its time has not come.
    NotYet,
    /// It was never done and nobody knows when it should have been: do it once to start its clock.
    NeverDone,
}

/// A task with what it rests on.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Due {
    /// How it stands.
    pub state: DueState,
    /// The part of its interval that has gone by; 1 is due. None where it was never done.
    pub used: Option<f64>,
    /// What is furthest along.
    pub by: Option<DueBy>,
    /// Days until it is due at the pace so far, below 0 when it was; none without a pace.
    pub days_left: Option<i64>,
}

/// Judges a task. What was never done has no `gone`.
///
/// ```
/// use domain::condition::due::{DueBy, DueState, Gone, Interval, judge};
/// use domain::condition::policy::Policies;
/// use domain::quantity::Distance;
/// let policies = Policies::built_in().unwrap();
/// let policy = policies.in_force("2026-10-05".parse()?).unwrap().due;
/// let interval = Interval {
///     days: Some(100),
///     distance: Some(Distance::from_m(10_000_000)?),
///     ..Interval::default()
/// };
/// let gone = Gone {
///     days: 50,
///     distance: Some(Distance::from_m(9_500_000)?),
///     ..Gone::default()
/// };
/// let due = judge(interval, Some(gone), (None, "2026-10-05".parse()?), &policy);
/// assert_eq!((due.state, due.by), (DueState::InWindow, Some(DueBy::Distance)));
/// // 500 km at 190 km a day.
/// assert_eq!(due.days_left, Some(2));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn judge(
    interval: Interval,
    gone: Option<Gone>,
    (deferral, today): (Option<Deferral>, NaiveDate),
    policy: &DuePolicy,
) -> Due {
    let furthest = gone.and_then(|gone| furthest(interval, gone));
    let mut due = Due {
        state: DueState::NeverDone,
        used: furthest.map(|(_, used)| used),
        by: furthest.map(|(by, _)| by),
        days_left: furthest
            .zip(gone)
            .and_then(|((_, used), gone)| days_left(used, gone.days)),
    };
    if let Some((_, used)) = furthest {
        due.state = if used > 1.0 + policy.window {
            DueState::Overdue
        } else if used >= 1.0 - policy.window {
            DueState::InWindow
        } else {
            DueState::NotYet
        };
    }
    due.put_off(deferral, today);
    due
}

impl Due {
    /// What waits is put off until the new date and no longer; that date has no window of its own.
    fn put_off(&mut self, deferral: Option<Deferral>, today: NaiveDate) {
        let Some(deferral) = deferral else { return };
        self.state = match self.state {
            DueState::Overdue | DueState::InWindow | DueState::NeverDone
                if today <= deferral.until =>
            {
                DueState::Deferred
            }
            DueState::InWindow => DueState::Overdue,
            state => state,
        };
    }
}

/// The part of an interval that has gone by, by whatever is furthest along; none where nothing tells.
pub fn used(interval: Interval, gone: Gone) -> Option<f64> {
    furthest(interval, gone).map(|(_, used)| used)
}

/// What is furthest along, and the part of its interval that has gone by.
fn furthest(interval: Interval, gone: Gone) -> Option<(DueBy, f64)> {
    let pair = |by, gone: Option<i64>, limit: Option<i64>| {
        let limit = limit.filter(|limit| *limit > 0)?;
        Some((by, float(gone?) / float(limit)))
    };
    [
        pair(DueBy::Days, Some(gone.days), interval.days),
        pair(
            DueBy::Distance,
            gone.distance.map(Distance::m),
            interval.distance.map(Distance::m),
        ),
        pair(
            DueBy::Hours,
            gone.hours.map(RunningTime::s),
            interval.hours.map(RunningTime::s),
        ),
        pair(
            DueBy::Added,
            gone.added.map(Volume::ml),
            interval.added.map(Volume::ml),
        ),
    ]
    .into_iter()
    .flatten()
    .max_by(|one, other| one.1.total_cmp(&other.1))
}

/// At the pace so far; whole days, cut off so that it is never promised late.
fn days_left(used: f64, days: i64) -> Option<i64> {
    (used > 0.0 && days > 0)
        // Whatever the last digit of the quotient is, a whole day stays one.
        .then(|| (float(days) / used - float(days) + 1e-9).floor())
        .and_then(nearest)
}

/// How the check before winter stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum WinterCheck {
    /// It opens on that day.
    Opens(NaiveDate),
    /// It is open, and so many days are left to the first frost.
    Open(i64),
    /// It was done since it opened.
    Done,
    /// So many days past the first frost.
    Overdue(i64),
}

/// Judges the check before the winter whose first frost is expected on `first_frost`.
pub fn winter_check(
    first_frost: NaiveDate,
    done: Option<NaiveDate>,
    today: NaiveDate,
    policy: &DuePolicy,
) -> WinterCheck {
    let opens = u64::try_from(policy.winter_opens_days)
        .ok()
        .and_then(|days| first_frost.checked_sub_days(Days::new(days)))
        .unwrap_or(first_frost);
    let left = first_frost.signed_duration_since(today).num_days();
    if done.is_some_and(|done| done >= opens && done <= today) {
        WinterCheck::Done
    } else if today < opens {
        WinterCheck::Opens(opens)
    } else if left >= 0 {
        WinterCheck::Open(left)
    } else {
        WinterCheck::Overdue(left.saturating_neg())
    }
}

/// The check before winter as a task among others, counted as one that comes once a year. None where the
/// calendar does not reach as far.
pub fn judge_winter_check(
    first_frost: YearDay,
    done: Option<NaiveDate>,
    (deferral, today): (Option<Deferral>, NaiveDate),
    policy: &DuePolicy,
) -> Option<Due> {
    let frost = first_frost.around(today, policy.winter_ends_days)?;
    let check = winter_check(frost, done, today, policy);
    let frost = match check {
        WinterCheck::Done => first_frost.around(
            frost
                .succ_opt()?
                .checked_add_days(Days::new(u64::try_from(policy.winter_ends_days).ok()?))?,
            policy.winter_ends_days,
        )?,
        _ => frost,
    };
    let left = frost.signed_duration_since(today).num_days();
    let mut due = Due {
        state: match check {
            WinterCheck::Overdue(_) => DueState::Overdue,
            WinterCheck::Open(_) => DueState::InWindow,
            WinterCheck::Opens(_) | WinterCheck::Done => DueState::NotYet,
        },
        used: Some(1.0 - float(left) / DAYS_A_YEAR),
        by: Some(DueBy::Season),
        days_left: Some(left),
    };
    // What was put off in one winter says nothing of the next.
    let opens = frost.checked_sub_days(Days::new(u64::try_from(policy.winter_opens_days).ok()?))?;
    due.put_off(deferral.filter(|it| it.until >= opens), today);
    Some(due)
}

/// Of the Gregorian calendar.
const DAYS_A_YEAR: f64 = 365.2425;

/// A task that waits.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Waiting {
    /// The loop it is for.
    pub place: PlaceId,
    /// How it stands.
    pub due: Due,
    /// How much harm it does undone against others: 1 is usual.
    pub weight: f64,
    /// Minutes it takes.
    pub minutes: i64,
}

impl Waiting {
    /// Its risk: its weight times the part of its interval gone by. What was never done counts as just
    /// due.
    pub fn risk(&self) -> f64 {
        self.weight * self.due.used.unwrap_or(1.0)
    }
}

/// All that waits, the riskiest first; what was put off and what is not due yet is left out.
pub fn backlog(tasks: &[Waiting]) -> Vec<Waiting> {
    let waits = |task: &&Waiting| {
        matches!(
            task.due.state,
            DueState::Overdue | DueState::InWindow | DueState::NeverDone
        )
    };
    let mut waiting: Vec<Waiting> = tasks.iter().filter(waits).copied().collect();
    waiting.sort_by(|one, other| {
        let by_risk = other.risk().total_cmp(&one.risk());
        by_risk.then(one.place.cmp(&other.place))
    });
    waiting
}

/// Minutes of work that wait.
pub fn minutes(tasks: &[Waiting]) -> i64 {
    tasks.iter().map(|task| task.minutes).sum()
}
