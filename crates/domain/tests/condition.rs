//! The verdict on a freeze point, row by row.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::book::outcome::{Figures, Knowledge};
use domain::condition::policy::Policies;
use domain::condition::readiness::{WinterLoop, WinterState, readiness};
use domain::condition::{
    Chemistry, FreezeJudged, FreezePolicy, FreezeReason as Why, FreezeVerdict as Verdict, Known,
    Setting, judge, test_age_days,
};
use domain::fluid::Glycol;
use domain::ids::PlaceId;
use domain::moment::{DAY_MS, Moment};
use domain::quantity::{Temperature, TemperatureDifference};
use uuid::Uuid;

const EG: Chemistry = Chemistry::One(Glycol::Eg);
const PG: Chemistry = Chemistry::One(Glycol::Pg);

/// Half ethylene glycol, which freezes at −37.09 °C, ± 1.36 °C; tested 10 days ago.
const HALF: Known = Known {
    figures: Figures {
        shown_ml: 40_000,
        fraction_millionths: 500_000,
        sigma_millionths: 5_000,
        knowledge: Knowledge::Tested,
    },
    chemistry: EG,
    last_reading_at: Some(Moment(0)),
};

/// The lines that come with the program.
fn ours() -> FreezePolicy {
    let day = "2026-10-05".parse().unwrap();
    Policies::on(day).unwrap().freeze
}

fn celsius(millicelsius: i32) -> Temperature {
    Temperature::from_millicelsius(millicelsius).unwrap()
}

fn after(days: i64) -> Moment {
    Moment(days * DAY_MS)
}

fn judged(known: &Known, low: Option<i32>, days: i64) -> FreezeJudged {
    let setting = Setting {
        winter_low: low.map(celsius),
        ..Setting::default()
    };
    judge(known, setting, after(days), ours())
}

fn with(change: impl FnOnce(&mut Known)) -> Known {
    let mut known = HALF;
    change(&mut known);
    known
}

