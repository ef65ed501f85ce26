//! A unit in a table: its worst loop speaks for it.

use std::collections::BTreeMap;

use domain::book::outcome::Knowledge;
use domain::ids::UnitId;
use storage::LoopFigures;

use super::standing::{About, Ground, Next, Standing, Told, Word};
use crate::component::Status;
use crate::figure;
use crate::page::sentence;

/// A unit with all its loops judged.
#[derive(Clone, Debug)]
pub(crate) struct Judged {
    pub(crate) unit: UnitId,
    pub(crate) number: String,
    pub(crate) kind: String,
    pub(crate) loops: usize,
    /// The loop that stands worst.
    pub(crate) worst: Standing,
    /// Its name; empty where it is the only one.
    pub(crate) worst_name: String,
    pub(crate) being_worked_out_again: bool,
}

/// Units from the rows of their loops, which follow one another by unit.
pub(crate) fn judge_all(loops: &[LoopFigures], at: Ground) -> Vec<Judged> {
    loops
        .chunk_by(|one, next| one.unit == next.unit)
        .filter_map(|loops| judge_one(loops, at))
        .collect()
}

fn judge_one(loops: &[LoopFigures], ground: Ground) -> Option<Judged> {
    let standings = loops.iter().map(|each| {
        let known = each.state.map(|state| state.known(ground.now));
        (
            Standing::of(known, about(each), ground).tested(&each.pressure_tests),
            each,
        )
    });
    let (worst, circuit) = standings.min_by_key(|(standing, _)| standing.gravity())?;
    let stale = |each: &LoopFigures| each.state.is_some_and(|state| state.being_worked_out_again);
    Some(Judged {
        unit: circuit.unit,
        number: circuit.unit_number.clone(),
        kind: circuit.unit_kind.clone(),
        loops: loops.len(),
        worst,
        worst_name: if loops.len() > 1 {
            circuit.name.clone()
        } else {
            String::new()
        },
        being_worked_out_again: loops.iter().any(stale),
    })
}

fn about(each: &LoopFigures) -> About {
    About {
        capacity_ml: each.capacity_ml,
        has_open_question: each.has_open_question,
    }
}

/// How many units stand at each word, in the order of the words.
pub(crate) fn count_words(units: &[Judged]) -> Vec<(Word, usize)> {
    let mut counts: BTreeMap<Word, usize> = BTreeMap::new();
    for unit in units {
        let count = counts.entry(unit.worst.word).or_default();
        *count = count.saturating_add(1);
    }
    Word::ALL
        .into_iter()
        .filter_map(|word| Some((word, *counts.get(&word)?)))
        .collect()
}

/// What a row of a table shows.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) address: String,
    pub(crate) number: String,
    pub(crate) kind: String,
    pub(crate) loops: usize,
    pub(crate) status: Status,
    /// A sentence with the numbers.
    pub(crate) why: String,
    pub(crate) strength: String,
    pub(crate) freeze: String,
    pub(crate) last_test: String,
    /// How long ago the last test was; empty when there was none.
    pub(crate) ago: String,
    /// What to do next, and where.
    pub(crate) step: Option<(String, String)>,
    pub(crate) being_worked_out_again: bool,
}

/// Whether the person may take the next step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Steps {
    Offered,
    NotTheirs,
}

impl Row {
    pub(crate) fn of(unit: &Judged, told: Told, steps: Steps) -> Self {
        let Told { units, zone, now } = told;
        let address = format!("/units/{}", unit.unit);
        let known = unit.worst.known();
        let of_loop = |text: String| match unit.worst_name.as_str() {
            "" => text,
            name => format!("{name}: {text}"),
        };
        let figures = &known.figures;
        let next = match steps {
            Steps::Offered => unit.worst.next(),
            Steps::NotTheirs => Next::Nothing,
        };
        Self {
            step: next.step(&unit.number, &address),
            number: unit.number.clone(),
            kind: unit.kind.clone(),
            loops: unit.loops,
            status: unit.worst.word.status(),
            why: unbroken(&sentence(&of_loop(unit.worst.why(told)))),
            strength: if figures.knowledge == Knowledge::Assumed {
                "not known".to_owned()
            } else {
                figure::strength_with_spread(units, figures)
            },
            freeze: unit.worst.judged.freeze.map_or_else(
                || "not known".to_owned(),
                |point| figure::freeze_with_spread(units, &point),
            ),
            last_test: known
                .last_reading_at
                .map_or_else(|| "none yet".to_owned(), |at| figure::day(at, zone)),
            ago: known
                .last_reading_at
                .map_or_else(String::new, |at| figure::ago(at, now, zone)),
            being_worked_out_again: unit.being_worked_out_again,
            address,
        }
    }
}

/// The same text, with no line break between a number, its ± and its unit or percent.
pub(crate) fn unbroken(text: &str) -> String {
    text.replace("± ", "±\u{A0}")
        .replace(" ±", "\u{A0}±")
        .replace(" °", "\u{A0}°")
        .replace(" %", "\u{A0}%")
}
