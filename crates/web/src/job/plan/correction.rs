//! Before a strength is corrected: what to drain, what to put in.

use domain::fluid::dosing::Exchange;
use domain::fluid::freeze_point;
use domain::job::{JobKind, Planned};
use domain::plan::correction as plan;
use domain::quantity::rounding::{float, nearest};
use domain::quantity::{FractionByVolume, TemperatureDifference, Unit, UnitsOfMeasure, Volume};

use super::given::{self, preset, readout, temperature_field};
use super::{About, Planner, Worked, words};
use crate::component::{Caution, Field, Readout};
use crate::figure;
use crate::form::{Form, Offered, Presence};
use crate::job::common::{read_loop, read_volume};
use crate::job::ground::Ground;
use crate::job::source;

pub(super) struct Correction;

const TARGET: (&str, &str) = ("target", "Strength wanted");
const PRESENT: (&str, &str) = ("present", "How much is in it");
const CAPACITY: (&str, &str) = ("capacity", "How much it takes");
const MOST: (&str, &str) = ("most_drained", "Most that drains at once (optional)");

impl Planner for Correction {
    fn about(&self) -> About {
        About {
            code: "correction",
            word: "Plan a correction",
            question: "What to drain and what to put in to reach a strength?",
            job: JobKind::Correct,
        }
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        let units = ground.units();
        let circuit = ground.chosen_loop(form).cloned();
        if let Some(circuit) = &circuit {
            if let Some(target) = circuit.target_strength {
                preset(form, TARGET.0, &units.strength(target));
            }
            if let Some(present) = given::present(circuit, ground) {
                preset(form, PRESENT.0, &units.volume(present));
            }
            // A capacity is an estimate: what is in it fits into it.
            let capacity = circuit.capacity.as_ref().map(|typed| typed.value);
            let takes = capacity.map(|capacity| {
                given::present(circuit, ground).map_or(capacity, |present| present.max(capacity))
            });
            if let Some(takes) = takes {
                preset(form, CAPACITY.0, &units.volume(takes));
            }
        }
        let weaker = circuit.is_some_and(|circuit| {
            let now = given::strength(ground.held_by(circuit.id), ground);
            now.zip(circuit.target_strength)
                .is_some_and(|((_, now), target)| now > target)
        });
        source::preset_for_strength(form, ground, weaker);
    }

    fn work_out(&self, form: &mut Form, ground: &Ground) -> Option<Worked> {
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let percent = Unit::<FractionByVolume>::PERCENT;
        let target = form.quantity::<FractionByVolume>(TARGET, percent, Presence::Needed);
        let from = source::read_to_plan(form, (ground, circuit.as_ref()));
        let capacity = read_volume(form, CAPACITY, (ground, Presence::Needed));
        let present = form.quantity::<Volume>(PRESENT, units.volume.unit(), Presence::Needed);
        let most = form.quantity::<Volume>(MOST, units.volume.unit(), Presence::Optional);
        let temperature = given::read_temperature(form, units);
        let (circuit, from, present) = (circuit?, from?, present?.value);
        let held = ground.held_by(circuit.id);
        let known = given::strength(held, ground);
        let asked = plan::Correction {
            capacity: capacity?.value,
            present,
            strength: known.map(|(_, strength)| strength),
            u_strength: known.map_or(0.0, |(known, _)| {
                float(known.figures.sigma_millionths) / 1e6
            }),
            target: target?.value,
            refill: from.strength?,
            held: from.held,
            most_drained: most.map_or(present, |typed| typed.value),
            drained_at: temperature?,
            glycol: known.map_or(circuit.base.glycol(), |(known, _)| known.chemistry.glycol()),
        };
        let found = match asked.plan() {
            Ok(found) => found,
            Err(problem) => {
                form.note(PRESENT.0, PRESENT.1, problem.to_string());
                return None;
            }
        };
        Some(tell(&asked, &found, (&from, ground)))
    }

