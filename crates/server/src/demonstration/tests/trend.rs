//! Story 16: it gets better.

use domain::book::outcome::Measure;
use domain::fleet::Holds;
use domain::job::{Account, JobKind, Line};

use super::super::calendar::month_of_record;
use super::super::rhythm::OVERDUE;
use super::replayed::Replayed;

/// mL under a measure in each half-year.
fn half_years(demo: &Replayed, measure: Measure) -> [i64; 3] {
    let mut sums = [0; 3];
    for done in demo.jobs() {
        let half = (month_of_record(done.date) - 1) / 6;
        let Some(sum) = usize::try_from(half)
            .ok()
            .and_then(|half| sums.get_mut(half))
        else {
            continue;
        };
        *sum += done
            .outcome
            .flows
            .iter()
            .filter(|flow| flow.measure == measure)
            .map(|flow| flow.shown_ml)
            .sum::<i64>();
    }
    sums
}

#[test]
fn purchases_fall() {
    let demo = Replayed::shipped();
    let bought = half_years(demo, Measure::Bought);
    assert!(
        bought.is_sorted_by(|earlier, later| earlier > later),
        "{bought:?}"
    );
    // Bought in a year ÷ what the fleet holds, in hundredths.
    let rate = bought.map(|ml| ml * 2 * 100 / 4_373_000);
    assert!((42..=54).contains(&rate[0]), "{rate:?}");
    assert!((25..=38).contains(&rate[2]), "{rate:?}");
}

#[test]
fn more_of_what_is_recovered_goes_back() {
    let demo = Replayed::shipped();
    let recovered = half_years(demo, Measure::Recovered);
    let mut back = [0; 3];
    for done in demo.jobs_of(JobKind::Exchange) {
        let half = usize::try_from((month_of_record(done.date) - 1) / 6).unwrap();
        for line in &done.job.lines {
            if let Line::Movement(movement) = line
                && let Account::Vessel(vessel) = movement.from
                && ["Cart A", "Cart B", "T-1"].iter().any(|name| {
                    let card = demo.vessel(name);
                    card.id == vessel && card.holds == Holds::Recovered
                })
            {
                back[half] += movement.volume.value.ml();
            }
        }
    }
    let share: Vec<i64> = back
        .iter()
        .zip(recovered)
        .map(|(back, recovered)| back * 100 / recovered)
        .collect();
    assert!((33..=46).contains(&share[0]), "{share:?}");
    assert!((58..=72).contains(&share[2]), "{share:?}");
    assert!(share.is_sorted(), "{share:?}");
}

#[test]
fn more_fills_are_right_the_first_time() {
    let demo = Replayed::shipped();
    let (mut fills, mut completed) = ([0; 3], [0; 3]);
    for done in demo.jobs() {
        let half = usize::try_from((month_of_record(done.date) - 1) / 6).unwrap();
        if half > 2 {
            continue;
        }
        match done.job.kind {
            JobKind::Exchange => fills[half] += 1,
            JobKind::TopUp if done.job.after_heat_cycle => completed[half] += 1,
            _ => {}
        }
    }
    let right: Vec<i64> = fills
        .iter()
        .zip(completed)
        .map(|(fills, completed)| 100 - completed * 100 / fills)
        .collect();
    assert!((67..=78).contains(&right[0]), "{right:?}");
    assert!((88..=98).contains(&right[2]), "{right:?}");
    assert!(right.is_sorted(), "{right:?}");
}

#[test]
fn eleven_units_are_overdue_for_a_test() {
    let demo = Replayed::shipped();
    let since = super::super::calendar::day("2026-06-20").unwrap();
    let tested: std::collections::BTreeSet<_> = demo
        .jobs_of(JobKind::ConditionTest)
        .filter(|done| done.date >= since)
        .filter_map(|done| done.job.unit)
        .collect();
    let mut overdue: Vec<u32> = demo
        .units()
        .filter(|unit| !tested.contains(&unit.id))
        .map(|unit| unit.number.parse().unwrap())
        .collect();
    overdue.sort_unstable();
    overdue.dedup();
    assert_eq!(overdue, OVERDUE);
}
