//! Recover: coolant drawn out of a loop into a vessel. The gate comes first, then how much went
//! where, then whether it may be used again.

use std::collections::BTreeSet;

use askama::Template;
use domain::fleet::Loop;
use domain::gate::Breach;
use domain::job::{Account, Fit, Intent, Job, JobKind, Line, Looks};
use domain::quantity::entry::Typed;
use domain::quantity::{Temperature, Volume};

use super::common::{Common, read_loop, read_volume};
use super::gate::{self, GateFields};
use super::ground::Ground;
use super::looks;
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet, Steps};
use super::top_up::sentence;
use super::vessel_choice::{self, Purpose};
use crate::component::{Caution, Choice, ChoiceField, ChoiceLook, QuantityField};
use crate::desk::Frame;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct Recover;

const TO: (&str, &str) = ("to", "Into which vessel?");
const VOLUME: (&str, &str) = ("volume", "How much came out");
const SECOND_TO: (&str, &str) = ("second_to", "Into which second vessel? (optional)");
const SECOND_VOLUME: (&str, &str) = ("second_volume", "How much went into it (optional)");
const TEMPERATURE: (&str, &str) = (
    "temperature",
    "Temperature of the fluid at the gauge (optional)",
);
const FIT: (&str, &str) = ("fit", "May it be used again?");
const INTENT: (&str, &str) = ("intent", "What is it meant for?");

const FITS: &[(&str, Fit)] = &[
    ("undecided", Fit::Undecided),
    ("yes", Fit::Yes),
    ("no", Fit::No),
];
const INTENTS: &[(&str, Intent)] = &[
    ("undecided", Intent::Undecided),
    ("reuse", Intent::Reuse),
    ("reclaim", Intent::Reclaim),
    ("waste", Intent::Waste),
];

#[derive(Template)]
#[template(path = "job/recover.html")]
struct Page {
    frame: Frame,
    common: Common,
    open_caution: Caution,
    gate: GateFields,
    to: ChoiceField,
    volume: QuantityField,
    temperature: QuantityField,
    second_to: ChoiceField,
    second_volume: QuantityField,
    /// Something stands in the fields of the second vessel.
    second_open: bool,
    looks: ChoiceField,
    fit: ChoiceField,
    intent: ChoiceField,
    waste_caution: Caution,
}

