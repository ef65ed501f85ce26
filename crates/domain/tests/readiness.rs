//! Readiness for the winter against the worked example of the trade and against every set there is.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::book::outcome::{Figures, Knowledge};
use domain::condition::Chemistry;
use domain::condition::policy::{Policies, Policy};
use domain::condition::probability::{normal, probability_between, strengths_at_or_below};
use domain::condition::readiness::{
    Action, Coverage, NoPlan, WinterLoop, WinterState, WinterUnit, coverage_by_shop, plan,
    readiness, step, unit_state,
};
use domain::fluid::Glycol;
use domain::ids::{PlaceId, ShopId, UnitId};
use domain::quantity::{Temperature, rounding::float};
use uuid::Uuid;

fn policy() -> &'static Policy {
    let day = "2026-10-05".parse().unwrap();
    Policies::built_in().unwrap().in_force(day).unwrap()
}

fn a_loop(percent: f64, sigma_points: f64, low_c: i32) -> WinterLoop {
    let millionths = |points: f64| domain::quantity::rounding::nearest(points * 1e4).unwrap();
    WinterLoop {
        place: PlaceId(Uuid::from_u128(1)),
        figures: Figures {
            shown_ml: 40_000,
            fraction_millionths: millionths(percent),
            sigma_millionths: millionths(sigma_points),
            knowledge: Knowledge::Tested,
        },
        chemistry: Chemistry::One(Glycol::Eg),
        capacity_ml: Some(40_000),
        winter_low: Some(Temperature::from_millicelsius(low_c * 1_000).unwrap()),
        test_age_days: Some(10),
        in_question: false,
    }
}

fn unit(number: u128, loops: Vec<WinterLoop>) -> WinterUnit {
    WinterUnit {
        unit: UnitId(Uuid::from_u128(number)),
        shop: ShopId(Uuid::from_u128(number % 2)),
        loops,
    }
}

/// Φ at some points, from the printed table of the normal distribution (from memory).
#[test]
fn the_normal_distribution_is_that_of_the_table() {
    for (z, phi) in [
        (0.0, 0.5),
        (1.0, 0.841_345),
        (-1.0, 0.158_655),
        (1.645, 0.950_015),
        (1.96, 0.975_002),
        (-2.326, 0.010_009),
        (3.0, 0.998_650),
    ] {
        assert!((normal(z) - phi).abs() < 1e-6, "{z}");
    }
}

/// "46.3 ± 1.7 %: P(≤ −28) 0.97, P(≤ −31) 0.71, P(≤ −33) 0.38": worked out beside the project on
/// the curve of a reference library, which lies up to 0.5 °C from ours; 0.5 °C are 0.07 here.
#[test]
fn the_worked_example_of_three_unknown_top_ups() {
    for (low_c, sure) in [(-28, 0.97), (-31, 0.71), (-33, 0.38)] {
        let mut each = a_loop(46.3, 1.7, low_c);
        let mut bare = policy().clone();
        bare.winter.margin = domain::quantity::TemperatureDifference::from_millikelvin(0).unwrap();
        let found = readiness(&each, &bare);
        assert!(
            (found.probability.unwrap() - sure).abs() < 0.07,
            "{found:?}"
        );
        // The cheapest step is a test, not a drain, as long as the test has a chance.
        if low_c == -31 {
            let step = step(&each, &bare).unwrap();
            assert!(matches!(step.action, Action::TestFirst { chance, .. } if chance > 0.3));
        }
        each.figures.knowledge = Knowledge::Assumed;
        assert_eq!(readiness(&each, &bare).probability, None);
    }
}

