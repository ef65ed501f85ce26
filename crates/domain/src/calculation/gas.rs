//! Calculations about the air in a tank and in a system.

use super::fluid::under;
use super::{
    ALTITUDE, Calculation, Dimension, GLYCOL, Given, Input, Problem, STRENGTH, TEMPERATURE, VACUUM,
    Value, Worked, input,
};
use crate::fluid::density;
use crate::fluid::vapour::{boils_at_c, vapour_pressure};
use crate::gas::atmosphere::{SEA_LEVEL, standard};
use crate::gas::decay::{Decay, FINER, OpenTank};
use crate::gas::draw::{Draw, headspace_l};
use crate::gas::fill::{Fill, Limits};
use crate::gas::hold::Hold;
use crate::gas::{Gauge, Vacuum, column_pa};

/// Where a fill does not say what is filled, kg/m³: half and half ethylene glycol near 20 °C.
const USUAL_KG_PER_M3: f64 = 1_075.0;
/// A hold under vacuum wants so much more than the least.
const HOLD_MARGIN: f64 = 1.5;
/// The gauge that a hidden leak is looked for with, psi.
const SMALL_STEP_PSI: f64 = 0.1;

const HEADSPACE: Input = input("headspace_l", Dimension::Volume);
const LIFT: Input = input("lift_m", Dimension::Length);
const DENSITY: Input = input("density_kg_m3", Dimension::Density);
const TANK: Input = input("tank_l", Dimension::Volume);
const LIQUID: Input = input("liquid_l", Dimension::Volume);
const MINUTES: Input = input("minutes", Dimension::Time);

