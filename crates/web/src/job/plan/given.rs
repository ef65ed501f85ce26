//! What plans of every kind are given: the coolant, the air outside, the tank.

use domain::book::outcome::Knowledge;
use domain::condition::Known;
use domain::fleet::{Loop, Vessel};
use domain::gas::Absolute;
use domain::moment::Moment;
use domain::plan::{Liquid, Tank, air_at};
use domain::quantity::rounding::nearest;
use domain::quantity::{
    AbsolutePressure, FractionByVolume, Height, Temperature, UnitsOfMeasure, Volume,
};
use storage::PlaceContents;

use crate::component::{Known as HowKnown, QuantityField, Readout};
use crate::form::{Form, Offered, Presence};
use crate::job::ground::{Ground, KnownVessel};

pub(super) const TEMPERATURE: (&str, &str) = ("temperature", "Coolant temperature");

/// A room's temperature, when nobody says otherwise: 20 °C.
const ROOM: Temperature = match Temperature::from_millicelsius(20_000) {
    Ok(room) => room,
    // Never taken.
    Err(_) => Temperature::MIN,
};

pub(super) fn preset_temperature(form: &mut Form, units: UnitsOfMeasure) {
    preset(form, TEMPERATURE.0, &units.temperature(ROOM));
}

/// A height that somebody has to measure; until then this many millimetres.
pub(super) fn preset_height(form: &mut Form, name: &str, (mm, units): (i32, UnitsOfMeasure)) {
    if let Ok(height) = Height::from_mm(mm) {
        preset(form, name, &units.height(height));
    }
}

/// Presets a quantity as it is shown, its unit in the field's own unit choice.
pub(super) fn preset(form: &mut Form, name: &str, shown: &str) {
    if !form.typed(name).is_empty() {
        return;
    }
    let Some((number, unit)) = shown.split_once(' ') else {
        form.set(name, shown);
        return;
    };
    form.set(name, number);
    form.set(&format!("{name}_unit"), unit);
}

pub(super) fn temperature_field(form: &Form, units: UnitsOfMeasure, hint: &str) -> QuantityField {
    form.quantity_field(TEMPERATURE, Offered::Temperature, units, hint)
}

pub(super) fn read_temperature(form: &mut Form, units: UnitsOfMeasure) -> Option<Temperature> {
    let read = form.quantity(TEMPERATURE, units.temperature.unit(), Presence::Needed)?;
    Some(read.value)
}

pub(super) fn read_height(
    form: &mut Form,
    named: (&str, &str),
    units: UnitsOfMeasure,
) -> Option<Height> {
    let read = form.quantity(named, units.distance.height_unit(), Presence::Needed)?;
    Some(read.value)
}

pub(super) fn known(held: Option<&PlaceContents>, ground: &Ground) -> Option<Known> {
    held.and_then(|held| held.known(Moment(ground.now.timestamp_millis())))
}

/// What is in a place, at a temperature. What nobody knows is taken as half and half of the base on
/// the card: it only weighs and boils here.
pub(super) fn liquid(
    (held, base): (Option<&PlaceContents>, domain::book::component::Base),
    temperature: Temperature,
    ground: &Ground,
) -> Liquid {
    let known = known(held, ground).filter(|known| known.figures.shown_ml > 0);
    let half = FractionByVolume::from_ratio(0.5).unwrap_or(FractionByVolume::MIN);
    match known {
        Some(known) => Liquid {
            glycol: known.chemistry.glycol(),
            strength: fraction(known.figures.fraction_millionths),
            temperature,
        },
        None => Liquid {
            glycol: base.glycol(),
            strength: half,
            temperature,
        },
    }
}

pub(super) fn fraction(millionths: i64) -> FractionByVolume {
    i32::try_from(millionths)
        .ok()
        .and_then(|raw| FractionByVolume::from_millionths(raw).ok())
        .unwrap_or(FractionByVolume::MIN)
}

/// The strength by the book; none where no reading and no label ever told.
pub(super) fn strength(
    held: Option<&PlaceContents>,
    ground: &Ground,
) -> Option<(Known, FractionByVolume)> {
    let known = known(held, ground)?;
    let told = known.figures.shown_ml > 0 && known.figures.knowledge != Knowledge::Assumed;
    told.then(|| (known, fraction(known.figures.fraction_millionths)))
}

/// What a loop holds by the book; what it takes where nobody has opened the book on it.
pub(super) fn present(circuit: &Loop, ground: &Ground) -> Option<Volume> {
    let held = ground.held_by(circuit.id).map(|held| held.shown_ml);
    let by_book = held.and_then(|ml| Volume::from_ml(ml.max(0)).ok());
    by_book.or_else(|| circuit.capacity.as_ref().map(|typed| typed.value))
}

pub(super) fn tank(vessel: &KnownVessel) -> Tank {
    let Vessel {
        capacity,
        fill_limit,
        pressure_vessel,
        ..
    } = &vessel.card;
    let bears = pressure_vessel.clone().unwrap_or_default();
    Tank {
        capacity: capacity.as_ref().map(|typed| typed.value),
        fill_limit: fill_limit.as_ref().map(|typed| typed.value),
        held: Volume::from_ml(vessel.shown_ml().max(0)).ok(),
        rated_vacuum: bears.rated_vacuum,
        mawp: bears.mawp,
        relief_set: bears.relief_set,
    }
}

/// The air outside; that of the sea where a shop stands higher than the standard atmosphere goes.
pub(super) fn air(ground: &Ground) -> Absolute {
    air_at(ground.shop.altitude_m).unwrap_or(domain::gas::atmosphere::SEA_LEVEL)
}

/// "83.5 kPa absolute at 1,600 m".
pub(super) fn air_in_words(ground: &Ground) -> String {
    let air = nearest(air(ground).0)
        .and_then(|pa| AbsolutePressure::from_pa(pa).ok())
        .map_or_else(String::new, |air| ground.units().absolute_pressure(air));
    format!("{air} of air outside at {} m", ground.shop.altitude_m)
}

/// A figure that was typed.
pub(super) fn entered(label: impl Into<String>, figure: impl Into<String>) -> Readout {
    Readout {
        label: label.into(),
        figure: figure.into(),
        spread: String::new(),
        known: HowKnown::Entered,
        worked_out: Vec::new(),
    }
}

/// A figure that was worked out, with how.
pub(super) fn readout(
    label: impl Into<String>,
    figure: impl Into<String>,
    how: Vec<String>,
) -> Readout {
    Readout {
        label: label.into(),
        figure: figure.into(),
        spread: String::new(),
        known: HowKnown::WorkedOut,
        worked_out: how,
    }
}

/// Presets the air above the coolant: what the loop's card says, and what the book has it short.
pub(super) fn preset_air_space(form: &mut Form, name: &str, ground: &Ground) {
    let Some(circuit) = ground.chosen_loop(form) else {
        return;
    };
    let Some(air) = circuit.air_space.as_ref().map(|typed| typed.value.ml()) else {
        return;
    };
    let capacity = circuit.capacity.as_ref().map(|typed| typed.value.ml());
    let held = ground.held_by(circuit.id).map(|held| held.shown_ml);
    let short = capacity
        .zip(held)
        .map_or(0, |(capacity, held)| capacity.saturating_sub(held).max(0));
    if let Ok(air) = Volume::from_ml(air.saturating_add(short)) {
        preset(form, name, &ground.units().volume(air));
    }
}
