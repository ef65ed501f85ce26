//! The fluid curves against the tables they were fitted to, against worked vectors, and their
//! properties over the whole range.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "helpers read fixed tables, and the worst error of each table is printed"
)]

use std::collections::HashMap;

use domain::fluid::composition::{
    by_mass, by_volume, contraction_percent, mass_fraction, mass_of, mole_fraction, volume_fraction,
};
use domain::fluid::density::{
    NoStrength, OutsideCurve, Taken, check, expansion_at_or_beyond, expansion_ratio, kg_per_m3,
    strength_from_density,
};
use domain::fluid::freeze_point::{
    floor, fraction_at_floor, fraction_at_freeze, freeze_c, promised_freeze_point,
    slope_c_per_fraction,
};
use domain::fluid::{
    Components, FreezeStatus, Glycol, MassSource, Promise, STRONGEST, Strength, density,
    freeze_point, mass, strength_at,
};
use domain::quantity::{Density, FractionByMass, FractionByVolume, Temperature, Volume};
use proptest::prelude::*;

mod table;
use table::{Row, rows};

fn share(ratio: f64) -> FractionByVolume {
    FractionByVolume::from_ratio(ratio).unwrap()
}

fn millionths(millionths: i32) -> FractionByVolume {
    FractionByVolume::from_millionths(millionths).unwrap()
}

fn celsius(t_c: f64) -> Temperature {
    let millicelsius = domain::quantity::rounding::nearest(t_c * 1000.0).unwrap();
    Temperature::from_millicelsius(i32::try_from(millicelsius).unwrap()).unwrap()
}

fn in_c(temperature: Temperature) -> f64 {
    f64::from(temperature.millicelsius()) / 1000.0
}

/// Asserts agreement to half of the fourth significant digit, or to 2e-4 near zero.
#[track_caller]
fn assert_agrees(found: f64, expected: f64, what: &str) {
    let fourth_digit = if expected.abs() > 0.0 {
        10_f64.powf(expected.abs().log10().floor() - 3.0)
    } else {
        0.0
    };
    let allowed = (0.5 * fourth_digit).max(2e-4);
    assert!(
        (found - expected).abs() <= allowed,
        "{what}: {found} is not {expected}"
    );
}

// Freeze point

fn worst_against_freezing_table(glycol: Glycol, table: &str) -> f64 {
    let mut worst = (0.0_f64, String::new());
    let rows = rows(table);
    assert_eq!(rows.len(), 45);
    for row in rows {
        let point = freeze_point(glycol, share(row.number("vol_pct") / 100.0));
        let off = in_c(point.temperature()) - row.number("t_freeze_c");
        if off.abs() > worst.0.abs() {
            worst = (off, format!("{} %", row.text("vol_pct")));
        }
    }
    println!("{glycol}: worst {:+.3} °C at {}", worst.0, worst.1);
    worst.0.abs()
}

#[test]
fn ethylene_glycol_freezes_within_0_3_of_every_published_row() {
    let table = include_str!("../tables/ref_freeze_ashrae2001_eg.csv");
    let worst = worst_against_freezing_table(Glycol::Eg, table);
    assert!(worst <= 0.3, "{worst}");
}

#[test]
fn propylene_glycol_freezes_within_0_15_of_every_published_row() {
    let table = include_str!("../tables/ref_freeze_ashrae2001_pg.csv");
    let worst = worst_against_freezing_table(Glycol::Pg, table);
    assert!(worst <= 0.15, "{worst}");
}

#[test]
fn freeze_points_agree_with_worked_vectors() {
    for row in rows(include_str!("../tables/vectors_freeze.csv")) {
        let (glycol, f) = (row.glycol(), row.number("vol_fraction"));
        let what = format!("{glycol} {f}");
        assert_agrees(freeze_c(glycol, f), row.number("t_freeze_c"), &what);
        let point = freeze_point(glycol, share(f));
        assert_agrees(in_c(point.temperature()), row.number("t_freeze_c"), &what);
        assert_eq!(
            point.is_at_or_below(),
            row.text("status") == "floor: at or below",
            "{what}"
        );
        assert!(!matches!(point.status(), FreezeStatus::Rising(_)), "{what}");
        if let Some(slope) = row.number_if_any("slope_c_per_pct") {
            assert_agrees(slope_c_per_fraction(glycol, f) / 100.0, slope, &what);
        }
    }
}

