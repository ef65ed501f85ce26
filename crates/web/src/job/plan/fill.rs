//! Before coolant is pushed in from below by compressed air.

use domain::fleet::Loop;
use domain::job::{JobKind, Planned};
use domain::plan::fill::{self as plan, FOR_THE_HOSE, Push};
use domain::quantity::{GaugePressure, UnitsOfMeasure, Volume};

use super::draw::weight;
use super::given::{self, air, air_in_words, liquid, preset, readout, tank, temperature_field};
use super::{About, Planner, Worked, words};
use crate::component::{Caution, Choice, ChoiceLook, Field, Readout};
use crate::form::{Form, Offered, Presence};
use crate::job::common::{read_loop, read_volume};
use crate::job::ground::{Ground, KnownVessel};
use crate::job::vessel_choice::{self, Purpose};

pub(super) struct Fill;

const FROM: (&str, &str) = ("source", "Out of which vessel?");
const VOLUME: (&str, &str) = ("volume", "How much is to go in");
const LIFT: (&str, &str) = ("lift", "Filler neck above the tank's outlet");
const MARGIN: (&str, &str) = ("margin", "Kept for hose and fittings");
const REGULATOR: (&str, &str) = ("regulator", "Air supply is set to (optional)");
const FILLER: (&str, &str) = ("filler", "Is the filler open?");

impl Planner for Fill {
    fn about(&self) -> About {
        About {
            code: "fill",
            word: "Plan a fill from below",
            question: "How high is the tank charged, so that it finishes and does not spill?",
            job: JobKind::Fill,
        }
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        let units = ground.units();
        let circuit = ground.chosen_loop(form).cloned();
        let missing = circuit
            .as_ref()
            .and_then(|circuit| missing(circuit, ground));
        // What would be shown as 0.0 L is nothing to be filled in.
        if let Some(missing) = missing.filter(|missing| missing.ml() >= 50) {
            preset(form, VOLUME.0, &units.volume(missing));
        }
        let purpose = Purpose::GivesTo(circuit.as_ref());
        vessel_choice::preset_first(form, FROM.0, purpose, ground);
        given::preset_height(form, LIFT.0, (1500, ground.units()));
        preset(form, MARGIN.0, &units.gauge_pressure(FOR_THE_HOSE));
    }

    fn work_out(&self, form: &mut Form, ground: &Ground) -> Option<Worked> {
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let purpose = Purpose::GivesTo(circuit.as_ref());
        let chosen = vessel_choice::read_to_plan(form, FROM, purpose, ground);
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let lift = given::read_height(form, LIFT, units);
        let unit = units.pressure.unit();
        let margin = form.quantity::<GaugePressure>(MARGIN, unit, Presence::Needed);
        if let Some(typed) = &margin
            && typed.value.pa() < 0
        {
            form.note(MARGIN.0, MARGIN.1, "it must not be below 0");
        }
        let regulator = form.quantity::<GaugePressure>(REGULATOR, unit, Presence::Optional);
        let filler = form.choice(FILLER, &[("open", true), ("shut", false)], Presence::Needed);
        let temperature = given::read_temperature(form, units);
        let (circuit, (vessel, not_offered)) = (circuit?, chosen?);
        let asked = plan::Fill {
            tank: tank(&vessel),
            wanted: volume?.value,
            lift: lift?,
            margin: margin?.value,
            regulator: regulator.map(|typed| typed.value),
            filler_open: filler?,
            missing: missing(&circuit, ground),
            liquid: liquid(
                (vessel.contents.as_ref(), vessel.card.base),
                temperature?,
                ground,
            ),
            air: air(ground),
        };
        Some(tell(&asked, (&vessel, not_offered), ground))
    }

