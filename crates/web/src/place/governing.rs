//! Which reading the strength of a loop or vessel rests on, what happened since, and which readings are kept
//! and do not count.

use std::collections::{BTreeMap, HashMap};

use domain::book::outcome::Why;
use domain::book::question::QuestionKind;
use domain::book::{WAITS_BEYOND, strength_read};
use domain::condition::governing::{RestsOn, Step, rests_on};
use domain::fact::{Fact, What};
use domain::fleet::Tool;
use domain::fluid::Glycol;
use domain::ids::{FactKey, PlaceId};
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

/// What governs, by where it stands among the facts that were walked through.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Governs {
    Before,
    PutIn { at: usize },
    Reading { at: usize, line: u16 },
}

/// Where a step comes from: which fact, and of readings the line of each.
struct Origin {
    at: usize,
    lines: Vec<u16>,
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
        let governs = course.governs();
        let since = match governs {
            Governs::Reading { at, .. } => told.since(at),
            Governs::PutIn { .. } | Governs::Before => Vec::new(),
        };
        let said = match governs {
            Governs::Reading { at, line } => told.reading((at, line), (&since, &id)),
            Governs::PutIn { at } => told.put_in(at),
            Governs::Before if held.knowledge == "assumed" => None,
            Governs::Before => told.before(),
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
        let ids = read.list_ids_of_place(place).await;
        let ids = ids.map_err(WebError::fault)?;
        let walked: Vec<Walked> = rows
            .into_iter()
            .map(|row| Walked {
                readings: facts
                    .get(&row.seq)
                    .map_or_else(Vec::new, |fact| readings(&ids, fact)),
                row,
            })
            .collect();
        let with_readings = walked.iter().filter(|walked| !walked.readings.is_empty());
        let keys: Vec<FactKey> = with_readings.map(|walked| walked.row.order.key).collect();
        // The answered ones too: whether a reading counts hangs on what was answered.
        let questions = read.list_questions_of_facts(&keys).await;
        let questions = questions.map_err(WebError::fault)?.into_iter();
        let asked = questions
            .filter(|question| is_about_a_reading(question.id.kind))
            .map(|question| ((question.seq, question.id.line), question))
            .collect();
        Ok(Self {
            walked,
            goes_further,
            asked,
        })
    }

    fn governs(&self) -> Governs {
        let (steps, from): (Vec<Step>, Vec<Origin>) = self.steps().into_iter().unzip();
        let found = match rests_on(&steps).0 {
            RestsOn::Before => None,
            RestsOn::PutIn { step } => from.get(step).map(|from| Governs::PutIn { at: from.at }),
            RestsOn::Reading { step, reading } => from.get(step).and_then(|from| {
                let line = *from.lines.get(reading)?;
                Some(Governs::Reading { at: from.at, line })
            }),
        };
        found.unwrap_or(Governs::Before)
    }

    /// What changed what is known, with where it comes from.
    fn steps(&self) -> Vec<(Step, Origin)> {
        let mut steps = Vec::new();
        for (at, walked) in self.walked.iter().enumerate() {
            let row = &walked.row;
            if row.in_ml > 0 && row.shown_after_ml > 0 {
                let share = float(row.in_ml) / float(row.shown_after_ml);
                let lines = Vec::new();
                steps.push((Step::PutIn(share.min(1.0)), Origin { at, lines }));
            }
            if !has_counted(row) {
                continue;
            }
            let counted = walked.readings.iter().filter(|(line, reading)| {
                self.counts(walked, *line) && !is_passed_over(row, (*line, reading))
            });
            let (lines, tools): (Vec<u16>, Vec<(Tool, f64)>) = counted
                .filter_map(|(line, reading)| Some((*line, (reading.tool, sigma(row, reading)?))))
                .unzip();
            if !tools.is_empty() {
                let before = float(row.sigma_before_millionths);
                steps.push((Step::Read { before, tools }, Origin { at, lines }));
            }
        }
        steps
    }

