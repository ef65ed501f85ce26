//! Which reading the strength of a loop or vessel rests on, what happened since, and which readings are kept
//! and do not count.

use std::collections::{BTreeMap, HashMap};

use domain::book::question::QuestionKind;
use domain::book::{WAITS_BEYOND, strength_read};
use domain::condition::governing::{RestsOn, Step, rests_on};
use domain::fact::{Fact, What};
use domain::fleet::Tool;
use domain::fluid::Glycol;
use domain::ids::PlaceId;
use domain::job::{JobKind, Line, Measured, Reading};
use domain::quantity::rounding::float;
use storage::{HistoryRow, OpenQuestion, PlaceContents, Read};

use crate::WebError;
use crate::component::{Counted, Piece, Said};
use crate::desk::Desk;
use crate::figure;
use crate::page::sentence;
use crate::place::history;

/// So many facts are walked through.
const MOST: i64 = 64;
/// So many open questions of one place are looked at.
const MOST_QUESTIONS: i64 = 20;

/// What the shown strength of a place rests on.
#[derive(Clone, Debug)]
pub(crate) struct Governing {
    /// "Rests on the refractometer reading of 2026-10-03, freezes at −37 °C: 52.0 % ± 1.9 points after it, and 2
    /// jobs since."
    pub(crate) said: Said,
    /// The name of the list below in an address.
    pub(crate) id: String,
    /// Jobs that moved coolant since, the newest first.
    pub(crate) since: Vec<Since>,
    /// Readings on record that do not count, or that a second sample is asked for of.
    pub(crate) kept: Vec<Said>,
}

/// A job since then.
#[derive(Clone, Debug)]
pub(crate) struct Since {
    pub(crate) address: String,
    pub(crate) day: String,
    pub(crate) what: String,
    /// "50.0 % ± 2.0 points": what the book made of the strength with it.
    pub(crate) strength: String,
}

/// A fact of the place's history, with its readings of a strength here.
struct Walked {
    row: HistoryRow,
    readings: Vec<(u16, Reading)>,
}

/// What is known of a place's readings.
struct Course {
    /// The oldest first.
    walked: Vec<Walked>,
    /// It goes on before the first of them.
    goes_further: bool,
    /// Questions about readings, by the fact's place in the record and the line.
    asked: BTreeMap<(i64, u16), OpenQuestion>,
}

impl Governing {
    /// None of a place that holds nothing, or of whose strength nobody knows.
    pub(crate) async fn read(
        desk: &Desk,
        read: &mut Read,
        (held, id): (Option<&PlaceContents>, String),
    ) -> Result<Option<Self>, WebError> {
        let Some(held) = held.filter(|held| held.shown_ml > 0) else {
            return Ok(None);
        };
        let course = Course::read(read, held.place).await?;
        let told = Tell {
            desk,
            course: &course,
        };
        let steps = course.steps();
        let (only, from): (Vec<Step>, Vec<usize>) = steps.into_iter().unzip();
        let (on, _) = rests_on(&only);
        let governs = match on {
            RestsOn::Reading { step, .. } => from.get(step).copied(),
            RestsOn::Before | RestsOn::PutIn => None,
        };
        let since = governs.map_or_else(Vec::new, |at| told.since(at));
        let said = match (on, governs) {
            (RestsOn::Reading { reading, .. }, Some(at)) => {
                told.reading((at, reading), (&since, &id))
            }
            (RestsOn::PutIn, _) => told.put_in(),
            _ if held.knowledge == "assumed" => None,
            _ => told.before(),
        };
        let kept = told.kept();
        let Some(said) = said else {
            let none = kept.is_empty();
            return Ok((!none).then(|| Self {
                said: "Rests on no reading: none counts.".into(),
                id,
                since: Vec::new(),
                kept,
            }));
        };
        Ok(Some(Self {
            said,
            id,
            since,
            kept,
        }))
    }
}

impl Course {
    async fn read(read: &mut Read, place: PlaceId) -> Result<Self, WebError> {
        let rows = read.list_place_history(place, None, MOST).await;
        let mut rows = rows.map_err(WebError::fault)?;
        let goes_further = i64::try_from(rows.len()).is_ok_and(|count| count == MOST);
        rows.retain(|row| row.standing == "posted");
        rows.reverse();
        let read_in = |row: &&HistoryRow| row.job_kind.is_some() && may_have_read(row);
        let seqs: Vec<i64> = rows.iter().filter(read_in).map(|row| row.seq).collect();
        let mut facts: HashMap<i64, Fact> = HashMap::new();
        for row in read.list_facts_at(&seqs).await.map_err(WebError::fault)? {
            facts.insert(row.seq, row.fact().map_err(WebError::fault)?);
        }
        let walked: Vec<Walked> = rows
            .into_iter()
            .map(|row| Walked {
                readings: facts
                    .get(&row.seq)
                    .map_or_else(Vec::new, |fact| readings(place, fact)),
                row,
            })
            .collect();
        let mut asked = BTreeMap::new();
        let mut questions = read
            .list_open_questions_of_place(place, MOST_QUESTIONS)
            .await
            .map_err(WebError::fault)?;
        // Of readings that changed nothing the answered ones say why.
        let silent = |walked: &&Walked| !walked.readings.is_empty() && !has_counted(&walked.row);
        for walked in walked.iter().filter(silent) {
            let of_fact = read.list_questions_of_fact(walked.row.order.key).await;
            questions.extend(of_fact.map_err(WebError::fault)?);
        }
        for question in questions {
            if question.place == Some(place) && is_about_a_reading(question.id.kind) {
                asked.insert((question.seq, question.id.line), question);
            }
        }
        Ok(Self {
            walked,
            goes_further,
            asked,
        })
    }

