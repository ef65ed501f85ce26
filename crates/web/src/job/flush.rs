//! Flush: a drained loop rinsed, each rinse into a waste vessel.

use std::collections::BTreeSet;

use domain::fleet::Tool;
use domain::job::{Account, Details, Fit, Intent, Job, JobKind, Line, Measured, Movement, Reading};

use super::common::{Common, read_loop, read_volume};
use super::gate;
use super::ground::Ground;
use super::looks;
use super::plain::{self, Step};
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet, Steps};
use super::source;
use super::vessel_choice::{self, Purpose};
use crate::component::{Pad, TextField, Width};
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct Flush;

const AGENT: (&str, &str) = ("agent", "Cleaning agent (optional)");
const RINSES: (&str, &str) = ("rinses", "How many rinses?");
const WATER: (&str, &str) = ("water", "Water put in at each rinse");
const TO: (&str, &str) = ("to", "Into which vessel did the rinse go?");
const OUT: (&str, &str) = ("volume", "What came out at each rinse");
const PH: (&str, &str) = ("ph", "pH of the last rinse (optional)");

/// What the pH is kept as.
const PH_OF_LAST: &str = "pH of the last rinse";
/// More is a typing error.
const MOST_RINSES: i64 = 20;

impl Sheet for Flush {
    fn kind(&self) -> JobKind {
        JobKind::Flush
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "A drained unit was rinsed; the rinse is waste."
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        vessel_choice::preset_only(form, TO.0, Purpose::TakesUnfit, ground);
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let circuit = read_loop(form, ground);
        let gate = gate::read(form, ground.units());
        let agent = form.line(AGENT, Presence::Optional);
        let rinses = form.whole(RINSES, (1, MOST_RINSES), Presence::Needed);
        let water = read_volume(form, WATER, (ground, Presence::Needed));
        let to = vessel_choice::read(form, TO, Purpose::TakesUnfit, (ground, &mut breaches));
        let out = read_volume(form, OUT, (ground, Presence::Needed));
        let looks = looks::read(form);
        let ph = form.thousandths(PH, (0, 14));
        let place = Account::Loop(circuit?.id);
        let rinses = u16::try_from(rinses?).ok()?;
        let (water, out, to) = (water?, out?, Account::Vessel(to?));
        let moved = |(from, to), volume, fluid| Moved {
            from,
            to,
            volume,
            temperature: None,
            fluid,
        };
        let mut lines = Vec::new();
        for _ in 0..rinses {
            let bought = Some(source::water());
            lines.push(moved((Account::Supplier, place), water.clone(), bought).line());
            let rinse = moved((place, to), out.clone(), None);
            lines.push(rinse.judged(Fit::No, Intent::Waste));
        }
        lines.extend(ph.map(|ph| ph_line(place, ph)));
        Some(gate.into_parts(Parts {
            place: Some(place),
            lines,
            looks,
            details: Some(Details::Flush { agent, rinses }),
            breaches,
            ..Parts::default()
        }))
    }

    /// Lists tell of one drain and one fill, other programs of rinses that differ.
    fn holds(&self, job: &Job) -> bool {
        let Some(((water, out), Details::Flush { rinses, .. })) =
            first_rinse(job).zip(job.details.as_ref())
        else {
            return false;
        };
        let mut movements = movements(job);
        let alike = |movement: &Movement, first: &Movement| {
            (movement.from, movement.to, &movement.volume) == (first.from, first.to, &first.volume)
        };
        let mut pairs = 0_u16;
        while let Some(into) = movements.next() {
            let out_again = movements.next().is_some_and(|each| alike(each, out));
            if !alike(into, water) || !out_again {
                return false;
            }
            pairs = pairs.saturating_add(1);
        }
        let readings = job.lines.iter().filter(|line| !is_movement(line));
        pairs == *rinses && readings.clone().count() <= 1 && readings.clone().all(is_ph)
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        gate::refill(form, job);
        looks::refill(form, &job.looks);
        if let Some(Details::Flush { agent, rinses }) = &job.details {
            form.set(AGENT.0, agent.clone().unwrap_or_default());
            form.set(RINSES.0, rinses.to_string());
        }
        if let Some((water, out)) = first_rinse(job) {
            form.set(WATER.0, water.volume.typed.clone());
            form.set(OUT.0, out.volume.typed.clone());
            if let Some(vessel) = out.to.place() {
                form.set(TO.0, vessel.to_string());
            }
        }
        for line in &job.lines {
            if let Line::Reading(Reading {
                measured: Measured::Other { typed, .. },
                ..
            }) = line
            {
                form.set(PH.0, typed.clone());
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let volume = |named, hint| form.quantity_field(named, Offered::Volume, units, hint);
        let number = |named, hint| TextField {
            pad: Pad::Decimal,
            ..form.text_field(named, hint, Width::Five)
        };
        let held = ground.holdings_in_words(form);
        let put_in = Step::new("What went in")
            .saying((!held.is_empty()).then_some(held))
            .caution("Eye protection on. Air on a flushing gun stays below what the radiator takes; the maker's limit comes first.")
            .with(form.text_field(AGENT, "As on its label, and by its label.", Width::Twenty))
            .with(number(RINSES, "Drain the coolant first: that is a job of its own."))
            .with(volume(WATER, ""));
        let came_out = Step::new("What came out")
            .caution("The rinse is waste: never into a vessel whose coolant is used again, never to a drain, the ground or a septic tank.")
            .with(vessel_choice::field(form, TO, Purpose::TakesUnfit, ground))
            .with(volume(OUT, ""));
        let last = Step::new("Last rinse")
            .with(looks::field(
                form,
                "It is done when the last rinse comes out clear.",
            ))
            .with(number(PH, ""));
        plain::page(
            common,
            [Step::before_opening(form, ground), put_in, came_out, last],
        )
    }
}

fn ph_line(place: Account, (typed, thousandths): (String, i64)) -> Line {
    Line::Reading(Reading::of(
        place,
        Measured::Other {
            what: PH_OF_LAST.to_owned(),
            typed,
            unit: String::new(),
            thousandths,
        },
        Tool::Gauge,
    ))
}

fn is_movement(line: &Line) -> bool {
    matches!(line, Line::Movement(_))
}

fn is_ph(line: &Line) -> bool {
    matches!(
        line,
        Line::Reading(Reading { measured: Measured::Other { what, .. }, .. }) if what == PH_OF_LAST
    )
}

fn movements(job: &Job) -> impl Iterator<Item = &Movement> {
    job.lines.iter().filter_map(|line| match line {
        Line::Movement(movement) => Some(movement),
        _ => None,
    })
}

/// What went in and what came out at the first rinse.
fn first_rinse(job: &Job) -> Option<(&Movement, &Movement)> {
    let mut movements = movements(job);
    let (water, out) = (movements.next()?, movements.next()?);
    let is_rinse = water.from == Account::Supplier
        && matches!(water.to, Account::Loop(_))
        && water.to == out.from
        && matches!(out.to, Account::Vessel(_));
    is_rinse.then_some((water, out))
}
