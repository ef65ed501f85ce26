//! Where fluid for a loop comes from: a vessel of the shop, or straight from what was bought.

use std::collections::BTreeSet;

use domain::book::component::{Base, InhibitorClass};
use domain::fleet::{Fluid, Loop};
use domain::gate::Breach;
use domain::job::{Account, FluidNamed, Movement};
use domain::quantity::FractionByVolume;

use super::ground::Ground;
use super::vessel_choice::{self, ONLY_LOGGED, Purpose};
use crate::component::{Choice, ChoiceField};
use crate::form::Form;

pub(super) const SOURCE: (&str, &str) = ("source", "Where did it come from?");

/// Water from the tap or the still.
const WATER: &str = "water";
/// A can without a label.
const NOT_KNOWN: &str = "not_known";

/// Heading over what comes straight from outside, folded so that a vessel is found at once.
const STRAIGHT: &str = "Straight from the can, water, or not known";

/// What was chosen.
#[derive(Clone, Debug)]
pub(super) struct Source {
    pub(super) from: Account,
    pub(super) fluid: Option<FluidNamed>,
}

/// The vessels that fit, the fluids that fit, water, and apart from them all others.
pub(super) fn field(form: &Form, ground: &Ground) -> ChoiceField {
    let circuit = ground.chosen_loop(form);
    let mut field = vessel_choice::field(form, SOURCE, Purpose::GivesTo(circuit), ground);
    let (fitting, others): (Vec<_>, Vec<_>) = ground
        .fluids
        .iter()
        .partition(|fluid| is_of_the_kind(fluid, circuit));
    let typed = form.typed(SOURCE.0).to_owned();
    let chosen = |choice: Choice| Choice {
        chosen: choice.value == typed,
        ..choice
    };
    let plain = |value: &str, label: &str, hint: &str| Choice {
        value: value.to_owned(),
        label: label.to_owned(),
        hint: hint.to_owned(),
        group: STRAIGHT.to_owned(),
        ..Choice::default()
    };
    let mut straight: Vec<Choice> = fitting
        .into_iter()
        .map(|fluid| bought(fluid, STRAIGHT))
        .map(chosen)
        .collect();
    straight.push(chosen(plain(WATER, "Water", "makes the coolant weaker")));
    straight.push(chosen(plain(
        NOT_KNOWN,
        "Not known what it was",
        "it is asked about later",
    )));
    let vessels = field
        .choices
        .iter()
        .position(|choice| !choice.group.is_empty());
    let at = vessels.unwrap_or(field.choices.len());
    field.choices.splice(at..at, straight);
    field.choices.extend(
        others
            .into_iter()
            .map(|fluid| bought(fluid, ONLY_LOGGED))
            .map(chosen),
    );
    field
}

fn bought(fluid: &Fluid, group: &str) -> Choice {
    let hint = if group == ONLY_LOGGED {
        "bought, another kind of coolant"
    } else {
        "bought"
    };
    Choice {
        value: fluid.id.to_string(),
        label: fluid.name.clone(),
        hint: hint.to_owned(),
        chosen: false,
        group: group.to_owned(),
    }
}

/// Fluid without concentrate is of no kind.
fn is_of_the_kind(fluid: &Fluid, circuit: Option<&Loop>) -> bool {
    let same = |circuit: &Loop| {
        vessel_choice::is_same_kind((fluid.base, fluid.class), (circuit.base, circuit.class))
    };
    fluid.strength == FractionByVolume::MIN || circuit.is_none_or(same)
}

/// Reads it. What does not fit is taken only when it has already happened.
pub(super) fn read(
    form: &mut Form,
    (ground, circuit): (&Ground, Option<&Loop>),
    breaches: &mut BTreeSet<Breach>,
) -> Option<Source> {
    let typed = form.typed(SOURCE.0).to_owned();
    let from_outside = |fluid| Source {
        from: Account::Supplier,
        fluid,
    };
    if typed == WATER {
        form.ask(SOURCE.0);
        return Some(from_outside(Some(water())));
    }
    if typed == NOT_KNOWN {
        form.ask(SOURCE.0);
        return Some(from_outside(None));
    }
    if let Some(fluid) = ground
        .fluids
        .iter()
        .find(|fluid| fluid.id.to_string() == typed)
    {
        form.ask(SOURCE.0);
        if !is_of_the_kind(fluid, circuit) {
            if !form.ticked("happened") {
                let problem = format!(
                    "{} is another kind of coolant than this loop holds; choose another, or tick \"It has already happened\" to log it",
                    fluid.name
                );
                form.note(SOURCE.0, SOURCE.1, problem);
                return None;
            }
            breaches.insert(Breach::FluidNotOffered);
        }
        return Some(from_outside(Some(named(fluid))));
    }
    let vessel = vessel_choice::read(form, SOURCE, Purpose::GivesTo(circuit), (ground, breaches))?;
    Some(Source {
        from: Account::Vessel(vessel),
        fluid: None,
    })
}

/// What the loop was last topped up from, or else the first vessel that fits.
pub(super) fn preset(form: &mut Form, ground: &Ground) {
    let circuit = ground.chosen_loop(form).cloned();
    let purpose = Purpose::GivesTo(circuit.as_ref());
    let mut fitting = ground
        .vessels
        .iter()
        .filter(|vessel| vessel_choice::reason_against(vessel, purpose, ground).is_none());
    let last = fitting
        .clone()
        .find(|vessel| ground.last_source == Some(vessel.card.id));
    if let Some(vessel) = last.or_else(|| fitting.next()) {
        form.preset(SOURCE.0, vessel.card.id.to_string());
    }
}

/// Puts the source of a recorded movement back.
pub(super) fn refill(form: &mut Form, movement: &Movement) {
    let value = match (movement.from, &movement.fluid) {
        (Account::Vessel(vessel), _) => vessel.to_string(),
        (
            _,
            Some(FluidNamed {
                fluid: Some(fluid), ..
            }),
        ) => fluid.to_string(),
        (_, Some(named)) if named.strength == FractionByVolume::MIN => WATER.to_owned(),
        _ => NOT_KNOWN.to_owned(),
    };
    form.set(SOURCE.0, value);
}

fn water() -> FluidNamed {
    FluidNamed {
        typed: "water".to_owned(),
        base: Base::Unknown,
        class: InhibitorClass::Unknown,
        strength: FractionByVolume::MIN,
        fluid: None,
        lot: None,
        price_hundredths: None,
    }
}

/// A fluid of the shop's list, as it is named on a job.
pub(super) fn named(fluid: &Fluid) -> FluidNamed {
    FluidNamed {
        typed: fluid.name.clone(),
        base: fluid.base,
        class: fluid.class,
        strength: fluid.strength,
        fluid: Some(fluid.id),
        lot: None,
        price_hundredths: None,
    }
}
