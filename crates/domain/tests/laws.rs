//! What must hold for every figure: nothing is lost, more is never less, what cannot be is refused by
//! name, and no finite figure makes a calculation fall over or answer with what is no number.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers work out what must be possible, and the long run prints what it did"
)]

use domain::calculation::{Calculation, Dimension, Entered, Value, all, find};
use domain::fluid::composition::contraction_percent;
use domain::fluid::density::kg_per_m3;
use domain::fluid::dosing::{Exchange, Hot, Mixed, Portion, Stock, System};
use domain::fluid::dosing::{blend, drain_and_replace, mixed};
use domain::fluid::freeze_point::{
    fraction_at_floor, fraction_at_freeze, fraction_too_strong_at_freeze, freeze_c,
};
use domain::fluid::refractometer::{NoStrength, Read, Reading, shown_on};
use domain::fluid::uncertainty::read_strength;
use domain::fluid::vapour::{boils_at_c, vapour_pressure};
use domain::fluid::{Glycol, STRONGEST};
use domain::gas::atmosphere::standard;
use domain::gas::decay::{Decay, OpenTank};
use domain::gas::draw::Draw;
use domain::gas::fill::{Fill, Limits};
use domain::gas::hold::Hold;
use domain::gas::{Absolute, Gauge, Vacuum};
use proptest::prelude::*;

/// Failing cases are printed, not kept in files.
fn without_files() -> ProptestConfig {
    ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

fn a_glycol() -> impl Strategy<Value = Glycol> {
    prop_oneof![Just(Glycol::Eg), Just(Glycol::Pg)]
}

/// Two numbers of a range, the smaller first, not too near for rounding to tell them apart.
fn two(range: std::ops::Range<f64>) -> impl Strategy<Value = (f64, f64)> {
    let apart = 1e-6 * (range.end - range.start);
    (range.clone(), range)
        .prop_map(|(one, other)| (one.min(other), one.max(other)))
        .prop_filter("they are one", move |(less, more)| more - less > apart)
}

// Freeze point there and back

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn a_freeze_point_comes_back_within_a_billionth(glycol in a_glycol(), part in 0.0..=1.0_f64) {
        let f = part * fraction_at_floor(glycol);
        let t_c = freeze_c(glycol, f);
        let back = fraction_at_freeze(glycol, t_c).unwrap();
        prop_assert!((back - f).abs() < 1e-9, "{f} came back as {back}");
        prop_assert!((freeze_c(glycol, back) - t_c).abs() < 1e-9);
        // Asked the other way round, at a temperature that no share was worked out for.
        let asked_c = part * freeze_c(glycol, STRONGEST);
        let found = fraction_at_freeze(glycol, asked_c).unwrap();
        prop_assert!((freeze_c(glycol, found) - asked_c).abs() < 1e-9);
    }

    /// A freeze test of ethylene glycol has two answers that freeze alike; a refractometer has one.
    #[test]
    fn a_freeze_test_has_two_answers_and_a_refractometer_one(t_c in -48.3..-13.0_f64) {
        let weak = fraction_at_freeze(Glycol::Eg, t_c).unwrap();
        let strong = fraction_too_strong_at_freeze(Glycol::Eg, t_c).unwrap();
        prop_assert!(weak < 0.58 && (0.743..=1.0).contains(&strong), "{weak} {strong}");
        prop_assert!((freeze_c(Glycol::Eg, strong) - t_c).abs() < 1e-9);
        prop_assert_eq!(fraction_too_strong_at_freeze(Glycol::Pg, t_c), None);
        let read = Reading::new(Glycol::Eg, t_c).strength_of(Glycol::Eg);
        match read {
            Ok(Read::Of(read)) => prop_assert!((read.f - weak).abs() < 1e-12),
            other => prop_assert!(false, "{other:?}"),
        }
    }
}

#[test]
fn outside_the_rising_branch_there_is_no_second_answer() {
    for t_c in [-48.31, -12.99, 0.0, 5.0, f64::NAN, f64::NEG_INFINITY] {
        assert_eq!(
            fraction_too_strong_at_freeze(Glycol::Eg, t_c),
            None,
            "{t_c}"
        );
    }
}

// Nothing is lost