pub(super) const ALL: &[Calculation] = &[
    Calculation {
        name: "isa",
        about: "The standard atmosphere at a height.",
        inputs: &[ALTITUDE],
        outputs: &["p_kpa", "p_inhg", "p_psi"],
        run: isa,
    },
    Calculation {
        name: "vacuum-draw",
        about: "What one pull draws, the air source shut, the unit's cap off.",
        inputs: &[
            TANK,
            LIQUID,
            VACUUM,
            LIFT,
            ALTITUDE,
            GLYCOL,
            STRENGTH,
            TEMPERATURE,
        ],
        outputs: &[
            "p_atm_kpa",
            "density_kg_m3",
            "headspace_l",
            "drawn_l_dry_air",
            "drawn_l_with_vapour",
            "min_vacuum_to_start_inhg",
            "max_lift_m",
            "max_vacuum_before_flash_inhg",
        ],
        run: vacuum_draw,
    },
    Calculation {
        name: "repeated-pulls",
        about: "How many pulls it takes, at sea level.",
        inputs: &[
            HEADSPACE,
            VACUUM,
            LIFT,
            DENSITY,
            input("needed_l", Dimension::Volume),
        ],
        outputs: &[
            "fraction_per_pull",
            "first_pull_l",
            "pulls",
            "total_possible_l",
        ],
        run: repeated_pulls,
    },
    Calculation {
        name: "cap-left-on",
        about: "What comes of a draw with the unit's cap left on, at sea level.",
        inputs: &[
            HEADSPACE,
            VACUUM,
            LIFT,
            DENSITY,
            input("source_air_l", Dimension::Volume),
        ],
        outputs: &[
            "drawn_l_sealed",
            "drawn_l_if_vented",
            "source_vacuum_end_inhg",
        ],
        run: cap_left_on,
    },
    Calculation {
        name: "pressure-fill",
        about: "What one charge pushes over, the air source then shut.",
        inputs: &[
            TANK,
            LIQUID,
            input("charge_psig", Dimension::GaugePressure),
            input("fill_l", Dimension::Volume),
            LIFT,
            ALTITUDE,
        ],
        outputs: &[
            "p_atm_psi",
            "headspace_l",
            "end_psig",
            "end_psig_adiabatic_1_4",
            "min_psig_to_lift",
            "finishes",
            "max_fill_l_one_charge",
            "charge_for_end_10psig",
            "charge_for_end_at_lift",
        ],
        run: pressure_fill,
    },
    Calculation {
        name: "recharges",
        about: "A fill in stages, between pressures that are given.",
        inputs: &[
            HEADSPACE,
            input("fill_l", Dimension::Volume),
            ALTITUDE,
            input("charge_limit_psig", Dimension::GaugePressure),
            input("intermediate_stop_psig", Dimension::GaugePressure),
            input("end_min_psig", Dimension::GaugePressure),
            input("last_end_max_psig", Dimension::GaugePressure),
        ],
        outputs: &[
            "ratio_intermediate",
            "ratio_to_end_min",
            "charges",
            "recharges",
            "first_stage_l",
            "headspace_before_last_l",
            "last_stage_l",
            "last_charge_psig",
            "last_end_psig",
            "single_charge_for_end_min_psig",
        ],
        run: recharges,
    },
    Calculation {
        name: "retrofit-hold",
        about: "Whether a vacuum holds the liquid while a plug is swapped.",
        inputs: &[
            input("column_m", Dimension::Length),
            GLYCOL,
            STRENGTH,
            TEMPERATURE,
            input("system_air_l", Dimension::Volume),
            ALTITUDE,
            VACUUM,
        ],
        outputs: &[
            "density_kg_m3",
            "min_vacuum_inhg",
            "vacuum_inhg_x1_5",
            "holds",
            "boils_at_this_vacuum",
            "air_in_before_loss_l_at_patm",
            "vacuum_at_which_it_boils_inhg",
            "boil_c_at_that_vacuum",
        ],
        run: retrofit_hold,
    },
    Calculation {
        name: "pressure-decay",
        about: "What a pressure test proves, corrected for temperature.",
        inputs: &[
            input("p1_psig", Dimension::GaugePressure),
            input("p2_psig", Dimension::GaugePressure),
            input("t1_c", Dimension::Temperature),
            input("t2_c", Dimension::Temperature),
            input("gas_volume_l", Dimension::Volume),
            MINUTES,
            ALTITUDE,
            input("gauge_resolution_psi", Dimension::PressureStep),
        ],
        outputs: &[
            "p2_corrected_psig",
            "drop_corrected_psi",
            "leak_std_cc_min",
            "leak_ml_min_gas_at_test_p",
            "leak_ml_min_liquid",
            "smallest_leak_std_cc_min",
            "smallest_with_10x_resolution_rule",
            "drop_pct_of_abs",
        ],
        run: pressure_decay,
    },
    Calculation {
        name: "hidden-leak",
        about: "How a leak looks when the tank's air is left open to the system.",
        inputs: &[
            input("system_gas_l", Dimension::Volume),
            input("tank_gas_open_l", Dimension::Volume),
            input("true_leak_std_cc_min", Dimension::LeakRate),
            MINUTES,
        ],
        outputs: &[
            "drop_seen_psi",
            "drop_if_isolated_psi",
            "dilution_factor",
            "visible_on_0_1_psi_gauge",
            "smallest_visible_std_cc_min_0_1psi",
        ],
        run: hidden_leak,
    },
];

fn isa(given: &Given<'_>) -> Worked {
    let found = standard(given.number("altitude_m")?).map_err(Problem::of)?;
    Ok(vec![
        Value::Number(found.kpa()),
        Value::Number(found.inhg()),
        Value::Number(found.psi()),
    ])
}