#[test]
#[expect(clippy::too_many_lines, reason = "one table, a verdict a row")]
fn each_verdict_has_its_reason() {
    let weak = with(|known| known.figures.fraction_millionths = 400_000);
    let entered = with(|known| {
        known.figures.knowledge = Knowledge::Entered;
        known.last_reading_at = None;
    });
    let entered_weak = Known {
        last_reading_at: None,
        ..weak
    };
    let assumed = with(|known| known.figures.knowledge = Knowledge::Assumed);
    let empty = with(|known| known.figures.shown_ml = 0);
    let mixed = with(|known| known.chemistry = Chemistry::NoCurve);
    let water = with(|known| {
        known.chemistry = Chemistry::Water;
        known.figures.fraction_millionths = 0;
        known.figures.sigma_millionths = 0;
    });
    // The curve of ethylene glycol ends at 57.35 %, −48.3 °C.
    let strong = with(|known| known.figures.fraction_millionths = 620_000);
    let strong_unsure = with(|known| {
        known.figures.fraction_millionths = 600_000;
        known.figures.sigma_millionths = 20_000;
    });
    let propylene = with(|known| known.chemistry = PG);
    for (name, known, low, days, verdict, reason) in [
        (
            "wide",
            HALF,
            Some(-31_000),
            10,
            Verdict::Ready,
            Why::WideMargin,
        ),
        (
            "small",
            HALF,
            Some(-33_000),
            10,
            Verdict::CheckSoon,
            Why::SmallMargin,
        ),
        (
            "none",
            HALF,
            Some(-36_000),
            10,
            Verdict::DoNotRelease,
            Why::FreezesAboveWinterLow,
        ),
        (
            "weak",
            weak,
            Some(-31_000),
            10,
            Verdict::DoNotRelease,
            Why::FreezesAboveWinterLow,
        ),
        // What may freeze comes first, whatever the test.
        (
            "weak, old",
            weak,
            Some(-31_000),
            400,
            Verdict::DoNotRelease,
            Why::FreezesAboveWinterLow,
        ),
        (
            "weak, never tested",
            entered_weak,
            Some(-31_000),
            1,
            Verdict::DoNotRelease,
            Why::FreezesAboveWinterLow,
        ),
        (
            "180 days",
            HALF,
            Some(-31_000),
            180,
            Verdict::Ready,
            Why::WideMargin,
        ),
        (
            "181 days",
            HALF,
            Some(-31_000),
            181,
            Verdict::NoRecentTest,
            Why::OldTest,
        ),
        (
            "old, small",
            HALF,
            Some(-33_000),
            181,
            Verdict::NoRecentTest,
            Why::OldTest,
        ),
        (
            "old, no low",
            HALF,
            None,
            181,
            Verdict::NoRecentTest,
            Why::OldTest,
        ),
        (
            "no low",
            HALF,
            None,
            10,
            Verdict::CheckSoon,
            Why::NoWinterLow,
        ),
        (
            "entered",
            entered,
            Some(-31_000),
            10,
            Verdict::NoTestYet,
            Why::NeverTested,
        ),
        (
            "entered, no low",
            entered,
            None,
            10,
            Verdict::NoTestYet,
            Why::NeverTested,
        ),
        (
            "assumed",
            assumed,
            Some(-31_000),
            10,
            Verdict::NoTestYet,
            Why::StrengthUnknown,
        ),
        (
            "assumed, warm",
            assumed,
            Some(10_000),
            10,
            Verdict::NoTestYet,
            Why::StrengthUnknown,
        ),
        (
            "empty",
            empty,
            Some(-31_000),
            10,
            Verdict::DoNotRelease,
            Why::Empty,
        ),
        (
            "two bases",
            mixed,
            Some(-31_000),
            10,
            Verdict::CheckSoon,
            Why::NoCurve,
        ),
        (
            "water",
            water,
            Some(-1_000),
            10,
            Verdict::DoNotRelease,
            Why::FreezesAboveWinterLow,
        ),
        (
            "water, warm",
            water,
            Some(5_000),
            10,
            Verdict::Ready,
            Why::WideMargin,
        ),
        (
            "strong",
            strong,
            Some(-45_000),
            10,
            Verdict::Ready,
            Why::WideMargin,
        ),
        (
            "strong, small",
            strong,
            Some(-46_000),
            10,
            Verdict::CheckSoon,
            Why::SmallMargin,
        ),
        (
            "below the curve",
            strong,
            Some(-52_000),
            10,
            Verdict::CheckSoon,
            Why::CurveEndsAboveWinterLow,
        ),
        // Its weak end, 56.08 %, freezes at −46.1 °C.
        (
            "weak end",
            strong_unsure,
            Some(-47_000),
            10,
            Verdict::DoNotRelease,
            Why::FreezesAboveWinterLow,
        ),
        (
            "propylene",
            propylene,
            Some(-31_000),
            10,
            Verdict::CheckSoon,
            Why::SmallMargin,
        ),
        (
            "propylene, warm",
            propylene,
            Some(-29_000),
            10,
            Verdict::Ready,
            Why::WideMargin,
        ),
    ] {
        let judged = judged(&known, low, days);
        assert_eq!(
            (judged.verdict, judged.reason),
            (verdict, reason),
            "{name}: {judged:?}"
        );
    }
}

#[test]
fn the_margin_is_held_against_the_warm_side() {
    let found = judged(&HALF, Some(-31_000), 10);
    // −37.088 °C, and 1.96 × 0.005 × 138.8 °C = 1.360 °C up from it.
    let warm = found.warm_side.unwrap().millicelsius();
    assert!((warm - -35_728).abs() <= 2, "{warm}");
    assert_eq!(
        found.margin,
        Some(TemperatureDifference::from_millikelvin(-31_000 - warm).unwrap())
    );
    assert_eq!(found.test_age_days, Some(10));
    assert_eq!(found.winter_low, Some(celsius(-31_000)));
    // The test lies ahead of a clock that was put back: it is as good as new.
    assert_eq!(judged(&HALF, Some(-31_000), -3).test_age_days, Some(0));
}

#[test]
fn the_lines_are_where_the_policy_draws_them() {
    let warm = judged(&HALF, None, 1).warm_side.unwrap().millicelsius();
    for (margin_mk, verdict) in [
        (3_000, Verdict::Ready),
        (2_999, Verdict::CheckSoon),
        (0, Verdict::CheckSoon),
        (-1, Verdict::DoNotRelease),
    ] {
        let found = judged(&HALF, Some(warm + margin_mk), 1);
        assert_eq!(found.verdict, verdict, "{margin_mk}");
    }
    let strict = FreezePolicy {
        margin_watch: TemperatureDifference::from_millikelvin(10_000).unwrap(),
        test_older_than_days: 30,
        ..ours()
    };
    let low = Setting {
        winter_low: Some(celsius(-31_000)),
        ..Setting::default()
    };
    assert_eq!(
        judge(&HALF, low, after(30), strict).verdict,
        Verdict::CheckSoon
    );
    assert_eq!(
        judge(&HALF, low, after(31), strict).verdict,
        Verdict::NoRecentTest
    );
}