/// The glycol in what is shown, L before mixing.
fn glycol_l(glycol: Glycol, shown_l: f64, f: f64) -> f64 {
    f * shown_l / (1.0 + contraction_percent(glycol, f) / 100.0)
}

/// What has been mixed, to be mixed again.
fn poured(of: Mixed) -> Portion {
    Portion {
        shown_l: of.level_l,
        f: of.f,
    }
}

fn a_portion() -> impl Strategy<Value = Portion> {
    (0.0..100.0_f64, 0.0..=1.0_f64).prop_map(|(shown_l, f)| Portion { shown_l, f })
}

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn an_exchange_keeps_all_glycol_and_all_litres(
        capacity_l in 5.0..200.0_f64, filled in 0.3..=1.0_f64, c0 in 0.0..0.7_f64,
        c_refill in 0.0..=1.0_f64, part in 0.0..=1.0_f64,
    ) {
        let present_l = capacity_l * filled;
        let c_target = c0 + part * (c_refill - c0);
        let system = System { capacity_l, present_l, c0, c_target };
        let (kept_l, put_in_l, put_in) = match drain_and_replace(system, c_refill, present_l).unwrap() {
            Exchange::Reached { drain_l, refill_l } => (present_l - drain_l, refill_l, c_refill),
            Exchange::TopUpPasses { c_top_up, top_up_l, .. } => (present_l, top_up_l, c_top_up),
            // The target is the refill's own, but for rounding.
            other => {
                prop_assert!((c_target - c_refill).abs() < 1e-9, "{other:?}");
                return Ok(());
            }
        };
        prop_assert!(kept_l >= -1e-9 && put_in_l >= -1e-9);
        prop_assert!((kept_l + put_in_l - capacity_l).abs() < 1e-9);
        if (c_refill - c0).abs() > 1e-6 {
            let reached = kept_l * c0 + put_in_l * put_in;
            prop_assert!((reached - c_target * capacity_l).abs() < 1e-6, "{reached}");
        }
    }

    #[test]
    fn a_blend_keeps_all_glycol_and_all_litres(
        capacity_l in 5.0..200.0_f64, filled in 0.0..=1.0_f64, drained in 0.0..=1.0_f64,
        c0 in 0.0..0.7_f64, c_target in 0.0..0.7_f64, c_recovered in 0.0..0.7_f64,
        recovered_l in 0.0..100.0_f64, c_concentrate in 0.5..=1.0_f64,
    ) {
        let present_l = capacity_l * filled;
        let drain_l = present_l * drained;
        let system = System { capacity_l, present_l, c0, c_target };
        let found = blend(system, drain_l, Stock { c_recovered, recovered_l, c_concentrate }).unwrap();
        prop_assert!((found.refill_l - (capacity_l - present_l + drain_l)).abs() < 1e-9);
        if let Some([used_l, concentrate_l, water_l]) = found.parts_l {
            prop_assert!(used_l >= 0.0 && concentrate_l >= 0.0 && water_l >= 0.0);
            prop_assert!(used_l <= recovered_l + 1e-9);
            prop_assert!((used_l + concentrate_l + water_l - found.refill_l).abs() < 1e-6);
            let glycol = c0 * (present_l - drain_l) + c_recovered * used_l + c_concentrate * concentrate_l;
            prop_assert!((glycol - c_target * capacity_l).abs() < 1e-6, "{glycol}");
            prop_assert!(c_target <= found.c_most + 1e-6);
        }
    }

    #[test]
    fn mixing_keeps_all_glycol_and_does_not_ask_in_which_order(
        glycol in a_glycol(), one in a_portion(), other in a_portion(), third in a_portion(),
    ) {
        let mix = |portions: &[Portion]| mixed(glycol, portions).unwrap();
        let whole = mix(&[one, other, third]);
        let sum: f64 = [one, other, third].iter().map(|it| glycol_l(glycol, it.shown_l, it.f)).sum();
        prop_assert!((glycol_l(glycol, whole.level_l, whole.f) - sum).abs() < 1e-9);
        for again in [
            mix(&[third, other, one]),
            mix(&[poured(mix(&[one, other])), third]),
            mix(&[one, poured(mix(&[third, other]))]),
        ] {
            prop_assert!((again.level_l - whole.level_l).abs() < 1e-9, "{again:?} {whole:?}");
            prop_assert!((again.f - whole.f).abs() < 1e-9, "{again:?} {whole:?}");
        }
        // None loses more than the curve's deepest point takes, 2.03 %. Weak portions give a little
        // back: measured densities have it as well, since the first glycol in water shrinks least.
        let shown_l = one.shown_l + other.shown_l + third.shown_l;
        prop_assert!((-0.000_6 * shown_l..=0.020_4 * shown_l).contains(&whole.drop_l), "{whole:?}");
        let same = mix(&[one, Portion { f: one.f, ..other }]);
        prop_assert!(same.drop_l.abs() < 1e-9, "like with like does not shrink: {same:?}");
    }

    #[test]
    fn a_hot_litre_keeps_its_mass(
        glycol in a_glycol(), t_c in 0.0..=100.0_f64, f in 0.0..=0.7_f64, l in 0.0..500.0_f64,
    ) {
        let hot = Hot { glycol, t_c, f };
        let cold_l = hot.to_20c_l(l).unwrap();
        let (there, here) = (l * kg_per_m3(glycol, t_c, f), cold_l * kg_per_m3(glycol, 20.0, f));
        prop_assert!((there - here).abs() < 1e-9 * (1.0 + there), "{there} {here}");
        prop_assert!((hot.from_20c_l(cold_l).unwrap() - l).abs() < 1e-9);
    }
}

