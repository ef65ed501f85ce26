//! The rule on single loops.

use domain::book::outcome::TopUpClass;
use domain::condition::leak::exposure::{MeterLine, Per};
use domain::condition::leak::{Consumption, LeakPolicy, Level, Rule, TopUp, Watched, judge};
use domain::condition::policy::Policies;
use domain::moment::{DAY_MS, Moment};
use domain::quantity::Volume;

pub(crate) fn policy() -> LeakPolicy {
    let day = "2026-10-05".parse().unwrap();
    Policies::built_in().unwrap().in_force(day).unwrap().leak
}

fn day(days: i64) -> Moment {
    Moment(days * DAY_MS)
}

fn top_up(days: i64, ml: i64, class: TopUpClass) -> TopUp {
    TopUp {
        at: day(days),
        volume: Volume::from_ml(ml).unwrap(),
        class,
    }
}

fn judged(top_ups: &[TopUp], meter: &MeterLine) -> Consumption {
    let watched = Watched {
        since: day(0),
        now: day(400),
        top_ups,
    };
    judge(watched, meter, &policy())
}

fn driven() -> MeterLine {
    let readings = (0..=40).map(|n: i32| (day(i64::from(n) * 10), f64::from(n) * 1_500.0));
    MeterLine::new(Per::Distance, readings.collect(), 150.0)
}

/// 2 L in 60 days at 150 km a day: the sum grows by 2 − 1.2 × 0.9 = 0.92 L each time.
#[test]
fn the_sum_is_litres_less_what_the_distance_allows() {
    let every_60: Vec<TopUp> = (1..=6)
        .map(|n| top_up(n * 60, 2_000, TopUpClass::Consumption))
        .collect();
    let found = judged(&every_60, &driven());
    assert!((found.sum_l - 6.0 * 0.92).abs() < 1e-9, "{found:?}");
    let tripped = found.tripped.unwrap();
    assert_eq!((tripped.rule, tripped.at), (Rule::Sum, day(180)));
    assert!((found.rate.unwrap() - 2.0).abs() < 1e-9);
    assert!((found.above_normal_l - (12.0 - 0.6 * 6.0)).abs() < 1e-9);
    // The rate of each is 2 ÷ 0.9 = 2.22 L/10,000 km: above 1.5 and below 3.
    assert_eq!(found.level, Level::Watch);
}

#[test]
fn what_completes_a_fill_is_kept_out_and_told() {
    let completions: Vec<TopUp> = (1..=9)
        .map(|n| top_up(n, 1_000, TopUpClass::Completion))
        .collect();
    let found = judged(&completions, &driven());
    assert_eq!((found.tripped, found.level), (None, Level::Normal));
    assert!((found.completion_l - 9.0).abs() < 1e-9 && found.litres.abs() < 1e-9);
}

#[test]
fn three_top_ups_in_thirty_days_are_suspicious_however_small() {
    let small = |days: [i64; 3]| days.map(|at| top_up(at, 100, TopUpClass::Consumption));
    let close = judged(&small([10, 25, 40]), &driven());
    assert_eq!(close.tripped.map(|it| it.rule), Some(Rule::Count));
    assert_eq!(judged(&small([10, 25, 41]), &driven()).tripped, None);
}

#[test]
fn a_missing_meter_is_worked_out_from_those_around_it() {
    // A reading in the middle left out, and the ends left out: still 150 km a day.
    let few = MeterLine::new(
        Per::Distance,
        vec![(day(300), 45_000.0), (day(20), 3_000.0)],
        99.0,
    );
    assert!((few.between(day(0), day(400)) - 6.0).abs() < 1e-9);
    // None at all: the usual.
    let none = MeterLine::new(Per::Hours, Vec::new(), 8.0);
    assert!((none.between(day(0), day(100)) - 8.0).abs() < 1e-9);
    // A meter that was replaced counts on from where the old one stood.
    let replaced = MeterLine::new(
        Per::Distance,
        vec![
            (day(0), 90_000.0),
            (day(100), 105_000.0),
            (day(110), 500.0),
            (day(200), 14_000.0),
        ],
        150.0,
    );
    assert_eq!(replaced.ran_backwards().len(), 1);
    assert!((replaced.between(day(0), day(200)) - 3.0).abs() < 1e-9);
    assert!(replaced.between(day(50), day(50)).abs() < 1e-12);
}

#[test]
fn by_hours_the_lines_are_those_of_hours() {
    let meter = MeterLine::new(Per::Hours, vec![(day(0), 0.0), (day(400), 4_000.0)], 8.0);
    // 1 L in 100 h each time: ten times the normal, 0.8 L above the reference.
    let often: Vec<TopUp> = (1..=4)
        .map(|n| top_up(n * 10, 1_000, TopUpClass::Consumption))
        .collect();
    let found = judged(&often, &meter);
    assert_eq!(found.per, Per::Hours);
    assert!((found.sum_l - 3.2).abs() < 1e-9);
    assert_eq!(found.level, Level::Act);
}