/// The last moment of day 180 is still 180 whole days; the window is the same wherever it is asked for.
#[test]
fn a_test_is_too_old_when_the_days_beside_it_are_more_than_the_window() {
    let low = Setting {
        winter_low: Some(celsius(-25_000)),
        ..Setting::default()
    };
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    for (ms, age_days, verdict, state) in [
        (180 * DAY_MS, 180, Verdict::Ready, WinterState::Ready),
        (181 * DAY_MS - 1, 180, Verdict::Ready, WinterState::Ready),
        (
            181 * DAY_MS,
            181,
            Verdict::NoRecentTest,
            WinterState::OldTest,
        ),
    ] {
        let found = judge(&HALF, low, Moment(ms), policy.freeze);
        let age = test_age_days(HALF.last_reading_at, Moment(ms));
        assert_eq!((found.test_age_days, age), (Some(age_days), Some(age_days)));
        assert_eq!(found.verdict, verdict, "{ms}");
        let winter = WinterLoop {
            place: PlaceId(Uuid::from_u128(1)),
            figures: HALF.figures,
            chemistry: HALF.chemistry,
            capacity_ml: None,
            winter_low: low.winter_low,
            test_age_days: age,
            in_question: false,
        };
        assert_eq!(readiness(&winter, policy).state, state, "{ms}");
    }
}

#[test]
fn without_a_recent_test_nothing_is_ever_ready() {
    for fraction_millionths in (0..=1_000_000).step_by(25_000) {
        for sigma_millionths in [0, 5_000, 150_000] {
            for chemistry in [EG, PG, Chemistry::Water, Chemistry::NoCurve] {
                for low in [None, Some(-60_000), Some(-20_000), Some(40_000)] {
                    for last_reading_at in [None, Some(Moment(0))] {
                        let known = with(|known| {
                            known.figures.fraction_millionths = fraction_millionths;
                            known.figures.sigma_millionths = sigma_millionths;
                            known.chemistry = chemistry;
                            known.last_reading_at = last_reading_at;
                        });
                        let found = judged(&known, low, 181);
                        assert_ne!(found.verdict, Verdict::Ready, "{known:?}");
                    }
                }
            }
        }
    }
}

#[test]
fn the_warm_side_is_never_colder_than_the_curve_at_either_end() {
    // Too strong freezes warmer again, so the strong end counts as well.
    for fraction_millionths in (0..=1_000_000).step_by(10_000) {
        for sigma_millionths in [0, 3_000, 20_000, 60_000] {
            for glycol in Glycol::ALL {
                let known = with(|known| {
                    known.figures.fraction_millionths = fraction_millionths;
                    known.figures.sigma_millionths = sigma_millionths;
                    known.chemistry = Chemistry::One(glycol);
                });
                let found = judged(&known, Some(-30_000), 1);
                let warm = found.warm_side.unwrap();
                for way in [-196, -100, 0, 100, 196] {
                    let at =
                        (fraction_millionths + way * sigma_millionths / 100).clamp(0, 1_000_000);
                    let at = domain::quantity::FractionByVolume::from_millionths(
                        i32::try_from(at).unwrap(),
                    );
                    let there = domain::fluid::freeze_point(glycol, at.unwrap()).temperature();
                    assert!(warm >= there, "{glycol} {known:?}: {warm} and {there}");
                }
            }
        }
    }
}

#[test]
fn codes_lead_back_and_the_gravest_comes_first() {
    for verdict in Verdict::ALL {
        assert_eq!(Verdict::from_code(verdict.code()), Some(verdict));
    }
    assert!(Verdict::ALL.is_sorted());
    for chemistry in [Chemistry::Water, EG, PG, Chemistry::NoCurve] {
        assert_eq!(Chemistry::from_code(chemistry.code()), Some(chemistry));
    }
    assert_eq!(Chemistry::from_code("honey"), None);
}
