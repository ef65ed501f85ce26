//! The work that comes round on a loop: testing its strength, testing its inhibitors, changing its
//! coolant. When each is due follows from its course and the policy; nobody keeps a calendar.

use chrono::NaiveDate;

use serde::{Deserialize, Serialize};

use super::corrosion::ClassPolicy;
use super::course::{Course, Done, whole_days};
use super::due::{Deferral, Due, Gone, Interval, Waiting, judge, judge_winter_check, used};
use super::policy::Policy;
use super::stated::WasPutOff;
use crate::book::component::InhibitorClass;
use crate::ids::{FactKey, PlaceId};
use crate::moment::Moment;
use crate::quantity::Volume;
use crate::quantity::rounding::{float, nearest};
use crate::season::YearDay;

/// What is to be done.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Task {
    /// Its coolant is changed as a whole.
    Change,
    /// Its strength is read.
    StrengthTest,
    /// What proves its inhibitors is read, or a laboratory looks.
    InhibitorTest,
    /// Its strength is read before the first frost of its place.
    WinterCheck,
}

impl Task {
    /// All of them.
    pub const ALL: [Self; 4] = [
        Self::Change,
        Self::StrengthTest,
        Self::InhibitorTest,
        Self::WinterCheck,
    ];

    /// The code in an address.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Change => "change",
            Self::StrengthTest => "strength_test",
            Self::InhibitorTest => "inhibitor_test",
            Self::WinterCheck => "winter_check",
        }
    }

    /// The words on a page.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Change => "Change the coolant",
            Self::StrengthTest => "Test the strength",
            Self::InhibitorTest => "Test the inhibitors",
            Self::WinterCheck => "Check before winter",
        }
    }
}

/// A task of one loop.
#[derive(Clone, PartialEq, Debug)]
pub struct LoopTask {
    /// What.
    pub task: Task,
    /// How it stands.
    pub due: Due,
    /// How often it is done.
    pub interval: Interval,
    /// When it was last done; none where nobody knows.
    pub last_at: Option<Moment>,
    /// Minutes it takes.
    pub minutes: i64,
    /// How much harm it does undone against other work.
    pub weight: f64,
    /// How it was last put off since it was last done.
    pub put_off: Option<WasPutOff>,
}

/// How much harm each kind of work does undone: twice as much counts as twice as far along.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Weights {
    /// [`Task::Change`].
    pub change: f64,
    /// [`Task::StrengthTest`].
    pub strength_test: f64,
    /// [`Task::InhibitorTest`].
    pub inhibitor_test: f64,
    /// [`Task::WinterCheck`].
    pub winter_check: f64,
}

impl Weights {
    /// That of one kind.
    pub const fn of(&self, task: Task) -> f64 {
        match task {
            Task::Change => self.change,
            Task::StrengthTest => self.strength_test,
            Task::InhibitorTest => self.inhibitor_test,
            Task::WinterCheck => self.winter_check,
        }
    }
}

impl LoopTask {
    /// The task among all that wait for work.
    pub const fn waiting(&self, place: PlaceId) -> Waiting {
        Waiting {
            place,
            due: self.due,
            weight: self.weight,
            minutes: self.minutes,
        }
    }
}

/// What the tasks of a loop depend on beside its course.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct About {
    /// Nominal capacity, mL.
    pub capacity_ml: Option<i64>,
    /// The class it is judged as.
    pub class: Option<InhibitorClass>,
    /// When a reading of its strength last counted in the book.
    pub last_reading_at: Option<Moment>,
    /// The first frost of its place, where its shop said so.
    pub first_frost: Option<YearDay>,
}

/// The tasks of a loop. One whose class nobody knows has no interval for its inhibitors and its change,
/// one whose place has no first frost on its card no check before winter.
pub fn tasks(
    course: &Course,
    about: About,
    (now, today): (Moment, NaiveDate),
    policy: &Policy,
) -> Vec<LoopTask> {
    let asked = Asked {
        course,
        now,
        today,
        policy,
    };
    let test_minutes = policy.winter.test_minutes;
    let mut found = vec![asked.task(
        (Task::StrengthTest, test_minutes),
        about.tested(policy.freeze.test_older_than_days, policy),
        about.last_reading_at,
    )];
    found.extend(
        about
            .first_frost
            .and_then(|frost| asked.winter_check(frost, about.last_reading_at)),
    );
    let Some(limits) = about
        .class
        .and_then(|class| policy.corrosion.classes.get(&class))
    else {
        return found;
    };
    let changed = course.changed_at(about.capacity_ml, policy.corrosion.whole_change);
    // Fresh coolant counts as tested on the day it went in.
    let proved = course.proved_at(limits.proof, changed).max(changed);
    found.push(asked.task(
        (Task::InhibitorTest, test_minutes),
        about.tested(limits.test_days, policy),
        proved,
    ));
    found.push(asked.task(
        (Task::Change, policy.winter.correct_minutes),
        changed_every(limits),
        changed,
    ));
    found
}

impl About {
    /// A test comes round by days, and once enough was topped up since.
    fn tested(&self, days: i64, policy: &Policy) -> Interval {
        let added = self.capacity_ml.and_then(|capacity| {
            let ml = nearest(float(capacity) * policy.due.test_added)?;
            Volume::from_ml(ml).ok()
        });
        Interval {
            days: Some(days),
            added,
            ..Interval::default()
        }
    }
}

