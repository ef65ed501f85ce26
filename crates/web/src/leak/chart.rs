//! Chart 4: what a loop used from top-up to top-up, about its mean, with the limits of an individuals
//! chart.

use domain::book::outcome::TopUpClass;
use domain::condition::course::{Done, Event};
use domain::condition::leak::LeakPolicy;
use domain::condition::leak::control_chart::individuals;
use domain::condition::leak::exposure::MeterLine;
use domain::ids::FactKey;
use domain::moment::Moment;
use domain::quantity::Volume;
use domain::quantity::rounding::float;
use storage::LoopCourse;

use super::told;
use crate::component::{Canvas, Cell, Chart, PlacedMark, Point, Stroke, through};
use crate::figure;
use crate::unit::standing::Told;

/// The newest top-ups that are drawn.
const MOST: usize = 24;
/// A rate over less than this, in units of exposure, says nothing: two top-ups in one go.
const LEAST_EXPOSURE: f64 = 0.01;

/// One period, from a top-up to the next.
struct Period {
    from: Moment,
    to: Moment,
    key: FactKey,
    volume: Volume,
    exposure: f64,
    /// Litres per unit of exposure.
    rate: f64,
}

fn periods(each: &LoopCourse, meter: &MeterLine) -> Vec<Period> {
    let mut before = each.course.begins();
    let mut found = Vec::new();
    for Event { at, key, done } in &each.course.events {
        let Done::ToppedUp(volume, TopUpClass::Consumption) = done else {
            continue;
        };
        let Some(from) = before.replace(*at) else {
            continue;
        };
        let exposure = meter.between(from, *at);
        if exposure < LEAST_EXPOSURE {
            continue;
        }
        found.push(Period {
            from,
            to: *at,
            key: *key,
            volume: *volume,
            exposure,
            rate: float(volume.ml()) / 1e3 / exposure,
        });
    }
    let skipped = found.len().saturating_sub(MOST);
    found.split_off(skipped)
}

/// None where there are fewer than three periods: a mean of two says nothing.
pub(crate) fn chart(
    (id, name): (String, &str),
    each: &LoopCourse,
    (told, policy): (Told, &LeakPolicy),
) -> Option<Chart> {
    let meter = each.course.meter(policy);
    let per = meter.per();
    let found = periods(each, &meter);
    if found.len() < 3 {
        return None;
    }
    let shown = |rate: f64| told::rate_number(told.units, per, rate);
    let rates: Vec<f64> = found.iter().map(|period| shown(period.rate)).collect();
    let limits = individuals(&rates)?;
    let times = (found.first()?.from, found.last()?.to);
    let top = rates.iter().copied().fold(limits.high, f64::max);
    let canvas = Canvas::over(times, (0.0, top * 1.05))?;
    let outside = |rate: f64| rate > limits.high || rate < limits.low;
    let count = rates.iter().filter(|rate| outside(**rate)).count();
    let unit = told::rate_unit(told.units, per);
    let number = |value: f64| figure::decimal(told.units, value, 2);
    let (mean, mean_words) = canvas.across(limits.mean, "mean");
    let (high, high_words) = canvas.across(limits.high, "limit");
    let line = through(
        found
            .iter()
            .map(|period| Some((canvas.x(period.to), canvas.y(shown(period.rate))))),
    );
    Some(Chart {
        description: format!(
            "Rates from top-up to top-up in {unit}: mean {}, upper limit {}. The limits are the mean and 2.66 times the mean step from one to the next.",
            number(limits.mean),
            number(limits.high)
        ),
        caption: caption(name, (count, rates.len())),
        id,
        y_label: unit.clone(),
        x_label: "month",
        x_ticks: canvas.x_ticks(times, told.zone),
        y_ticks: canvas.y_ticks(),
        zone: None,
        strokes: vec![
            mean,
            high,
            Stroke {
                path: line,
                dashed: false,
            },
        ],
        marks: marks(&found, canvas, (&shown, &outside)),
        words: vec![mean_words, high_words],
        heads: heads(&unit),
        rows: found
            .iter()
            .map(|period| {
                cells(
                    period,
                    (shown(period.rate), outside(shown(period.rate))),
                    told,
                )
            })
            .collect(),
    })
}

fn heads(unit: &str) -> Vec<String> {
    let rate = format!("Rate, {unit}");
    [
        "From",
        "Topped up",
        "How much",
        "Run, in units of the rate",
        &rate,
        "Within limits",
    ]
    .map(str::to_owned)
    .to_vec()
}

fn cells(period: &Period, (rate, outside): (f64, bool), told: Told) -> Vec<Cell> {
    let number = |value: f64| figure::decimal(told.units, value, 2);
    vec![
        Cell::plain(figure::day(period.from, told.zone)),
        Cell::link(
            figure::day(period.to, told.zone),
            format!("/jobs/{}", period.key),
        ),
        Cell::plain(told.units.volume(period.volume)),
        Cell::plain(number(period.exposure)),
        Cell::plain(number(rate)),
        Cell::plain(if outside { "no" } else { "yes" }),
    ]
}

fn caption(name: &str, (outside, all): (usize, usize)) -> String {
    match outside {
        0 => format!("{name}: no top-up out of {all} stands out"),
        1 => format!("{name}: one top-up out of {all} stands out"),
        count => format!("{name}: {count} top-ups out of {all} stand out"),
    }
}

fn marks(
    found: &[Period],
    canvas: Canvas,
    (shown, outside): (&dyn Fn(f64) -> f64, &dyn Fn(f64) -> bool),
) -> Vec<PlacedMark> {
    let mark = |period: &Period| {
        let rate = shown(period.rate);
        let point = if outside(rate) {
            Point::Diamond
        } else {
            Point::Dot
        };
        canvas.mark((period.to, rate), point, false)
    };
    found.iter().map(mark).collect()
}