#[test]
fn strengths_from_freeze_points_agree_with_worked_vectors() {
    for row in rows(include_str!("../tables/vectors_freeze_inverse.csv")) {
        let (glycol, t_c) = (row.glycol(), row.number("t_freeze_c"));
        let what = format!("{glycol} {t_c} °C");
        let found = strength_at(glycol, celsius(t_c)).unwrap();
        if let Some(expected) = row.number_if_any("vol_fraction") {
            let f = fraction_at_freeze(glycol, t_c).unwrap();
            assert_agrees(f, expected, &what);
            assert_eq!(found, Strength::Exact(share(f)), "{what}");
        } else {
            assert_eq!(fraction_at_freeze(glycol, t_c), None, "{what}");
            assert_eq!(found, Strength::AtLeast(millionths(573_547)), "{what}");
        }
    }
}

#[test]
fn too_much_ethylene_glycol_freezes_as_worked_vectors_say() {
    for row in rows(include_str!(
        "../tables/vectors_freeze_rising_branch_eg.csv"
    )) {
        let f = row.number("vol_fraction");
        let expected = row.number("t_freeze_c");
        let point = freeze_point(Glycol::Eg, share(f));
        assert_agrees(in_c(point.temperature()), expected, &format!("{f}"));
        assert_eq!(
            matches!(point.status(), FreezeStatus::Rising(_)),
            expected > -48.3,
            "{f}"
        );
        assert_eq!(point.too_strong(), f > 0.70, "{f}");
    }
}

#[test]
fn the_rising_branch_starts_at_a_share_of_0_744() {
    let status = |f| freeze_point(Glycol::Eg, millionths(f)).status();
    assert_eq!(status(742_000), FreezeStatus::Floor(floor(Glycol::Eg)));
    assert!(matches!(status(746_000), FreezeStatus::Rising(_)));
    let propylene = freeze_point(Glycol::Pg, FractionByVolume::MAX);
    assert_eq!(
        propylene.status(),
        FreezeStatus::Floor(floor(Glycol::Pg)),
        "propylene glycol does not form crystals there"
    );
    assert!(propylene.too_strong());
}

#[test]
fn the_cubic_meets_the_floor_where_it_is_said_to() {
    for glycol in Glycol::ALL {
        let at_floor = fraction_at_floor(glycol);
        let floor_c = in_c(floor(glycol));
        let found = fraction_at_freeze(glycol, floor_c).unwrap();
        assert!((found - at_floor).abs() < 1e-12, "{glycol} {found}");
        assert!(freeze_c(glycol, at_floor - 1e-6) > floor_c, "{glycol}");
        assert!((freeze_c(glycol, at_floor + 1e-6) - floor_c).abs() < 1e-12);
    }
}

#[test]
fn a_freeze_point_above_waters_is_refused() {
    let warm = Temperature::from_millicelsius(1).unwrap();
    for glycol in Glycol::ALL {
        let refusal = strength_at(glycol, warm).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "freeze point is 0.001 °C, plain water freezes at 0.0 °C"
        );
        assert_eq!(
            strength_at(glycol, Temperature::WATER_FREEZES),
            Ok(Strength::Exact(FractionByVolume::MIN))
        );
    }
}

#[test]
fn the_promise_is_the_warmer_of_curve_and_maker() {
    let curve = freeze_point(Glycol::Pg, millionths(500_000));
    assert_eq!(curve.temperature(), celsius(-33.688));
    for (minimum, promised) in [
        (Some(-31.0), -31.0),
        (Some(-40.0), -33.688),
        (Some(-33.688), -33.688),
        (None, -33.688),
    ] {
        let promise = promised_freeze_point(curve, minimum.map(celsius));
        assert_eq!(promise.temperature(), celsius(promised), "{minimum:?}");
        let by_maker = matches!(promise, Promise::Maker(_));
        assert_eq!(by_maker, minimum == Some(-31.0), "{minimum:?}");
    }
}