fn vacuum_draw(given: &Given<'_>) -> Worked {
    let headspace_l = headspace_l(given.number("tank_l")?, given.number("liquid_l")?);
    let headspace_l = headspace_l.map_err(Problem::of)?;
    let outside = standard(given.number("altitude_m")?).map_err(Problem::of)?;
    let (glycol, f) = (given.glycol()?, given.share("vol_fraction")?);
    let t_c = given.number("t_c")?;
    density::check(glycol, t_c, f).map_err(Problem::of)?;
    let density_kg_m3 = density::kg_per_m3(glycol, t_c, f);
    let draw = Draw {
        headspace_l,
        vacuum: Vacuum::from_inhg(given.number("vacuum_inhg")?),
        lift_m: given.number("lift_m")?,
        density_kg_m3,
        atmosphere: outside,
    };
    let vapour = vapour_pressure(glycol, t_c, f);
    // Once it boils, vapour takes the place of what would be drawn: there is no figure any more.
    let boils = draw.vacuum >= vapour.vacuum(outside);
    let with_vapour_l = draw.with_vapour_l(vapour).map_err(Problem::of)?;
    Ok(vec![
        Value::Number(outside.kpa()),
        Value::Number(density_kg_m3),
        Value::Number(headspace_l),
        Value::Number(draw.dry_l().map_err(Problem::of)?),
        Value::of((!boils).then_some(with_vapour_l)),
        Value::Number(draw.least().inhg()),
        Value::Number(draw.max_lift_m()),
        Value::Number(vapour.vacuum(outside).inhg()),
    ])
}

/// A draw at sea level with a density that is given.
fn draw(given: &Given<'_>) -> Result<Draw, Problem> {
    Ok(Draw {
        headspace_l: given.number("headspace_l")?,
        vacuum: Vacuum::from_inhg(given.number("vacuum_inhg")?),
        lift_m: given.number("lift_m")?,
        density_kg_m3: given.number("density_kg_m3")?,
        atmosphere: SEA_LEVEL,
    })
}

fn repeated_pulls(given: &Given<'_>) -> Worked {
    let found = draw(given)?.pulls(given.number("needed_l")?);
    let found = found.map_err(Problem::of)?;
    Ok(vec![
        Value::Number(found.share),
        Value::Number(found.first_l),
        Value::Number(f64::from(found.pulls)),
        Value::Number(found.total_l),
    ])
}

fn cap_left_on(given: &Given<'_>) -> Worked {
    let found = draw(given)?.cap_left_on(given.number("source_air_l")?);
    let found = found.map_err(Problem::of)?;
    Ok(vec![
        Value::Number(found.drawn_l),
        Value::Number(found.vented_l),
        Value::Number(found.unit_vacuum.inhg()),
    ])
}

fn pressure_fill(given: &Given<'_>) -> Worked {
    let liquid_l = given.number("liquid_l")?;
    let headspace_l = headspace_l(given.number("tank_l")?, liquid_l).map_err(Problem::of)?;
    let outside = standard(given.number("altitude_m")?).map_err(Problem::of)?;
    let charge = Gauge::from_psi(given.not_below_0("charge_psig")?);
    let fill = Fill {
        headspace_l,
        fill_l: given.number("fill_l")?,
        atmosphere: outside,
    };
    let least = Gauge(column_pa(USUAL_KG_PER_M3, given.number("lift_m")?));
    let most_l = fill
        .most_l(charge, least)
        .map_err(Problem::of)?
        .min(liquid_l);
    let psi = |gauge: Result<Gauge, _>| gauge.map(Gauge::psi).map_err(Problem::of);
    Ok(vec![
        Value::Number(outside.psi()),
        Value::Number(headspace_l),
        Value::Number(psi(fill.end(charge))?),
        Value::Number(psi(fill.end_when_fast(charge))?),
        Value::Number(least.psi()),
        Value::Flag(fill.fill_l <= most_l),
        Value::Number(most_l),
        Value::Number(psi(fill.charge_to_end_at(Gauge::from_psi(10.0)))?),
        Value::Number(psi(fill.charge_to_end_at(least))?),
    ])
}

