//! What comes round on a loop, against intervals of the policy counted by hand.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::book::component::InhibitorClass;
use domain::condition::course::{Course, Done, Event};
use domain::condition::due::{DueBy, DueState};
use domain::condition::policy::Policies;
use domain::condition::task::{About, LoopTask, Task, tasks};
use domain::ids::FactKey;
use domain::moment::{DAY_MS, Moment};
use domain::quantity::Volume;
use uuid::Uuid;

fn day(number: i64) -> Moment {
    Moment(number * DAY_MS)
}

fn event(number: i64, done: Done) -> Event {
    Event {
        at: day(number),
        key: FactKey(Uuid::from_u128(1)),
        done,
    }
}

fn filled(number: i64, ml: i64, fresh: bool) -> Event {
    let put_in = Volume::from_ml(ml).unwrap();
    let fresh = if fresh { put_in } else { Volume::MIN };
    event(number, Done::Filled { put_in, fresh })
}

fn of(course: &Course, now: i64) -> Vec<LoopTask> {
    read(course, None, now)
}

/// The same of a loop whose strength was read.
fn read(course: &Course, last_reading_at: Option<Moment>, now: i64) -> Vec<LoopTask> {
    let today = "2026-10-05".parse().unwrap();
    let policy = Policies::on(today).unwrap();
    let about = About {
        capacity_ml: Some(40_000),
        class: Some(InhibitorClass::Oat),
        last_reading_at,
    };
    tasks(course, about, (day(now), today), policy)
}

fn state(found: &[LoopTask], task: Task) -> DueState {
    found
        .iter()
        .find(|each| each.task == task)
        .unwrap()
        .due
        .state
}

/// 180 days, within 18 of them either way, from the last reading that counted in the book: one that
/// waits or was refused stands in the course too.
#[test]
fn a_strength_test_comes_round_by_days() {
    let refused = Done::Tested {
        laboratory: false,
        ph_thousandths: None,
        proofs: Vec::new(),
        found: [].into(),
    };
    let course = Course {
        events: vec![event(100, refused)],
        ..Course::default()
    };
    for (now, wanted) in [
        (161, DueState::NotYet),
        (162, DueState::InWindow),
        (198, DueState::InWindow),
        (199, DueState::Overdue),
    ] {
        assert_eq!(
            state(&read(&course, Some(day(0)), now), Task::StrengthTest),
            wanted,
            "{now}"
        );
    }
    assert_eq!(
        state(&of(&course, 110), Task::StrengthTest),
        DueState::NeverDone
    );
}

/// OAT: 1,826 days or 241,402 km; at 500 km a day the distance comes first.
#[test]
fn a_change_comes_by_whatever_is_first_and_only_fresh_coolant_starts_it() {
    let mut course = Course {
        events: vec![filled(0, 36_000, true), filled(300, 36_000, false)],
        ..Course::default()
    };
    let found = of(&course, 400);
    let change = found.iter().find(|each| each.task == Task::Change).unwrap();
    assert_eq!(
        (change.last_at, change.due.by),
        (Some(day(0)), Some(DueBy::Days))
    );
    course.distance_m = vec![(day(0), 0), (day(400), 200_000_000)];
    let found = of(&course, 400);
    let change = found.iter().find(|each| each.task == Task::Change).unwrap();
    assert_eq!(
        (change.due.by, change.due.state),
        (Some(DueBy::Distance), DueState::NotYet)
    );
    // 200,000 of 241,402 km are 82.8 %.
    assert!((change.due.used.unwrap() - 0.8285).abs() < 1e-3);
    assert_eq!(state(&of(&course, 500), Task::Change), DueState::InWindow);
    // Half a loop is no change.
    let half = Course {
        events: vec![filled(0, 20_000, true)],
        ..Course::default()
    };
    assert_eq!(state(&of(&half, 10), Task::Change), DueState::NeverDone);
    assert_eq!(
        state(&of(&half, 10), Task::InhibitorTest),
        DueState::NeverDone
    );
}
