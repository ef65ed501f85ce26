//! Calculations about glycol and water.

use super::{
    ALTITUDE, Calculation, Dimension, GLYCOL, Given, Input, Problem, STRENGTH, TEMPERATURE, VACUUM,
    Value, Worked, input,
};
use crate::fluid::composition::{contraction_percent, mass_fraction, mole_fraction};
use crate::fluid::density::{check, expansion_ratio, kg_per_m3};
use crate::fluid::dosing::{self, Exchange, Stock, System};
use crate::fluid::freeze_point::{
    fraction_at_floor, fraction_at_freeze, freeze_c, slope_c_per_fraction,
};
use crate::fluid::vapour::{boils_at_c, vapour_pressure};
use crate::fluid::{Glycol, STRONGEST, pure_curve, uncertainty};
use crate::gas::{Absolute, Gauge, Vacuum, atmosphere};

/// A mixture stronger than this freezes at a higher temperature again (ethylene glycol only).
const RISING_FROM: f64 = 0.744;
/// One pound a US gallon, kg/m³ (NIST SP 811, appendix B.8: 1.198 264 E+02).
const KG_PER_M3_OF_LB_PER_USGAL: f64 = 119.826_4;

fn fahrenheit(t_c: f64) -> f64 {
    t_c * 1.8 + 32.0
}

pub(super) const ALL: &[Calculation] = &[
    Calculation {
        name: "freeze",
        about: "The freeze point of a strength, by the trade's curve.",
        inputs: &[GLYCOL, STRENGTH],
        outputs: &["t_freeze_c", "t_freeze_f", "slope_c_per_pct", "status"],
        run: freeze,
    },
    Calculation {
        name: "freeze-inverse",
        about: "The strength that has a freeze point.",
        inputs: &[GLYCOL, input("t_freeze_c", Dimension::Temperature)],
        outputs: &["vol_fraction", "vol_pct", "status"],
        run: freeze_inverse,
    },
    Calculation {
        name: "freeze-rising-branch",
        about: "Where too strong ethylene glycol freezes: a warning, not a promise.",
        inputs: &[STRENGTH],
        outputs: &["mass_fraction", "t_freeze_c"],
        run: rising_branch,
    },
    Calculation {
        name: "composition",
        about: "Shares by mass and by molecules, shrinking on mixing, the pure glycol's freeze point.",
        inputs: &[GLYCOL, STRENGTH],
        outputs: &[
            "mass_fraction",
            "glycol_mole_fraction",
            "volume_change_on_mixing_pct",
            "pure_curve_freeze_c",
        ],
        run: composition,
    },
    Calculation {
        name: "density",
        about: "The density, and how the volume goes with the temperature.",
        inputs: &[GLYCOL, TEMPERATURE, STRENGTH],
        outputs: &["density_kg_m3", "density_lb_per_usgal", "v_t_over_v_20c"],
        run: density,
    },
    Calculation {
        name: "vapour-pressure",
        about: "The vapour pressure.",
        inputs: &[GLYCOL, STRENGTH, TEMPERATURE],
        outputs: &["p_kpa"],
        run: vapour,
    },
    Calculation {
        name: "boiling",
        about: "Where it boils under a cap, at a height.",
        inputs: &[
            GLYCOL,
            STRENGTH,
            input("cap_psig", Dimension::GaugePressure),
            ALTITUDE,
        ],
        outputs: &["p_abs_kpa", "glycol_mole_fraction", "t_boil_c", "t_boil_f"],
        run: boiling,
    },
    Calculation {
        name: "flash-under-vacuum",
        about: "Where it boils under a vacuum, at a height.",
        inputs: &[GLYCOL, STRENGTH, ALTITUDE, VACUUM],
        outputs: &["p_abs_kpa", "t_boil_c"],
        run: flash,
    },
    Calculation {
        name: "drain-replace",
        about: "What to drain and put in to reach a strength.",
        inputs: &[
            CAPACITY,
            PRESENT,
            input("c0", Dimension::Share),
            input("c_refill", Dimension::Share),
            input("c_target", Dimension::Share),
            input("max_drain_l", Dimension::Volume),
        ],
        outputs: &[
            "drain_l",
            "refill_l",
            "top_up_fraction_needed",
            "exchanges_needed",
            "c_reached",
            "eg_freeze_c_reached",
            "status",
        ],
        run: drain_replace,
    },
    Calculation {
        name: "blend-recovered",
        about: "A refill of recovered coolant, concentrate and water.",
        inputs: &[
            CAPACITY,
            PRESENT,
            input("drain_l", Dimension::Volume),
            input("c0", Dimension::Share),
            input("c_target", Dimension::Share),
            input("c_recovered", Dimension::Share),
            input("recovered_available_l", Dimension::Volume),
            input("c_concentrate", Dimension::Share),
        ],
        outputs: &[
            "refill_l",
            "use_recovered_l",
            "use_concentrate_l",
            "use_water_l",
            "status",
            "c_max_with_this_drain",
        ],
        run: blend_recovered,
    },
    Calculation {
        name: "uncertainty-reading",
        about: "How sure a strength is that was read as a freeze point.",
        inputs: &[
            GLYCOL,
            input("reading_c", Dimension::Temperature),
            input("half_width_c", Dimension::TemperatureDifference),
        ],
        outputs: &[
            "vol_pct",
            "slope_c_per_pct",
            "vol_pct_half_width_linear",
            "vol_pct_low",
            "vol_pct_high",
            "protection_to_promise_c",
        ],
        run: uncertainty_reading,
    },
    Calculation {
        name: "uncertainty-dose",
        about: "How sure the freeze point is after an exchange.",
        inputs: &[
            GLYCOL,
            CAPACITY,
            input("exchange_l", Dimension::Volume),
            input("reading_c", Dimension::Temperature),
            input("u_reading_c", Dimension::TemperatureDifference),
            input("c_refill", Dimension::Share),
            input("u_c_refill", Dimension::Share),
            input("u_exchange_l", Dimension::Volume),
            input("u_capacity_l", Dimension::Volume),
        ],
        outputs: &[
            "c0_pct",
            "u_c0_pct",
            "c_end_pct",
            "u_c_end_pct",
            "freeze_c",
            "u_freeze_c",
            "U_freeze_k2_c",
            "promise_c",
        ],
        run: uncertainty_dose,
    },
];