fn recharges(given: &Given<'_>) -> Worked {
    let gauge = |column: &str| given.not_below_0(column).map(Gauge::from_psi);
    let fill = Fill {
        headspace_l: given.number("headspace_l")?,
        fill_l: given.number("fill_l")?,
        atmosphere: standard(given.number("altitude_m")?).map_err(Problem::of)?,
    };
    let limits = Limits {
        charge: gauge("charge_limit_psig")?,
        stop: gauge("intermediate_stop_psig")?,
        end_least: gauge("end_min_psig")?,
        end_most: gauge("last_end_max_psig")?,
    };
    let found = fill.recharges(limits).map_err(Problem::of)?;
    let single = fill
        .charge_to_end_at(limits.end_least)
        .map_err(Problem::of)?;
    Ok(vec![
        Value::Number(found.stage_ratio),
        Value::Number(found.last_ratio),
        Value::Number(f64::from(found.recharges) + 1.0),
        Value::Number(f64::from(found.recharges)),
        Value::of(found.first_stage_l),
        Value::Number(found.before_last_l),
        Value::Number(found.last_l),
        Value::Number(found.last_charge.psi()),
        Value::Number(found.last_end.psi()),
        Value::Number(single.psi()),
    ])
}

fn retrofit_hold(given: &Given<'_>) -> Worked {
    let (glycol, f) = (given.glycol()?, given.share("vol_fraction")?);
    let t_c = given.number("t_c")?;
    density::check(glycol, t_c, f).map_err(Problem::of)?;
    let outside = standard(given.number("altitude_m")?).map_err(Problem::of)?;
    let left = under(given, outside)?;
    let hold = Hold {
        column_m: given.number("column_m")?,
        density_kg_m3: density::kg_per_m3(glycol, t_c, f),
        air_l: given.number("system_air_l")?,
        vacuum: left.vacuum(outside),
        atmosphere: outside,
    };
    let swallowed_l = hold.air_before_loss_l().map_err(Problem::of)?;
    let boils_at = boils_at_c(glycol, f, left).map_err(Problem::of)?;
    Ok(vec![
        Value::Number(hold.density_kg_m3),
        Value::Number(hold.least().inhg()),
        Value::Number(HOLD_MARGIN * hold.least().inhg()),
        Value::Flag(hold.holds()),
        Value::Flag(t_c >= boils_at),
        Value::Number(swallowed_l),
        Value::Number(vapour_pressure(glycol, t_c, f).vacuum(outside).inhg()),
        Value::Number(boils_at),
    ])
}

fn pressure_decay(given: &Given<'_>) -> Worked {
    let decay = Decay {
        p1: Gauge::from_psi(given.number("p1_psig")?),
        p2: Gauge::from_psi(given.number("p2_psig")?),
        t1_c: given.number("t1_c")?,
        t2_c: given.number("t2_c")?,
        gas_l: given.number("gas_volume_l")?,
        minutes: given.number("minutes")?,
        atmosphere: standard(given.number("altitude_m")?).map_err(Problem::of)?,
        step: Gauge::from_psi(given.number("gauge_resolution_psi")?),
    };
    let found = decay.work_out().map_err(Problem::of)?;
    Ok(vec![
        Value::Number(found.p2_corrected.psi()),
        Value::Number(found.fall.psi()),
        Value::Number(found.standard_ml_min),
        Value::Number(found.gas_ml_min),
        Value::Number(found.coolant_ml_min),
        Value::Number(found.smallest_ml_min),
        Value::Number(FINER * found.smallest_ml_min),
        Value::Number(found.fall_percent),
    ])
}

fn hidden_leak(given: &Given<'_>) -> Worked {
    let leak = given.not_below_0("true_leak_std_cc_min")?;
    let open = OpenTank {
        system_l: given.number("system_gas_l")?,
        tank_l: given.number("tank_gas_open_l")?,
        minutes: given.number("minutes")?,
    };
    let shut = OpenTank {
        tank_l: 0.0,
        ..open
    };
    let seen = open.fall(leak).map_err(Problem::of)?;
    let step = Gauge::from_psi(SMALL_STEP_PSI);
    Ok(vec![
        Value::Number(seen.psi()),
        Value::Number(shut.fall(leak).map_err(Problem::of)?.psi()),
        Value::Number(open.dilution().map_err(Problem::of)?),
        Value::Flag(seen.0 >= step.0),
        Value::Number(open.smallest_ml_min(step).map_err(Problem::of)?),
    ])
}