#[test]
fn a_portion_that_cannot_be_is_refused() {
    let bad = [
        (-1.0, 0.5),
        (f64::NAN, 0.5),
        (f64::INFINITY, 0.5),
        (1.0, 1.1),
        (1.0, f64::NAN),
    ];
    for (shown_l, f) in bad {
        assert!(
            mixed(Glycol::Eg, &[Portion { shown_l, f }]).is_err(),
            "{shown_l} {f}"
        );
    }
    let nothing = mixed(Glycol::Eg, &[]).unwrap();
    assert!(nothing.level_l.abs() < f64::EPSILON && nothing.f.abs() < f64::EPSILON);
    let hot = Hot {
        glycol: Glycol::Eg,
        t_c: 80.0,
        f: 0.5,
    };
    let more = hot.share_after(40.0, 41.0, 1.0).unwrap_err();
    assert_eq!(
        more.to_string(),
        "41 L are to be drained, from 0 to the 40 L in it is possible"
    );
    let boiled = Hot { t_c: 101.0, ..hot }
        .share_after(40.0, 10.0, 1.0)
        .unwrap_err();
    assert_eq!(
        boiled.to_string(),
        "temperature is 101.0 °C, the density curve ends at 100.0 °C"
    );
}

// More is never less

fn a_draw() -> impl Strategy<Value = Draw> {
    (
        5.0..500.0_f64,
        4.0..20.0_f64,
        -1.0..1.0_f64,
        0.0..3_000.0_f64,
    )
        .prop_map(|(headspace_l, inhg, lift_m, altitude_m)| Draw {
            headspace_l,
            vacuum: Vacuum::from_inhg(inhg),
            lift_m,
            density_kg_m3: 1_070.0,
            atmosphere: standard(altitude_m).unwrap(),
        })
}

fn a_fill() -> impl Strategy<Value = Fill> {
    (5.0..200.0_f64, 0.5..200.0_f64, 0.0..3_000.0_f64).prop_map(
        |(headspace_l, fill_l, altitude_m)| Fill {
            headspace_l,
            fill_l,
            atmosphere: standard(altitude_m).unwrap(),
        },
    )
}