const CAPACITY: Input = input("capacity_l", Dimension::Volume);
const PRESENT: Input = input("present_l", Dimension::Volume);

fn freeze(given: &Given<'_>) -> Worked {
    let (glycol, f) = (given.glycol()?, given.share("vol_fraction")?);
    let t_c = freeze_c(glycol, f);
    let on_curve = f <= fraction_at_floor(glycol);
    let status = if on_curve {
        "table"
    } else if glycol == Glycol::Eg && f > RISING_FROM {
        "rising: too strong, a warning only"
    } else {
        "floor: at or below"
    };
    let slope = on_curve.then(|| slope_c_per_fraction(glycol, f) / 100.0);
    Ok(vec![
        Value::Number(t_c),
        Value::Number(fahrenheit(t_c)),
        Value::of(slope),
        Value::text(status),
    ])
}

fn freeze_inverse(given: &Given<'_>) -> Worked {
    let (glycol, t_c) = (given.glycol()?, given.number("t_freeze_c")?);
    if t_c > 0.0 {
        return Err(Problem(format!(
            "t_freeze_c is {t_c}: water freezes at 0 °C and no mixture above it; look at the reading once more"
        )));
    }
    let found = fraction_at_freeze(glycol, t_c);
    let status = match found {
        Some(_) => "ok".to_owned(),
        None => format!(
            "below floor: fraction at or above {:.3}, not unique",
            fraction_at_floor(glycol)
        ),
    };
    Ok(vec![
        Value::of(found),
        Value::of(found.map(|f| 100.0 * f)),
        Value::Text(status),
    ])
}