/// Failing cases are printed, not kept in files.
fn without_files() -> ProptestConfig {
    ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Any finite number, often one near the curves.
fn a_number() -> impl Strategy<Value = f64> {
    prop_oneof![any::<f64>(), -0.5..1.5_f64, -80.0..150.0_f64]
}

fn a_glycol() -> impl Strategy<Value = Glycol> {
    prop_oneof![Just(Glycol::Eg), Just(Glycol::Pg)]
}

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn stronger_coolant_never_freezes_warmer_up_to_70_percent(
        glycol in a_glycol(), one in 0..=700_000_i32, other in 0..=700_000_i32,
    ) {
        let (weak, strong) = (one.min(other), one.max(other));
        let weak = freeze_point(glycol, millionths(weak)).temperature();
        let strong = freeze_point(glycol, millionths(strong)).temperature();
        prop_assert!(strong <= weak);
        prop_assert!(strong >= floor(glycol) && weak <= Temperature::WATER_FREEZES);
    }

    #[test]
    fn ethylene_glycol_above_the_floor_again_only_gets_warmer(
        one in 750_000..=1_000_000_i32, other in 750_000..=1_000_000_i32,
    ) {
        let (less, more) = (one.min(other), one.max(other));
        let less = freeze_point(Glycol::Eg, millionths(less)).temperature();
        let more = freeze_point(Glycol::Eg, millionths(more)).temperature();
        prop_assert!(less <= more && more <= celsius(-13.0));
    }

    #[test]
    fn a_strength_comes_back_from_its_freeze_point(glycol in a_glycol(), f in 0..=573_000_i32) {
        let freezes_at = freeze_point(glycol, millionths(f)).temperature();
        match strength_at(glycol, freezes_at) {
            // Half of 0.001 °C is at most 15 millionths, where the curve is flattest.
            Ok(Strength::Exact(found)) => prop_assert!((found.millionths() - f).abs() <= 16),
            other => prop_assert!(false, "{other:?}"),
        }
    }

    #[test]
    fn a_freeze_point_comes_back_from_its_strength(glycol in a_glycol(), t in -48_299..=0_i32) {
        let asked = Temperature::from_millicelsius(t).unwrap();
        match strength_at(glycol, asked) {
            Ok(Strength::Exact(found)) => {
                let back = freeze_point(glycol, found).temperature().millicelsius();
                prop_assert!((back - t).abs() <= 1, "{back}");
            }
            other => prop_assert!(false, "{other:?}"),
        }
    }

    #[test]
    fn below_the_floor_only_a_least_strength_is_told(glycol in a_glycol(), t in -100_000..=-51_101_i32) {
        let found = strength_at(glycol, Temperature::from_millicelsius(t).unwrap());
        let least = Strength::AtLeast(share(fraction_at_floor(glycol)));
        prop_assert_eq!(found, Ok(least));
    }

    #[test]
    fn the_fast_core_stays_between_floor_and_zero(glycol in a_glycol(), f in a_number()) {
        let t_c = freeze_c(glycol, f);
        prop_assert!((in_c(floor(glycol))..=0.0).contains(&t_c));
        prop_assert!(slope_c_per_fraction(glycol, f) < -30.0);
    }

    #[test]
    fn the_slope_is_that_of_the_curve(glycol in a_glycol(), f in 0.001..0.57_f64) {
        let by_steps = (freeze_c(glycol, f + 1e-6) - freeze_c(glycol, f - 1e-6)) / 2e-6;
        prop_assert!((by_steps - slope_c_per_fraction(glycol, f)).abs() < 1e-3);
    }
}

#[test]
fn what_is_not_a_number_gives_none() {
    for glycol in Glycol::ALL {
        assert!(freeze_c(glycol, f64::NAN).is_nan());
        assert_eq!(fraction_at_freeze(glycol, f64::NAN), None);
        assert!(slope_c_per_fraction(glycol, f64::NAN) < 0.0);
        assert!(check(glycol, f64::NAN, 0.5).is_err());
        assert!(check(glycol, 20.0, f64::NAN).is_err());
        let expansion = expansion_at_or_beyond(glycol, 20.0, f64::NAN);
        assert!((expansion.ratio - 1.0).abs() < 1e-12);
        assert_eq!(expansion.taken, Taken::AtEdge);
    }
}

// Density

