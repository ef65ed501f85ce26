//! Before a drain plug is swapped for a quick-disconnect coupling under vacuum.

use domain::job::{JobKind, Planned};
use domain::plan::plug_swap as plan;
use domain::quantity::{Vacuum, Volume};

use super::draw::weight;
use super::given::{self, air, air_in_words, liquid, readout, temperature_field};
use super::{About, Planner, Worked, words};
use crate::component::{Caution, Field, Readout};
use crate::form::{Form, Offered, Presence};
use crate::job::common::read_loop;
use crate::job::ground::Ground;
use crate::job::vessel_choice::{self, Purpose};

pub(super) struct PlugSwap;

const BY: (&str, &str) = ("by", "Which vessel pulls the vacuum?");
const COLUMN: (&str, &str) = ("column", "Coolant's level above the port");
const AIR: (&str, &str) = ("air_space", "Air above the coolant (optional)");
const VACUUM: (&str, &str) = ("vacuum", "Vacuum to pull to (optional)");

impl Planner for PlugSwap {
    fn about(&self) -> About {
        About {
            code: "plug_swap",
            word: "Plan a plug swap",
            question: "What vacuum keeps the coolant in while the port is open?",
            job: JobKind::FitCoupling,
        }
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        given::preset_height(form, COLUMN.0, (1500, ground.units()));
        let circuit = ground.chosen_loop(form).cloned();
        vessel_choice::preset_first(form, BY.0, Purpose::TakesFrom(circuit.as_ref()), ground);
        given::preset_air_space(form, AIR.0, ground);
    }

    fn work_out(&self, form: &mut Form, ground: &Ground) -> Option<Worked> {
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let purpose = Purpose::TakesFrom(circuit.as_ref());
        let by = vessel_choice::read_to_plan(form, BY, purpose, ground);
        let column = given::read_height(form, COLUMN, units);
        if let Some(column) = column
            && column.mm() <= 0
        {
            form.note(
                COLUMN.0,
                COLUMN.1,
                format!("it is {}, it must be above 0", units.height(column)),
            );
        }
        let air_space = form.quantity::<Volume>(AIR, units.volume.unit(), Presence::Optional);
        let temperature = given::read_temperature(form, units);
        let vacuum = form.quantity::<Vacuum>(VACUUM, units.vacuum.unit(), Presence::Optional);
        let (circuit, (vessel, not_offered)) = (circuit?, by?);
        let asked = plan::PlugSwap {
            rated_vacuum: given::tank(&vessel).rated_vacuum,
            column: column?,
            air_space: air_space.map(|typed| typed.value),
            vacuum: vacuum.map(|typed| typed.value),
            liquid: liquid(
                (ground.held_by(circuit.id), circuit.base),
                temperature?,
                ground,
            ),
            air: air(ground),
        };
        Some(tell(&asked, not_offered, ground))
    }

    fn fields(&self, form: &Form, ground: &Ground) -> Vec<Field> {
        let units = ground.units();
        let purpose = Purpose::TakesFrom(ground.chosen_loop(form));
        vec![
            Field::Choice(vessel_choice::field(form, BY, purpose, ground)),
            Field::Quantity(form.quantity_field(
                COLUMN,
                Offered::Height,
                units,
                "From the port up to where the vacuum acts on the coolant.",
            )),
            Field::Quantity(temperature_field(
                form,
                units,
                "Hot coolant boils under vacuum.",
            )),
            Field::Quantity(form.quantity_field(AIR, Offered::Volume, units, "")),
            Field::Quantity(form.quantity_field(
                VACUUM,
                Offered::Vacuum,
                units,
                "Left empty, half as much again as the column needs.",
            )),
        ]
    }
}

fn tell(asked: &plan::PlugSwap, not_offered: Option<String>, ground: &Ground) -> Worked {
    let units = ground.units();
    let found = asked.plan();
    let against = words::all(not_offered, &found.against, units);
    Worked {
        to_be_done: true,
        steps: match found.vacuum.filter(|_| against.is_empty()) {
            Some(vacuum) => vec![
                format!(
                    "Shut the filler, pull the air space to a vacuum of {} and leave the source running.",
                    units.vacuum_at_least(vacuum)
                ),
                "Have the coupling in hand, take the plug out and screw it in at once.".to_owned(),
                "Let air in slowly at the filler, then look for drops.".to_owned(),
            ],
            None => Vec::new(),
        },
        readouts: readouts(asked, &found, ground),
        remarks: vec![
            "That the column is held is needed, not enough: a wide port lets air and coolant pass each other at any vacuum. Have a pan under it.".to_owned(),
        ],
        cautions: vec![
            Caution {
                text: "Eye protection on. Key out: the fan can start. Let it cool.",
            },
            Caution {
                text: "Soft hoses fold under vacuum: the maker's limit for the system comes first.",
            },
        ],
        against,
        planned: Planned {
            vacuum: found.vacuum,
            ..Planned::default()
        },
        fields: found
            .vacuum
            .map(|vacuum| ("vacuum", units.vacuum_at_least(vacuum)))
            .into_iter()
            .collect(),
    }
}

fn readouts(asked: &plan::PlugSwap, found: &plan::Planned, ground: &Ground) -> Vec<Readout> {
    let units = ground.units();
    let given = format!(
        "With a column of {}, coolant of {} and {}.",
        units.height(asked.column),
        weight(asked.liquid.density_kg_m3(), units),
        air_in_words(ground),
    );
    let mut all = vec![
        match asked.vacuum {
            Some(vacuum) => given::entered("Asked for", units.vacuum(vacuum)),
            None => readout(
                "Pull to a vacuum of",
                found
                    .vacuum
                    .map_or_else(|| "none".to_owned(), |vacuum| units.vacuum_at_least(vacuum)),
                vec!["One and a half times what the column needs: our own choice, so that it can swallow some air; never deeper than the tank bears, the air gives and boiling allows.".to_owned()],
            ),
        },
        readout(
            "Runs out below",
            units.vacuum_at_least(found.least),
            vec![
                "ρ g h: the weight of the coolant above the port.".to_owned(),
                given,
                "Source: hydrostatics; the coolant's weight after ASHRAE 2001.".to_owned(),
            ],
        ),
        readout(
            "May swallow",
            found.may_swallow.map_or_else(
                || "not known".to_owned(),
                |volume| format!("{} of air", units.volume(volume)),
            ),
            vec![
                "Vg × (vacuum − ρ g h) ÷ air: with the source shut, so much outside air uses the margin up. Left running, the source takes it away again.".to_owned(),
            ],
        ),
    ];
    if let Some(at) = found.boils_at {
        all.push(readout(
            "Boils there at",
            units.temperature(at),
            vec!["Source: the law of Raoult; DIPPR equation 101 with the coefficients of Perry's handbook, 8th edition.".to_owned()],
        ));
    }
    all
}
