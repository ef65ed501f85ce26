//! Before a loop is tested under pressure.

use domain::gate::lowest_rating;
use domain::job::{JobKind, Planned};
use domain::plan::pressure_test as plan;
use domain::quantity::rounding::float;
use domain::quantity::{GaugePressure, TemperatureDifference, UnitsOfMeasure, Volume};

use super::given::{self, air, air_in_words, readout, temperature_field};
use super::{Planner, Worked, words};
use crate::component::{Caution, Field, Readout};
use crate::figure;
use crate::form::{Form, Offered, Presence};
use crate::job::common::read_loop;
use crate::job::ground::Ground;
use crate::job::hold;

pub(super) struct PressureTest;

const PRESSURE: (&str, &str) = ("pressure", "Test pressure (optional)");
const AIR: (&str, &str) = ("air_space", "Air above the coolant (optional)");
const HOLD: (&str, &str) = ("hold", "Held for, minutes");
const STEP: (&str, &str) = ("step", "Smallest step of the gauge");
const TANK_AIR: (&str, &str) = ("tank_air", "Air of a tank left open to it (optional)");

impl Planner for PressureTest {
    fn code(&self) -> &'static str {
        "pressure_test"
    }

    fn word(&self) -> &'static str {
        "Plan a pressure test"
    }

    fn question(&self) -> &'static str {
        "How high may it go, and how small a leak could it see?"
    }

    fn job(&self) -> JobKind {
        JobKind::PressureTest
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        given::preset_temperature(form, ground.units());
        given::preset_air_space(form, AIR.0, ground);
        form.preset(HOLD.0, "10");
    }

    fn work_out(&self, form: &mut Form, ground: &Ground) -> Option<Worked> {
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let unit = units.pressure.unit();
        let pressure = form.quantity::<GaugePressure>(PRESSURE, unit, Presence::Optional);
        let step = form.quantity::<GaugePressure>(STEP, unit, Presence::Needed);
        for (named, typed) in [(PRESSURE, &pressure), (STEP, &step)] {
            if let Some(typed) = typed
                && typed.value.pa() <= 0
            {
                let found = units.gauge_pressure(typed.value);
                form.note(
                    named.0,
                    named.1,
                    format!("it is {found}, it must be above 0"),
                );
            }
        }
        let air_space = form.quantity::<Volume>(AIR, units.volume.unit(), Presence::Optional);
        let tank_air = form.quantity::<Volume>(TANK_AIR, units.volume.unit(), Presence::Optional);
        let hold_s = hold::read(form, HOLD, Presence::Needed);
        let temperature = given::read_temperature(form, units);
        let asked = plan::PressureTest {
            pressure: pressure.map(|typed| typed.value),
            loop_rating: lowest_rating(&circuit?),
            air_space: air_space.map(|typed| typed.value),
            tank_air: tank_air.map(|typed| typed.value),
            minutes: float(hold_s?) / 60.0,
            step: step?.value,
            temperature: temperature?,
            air: air(ground),
        };
        Some(tell(&asked, ground))
    }

    fn fields(&self, form: &Form, ground: &Ground) -> Vec<Field> {
        let units = ground.units();
        vec![
            Field::Quantity(form.quantity_field(
                PRESSURE,
                Offered::GaugePressure,
                units,
                "Left empty, the lowest rated part on record.",
            )),
            Field::Quantity(form.quantity_field(AIR, Offered::Volume, units, "")),
            Field::Text(hold::field(form, HOLD)),
            Field::Quantity(form.quantity_field(STEP, Offered::GaugePressure, units, "")),
            Field::Quantity(temperature_field(form, units, "")),
            Field::Quantity(form.quantity_field(
                TANK_AIR,
                Offered::Volume,
                units,
                "A tank that stays open hides a leak.",
            )),
        ]
    }
}

