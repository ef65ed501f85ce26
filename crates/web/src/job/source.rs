//! Where fluid for a loop comes from: a vessel of the shop, or straight from what was bought.

use std::collections::BTreeSet;

use domain::book::component::{Base, InhibitorClass};
use domain::fleet::{Fluid, Loop};
use domain::gate::Breach;
use domain::job::{Account, FluidNamed, Movement};
use domain::quantity::{FractionByVolume, Volume};

use super::gate;
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
    let dedicated = circuit.is_some_and(|circuit| circuit.class.is_dedicated());
    let of_no_kind = [
        plain(WATER, "Water", "makes the coolant weaker"),
        plain(
            NOT_KNOWN,
            "Not known what it was",
            "it is asked about later",
        ),
    ];
    let (fit, only_logged): (Vec<Choice>, Vec<Choice>) =
        of_no_kind.map(chosen).into_iter().partition(|_| !dedicated);
    straight.extend(fit);
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
        .choices
        .extend(only_logged.into_iter().map(|choice| Choice {
            group: ONLY_LOGGED.to_owned(),
            ..choice
        }));
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

/// Fluid without concentrate is of no kind, and fits all loops but those that take nothing but their own.
fn is_of_the_kind(fluid: &Fluid, circuit: Option<&Loop>) -> bool {
    let kind = (fluid.base, fluid.class);
    if let Some(circuit) = circuit.filter(|circuit| circuit.class.is_dedicated()) {
        return kind == (circuit.base, circuit.class);
    }
    let same = |circuit: &Loop| vessel_choice::is_same_kind(kind, (circuit.base, circuit.class));
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
    let dedicated = ground.dedicated_refill(circuit);
    if typed == WATER || typed == NOT_KNOWN {
        form.ask(SOURCE.0);
        if let Some(why) = dedicated {
            let breach = (Breach::FluidNotOffered, breaches);
            if !gate::has_happened(form, SOURCE, &why, breach) {
                return None;
            }
        }
        return Some(from_outside((typed == WATER).then(water)));
    }
    if let Some(fluid) = ground
        .fluids
        .iter()
        .find(|fluid| fluid.id.to_string() == typed)
    {
        form.ask(SOURCE.0);
        if !is_of_the_kind(fluid, circuit) {
            let then = dedicated.unwrap_or_else(|| "choose another".to_owned());
            let why = format!(
                "{} is another kind of coolant than this loop holds; {then}",
                fluid.name
            );
            let breach = (Breach::FluidNotOffered, breaches);
            if !gate::has_happened(form, SOURCE, &why, breach) {
                return None;
            }
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

pub(super) fn water() -> FluidNamed {
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

/// What a plan puts in.
#[derive(Clone, Debug)]
pub(super) struct ToPlan {
    /// As the field of the job's sheet says it.
    pub(super) value: String,
    pub(super) name: String,
    /// None where nobody knows, which is a problem of the field.
    pub(super) strength: Option<FractionByVolume>,
    /// How much of it there is; none for what is bought and for water.
    pub(super) held: Option<Volume>,
    /// Why it should not be used.
    pub(super) against: Option<String>,
}

const TO_PLAN: (&str, &str) = (SOURCE.0, "What is put in?");

/// The same choice, asked beforehand.
pub(super) fn field_to_plan(form: &Form, ground: &Ground) -> ChoiceField {
    let mut field = field(form, ground);
    TO_PLAN.1.clone_into(&mut field.label);
    // Nothing can be worked out with what nobody knows.
    field.choices.retain(|choice| choice.value != NOT_KNOWN);
    for choice in &mut field.choices {
        if choice.group == STRAIGHT {
            "Straight from the can, or water".clone_into(&mut choice.group);
        }
    }
    field
}

/// Water for what has to get weaker, or else the strongest fluid of the loop's kind that is bought.
pub(super) fn preset_for_strength(form: &mut Form, ground: &Ground, weaker: bool) {
    if weaker {
        form.preset(SOURCE.0, WATER);
        return;
    }
    let circuit = ground.chosen_loop(form);
    let fitting = ground
        .fluids
        .iter()
        .filter(|fluid| is_of_the_kind(fluid, circuit));
    let strongest = fitting.max_by_key(|fluid| fluid.strength);
    let value = strongest.map_or_else(|| WATER.to_owned(), |fluid| fluid.id.to_string());
    form.preset(SOURCE.0, value);
}

/// Reads what a plan puts in.
pub(super) fn read_to_plan(
    form: &mut Form,
    (ground, circuit): (&Ground, Option<&Loop>),
) -> Option<ToPlan> {
    let value = form.ask(SOURCE.0);
    if value == WATER {
        return Some(ToPlan {
            value,
            name: "water".to_owned(),
            strength: Some(FractionByVolume::MIN),
            held: None,
            against: None,
        });
    }
    let bought = ground
        .fluids
        .iter()
        .find(|fluid| fluid.id.to_string() == value);
    if let Some(fluid) = bought {
        let against = (!is_of_the_kind(fluid, circuit)).then(|| {
            format!(
                "{} is another kind of coolant than this loop holds.",
                fluid.name
            )
        });
        return Some(ToPlan {
            value,
            name: fluid.name.clone(),
            strength: Some(fluid.strength),
            held: None,
            against,
        });
    }
    let purpose = Purpose::GivesTo(circuit);
    let (vessel, against) = vessel_choice::read_to_plan(form, TO_PLAN, purpose, ground)?;
    let strength = super::plan::strength_of(vessel.contents.as_ref(), ground);
    if strength.is_none() {
        form.note(
            TO_PLAN.0,
            TO_PLAN.1,
            format!(
                "nobody knows how strong {} is; test it, or choose another",
                vessel.card.name
            ),
        );
    }
    Some(ToPlan {
        value,
        name: vessel.card.name.clone(),
        strength,
        held: Volume::from_ml(vessel.shown_ml().max(0)).ok(),
        against,
    })
}
