//! What comes round on a loop, against intervals of the policy counted by hand.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::book::component::InhibitorClass;
use domain::book::outcome::TopUpClass;
use domain::condition::course::{Course, Done, Event};
use domain::condition::due::{DueBy, DueState};
use domain::condition::policy::Policies;
use domain::condition::stated::{PutOff, WasPutOff};
use domain::condition::task::{About, LoopTask, Task, rounds, tasks};
use domain::ids::{FactKey, PlaceId};
use domain::moment::{DAY_MS, Moment};
use domain::quantity::Volume;
use domain::season::YearDay;
use domain::words::Text;
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
        first_frost: None,
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
        strength: true,
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

/// 10 % of 40 L: 4.0 L topped up since the reading make the test due, 4.4 L are past its window, and what
/// was topped up before it does not count.
#[test]
fn a_test_comes_round_by_litres_added_since() {
    let topped_up = |number, ml| {
        let volume = Volume::from_ml(ml).unwrap();
        event(number, Done::ToppedUp(volume, TopUpClass::Completion))
    };
    let test = |ml| {
        let course = Course {
            events: vec![topped_up(5, 9_000), topped_up(12, 1_000), topped_up(13, ml)],
            ..Course::default()
        };
        let found = read(&course, Some(day(10)), 20);
        let each = found.iter().find(|it| it.task == Task::StrengthTest);
        let due = each.unwrap().due;
        (due.state, due.by)
    };
    let added = Some(DueBy::Added);
    assert_eq!(test(2_500), (DueState::NotYet, added));
    assert_eq!(test(2_600), (DueState::InWindow, added));
    assert_eq!(test(3_400), (DueState::InWindow, added));
    assert_eq!(test(3_401), (DueState::Overdue, added));
    // Days come first where less was added: 10 of 180 are 5.6 %, 0.2 L of 4 L are 5 %.
    let course = Course {
        events: vec![topped_up(12, 200)],
        ..Course::default()
    };
    let found = read(&course, Some(day(10)), 20);
    assert_eq!(found[0].due.by, Some(DueBy::Days));
}

fn put_off(number: i64, task: Task, until: &str) -> WasPutOff {
    WasPutOff {
        at: day(number),
        key: FactKey(Uuid::from_u128(u128::try_from(number).unwrap())),
        by: None,
        what: PutOff {
            place: PlaceId(Uuid::from_u128(1)),
            task,
            until: until.parse().unwrap(),
            reason: Text::plain("parts are awaited").unwrap(),
        },
    }
}

/// Asked on 5 October 2026, of a strength test that is 20 days past its 180.
#[test]
fn put_off_is_what_was_stated_last_since_it_was_done_and_it_comes_back_by_itself() {
    let state_after = |stated: Vec<WasPutOff>| {
        let course = Course {
            put_off: stated,
            ..Course::default()
        };
        let found = read(&course, Some(day(100)), 300);
        let test = found.iter().find(|it| it.task == Task::StrengthTest);
        (test.unwrap().due.state, test.unwrap().put_off.is_some())
    };
    let strength = |number, until| put_off(number, Task::StrengthTest, until);
    assert_eq!(state_after(Vec::new()), (DueState::Overdue, false));
    assert_eq!(
        state_after(vec![strength(290, "2026-10-05")]),
        (DueState::Deferred, true)
    );
    // Its day is over.
    assert_eq!(
        state_after(vec![strength(290, "2026-10-04")]),
        (DueState::Overdue, true)
    );
    // An earlier day that is stated later counts, in whatever order they arrive.
    assert_eq!(
        state_after(vec![
            strength(295, "2026-10-04"),
            strength(290, "2026-12-01")
        ]),
        (DueState::Overdue, true)
    );
    // What was stated before it was last done, or of other work, says nothing.
    for stated in [
        strength(99, "2026-12-01"),
        put_off(290, Task::Change, "2026-12-01"),
    ] {
        assert_eq!(state_after(vec![stated]), (DueState::Overdue, false));
    }
}

/// First frost on 15 November: the check opens on 16 September, and until 14 April (150 days on) it is
/// about the winter that has begun.
#[test]
fn the_check_before_winter_comes_round_with_the_season() {
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let frost = YearDay::try_from("11-15".to_owned()).unwrap();
    let now = 1_000;
    let check = |today: &str, read_days_ago: i64| {
        let about = About {
            capacity_ml: None,
            class: None,
            last_reading_at: Some(day(now - read_days_ago)),
            first_frost: Some(frost),
        };
        let asked = (day(now), today.parse().unwrap());
        let found = tasks(&Course::default(), about, asked, policy);
        let check = found.iter().find(|it| it.task == Task::WinterCheck);
        let due = check.unwrap().due;
        (due.state, due.days_left.unwrap())
    };
    assert_eq!(check("2026-09-15", 100), (DueState::NotYet, 61));
    assert_eq!(check("2026-09-16", 100), (DueState::InWindow, 60));
    assert_eq!(check("2026-11-16", 100), (DueState::Overdue, -1));
    assert_eq!(check("2027-04-14", 300), (DueState::Overdue, -150));
    assert_eq!(check("2027-04-15", 300), (DueState::NotYet, 214));
    // Read within the sixty days it is done, and the next one is a year off.
    assert_eq!(check("2026-10-05", 19), (DueState::NotYet, 406));
    assert_eq!(check("2026-10-05", 20), (DueState::InWindow, 41));
    assert_eq!(check("2027-01-10", 60), (DueState::NotYet, 309));
    for (text, shown) in [
        ("2-29", Some("02-29")),
        ("13-01", None),
        ("11-31", None),
        ("+1-2", None),
    ] {
        let read = YearDay::try_from(text.to_owned()).ok();
        assert_eq!(read.map(|day| day.to_string()).as_deref(), shown, "{text}");
    }
    let leap = YearDay::try_from("02-29".to_owned()).unwrap();
    assert_eq!(leap.in_year(2027), "2027-02-28".parse().ok());
}