fn psi(psi: f64) -> Gauge {
    Gauge::from_psi(psi)
}

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn a_deeper_vacuum_and_a_larger_tank_draw_more(
        draw in a_draw(), (shallow, deep) in two(4.0..20.0), (small, large) in two(5.0..500.0),
        (low, high) in two(-1.0..1.0), vapour_pa in 0.0..5_000.0_f64,
    ) {
        let drawn = |draw: Draw| draw.dry_l().unwrap();
        let at = |inhg| Draw { vacuum: Vacuum::from_inhg(inhg), ..draw };
        prop_assert!(drawn(at(shallow)) < drawn(at(deep)));
        let in_tank = |headspace_l| drawn(Draw { headspace_l, ..draw });
        prop_assert!(in_tank(small) < in_tank(large));
        let lifted = |lift_m| drawn(Draw { lift_m, ..draw });
        prop_assert!(lifted(high) < lifted(low));
        prop_assert!(at(shallow).max_lift_m() < at(deep).max_lift_m());
        prop_assert!(draw.with_vapour_l(Absolute(vapour_pa)).unwrap() >= drawn(draw));
    }

    #[test]
    fn more_needed_takes_no_fewer_pulls_and_a_deeper_vacuum_no_more(
        draw in a_draw(), (less, more) in two(0.01..0.95), (shallow, deep) in two(5.0..20.0),
    ) {
        let pulls = |inhg, part: f64| {
            let draw = Draw { vacuum: Vacuum::from_inhg(inhg), ..draw };
            draw.pulls(part * draw.headspace_l).unwrap().pulls
        };
        prop_assert!(pulls(deep, less) <= pulls(deep, more));
        prop_assert!(pulls(deep, more) <= pulls(shallow, more));
    }

    #[test]
    fn more_air_left_in_a_capped_unit_gives_more(
        draw in a_draw(), (less, more) in two(0.0..50.0),
    ) {
        let sealed = |air_l| draw.cap_left_on(air_l).unwrap();
        prop_assert!(sealed(less).drawn_l <= sealed(more).drawn_l + 1e-9);
        prop_assert!(sealed(more).drawn_l <= sealed(more).vented_l + 1e-9);
        prop_assert!(sealed(more).unit_vacuum.0 <= sealed(less).unit_vacuum.0 + 1e-6);
    }

    #[test]
    fn more_charge_ends_higher_and_more_fill_lower(
        fill in a_fill(), (less, more) in two(5.0..50.0), (small, large) in two(5.0..200.0),
    ) {
        let end = |fill: Fill, charge| fill.end(psi(charge)).unwrap();
        prop_assert!(end(fill, less) < end(fill, more));
        let in_tank = |headspace_l| end(Fill { headspace_l, ..fill }, less);
        prop_assert!(in_tank(small) < in_tank(large));
        let of = |fill_l| end(Fill { fill_l, ..fill }, less);
        prop_assert!(of(large) < of(small));
        prop_assert!(fill.end_when_fast(psi(less)).unwrap() < end(fill, less));
        prop_assert!(fill.most_l(psi(less), psi(2.0)).unwrap() < fill.most_l(psi(more), psi(2.0)).unwrap());
        let slow = fill.charge_to_end_at(psi(less)).unwrap();
        prop_assert!((end(fill, slow.psi()).psi() - less).abs() < 1e-9);
        let fast = fill.charge_to_end_fast_at(psi(less)).unwrap();
        prop_assert!(slow < fast);
        prop_assert!((fill.end_when_fast(fast).unwrap().psi() - less).abs() < 1e-9);
    }

    #[test]
    fn more_to_fill_takes_no_fewer_recharges(
        fill in a_fill(), (less, more) in two(0.5..200.0), (small, large) in two(5.0..200.0),
    ) {
        let recharges = |fill: Fill| {
            let limits = Limits { charge: psi(30.0), stop: psi(10.0), end_least: psi(4.0), end_most: psi(15.0) };
            fill.recharges(limits).unwrap().recharges
        };
        let of = |fill_l| recharges(Fill { fill_l, ..fill });
        prop_assert!(of(less) <= of(more));
        let in_tank = |headspace_l| recharges(Fill { headspace_l, ..fill });
        prop_assert!(in_tank(large) <= in_tank(small));
    }

    #[test]
    fn a_deeper_vacuum_swallows_more_and_a_higher_column_less(
        (shallow, deep) in two(8.0..20.0), (low, high) in two(0.0..2.0), air_l in 0.5..50.0_f64,
    ) {
        let swallows = |inhg, column_m| {
            let atmosphere = standard(0.0).unwrap();
            let hold = Hold { column_m, density_kg_m3: 1_070.0, air_l, vacuum: Vacuum::from_inhg(inhg), atmosphere };
            prop_assert!(hold.holds());
            Ok(hold.air_before_loss_l().unwrap())
        };
        prop_assert!(swallows(shallow, low)? < swallows(deep, low)?);
        prop_assert!(swallows(deep, high)? < swallows(deep, low)?);
    }

    #[test]
    fn a_further_fall_is_a_larger_leak_and_a_longer_test_sees_smaller_ones(
        (less, more) in two(5.0..15.0), (short, long) in two(1.0..60.0), gas_l in 0.2..50.0_f64,
        t1_c in 10.0..40.0_f64, t2_c in 10.0..40.0_f64, altitude_m in 0.0..3_000.0_f64,
    ) {
        let test = |end_psi, minutes| {
            let atmosphere = standard(altitude_m).unwrap();
            let (p1, p2, step) = (psi(15.0), psi(end_psi), psi(0.1));
            Decay { p1, p2, t1_c, t2_c, gas_l, minutes, atmosphere, step }.work_out().unwrap()
        };
        let (far, near) = (test(less, short), test(more, short));
        prop_assert!(far.standard_ml_min > near.standard_ml_min);
        prop_assert!(far.coolant_ml_min > near.coolant_ml_min);
        prop_assert!(far.gas_ml_min > near.gas_ml_min);
        prop_assert!(test(less, long).smallest_ml_min < far.smallest_ml_min);
        // A colder end explains part of the fall.
        prop_assert_eq!(t2_c < t1_c, near.p2_corrected > psi(more));
    }

    #[test]
    fn more_open_air_hides_more(
        system_l in 0.2..50.0_f64, (small, large) in two(0.0..200.0), leak in 0.1..500.0_f64,
    ) {
        let open = |tank_l| OpenTank { system_l, tank_l, minutes: 10.0 };
        prop_assert!(open(large).fall(leak).unwrap() < open(small).fall(leak).unwrap());
        prop_assert!(open(small).dilution().unwrap() < open(large).dilution().unwrap());
        let seen = open(large).fall(leak).unwrap();
        // The leak that moves the gauge as far as this one does is this one.
        prop_assert!((open(large).smallest_ml_min(seen).unwrap() / leak - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_colder_target_needs_more_drained_and_a_stronger_refill_less(
        capacity_l in 5.0..200.0_f64, c0 in 0.0..0.3_f64, (warm, cold) in two(0.30..0.55),
        (weak, strong) in two(0.56..1.0),
    ) {
        let drained = |c_target, c_refill| {
            let system = System { capacity_l, present_l: capacity_l, c0, c_target };
            match drain_and_replace(system, c_refill, capacity_l).unwrap() {
                Exchange::Reached { drain_l, .. } => drain_l,
                other => panic!("{other:?}"),
            }
        };
        prop_assert!(freeze_c(Glycol::Eg, cold) < freeze_c(Glycol::Eg, warm));
        prop_assert!(drained(warm, strong) < drained(cold, strong));
        prop_assert!(drained(cold, strong) < drained(cold, weak));
    }

    #[test]
    fn vapour_rises_with_heat_and_boiling_with_pressure_and_strength(
        glycol in a_glycol(), (cool, hot) in two(-20.0..230.0), (weak, strong) in two(0.0..1.0),
        (less, more) in two(2_000.0..400_000.0), (low, high) in two(-500.0..11_000.0),
    ) {
        prop_assert!(vapour_pressure(glycol, cool, weak) < vapour_pressure(glycol, hot, weak));
        prop_assert!(vapour_pressure(glycol, cool, strong) < vapour_pressure(glycol, cool, weak));
        let boils = |f, pa| boils_at_c(glycol, f, Absolute(pa)).unwrap();
        prop_assert!(boils(weak, less) < boils(weak, more));
        // Stronger than 0.9 some of these pressures lie above the range that is looked at.
        prop_assert!(boils(0.9 * weak, less) < boils(0.9 * strong, less));
        prop_assert!(standard(high).unwrap() < standard(low).unwrap());
    }

    #[test]
    fn a_colder_reading_is_a_stronger_fluid_and_a_worse_instrument_promises_less(
        glycol in a_glycol(), (cold, warm) in two(-48.0..0.0), (fine, coarse) in two(0.0..5.0),
    ) {
        let read = |t_c, half_c| read_strength(glycol, t_c, half_c).unwrap();
        prop_assert!(read(cold, fine).f > read(warm, fine).f);
        let (good, bad) = (read(cold, fine), read(cold, coarse));
        prop_assert!(good.promise_c <= bad.promise_c && good.low >= bad.low);
        prop_assert!(good.standard() < bad.standard() && good.standard() <= good.half_width);
        prop_assert!(good.high.unwrap_or(1.0) <= bad.high.unwrap_or(1.0));
        let at_least = Reading::new(glycol, cold).within_c(fine).at_or_below().strength_of(glycol);
        match at_least.unwrap() {
            Read::AtLeast { f, low, promise_c } => {
                prop_assert!((f - good.f).abs() < 1e-12 && (low - good.low).abs() < 1e-12);
                prop_assert!((promise_c - good.promise_c).abs() < 1e-12);
            }
            other @ Read::Of(_) => prop_assert!(false, "{other:?}"),
        }
    }

    /// What the wrong scale shows of a fluid is taken back to that fluid; propylene glycol bends
    /// light more than ethylene glycol, so it always looks colder there than it is.
    #[test]
    fn the_wrong_scale_is_taken_back_to_what_is_there(weak in 0.05..0.45_f64, more in 0.001..0.05_f64) {
        let other = |fluid| if fluid == Glycol::Eg { Glycol::Pg } else { Glycol::Eg };
        for fluid in Glycol::ALL {
            let shows = |f| shown_on(other(fluid), fluid, f).unwrap();
            let found = Reading::new(other(fluid), shows(weak)).truly(fluid).unwrap();
            prop_assert!((found.f - weak).abs() < 1e-9, "{found:?}");
            prop_assert!((found.freezes_c - freeze_c(fluid, weak)).abs() < 1e-6);
            prop_assert_eq!(found.too_cold_by_c > 0.0, fluid == Glycol::Pg);
            prop_assert!(shows(weak + more) < shows(weak));
            prop_assert!((shown_on(fluid, fluid, weak).unwrap() - freeze_c(fluid, weak)).abs() < 1e-6);
        }
    }
}

// What cannot be is refused

/// 83.5235 kPa are left of the atmosphere at 1600 m (ISO 2533), which is 24.66 inHg.
#[test]
fn twenty_five_inches_at_1600_metres_are_refused_by_name() {
    let eg = Entered::Glycol(Glycol::Eg);
    let numbers = |figures: &[f64]| -> Vec<Entered> {
        figures.iter().map(|it| Entered::Number(*it)).collect()
    };
    let mut draw = numbers(&[100.0, 10.0, 25.0, 1.0, 1_600.0]);
    draw.extend([eg, Entered::Number(0.5), Entered::Number(20.0)]);
    let mut flash = vec![eg];
    flash.extend(numbers(&[0.5, 1_600.0, 25.0]));
    let mut hold = vec![Entered::Number(1.0), eg];
    hold.extend(numbers(&[0.5, 20.0, 5.0, 1_600.0, 25.0]));
    for (name, figures) in [
        ("vacuum-draw", draw),
        ("flash-under-vacuum", flash),
        ("retrofit-hold", hold),
    ] {
        let refused = find(name).unwrap().work_out(&figures).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "a vacuum of 25.00 inHg is deeper than the atmosphere here, 24.66 inHg; \
             that is the most there can be",
            "{name}"
        );
    }
}

#[test]
fn a_reading_that_stands_for_nothing_says_what_to_do() {
    let refused = |reading: Reading| reading.strength_of(Glycol::Eg).unwrap_err().to_string();
    let reads = |t_c| Reading::new(Glycol::Eg, t_c);
    assert_eq!(
        refused(reads(2.0)),
        "the reading is 2.0 °C and nothing with glycol in it freezes above 0.0 °C: \
         set the instrument with clean water and read once more"
    );
    assert_eq!(
        refused(reads(-50.0)),
        "the reading is −50.0 °C and the freeze curve ends at −48.3 °C: \
         give it as \"at or below −48.3 °C\""
    );
    assert!(matches!(
        reads(-50.0).at_or_below().strength_of(Glycol::Eg),
        Ok(Read::AtLeast { .. })
    ));
    assert_eq!(
        refused(reads(-20.0).within_c(-1.0)),
        "the instrument is said to be right within −1.0 °C, which must be 0 °C or more"
    );
    for bad in [
        reads(f64::NAN),
        reads(f64::INFINITY),
        reads(-20.0).within_c(f64::NAN),
    ] {
        refused(bad);
    }
    assert_eq!(
        refused(Reading::new(Glycol::Pg, -20.0)),
        "the scale of propylene glycol was read, and the fluid is ethylene glycol: \
         read the scale of ethylene glycol"
    );
    // The end of the wrong scale has no one counterpart.
    let end = Reading::new(Glycol::Eg, -37.0)
        .at_or_below()
        .truly(Glycol::Pg);
    assert!(
        matches!(end, Err(NoStrength::BeyondIndex { .. })),
        "{end:?}"
    );
}

// A million figures of any kind

/// Splitmix64: the same numbers in every run.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From 0 to 1.
    fn part(&mut self) -> f64 {
        let bits = u32::try_from(self.next() >> 32).unwrap();
        f64::from(bits) / f64::from(u32::MAX)
    }

    fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        let at = self.next() % u64::try_from(all.len()).unwrap();
        *all.get(usize::try_from(at).unwrap()).unwrap()
    }

    /// Any finite number there is, each power of two as often as any other.
    fn any(&mut self) -> f64 {
        loop {
            let number = f64::from_bits(self.next());
            if number.is_finite() {
                return number;
            }
        }
    }
}

