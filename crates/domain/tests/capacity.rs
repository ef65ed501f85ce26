//! Capacities and residuals against least squares, and fills against what they should take.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::condition::balance::FillBalance;
use domain::condition::capacity::{
    CapacityPolicy, DrainMethod, Estimate, Evidence, Learned, RestsOn, fill,
};
use domain::condition::policy::Policies;
use domain::quantity::Volume;

fn policy() -> CapacityPolicy {
    let day = "2026-10-05".parse().unwrap();
    let policies = Policies::built_in().unwrap();
    policies.in_force(day).unwrap().capacity.clone()
}

fn ml(ml: i64) -> Volume {
    Volume::from_ml(ml).unwrap()
}

fn drained(method: DrainMethod, recovered: i64, missing: i64) -> Evidence {
    Evidence::Drained {
        method,
        recovered: ml(recovered),
        missing: ml(missing),
    }
}

fn is(found: Estimate, litres: f64, sigma_l: f64) {
    assert!((found.litres - litres).abs() < 1e-6, "{found:?}");
    assert!((found.sigma_l - sigma_l).abs() < 1e-6, "{found:?}");
}

/// Against numpy 2.4.6, `numpy.linalg.lstsq` on the same jobs with what was likely before as rows:
///
/// ```python
/// n = 45.0; sC, sR, s, g = .045*n, .04*n, .035*n, .4*2**.5
/// rows = [([1,0,0,0],n,sC), ([0,1,0,0],.2*n,sR), ([0,0,1,0],.1*n,sR), ([0,0,0,1],.1*n,sR)]
/// for m, y in [(1,37.4),(1,36.1),(2,41.3),(1,38.2),(3,42.0),(2,40.2)]:
///     h = [1,0,0,0]; h[m] = -1; rows.append((h, y, s))
/// rows.append(([1,0,0,0], 46.8, g))
/// A = np.array([np.array(h,float)/w for h,y,w in rows]); b = np.array([y/w for h,y,w in rows])
/// x, *_ = np.linalg.lstsq(A, b, rcond=None); P = np.linalg.inv(A.T @ A)
/// h = np.array([1,0,-1,0.]); h@x-1.5, (h@P@h+s*s)**.5
/// ```
#[test]
fn what_is_learned_is_least_squares_in_any_order() {
    use DrainMethod::{Coupling, Gravity, Vacuum};
    let mut jobs = [
        drained(Gravity, 37_400, 0),
        drained(Gravity, 35_100, 1_000),
        drained(Vacuum, 41_300, 0),
        drained(Gravity, 38_200, 0),
        drained(Coupling, 40_000, 2_000),
        drained(Vacuum, 40_200, 0),
        Evidence::FilledDry(ml(46_800)),
    ];
    for _ in 0..jobs.len() {
        jobs.rotate_left(1);
        let start = Learned::nominal(ml(45_000), &policy());
        let learned = jobs.iter().fold(start, |known, job| known.with(*job));
        is(learned.capacity(), 46.556_602_774, 0.499_204_459);
        is(learned.residual(Gravity), 9.257_542_459, 0.903_839_373);
        is(learned.residual(Vacuum), 5.444_887_882, 1.013_545_721);
        is(learned.residual(Coupling), 4.532_058_208, 1.218_562_672);
        is(
            learned.predict(Vacuum, ml(1_500)),
            39.611_714_892,
            1.843_006_456,
        );
        assert_eq!(learned.jobs(), 7);
    }
}

/// Four drains of a loop of 45 L by gravity. Against the normal equations of the same rows, solved beside the
/// project: capacity 45.592 L and residual 8.532 L with their common covariance, and the spread of their
/// quotient by its first derivatives.
#[test]
fn the_part_that_stays_in_is_learned_with_its_spread() {
    let mut learned = Learned::nominal(ml(45_000), &policy());
    let before = learned.residual_share(DrainMethod::Gravity).unwrap();
    assert!((before.part - 0.2).abs() < 1e-9, "{before:?}");
    for recovered in [37_400, 36_100, 38_200, 36_900] {
        learned = learned.with(drained(DrainMethod::Gravity, recovered, 0));
    }
    let found = learned.residual_share(DrainMethod::Gravity).unwrap();
    assert!((found.part - 0.187_135_604).abs() < 1e-6, "{found:?}");
    assert!((found.sigma - 0.025_638_124).abs() < 1e-6, "{found:?}");
    assert!(found.sigma < before.sigma, "{before:?}");
}

/// "6.9 % for an unknown unit, 4.6 % after one recorded job, 4.2 % after two", of the capacity.
#[test]
fn a_prediction_narrows_as_the_trade_worked_out() {
    let mut learned = Learned::nominal(ml(100_000), &policy());
    for percent in [6.9, 4.6, 4.2] {
        let found = learned.predict(DrainMethod::Gravity, ml(0));
        assert!((found.sigma_l - percent).abs() < 0.1, "{found:?}");
        learned = learned.with(drained(DrainMethod::Gravity, 80_000, 0));
    }
}

/// "From nominal capacity (3 %) and residual (4 %) on 45 L: flag only above 3.8 L", and above 1.3 L
/// where what came out was measured. 3.4 L short is seen by the second alone.
#[test]
fn a_fill_that_is_short_is_flagged() {
    let policy = CapacityPolicy {
        capacity_spread: 0.03,
        ..policy()
    };
    let learned = Learned::nominal(ml(45_000), &policy);
    let by = (&learned, DrainMethod::Gravity);
    let unmeasured = fill(None, ml(36_000 - 3_400), by);
    assert_eq!(unmeasured.rests_on, RestsOn::Capacity);
    assert!((unmeasured.limit_ml - 3_800).abs() < 50, "{unmeasured:?}");
    assert_eq!(unmeasured.balance, FillBalance::Even);
    let short = fill(None, ml(32_000), by).balance;
    assert_eq!(short, FillBalance::Missing(4_000));
    let much = fill(None, ml(40_000), by).balance;
    assert_eq!(much, FillBalance::TooMuch(4_000));
    let measured = fill(Some(ml(36_000)), ml(36_000 - 3_400), by);
    assert_eq!(measured.balance, FillBalance::Missing(3_400));
    assert_eq!(measured.limit_ml, 1_300);
}
