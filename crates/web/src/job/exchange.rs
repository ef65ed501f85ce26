//! Drain and refill, and correct strength: one job with what came out and what went in.

use std::collections::BTreeSet;

use askama::Template;
use domain::book::outcome::Knowledge;
use domain::fleet::Loop;
use domain::job::{Account, Job, JobKind, Line, Movement};
use domain::moment::Moment;
use domain::quantity::Temperature;

use super::common::{self, Common, read_loop, read_volume};
use super::drained::{Drained, DrainedFields, out_of_a_loop};
use super::gate::{self, GateFields};
use super::ground::Ground;
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet, Steps};
use super::{mark, source};
use crate::component::{Caution, ChoiceField, QuantityField};
use crate::desk::Frame;
use crate::figure;
use crate::form::{Form, Offered, Presence};

/// The sheet of either kind.
pub(crate) struct Exchange {
    kind: JobKind,
    purpose: &'static str,
    drained: Drained,
}

const TEMPERATURE_OUT: (&str, &str) = (
    "drain_temperature",
    "Temperature of what came out, at the gauge (optional)",
);

pub(crate) const EXCHANGE: Exchange = Exchange {
    kind: JobKind::Exchange,
    purpose: "Coolant was drained, in part or all of it, and other put in.",
    drained: Drained {
        volume: ("drain_volume", "How much came out"),
        temperature: TEMPERATURE_OUT,
        may_be_nothing: false,
    },
};

pub(crate) const CORRECT: Exchange = Exchange {
    kind: JobKind::Correct,
    purpose: "Some was drained and concentrate or water put in, to reach a strength.",
    drained: Drained {
        volume: ("drain_volume", "How much came out, 0 for nothing"),
        temperature: TEMPERATURE_OUT,
        may_be_nothing: true,
    },
};

const VOLUME: (&str, &str) = ("volume", "How much went in");
const TEMPERATURE: (&str, &str) = (
    "temperature",
    "Temperature of what went in, at the gauge (optional)",
);
const MARK: (&str, &str) = ("mark", "Is the level now at the mark? (optional)");

#[derive(Template)]
#[template(path = "job/exchange.html")]
struct Page {
    frame: Frame,
    common: Common,
    /// What strength each loop is to have and has, a sentence each.
    strengths: Vec<String>,
    open_caution: Caution,
    gate: GateFields,
    drained: DrainedFields,
    air_caution: Caution,
    source: ChoiceField,
    volume: QuantityField,
    temperature: QuantityField,
    mark: ChoiceField,
    end_caution: Caution,
}

impl Sheet for Exchange {
    fn kind(&self) -> JobKind {
        self.kind
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        self.purpose
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        Drained::preset(form, ground);
        source::preset(form, ground);
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let gate = gate::read(form, units);
        let on = (ground, circuit.as_ref());
        let drained = self.drained.read(form, on, &mut breaches);
        let source = source::read(form, on, &mut breaches);
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let temperature =
            form.quantity::<Temperature>(TEMPERATURE, units.temperature.unit(), Presence::Optional);
        let mark = mark::read(form, MARK, Presence::Optional);
        let (drained, source, to) = (drained?, source?, Account::Loop(circuit?.id));
        let put_in = Moved {
            from: source.from,
            to,
            volume: volume?,
            temperature,
            fluid: source.fluid,
        };
        let mut lines = drained.lines;
        lines.push(put_in.line());
        Some(gate.into_parts(Parts {
            place: Some(to),
            lines,
            mark,
            looks: drained.looks,
            breaches,
            ..Parts::default()
        }))
    }

    /// One or two lines out and one in. Another program may have told of more, or of readings.
    fn holds(&self, job: &Job) -> bool {
        let (out, put_in) = (out_of_a_loop(job).count(), into_a_loop(job).count());
        let least = usize::from(!self.drained.may_be_nothing);
        (least..=2).contains(&out) && put_in == 1 && job.lines.len() == out.saturating_add(put_in)
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        gate::refill(form, job);
        form.set(self.drained.volume.0, "0");
        self.drained.refill(form, job);
        mark::refill(form, MARK, job.mark);
        for movement in into_a_loop(job) {
            source::refill(form, movement);
            form.set(VOLUME.0, movement.volume.typed.clone());
            if let Some(typed) = &movement.temperature {
                form.set(TEMPERATURE.0, typed.typed.clone());
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let loops = ground.loops().iter();
        Drawn::from(&Page {
            frame: common.frame.clone(),
            strengths: loops.map(|each| strength_sentence(each, ground)).collect(),
            open_caution: gate::LET_IT_COOL,
            gate: GateFields::of(form, units),
            drained: self.drained.fields(form, ground),
            air_caution: Caution {
                text: "Eye protection on. Pushed in from below, the last of it is air: filler open, stand clear of its neck.",
            },
            source: source::field(form, ground),
            volume: form.quantity_field(VOLUME, Offered::Volume, units, ""),
            temperature: form.quantity_field(
                TEMPERATURE,
                Offered::Temperature,
                units,
                common::left_empty(units),
            ),
            mark: mark::field(form, MARK, "Kept with the job."),
            end_caution: Caution {
                text: "Bleed before unhooking. Run it until it is mixed, then test it; look at the level again once it has cooled.",
            },
            common,
        })
    }
}

fn into_a_loop(job: &Job) -> impl Iterator<Item = &Movement> {
    job.lines.iter().filter_map(|line| match line {
        Line::Movement(movement) if matches!(movement.to, Account::Loop(_)) => Some(movement),
        _ => None,
    })
}

/// "Target strength 50.0 %, now 44.1 % ± 2.0 points by the book."
fn strength_sentence(circuit: &Loop, ground: &Ground) -> String {
    let units = ground.units();
    let of = if ground.loops().len() > 1 {
        format!("{}: ", circuit.name)
    } else {
        String::new()
    };
    let target = circuit.target_strength.map_or_else(
        || "No target strength on record".to_owned(),
        |target| format!("Target strength {}", units.strength(target)),
    );
    let now = Moment(ground.now.timestamp_millis());
    let known = ground.held_by(circuit.id).and_then(|held| held.known(now));
    let told = known.filter(|known| {
        known.figures.shown_ml > 0 && known.figures.knowledge != Knowledge::Assumed
    });
    let now = told.map_or_else(
        || "nobody knows what it is now: test it first".to_owned(),
        |known| {
            let figures = figure::strength_with_spread(units, &known.figures);
            format!("now {figures} by the book")
        },
    );
    format!("{of}{target}, {now}.")
}