/// Where numbers of a kind mostly lie.
fn usual(dimension: Dimension) -> (f64, f64) {
    match dimension {
        Dimension::Glycol => (0.0, 0.0),
        Dimension::Share | Dimension::PressureStep => (0.0, 1.0),
        Dimension::Temperature => (-60.0, 240.0),
        Dimension::TemperatureDifference => (0.0, 5.0),
        Dimension::Volume => (0.0, 120.0),
        Dimension::Length => (-5.0, 4_000.0),
        Dimension::Density => (900.0, 1_200.0),
        Dimension::Vacuum => (0.0, 30.0),
        Dimension::GaugePressure => (0.0, 40.0),
        Dimension::Time => (0.0, 60.0),
        Dimension::LeakRate => (0.0, 500.0),
    }
}

const EXTREMES: [f64; 18] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    0.5,
    0.7,
    100.0,
    f64::MIN_POSITIVE,
    -f64::MIN_POSITIVE,
    5e-324,
    -5e-324,
    f64::EPSILON,
    1.0 - f64::EPSILON,
    f64::MAX,
    f64::MIN,
    1e300,
    -273.15,
    1e-300,
];

fn figures(calculation: &Calculation, numbers: &mut Numbers) -> Vec<Entered> {
    // Half of the rows hold nothing that is far off, or few would be worked out at all.
    let plausible = numbers.part() < 0.5;
    let inputs = calculation.inputs.iter();
    inputs
        .map(|input| {
            if input.dimension == Dimension::Glycol {
                return Entered::Glycol(numbers.one_of(&Glycol::ALL));
            }
            let (least, most) = usual(input.dimension);
            let usual = least + numbers.part() * (most - least);
            let number = match numbers.next() % 8 {
                _ if plausible => usual,
                0 => numbers.any(),
                1 => numbers.one_of(&EXTREMES),
                2 => -usual,
                _ => usual,
            };
            Entered::Number(number)
        })
        .collect()
}

