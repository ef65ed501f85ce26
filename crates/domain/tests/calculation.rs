//! Every calculation against worked rows, which were computed with Python from the closed forms and
//! checked there by an independent numeric solution; each file names its source. Four digits that
//! count, or 2e-4 near zero.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers read fixed tables"
)]

use domain::calculation::{Dimension, Entered, Value, all, find};
use domain::fluid::Glycol;
use domain::gas::Absolute;
use domain::gas::decay::leak_mol_s;
use proptest::prelude::*;

mod table;
mod worked;
use table::{Row, rows};
use worked::{WORKED, entered};

/// Never more than half a unit of the fourth digit, whatever the first one is; or 2e-4.
fn is_near(found: f64, expected: f64) -> bool {
    (found - expected).abs() <= (5e-5 * expected.abs()).max(2e-4)
}

#[test]
fn every_worked_row_comes_out() {
    assert_eq!(WORKED.len(), all().count(), "every calculation has rows");
    let mut compared = 0;
    for (name, table) in WORKED {
        let calculation = find(name).unwrap();
        for row in rows(table) {
            let found = calculation.work_out(&entered(calculation, &row));
            let found = found.unwrap_or_else(|problem| panic!("{name} {}: {problem}", row["id"]));
            assert_eq!(found.len(), calculation.outputs.len(), "{name}");
            for (column, value) in calculation.outputs.iter().zip(found) {
                let expected = row.text(column);
                let told = format!("{name} row {} {column}: {value}, not {expected}", row["id"]);
                match value {
                    Value::Number(number) => {
                        assert!(is_near(number, row.number(column)), "{told}");
                    }
                    Value::Flag(flag) => assert_eq!(flag.to_string(), expected, "{told}"),
                    Value::Text(words) => assert_eq!(words, expected, "{told}"),
                    Value::Nothing => assert_eq!(row.number_if_any(column), None, "{told}"),
                }
                compared += 1;
            }
        }
    }
    assert!(compared > 600, "{compared} figures");
}

/// 40 CFR 1065.644 prints the inputs of this example (a vacuum-decay leak check).
#[test]
fn the_leak_of_40_cfr_1065_644_comes_out() {
    for row in rows(include_str!("../tables/vectors_d_cfr_1065_644.csv")) {
        let number = |column: &str| row.number(column);
        let found = leak_mol_s(
            number("volume_l"),
            (Absolute(1_000.0 * number("p1_kpa")), number("t1_k")),
            (Absolute(1_000.0 * number("p2_kpa")), number("t2_k")),
            number("seconds"),
        );
        let expected = number("leak_mol_s");
        assert!((found / expected - 1.0).abs() < 1e-4, "{found}");
    }
}

fn numbers(name: &str, figures: &[f64]) -> Result<Vec<Value>, String> {
    let figures: Vec<Entered> = figures.iter().map(|it| Entered::Number(*it)).collect();
    let calculation = find(name).unwrap();
    calculation
        .work_out(&figures)
        .map_err(|problem| problem.to_string())
}

fn number(value: &Value) -> f64 {
    match value {
        Value::Number(number) => *number,
        other => panic!("{other:?} is no number"),
    }
}

/// What cannot be is named, with what was found and what is possible.
#[test]
fn what_cannot_be_is_said() {
    for (name, figures, words) in [
        ("isa", vec![12_000.0], "not covered"),
        (
            "repeated-pulls",
            vec![40.0, 20.0, 1.0, 1075.0, 45.0],
            "however often",
        ),
        (
            "repeated-pulls",
            vec![40.0, 2.0, 1.0, 1075.0, 5.0],
            "does not lift",
        ),
        (
            "repeated-pulls",
            vec![40.0, 31.0, 1.0, 1075.0, 5.0],
            "deeper than the atmosphere",
        ),
        (
            "repeated-pulls",
            vec![-40.0, 20.0, 1.0, 1075.0, 5.0],
            "must be above 0",
        ),
        (
            "repeated-pulls",
            vec![f64::NAN, 20.0, 1.0, 1075.0, 5.0],
            "NaN",
        ),
        (
            "cap-left-on",
            vec![90.0, 20.0, 1.0, 1075.0, -1.0],
            "must not be below 0",
        ),
        (
            "pressure-fill",
            vec![100.0, 100.0, 30.0, 20.0, 1.0, 0.0],
            "do not fit",
        ),
        (
            "recharges",
            vec![10.0, 20.0, 0.0, 10.0, 10.0, 2.0, 15.0],
            "has to be above",
        ),
        (
            "pressure-decay",
            vec![15.0, 14.0, 20.0, 20.0, 2.0, 0.0, 0.0, 0.1],
            "min",
        ),
        (
            "pressure-decay",
            vec![-20.0, 14.0, 20.0, 20.0, 2.0, 5.0, 0.0, 0.1],
            "absolute pressure",
        ),
        (
            "drain-replace",
            vec![40.0, 50.0, 0.3, 1.0, 0.5, 40.0],
            "50 L are in it",
        ),
        (
            "drain-replace",
            vec![40.0, 40.0, 1.3, 1.0, 0.5, 40.0],
            "share from 0 to 1",
        ),
        ("freeze-rising-branch", vec![0.5], "rising branch"),
    ] {
        let problem = numbers(name, &figures).unwrap_err();
        assert!(problem.contains(words), "{name}: {problem}");
    }
}

