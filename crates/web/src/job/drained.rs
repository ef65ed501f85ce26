//! What is drawn out of a loop: into which vessels and how much, how it looks, and whether it may be
//! used again.

use std::collections::BTreeSet;

use domain::condition::capacity::DrainMethod;
use domain::fleet::Loop;
use domain::gate::Breach;
use domain::job::{Account, Fit, Intent, Job, Line, Looks, Movement};
use domain::quantity::entry::Typed;
use domain::quantity::{Temperature, Volume};

use super::common::read_volume;
use super::ground::Ground;
use super::looks;
use super::sheet::Moved;
use super::vessel_choice::{self, Purpose};
use crate::component::{Caution, Choice, ChoiceField, ChoiceLook, QuantityField};
use crate::form::{Form, Offered, Presence};

type Named = (&'static str, &'static str);

const TO: Named = ("to", "Into which vessel?");
const SECOND_TO: Named = ("second_to", "Into which second vessel? (optional)");
const SECOND_VOLUME: Named = ("second_volume", "How much went into it (optional)");
const FIT: Named = ("fit", "May it be used again?");
const INTENT: Named = ("intent", "What is it meant for?");

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

/// How a sheet asks for it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Drained {
    pub(super) volume: Named,
    pub(super) temperature: Named,
    /// 0 is an answer: the level allowed for what was put in.
    pub(super) may_be_nothing: bool,
}

/// The fields.
#[derive(Clone, Debug)]
pub(super) struct DrainedFields {
    pub(super) to: ChoiceField,
    pub(super) volume: QuantityField,
    pub(super) temperature: QuantityField,
    pub(super) second_to: ChoiceField,
    pub(super) second_volume: QuantityField,
    /// Something stands in the fields of the second vessel.
    pub(super) second_open: bool,
    pub(super) waste_caution: Caution,
    pub(super) looks: ChoiceField,
    pub(super) fit: ChoiceField,
    pub(super) intent: ChoiceField,
}

/// What was read.
#[derive(Clone, Debug)]
pub(super) struct Read {
    /// A line for each vessel.
    pub(super) lines: Vec<Line>,
    pub(super) looks: Vec<Looks>,
}

impl Drained {
    pub(super) fn preset(form: &mut Form, ground: &Ground) {
        form.preset(FIT.0, "undecided");
        form.preset(INTENT.0, "undecided");
        let circuit = ground.chosen_loop(form).cloned();
        let purpose = Purpose::TakesFrom(circuit.as_ref());
        vessel_choice::preset_only(form, TO.0, purpose, ground);
    }

    /// Reads it; what is wrong is noted.
    pub(super) fn read(
        &self,
        form: &mut Form,
        (ground, circuit): (&Ground, Option<&Loop>),
        breaches: &mut BTreeSet<Breach>,
    ) -> Option<Read> {
        let looks = looks::read(form);
        let purpose = purpose(&looks, circuit);
        if self.is_nothing(form, ground) {
            self.read_nothing(form, ground)?;
            return Some(Read {
                lines: Vec::new(),
                looks,
            });
        }
        let first = read_pair(form, (ground, purpose), (TO, self.volume), breaches);
        let second = read_second(form, (ground, purpose), breaches);
        let temperature = self.read_temperature(form, ground);
        let judged = read_judgement(form, &looks);
        let (first, judged) = (first?, judged?);
        if let Some(second) = &second
            && second.0 == first.0
        {
            form.note(SECOND_TO.0, SECOND_TO.1, "the second vessel is the first one again; choose another, or add up the two volumes");
            return None;
        }
        let from = Account::Loop(circuit?.id);
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
        let lines = std::iter::once(first).chain(second).map(line).collect();
        Some(Read { lines, looks })
    }

    fn is_nothing(&self, form: &Form, ground: &Ground) -> bool {
        let unit = ground.units().volume.unit();
        let typed = form
            .clone()
            .quantity::<Volume>(self.volume, unit, Presence::Optional);
        self.may_be_nothing && typed.is_some_and(|typed| typed.value.ml() == 0)
    }

    fn read_temperature(&self, form: &mut Form, ground: &Ground) -> Option<Typed<Temperature>> {
        let unit = ground.units().temperature.unit();
        form.quantity(self.temperature, unit, Presence::Optional)
    }