fn changed_every(limits: &ClassPolicy) -> Interval {
    Interval {
        days: Some(limits.change_days),
        distance: limits.change_distance,
        hours: limits.change_hours,
        added: None,
    }
}

/// Work of one kind that was done in a span, or was past its window at the end of it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Round {
    /// What.
    pub task: Task,
    /// When it was last done in the span, and by which fact; none where it was not.
    pub done: Option<(Moment, FactKey)>,
    /// Its window never closed before it was done, and was not closed at the end.
    pub on_time: bool,
}

/// How the work of a loop was kept up within a span: each kind counts once, however often it was done. The
/// first of its kind had no clock; the check before winter has no interval and is left out.
pub fn rounds(
    course: &Course,
    about: About,
    (from, to): (Moment, Moment),
    policy: &Policy,
) -> Vec<Round> {
    let whole = (about.capacity_ml, policy.corrosion.whole_change);
    let changes = course.changes(whole.0, whole.1);
    let strength = course.tests(|done| matches!(done, Done::Tested { strength: true, .. }));
    let mut clocks = vec![(
        Task::StrengthTest,
        about.tested(policy.freeze.test_older_than_days, policy),
        strength,
    )];
    let class = about.class.and_then(|it| policy.corrosion.classes.get(&it));
    if let Some(limits) = class {
        // Fresh coolant counts as tested on the day it went in.
        let mut proofs = course.tests(|done| proves(done, limits));
        proofs.extend(&changes);
        proofs.sort_by_key(|(at, _)| *at);
        let tested = about.tested(limits.test_days, policy);
        clocks.push((Task::InhibitorTest, tested, proofs));
        clocks.push((Task::Change, changed_every(limits), changes));
    }
    let mut found = Vec::new();
    for (task, interval, times) in clocks {
        let closed = |since, until| {
            let used = used(interval, gone(course, since, until));
            used.is_some_and(|used| used > 1.0 + policy.due.window)
        };
        let (mut last, mut done, mut late) = (None, None, false);
        for (at, key) in times.into_iter().filter(|(at, _)| *at < to) {
            if let Some(since) = last.filter(|_| at >= from) {
                late |= closed(since, at);
                done = Some((at, key));
            }
            last = Some(at);
        }
        late |= last.is_some_and(|since| closed(since, to));
        if late || done.is_some() {
            found.push(Round {
                task,
                done,
                on_time: !late,
            });
        }
    }
    found
}

/// Whether a test tells of the inhibitors of a class: by what proves it, or by a laboratory's look.
fn proves(done: &Done, limits: &ClassPolicy) -> bool {
    match done {
        Done::Tested {
            laboratory, proofs, ..
        } => *laboratory || proofs.iter().any(|(read, _)| Some(*read) == limits.proof),
        _ => false,
    }
}

/// Of which loop it is asked, and when.
#[derive(Clone, Copy)]
struct Asked<'a> {
    course: &'a Course,
    now: Moment,
    today: NaiveDate,
    policy: &'a Policy,
}

impl Asked<'_> {
    fn task(
        self,
        (task, minutes): (Task, i64),
        interval: Interval,
        last_at: Option<Moment>,
    ) -> LoopTask {
        let put_off = self.put_off(task, last_at);
        let gone = last_at.map(|at| gone(self.course, at, self.now));
        let until = put_off.map(|it| Deferral {
            until: it.what.until,
        });
        LoopTask {
            task,
            due: judge(interval, gone, (until, self.today), &self.policy.due),
            interval,
            last_at,
            minutes,
            weight: self.policy.due.weights.of(task),
            put_off: put_off.cloned(),
        }
    }

    /// None where the calendar does not reach as far.
    fn winter_check(self, first_frost: YearDay, last_at: Option<Moment>) -> Option<LoopTask> {
        let put_off = self.put_off(Task::WinterCheck, last_at);
        let until = put_off.map(|it| Deferral {
            until: it.what.until,
        });
        // A reading stands with its moment; by days of the shop's zone it lies a day off at most.
        let done = last_at.and_then(|at| {
            let days = chrono::Days::new(u64::try_from(whole_days(at, self.now)).ok()?);
            self.today.checked_sub_days(days)
        });
        let asked = (until, self.today);
        Some(LoopTask {
            task: Task::WinterCheck,
            due: judge_winter_check(first_frost, done, asked, &self.policy.due)?,
            interval: Interval::default(),
            last_at,
            minutes: self.policy.winter.test_minutes,
            weight: self.policy.due.weights.of(Task::WinterCheck),
            put_off: put_off.cloned(),
        })
    }

    /// What was stated last, of what was stated since the work was last done.
    fn put_off(&self, task: Task, last_at: Option<Moment>) -> Option<&WasPutOff> {
        let stated = self.course.put_off.iter();
        stated
            .filter(|it| it.what.task == task && last_at.is_none_or(|last| it.at > last))
            .max_by_key(|it| (it.at, it.key))
    }
}

fn gone(course: &Course, since: Moment, now: Moment) -> Gone {
    let service = course.service(since, now);
    Gone {
        days: whole_days(since, now),
        distance: service.distance,
        hours: service.hours,
        added: Some(course.added(since, now)),
    }
}
