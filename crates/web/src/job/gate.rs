//! The gate before a system is opened: its temperature and its pressure.

use std::collections::BTreeSet;

use domain::gate::{self, Breach};
use domain::job::Job;
use domain::quantity::entry::Typed;
use domain::quantity::{GaugePressure, Temperature, UnitsOfMeasure};

use super::sheet::Parts;
use crate::component::{Caution, QuantityField};
use crate::form::{Form, Offered, Presence};

pub(super) const TEMPERATURE: (&str, &str) =
    ("gate_temperature", "Coolant temperature before opening");
pub(super) const PRESSURE: (&str, &str) = ("gate_pressure", "Gauge pressure before opening");

/// What a gate that was not passed leads to.
const ANYWAY: &str = "choose \"It has already happened\" to log it";

/// Stands before the fields.
pub(super) const LET_IT_COOL: Caution = Caution {
    text: "Let it cool. Key out: the fan can start. A cold system may still hold pressure.",
};

/// What should not be done: it is kept with the job as passed over when it has already happened, and
/// is a problem of its field until then. `why` says what speaks against it and what to do instead.
pub(super) fn has_happened(
    form: &mut Form,
    (name, label): (&str, &str),
    why: &str,
    (breach, breaches): (Breach, &mut BTreeSet<Breach>),
) -> bool {
    breaches.insert(breach);
    let happened = form.ticked("happened");
    if !happened {
        form.note(name, label, format!("{why}, or {ANYWAY}"));
    }
    happened
}

/// The two fields.
#[derive(Clone, Debug)]
pub(super) struct GateFields {
    pub(super) temperature: QuantityField,
    pub(super) pressure: QuantityField,
}

impl GateFields {
    pub(super) fn of(form: &Form, units: UnitsOfMeasure) -> Self {
        let limit = format!("Below {}.", units.temperature(gate::OPEN_BELOW));
        Self {
            temperature: form.quantity_field(TEMPERATURE, Offered::Temperature, units, limit),
            pressure: form.quantity_field(
                PRESSURE,
                Offered::GaugePressure,
                units,
                "0 on the gauge.",
            ),
        }
    }
}

/// What was measured before it was opened, and which gates were passed over.
pub(super) struct Gate {
    pub(super) temperature: Option<Typed<Temperature>>,
    pub(super) pressure: Option<Typed<GaugePressure>>,
    pub(super) breaches: BTreeSet<Breach>,
}

/// Reads the gate. What speaks against opening is a problem of its field, unless it has already
/// happened.
pub(super) fn read(form: &mut Form, units: UnitsOfMeasure) -> Gate {
    let temperature =
        form.quantity::<Temperature>(TEMPERATURE, units.temperature.unit(), Presence::Optional);
    let pressure =
        form.quantity::<GaugePressure>(PRESSURE, units.pressure.unit(), Presence::Optional);
    let unreadable = |form: &Form, named: (&str, &str)| !form.problem_of(named.0).is_empty();
    let mut breaches = gate::opening(
        temperature.as_ref().map(|typed| typed.value),
        pressure.as_ref().map(|typed| typed.value),
    );
    if unreadable(form, TEMPERATURE) || unreadable(form, PRESSURE) {
        // It was measured; what is wrong is how it was typed, and that is said already.
        breaches.retain(|breach| *breach != Breach::GateNotMeasured);
    }
    if !form.ticked("happened") {
        for breach in &breaches {
            note(form, *breach, (&temperature, &pressure), units);
        }
    }
    Gate {
        temperature,
        pressure,
        breaches: breaches.into_iter().collect(),
    }
}

fn note(
    form: &mut Form,
    breach: Breach,
    (temperature, pressure): (&Option<Typed<Temperature>>, &Option<Typed<GaugePressure>>),
    units: UnitsOfMeasure,
) {
    let below = units.temperature(gate::OPEN_BELOW);
    match (breach, temperature, pressure) {
        (Breach::OpenedHot, Some(read), _) => {
            let found = units.temperature(read.value);
            form.note(
                TEMPERATURE.0,
                TEMPERATURE.1,
                format!(
                    "it is {found}, a system is opened only below {below}; let it cool, or {ANYWAY}"
                ),
            );
        }
        (Breach::OpenedUnderPressure, _, Some(read)) => {
            let found = units.gauge_pressure(read.value);
            form.note(
                PRESSURE.0,
                PRESSURE.1,
                format!("it is {found}, a system is opened only at 0; let the pressure off slowly, or {ANYWAY}"),
            );
        }
        (Breach::GateNotMeasured, temperature, pressure) => {
            if temperature.is_none() {
                form.note(
                    TEMPERATURE.0,
                    TEMPERATURE.1,
                    format!("nothing was typed here, and it must be known to be below {below}; measure it, or {ANYWAY}"),
                );
            }
            if pressure.is_none() {
                form.note(
                    PRESSURE.0,
                    PRESSURE.1,
                    format!("nothing was typed here, and it must be known to be 0; read the gauge, or {ANYWAY}"),
                );
            }
        }
        _ => {}
    }
}

impl Gate {
    /// Puts it into the job.
    pub(super) fn into_parts(self, parts: Parts) -> Parts {
        let mut breaches = parts.breaches;
        breaches.extend(self.breaches);
        Parts {
            gate_temperature: self.temperature,
            gate_pressure: self.pressure,
            breaches,
            ..parts
        }
    }
}

/// Puts a recorded gate back.
pub(super) fn refill(form: &mut Form, job: &Job) {
    if let Some(typed) = &job.gate_temperature {
        form.set(TEMPERATURE.0, typed.typed.clone());
    }
    if let Some(typed) = &job.gate_pressure {
        form.set(PRESSURE.0, typed.typed.clone());
    }
}
