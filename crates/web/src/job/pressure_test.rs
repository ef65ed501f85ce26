//! Pressure test: held under pressure to find leaks. What was read is recorded; whether it passed is
//! not judged here.

use std::collections::BTreeSet;

use askama::Template;
use domain::fleet::Loop;
use domain::gate::{self, Breach};
use domain::job::{Account, Details, Job, JobKind};
use domain::quantity::entry::Typed;
use domain::quantity::{GaugePressure, Temperature, UnitsOfMeasure};

use super::common::{Common, read_loop};
use super::ground::Ground;
use super::sheet::{DoneOn, Drawn, Foreseen, Parts, Sheet, Steps};
use super::{hold, leak};
use crate::component::{Caution, Choice, ChoiceField, ChoiceLook, QuantityField, TextField, Width};
use crate::desk::Frame;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct PressureTest;

const START: (&str, &str) = ("pressure_start", "Gauge pressure at the start");
const START_TEMPERATURE: (&str, &str) = (
    "temperature_start",
    "System temperature at the start (optional)",
);
const HOLD: (&str, &str) = ("hold", "Held for, minutes");
const HOLD_FROM: &str = "hold_from";
const END: (&str, &str) = ("pressure_end", "Gauge pressure at the end");
const END_TEMPERATURE: (&str, &str) = (
    "temperature_end",
    "System temperature at the end (optional)",
);
const STEP: (&str, &str) = ("gauge_step", "Smallest step of the gauge (optional)");
const LEAK: (&str, &str) = ("leak_class", "Leak seen outside (optional)");
const LEAK_PLACE: (&str, &str) = ("leak_place", "Where was it seen? (optional)");

#[derive(Template)]
#[template(path = "job/pressure_test.html")]
struct Page {
    frame: Frame,
    common: Common,
    caution: Caution,
    /// The lowest rated part of each loop, a sentence each.
    ratings: Vec<String>,
    start: QuantityField,
    start_temperature: QuantityField,
    hold: TextField,
    hold_from: String,
    end: QuantityField,
    end_temperature: QuantityField,
    step: QuantityField,
    leak: ChoiceField,
    leak_place: TextField,
    end_caution: Caution,
}