    /// What changed what is known, with the fact it came from.
    fn steps(&self) -> Vec<(Step, usize)> {
        let mut steps = Vec::new();
        for (at, walked) in self.walked.iter().enumerate() {
            let row = &walked.row;
            if row.in_ml > 0 && row.shown_after_ml > 0 {
                let share = float(row.in_ml) / float(row.shown_after_ml);
                steps.push((Step::PutIn(share.min(1.0)), at));
            }
            let tools: Vec<(Tool, f64)> = walked
                .readings
                .iter()
                .filter(|(line, _)| self.counts(walked, *line))
                .filter_map(|(_, reading)| Some((reading.tool, sigma(row, reading)?)))
                .collect();
            if has_counted(row) && !tools.is_empty() {
                let before = float(row.sigma_before_millionths);
                steps.push((Step::Read { before, tools }, at));
            }
        }
        steps
    }

    /// Whether a reading moved the book: it does unless it waits or was turned down.
    fn counts(&self, walked: &Walked, line: u16) -> bool {
        let asked = self.asked.get(&(walked.row.seq, line));
        asked.is_none_or(|asked| {
            let accepted = asked
                .answer
                .as_ref()
                .is_some_and(|(_, decision)| decision == "accept");
            !asked.id.kind.waits() || accepted
        })
    }
}

/// A job that only read, or in which what is known became surer.
fn may_have_read(row: &HistoryRow) -> bool {
    has_counted(row) || (row.in_ml == 0 && row.out_ml == 0)
}

/// Nothing but a reading makes the spread smaller, or what came in.
fn has_counted(row: &HistoryRow) -> bool {
    row.sigma_after_millionths < row.sigma_before_millionths
}

const fn is_about_a_reading(kind: QuestionKind) -> bool {
    matches!(
        kind,
        QuestionKind::ReadingOutsideCurve
            | QuestionKind::ReadingOfTwoBases
            | QuestionKind::ReadingScale
            | QuestionKind::ReadingFarOff
            | QuestionKind::ReadingOff
    )
}

/// The readings of a strength at a place, with their lines.
fn readings(place: PlaceId, fact: &Fact) -> Vec<(u16, Reading)> {
    let What::Job(job) = &fact.what else {
        return Vec::new();
    };
    let each = (0_u16..).zip(&job.lines);
    each.filter_map(|(line, of)| match of {
        Line::Reading(reading)
            if reading.place.place() == Some(place)
                && !matches!(reading.measured, Measured::Other { .. }) =>
        {
            Some((line, reading.clone()))
        }
        _ => None,
    })
    .collect()
}

fn glycol(row: &HistoryRow) -> Option<Glycol> {
    let before = row.chemistry_before.glycol();
    before.or_else(|| row.chemistry_after.glycol())
}

/// One standard deviation of a reading, millionths.
fn sigma(row: &HistoryRow, reading: &Reading) -> Option<f64> {
    let (_, sigma) = strength_read(glycol(row)?, reading)?;
    Some(float(sigma))
}

#[derive(Clone, Copy)]
struct Tell<'a> {
    desk: &'a Desk,
    course: &'a Course,
}