/// The worst difference in kg/m³, and how many rows were compared.
fn worst_against_density_table(glycol: Glycol, table: &str) -> (f64, usize) {
    let (mut worst, mut seen) = ((0.0_f64, String::new()), 0);
    for row in rows(table) {
        if row.text("dataset") != "ASHRAE2001" || row.text("density_kg_m3") == MISPRINT {
            continue;
        }
        let (t_c, percent) = (row.number("t_c"), row.number("vol_pct"));
        let found = density(glycol, celsius(t_c), share(percent / 100.0)).unwrap();
        let found = f64::from(i32::try_from(found.g_per_m3()).unwrap()) / 1000.0;
        let off = found - row.number("density_kg_m3");
        if off.abs() > worst.0.abs() {
            worst = (off, format!("{t_c} °C, {percent} %"));
        }
        seen += 1;
    }
    println!(
        "{glycol}: {seen} rows, worst {:+.3} kg/m³ at {}",
        worst.0, worst.1
    );
    (worst.0.abs(), seen)
}

/// Ethylene glycol, 10 % at 30 °C: its neighbours imply 1009.92, as the table's head says.
const MISPRINT: &str = "1009.62";

#[test]
fn ethylene_glycol_weighs_within_1_of_every_published_row() {
    let table = include_str!("../tables/ref_density_ashrae_eg.csv");
    let (worst, seen) = worst_against_density_table(Glycol::Eg, table);
    assert!(worst <= 1.0, "{worst}");
    assert_eq!(seen, 146, "all but the misprint");
}

#[test]
fn propylene_glycol_weighs_within_1_of_every_published_row() {
    let table = include_str!("../tables/ref_density_ashrae_pg.csv");
    let (worst, seen) = worst_against_density_table(Glycol::Pg, table);
    assert!(worst <= 1.0, "{worst}");
    assert_eq!(seen, 144);
}

#[test]
fn densities_agree_with_worked_vectors() {
    for row in rows(include_str!("../tables/vectors_density.csv")) {
        let (glycol, t_c, f) = (row.glycol(), row.number("t_c"), row.number("vol_fraction"));
        let what = format!("{glycol} {t_c} °C {f}");
        let found = kg_per_m3(glycol, t_c, f);
        // Two decimals are printed, far more than four digits.
        assert!(
            (found - row.number("density_kg_m3")).abs() < 0.006,
            "{what}"
        );
        let ratio = expansion_ratio(glycol, t_c, f).unwrap();
        assert!(
            (ratio - row.number("v_t_over_v_20c")).abs() < 1e-5,
            "{what}"
        );
    }
}

#[test]
fn expansion_from_20_to_95_agrees_with_published_densities() {
    let mut worst = (0.0_f64, String::new());
    for row in rows(include_str!("../tables/ref_expansion_20_to_95c.csv")) {
        let (glycol, f) = (row.glycol(), row.number("vol_pct") / 100.0);
        let what = format!("{glycol} {f}");
        let percent = |t_c| (expansion_ratio(glycol, t_c, f).unwrap() - 1.0) * 100.0;
        assert_agrees(percent(95.0), row.number("expansion_pct_fit"), &what);
        let off = percent(95.0) - row.number("expansion_pct_20_95");
        if off.abs() > worst.0.abs() {
            worst = (off, what.clone());
        }
        if let Some(shrink) = row.number_if_any("shrink_pct_20_to_minus20_fit") {
            assert_agrees(percent(-20.0), shrink, &what);
        }
    }
    println!("worst {:+.4} points of % at {}", worst.0, worst.1);
    assert!(worst.0.abs() <= 0.06, "{worst:?}");
}

#[test]
fn each_edge_of_the_density_curve_is_refused_by_name() {
    let refusal = |t_c, f| check(Glycol::Eg, t_c, f).unwrap_err().to_string();
    assert_eq!(
        refusal(20.0, 0.72),
        "strength is 72.0 %, the density curve covers 0.0 to 70.0 %"
    );
    assert_eq!(
        refusal(100.1, 0.5),
        "temperature is 100.1 °C, the density curve ends at 100.0 °C"
    );
    assert_eq!(
        refusal(-40.0, 0.5),
        "temperature is −40.0 °C, this mixture begins to freeze at −37.1 °C"
    );
    assert_eq!(check(Glycol::Eg, 100.0, 0.70), Ok(()));
    assert_eq!(check(Glycol::Eg, 0.0, 0.0), Ok(()));
}

