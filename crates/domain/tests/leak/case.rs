//! Cases: what opens, ends and brings one back.

use domain::book::outcome::TopUpClass;
use domain::condition::course::{Course, Done, Event, Pressed};
use domain::condition::leak::Rule;
use domain::condition::leak::case::{Case, CaseState, cases, consumption};
use domain::condition::policy::Policies;
use domain::ids::FactKey;
use domain::job::LeakClass;
use domain::moment::{DAY_MS, Moment};
use domain::quantity::{GaugePressure, Volume};
use uuid::Uuid;

fn day(number: i64) -> Moment {
    Moment(number * DAY_MS)
}

fn event(number: i64, done: Done) -> Event {
    Event {
        at: day(number),
        key: FactKey(Uuid::from_u128(u128::try_from(number).unwrap())),
        done,
    }
}

fn topped_up(number: i64, ml: i64) -> Event {
    let volume = Volume::from_ml(ml).unwrap();
    event(number, Done::ToppedUp(volume, TopUpClass::Consumption))
}

fn pressed(number: i64, class: u8) -> Event {
    let pressure = GaugePressure::from_pa(100_000).unwrap();
    let test = Pressed {
        start: pressure,
        end: pressure,
        hold_s: 600,
        leak_class: LeakClass::try_from(class).ok(),
        leak_place: (class > 0).then(|| format!("seen on day {number}")),
    };
    event(number, Done::Pressed(test))
}

fn mended(number: i64) -> Event {
    let done = Done::Mended {
        part: "hose".to_owned(),
        cause: "chafed".to_owned(),
        watch_days: 30,
    };
    event(number, done)
}

/// A unit that drives 150 km a day.
fn judged(mut events: Vec<Event>, now: i64) -> Vec<Case> {
    events.insert(0, event(0, Done::Opened));
    let distance_m = (0..=now / 10).map(|n| (day(n * 10), n * 1_500_000));
    let course = Course {
        events,
        distance_m: distance_m.collect(),
        ..Course::default()
    };
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    cases(&course, day(now), &policy.leak)
}

#[test]
fn a_quiet_loop_and_the_completion_of_a_fill_are_no_case() {
    assert_eq!(
        judged(vec![topped_up(200, 1_000), topped_up(400, 1_000)], 500),
        []
    );
    let litres = Volume::from_ml(3_000).unwrap();
    let completion = |at| event(at, Done::ToppedUp(litres, TopUpClass::Completion));
    assert_eq!(
        judged(vec![completion(10), completion(20), completion(30)], 60),
        []
    );
    assert_eq!(judged(vec![pressed(10, 0)], 60), []);
}

#[test]
fn three_top_ups_in_a_month_open_a_case_and_a_repair_ends_it_after_its_watch() {
    let found = judged(
        vec![
            topped_up(100, 900),
            topped_up(110, 900),
            topped_up(120, 900),
        ],
        130,
    );
    assert_eq!(found.len(), 1);
    let tripped = found[0].consumption.tripped.unwrap();
    assert_eq!(
        (tripped.rule, tripped.at, found[0].state),
        (Rule::Count, day(120), CaseState::Suspected)
    );
    assert_eq!(found[0].opened_at(), day(120));
    let repaired = |now| {
        let events = vec![
            topped_up(100, 900),
            topped_up(110, 900),
            topped_up(120, 900),
            mended(125),
        ];
        judged(events, now)
    };
    assert_eq!(repaired(154)[0].state, CaseState::Watched);
    let closed = repaired(155);
    assert_eq!((closed.len(), closed[0].state), (1, CaseState::Closed));
    // What came after the repair starts from nothing.
    let course = |events: Vec<Event>| Course {
        events,
        ..Course::default()
    };
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let after = course(vec![
        event(0, Done::Opened),
        topped_up(100, 900),
        mended(125),
    ]);
    assert!(
        consumption(&after, day(150), &policy.leak)
            .unwrap()
            .litres
            .abs()
            < 1e-9
    );
}

#[test]
fn a_leak_that_is_seen_keeps_its_gravest_class_and_its_first_day() {
    let found = judged(vec![pressed(20, 1), pressed(50, 3), pressed(60, 2)], 70);
    assert_eq!((found.len(), found[0].state), (1, CaseState::Seen));
    let seen = found[0].seen.as_ref().unwrap();
    assert_eq!((seen.first_at, u8::from(seen.class)), (day(20), 3));
    assert_eq!(seen.place.as_deref(), Some("seen on day 60"));
}

#[test]
fn what_leaks_again_within_the_watch_came_back_and_later_it_is_a_new_leak() {
    let within = judged(vec![pressed(20, 2), mended(21), pressed(40, 1)], 45);
    assert_eq!(within.len(), 2);
    assert_eq!(
        within[1].came_back_after,
        Some(FactKey(Uuid::from_u128(21)))
    );
    let later = judged(vec![pressed(20, 2), mended(21), pressed(60, 1)], 65);
    assert_eq!((later.len(), later[1].came_back_after), (2, None));
    for state in CaseState::ALL {
        assert_eq!(CaseState::from_code(state.code()), Some(state));
    }
}
