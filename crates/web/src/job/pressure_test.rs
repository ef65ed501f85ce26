//! Pressure test: held under pressure to find leaks. What was read is recorded; what it proved is
//! worked out from that whenever it is shown.

use std::collections::BTreeSet;

use askama::Template;
use domain::fleet::Loop;
use domain::gate::{self, Breach};
use domain::job::{Account, Details, Job, JobKind};
use domain::pressure_test::{Between, PressureTest as Recorded};
use domain::quantity::entry::Typed;
use domain::quantity::{GaugePressure, Temperature, Typeable, Unit, UnitsOfMeasure, Volume};

use super::common::{Common, read_loop};
use super::gate::has_happened;
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
const AIR: (&str, &str) = ("gas_volume", "Air in the loop (optional)");
const OPEN: (&str, &str) = ("tank_open", "Cart");
const TANK_AIR: (&str, &str) = ("tank_air", "Air in the cart's tank (optional)");
/// Readings between the start and the end that the page has room for.
const READINGS: usize = 4;
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
    readings: Vec<ReadingFields>,
    end: QuantityField,
    end_temperature: QuantityField,
    step: QuantityField,
    air: QuantityField,
    open: ChoiceField,
    tank_air: QuantityField,
    leak: ChoiceField,
    leak_place: TextField,
    end_caution: Caution,
}

/// One reading between the start and the end.
struct ReadingFields {
    legend: String,
    after: TextField,
    pressure: QuantityField,
    temperature: QuantityField,
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
        Foreseen::Judged
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        // Of several loops each has its own air; what is left empty is then taken from the card.
        if let [only] = ground.loops()
            && let Some(air) = &only.air_space
        {
            form.preset(AIR.0, air.typed.clone());
        }
    }

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
        let readings = read_between(form, units, hold_s);
        let end = form.quantity::<GaugePressure>(END, pressure, Presence::Needed);
        let temperature_end =
            form.quantity::<Temperature>(END_TEMPERATURE, temperature, Presence::Optional);
        let gauge_step = above_0(form, STEP, pressure);
        let gas_volume = above_0(form, AIR, units.volume.unit());
        let tank_open = form.ticked(OPEN.0);
        let tank_air = above_0::<Volume>(form, TANK_AIR, units.volume.unit());
        let leak_class = form.choice(LEAK, &leak::classes(), Presence::Optional);
        let leak_place = form.line(LEAK_PLACE, Presence::Optional);
        let circuit = circuit?;
        let mut pressures = vec![(START, start.as_ref()), (END, end.as_ref())];
        let named = between_names();
        pressures.extend(readings.iter().zip(&named).map(|(reading, named)| {
            let [_, pressure, _] = named;
            (
                (pressure.0.as_str(), pressure.1.as_str()),
                Some(&reading.pressure),
            )
        }));
        let breaches = read_gate(form, (&circuit, units), &pressures);
        Some(Parts {
            place: Some(Account::Loop(circuit.id)),
            details: Some(Details::PressureTest(Box::new(Recorded {
                pressure_start: start?,
                pressure_end: end?,
                temperature_start,
                temperature_end,
                hold_s: hold_s?,
                gauge_step,
                readings,
                gas_volume: gas_volume.or(circuit.air_space),
                tank_open,
                tank_air: tank_air.filter(|_| tank_open),
                leak_class,
                leak_place,
            }))),
            breaches,
            ..Parts::default()
        })
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        let Some(Details::PressureTest(test)) = &job.details else {
            return;
        };
        form.set(START.0, test.pressure_start.typed.clone());
        form.set(END.0, test.pressure_end.typed.clone());
        form.set(HOLD.0, format!("{} s", test.hold_s));
        for (named, typed) in [
            (START_TEMPERATURE, &test.temperature_start),
            (END_TEMPERATURE, &test.temperature_end),
        ] {
            put(form, named.0, typed.as_ref());
        }
        put(form, STEP.0, test.gauge_step.as_ref());
        put(form, AIR.0, test.gas_volume.as_ref());
        put(form, TANK_AIR.0, test.tank_air.as_ref());
        if test.tank_open {
            form.set(OPEN.0, "yes");
        }
        for (reading, [after, pressure, warm]) in test.readings.iter().zip(between_names()) {
            form.set(&after.0, format!("{} s", reading.after_s));
            form.set(&pressure.0, reading.pressure.typed.clone());
            put(form, &warm.0, reading.temperature.as_ref());
        }
        if let Some(class) = test.leak_class {
            form.set(LEAK.0, u8::from(class).to_string());
        }
        if let Some(place) = &test.leak_place {
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
                "Cooling alone makes the gauge fall: without both temperatures the test proves little.",
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
            readings: reading_fields(form, units),
            end: form.quantity_field(END, Offered::GaugePressure, units, ""),
            end_temperature: temperature(END_TEMPERATURE),
            step: form.quantity_field(
                STEP,
                Offered::GaugePressure,
                units,
                "Without it nobody knows what the test could have seen.",
            ),
            air: form.quantity_field(
                AIR,
                Offered::Volume,
                units,
                "Above the coolant, in the surge tank or top tank. With it the test says how much leaks. Left empty, what the unit's card says counts.",
            ),
            open: form.choice_field(
                OPEN,
                "",
                vec![Choice {
                    value: "yes".to_owned(),
                    label: "The air of the cart's tank was left open to the loop".to_owned(),
                    hint: "It hides a leak: shut the cart off before the test.".to_owned(),
                    ..Choice::default()
                }],
                ChoiceLook::AnyOf,
            ),
            tank_air: form.quantity_field(TANK_AIR, Offered::Volume, units, ""),
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
pub(super) fn rating_sentence(circuit: &Loop, ground: &Ground) -> String {
    let of = if ground.loops().len() > 1 {
        format!(" of {}", circuit.name)
    } else {
        String::new()
    };
    match gate::lowest_rating(circuit) {
        Some(rating) => format!(
            "Lowest rated part{of} on record: {}.",
            ground.units().gauge_pressure_at_most(rating)
        ),
        None => format!("No rating{of} on record: not to be planned. Log only what has happened."),
    }
}

fn put<Q>(form: &mut Form, name: &str, typed: Option<&Typed<Q>>) {
    if let Some(typed) = typed {
        form.set(name, typed.typed.clone());
    }
}

/// A quantity of nothing says nothing: a step, an amount of air.
fn above_0<Q: Typeable>(form: &mut Form, named: (&str, &str), unit: Unit<Q>) -> Option<Typed<Q>> {
    let typed = form.quantity::<Q>(named, unit, Presence::Optional)?;
    if typed.value.raw() > 0 {
        return Some(typed);
    }
    form.note(
        named.0,
        named.1,
        format!("{} was typed, it must be above 0", typed.typed),
    );
    None
}

/// Name and label of a field.
type Naming = (String, String);

/// Minutes, pressure and temperature of each reading between.
fn between_names() -> Vec<[Naming; 3]> {
    let name = |n: usize, field: &str, label: &str| {
        (
            format!("between{n}_{field}"),
            format!("Reading {n}: {label}"),
        )
    };
    (1..=READINGS)
        .map(|n| {
            [
                name(n, "after", "minutes after the start"),
                name(n, "pressure", "gauge pressure"),
                name(n, "temperature", "system temperature"),
            ]
        })
        .collect()
}

fn reading_fields(form: &Form, units: UnitsOfMeasure) -> Vec<ReadingFields> {
    let mut all = Vec::new();
    for (at, [after, pressure, warm]) in between_names().iter().enumerate() {
        all.push(ReadingFields {
            legend: format!("Reading {}", at.saturating_add(1)),
            after: hold::field(form, (&after.0, "Minutes after the start")),
            pressure: form.quantity_field(
                (&pressure.0, "Gauge pressure"),
                Offered::GaugePressure,
                units,
                "",
            ),
            temperature: form.quantity_field(
                (&warm.0, "System temperature (optional)"),
                Offered::Temperature,
                units,
                "",
            ),
        });
    }
    all
}

/// Readings between start and end: one that is begun needs its time and its pressure, and they
/// follow one another.
fn read_between(form: &mut Form, units: UnitsOfMeasure, hold_s: Option<i64>) -> Vec<Between> {
    let mut readings: Vec<Between> = Vec::new();
    for [after, pressure, warm] in between_names() {
        let is_begun = [&after.0, &pressure.0, &warm.0]
            .iter()
            .any(|name| !form.typed(name).trim().is_empty());
        let presence = if is_begun {
            Presence::Needed
        } else {
            Presence::Optional
        };
        let after_s = hold::read(form, (&after.0, &after.1), presence);
        let read = form.quantity::<GaugePressure>(
            (&pressure.0, &pressure.1),
            units.pressure.unit(),
            presence,
        );
        let temperature = form.quantity::<Temperature>(
            (&warm.0, &warm.1),
            units.temperature.unit(),
            Presence::Optional,
        );
        let (Some(after_s), Some(read)) = (after_s, read) else {
            continue;
        };
        let before = readings.last().map_or(0, |last| last.after_s);
        if after_s <= before || hold_s.is_some_and(|hold_s| after_s >= hold_s) {
            form.note(
                &after.0,
                &after.1,
                "it does not lie after the reading before it and before the end; put the readings in the order of time",
            );
            continue;
        }
        readings.push(Between {
            after_s,
            pressure: read,
            temperature,
        });
    }
    readings
}

/// A pressure field and what was read from it.
type PressureTyped<'a> = ((&'a str, &'a str), Option<&'a Typed<GaugePressure>>);

