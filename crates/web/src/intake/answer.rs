//! What a job is answered with: its place in the record, what is odd about it, and what it made of
//! the places it touched.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use domain::book::Book;
use domain::book::contents::Contents;
use domain::book::outcome::{Figures, Knowledge, Outcome, PlaceChange};
use domain::condition::figures::{self, Chemistry};
use domain::fact::{Fact, What};
use domain::ids::PlaceId;
use domain::job::{Account, Job, Line};
use domain::quantity::{UnitsOfMeasure, rounding::float};
use serde::Serialize;
use storage::{AppendedView, StoredAnswer};

/// Recorded, nothing odd about it.
const RECORDED: u16 = 201;
/// Recorded, and a question was raised.
const NEEDS_CHECKING: u16 = 202;

#[derive(Serialize)]
struct Answer {
    key: String,
    job: i64,
    questions: Vec<Asked>,
    places: Vec<Touched>,
}

#[derive(Serialize)]
struct Asked {
    line: u16,
    kind: &'static str,
    sentence: String,
}

#[derive(Serialize)]
struct Touched {
    place: String,
    is: &'static str,
    before: State,
    after: State,
}

/// Figures of a place; a strength nobody knows and a freeze point there is no curve for are null.
#[derive(Serialize)]
struct State {
    shown_l: f64,
    strength_pct: Option<f64>,
    strength_plus_minus: Option<f64>,
    freeze_c: Option<f64>,
    freeze_plus_minus: Option<f64>,
    freeze_is_at_or_below: bool,
}

/// What places held before a fact came in, noted inside the transaction: figures alone do not tell
/// which glycol they are of.
#[derive(Clone, Debug, Default)]
pub struct Held(Arc<Mutex<HashMap<PlaceId, Contents>>>);

impl Held {
    /// Notes what the places of a fact hold in the book.
    pub fn note(&self, book: &Book, fact: &Fact) {
        let What::Job(job) = &fact.what else {
            return;
        };
        // A lock is poisoned only when somebody panicked with it; nobody does anything with it here.
        let Ok(mut held) = self.0.lock() else {
            return;
        };
        for place in places_of(job) {
            if let Some(state) = book.place(place) {
                held.insert(place, state.contents.clone());
            }
        }
    }

    fn chemistry(&self, change: &PlaceChange, outcome: &Outcome) -> Chemistry {
        let place = change.place();
        let before = place.and_then(|place| self.0.lock().ok()?.get(&place).cloned());
        let mut all = before.clone().unwrap_or_default();
        let mut drawn = false;
        for posting in &outcome.postings {
            if posting.from.place() == place || posting.to.place() == place {
                drawn |= posting.from.place() == place;
                all.add(&positive(&posting.contents));
            }
        }
        // Unseen contents are known only by what was drawn from them.
        if before.is_some() || drawn || change.before.shown_ml == 0 {
            Chemistry::of(&all)
        } else {
            Chemistry::NoCurve
        }
    }
}

/// A shift by a reading has a negative part, which must not cancel what is there.
fn positive(contents: &Contents) -> Contents {
    let parts = contents.parts().iter();
    parts.map(|part| (part.component, part.ml.abs())).collect()
}

fn places_of(job: &Job) -> impl Iterator<Item = PlaceId> {
    let of_line = |line: &Line| match line {
        Line::Movement(movement) => [movement.from.place(), movement.to.place()],
        Line::Reading(reading) => [reading.place.place(), None],
        Line::Dip(dip) => [dip.place.place(), None],
    };
    let lines = job.lines.iter().flat_map(of_line);
    lines.chain([job.place.and_then(Account::place)]).flatten()
}

/// The answer to a fact that was taken in.
pub fn answer(view: &AppendedView<'_>, held: &Held, units: UnitsOfMeasure) -> StoredAnswer {
    let nothing = Outcome::default();
    let outcome = view.outcome.unwrap_or(&nothing);
    let questions: Vec<Asked> = outcome
        .questions
        .iter()
        .map(|question| Asked {
            line: question.line,
            kind: question.kind.code(),
            sentence: question.sentence(units),
        })
        .collect();
    let places = outcome
        .changes
        .iter()
        .filter_map(|change| {
            let chemistry = held.chemistry(change, outcome);
            Some(Touched {
                place: change.place()?.to_string(),
                is: change.account.word(),
                before: state(&change.before, chemistry),
                after: state(&change.after, chemistry),
            })
        })
        .collect();
    let status = if questions.is_empty() {
        RECORDED
    } else {
        NEEDS_CHECKING
    };
    let answer = Answer {
        key: view.key.to_string(),
        job: view.seq,
        questions,
        places,
    };
    StoredAnswer {
        status,
        // Plain texts and numbers always become JSON; the fallback only spares a panic.
        body: serde_json::to_vec(&answer).unwrap_or_default(),
    }
}

fn state(figures: &Figures, chemistry: Chemistry) -> State {
    let known = figures.shown_ml > 0 && figures.knowledge != Knowledge::Assumed;
    let freeze = figures::freeze(figures, chemistry).filter(|_| known);
    State {
        shown_l: float(figures.shown_ml) / 1e3,
        strength_pct: known.then(|| figures::strength_pct(figures)),
        strength_plus_minus: known.then(|| hundredths(figures::strength_plus_minus(figures))),
        freeze_c: freeze.map(|point| figures::degrees_c(point.at)),
        freeze_plus_minus: freeze
            .filter(|point| !point.or_below)
            .map(|point| hundredths(point.plus_minus_c)),
        freeze_is_at_or_below: freeze.is_some_and(|point| point.or_below),
    }
}

fn hundredths(number: f64) -> f64 {
    (number * 100.0).round() / 100.0
}