    /// Whether a reading moved the book: it does unless it waits, was turned down, or tells no strength here.
    fn counts(&self, walked: &Walked, line: u16) -> bool {
        let asked = self.asked.get(&(walked.row.seq, line));
        asked.is_none_or(|asked| {
            let accepted = asked
                .answer
                .as_ref()
                .is_some_and(|(_, decision)| decision == "accept");
            !asked.id.kind.waits() || (accepted && asked.id.kind.counts_if_accepted())
        })
    }
}

/// Whether the book passed over a reading of "freezes at or below", which says no more than it thought anyway:
/// one that says more moves the strength.
fn is_passed_over(row: &HistoryRow, (line, reading): (u16, &Reading)) -> bool {
    let is_bound = matches!(reading.measured, Measured::FreezePointAtOrBelow(_));
    let code = Why::Reading.code();
    let mut moved = row.moved.iter();
    is_bound && !moved.any(|moved| moved.why == code && moved.line == i64::from(line))
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

/// The readings of a strength at a place that is told of under these ids, with their lines.
fn readings(ids: &[PlaceId], fact: &Fact) -> Vec<(u16, Reading)> {
    let What::Job(job) = &fact.what else {
        return Vec::new();
    };
    let each = (0_u16..).zip(&job.lines);
    each.filter_map(|(line, of)| match of {
        Line::Reading(reading)
            if reading
                .place
                .place()
                .is_some_and(|told| ids.contains(&told))
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

    fn reading(self, (at, line): (usize, u16), (since, id): (&[Since], &str)) -> Option<Said> {
        let walked = self.course.walked.get(at)?;
        let (_, reading) = walked.readings.iter().find(|(of, _)| *of == line)?;
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

    /// What was put in carries more than any reading does; most is left of what came in then.
    fn put_in(self, at: usize) -> Option<Said> {
        let row = &self.course.walked.get(at)?.row;
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
            (QuestionKind::ReadingFarOff, Some("accept")) | (QuestionKind::ReadingOff, Some(_)) => {
                return None;
            }
            (QuestionKind::ReadingOff, None) => format!("counts, {off}; asked: {question}"),
            (QuestionKind::ReadingFarOff, None) => format!(
                "kept, does not count: {off}, and beyond {WAITS_BEYOND} σ it waits; asked: {question}"
            ),
            (QuestionKind::ReadingFarOff, Some(_)) => {
                format!("kept, does not count: {off}, and it was turned down")
            }
            (_, Some("accept")) => format!("accepted, and moves nothing; {question}"),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::history::row_of_tests::quiet_row;
    use domain::book::Order;
    use domain::book::chemistry::Chemistry;
    use domain::fact::QuestionId;
    use domain::job::Account;
    use domain::moment::Moment;
    use domain::quantity::entry::read;
    use storage::{Moved, QuestionAt};
    use uuid::Uuid;

    const PLACE: PlaceId = PlaceId(Uuid::from_u128(1));

    fn key(seq: i64) -> FactKey {
        FactKey(Uuid::from_u128(seq.unsigned_abs().into()))
    }

    fn freezes(tool: Tool, at: &str) -> Reading {
        let measured = Measured::FreezePoint(read(at).unwrap());
        Reading::of(Account::Loop(PLACE), measured, tool)
    }

    /// A job that moves so much in, spreads in millionths, and its readings.
    fn job(seq: i64, in_ml: i64, spreads: (i64, i64), readings: Vec<Reading>) -> Walked {
        let at = Moment(seq);
        let row = HistoryRow {
            seq,
            job_kind: Some("condition_test".to_owned()),
            in_ml,
            sigma_before_millionths: spreads.0,
            sigma_after_millionths: spreads.1,
            knowledge_before: "assumed".to_owned(),
            chemistry_before: Chemistry::from_code("eg").unwrap(),
            chemistry_after: Chemistry::from_code("eg").unwrap(),
            ..quiet_row(at, seq.unsigned_abs().into())
        };
        let readings = (0..).zip(readings).collect();
        Walked { row, readings }
    }

    /// A question about a line of a job, and what was decided.
    fn about(
        (seq, line): (i64, u16),
        kind: QuestionKind,
        decision: Option<&str>,
    ) -> ((i64, u16), OpenQuestion) {
        let job = key(seq);
        let at = Moment(seq);
        let asked = OpenQuestion {
            id: QuestionId { job, line, kind },
            at: QuestionAt {
                happened_at: at,
                key: job,
                n: 0,
            },
            place: Some(PLACE),
            found: 0,
            expected: 0,
            shop: None,
            order: Order {
                happened: at,
                made: at,
                key: job,
            },
            seq,
            job_kind: None,
            unit: None,
            unit_number: None,
            person: None,
            place_name: None,
            answer: decision.map(|decision| (key(99), decision.to_owned())),
        };
        ((seq, line), asked)
    }

    fn course<const N: usize>(
        walked: Vec<Walked>,
        asked: [((i64, u16), OpenQuestion); N],
    ) -> Course {
        Course {
            walked,
            goes_further: false,
            asked: asked.into(),
        }
    }

    /// The sharper laboratory's reading would govern, were it not turned down; the spread fell all the same.
    #[test]
    fn a_reading_turned_down_beside_one_that_counts_governs_nothing() {
        let of = |decision| {
            let tools = [Tool::Refractometer, Tool::Laboratory];
            let readings = tools.map(|tool| freezes(tool, "-37 °C")).to_vec();
            let asked = about((1, 1), QuestionKind::ReadingFarOff, decision);
            course(vec![job(1, 0, (50_000, 5_000), readings)], [asked]).governs()
        };
        let by = |line| Governs::Reading { at: 0, line };
        assert_eq!(of(Some("reject")), by(0));
        assert_eq!(of(None), by(0));
        assert_eq!(of(Some("accept")), by(1));
    }

    /// Accepted or not, a reading that tells no strength here moves nothing.
    #[test]
    fn of_what_waits_only_a_reading_far_off_counts_once_accepted() {
        for (kind, counts) in [
            (QuestionKind::ReadingFarOff, true),
            (QuestionKind::ReadingScale, false),
            (QuestionKind::ReadingOutsideCurve, false),
            (QuestionKind::ReadingOfTwoBases, false),
        ] {
            let readings = vec![freezes(Tool::Refractometer, "-37 °C")];
            let asked = about((1, 0), kind, Some("accept"));
            let of = course(vec![job(1, 0, (50_000, 5_000), readings)], [asked]);
            assert_eq!(of.governs() != Governs::Before, counts, "{kind:?}");
        }
    }

    /// A freeze point outside the curve has no spread; "at or below" counts where it moved the strength.
    #[test]
    fn the_line_that_governs_is_named_whatever_stands_before_it() {
        let bound = |seq: i64, moves: bool| {
            let measured = Measured::FreezePointAtOrBelow(read("-30 °C").unwrap());
            let bound = Reading::of(Account::Loop(PLACE), measured, Tool::Laboratory);
            let readings = vec![
                freezes(Tool::Laboratory, "-90 °C"),
                bound,
                freezes(Tool::Refractometer, "-37 °C"),
            ];
            let mut job = job(seq, 0, (50_000, 5_000), readings);
            let moved = Moved {
                line: 1,
                why: Why::Reading.code().to_owned(),
                from_account: "not_accounted_for".to_owned(),
                from_place: None,
                to_account: "loop".to_owned(),
                to_place: Some(PLACE),
                shown_ml: 100,
            };
            job.row.moved.extend(moves.then_some(moved));
            course(vec![job], []).governs()
        };
        assert_eq!(bound(1, false), Governs::Reading { at: 0, line: 2 });
        assert_eq!(bound(1, true), Governs::Reading { at: 0, line: 1 });
    }

    /// 40 L long ago, then 38 L in their place.
    #[test]
    fn what_came_in_last_is_named_where_it_took_the_place_of_more() {
        let spreads = (20_000, 20_000);
        let walked = [(1, 40_000), (2, 38_000), (3, 1_000)];
        let walked = walked.map(|(seq, in_ml)| job(seq, in_ml, spreads, Vec::new()));
        let of = course(walked.into(), []);
        assert_eq!(of.governs(), Governs::PutIn { at: 1 });
    }
}
