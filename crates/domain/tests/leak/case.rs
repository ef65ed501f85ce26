//! Cases: what opens, ends and brings one back.

use domain::book::outcome::TopUpClass;
use domain::condition::course::{Course, Done, Event, Pressed};
use domain::condition::leak::Rule;
use domain::condition::leak::case::{Case, CaseState, Ended, cases, consumption};
use domain::condition::policy::Policies;
use domain::gas::verdict::{Reason, Verdict};
use domain::ids::FactKey;
use domain::job::LeakClass;
use domain::moment::{DAY_MS, Moment};
use domain::quantity::{GaugePressure, Volume};
use domain::words::Text;
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
    let verdict = if class > 0 {
        Verdict::Leaks
    } else {
        Verdict::Tight
    };
    tested(number, class, verdict)
}

fn tested(number: i64, class: u8, verdict: Verdict) -> Event {
    let pressure = GaugePressure::from_pa(100_000).unwrap();
    let test = Pressed {
        start: pressure,
        end: pressure,
        hold_s: 600,
        leak_class: LeakClass::try_from(class).ok(),
        leak_place: (class > 0).then(|| format!("seen on day {number}")),
        verdict: Some(verdict),
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
            pressed(126, 0),
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

/// A repair holds under pressure or is not proven: neither its watch alone nor a test that proves nothing
/// or was done before it closes the case; what leaks later is a case of its own.
#[test]
fn a_repair_is_closed_by_its_watch_and_a_tight_test_together() {
    let states = |after: Vec<Event>, now| -> Vec<CaseState> {
        let mut events = vec![pressed(18, 0), pressed(20, 2), mended(21)];
        events.extend(after);
        judged(events, now).iter().map(|case| case.state).collect()
    };
    let tight_alone = || tested(22, 0, Verdict::Tight);
    let nothing = tested(22, 0, Verdict::NotEvaluable(Reason::NoTime));
    assert_eq!(states(vec![], 50), [CaseState::Watched]);
    assert_eq!(states(vec![tight_alone()], 50), [CaseState::Watched]);
    assert_eq!(states(vec![], 51), [CaseState::Unproven]);
    assert_eq!(states(vec![nothing], 51), [CaseState::Unproven]);
    let falls = tested(22, 0, Verdict::Leaks);
    assert_eq!(states(vec![falls.clone()], 51), [CaseState::Unproven]);
    assert_eq!(
        states(vec![falls, tested(30, 0, Verdict::Tight)], 51),
        [CaseState::Closed]
    );
    assert_eq!(states(vec![pressed(200, 0)], 190), [CaseState::Closed]);
    assert_eq!(
        states(vec![tight_alone(), pressed(60, 1)], 70),
        [CaseState::Closed, CaseState::Seen]
    );
    assert!(!CaseState::Unproven.is_open() && !CaseState::Unproven.is_over());
}

/// Seen on day 20 and mended on day 29: nine days; a repair nobody suspected anything before has none.
#[test]
fn the_days_from_a_leak_to_its_repair_are_counted_from_what_flagged_it() {
    let days = |events: Vec<Event>| judged(events, 100)[0].flagged_for_ms();
    assert_eq!(days(vec![pressed(20, 1), mended(29)]), Some(9 * DAY_MS));
    assert_eq!(days(vec![mended(29)]), None);
    assert_eq!(days(vec![pressed(20, 1)]), None);
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

fn looked(number: i64) -> Event {
    let done = Done::NothingFound {
        by: None,
        reason: Text::plain("cap replaced, tight under pressure").unwrap(),
    };
    event(number, done)
}

/// Tripped on day 120 by three top-ups in a month. 20,000 km at 150 km a day are 133.3 days, in which the
/// reference of 1.2 L/10,000 km lets 2.4 L pass: day 253.3.
#[test]
fn a_suspicion_goes_quiet_over_its_stretch_and_its_history_stays() {
    let with = |more: Vec<Event>, now| {
        let mut events: Vec<Event> = [100, 110, 120].map(|at| topped_up(at, 900)).into();
        events.extend(more);
        judged(events, now)
    };
    assert_eq!(with(vec![], 250)[0].state, CaseState::Suspected);
    let quiet = with(vec![topped_up(200, 2_400)], 260);
    assert_eq!((quiet.len(), quiet[0].state), (1, CaseState::Quiet));
    let (at, ended) = quiet[0].ended.clone().unwrap();
    assert_eq!(ended, Ended::Quiet);
    assert_eq!(at.0, day(120).0 + 20_000 * DAY_MS / 150);
    assert!(quiet[0].state.is_over() && !quiet[0].state.is_open());
    assert_eq!(quiet[0].consumption.tripped.unwrap().at, day(120));
    // A decilitre more, and the stretch has to begin anew on day 200.
    let longer = |now| with(vec![topped_up(200, 2_500)], now)[0].state;
    assert_eq!(longer(330), CaseState::Suspected);
    assert_eq!(longer(340), CaseState::Quiet);
}

/// What ended counts no more: the next suspicion is a case of its own, and needs its own litres.
#[test]
fn after_it_went_quiet_the_sum_starts_anew() {
    let mut events: Vec<Event> = [100, 110, 120].map(|at| topped_up(at, 900)).into();
    events.push(topped_up(300, 900));
    assert_eq!(judged(events.clone(), 310).len(), 1);
    events.extend([310, 320].map(|at| topped_up(at, 900)));
    let again = judged(events, 330);
    assert_eq!(
        again.iter().map(|case| case.state).collect::<Vec<_>>(),
        [CaseState::Quiet, CaseState::Suspected]
    );
    assert_eq!(again[1].opened_at(), day(320));
}

/// A unit that stands still, or that nobody looks at, proves nothing; nor does a leak that was seen dry up
/// because nobody tops it up.
#[test]
fn neither_silence_nor_a_leak_that_was_seen_goes_quiet() {
    let mut events = vec![event(0, Done::Opened)];
    events.extend([100, 110, 120].map(|at| topped_up(at, 900)));
    let course = Course {
        events: events.clone(),
        // Last read on day 200.
        distance_m: (0..=20).map(|n| (day(n * 10), n * 1_500_000)).collect(),
        ..Course::default()
    };
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let found = cases(&course, day(1_000), &policy.leak);
    assert_eq!(found[0].state, CaseState::Suspected);
    let seen = judged(vec![pressed(20, 1)], 1_000);
    assert_eq!(seen[0].state, CaseState::Seen);
}

#[test]
fn a_look_that_finds_nothing_ends_the_case_that_is_open_and_no_other() {
    let tripped = || -> Vec<Event> { [100, 110, 120].map(|at| topped_up(at, 900)).into() };
    let mut events = tripped();
    events.push(looked(130));
    let found = judged(events.clone(), 140);
    assert_eq!((found.len(), found[0].state), (1, CaseState::NothingFound));
    let key = FactKey(Uuid::from_u128(130));
    assert_eq!(found[0].ended, Some((day(130), Ended::NothingFound(key))));
    // Two more within the month are not three: the count starts anew.
    events.extend([135, 138].map(|at| topped_up(at, 900)));
    assert_eq!(judged(events, 140).len(), 1);
    // With nothing open there is nothing to end.
    assert_eq!(judged(vec![looked(50)], 60), []);
    let seen = judged(vec![pressed(20, 2), looked(30)], 40);
    assert_eq!((seen.len(), seen[0].state), (1, CaseState::NothingFound));
    // A repair after it is a case of its own.
    let mended_later = judged(vec![pressed(20, 2), looked(30), mended(35)], 40);
    assert_eq!(mended_later.len(), 2);
}

/// The shape of the fact as records hold it: it must go on being read.
#[test]
fn a_look_that_found_nothing_is_read_as_it_was_written() {
    let id = Uuid::from_u128(7);
    let written = format!(r#"{{"nothing_found":{{"place":"{id}","reason":{{"digest":"ab"}}}}}}"#);
    let what: domain::fact::What = serde_json::from_str(&written).unwrap();
    assert_eq!(serde_json::to_string(&what).unwrap(), written);
}

#[test]
fn what_was_stated_takes_its_place_by_time() {
    let mut course = Course {
        events: vec![topped_up(10, 900), topped_up(20, 900)],
        ..Course::default()
    };
    for at in [15, 5, 30] {
        course.state(looked(at));
    }
    let order: Vec<i64> = course
        .events
        .iter()
        .map(|event| event.at.0 / DAY_MS)
        .collect();
    assert_eq!(order, [5, 10, 15, 20, 30]);
}