/// A million rows over all calculations; `RANDOM_ROWS` says another number, `LONG_RUNS` asks for a
/// million of each.
#[test]
fn no_finite_figure_makes_a_calculation_fall_over() {
    let calculations = u64::try_from(all().count()).unwrap();
    let asked = std::env::var("RANDOM_ROWS").ok();
    let rows = match asked.map(|rows| rows.parse::<u64>().unwrap()) {
        Some(rows) => rows,
        None if std::env::var_os("LONG_RUNS").is_some() => 1_000_000 * calculations,
        None => 1_000_000,
    };
    let each = rows.div_ceil(calculations);
    let mut numbers = Numbers(4);
    for calculation in all() {
        let mut answered = 0_u64;
        for _ in 0..each {
            let figures = figures(calculation, &mut numbers);
            let Ok(found) = calculation.work_out(&figures) else {
                continue;
            };
            answered += 1;
            assert_eq!(found.len(), calculation.outputs.len());
            for value in &found {
                if let Value::Number(number) = value {
                    let name = calculation.name;
                    assert!(number.is_finite(), "{name}: {figures:?} {found:?}");
                }
            }
        }
        println!("{}: {answered} of {each} answered", calculation.name);
        // Or it would only have been seen how figures are refused.
        assert!(
            answered * 50 > each,
            "{}: {answered} of {each}",
            calculation.name
        );
    }
}