    fn fields(&self, form: &Form, ground: &Ground) -> Vec<Field> {
        let units = ground.units();
        let circuit = ground.chosen_loop(form);
        let holdings = circuit.map_or_else(String::new, |circuit| {
            crate::page::sentence(&ground.holdings(circuit))
        });
        vec![
            Field::Choice(vessel_choice::field(
                form,
                FROM,
                Purpose::GivesTo(circuit),
                ground,
            )),
            Field::Quantity(form.quantity_field(VOLUME, Offered::Volume, units, holdings)),
            Field::Quantity(form.quantity_field(
                LIFT,
                Offered::Height,
                units,
                "Up to the highest point the coolant reaches.",
            )),
            Field::Choice(form.choice_field(
                FILLER,
                "",
                Choice::list(&[("open", "Open"), ("shut", "Shut")]),
                ChoiceLook::OneOf,
            )),
            Field::Quantity(temperature_field(form, units, "")),
            Field::Quantity(form.quantity_field(
                MARGIN,
                Offered::GaugePressure,
                units,
                "So much more than the column of coolant needs. Our own default.",
            )),
            Field::Quantity(form.quantity_field(
                REGULATOR,
                Offered::GaugePressure,
                units,
                "No charge is planned above it.",
            )),
        ]
    }
}

/// What the loop takes and does not hold by the book.
fn missing(circuit: &Loop, ground: &Ground) -> Option<Volume> {
    let capacity = circuit.capacity.as_ref()?.value;
    let held = ground.held_by(circuit.id).map_or(0, |held| held.shown_ml);
    Volume::from_ml(capacity.ml().saturating_sub(held.max(0)).max(0)).ok()
}

fn tell(
    asked: &plan::Fill,
    (vessel, not_offered): (&KnownVessel, Option<String>),
    ground: &Ground,
) -> Worked {
    let units = ground.units();
    let found = asked.plan();
    let against = words::all(not_offered, &found.against, units);
    Worked {
        to_be_done: true,
        steps: match found.push.filter(|_| against.is_empty()) {
            Some(push) => steps(asked, push, (&found, units)),
            None => Vec::new(),
        },
        readouts: readouts(asked, &found, (vessel, ground)),
        remarks: found
            .push
            .filter(|_| found.against.is_empty())
            .map_or_else(Vec::new, |push| remarks(push, &found, units)),
        cautions: vec![
            Caution {
                text: "The last push is air: stand clear of the filler neck, eye protection on. Watch the level, and shut the hose before it stands at the mark.",
            },
            Caution {
                text: "Bleed the tank before unhooking. Compressed air: local codes and the maker's instructions come first.",
            },
        ],
        planned: Planned {
            put_in: Some(asked.wanted),
            charge: found.push.map(Push::first_charge),
            ..Planned::default()
        },
        against,
        fields: vec![
            ("how", "pushed".to_owned()),
            ("source", vessel.card.id.to_string()),
            ("volume", units.volume(asked.wanted)),
        ],
    }
}

fn steps(
    asked: &plan::Fill,
    push: Push,
    (found, units): (&plan::Planned, UnitsOfMeasure),
) -> Vec<String> {
    let p = |of| units.gauge_pressure(of);
    let charge_to = |charge| charge_in_words(charge, found.limit, units);
    match push {
        Push::Once {
            charge, ends_slow, ..
        } => vec![
            format!(
                "Charge the tank to {} with the hose valve shut, then shut the air.",
                charge_to(charge)
            ),
            format!("Open the hose: {} go over.", units.volume(asked.wanted)),
            format!("Up to {} is left in the tank: bleed it down.", p(ends_slow)),
        ],
        Push::InStages {
            charges,
            charge,
            first,
            last_charge,
            ..
        } => vec![
            format!(
                "Charge the tank to {} with the hose valve shut, then shut the air.",
                charge_to(charge)
            ),
            format!(
                "Open the hose until the gauge has fallen to {}: about {} are over. Shut it and charge again.",
                units.gauge_pressure_at_least(found.end_least),
                units.volume(first)
            ),
            format!(
                "It takes {charges} charges, the last one to {}; pushed fast, one more.",
                charge_to(last_charge)
            ),
        ],
    }
}