/// The whole of a draw, its pressures put back into Boyle's law.
#[test]
fn a_draw_leaves_the_tank_and_the_column_in_balance() {
    proptest!(|(headspace in 5.0..500.0_f64, vacuum in 1.0..29.0_f64, lift in -2.0..2.0_f64, air in 0.1..20.0_f64)| {
        let found = numbers("cap-left-on", &[headspace, vacuum, lift, 1075.0, air]).unwrap();
        let (sealed, vented) = (number(&found[0]), number(&found[1]));
        prop_assert!(sealed <= vented + 1e-9, "a cap never helps: {sealed} {vented}");
        prop_assert!((0.0..headspace).contains(&sealed), "{sealed} L of {headspace} L");
        prop_assert!((-1e-9..=29.9213).contains(&number(&found[2])), "{:?}", found[2]);
        prop_assert!((0.0..headspace).contains(&vented));
        if vented > 0.0 {
            let patm = 101_325.0;
            let lifted = 1075.0 * 9.806_65 * lift;
            let before = patm - vacuum * 3386.389;
            prop_assert!((before * headspace / (headspace - vented) + lifted - patm).abs() < 1e-3);
            let unit = patm * air / (air + sealed);
            prop_assert!((before * headspace / (headspace - sealed) + lifted - unit).abs() < 1e-3);
        }
    });
}

/// By hand with 35.8 L: the tank holds 9,892.5 Pa × 100 ÷ 64.2 = 15,409 Pa, which less 12,651 Pa of
/// column is 2,758 Pa; the unit holds 101,325 Pa × 1 ÷ 36.8 = 2,753 Pa.
#[test]
fn a_cart_that_stands_below_the_unit_draws_by_itself() {
    let found = numbers("cap-left-on", &[100.0, 27.0, -1.2, 1075.0, 1.0]).unwrap();
    assert!((number(&found[0]) - 35.8).abs() < 0.1, "{found:?}");
    assert!(number(&found[2]) < 29.9213, "{found:?}");
}

#[test]
fn pulls_are_just_enough() {
    proptest!(|(headspace in 5.0..500.0_f64, vacuum in 5.0..29.0_f64, part in 0.01..0.98_f64)| {
        let needed = headspace * part;
        let found = numbers("repeated-pulls", &[headspace, vacuum, 0.5, 1075.0, needed]).unwrap();
        let (share, pulls, total) = (number(&found[0]), number(&found[2]), number(&found[3]));
        prop_assert!(total >= needed * (1.0 - 1e-9));
        let one_less = headspace * (1.0 - (1.0 - share).powf(pulls - 1.0));
        prop_assert!(one_less < needed, "one pull less would have done");
    });
}

#[test]
fn stages_end_between_their_limits_and_move_all_of_it() {
    proptest!(|(headspace in 5.0..200.0_f64, fill in 1.0..200.0_f64, altitude in 0.0..3_000.0_f64)| {
        let found = numbers("recharges", &[headspace, fill, altitude, 30.0, 10.0, 2.0, 15.0]).unwrap();
        let (charge, end) = (number(&found[7]), number(&found[8]));
        prop_assert!(charge <= 30.0 + 1e-9);
        prop_assert!((2.0 - 1e-6..=15.0 + 1e-6).contains(&end), "{end}");
        let moved = number(&found[5]) + number(&found[6]) - headspace;
        prop_assert!((moved - fill).abs() < 1e-6, "{moved}");
    });
}

#[test]
fn nothing_that_is_typed_makes_a_calculation_fall_over() {
    let figures = prop::collection::vec(
        prop_oneof![
            Just(0.0),
            Just(-1.0),
            Just(f64::NAN),
            Just(f64::INFINITY),
            Just(1e18),
            Just(1e-300),
            -100.0..10_000.0_f64,
            0.0..1.0_f64,
        ],
        9,
    );
    proptest!(|(figures in figures, pg in any::<bool>())| {
        let glycol = if pg { Glycol::Pg } else { Glycol::Eg };
        for calculation in all() {
            let entered: Vec<Entered> = calculation.inputs.iter().zip(&figures).map(|(input, number)| {
                if input.dimension == Dimension::Glycol { Entered::Glycol(glycol) } else { Entered::Number(*number) }
            }).collect();
            if let Ok(found) = calculation.work_out(&entered) {
                prop_assert_eq!(found.len(), calculation.outputs.len());
                for value in &found {
                    if let Value::Number(number) = value {
                        prop_assert!(number.is_finite(), "{}: {entered:?} {found:?}", calculation.name);
                    }
                }
            }
        }
    });
}