fn rising_branch(given: &Given<'_>) -> Worked {
    let f = given.share("vol_fraction")?;
    if f < STRONGEST {
        return Err(Problem(format!(
            "vol_fraction is {f}: the rising branch is asked about from {STRONGEST} on; below, ask for freeze"
        )));
    }
    Ok(vec![
        Value::Number(mass_fraction(Glycol::Eg, f)),
        Value::Number(freeze_c(Glycol::Eg, f)),
    ])
}

fn composition(given: &Given<'_>) -> Worked {
    let (glycol, f) = (given.glycol()?, given.share("vol_fraction")?);
    Ok(vec![
        Value::Number(mass_fraction(glycol, f)),
        Value::Number(mole_fraction(glycol, f)),
        Value::Number(contraction_percent(glycol, f)),
        Value::of(pure_curve::freeze_c(glycol, f)),
    ])
}

fn density(given: &Given<'_>) -> Worked {
    let (glycol, t_c) = (given.glycol()?, given.number("t_c")?);
    let f = given.share("vol_fraction")?;
    check(glycol, t_c, f).map_err(Problem::of)?;
    let found = kg_per_m3(glycol, t_c, f);
    let ratio = expansion_ratio(glycol, t_c, f).map_err(Problem::of)?;
    Ok(vec![
        Value::Number(found),
        Value::Number(found / KG_PER_M3_OF_LB_PER_USGAL),
        Value::Number(ratio),
    ])
}

fn vapour(given: &Given<'_>) -> Worked {
    // Outside this the equations of the pure parts are not meant to be used, °C.
    const RANGE_C: std::ops::RangeInclusive<f64> = -20.0..=230.0;
    let (glycol, f) = (given.glycol()?, given.share("vol_fraction")?);
    let t_c = given.number("t_c")?;
    if !RANGE_C.contains(&t_c) {
        return Err(Problem(format!(
            "t_c is {t_c}; the vapour pressure is known from −20 to 230 °C"
        )));
    }
    Ok(vec![Value::Number(vapour_pressure(glycol, t_c, f).kpa())])
}

fn boiling(given: &Given<'_>) -> Worked {
    let (glycol, f) = (given.glycol()?, given.share("vol_fraction")?);
    let cap = Gauge::from_psi(given.not_below_0("cap_psig")?);
    let outside = atmosphere::standard(given.number("altitude_m")?).map_err(Problem::of)?;
    let pressure = cap.absolute(outside);
    let t_c = boils_at_c(glycol, f, pressure).map_err(Problem::of)?;
    Ok(vec![
        Value::Number(pressure.kpa()),
        Value::Number(mole_fraction(glycol, f)),
        Value::Number(t_c),
        Value::Number(fahrenheit(t_c)),
    ])
}

fn flash(given: &Given<'_>) -> Worked {
    let (glycol, f) = (given.glycol()?, given.share("vol_fraction")?);
    let outside = atmosphere::standard(given.number("altitude_m")?).map_err(Problem::of)?;
    let pressure = under(given, outside)?;
    let t_c = boils_at_c(glycol, f, pressure).map_err(Problem::of)?;
    Ok(vec![Value::Number(pressure.kpa()), Value::Number(t_c)])
}

/// The absolute pressure under the vacuum that was given.
pub(super) fn under(given: &Given<'_>, outside: Absolute) -> Result<Absolute, Problem> {
    let vacuum = Vacuum::from_inhg(given.not_below_0("vacuum_inhg")?);
    vacuum.left(outside).map_err(Problem::of)
}

fn system(given: &Given<'_>) -> Result<System, Problem> {
    Ok(System {
        capacity_l: given.number("capacity_l")?,
        present_l: given.number("present_l")?,
        c0: given.share("c0")?,
        c_target: given.share("c_target")?,
    })
}