/// A charge that just does it is shown as no less; one at the limit as no more.
fn charge_in_words(
    charge: GaugePressure,
    limit: Option<GaugePressure>,
    units: UnitsOfMeasure,
) -> String {
    // Wider than one step of what is shown.
    const NEAR_PA: i64 = 1_000;
    let near = limit.is_some_and(|limit| limit.pa().saturating_sub(charge.pa()) < NEAR_PA);
    if near {
        units.gauge_pressure_at_most(charge)
    } else {
        units.gauge_pressure_at_least(charge)
    }
}

/// What the trade would ask next: may it be more, and what if it is pushed fast.
fn remarks(push: Push, found: &plan::Planned, units: UnitsOfMeasure) -> Vec<String> {
    let mut remarks = Vec::new();
    let limit = found
        .limit
        .map_or_else(String::new, |limit| units.gauge_pressure_at_most(limit));
    if let Push::Once {
        charge, ends_fast, ..
    } = push
    {
        if ends_fast < found.end_least {
            remarks.push(
                "Pushed fast it may stop short of the top: let the air warm up for a minute, or charge it again."
                    .to_owned(),
            );
        }
        if found.limit.is_some_and(|limit| charge < limit) {
            remarks.push(format!(
                "It is the least that does it: a higher charge pushes faster and leaves more to bleed down, up to {limit}."
            ));
        }
    }
    remarks
}

fn readouts(
    asked: &plan::Fill,
    found: &plan::Planned,
    (vessel, ground): (&KnownVessel, &Ground),
) -> Vec<Readout> {
    let units = ground.units();
    let p = |of| units.gauge_pressure(of);
    let given = format!(
        "With {} to push, {} of air in {}, a lift of {}, coolant of {}, {} for the hose and {}.",
        units.volume(asked.wanted),
        found
            .headspace
            .map_or_else(|| "an unknown volume".to_owned(), |air| units.volume(air)),
        vessel.card.name,
        units.height(asked.lift),
        weight(asked.liquid.density_kg_m3(), units),
        p(asked.margin),
        air_in_words(ground),
    );
    let source = "Source: the gas laws for dry air; air that expands fast cools and pushes less (exponent 1.4); ISO 2533 for the air outside.".to_owned();
    let (label, charge, ends) = match found.push {
        Some(Push::Once {
            charge,
            ends_fast,
            ends_slow,
        }) => (
            "Charge to",
            charge_in_words(charge, found.limit, units),
            format!("{} to {}", p(ends_fast), p(ends_slow)),
        ),
        Some(Push::InStages { charge, ends, .. }) => (
            "Charge first to",
            charge_in_words(charge, found.limit, units),
            p(ends),
        ),
        None => ("Charge to", "none".to_owned(), "none".to_owned()),
    };
    vec![
        readout(
            label,
            charge,
            vec![
                "(end + air) × ((Vg + V) ÷ Vg)^1.4 − air: so high that even a fast push still reaches the top.".to_owned(),
                given.clone(),
                source.clone(),
            ],
        ),
        readout(
            "Ends at",
            ends,
            vec![
                "Fast: the air stays cold, the least the gauge can show. Slowly: (charge + air) × Vg ÷ (Vg + V) − air, the most; it is to be bled down.".to_owned(),
                given,
                source,
            ],
        ),
        readout(
            "One charge pushes at most",
            found
                .most_at_once
                .map_or_else(|| "none".to_owned(), |volume| units.volume(volume)),
            vec![format!(
                "From the limit down to {}, slowly.",
                p(found.end_least)
            )],
        ),
        readout(
            "Never above",
            found.limit.map_or_else(
                || "not on record".to_owned(),
                |limit| units.gauge_pressure_at_most(limit),
            ),
            vec!["The least of: the tank's rating, 90 % of what its relief valve is set to (from memory), and the air supply.".to_owned()],
        ),
    ]
}