    fn fields(&self, form: &Form, ground: &Ground) -> Vec<Field> {
        let units = ground.units();
        let now = ground
            .chosen_loop(form)
            .and_then(|circuit| given::known(ground.held_by(circuit.id), ground))
            .map_or_else(String::new, |known| {
                format!(
                    "Now {} by the book.",
                    figure::strength_with_spread(units, &known.figures)
                )
            });
        vec![
            Field::Quantity(form.quantity_field(TARGET, Offered::Strength, units, now)),
            Field::Choice(source::field_to_plan(form, ground)),
            Field::Quantity(form.quantity_field(PRESENT, Offered::Volume, units, "")),
            Field::Quantity(form.quantity_field(CAPACITY, Offered::Volume, units, "")),
            Field::Quantity(form.quantity_field(
                MOST,
                Offered::Volume,
                units,
                "Left empty, all of it. What stays behind in the block does not drain.",
            )),
            Field::Quantity(temperature_field(
                form,
                units,
                "Hot coolant fills more: it is read larger in the tank.",
            )),
        ]
    }
}

fn tell(
    asked: &plan::Correction,
    found: &plan::Planned,
    (from, ground): (&source::ToPlan, &Ground),
) -> Worked {
    let units = ground.units();
    let against = words::all(from.against.clone(), &found.against, units);
    let (steps, remarks) = found.recipe.map_or_else(Default::default, |recipe| {
        (
            steps(&recipe, &from.name, units),
            remarks(asked, &recipe, ground),
        )
    });
    let planned = found
        .recipe
        .map_or_else(Planned::default, |recipe| Planned {
            out: (recipe.drain > Volume::MIN).then_some(recipe.drain),
            put_in: Some(recipe.put_in),
            strength: Some(recipe.reached),
            ..Planned::default()
        });
    // What has to be mixed first is no can or drum of the shop: its job is filled in by hand.
    let fields = match found.recipe {
        Some(plan::Recipe {
            way: Exchange::TopUpPasses { .. },
            ..
        })
        | None => Vec::new(),
        Some(recipe) => vec![
            ("source", from.value.clone()),
            ("drain_volume", units.volume(recipe.drain)),
            ("volume", units.volume(recipe.put_in)),
        ],
    };
    Worked {
        steps: if against.is_empty() {
            steps
        } else {
            Vec::new()
        },
        readouts: found
            .recipe
            .map_or_else(Vec::new, |recipe| readouts(asked, &recipe, units)),
        remarks,
        cautions: vec![
            Caution {
                text: "Let it cool before it is opened. Glycol is poisonous and tastes sweet: wipe drips, keep it from animals.",
            },
            Caution {
                text: "Never to a drain, the ground or a septic tank.",
            },
        ],
        to_be_done: !found.recipe.as_ref().is_some_and(is_nothing),
        against,
        planned,
        fields,
    }
}

fn steps(recipe: &plan::Recipe, name: &str, units: UnitsOfMeasure) -> Vec<String> {
    let drain = format!("Take out {}.", units.volume(recipe.drain));
    let put_in = units.volume(recipe.put_in);
    if is_nothing(recipe) {
        return Vec::new();
    }
    match recipe.way {
        Exchange::TopUpPasses { .. } => vec![
            format!(
                "Drain nothing. Mix {} of {name} with {} of water: the fluid alone would make it too strong.",
                units.volume(recipe.fluid()),
                units.volume(recipe.water)
            ),
            format!("Put in the {put_in} and run it until it is mixed, then test it."),
        ],
        Exchange::Repeated {
            exchanges: Some(exchanges),
            ..
        } => vec![
            drain,
            format!("Put in {put_in} of {name}, and run it until it is mixed."),
            format!("Test, and do it again: {exchanges} times in all, the last one in part."),
        ],
        _ if recipe.drain == Volume::MIN => {
            vec![format!("Drain nothing. Put in {put_in} of {name}.")]
        }
        _ => vec![
            drain,
            format!("Put in {put_in} of {name}."),
            "Run it until it is mixed, then test it.".to_owned(),
        ],
    }
}

/// There is nothing to take out and no room to put in.
fn is_nothing(recipe: &plan::Recipe) -> bool {
    recipe.drain == Volume::MIN && recipe.put_in == Volume::MIN
}