fn drain_replace(given: &Given<'_>) -> Worked {
    let system = system(given)?;
    let c_refill = given.share("c_refill")?;
    let max_drain_l = given.not_below_0("max_drain_l")?;
    let found = dosing::drain_and_replace(system, c_refill, max_drain_l.min(system.present_l));
    let (drain_l, refill_l, top_up, exchanges, c_reached, status) =
        match found.map_err(Problem::of)? {
            Exchange::Reached { drain_l, refill_l } => (
                Some(drain_l),
                Some(refill_l),
                None,
                None,
                system.c_target,
                "ok",
            ),
            Exchange::TopUpPasses {
                c_top_up,
                top_up_l,
                c_reached,
            } => (
                Some(0.0),
                Some(top_up_l),
                Some(c_top_up),
                None,
                c_reached,
                "top-up alone passes the target: blend the top-up",
            ),
            Exchange::Repeated {
                drain_l,
                c_reached,
                exchanges,
            } => (
                Some(drain_l),
                None,
                None,
                exchanges.map(f64::from),
                c_reached,
                "unreachable in one exchange: drain limit",
            ),
            Exchange::Unreachable { c_reached } => (
                None,
                None,
                None,
                None,
                c_reached,
                "unreachable: target outside [c0,cr]",
            ),
        };
    Ok(vec![
        Value::of(drain_l),
        Value::of(refill_l),
        Value::of(top_up),
        Value::of(exchanges),
        Value::Number(c_reached),
        Value::Number(freeze_c(Glycol::Eg, c_reached)),
        Value::text(status),
    ])
}

fn blend_recovered(given: &Given<'_>) -> Worked {
    let stock = Stock {
        c_recovered: given.share("c_recovered")?,
        recovered_l: given.not_below_0("recovered_available_l")?,
        c_concentrate: given.share("c_concentrate")?,
    };
    let drain_l = given.not_below_0("drain_l")?;
    let found = dosing::blend(system(given)?, drain_l, stock).map_err(Problem::of)?;
    let part = |at: usize| Value::of(found.parts_l.and_then(|parts| parts.get(at).copied()));
    let status = if found.parts_l.is_some() {
        "ok"
    } else {
        "unreachable"
    };
    Ok(vec![
        Value::Number(found.refill_l),
        part(0),
        part(1),
        part(2),
        Value::text(status),
        Value::Number(found.c_most),
    ])
}

fn uncertainty_reading(given: &Given<'_>) -> Worked {
    let (reading_c, half_width_c) = (
        given.number("reading_c")?,
        given.not_below_0("half_width_c")?,
    );
    let found = uncertainty::read_strength(given.glycol()?, reading_c, half_width_c);
    let found = found.map_err(Problem::of)?;
    let percent = |f: f64| 100.0 * f;
    Ok(vec![
        Value::Number(percent(found.f)),
        Value::Number(found.slope_c.abs() / 100.0),
        Value::Number(percent(found.half_width)),
        Value::Number(percent(found.low)),
        Value::of(found.high.map(percent)),
        Value::Number(found.promise_c),
    ])
}

fn uncertainty_dose(given: &Given<'_>) -> Worked {
    let of = uncertainty::Exchange {
        capacity_l: given.above_0("capacity_l")?,
        u_capacity_l: given.not_below_0("u_capacity_l")?,
        exchange_l: given.not_below_0("exchange_l")?,
        u_exchange_l: given.not_below_0("u_exchange_l")?,
        reading_c: given.number("reading_c")?,
        u_reading_c: given.not_below_0("u_reading_c")?,
        c_refill: given.share("c_refill")?,
        u_c_refill: given.not_below_0("u_c_refill")?,
    };
    if of.exchange_l > of.capacity_l {
        return Err(Problem(format!(
            "exchange_l is {}, more than the {} L there are",
            of.exchange_l, of.capacity_l
        )));
    }
    let found = uncertainty::exchange(given.glycol()?, of).map_err(Problem::of)?;
    Ok(vec![
        Value::Number(100.0 * found.c0),
        Value::Number(100.0 * found.u_c0),
        Value::Number(100.0 * found.c_end),
        Value::Number(100.0 * found.u_c_end),
        Value::Number(found.freeze_c),
        Value::of(found.u_freeze_c),
        Value::of(found.expanded_c()),
        Value::Number(found.promise_c),
    ])
}
