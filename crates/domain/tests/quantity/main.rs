//! Quantities: their ranges, what people type, what they see, and the factors between.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers fail their test where they stand"
)]

use std::fmt::Debug;

use domain::quantity::entry::{EntryProblem, Typed, read, read_with_default_unit};
use domain::quantity::format::{
    DecimalMark, DistanceUnit, MassUnit, PressureUnit, TemperatureUnit, UnitsOfMeasure, VacuumUnit,
    VolumeUnit,
};
use domain::quantity::{
    AbsolutePressure, Density, Distance, FractionByMass, FractionByVolume, GaugePressure, Height,
    Mass, RunningTime, Temperature, TemperatureDifference, Typeable, Unit, Vacuum, Volume,
};
use proptest::prelude::*;

mod factors;
mod json;
mod ranges;
mod typed;
mod what_people_see;

/// Failing cases are printed, not kept in files.
fn without_files() -> ProptestConfig {
    ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// The raw integer read from a text that must be readable.
#[track_caller]
fn raw<Q: Typeable>(text: &str) -> i128 {
    match read::<Q>(text) {
        Ok(typed) => typed.value.raw(),
        Err(problem) => panic!("{text:?}: {problem}"),
    }
}

/// The refusal of a text that must not be readable.
#[track_caller]
fn refusal<Q: Typeable>(text: &str) -> EntryProblem {
    match read::<Q>(text) {
        Ok(typed) => panic!("{text:?} was read as {}", typed.value),
        Err(problem) => problem,
    }
}
