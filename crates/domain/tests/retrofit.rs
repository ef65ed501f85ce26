//! The programme of fitted drains: its payback, its pace and the day it ends.
#![expect(clippy::unwrap_used, reason = "a test's own days are days")]

use chrono::NaiveDate;
use domain::condition::policy::Policies;
use domain::condition::retrofit::{Finish, Progress, RetrofitPolicy, next_visit};

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn policy() -> RetrofitPolicy {
    Policies::on(day("2026-10-05")).unwrap().retrofit
}

/// Worked by hand in the trade's reference, with its invented inputs: 55 and 36 min at 95 an hour, saving
/// 27 min and 2.5 L at 4.20 each time, 1.4 times a year: 18 months.
#[test]
fn a_fitting_pays_back_as_in_the_worked_example() {
    let months = policy().payback_months(1.4).unwrap();
    assert!((months - 18.0).abs() < 0.1, "{months}");
    // Twice as often drained, half as long.
    let twice = policy().payback_months(2.8).unwrap();
    assert!((months / twice - 2.0).abs() < 1e-9);
    assert_eq!(policy().payback_months(0.0), None);
}

/// 4 done in the 40 days since the first, 2 of 6 left: 20 days more.
#[test]
fn the_end_is_read_off_the_pace() {
    let done = ["2026-08-26", "2026-09-05", "2026-09-15", "2026-10-05"].map(|it| Some(day(it)));
    let fitted: Vec<_> = done.into_iter().chain([None, None]).collect();
    let today = day("2026-10-05");
    let progress = Progress::of(&fitted, today, None, &policy());
    assert_eq!((progress.scope, progress.lately), (6, 4));
    assert_eq!(progress.finish, Finish::On(day("2026-10-25")));
    assert_eq!(progress.wanted_by, Some(day("2028-08-25")));
    assert!(!progress.misses());
    let sooner = Progress::of(&fitted, today, Some(day("2026-10-24")), &policy());
    assert!(sooner.misses());
    assert_eq!(sooner.done_by(day("2026-09-14")), 2);
    // 19 of 59 days are gone: 6 × 19 ÷ 59 = 1.9.
    assert_eq!(sooner.planned_by(day("2026-09-14")), Some(2));
    assert_eq!(sooner.planned_by(day("2027-01-01")), Some(6));
}

#[test]
fn without_a_pace_there_is_no_end_and_without_units_left_it_is_done() {
    let long_ago = [Some(day("2024-01-01")), None];
    let today = day("2026-10-05");
    let stalled = Progress::of(&long_ago, today, None, &policy());
    assert_eq!(stalled.finish, Finish::NoPace);
    assert!(stalled.misses());
    assert_eq!(
        Progress::of(&long_ago[..1], today, None, &policy()).finish,
        Finish::Done
    );
    let none = Progress::of(&[None], today, None, &policy());
    assert_eq!(
        (none.finish, none.wanted_by, none.misses()),
        (Finish::NoPace, None, false)
    );
}

#[test]
fn the_next_visit_is_as_far_off_as_visits_lay_apart() {
    let today = day("2026-10-05");
    let next = |last: &str, visits| next_visit(Some(day(last)), (visits, 365), today);
    assert_eq!(next("2026-10-01", 5), Some(day("2026-12-13")));
    assert_eq!(next("2026-01-01", 5), Some(today));
    assert_eq!(next_visit(None, (0, 365), today), None);
}