/// A loop topped up with water all summer: a margin of 5 °C below −31 °C needs 49.3 %, and the dose
/// is that of the mixing rule 40 L × (c − 0.44) ÷ (0.95 − 0.44), solved by hand for 95 %.
#[test]
fn the_dose_is_that_of_the_mixing_rule() {
    let each = a_loop(44.0, 0.5, -31);
    assert!(readiness(&each, policy()).probability.unwrap() < 0.01);
    let step = step(&each, policy()).unwrap();
    let Action::Correct(dose) = step.action else {
        panic!("{step:?}")
    };
    let (least, _) = strengths_at_or_below(Glycol::Eg, -36.0).unwrap();
    assert!((least - 0.4925).abs() < 1e-3, "{least}");
    // (1 − x) (0.44 − 1.6449 × 0.005) + x (0.95 − 1.6449 × 0.005) = least
    let x = (least - 0.44 + 1.644_85 * 0.005) / 0.51;
    let litres = float(dose.concentrate.ml()) / 1e3;
    assert!((litres - 40.0 * x).abs() < 0.002, "{litres}");
    assert_eq!((dose.drain, dose.water.ml()), (dose.concentrate, 0));
    // Where there is room it is filled first, and nothing is drained as long as it lasts.
    let mut low = each;
    low.figures.shown_ml = 30_000;
    let Action::Correct(dose) = domain::condition::readiness::step(&low, policy())
        .unwrap()
        .action
    else {
        panic!("a loop that holds too little is filled, not tested")
    };
    assert_eq!(dose.drain.ml(), 0);
    assert_eq!(dose.concentrate.ml() + dose.water.ml(), 10_000);
    let after = (0.44 * 30.0 + 0.95 * float(dose.concentrate.ml()) / 1e3) / 40.0;
    let sigma = (0.005 * 30.0 + 0.005 * float(dose.concentrate.ml()) / 1e3) / 40.0;
    let sure = probability_between(after, sigma, (least, None));
    assert!((sure - 0.95).abs() < 1e-3, "{sure}");
}

#[test]
fn a_loop_is_not_ready_that_holds_too_little_and_none_is_planned_that_cannot_be() {
    let strong = a_loop(55.0, 0.5, -31);
    assert!(readiness(&strong, policy()).is_ready());
    let mut third = strong;
    third.figures.shown_ml = 13_000;
    assert!(!readiness(&third, policy()).is_ready());
    for (name, change, problem) in [
        (
            "low",
            (None, Chemistry::One(Glycol::Eg), Some(40_000)),
            NoPlan::NoWinterLow,
        ),
        (
            "curve",
            (strong.winter_low, Chemistry::NoCurve, Some(40_000)),
            NoPlan::NoCurve,
        ),
        (
            "capacity",
            (strong.winter_low, strong.chemistry, None),
            NoPlan::NoCapacity,
        ),
        (
            "cold",
            (
                Some(Temperature::from_millicelsius(-45_000).unwrap()),
                strong.chemistry,
                Some(40_000),
            ),
            NoPlan::BeyondTheCurve,
        ),
    ] {
        let each = WinterLoop {
            winter_low: change.0,
            chemistry: change.1,
            capacity_ml: change.2,
            ..a_loop(40.0, 0.5, -31)
        };
        assert_eq!(step(&each, policy()), Err(problem), "{name}");
    }
}

/// Against every subset: no cheaper set of units reaches the coverage.
#[test]
fn no_set_of_corrections_is_cheaper() {
    let strengths = [30.0, 47.0, 55.0, 41.0, 49.5, 44.0, 38.0, 50.5, 48.0, 36.0];
    let units: Vec<WinterUnit> = (1..)
        .zip(strengths)
        .map(|(number, percent)| {
            let mut loops = vec![a_loop(percent, 1.2, -31)];
            if number % 3 == 0 {
                loops.push(a_loop(percent - 2.0, 0.8, -31));
            }
            unit(number, loops)
        })
        .collect();
    let costs: Vec<Option<i64>> = units
        .iter()
        .map(|unit| {
            let open = unit
                .loops
                .iter()
                .filter(|l| !readiness(l, policy()).is_ready());
            let costs: Vec<i64> = open
                .map(|l| step(l, policy()).unwrap().cost_hundredths)
                .collect();
            (!costs.is_empty()).then(|| costs.iter().sum())
        })
        .collect();
    let ready = costs.iter().filter(|cost| cost.is_none()).count();
    for wanted in [0.3, 0.5, 0.75, 1.0] {
        let found = plan(&units, wanted, policy());
        let mut cheapest = i64::MAX;
        for set in 0_u32..1 << units.len() {
            let chosen = (0..units.len()).filter(|at| set >> at & 1 == 1);
            let chosen: Vec<usize> = chosen.collect();
            let made = chosen.iter().filter(|at| costs[**at].is_some()).count();
            let cost: i64 = chosen.iter().filter_map(|at| costs[*at]).sum();
            let share = |count: usize| float(i64::try_from(count).unwrap());
            if share(ready + made) >= wanted * share(units.len()) - 1e-9 {
                cheapest = cheapest.min(cost);
            }
        }
        assert!(found.reached);
        assert_eq!(found.cost_hundredths, cheapest, "{wanted}");
        assert_eq!(found.before, Coverage { ready, units: 10 });
    }
    let by_shop = coverage_by_shop(&units, policy());
    assert_eq!(by_shop.values().map(|shop| shop.units).sum::<usize>(), 10);
    assert_eq!(
        by_shop.values().map(|shop| shop.ready).sum::<usize>(),
        ready
    );
}