#[test]
fn a_hydrometer_cannot_measure_strong_propylene_glycol() {
    let at = Temperature::REFERENCE;
    let found = density(Glycol::Pg, at, millionths(680_000)).unwrap();
    let refusal = strength_from_density(Glycol::Pg, at, found).unwrap_err();
    assert!(matches!(refusal, NoStrength::TooFlat { .. }), "{refusal}");
    let weaker = density(Glycol::Pg, at, millionths(500_000)).unwrap();
    let read = strength_from_density(Glycol::Pg, at, weaker).unwrap();
    assert!((read.millionths() - 500_000).abs() < 20, "{read}");
}

#[test]
fn densities_outside_the_curve_have_no_strength() {
    let read = |glycol, t_c, g_per_m3| {
        let found = Density::from_g_per_m3(g_per_m3).unwrap();
        strength_from_density(glycol, celsius(t_c), found)
    };
    assert_eq!(
        read(Glycol::Eg, 20.0, 990_000).unwrap_err().to_string(),
        "density is 990.000 kg/m³, water at this temperature has 997.6 kg/m³"
    );
    assert_eq!(
        read(Glycol::Eg, 20.0, 1_200_000).unwrap_err().to_string(),
        "density is 1,200.000 kg/m³, the curve ends at 70 % with 1,098.2 kg/m³"
    );
    // Liquid at −20 °C only from about 35 %, which weighs more than this.
    let frozen = read(Glycol::Eg, -20.0, 1_020_000);
    assert!(
        matches!(
            frozen,
            Err(NoStrength::OutsideCurve(OutsideCurve::Frozen { .. }))
        ),
        "{frozen:?}"
    );
    assert!(read(Glycol::Eg, 120.0, 1_020_000).is_err());
    assert!(read(Glycol::Eg, -60.0, 1_100_000).is_err());
}

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn density_is_a_number_just_where_the_curve_holds(
        glycol in a_glycol(), t in -100_000..=400_000_i32, f in 0..=1_000_000_i32,
    ) {
        let (temperature, strength) = (Temperature::from_millicelsius(t).unwrap(), millionths(f));
        let holds = f <= 700_000
            && t <= 100_000
            && in_c(temperature) >= freeze_c(glycol, strength.as_ratio());
        match density(glycol, temperature, strength) {
            Ok(found) => {
                prop_assert!(holds);
                // The open EnergyPlus rows end at 1119 kg/m³ (EG, 70 vol %, -35 °C); the curve
                // itself reaches 1121.6 at its floor, and hot water is the lightest.
                prop_assert!((955_000..1_122_000).contains(&found.g_per_m3()), "{found}");
            }
            Err(_) => prop_assert!(!holds),
        }
        let ratio = expansion_ratio(glycol, in_c(temperature), strength.as_ratio());
        prop_assert_eq!(ratio.is_ok(), holds);
    }

    #[test]
    fn a_correction_to_20_degrees_is_always_there_and_small(
        glycol in a_glycol(), t_c in a_number(), f in a_number(),
    ) {
        let expansion = expansion_at_or_beyond(glycol, t_c, f);
        prop_assert!((0.965..1.07).contains(&expansion.ratio), "{}", expansion.ratio);
        let as_asked = check(glycol, t_c, f).is_ok();
        prop_assert_eq!(expansion.taken == Taken::AsAsked, as_asked);
    }

    #[test]
    fn hotter_coolant_takes_more_room(
        glycol in a_glycol(), f in 0.0..=STRONGEST, one in 5.0..=100.0_f64, other in 5.0..=100.0_f64,
    ) {
        let (cold, hot) = (one.min(other), one.max(other));
        let cold = expansion_ratio(glycol, cold, f).unwrap();
        prop_assert!(cold <= expansion_ratio(glycol, hot, f).unwrap());
    }

    #[test]
    fn a_strength_comes_back_from_its_density(
        t in 0..=60_000_i32, f in 0..=700_000_i32, glycol in a_glycol(),
    ) {
        let (temperature, strength) = (Temperature::from_millicelsius(t).unwrap(), millionths(f));
        let found = density(glycol, temperature, strength).unwrap();
        match strength_from_density(glycol, temperature, found) {
            // Half of 0.001 kg/m³ is at most 10 millionths at the flattest slope read.
            Ok(read) => prop_assert!((read.millionths() - f).abs() <= 11, "{read}"),
            Err(NoStrength::TooFlat { .. }) => {
                prop_assert!(glycol == Glycol::Pg && f > 350_000, "{f}");
            }
            // Rounding may carry either end of the curve past it.
            Err(NoStrength::LighterThanWater { .. }) => prop_assert!(f < 10),
            Err(NoStrength::HeavierThanCurve { .. }) => prop_assert!(f > 699_900),
            Err(other) => prop_assert!(false, "{other}"),
        }
    }
}

