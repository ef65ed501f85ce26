//! Which vessels a job offers: those that fit, and apart from them those it can only have been done
//! with already.
//!
//! A vessel that does not fit is never hidden: a gate stops a job from being started, not from being
//! logged.

use std::collections::BTreeSet;

use domain::book::component::{Base, InhibitorClass};
use domain::condition::vessel::is_out_of_date;
use domain::fleet::{Holds, Loop};
use domain::gate::Breach;
use domain::ids::PlaceId;

use storage::PlaceContents;

use super::gate;
use super::ground::{Ground, KnownVessel, Subject};
use crate::component::{Choice, ChoiceField, ChoiceLook};
use crate::figure;
use crate::form::{Form, Presence};

/// What a vessel is chosen for.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Purpose<'a> {
    /// Takes what is drawn out of a loop.
    TakesFrom(Option<&'a Loop>),
    /// The same, of fluid that may not be used again.
    TakesUnfit,
    /// Gives fluid to a loop.
    GivesTo(Option<&'a Loop>),
    /// Takes fluid from another vessel.
    TakesFromVessel(&'a KnownVessel),
}

/// Heading over what should not be used.
pub(crate) const ONLY_LOGGED: &str = "Only if it has already happened";

const NO_SUCH: &str = "no such vessel is in use in this shop; choose one of those offered";

/// What speaks against using a vessel for something.
#[derive(Clone, Debug)]
pub(crate) struct Against {
    reason: String,
    breach: Breach,
}

impl Against {
    /// What to say of it to whoever chose the vessel.
    fn sentence(&self, name: &str) -> String {
        match self.breach {
            Breach::NoStartDate => format!(
                "{name} carries no start date: write one on it and state it on the page of {name} first"
            ),
            _ => format!("{name} should not be used: {}; choose another", self.reason),
        }
    }
}

/// Why a vessel should not be used for something; nothing when it may.
pub(crate) fn reason_against(
    vessel: &KnownVessel,
    purpose: Purpose<'_>,
    ground: &Ground,
) -> Option<Against> {
    let not_offered = |reason| Against {
        reason,
        breach: Breach::VesselNotOffered,
    };
    let undated = vessel.lacks_start_date && !matches!(purpose, Purpose::GivesTo(_));
    let no_start_date = || Against {
        reason: "it carries no start date".to_owned(),
        breach: Breach::NoStartDate,
    };
    does_not_fit(vessel, purpose, ground)
        .map(not_offered)
        .or_else(|| undated.then(no_start_date))
}

fn does_not_fit(vessel: &KnownVessel, purpose: Purpose<'_>, ground: &Ground) -> Option<String> {
    let said = |reason: &str| Some(reason.to_owned());
    let card = &vessel.card;
    let held = vessel.contents.as_ref().map(PlaceContents::held_now);
    if is_out_of_date(card, held, ground.today) {
        return said("its inspection is out of date");
    }
    if !matches!(purpose, Purpose::GivesTo(_)) && vessel.free_ml().is_some_and(|free| free <= 0) {
        return said("it is full");
    }
    match purpose {
        Purpose::TakesFrom(_) | Purpose::TakesUnfit if card.holds == Holds::Fresh => {
            said("kept for fresh coolant")
        }
        Purpose::TakesUnfit => (card.holds == Holds::Recovered)
            .then(|| "kept for coolant that is used again".to_owned()),
        Purpose::TakesFrom(circuit) => (card.holds == Holds::Recovered)
            .then(|| other_kind(vessel, circuit))
            .flatten(),
        Purpose::GivesTo(circuit) => match card.holds {
            Holds::Waste | Holds::Quarantine => Some(format!("holds {}", card.holds.word())),
            Holds::Fresh | Holds::Recovered if vessel.shown_ml() <= 0 => said("empty by the book"),
            Holds::Fresh | Holds::Recovered if vessel.is_unfit() => {
                said("what it holds may not be used again")
            }
            Holds::Fresh | Holds::Recovered => other_kind(vessel, circuit),
        },
        Purpose::TakesFromVessel(from) => against_other_vessel(vessel, from),
    }
}

fn against_other_vessel(vessel: &KnownVessel, from: &KnownVessel) -> Option<String> {
    let card = &vessel.card;
    let kept_for_use = matches!(card.holds, Holds::Fresh | Holds::Recovered);
    if !kept_for_use {
        return None;
    }
    if matches!(from.card.holds, Holds::Waste | Holds::Quarantine) {
        return Some(format!(
            "kept for {}, not for {}",
            card.holds.word(),
            from.card.holds.word()
        ));
    }
    if from.is_unfit() {
        return Some(format!(
            "kept for {}, and this may not be used again",
            card.holds.word()
        ));
    }
    if card.holds == Holds::Fresh && from.card.holds != Holds::Fresh {
        return Some("kept for fresh coolant".to_owned());
    }
    let same = is_same_kind(vessel.kind(), from.kind());
    (!same).then(|| "another kind of coolant".to_owned())
}

/// What nobody knows is of no other kind.
pub(super) fn is_same_kind(one: (Base, InhibitorClass), other: (Base, InhibitorClass)) -> bool {
    let base = one.0 == other.0 || one.0 == Base::Unknown || other.0 == Base::Unknown;
    let unknown = InhibitorClass::Unknown;
    let class = one.1 == other.1 || one.1 == unknown || other.1 == unknown;
    base && class
}

fn other_kind(vessel: &KnownVessel, circuit: Option<&Loop>) -> Option<String> {
    let circuit = circuit?;
    let wanted = (circuit.base, circuit.class);
    let same = if circuit.class.is_dedicated() {
        vessel.kind() == wanted
    } else {
        is_same_kind(vessel.kind(), wanted)
    };
    (!same).then(|| "another kind of coolant".to_owned())
}

/// The vessels for a field, with what each holds and how much still fits.
pub(crate) fn field(
    form: &Form,
    (name, label): (&str, &str),
    purpose: Purpose<'_>,
    ground: &Ground,
) -> ChoiceField {
    let mut fitting = Vec::new();
    let mut others = Vec::new();
    for vessel in offered(ground) {
        let against = reason_against(vessel, purpose, ground);
        let choice = Choice {
            value: vessel.card.id.to_string(),
            label: vessel.card.name.clone(),
            hint: hint(vessel, purpose, against.as_ref(), ground),
            chosen: false,
            group: if against.is_some() {
                ONLY_LOGGED.to_owned()
            } else {
                String::new()
            },
        };
        if against.is_some() {
            others.push(choice);
        } else {
            fitting.push(choice);
        }
    }
    let none_fits = fitting.is_empty();
    fitting.extend(others);
    let hint = if none_fits {
        "No vessel of this shop fits."
    } else {
        ""
    };
    form.choice_field((name, label), hint, fitting, ChoiceLook::OneOf)
}

/// All but the one that the job is about.
fn offered(ground: &Ground) -> impl Iterator<Item = &KnownVessel> {
    let own = match &ground.subject {
        Subject::Vessel(vessel) => Some(vessel.id),
        Subject::Unit(_) => None,
    };
    ground
        .vessels
        .iter()
        .filter(move |vessel| Some(vessel.card.id) != own)
}

fn hint(
    vessel: &KnownVessel,
    purpose: Purpose<'_>,
    against: Option<&Against>,
    ground: &Ground,
) -> String {
    let units = ground.units();
    let mut said = format!("holds {}", figure::volume(units, vessel.shown_ml()));
    if !matches!(purpose, Purpose::GivesTo(_))
        && let Some(free) = vessel.free_ml()
    {
        said.push_str(", ");
        said.push_str(&figure::volume(units, free));
        said.push_str(" free");
    }
    if let Some(against) = against {
        said.push_str(", ");
        said.push_str(&against.reason);
    }
    said
}

/// Reads the vessel chosen. One that does not fit is taken only when it has already happened, and
/// that is kept with the job.
pub(crate) fn read(
    form: &mut Form,
    (name, label): (&str, &str),
    purpose: Purpose<'_>,
    (ground, breaches): (&Ground, &mut BTreeSet<Breach>),
) -> Option<PlaceId> {
    let id = form.id((name, label), Presence::Needed)?;
    let Some(vessel) = offered(ground).find(|vessel| vessel.card.id == PlaceId(id)) else {
        form.note(name, label, NO_SUCH);
        return None;
    };
    if let Some(against) = reason_against(vessel, purpose, ground) {
        let why = against.sentence(&vessel.card.name);
        let why = match purpose {
            Purpose::GivesTo(circuit) => ground
                .dedicated_refill(circuit)
                .map_or_else(|| why.clone(), |only| format!("{why}; {only}")),
            _ => why,
        };
        let breach = (against.breach, breaches);
        if !gate::has_happened(form, (name, label), &why, breach) {
            return None;
        }
    }
    Some(vessel.card.id)
}

/// The only vessel that fits; where there is a choice, it is theirs.
pub(super) fn preset_only(form: &mut Form, name: &str, purpose: Purpose<'_>, ground: &Ground) {
    let mut fitting =
        offered(ground).filter(|vessel| reason_against(vessel, purpose, ground).is_none());
    if let (Some(only), None) = (fitting.next(), fitting.next()) {
        form.preset(name, only.card.id.to_string());
    }
}

/// The first vessel that fits, for a plan: nothing is recorded by it.
pub(super) fn preset_first(form: &mut Form, name: &str, purpose: Purpose<'_>, ground: &Ground) {
    let first = offered(ground).find(|vessel| reason_against(vessel, purpose, ground).is_none());
    if let Some(vessel) = first {
        form.preset(name, vessel.card.id.to_string());
    }
}

/// Reads the vessel of a plan, and why it should not be used.
pub(super) fn read_to_plan(
    form: &mut Form,
    (name, label): (&str, &str),
    purpose: Purpose<'_>,
    ground: &Ground,
) -> Option<(KnownVessel, Option<String>)> {
    let id = form.id((name, label), Presence::Needed)?;
    let found = offered(ground).find(|vessel| vessel.card.id == PlaceId(id));
    let Some(vessel) = found else {
        form.note(name, label, NO_SUCH);
        return None;
    };
    let against = reason_against(vessel, purpose, ground).map(|against| {
        format!(
            "{} should not be used: {}.",
            vessel.card.name, against.reason
        )
    });
    Some((vessel.clone(), against))
}