#[test]
fn the_share_that_is_missing_is_counted_in_whole_units() {
    for (ready, units, wanted, missing) in [
        (25, 38, 0.95, 12),
        (19, 20, 0.95, 0),
        (18, 20, 0.95, 1),
        (0, 0, 0.95, 0),
        (3, 3, 1.0, 0),
    ] {
        assert_eq!(Coverage { ready, units }.missing_for(wanted), missing);
    }
}

/// The same strong loop, with one thing against it at a time: the gravest is said, and only what lacks
/// nothing is ready.
#[test]
fn each_thing_against_a_loop_has_its_state_and_only_a_recent_test_makes_it_ready() {
    use WinterState as State;
    let strong = a_loop(55.0, 0.5, -31);
    let with = |change: &dyn Fn(&mut WinterLoop)| {
        let mut each = strong;
        change(&mut each);
        readiness(&each, policy()).state
    };
    assert_eq!(with(&|_| ()), State::Ready);
    assert_eq!(with(&|each| each.test_age_days = Some(180)), State::Ready);
    assert_eq!(with(&|each| each.test_age_days = Some(181)), State::OldTest);
    assert_eq!(with(&|each| each.test_age_days = None), State::NoTest);
    assert_eq!(with(&|each| each.in_question = true), State::InQuestion);
    assert_eq!(
        with(&|each| each.figures.shown_ml = 33_000),
        State::LowLevel
    );
    assert_eq!(
        with(&|each| each.figures.sigma_millionths = 60_000),
        State::NotSure
    );
    assert_eq!(
        with(&|each| each.figures.fraction_millionths = 400_000),
        State::Freezes
    );
    assert_eq!(
        with(&|each| each.figures.knowledge = Knowledge::Assumed),
        State::NoTest
    );
    assert_eq!(
        with(&|each| each.chemistry = Chemistry::NoCurve),
        State::NoFreezePoint
    );
    assert_eq!(
        with(&|each| each.figures.shown_ml = 0),
        State::NoFreezePoint
    );
    assert_eq!(with(&|each| each.winter_low = None), State::NoWinterLow);
    // A unit stands as the gravest of its loops.
    let old = WinterLoop {
        test_age_days: Some(400),
        ..strong
    };
    assert_eq!(
        unit_state(&unit(1, vec![strong, old]), policy()),
        Some(State::OldTest)
    );
    assert_eq!(unit_state(&unit(1, Vec::new()), policy()), None);
    for state in State::ALL {
        assert_eq!(State::from_code(state.code()), Some(state));
    }
}

/// A correction proves nothing: what is strong by an old test is tested, and what is in question waits.
#[test]
fn an_old_test_is_renewed_and_a_question_comes_first() {
    let old = WinterLoop {
        test_age_days: Some(400),
        ..a_loop(55.0, 0.5, -31)
    };
    let found = step(&old, policy()).unwrap();
    assert!(
        matches!(found.action, Action::TestFirst { chance, .. } if chance > 0.95),
        "{found:?}"
    );
    assert!(found.concentrate_l < 0.01);
    let asked = WinterLoop {
        in_question: true,
        ..old
    };
    assert_eq!(step(&asked, policy()), Err(NoPlan::InQuestion));
}