impl Tell<'_> {
    fn day(self, row: &HistoryRow) -> String {
        figure::day(row.order.happened, self.desk.zone())
    }

    /// "refractometer reading of 2026-10-03", leading to its job.
    fn named(self, row: &HistoryRow, reading: &Reading) -> Counted {
        let words = format!("{} reading of {}", reading.tool.word(), self.day(row));
        Counted::told(words, format!("/jobs/{}", row.order.key))
    }

    fn reading(self, (at, which): (usize, usize), (since, id): (&[Since], &str)) -> Option<Said> {
        let walked = self.course.walked.get(at)?;
        let counts = |(line, _): &&(u16, Reading)| self.course.counts(walked, *line);
        let (_, reading) = walked.readings.iter().filter(counts).nth(which)?;
        let strength = figure::strength_with_spread(self.desk.units(), &walked.row.after());
        let mut said: Vec<Piece> = vec![
            "Rests on the ".into(),
            self.named(&walked.row, reading).into(),
            format!(
                ", {}: {strength} after it, and ",
                history::read_words(reading)
            )
            .into(),
        ];
        if since.is_empty() {
            said.push("nothing went in or out since.".into());
        } else {
            let jobs = if since.len() == 1 { " job" } else { " jobs" };
            said.push(Counted::rows(since.len(), format!("#{id}")).into());
            said.push(format!("{jobs} since.").into());
        }
        Some(said.into())
    }

    /// What was put in carries more than any reading does.
    fn put_in(self) -> Option<Said> {
        let last = self.course.walked.iter().rev();
        let last = last
            .filter(|walked| walked.row.job_kind.is_some())
            .max_by_key(|walked| walked.row.in_ml)
            .filter(|walked| walked.row.in_ml > 0)?;
        let row = &last.row;
        let kind = row.job_kind.as_deref().and_then(JobKind::from_code)?;
        let words = format!("{} of {}", kind.word(), self.day(row));
        let said: Vec<Piece> = vec![
            "Rests on what was put in, more than on any reading: most of it by the ".into(),
            Counted::told(words, format!("/jobs/{}", row.order.key)).into(),
            ".".into(),
        ];
        Some(said.into())
    }

    fn before(self) -> Option<Said> {
        if self.course.goes_further {
            let first = self.course.walked.first()?;
            let day = self.day(&first.row);
            return Some(
                vec![
                    format!(
                        "Rests on what was known before {day}, more than on any later reading."
                    )
                    .into(),
                ]
                .into(),
            );
        }
        Some("Rests on the strength that was stated: no reading weighs more.".into())
    }

    /// What moved coolant after a fact, the newest first.
    fn since(self, at: usize) -> Vec<Since> {
        let later = self.course.walked.iter().skip(at.saturating_add(1));
        let moved = later.filter(|walked| walked.row.in_ml > 0 || walked.row.out_ml > 0);
        let line = |walked: &Walked| {
            let row = &walked.row;
            let kind = row.job_kind.as_deref().and_then(JobKind::from_code)?;
            Some(Since {
                address: format!("/jobs/{}", row.order.key),
                day: self.day(row),
                what: sentence(kind.word()).trim_end_matches('.').to_owned(),
                strength: figure::strength_with_spread(self.desk.units(), &row.after()),
            })
        };
        let mut since: Vec<Since> = moved.filter_map(line).collect();
        since.reverse();
        since
    }

    /// Readings that wait, were turned down, or want a second sample; the newest first.
    fn kept(self) -> Vec<Said> {
        let mut kept = Vec::new();
        for walked in self.course.walked.iter().rev() {
            for (line, reading) in &walked.readings {
                let asked = self.course.asked.get(&(walked.row.seq, *line));
                kept.extend(asked.and_then(|asked| self.kept_line(walked, (reading, asked))));
            }
        }
        kept
    }

    fn kept_line(
        self,
        walked: &Walked,
        (reading, asked): (&Reading, &OpenQuestion),
    ) -> Option<Said> {
        let off = self.off(&walked.row, (reading, asked));
        let decision = asked.answer.as_ref().map(|(_, decision)| decision.as_str());
        let question = asked.question().sentence(self.desk.units());
        let why = match (asked.id.kind, decision) {
            (_, Some("accept")) | (QuestionKind::ReadingOff, Some(_)) => return None,
            (QuestionKind::ReadingOff, None) => format!("counts, {off}; asked: {question}"),
            (QuestionKind::ReadingFarOff, None) => format!(
                "kept, does not count: {off}, and beyond {WAITS_BEYOND} σ it waits; asked: {question}"
            ),
            (QuestionKind::ReadingFarOff, Some(_)) => {
                format!("kept, does not count: {off}, and it was turned down")
            }
            (_, Some(_)) => format!("kept, does not count: it was turned down; {question}"),
            (_, None) => format!("kept, does not count; asked: {question}"),
        };
        let said: Vec<Piece> = vec![
            "The ".into(),
            self.named(&walked.row, reading).into(),
            format!(", {}: {why}.", history::read_words(reading)).into(),
        ];
        Some(said.into())
    }

    /// "3.4 σ off": so many standard deviations of book and tool together from what the book expected.
    fn off(self, row: &HistoryRow, (reading, asked): (&Reading, &OpenQuestion)) -> String {
        let book = float(row.sigma_before_millionths);
        let Some(both) = sigma(row, reading).map(|tool| tool.hypot(book).max(1.0)) else {
            return "far off".to_owned();
        };
        let off = float(asked.found.saturating_sub(asked.expected).saturating_abs()) / both;
        format!("{} σ off", figure::decimal(self.desk.units(), off, 1))
    }
}
