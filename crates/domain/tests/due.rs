//! Due work, row by row.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::condition::due::{
    Deferral, Due, DueBy, DuePolicy, DueState, Gone, Interval, Waiting, WinterCheck, backlog,
    judge, minutes, winter_check,
};
use domain::condition::policy::Policies;
use domain::ids::PlaceId;
use domain::quantity::{Distance, RunningTime, Volume};

fn policy() -> DuePolicy {
    let day = day("2026-10-05");
    Policies::built_in().unwrap().in_force(day).unwrap().due
}

fn day(text: &str) -> chrono::NaiveDate {
    text.parse().unwrap()
}

fn km(km: i64) -> Option<Distance> {
    Distance::from_m(km * 1_000).ok()
}

fn hours(hours: i64) -> Option<RunningTime> {
    RunningTime::from_s(hours * 3_600).ok()
}

fn after(gone: Gone, deferral: Option<&str>) -> Due {
    let interval = Interval {
        days: Some(200),
        distance: km(10_000),
        hours: hours(250),
        added: Some(Volume::from_ml(4_000).unwrap()),
    };
    let deferral = deferral.map(|until| Deferral { until: day(until) });
    judge(
        interval,
        Some(gone),
        (deferral, day("2026-10-05")),
        &policy(),
    )
}

/// The window is a tenth of the interval to either side: 180 to 220 of 200 days.
#[test]
fn what_comes_first_brings_the_task() {
    let none = Gone::default();
    for (gone, state, by) in [
        (Gone { days: 179, ..none }, DueState::NotYet, DueBy::Days),
        (Gone { days: 180, ..none }, DueState::InWindow, DueBy::Days),
        (Gone { days: 220, ..none }, DueState::InWindow, DueBy::Days),
        (Gone { days: 221, ..none }, DueState::Overdue, DueBy::Days),
        (
            Gone {
                days: 10,
                distance: km(9_000),
                ..none
            },
            DueState::InWindow,
            DueBy::Distance,
        ),
        (
            Gone {
                days: 10,
                distance: km(9_000),
                hours: hours(300),
                ..none
            },
            DueState::Overdue,
            DueBy::Hours,
        ),
        (
            Gone {
                days: 10,
                added: Volume::from_ml(4_000).ok(),
                ..none
            },
            DueState::InWindow,
            DueBy::Added,
        ),
    ] {
        let found = after(gone, None);
        assert_eq!((found.state, found.by), (state, Some(by)), "{gone:?}");
    }
    // 150 of 200 days: 50 are left; 221: it was due 21 days ago.
    let left = |days| after(Gone { days, ..none }, None).days_left;
    assert_eq!((left(150), left(221), left(0)), (Some(50), Some(-21), None));
    let never = judge(
        Interval::default(),
        None,
        (None, day("2026-10-05")),
        &policy(),
    );
    assert_eq!((never.state, never.used), (DueState::NeverDone, None));
}

#[test]
fn what_was_put_off_waits_until_its_new_date_and_no_longer() {
    let late = Gone {
        days: 230,
        ..Gone::default()
    };
    for (until, state) in [
        ("2026-10-04", DueState::Overdue),
        ("2026-10-05", DueState::Deferred),
        ("2026-12-01", DueState::Deferred),
    ] {
        assert_eq!(after(late, Some(until)).state, state, "{until}");
    }
    // What is not due yet is not put off.
    let early = Gone {
        days: 10,
        ..Gone::default()
    };
    assert_eq!(after(early, Some("2026-10-04")).state, DueState::NotYet);
}

/// 60 days before 15 November are 16 September.
#[test]
fn the_check_before_winter_opens_sixty_days_before_the_first_frost() {
    let frost = day("2026-11-15");
    let check =
        |today, done: Option<&str>| winter_check(frost, done.map(day), day(today), &policy());
    assert_eq!(
        check("2026-09-15", None),
        WinterCheck::Opens(day("2026-09-16"))
    );
    assert_eq!(check("2026-09-16", None), WinterCheck::Open(60));
    assert_eq!(check("2026-11-15", None), WinterCheck::Open(0));
    assert_eq!(check("2026-11-16", None), WinterCheck::Overdue(1));
    assert_eq!(check("2026-10-05", Some("2026-09-20")), WinterCheck::Done);
    // Last year's does not count, nor one from before it opened.
    let before = check("2026-10-05", Some("2026-09-15"));
    assert_eq!(before, WinterCheck::Open(41));
}

#[test]
fn the_riskiest_comes_first_and_what_does_not_wait_is_left_out() {
    let none = Gone::default();
    let task = |number, days, weight| Waiting {
        place: PlaceId(uuid::Uuid::from_u128(number)),
        due: after(Gone { days, ..none }, None),
        weight,
        minutes: 10,
    };
    let all = [
        task(1, 200, 1.0),
        task(2, 300, 1.0),
        task(3, 100, 9.0),
        task(4, 200, 3.0),
    ];
    let waiting = backlog(&all);
    let order: Vec<u128> = waiting.iter().map(|each| each.place.0.as_u128()).collect();
    assert_eq!(order, [4, 2, 1]);
    assert_eq!(minutes(&waiting), 30);
}
