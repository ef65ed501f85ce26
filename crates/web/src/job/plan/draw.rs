//! Before coolant is drawn into a cart by vacuum.

use domain::condition::capacity::DrainMethod;
use domain::fleet::Loop;
use domain::job::{JobKind, Planned};
use domain::plan::draw as plan;
use domain::quantity::rounding::nearest;
use domain::quantity::{Density, UnitsOfMeasure, Vacuum};

use super::given::{self, air, air_in_words, liquid, preset, readout, tank, temperature_field};
use super::{About, Planner, Worked, words};
use crate::component::{Caution, Field, Readout};
use crate::form::{Form, Offered, Presence};
use crate::job::common::{read_loop, read_volume};
use crate::job::ground::{Ground, KnownVessel};
use crate::job::vessel_choice::{self, Purpose};

pub(super) struct Draw;

const TO: (&str, &str) = ("to", "Into which vessel?");
const VOLUME: (&str, &str) = ("volume", "How much is to come out");
const LIFT: (&str, &str) = ("lift", "Tank's inlet above the level when all is out");
const VACUUM: (&str, &str) = ("vacuum", "Vacuum to pull to (optional)");

impl Planner for Draw {
    fn about(&self) -> About {
        About {
            code: "draw",
            word: "Plan a draw",
            question: "How deep a vacuum, how many pulls, and does it fit?",
            job: JobKind::Recover,
        }
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        let units = ground.units();
        let circuit = ground.chosen_loop(form).cloned();
        if let Some(volume) = circuit
            .as_ref()
            .and_then(|circuit| given::present(circuit, ground))
        {
            preset(form, VOLUME.0, &units.volume(volume));
        }
        let purpose = Purpose::TakesFrom(circuit.as_ref());
        vessel_choice::preset_first(form, TO.0, purpose, ground);
        given::preset_height(form, LIFT.0, (1000, ground.units()));
    }

    fn work_out(&self, form: &mut Form, ground: &Ground) -> Option<Worked> {
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let purpose = Purpose::TakesFrom(circuit.as_ref());
        let chosen = vessel_choice::read_to_plan(form, TO, purpose, ground);
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let lift = given::read_height(form, LIFT, units);
        let temperature = given::read_temperature(form, units);
        let vacuum = form.quantity::<Vacuum>(VACUUM, units.vacuum.unit(), Presence::Optional);
        let (circuit, (vessel, not_offered)) = (circuit?, chosen?);
        let asked = plan::Draw {
            tank: tank(&vessel),
            wanted: volume?.value,
            vacuum: vacuum.map(|typed| typed.value),
            lift: lift?,
            liquid: liquid(
                (ground.held_by(circuit.id), circuit.base),
                temperature?,
                ground,
            ),
            air: air(ground),
        };
        Some(tell(&asked, (&circuit, &vessel, not_offered), ground))
    }

    fn fields(&self, form: &Form, ground: &Ground) -> Vec<Field> {
        let units = ground.units();
        let circuit = ground.chosen_loop(form);
        let holdings = circuit.map_or_else(String::new, |circuit| {
            crate::page::sentence(&ground.holdings(circuit))
        });
        let likely = ground.likely_in_words(DrainMethod::Vacuum);
        let holdings = format!("{holdings} {likely}");
        vec![
            Field::Choice(vessel_choice::field(
                form,
                TO,
                Purpose::TakesFrom(circuit),
                ground,
            )),
            Field::Quantity(form.quantity_field(VOLUME, Offered::Volume, units, holdings.trim())),
            Field::Quantity(form.quantity_field(
                LIFT,
                Offered::Height,
                units,
                "Measure it; 0 where the tank stands lower.",
            )),
            Field::Quantity(temperature_field(
                form,
                units,
                "Measure it: hot coolant boils under vacuum.",
            )),
            Field::Quantity(form.quantity_field(
                VACUUM,
                Offered::Vacuum,
                units,
                "Left empty, the least that does it in one pull.",
            )),
        ]
    }
}

fn tell(
    asked: &plan::Draw,
    (circuit, vessel, not_offered): (&Loop, &KnownVessel, Option<String>),
    ground: &Ground,
) -> Worked {
    let units = ground.units();
    let found = asked.plan();
    let against = words::all(not_offered, &found.against, units);
    let planned = Planned {
        out: Some(asked.wanted),
        vacuum: found.vacuum,
        ..Planned::default()
    };
    Worked {
        to_be_done: true,
        steps: if against.is_empty() {
            steps(asked, &found, units)
        } else {
            Vec::new()
        },
        readouts: readouts(asked, &found, (vessel, ground)),
        remarks: remarks(asked, &found, (circuit, ground)),
        cautions: vec![
            Caution {
                text: "Filler open before the vacuum goes on: with it shut little is drawn, and hoses and radiator take the vacuum.",
            },
            Caution {
                text: "Key out: the fan can start. Never to a drain, the ground or a septic tank.",
            },
        ],
        against,
        planned,
        fields: vec![
            ("to", vessel.card.id.to_string()),
            ("volume", units.volume(asked.wanted)),
        ],
    }
}

