//! What a loop's work comes to: drains that teach, fills that were short, and what came back.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a table of a test holds only values that are in range"
)]

use chrono::NaiveDate;
use domain::book::outcome::TopUpClass;
use domain::condition::balance::FillBalance;
use domain::condition::capacity::{DrainMethod, Evidence, RestsOn};
use domain::condition::comeback::{How, comebacks};
use domain::condition::policy::Policies;
use domain::condition::work::{Card, Known, LoopWork};
use domain::ids::FactKey;
use domain::job::JobKind;
use domain::moment::{DAY_MS, Moment};
use uuid::Uuid;

fn first_day() -> NaiveDate {
    "2026-03-01".parse().unwrap()
}

/// A job on a day, at a loop of 40 L: what came out and what went in, mL, and what it held before.
fn work(kind: JobKind, day: u32, (out_ml, put_in_ml, held_before_ml): (i64, i64, i64)) -> LoopWork {
    LoopWork {
        at: Moment(i64::from(day) * DAY_MS),
        day: first_day() + chrono::Days::new(u64::from(day)),
        key: FactKey(Uuid::from_u128(u128::from(day) + 1)),
        kind,
        out_ml,
        put_in_ml,
        held_before_ml,
        under_vacuum: false,
        to_the_mark: false,
        top_up: (kind == JobKind::TopUp).then_some(TopUpClass::Consumption),
        follows: None,
        leak_seen: false,
    }
}

fn known(work: &[LoopWork]) -> Known {
    let policies = Policies::built_in().unwrap();
    let policy = policies.in_force("2026-10-05".parse().unwrap()).unwrap();
    let card = Card {
        capacity_ml: Some(40_000),
        coupling_fitted: None,
    };
    Known::of(work, card, &policy.capacity)
}

fn drains(known: &Known) -> Vec<(DrainMethod, i64, i64)> {
    let each = known.lessons.iter().map(|lesson| match lesson.evidence {
        Evidence::Drained {
            method,
            recovered,
            missing,
        } => (method, recovered.ml(), missing.ml()),
        Evidence::FilledDry(filled) => panic!("{filled} filled dry"),
    });
    each.collect()
}

#[test]
fn whole_drains_teach_by_the_way_they_were_done_and_parts_teach_nothing() {
    let fitted = work(JobKind::FitCoupling, 20, (0, 0, 40_000));
    let planned = LoopWork {
        under_vacuum: true,
        ..work(JobKind::Recover, 10, (35_000, 0, 39_000))
    };
    let jobs = [
        work(JobKind::Exchange, 1, (31_000, 31_000, 40_000)),
        // 24 L are three fifths, a litre less is a part.
        work(JobKind::Exchange, 5, (23_900, 23_900, 40_000)),
        // What a flush takes out is not what the loop gave.
        planned,
        work(JobKind::Flush, 11, (40_000, 40_000, 4_000)),
        work(JobKind::Fill, 12, (0, 35_000, 4_000)),
        fitted,
        // Into two vessels, by two jobs.
        work(JobKind::Recover, 30, (20_000, 0, 38_500)),
        work(JobKind::Recover, 31, (16_000, 0, 18_500)),
    ];
    let found = known(&jobs);
    assert_eq!(
        drains(&found),
        [
            (DrainMethod::Gravity, 31_000, 0),
            (DrainMethod::Vacuum, 35_000, 1_000),
            (DrainMethod::Coupling, 36_000, 1_500),
        ]
    );
    assert!(found.has_coupling);
    assert_eq!(found.method(DrainMethod::Gravity), DrainMethod::Coupling);
    assert_eq!(found.drains_by(DrainMethod::Vacuum), 1);
    // Before the first job 80 % of 40 L were likely.
    let likely = found.lessons[0].likely.unwrap();
    assert!((likely.litres - 32.0).abs() < 1e-9, "{likely:?}");
}

#[test]
fn a_loop_without_a_capacity_learns_nothing_and_its_fills_are_judged_all_the_same() {
    let jobs = [work(JobKind::Exchange, 1, (31_000, 29_000, 40_000))];
    let policies = Policies::built_in().unwrap();
    let policy = policies.in_force("2026-10-05".parse().unwrap()).unwrap();
    let found = Known::of(&jobs, Card::default(), &policy.capacity);
    assert!(found.learned.is_none() && found.lessons.is_empty());
    assert_eq!(found.fills[0].flag.balance, FillBalance::Missing(2_000));
}

#[test]
fn what_a_fill_left_missing_is_still_missing_at_the_next() {
    let short = [
        work(JobKind::Recover, 1, (35_000, 0, 40_000)),
        work(JobKind::Fill, 1, (0, 31_600, 5_000)),
    ];
    let found = known(&short);
    assert_eq!(found.fills[0].flag.balance, FillBalance::Missing(3_400));
    assert_eq!(found.short.unwrap().missing_ml, 3_400);
    let and = |more: LoopWork| known(&[short[0].clone(), short[1].clone(), more]);
    let completed = |ml| LoopWork {
        top_up: Some(TopUpClass::Completion),
        ..work(JobKind::TopUp, 2, (0, ml, 36_600))
    };
    // 1.3 L is told by no gauge.
    assert_eq!(and(completed(2_000)).short.unwrap().missing_ml, 1_400);
    assert!(and(completed(2_100)).short.is_none());
    let to_the_mark = LoopWork {
        to_the_mark: true,
        ..work(JobKind::TopUp, 9, (0, 500, 36_600))
    };
    assert!(and(to_the_mark).short.is_none());
    // What was used up meanwhile makes nothing good.
    let by_feel = work(JobKind::TopUp, 9, (0, 3_400, 36_600));
    assert!(and(by_feel).short.is_some());
    let again = and(work(JobKind::Fill, 3, (0, 3_300, 36_600)));
    assert_eq!(again.fills[1].taken_out_ml, 3_400);
    assert_eq!(again.fills[1].flag.balance, FillBalance::Even);
    assert!(again.short.is_none());
}