fn remarks(asked: &plan::Correction, recipe: &plan::Recipe, ground: &Ground) -> Vec<String> {
    let units = ground.units();
    let reached = units.strength(recipe.reached);
    let wanted = units.strength(asked.target);
    let mut remarks = match recipe.way {
        _ if is_nothing(recipe) && reached == wanted => {
            vec![format!("It has {wanted} already: nothing is to be done.")]
        }
        Exchange::Repeated { exchanges, .. } => vec![match exchanges {
            Some(_) => format!("One exchange comes to {reached}, not yet to {wanted}."),
            None => format!(
                "One exchange comes to {reached}; more of them come nearer to {wanted} and never quite to it."
            ),
        }],
        _ => Vec::new(),
    };
    if let Some(low) = ground.shop.winter_low
        && recipe.promised() > low
    {
        remarks.push(format!(
            "It would be promised to {} only; the winter low is {}.",
            units.temperature(recipe.promised()),
            units.temperature(low)
        ));
    }
    if recipe.hot_drain > Volume::MIN {
        remarks.push(format!(
            "Hot as it is, the drained coolant is read {} larger than it is at 20 °C.",
            units.volume_fine(recipe.hot_drain)
        ));
    }
    if recipe.level_falls > Volume::MIN {
        remarks.push(format!(
            "Mixing makes it shrink by {}: the level falls by so much.",
            units.volume_fine(recipe.level_falls)
        ));
    }
    remarks
}

/// "−37.1 °C", "at or below −48.3 °C".
fn freezes_at(asked: &plan::Correction, recipe: &plan::Recipe, units: UnitsOfMeasure) -> String {
    let at = units.temperature(recipe.freezes_at());
    let ends = asked
        .glycol
        .is_some_and(|glycol| freeze_point(glycol, recipe.reached).is_at_or_below());
    if ends {
        format!("at or below {at}")
    } else {
        at
    }
}

fn readouts(
    asked: &plan::Correction,
    recipe: &plan::Recipe,
    units: UnitsOfMeasure,
) -> Vec<Readout> {
    let v = |of| units.volume(of);
    let s = |of| units.strength(of);
    let given = format!(
        "With {} in it of {} it takes, {} now, {} wanted and {} put in.",
        v(asked.present),
        v(asked.capacity),
        asked.strength.map_or_else(String::new, s),
        s(asked.target),
        s(asked.refill),
    );
    let points = format!(
        "± {} points",
        figure::decimal(units, 196.0 * recipe.sure.u_c_end, 1)
    );
    let degrees = recipe.sure.u_freeze_c.and_then(|u| {
        let raw = i32::try_from(nearest(1_960.0 * u)?).ok()?;
        TemperatureDifference::from_millikelvin(raw).ok()
    });
    let mut reached = readout(
        "Comes to",
        s(recipe.reached),
        vec![
            "What is kept and what is put in, each with its strength, divided by what it takes.".to_owned(),
            "The ± holds the spread of the present strength, 6 % of the capacity, 0.2 L of the drained volume and half a point of the fluid put in (our own defaults), added as the Guide to the Expression of Uncertainty in Measurement does.".to_owned(),
        ],
    );
    reached.spread = points;
    let mut freezes = readout(
        "Freezes at",
        freezes_at(asked, recipe, units),
        vec![
            format!(
                "To be promised: {}, two standard uncertainties warmer.",
                units.temperature(recipe.promised())
            ),
            "Source: the curve fitted to ASHRAE 2001.".to_owned(),
        ],
    );
    freezes.spread = degrees.map_or_else(String::new, |spread| {
        format!("± {}", units.temperature_difference(spread))
    });
    vec![
        readout(
            "Take out",
            v(recipe.drain),
            vec![
                "(wanted × capacity − now × in it − put in × room) ÷ (put in − now).".to_owned(),
                given.clone(),
                "Source: the balance of the glycol.".to_owned(),
            ],
        ),
        readout(
            "Put in",
            v(recipe.put_in),
            vec![
                "What was taken out at 20 °C, and the room there was before.".to_owned(),
                given,
            ],
        ),
        reached,
        freezes,
    ]
}