fn steps(asked: &plan::Draw, found: &plan::Planned, units: UnitsOfMeasure) -> Vec<String> {
    let Some(vacuum) = found.vacuum else {
        return Vec::new();
    };
    let (vacuum, wanted) = (units.vacuum_at_least(vacuum), units.volume(asked.wanted));
    match found.pulls {
        Some(1) => vec![
            format!("Pull the tank to a vacuum of {vacuum} with the hose valve shut."),
            format!("Shut the source and open the hose: what is stored draws all {wanted}."),
        ],
        Some(pulls) => vec![
            format!("Pull the tank to a vacuum of {vacuum} with the hose valve shut."),
            "Shut the source and open the hose until it stops.".to_owned(),
            format!(
                "Shut the hose and pull again, {pulls} times in all; or leave the source running."
            ),
        ],
        None => vec![
            format!(
                "Pull the tank to a vacuum of {vacuum} and leave the source running until all {wanted} are over."
            ),
            format!(
                "It goes on as long as the gauge shows more than {}.",
                units.vacuum_at_least(found.least)
            ),
        ],
    }
}

const PULL_TO: &str = "Pull to a vacuum of";

fn readouts(
    asked: &plan::Draw,
    found: &plan::Planned,
    (vessel, ground): (&KnownVessel, &Ground),
) -> Vec<Readout> {
    let units = ground.units();
    let given = format!(
        "With {} to draw, {} of air in {}, a lift of {}, coolant of {} and {}.",
        units.volume(asked.wanted),
        found
            .headspace
            .map_or_else(|| "an unknown volume".to_owned(), |air| units.volume(air)),
        vessel.card.name,
        units.height(asked.lift),
        weight(asked.liquid.density_kg_m3(), units),
        air_in_words(ground),
    );
    let boyle = "Source: the law of Boyle and Mariotte for dry air in the tank; ISO 2533 for the air outside; the coolant's weight after ASHRAE 2001.".to_owned();
    let none = || "none".to_owned();
    let pull_to = match (asked.vacuum, found.in_one_pull) {
        (Some(vacuum), _) => given::entered("Asked for", units.vacuum(vacuum)),
        (None, Some(vacuum)) => readout(
            PULL_TO,
            units.vacuum_at_least(vacuum),
            vec![
                "The least that does it in one pull. What lifts the coolant, and the part of the remaining air that the drawn volume takes of the tank's air: ρ g h + V ÷ Vg × (air − ρ g h).".to_owned(),
                given.clone(),
                boyle.clone(),
            ],
        ),
        (None, None) => readout(
            PULL_TO,
            found.deepest.map_or_else(none, |vacuum| units.vacuum_at_most(vacuum)),
            vec!["The deepest there may be here: no vacuum draws it in one pull.".to_owned()],
        ),
    };
    let mut all = vec![
        pull_to,
        readout(
            "One pull draws",
            found
                .one_pull_draws
                .map_or_else(none, |volume| units.volume(volume)),
            vec![
                "Vg × (vacuum − ρ g h) ÷ (air − ρ g h), with the source shut; vapour makes it somewhat more.".to_owned(),
                given,
                boyle,
            ],
        ),
    ];
    all.push(readout(
        "Deepest vacuum here",
        found.deepest.map_or_else(none, |vacuum| units.vacuum_at_most(vacuum)),
        vec![
            "The least of three: what the tank bears by its card, all the air there is at this height, and 10 °C short of boiling.".to_owned(),
        ],
    ));
    if let Some(at) = found.boils_at {
        all.push(readout(
            "Boils there at",
            units.temperature(at),
            vec![
                "Where the vapour of water and glycol, each by its share of the molecules, reaches what the vacuum leaves of the air.".to_owned(),
                "Source: the law of Raoult; DIPPR equation 101 with the coefficients of Perry's handbook, 8th edition. Within 1.7 °C of measured tables up to 60 %.".to_owned(),
            ],
        ));
    }
    if let Some(free) = found.free {
        all.push(readout(
            format!("Free in {}", vessel.card.name),
            units.volume(free),
            vec!["Its fill limit less what it holds by the book.".to_owned()],
        ));
    }
    all
}

fn remarks(
    asked: &plan::Draw,
    found: &plan::Planned,
    (circuit, ground): (&Loop, &Ground),
) -> Vec<String> {
    let units = ground.units();
    let mut remarks = vec![format!(
        "Open it only below {}, at 0 on the gauge.",
        units.temperature(found.open_below)
    )];
    if let (None, Some(_), Some(deepest)) = (asked.vacuum, found.in_one_pull, found.deepest) {
        remarks.push(format!(
            "It is the least that does it: a deeper vacuum draws faster and leaves a reserve, up to {} here.",
            units.vacuum_at_most(deepest)
        ));
    }
    if let Some(present) = given::present(circuit, ground)
        && asked.wanted.ml() > present.ml().saturating_add(50)
    {
        remarks.push(format!(
            "The book has {} in it: the rest would be air.",
            units.volume(present)
        ));
    }
    remarks
}

pub(super) fn weight(kg_per_m3: f64, units: UnitsOfMeasure) -> String {
    let shown = nearest(kg_per_m3 * 1e3).and_then(|raw| Density::from_g_per_m3(raw).ok());
    shown.map_or_else(String::new, |density| units.density(density))
}