fn tell(asked: &plan::PressureTest, ground: &Ground) -> Worked {
    let units = ground.units();
    let found = asked.plan();
    let against: Vec<String> = found
        .against
        .iter()
        .map(|each| words::sentence(each, units))
        .collect();
    let mut remarks = Vec::new();
    if asked.air_space.is_none() {
        remarks.push(
            "How much air stands above the coolant is not known: what leak it could see cannot be said."
                .to_owned(),
        );
    }
    if let Some(dilution) = found.dilution {
        remarks.push(format!(
            "With the tank open every leak looks {} times smaller. Shut its valve.",
            figure::decimal(units, dilution, 1)
        ));
    }
    Worked {
        to_be_done: true,
        steps: match found.pressure.filter(|_| against.is_empty()) {
            Some(pressure) => vec![
                format!(
                    "Press it up to {} and shut the supply.",
                    units.gauge_pressure_at_most(pressure)
                ),
                "Wait until the gauge stands still: hoses give, and the air cools down.".to_owned(),
                "Read gauge and temperature, hold, read both again.".to_owned(),
            ],
            None => Vec::new(),
        },
        readouts: readouts(asked, &found, ground),
        remarks,
        cautions: vec![
            Caution {
                text: "Never above the lowest rated part. Eye protection on, stand clear of the cap.",
            },
            Caution {
                text: "Let the pressure off slowly and bleed before unhooking.",
            },
        ],
        against,
        planned: Planned {
            pressure: found.pressure,
            ..Planned::default()
        },
        fields: Vec::new(),
    }
}

/// Coarse enough to show on a gauge: 5 °C, which is 9 °F.
const FIVE_C: TemperatureDifference = match TemperatureDifference::from_millikelvin(5_000) {
    Ok(five) => five,
    // Never taken.
    Err(_) => TemperatureDifference::MAX,
};

fn five_times(of_one: GaugePressure) -> GaugePressure {
    GaugePressure::from_pa(of_one.pa().saturating_mul(5)).unwrap_or(GaugePressure::MAX)
}

fn leak(units: UnitsOfMeasure, sees: plan::Sees) -> String {
    format!("{} mL/min", figure::decimal(units, sees.coolant_ml_min, 1))
}

fn readouts(asked: &plan::PressureTest, found: &plan::Planned, ground: &Ground) -> Vec<Readout> {
    let units = ground.units();
    let none = || "not known".to_owned();
    let given = format!(
        "With {} of air in the loop, {} min, a step of {} and {}.",
        asked
            .air_space
            .map_or_else(none, |volume| units.volume(volume)),
        figure::decimal(units, asked.minutes, 1),
        units.gauge_pressure(asked.step),
        air_in_words(ground),
    );
    let as_air = |sees: plan::Sees| {
        format!(
            "As air that escapes it is {} standard mL/min.",
            figure::decimal(units, sees.air_ml_min, 1)
        )
    };
    let source = "Source: the ideal gas with absolute pressures and kelvin, as in ASTM E2930; standard is 20 °C and 101.325 kPa.".to_owned();
    vec![
        readout(
            "Press up to",
            found
                .pressure
                .map_or_else(|| "none".to_owned(), |pressure| units.gauge_pressure_at_most(pressure)),
            vec!["At most the lowest rated part on record: cap, radiator, heater core.".to_owned()],
        ),
        readout(
            "One step is a leak of",
            found.sees.map_or_else(none, |sees| leak(units, sees)),
            [
                Some("Coolant that leaks below its level while the gauge falls by one step: Vg × (p₁ ÷ p₂ − 1) ÷ t.".to_owned()),
                found.sees.map(as_air),
                Some(given),
                Some(source.clone()),
            ]
            .into_iter()
            .flatten()
            .collect(),
        ),
        readout(
            "To be believed from",
            found
                .sees
                .map_or_else(none, |sees| leak(units, sees.believed())),
            vec![
                "Ten times as much: the gauge should be ten times finer than the leak that is looked for (ASTM E2930).".to_owned(),
                "A longer hold, a finer gauge or less air above the coolant sees a smaller one.".to_owned(),
            ],
        ),
        readout(
            format!("{} colder takes off", units.temperature_difference(FIVE_C)),
            found
                .per_degree
                .map_or_else(none, |of_one| units.gauge_pressure(five_times(of_one))),
            vec![
                "The absolute pressure divided by the temperature in kelvin. Without both temperatures such a fall looks like a leak.".to_owned(),
                source,
            ],
        ),
    ]
}
