//! What proves the protection of a loop over time: nitrite, reserve alkalinity or conductivity, with the
//! limits of its class.

use domain::condition::corrosion::{ClassPolicy, Proof};
use domain::condition::course::{Course, Done};
use domain::ids::FactKey;
use domain::moment::Moment;
use domain::quantity::rounding::float;

use super::standing::Told;
use crate::component::{Canvas, Cell, Chart, Point, Stroke, Words, through};
use crate::figure;
use crate::upkeep::corrosion::thousandths;

/// The newest readings that are drawn.
const MOST: usize = 40;

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
struct ReadAt {
    at: Moment,
    key: FactKey,
    thousandths: i64,
}

impl ReadAt {
    fn value(self) -> f64 {
        float(self.thousandths) / 1e3
    }
}

fn readings(course: &Course, proof: Proof) -> Vec<ReadAt> {
    let mut found = Vec::new();
    for event in &course.events {
        if let Done::Tested { proofs, .. } = &event.done {
            let of_it = proofs.iter().filter(|(read, _)| *read == proof);
            found.extend(of_it.map(|(_, thousandths)| ReadAt {
                at: event.at,
                key: event.key,
                thousandths: *thousandths,
            }));
        }
    }
    let skipped = found.len().saturating_sub(MOST);
    found.split_off(skipped)
}

/// What its class is held against.
#[derive(Clone, Copy)]
struct Limits {
    least: Option<i64>,
    most: Option<i64>,
}

impl Limits {
    fn hold(self, read: &ReadAt) -> bool {
        self.least.is_none_or(|least| read.thousandths >= least)
            && self.most.is_none_or(|most| read.thousandths <= most)
    }

    /// Each with the words at its line.
    fn each(self) -> impl Iterator<Item = (i64, &'static str)> {
        let both = [(self.least, "at least"), (self.most, "at most")];
        both.into_iter()
            .filter_map(|(limit, word)| Some((limit?, word)))
    }

    /// Lines across at them, with their words.
    fn lines(self, canvas: Canvas, (unit, told): (&str, Told)) -> (Vec<Stroke>, Vec<Words>) {
        let line = |(limit, word): (i64, &str)| {
            let words = format!("{word} {} {unit}", thousandths(told.units, limit));
            let value = float(limit) / 1e3;
            if self.least == Some(limit) {
                canvas.across_at_least(value, &words)
            } else {
                canvas.across(value, &words)
            }
        };
        self.each().map(line).unzip()
    }
}

/// None where its class has no proof, or fewer than two readings of it are on record.
pub(super) fn chart(
    (id, name): (String, &str),
    (course, policy): (&Course, Option<&ClassPolicy>),
    told: Told,
) -> Option<Chart> {
    let policy = policy?;
    let proof = policy.proof?;
    let limits = Limits {
        least: policy.least_thousandths,
        most: policy.most_thousandths,
    };
    let found = readings(course, proof);
    let (first, newest) = (found.first()?, found.last()?);
    if found.len() < 2 {
        return None;
    }
    let ends = limits.each().map(|(limit, _)| limit);
    let top = found
        .iter()
        .map(|read| read.thousandths)
        .chain(ends)
        .max()?;
    let times = (first.at, told.now);
    let canvas = Canvas::over(times, (0.0, float(top) / 1e3 * 1.1))?;
    let unit = proof.unit();
    let (mut strokes, words) = limits.lines(canvas, (unit, told));
    let points = found
        .iter()
        .map(|read| Some((canvas.x(read.at), canvas.y(read.value()))));
    strokes.push(Stroke {
        path: through(points),
        dashed: false,
    });
    let mark = |read: &ReadAt| {
        let point = if limits.hold(read) {
            Point::Dot
        } else {
            Point::Diamond
        };
        canvas.mark((read.at, read.value()), point, false)
    };
    Some(Chart {
        caption: caption((name, proof), (&found, limits.hold(newest)), told),
        description: format!(
            "Every reading of {} in {unit}; a diamond lies outside the limits of the class.",
            proof.word()
        ),
        id,
        y_label: format!("{}, {unit}", proof.word()),
        x_label: "month",
        x_ticks: canvas.x_ticks(times, told.zone),
        y_ticks: canvas.y_ticks(),
        right: None,
        shades: limits
            .least
            .and_then(|least| canvas.down_from(float(least) / 1e3))
            .into_iter()
            .collect(),
        strokes,
        marks: found.iter().map(mark).collect(),
        words,
        heads: ["Date", "Read", "Within limits"]
            .map(str::to_owned)
            .to_vec(),
        rows: found
            .iter()
            .rev()
            .map(|read| cells(read, (unit, limits), told))
            .collect(),
    })
}

/// With its last three readings.
fn caption((name, proof): (&str, Proof), (found, holds): (&[ReadAt], bool), told: Told) -> String {
    let trend = found.iter().rev().take(3).rev();
    let trend: Vec<String> = trend
        .map(|read| thousandths(told.units, read.thousandths))
        .collect();
    format!(
        "{name}: {} {} {}, {} its limits",
        proof.word(),
        trend.join(" → "),
        proof.unit(),
        if holds { "within" } else { "outside" }
    )
}

fn cells(read: &ReadAt, (unit, limits): (&str, Limits), told: Told) -> Vec<Cell> {
    let number = thousandths(told.units, read.thousandths);
    let day = figure::day(read.at, told.zone);
    vec![
        Cell::link(day, format!("/jobs/{}", read.key)),
        Cell::plain(format!("{number} {unit}")),
        Cell::plain(if limits.hold(read) { "yes" } else { "no" }),
    ]
}