/// The text and figures of one row, glycol first where it is asked for.
fn with_glycol(name: &str, glycol: Glycol, figures: &[f64]) -> Result<Vec<Value>, String> {
    let calculation = find(name).unwrap();
    let mut figures = figures.iter();
    let entered: Vec<Entered> = calculation
        .inputs
        .iter()
        .map(|input| match input.dimension {
            Dimension::Glycol => Entered::Glycol(glycol),
            _ => Entered::Number(*figures.next().unwrap()),
        })
        .collect();
    calculation
        .work_out(&entered)
        .map_err(|problem| problem.to_string())
}

/// A stage that may run lower than the last one must end is stopped sooner, not past the fill.
#[test]
fn stages_move_no_more_than_the_fill_whatever_their_limits() {
    proptest!(|(headspace in 5.0..200.0_f64, fill in 0.0..200.0_f64, stop in 0.0..20.0_f64, least in 0.0..20.0_f64, more in 0.0..10.0_f64)| {
        let given = [headspace, fill, 0.0, 30.0, stop, least, least + more];
        let found = numbers("recharges", &given).unwrap();
        let (before_last, last) = (number(&found[5]), number(&found[6]));
        prop_assert!(last >= 0.0);
        prop_assert!((before_last + last - headspace - fill).abs() < 1e-6, "{given:?} {found:?}");
        prop_assert!(number(&found[7]) <= 30.0 + 1e-9);
        let end = number(&found[8]);
        prop_assert!((least - 1e-6..=least + more + 1e-6).contains(&end), "{given:?} {end}");
    });
}

#[test]
fn exchanges_that_never_end_have_no_number() {
    // The target is that of the refill, which only a full drain reaches; and nothing can be drained.
    for (target, most) in [(0.6, 30.0), (0.5, 0.0)] {
        let found = numbers("drain-replace", &[50.0, 50.0, 0.2, 0.6, target, most]).unwrap();
        assert_eq!(found[3], Value::Nothing, "{found:?}");
    }
}

#[test]
fn recovered_coolant_that_is_stronger_than_the_concentrate_counts_for_the_strongest() {
    let figures = [40.0, 0.0, 0.0, 0.0, 0.55, 0.6, 20.0, 0.5];
    let found = numbers("blend-recovered", &figures).unwrap();
    assert_eq!(found[4], Value::Text("ok".to_owned()));
    // 20 L at 0.6 and 20 L at 0.5
    assert!((number(&found[5]) - 0.55).abs() < 1e-9, "{found:?}");
}

#[test]
fn a_draw_from_boiling_coolant_has_no_figure_with_vapour() {
    // 80 °C at 1600 m boils at 14.05 inHg; 10 inHg is still below it.
    let draw = |vacuum: f64| {
        let figures = [100.0, 0.0, vacuum, 0.0, 1600.0, 0.5, 80.0];
        with_glycol("vacuum-draw", Glycol::Eg, &figures).unwrap()
    };
    assert!(number(&draw(10.0)[4]) > number(&draw(10.0)[3]));
    assert_eq!(draw(15.0)[4], Value::Nothing);
}

/// A reading near the ends of the curve says something on one side only.
#[test]
fn readings_at_the_ends_of_the_curve_are_one_sided() {
    let near_water = with_glycol("uncertainty-reading", Glycol::Eg, &[-0.5, 1.0]).unwrap();
    assert_eq!(near_water[3], Value::Number(0.0), "water is the weakest");
    assert_eq!(near_water[5], Value::Number(0.0), "nothing freezes above 0");
    let near_floor = with_glycol("uncertainty-reading", Glycol::Eg, &[-48.0, 1.0]).unwrap();
    assert_eq!(near_floor[4], Value::Nothing);
}

/// Past the floor the curve has no slope: no ± is made up, and the promise is the warmer end.
#[test]
fn a_dose_past_the_floor_promises_what_its_weak_end_does() {
    let dose = |exchange: f64| {
        let figures = [40.0, exchange, -25.0, 0.577, 1.0, 0.005, 0.2, 1.0];
        with_glycol("uncertainty-dose", Glycol::Eg, &figures).unwrap()
    };
    let strong = dose(17.0); // 65.6 %
    assert_eq!(strong[4], Value::Number(-48.3));
    assert_eq!((&strong[5], &strong[6]), (&Value::Nothing, &Value::Nothing));
    assert_eq!(strong[7], Value::Number(-48.3));
    let just_past = dose(12.0); // 58.1 %, 1.4 % less is on the curve again
    let promise = number(&just_past[7]);
    assert!((-48.3 + 0.5..-46.0).contains(&promise), "{promise}");
    // Stronger than 74 % it gets worse again, so there the strong end is the warmer one.
    let too_strong = dose(27.0);
    assert!(
        number(&too_strong[7]) > number(&too_strong[4]),
        "{too_strong:?}"
    );
}

#[test]
fn what_grows_past_all_bounds_is_refused() {
    let problem = numbers("hidden-leak", &[1e-300, 0.0, 1e300, 10.0]).unwrap_err();
    assert!(problem.contains("too large"), "{problem}");
}