impl Sheet for PressureTest {
    fn kind(&self) -> JobKind {
        JobKind::PressureTest
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "A unit was held under pressure to find leaks."
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn foreseen(&self) -> Foreseen {
        Foreseen::No
    }

    fn preset(&self, _: &mut Form, _: &Ground) {}

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let pressure = units.pressure.unit();
        let temperature = units.temperature.unit();
        hold::ask_start(form, HOLD_FROM);
        let start = form.quantity::<GaugePressure>(START, pressure, Presence::Needed);
        let temperature_start =
            form.quantity::<Temperature>(START_TEMPERATURE, temperature, Presence::Optional);
        let hold_s = hold::read(form, HOLD, Presence::Needed);
        let end = form.quantity::<GaugePressure>(END, pressure, Presence::Needed);
        let temperature_end =
            form.quantity::<Temperature>(END_TEMPERATURE, temperature, Presence::Optional);
        let gauge_step = read_step(form, units);
        let leak_class = form.choice(LEAK, &leak::classes(), Presence::Optional);
        let leak_place = form.line(LEAK_PLACE, Presence::Optional);
        let circuit = circuit?;
        let breaches = read_gate(
            form,
            (&circuit, units),
            [(START, start.as_ref()), (END, end.as_ref())],
        );
        Some(Parts {
            place: Some(Account::Loop(circuit.id)),
            details: Some(Details::PressureTest {
                pressure_start: start?,
                pressure_end: end?,
                temperature_start,
                temperature_end,
                hold_s: hold_s?,
                gauge_step,
                leak_class,
                leak_place,
            }),
            breaches,
            ..Parts::default()
        })
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        let Some(Details::PressureTest {
            pressure_start,
            pressure_end,
            temperature_start,
            temperature_end,
            hold_s,
            gauge_step,
            leak_class,
            leak_place,
        }) = &job.details
        else {
            return;
        };
        form.set(START.0, pressure_start.typed.clone());
        form.set(END.0, pressure_end.typed.clone());
        form.set(HOLD.0, format!("{hold_s} s"));
        for (named, typed) in [
            (START_TEMPERATURE, temperature_start),
            (END_TEMPERATURE, temperature_end),
        ] {
            if let Some(typed) = typed {
                form.set(named.0, typed.typed.clone());
            }
        }
        if let Some(step) = gauge_step {
            form.set(STEP.0, step.typed.clone());
        }
        if let Some(class) = leak_class {
            form.set(LEAK.0, u8::from(*class).to_string());
        }
        if let Some(place) = leak_place {
            form.set(LEAK_PLACE.0, place.clone());
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let temperature = |named| {
            form.quantity_field(
                named,
                Offered::Temperature,
                units,
                "Without both temperatures nobody can judge the test later.",
            )
        };
        Drawn::from(&Page {
            frame: common.frame.clone(),
            caution: Caution {
                text: "Never above the lowest rated part. Eye protection on, stand clear of the cap.",
            },
            ratings: ground
                .loops()
                .iter()
                .map(|each| rating_sentence(each, ground))
                .collect(),
            start: form.quantity_field(START, Offered::GaugePressure, units, ""),
            start_temperature: temperature(START_TEMPERATURE),
            hold: hold::field(form, HOLD),
            hold_from: form.put_back(HOLD_FROM),
            end: form.quantity_field(END, Offered::GaugePressure, units, ""),
            end_temperature: temperature(END_TEMPERATURE),
            step: form.quantity_field(STEP, Offered::GaugePressure, units, ""),
            leak: form.choice_field(LEAK, "", Choice::list(&leak::choices()), ChoiceLook::OneOf),
            leak_place: form.text_field(LEAK_PLACE, "", Width::Twenty),
            end_caution: Caution {
                text: "Let the pressure off slowly and bleed before unhooking.",
            },
            common,
        })
    }
}

/// "Lowest rated part on record: 103.4 kPa."
fn rating_sentence(circuit: &Loop, ground: &Ground) -> String {
    let of = if ground.loops().len() > 1 {
        format!(" of {}", circuit.name)
    } else {
        String::new()
    };
    match gate::lowest_rating(circuit) {
        Some(rating) => format!(
            "Lowest rated part{of} on record: {}.",
            ground.units().gauge_pressure(rating)
        ),
        None => format!("No rating{of} on record: not to be planned. Log only what has happened."),
    }
}

/// A gauge with a step of nothing shows nothing.
fn read_step(form: &mut Form, units: UnitsOfMeasure) -> Option<Typed<GaugePressure>> {
    let step = form.quantity::<GaugePressure>(STEP, units.pressure.unit(), Presence::Optional)?;
    if step.value.pa() <= 0 {
        let found = units.gauge_pressure(step.value);
        form.note(
            STEP.0,
            STEP.1,
            format!("the step is {found}, it must be above 0"),
        );
        return None;
    }
    Some(step)
}

/// A pressure field and what was read from it.
type PressureTyped<'a> = ((&'a str, &'a str), Option<&'a Typed<GaugePressure>>);

/// No pressure above the lowest rated part, and none where no rating is on record, unless it has
/// already happened.
fn read_gate(
    form: &mut Form,
    (circuit, units): (&Loop, UnitsOfMeasure),
    read: [PressureTyped<'_>; 2],
) -> BTreeSet<Breach> {
    let rating = gate::lowest_rating(circuit);
    for ((named, typed), least_pa) in read.into_iter().zip([1, 0]) {
        if let Some(typed) = typed.filter(|typed| typed.value.pa() < least_pa) {
            let found = units.gauge_pressure(typed.value);
            let limit = if least_pa > 0 {
                "starts above 0"
            } else {
                "ends at 0 or above"
            };
            form.note(
                named.0,
                named.1,
                format!("{found} was typed, a test {limit}"),
            );
        }
    }
    let happened = form.ticked("happened");
    let mut breaches = BTreeSet::new();
    for (named, typed) in read {
        let Some(breach) = typed.and_then(|typed| gate::pressure_on(typed.value, rating)) else {
            continue;
        };
        // One problem is enough for both ends.
        if breaches.insert(breach) && !happened {
            let found = typed.map_or_else(String::new, |typed| units.gauge_pressure(typed.value));
            let why = match rating {
                Some(rating) => format!(
                    "it is {found}, the lowest rated part on record takes {}; stay below it",
                    units.gauge_pressure(rating)
                ),
                None => format!(
                    "it is {found}, and no rating is on record for this loop; have it put on the unit's card"
                ),
            };
            form.note(
                named.0,
                named.1,
                format!("{why}, or tick \"It has already happened\" to log it"),
            );
        }
    }
    breaches
}