    /// Nothing came out, so nothing else is said of it; what was typed is not dropped unseen.
    fn read_nothing(&self, form: &mut Form, ground: &Ground) -> Option<()> {
        let unit = ground.units().volume.unit();
        form.quantity::<Volume>(self.volume, unit, Presence::Needed);
        form.ask(TO.0);
        form.ask(SECOND_TO.0);
        let second = read_volume(form, SECOND_VOLUME, (ground, Presence::Optional));
        let has_temperature = self.read_temperature(form, ground).is_some();
        let fit = form.choice(FIT, FITS, Presence::Needed);
        let intent = form.choice(INTENT, INTENTS, Presence::Needed);
        for (named, said, instead) in [
            (self.temperature, has_temperature, "empty it"),
            (SECOND_VOLUME, second.is_some(), "empty it"),
            (
                FIT,
                fit.is_some_and(|fit| fit != Fit::Undecided),
                "choose Not decided",
            ),
            (
                INTENT,
                intent.is_some_and(|intent| intent != Intent::Undecided),
                "choose Not decided",
            ),
        ] {
            if said {
                let problem = format!("nothing was drained, so there is nothing to say; {instead}");
                form.note(named.0, named.1, problem);
            }
        }
        form.is_good().then_some(())
    }

    /// Puts the lines of a recorded job back.
    pub(super) fn refill(&self, form: &mut Form, job: &Job) {
        looks::refill(form, &job.looks);
        form.set(FIT.0, code(FITS, Fit::Undecided));
        form.set(INTENT.0, code(INTENTS, Intent::Undecided));
        let names = [(TO, self.volume), (SECOND_TO, SECOND_VOLUME)];
        for (movement, (to, volume)) in out_of_a_loop(job).zip(names) {
            if let Some(vessel) = movement.to.place() {
                form.set(to.0, vessel.to_string());
            }
            form.set(volume.0, movement.volume.typed.clone());
            if let Some(typed) = &movement.temperature {
                form.set(self.temperature.0, typed.typed.clone());
            }
            form.set(FIT.0, code(FITS, movement.fit));
            form.set(INTENT.0, code(INTENTS, movement.intent));
        }
    }

    pub(super) fn fields(&self, form: &Form, ground: &Ground) -> DrainedFields {
        let units = ground.units();
        let purpose = Purpose::TakesFrom(ground.chosen_loop(form));
        let names = [SECOND_TO.0, SECOND_VOLUME.0];
        let second_open = names
            .iter()
            .any(|name| !form.typed(name).is_empty() || !form.problem_of(name).is_empty());
        let one_of = |named, choices: &[(&str, &str)]| {
            form.choice_field(named, "", Choice::list(choices), ChoiceLook::OneOf)
        };
        // Where nothing may come out, only a part of it is meant to.
        let likely = if self.may_be_nothing {
            String::new()
        } else {
            ground.likely_in_words(DrainMethod::Gravity)
        };
        let hint = format!("{} {likely}", ground.holdings_in_words(form));
        DrainedFields {
            to: vessel_choice::field(form, TO, purpose, ground),
            volume: form.quantity_field(self.volume, Offered::Volume, units, hint.trim()),
            temperature: form.quantity_field(
                self.temperature,
                Offered::Temperature,
                units,
                "Left empty, the temperature before opening counts.",
            ),
            second_to: vessel_choice::field(form, SECOND_TO, purpose, ground),
            second_volume: form.quantity_field(SECOND_VOLUME, Offered::Volume, units, ""),
            second_open,
            waste_caution: Caution {
                text: "Never to a drain, the ground or a septic tank.",
            },
            looks: looks::field(
                form,
                "Oil, fuel smell or gel: it goes to waste or quarantine, not back into use.",
            ),
            fit: one_of(
                FIT,
                &[("undecided", "Not decided"), ("yes", "Yes"), ("no", "No")],
            ),
            intent: one_of(
                INTENT,
                &[
                    ("undecided", "Not decided"),
                    ("reuse", "Back into a unit"),
                    ("reclaim", "To be reclaimed"),
                    ("waste", "Waste"),
                ],
            ),
        }
    }
}

/// The movements out of a loop.
pub(super) fn out_of_a_loop(job: &Job) -> impl Iterator<Item = &Movement> {
    job.lines.iter().filter_map(|line| match line {
        Line::Movement(movement) if matches!(movement.from, Account::Loop(_)) => Some(movement),
        _ => None,
    })
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
        let of_second = (SECOND_TO, SECOND_VOLUME);
        return read_pair(form, (ground, purpose), of_second, breaches);
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