// Composition

#[test]
fn compositions_agree_with_worked_vectors() {
    for row in rows(include_str!("../tables/vectors_composition.csv")) {
        let (glycol, f) = (row.glycol(), row.number("vol_fraction"));
        let what = format!("{glycol} {f}");
        let w = mass_fraction(glycol, f);
        assert_agrees(w, row.number("mass_fraction"), &what);
        assert_agrees(volume_fraction(glycol, w), f, &what);
        let moles = row.number("glycol_mole_fraction");
        assert_agrees(mole_fraction(glycol, f), moles, &what);
        let change = row.number("volume_change_on_mixing_pct");
        assert_agrees(contraction_percent(glycol, f), change, &what);
    }
}

#[test]
fn shrinking_on_mixing_agrees_with_published_densities() {
    let mut worst = HashMap::from([(Glycol::Eg, 0.0_f64), (Glycol::Pg, 0.0_f64)]);
    for row in rows(include_str!("../tables/ref_excess_volume.csv")) {
        let (glycol, f) = (row.glycol(), row.number("vol_pct_ideal") / 100.0);
        let off = (contraction_percent(glycol, f) - row.number("volume_change_pct")).abs();
        let worst = worst.get_mut(&glycol).unwrap();
        *worst = worst.max(off);
    }
    println!("worst points of %: {worst:?}");
    assert!(worst[&Glycol::Eg] <= 0.012, "{worst:?}");
    assert!(worst[&Glycol::Pg] <= 0.045, "{worst:?}");
}

#[test]
fn a_component_alone_does_not_shrink() {
    for glycol in Glycol::ALL {
        for f in [0.0, 1.0, -3.0, 7.0] {
            assert!(contraction_percent(glycol, f).abs() < 1e-12, "{glycol} {f}");
        }
    }
}

#[test]
fn the_two_ways_to_a_mass_meet_within_1_percent() {
    for glycol in Glycol::ALL {
        let (by_curve, one) = mass_of(glycol, 70_000.0, 30_000.0);
        let (by_components, other) = mass_of(glycol, 70_001.0, 29_999.0);
        assert_eq!(one, MassSource::DensityCurve);
        assert_eq!(other, MassSource::PureComponents);
        let off = (by_curve / by_components - 1.0) * 100.0;
        println!("{glycol}: the curve is {off:+.2} % from the components at 70 %");
        assert!(off.abs() < 1.0, "{off}");
    }
}

#[test]
fn nothing_weighs_nothing() {
    let nothing = Components {
        glycol: Volume::MIN,
        water: Volume::MIN,
    };
    for glycol in Glycol::ALL {
        let (found, _) = mass(glycol, nothing);
        assert_eq!(found.g(), 0);
    }
}

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn strength_by_mass_and_by_volume_are_two_ways_to_say_one_thing(
        glycol in a_glycol(), f in 0..=1_000_000_i32,
    ) {
        let w = by_mass(glycol, millionths(f));
        prop_assert!(w.millionths() >= f, "both glycols are heavier than water");
        let back = by_volume(glycol, w).millionths();
        prop_assert!((back - f).abs() <= 1, "{back}");
        let other_way = by_volume(glycol, FractionByMass::from_millionths(f).unwrap());
        prop_assert!(other_way.millionths() <= f);
    }

    #[test]
    fn mass_grows_with_volume_and_stays_near_that_of_the_components(
        glycol in a_glycol(), glycol_ml in 0..=1_000_000_000_i64, water_ml in 1..=1_000_000_000_i64,
    ) {
        let components = Components {
            glycol: Volume::from_ml(glycol_ml).unwrap(),
            water: Volume::from_ml(water_ml).unwrap(),
        };
        let (found, _) = mass(glycol, components);
        let least = i128::from(glycol_ml + water_ml) * 990 / 1000;
        let most = i128::from(glycol_ml) * 1126 / 1000 + i128::from(water_ml) * 1010 / 1000 + 1;
        prop_assert!((least..=most).contains(&i128::from(found.g())), "{found}");
    }
}
