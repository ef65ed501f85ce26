//! The work that comes round on a loop: testing its strength, testing its inhibitors, changing its
//! coolant. When each is due follows from its course and the policy; nobody keeps a calendar.

use chrono::NaiveDate;

use super::course::{Course, whole_days};
use super::due::{Due, Gone, Interval, judge};
use super::policy::Policy;
use crate::book::component::InhibitorClass;
use crate::moment::Moment;

/// What is to be done.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Task {
    /// Its coolant is changed as a whole.
    Change,
    /// Its strength is read.
    StrengthTest,
    /// What proves its inhibitors is read, or a laboratory looks.
    InhibitorTest,
}

impl Task {
    /// The words on a page.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Change => "Change the coolant",
            Self::StrengthTest => "Test the strength",
            Self::InhibitorTest => "Test the inhibitors",
        }
    }
}

/// A task of one loop.
#[derive(Clone, Copy, PartialEq, Debug)]
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
}

/// The tasks of a loop. One whose class nobody knows has no interval for its inhibitors and its change.
pub fn tasks(
    course: &Course,
    about: About,
    (now, today): (Moment, NaiveDate),
    policy: &Policy,
) -> Vec<LoopTask> {
    let task = |task, interval, last_at: Option<Moment>, minutes| LoopTask {
        task,
        due: judge(
            interval,
            last_at.map(|at| gone(course, at, now)),
            (None, today),
            &policy.due,
        ),
        interval,
        last_at,
        minutes,
    };
    let test_minutes = policy.winter.test_minutes;
    let strength = Interval {
        days: Some(policy.freeze.test_older_than_days),
        ..Interval::default()
    };
    let mut found = vec![task(
        Task::StrengthTest,
        strength,
        about.last_reading_at,
        test_minutes,
    )];
    let Some(limits) = about
        .class
        .and_then(|class| policy.corrosion.classes.get(&class))
    else {
        return found;
    };
    let changed = course.changed_at(about.capacity_ml, policy.corrosion.whole_change);
    let inhibitors = Interval {
        days: Some(limits.test_days),
        ..Interval::default()
    };
    // Fresh coolant counts as tested on the day it went in.
    let proved = course.proved_at(limits.proof, changed).max(changed);
    found.push(task(Task::InhibitorTest, inhibitors, proved, test_minutes));
    let change = Interval {
        days: Some(limits.change_days),
        distance: limits.change_distance,
        hours: limits.change_hours,
        added: None,
    };
    found.push(task(
        Task::Change,
        change,
        changed,
        policy.winter.correct_minutes,
    ));
    found
}

fn gone(course: &Course, since: Moment, now: Moment) -> Gone {
    let service = course.service(since, now);
    Gone {
        days: whole_days(since, now),
        distance: service.distance,
        hours: service.hours,
        added: None,
    }
}
