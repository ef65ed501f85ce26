//! How late the weeping pump of 2114 (story 2) is found when top-ups go unrecorded.

use domain::book::outcome::TopUpClass;
use domain::condition::leak::exposure::{MeterLine, Per};
use domain::condition::leak::{Rule, TopUp, Tripped, Watched, judge};
use domain::condition::policy::Policies;
use domain::job::{JobKind, Meter};
use domain::moment::{DAY_MS, Moment};
use domain::quantity::Volume;
use domain::quantity::rounding::float;

use super::super::calendar::{At, DAY_0, FIRST_DAY, day};
use super::super::dice::Dice;
use super::replayed::Replayed;

/// Four weeks before the first top-up it asked for.
const WEEPS_SINCE: &str = "2026-01-23";
/// Which one of each five goes unrecorded is thrown anew for each.
const SEEDS: u64 = 41;
const DAYS_A_MONTH: f64 = 30.44;

/// What is on record of its consumption, with each reading of its odometer in km.
struct Course {
    top_ups: Vec<TopUp>,
    km: Vec<(Moment, f64)>,
}

fn recorded() -> Course {
    let demo = Replayed::shipped();
    let unit = demo.unit("2114").id;
    let mut km = Vec::new();
    for done in demo.jobs().filter(|done| done.job.unit == Some(unit)) {
        for read in &done.job.meters {
            if let Meter::Distance(shown) = &read.meter {
                let at = done.recorded.fact.when.happened();
                km.push((at, float(shown.value.m()) / 1e3));
            }
        }
    }
    let top_ups = demo.on_unit("2114", JobKind::TopUp).into_iter();
    let top_ups = top_ups.filter(|done| done.outcome.top_up == Some(TopUpClass::Consumption));
    let top_ups = top_ups.map(|done| TopUp {
        at: done.recorded.fact.when.happened(),
        volume: Volume::from_ml(done.outcome.flows[0].shown_ml).unwrap(),
        class: TopUpClass::Consumption,
    });
    Course {
        top_ups: top_ups.collect(),
        km,
    }
}

/// One of each five in a row taken out, with what was read of the odometer at it.
fn with_every_fifth_unrecorded(course: &Course, seed: u64) -> Course {
    let mut dice = Dice::named(seed, "every fifth top-up of 2114");
    let mut kept = Vec::new();
    let mut gone = Vec::new();
    for five in course.top_ups.chunks(5) {
        let out = usize::try_from(dice.below(5)).unwrap();
        for (place, top_up) in five.iter().enumerate() {
            let list = if place == out { &mut gone } else { &mut kept };
            list.push(*top_up);
        }
    }
    let is_kept = |at: &Moment| gone.iter().all(|top_up: &TopUp| top_up.at != *at);
    let km = course.km.iter().filter(|(at, _)| is_kept(at));
    Course {
        km: km.copied().collect(),
        top_ups: kept,
    }
}

fn found(course: &Course) -> Option<Tripped> {
    let policy = Policies::on(day(DAY_0).unwrap()).unwrap().leak;
    let meter = MeterLine::new(
        Per::Distance,
        course.km.clone(),
        policy.distance.usual_per_day,
    );
    let watched = Watched {
        since: At::local(FIRST_DAY, "07:00").unwrap().moment,
        now: At::local(DAY_0, "07:00").unwrap().moment,
        top_ups: &course.top_ups,
    };
    judge(watched, &meter, &policy).tripped
}

/// Months from the first weeping to the day the sum spoke; none where it never did.
fn months(course: &Course) -> Option<f64> {
    let tripped = found(course)?;
    assert_eq!(tripped.rule, Rule::Sum, "three in 30 days there never are");
    let since = At::local(WEEPS_SINCE, "08:25").unwrap().moment;
    Some(float(tripped.at.ms_since(since)) / float(DAY_MS) / DAYS_A_MONTH)
}

/// The trade's table says about 5 months, and about 6.5 with 80 % recorded. Its unit is topped up every four
/// weeks, so a delay moves by whole four weeks: the rule as shipped says 4.6 months, and with every fifth
/// top-up unrecorded 5.5 in the middle, 6.0 on average and 7.4 at the worst. It never misses the leak.
#[test]
fn the_weeping_pump_is_found_weeks_later_when_every_fifth_top_up_is_unrecorded() {
    let course = recorded();
    let whole = months(&course).unwrap();
    let mut fewer: Vec<f64> = (0..SEEDS)
        .map(|seed| months(&with_every_fifth_unrecorded(&course, seed)).unwrap())
        .collect();
    fewer.sort_by(f64::total_cmp);
    let middle = fewer[fewer.len() / 2];
    let average = fewer.iter().sum::<f64>() / float(i64::try_from(fewer.len()).unwrap());
    let told = format!(
        "found after {whole:.1} months with all top-ups recorded; with every fifth unrecorded after {middle:.1} \
         (median of {SEEDS}), {average:.1} on average: {fewer:.1?}"
    );
    assert!((4.5..=5.5).contains(&whole), "{told}");
    assert!((5.2..=6.5).contains(&middle), "{told}");
    assert!((5.8..=6.5).contains(&average), "{told}");
    assert!(
        fewer.iter().all(|late| (whole..8.0).contains(late)),
        "{told}"
    );
}