/// No pressure above the lowest rated part, and none where no rating is on record, unless it has
/// already happened.
fn read_gate(
    form: &mut Form,
    (circuit, units): (&Loop, UnitsOfMeasure),
    read: &[PressureTyped<'_>],
) -> BTreeSet<Breach> {
    let rating = gate::lowest_rating(circuit);
    for (n, (named, typed)) in read.iter().enumerate() {
        let least_pa = i64::from(n == 0);
        if let Some(typed) = typed.filter(|typed| typed.value.pa() < least_pa) {
            let found = units.gauge_pressure(typed.value);
            let limit = if least_pa > 0 {
                "starts above 0"
            } else {
                "stays at 0 or above"
            };
            form.note(
                named.0,
                named.1,
                format!("{found} was typed, a test {limit}"),
            );
        }
    }
    form.ticked("happened");
    let mut breaches = BTreeSet::new();
    for (named, typed) in read {
        let Some(breach) = typed.and_then(|typed| gate::pressure_on(typed.value, rating)) else {
            continue;
        };
        // One problem is enough for both ends.
        if !breaches.contains(&breach) {
            let found = typed.map_or_else(String::new, |typed| units.gauge_pressure(typed.value));
            let why = match rating {
                Some(rating) => format!(
                    "it is {found}, the lowest rated part on record takes {}; stay below it",
                    units.gauge_pressure_at_most(rating)
                ),
                None => format!(
                    "it is {found}, and no rating is on record for this loop; have it put on the unit's card"
                ),
            };
            has_happened(form, *named, &why, (breach, &mut breaches));
        }
    }
    breaches
}