impl Sheet for Recover {
    fn kind(&self) -> JobKind {
        JobKind::Recover
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "Coolant was drawn out of a unit into a vessel."
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        form.preset(FIT.0, "undecided");
        form.preset(INTENT.0, "undecided");
        let circuit = ground.chosen_loop(form).cloned();
        let purpose = Purpose::TakesFrom(circuit.as_ref());
        let mut fitting = ground
            .vessels
            .iter()
            .filter(|vessel| vessel_choice::reason_against(vessel, purpose, ground).is_none());
        // Where there is a choice, it is theirs.
        if let (Some(only), None) = (fitting.next(), fitting.next()) {
            form.preset(TO.0, only.card.id.to_string());
        }
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let gate = gate::read(form, units);
        let looks = looks::read(form);
        let purpose = purpose(&looks, circuit.as_ref());
        let first = read_pair(form, (ground, purpose), (TO, VOLUME), &mut breaches);
        let second = read_second(form, (ground, purpose), &mut breaches);
        let temperature =
            form.quantity::<Temperature>(TEMPERATURE, units.temperature.unit(), Presence::Optional);
        let judged = read_judgement(form, &looks);
        let (first, judged, from) = (first?, judged?, Account::Loop(circuit?.id));
        if let Some(second) = &second
            && second.0 == first.0
        {
            form.note(SECOND_TO.0, SECOND_TO.1, "the second vessel is the first one again; choose another, or add up the two volumes");
            return None;
        }
        let line = |(to, volume): (Account, Typed<Volume>)| {
            let moved = Moved {
                from,
                to,
                volume,
                temperature: temperature.clone(),
                fluid: None,
            };
            moved.judged(judged.0, judged.1)
        };
        Some(gate.into_parts(Parts {
            place: Some(from),
            lines: std::iter::once(first).chain(second).map(line).collect(),
            looks,
            breaches,
            ..Parts::default()
        }))
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        gate::refill(form, job);
        looks::refill(form, &job.looks);
        let names = [(TO, VOLUME), (SECOND_TO, SECOND_VOLUME)];
        for (line, (to, volume)) in job.lines.iter().zip(names) {
            let Line::Movement(movement) = line else {
                continue;
            };
            if let Some(vessel) = movement.to.place() {
                form.set(to.0, vessel.to_string());
            }
            form.set(volume.0, movement.volume.typed.clone());
            if let Some(typed) = &movement.temperature {
                form.set(TEMPERATURE.0, typed.typed.clone());
            }
            form.set(FIT.0, code(FITS, movement.fit));
            form.set(INTENT.0, code(INTENTS, movement.intent));
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let circuit = ground.chosen_loop(form);
        let holdings = circuit
            .filter(|_| ground.loops().len() == 1)
            .map(|each| ground.holdings(each));
        let purpose = Purpose::TakesFrom(circuit);
        let names = [SECOND_TO.0, SECOND_VOLUME.0];
        let second_open = names
            .iter()
            .any(|name| !form.typed(name).is_empty() || !form.problem_of(name).is_empty());
        Drawn::from(&Page {
            frame: common.frame.clone(),
            open_caution: Caution {
                text: "Let it cool. Key out: the fan can start. A cold system may still hold pressure.",
            },
            gate: GateFields::of(form, units),
            to: vessel_choice::field(form, TO, purpose, ground),
            volume: form.quantity_field(VOLUME, Offered::Volume, units, sentence(holdings)),
            temperature: form.quantity_field(
                TEMPERATURE,
                Offered::Temperature,
                units,
                "Left empty, the temperature before opening counts.",
            ),
            second_to: vessel_choice::field(form, SECOND_TO, purpose, ground),
            second_volume: form.quantity_field(SECOND_VOLUME, Offered::Volume, units, ""),
            second_open,
            looks: looks::field(
                form,
                "Oil, fuel smell or gel: it goes to waste or quarantine, not back into use.",
            ),
            fit: form.choice_field(
                FIT,
                "",
                Choice::list(&[("undecided", "Not decided"), ("yes", "Yes"), ("no", "No")]),
                ChoiceLook::OneOf,
            ),
            intent: form.choice_field(
                INTENT,
                "",
                Choice::list(&[
                    ("undecided", "Not decided"),
                    ("reuse", "Back into a unit"),
                    ("reclaim", "To be reclaimed"),
                    ("waste", "Waste"),
                ]),
                ChoiceLook::OneOf,
            ),
            waste_caution: Caution {
                text: "Never to a drain, the ground or a septic tank.",
            },
            common,
        })
    }
}

fn code<T: PartialEq + Copy>(codes: &[(&'static str, T)], value: T) -> &'static str {
    let found = codes.iter().find(|(_, known)| *known == value);
    found.map_or("", |(code, _)| code)
}

/// What was seen decides which vessels may take it.
fn purpose<'a>(looks: &[Looks], circuit: Option<&'a Loop>) -> Purpose<'a> {
    if looks::unfit_word(looks).is_some() {
        Purpose::TakesUnfit
    } else {
        Purpose::TakesFrom(circuit)
    }
}

type Named = (&'static str, &'static str);

fn read_pair(
    form: &mut Form,
    (ground, purpose): (&Ground, Purpose<'_>),
    (to, volume): (Named, Named),
    breaches: &mut BTreeSet<Breach>,
) -> Option<(Account, Typed<Volume>)> {
    let vessel = vessel_choice::read(form, to, purpose, (ground, breaches));
    let volume = read_volume(form, volume, (ground, Presence::Needed));
    Some((Account::Vessel(vessel?), volume?))
}

/// The second vessel: both of its fields, or none of them.
fn read_second(
    form: &mut Form,
    (ground, purpose): (&Ground, Purpose<'_>),
    breaches: &mut BTreeSet<Breach>,
) -> Option<(Account, Typed<Volume>)> {
    let names = [SECOND_TO.0, SECOND_VOLUME.0];
    if names.iter().any(|name| !form.typed(name).trim().is_empty()) {
        return read_pair(
            form,
            (ground, purpose),
            (SECOND_TO, SECOND_VOLUME),
            breaches,
        );
    }
    form.ask(SECOND_TO.0);
    read_volume(form, SECOND_VOLUME, (ground, Presence::Optional));
    None
}

/// Whether it may be used again and what it is meant for. What was seen can make it unfit, and
/// unfit fluid is waste.
fn read_judgement(form: &mut Form, looks: &[Looks]) -> Option<(Fit, Intent)> {
    let fit = form.choice(FIT, FITS, Presence::Needed);
    let intent = form.choice(INTENT, INTENTS, Presence::Needed);
    let seen = looks::unfit_word(looks);
    if let (Some(seen), Some(Fit::Yes)) = (seen, fit) {
        form.note(
            FIT.0,
            FIT.1,
            format!("\"{seen}\" was ticked, and such fluid is not used again; choose No"),
        );
    }
    let unfit = seen.is_some() || fit == Some(Fit::No);
    if unfit && matches!(intent, Some(Intent::Reuse | Intent::Reclaim)) {
        let why = seen.unwrap_or("may not be used again");
        form.note(
            INTENT.0,
            INTENT.1,
            format!("\"{why}\" was chosen, so it is waste or not decided; choose one of these two"),
        );
    }
    // What was seen decides it where nobody else did.
    let fit = if seen.is_some() { Some(Fit::No) } else { fit };
    Some((fit?, intent?))
}
