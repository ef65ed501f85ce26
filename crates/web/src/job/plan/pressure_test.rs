//! Before a loop is tested under pressure.

use domain::gas::verdict::{LEAST_HOLD_S, Reason};
use domain::gate::lowest_rating;
use domain::job::{JobKind, Planned};
use domain::plan::pressure_test as plan;
use domain::pressure_test::Tested;
use domain::quantity::rounding::float;
use domain::quantity::{GaugePressure, TemperatureDifference, Volume};

use super::given::{self, air, air_in_words, readout, temperature_field};
use super::{About, Planner, Worked, words};
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
    fn about(&self) -> About {
        About {
            code: "pressure_test",
            word: "Plan a pressure test",
            question: "How high may it go, and how small a leak could it see?",
            job: JobKind::PressureTest,
        }
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
        let circuit = circuit?;
        let known = given::known(ground.held_by(circuit.id), ground);
        let asked = plan::PressureTest {
            pressure: pressure.map(|typed| typed.value),
            of: Tested {
                atmosphere: air(ground),
                rating: lowest_rating(&circuit),
                held: known.map(|known| (known.figures, known.chemistry)),
            },
            air_space: air_space.map(|typed| typed.value),
            tank_air: tank_air.map(|typed| typed.value),
            minutes: float(hold_s?) / 60.0,
            step: step?.value,
            temperature: temperature?,
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
    let against = words::all(None, &found.against, units);
    let mut remarks = Vec::new();
    if asked.air_space.is_none() {
        remarks.push(
            "How much air stands above the coolant is not known: what leak it could see cannot be said."
                .to_owned(),
        );
    }
    match found.falls_short {
        Some(Reason::TooShort) => remarks.push(format!(
            "Hold it for {} min at least: a shorter test is not called tight.",
            figure::decimal(units, LEAST_HOLD_S / 60.0, 0)
        )),
        Some(Reason::TooLow { .. }) => {
            remarks.push("Press it up higher: so low a test is not called tight.".to_owned());
        }
        Some(Reason::TooWarm { .. }) => remarks.push(
            "Above 40 °C vapour adds to the gauge: let it cool, or test the coolant so that it is known."
                .to_owned(),
        ),
        _ => {}
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

/// What a plan tells the cooling of: [`plan::COOLING_C`].
const FIVE_C: TemperatureDifference = match TemperatureDifference::from_millikelvin(5_000) {
    Ok(five) => five,
    // Never taken.
    Err(_) => TemperatureDifference::MAX,
};

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
    let of_one = |ml_min: f64| format!("{} mL/min", figure::decimal(units, ml_min, 1));
    let as_air = |sees: plan::Sees| {
        format!(
            "As air that escapes it is {} standard mL/min.",
            figure::decimal(units, sees.air_ml_min, 1)
        )
    };
    let source = "Source: the ideal gas with absolute pressures and kelvin, as in ASTM E2930; the coolant swells after ASHRAE 2001; standard is 20 °C and 101.325 kPa.".to_owned();
    vec![
        readout(
            "Press up to",
            found
                .pressure
                .map_or_else(|| "none".to_owned(), |pressure| units.gauge_pressure_at_most(pressure)),
            vec!["At most the lowest rated part on record: cap, radiator, heater core.".to_owned()],
        ),
        readout(
            "Smallest leak it sees",
            found
                .sees
                .map_or_else(none, |sees| of_one(sees.coolant_ml_min)),
            [
                Some("Coolant that leaks below its level. What steps of the gauge and both temperatures leave open is told from none only beyond twice its standard uncertainty: Vg × (p₁ ÷ p₂ − 1) ÷ t of such a fall.".to_owned()),
                found.sees.map(as_air),
                Some(given),
                Some(source.clone()),
            ]
            .into_iter()
            .flatten()
            .collect(),
        ),
        readout(
            "Ten steps of the gauge",
            found
                .sees
                .map_or_else(none, |sees| format!("{} of air", of_one(sees.ten_steps_ml_min))),
            vec![
                "Standard mL: the gauge should be ten times finer than the leak that is looked for (ASTM E2930).".to_owned(),
                "A longer hold, a finer gauge or less air above the coolant sees a smaller one.".to_owned(),
            ],
        ),
        readout(
            format!("{} colder takes off", units.temperature_difference(FIVE_C)),
            found
                .cooling
                .map_or_else(none, |pressure| units.gauge_pressure(pressure)),
            vec![
                "The air presses less, and the coolant that shrinks makes it room; hoses take some of that back. Without both temperatures such a fall looks like a leak.".to_owned(),
                source,
            ],
        ),
    ]
}