/// The shape of the fact as records hold it: it must go on being read.
#[test]
fn work_put_off_is_read_as_it_was_written() {
    let id = Uuid::from_u128(7);
    let written = format!(
        r#"{{"put_off":{{"place":"{id}","task":"strength_test","until":"2026-10-20","reason":{{"digest":"ab"}}}}}}"#
    );
    let what: domain::fact::What = serde_json::from_str(&written).unwrap();
    assert_eq!(serde_json::to_string(&what).unwrap(), written);
    for task in Task::ALL {
        assert_eq!(serde_json::to_value(task).unwrap(), task.code());
    }
}

fn strength_test(number: i64) -> Event {
    let done = Done::Tested {
        laboratory: false,
        strength: true,
        ph_thousandths: None,
        proofs: Vec::new(),
        found: [].into(),
    };
    event(number, done)
}

fn strength_rounds(tests: &[i64], (from, to): (i64, i64)) -> Vec<(Option<i64>, bool)> {
    let course = Course {
        events: tests.iter().map(|at| strength_test(*at)).collect(),
        ..Course::default()
    };
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let about = About {
        capacity_ml: Some(40_000),
        class: None,
        last_reading_at: None,
        first_frost: None,
    };
    let found = rounds(&course, about, (day(from), day(to)), policy);
    let told = found.iter().map(|round| {
        let at = round.done.map(|(at, _)| at.0 / DAY_MS);
        (at, round.on_time)
    });
    told.collect()
}

/// 180 days and 18 more: the window closes after day 198.
#[test]
fn work_is_on_time_as_long_as_its_window_does_not_close() {
    assert_eq!(
        strength_rounds(&[0, 90, 198], (0, 300)),
        [(Some(198), true)]
    );
    assert_eq!(strength_rounds(&[0, 199], (0, 300)), [(Some(199), false)]);
    // Once late is late, and what was late before the span is not of it.
    assert_eq!(
        strength_rounds(&[0, 199, 250], (0, 300)),
        [(Some(250), false)]
    );
    assert_eq!(
        strength_rounds(&[0, 199, 250], (200, 300)),
        [(Some(250), true)]
    );
    // Undone at the end of the span, and not before its window has closed.
    assert_eq!(strength_rounds(&[0], (0, 198)), []);
    assert_eq!(strength_rounds(&[0], (0, 199)), [(None, false)]);
    assert_eq!(strength_rounds(&[0, 250], (0, 199)), [(None, false)]);
    assert_eq!(strength_rounds(&[0, 50], (0, 249)), [(Some(50), false)]);
    // What was never done has no clock.
    assert_eq!(strength_rounds(&[], (0, 400)), []);
    assert_eq!(strength_rounds(&[10], (0, 100)), []);
}

/// Fresh coolant is a change of the whole, and proves its inhibitors too: OAT is tested every 365 days.
#[test]
fn a_change_starts_the_clock_of_the_inhibitors_as_well() {
    let course = Course {
        events: vec![filled(0, 36_000, true), filled(380, 36_000, true)],
        ..Course::default()
    };
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let about = About {
        capacity_ml: Some(40_000),
        class: Some(InhibitorClass::Oat),
        last_reading_at: None,
        first_frost: None,
    };
    let found = rounds(&course, about, (day(1), day(400)), policy);
    let told: Vec<(Task, bool)> = found.iter().map(|it| (it.task, it.on_time)).collect();
    // 380 days lie within the window of the yearly test, and the change itself was done in the span.
    assert_eq!(told, [(Task::InhibitorTest, true), (Task::Change, true)]);
}

/// Of two that are as far along, the one that does more harm undone comes first.
#[test]
fn work_weighs_by_its_kind() {
    let course = Course {
        events: vec![filled(0, 36_000, true), strength_test(1_700)],
        ..Course::default()
    };
    let found = read(&course, Some(day(1_700)), 1_826);
    let risk = |task: Task| {
        let found = found.iter().find(|each| each.task == task).unwrap();
        (
            found.weight,
            found.waiting(PlaceId(Uuid::from_u128(1))).risk(),
        )
    };
    // Due to the day: all of its interval is gone.
    let (weight, change) = risk(Task::Change);
    assert!((change - weight).abs() < 1e-9 && weight > risk(Task::StrengthTest).0);
    // 126 of 180 days.
    assert!((risk(Task::StrengthTest).1 - 0.7).abs() < 1e-9);
}