#[test]
fn what_was_missing_before_a_drain_may_go_in_as_well() {
    let at = |held| known(&[work(JobKind::Exchange, 1, (33_000, 35_000, held))]);
    assert_eq!(at(38_000).fills[0].flag.balance, FillBalance::Even);
    let full = at(40_000).fills[0].flag.balance;
    assert_eq!(full, FillBalance::TooMuch(2_000));
}

/// Nothing was logged as taken out. 40 L less 20 % are 32 L; the limit is 1.645 √((4.5² + 4²) % of 40 L and
/// twice the gauge's 0.4 L squared) = 4.07 L. Too little for a whole fill tells nothing.
#[test]
fn a_fill_with_nothing_logged_before_it_is_held_against_the_capacity() {
    let filled = |ml| known(&[work(JobKind::Fill, 1, (0, ml, 40_000))]).fills;
    let flag = filled(27_800)[0].flag;
    assert_eq!(flag.rests_on, RestsOn::Capacity);
    assert_eq!(flag.limit_ml, 4_070);
    assert_eq!(flag.balance, FillBalance::Missing(4_200));
    assert_eq!(filled(28_000)[0].flag.balance, FillBalance::Even);
    assert!(filled(23_900).is_empty());
}

#[test]
fn a_fill_of_an_empty_loop_is_its_capacity() {
    let found = known(&[work(JobKind::Fill, 1, (0, 41_000, 0))]);
    let told = &found.lessons[0].evidence;
    assert!(matches!(told, Evidence::FilledDry(volume) if volume.ml() == 41_000));
    // The gauge is far surer than the card: 1.8 L against 0.57 L.
    let capacity = found.learned.unwrap().capacity().litres;
    assert!((capacity - 40.91).abs() < 0.01, "{capacity}");
    assert!(found.fills.is_empty());
}

fn back(jobs: &[LoopWork]) -> Vec<(u128, u128, How)> {
    comebacks(jobs)
        .into_iter()
        .map(|it| (it.first.0.as_u128() - 1, it.back.0.as_u128() - 1, it.how))
        .collect()
}

#[test]
fn what_is_low_again_filled_again_or_leaks_within_30_days_came_back() {
    let filled = || work(JobKind::Exchange, 1, (33_000, 33_000, 40_000));
    let low = |day, ml| work(JobKind::TopUp, day, (0, ml, 39_000));
    assert_eq!(
        back(&[filled(), low(31, 1_601)]),
        [(1, 31, How::Low(1_601))]
    );
    assert!(back(&[filled(), low(31, 1_600)]).is_empty());
    assert!(back(&[filled(), low(32, 2_500)]).is_empty());
    // What completes the fill is judged by a litre.
    let completed = |ml| LoopWork {
        top_up: Some(TopUpClass::Completion),
        ..low(2, ml)
    };
    assert_eq!(
        back(&[filled(), completed(1_001)]),
        [(1, 2, How::Low(1_001))]
    );
    assert!(back(&[filled(), completed(1_000)]).is_empty());
    // Drained for another reason and filled again: nothing came back. 1.2 L more than was drawn did.
    let drained = work(JobKind::Recover, 9, (30_000, 0, 40_000));
    let refill = |ml| work(JobKind::Fill, 10, (0, ml, 10_000));
    assert!(back(&[filled(), drained.clone(), refill(30_900)]).is_empty());
    assert_eq!(
        back(&[filled(), drained, refill(31_200)]),
        [(1, 10, How::Refilled(1_200))]
    );
    let seen = LoopWork {
        leak_seen: true,
        ..work(JobKind::PressureTest, 4, (0, 0, 40_000))
    };
    let tight = work(JobKind::PressureTest, 3, (0, 0, 40_000));
    let mended = work(JobKind::LeakRepair, 6, (0, 0, 40_000));
    // The first that showed it; and the repair itself held.
    assert_eq!(
        back(&[filled(), tight, seen, mended]),
        [(1, 4, How::LeakSeen)]
    );
}

#[test]
fn the_same_visit_is_no_coming_back_unless_somebody_says_so() {
    let filled = work(JobKind::Fill, 1, (0, 33_000, 7_000));
    let same_day = |kind, put_in| LoopWork {
        at: Moment(DAY_MS + 1_000),
        key: FactKey(Uuid::from_u128(100)),
        ..work(kind, 1, (0, put_in, 30_000))
    };
    let mended = same_day(JobKind::LeakRepair, 0);
    assert!(back(&[filled.clone(), mended]).is_empty());
    let second_half = same_day(JobKind::Fill, 5_000);
    assert!(back(&[filled.clone(), second_half.clone()]).is_empty());
    let follows = LoopWork {
        follows: Some(filled.key),
        ..second_half
    };
    assert_eq!(back(&[filled, follows]), [(1, 99, How::Refilled(5_000))]);
}
