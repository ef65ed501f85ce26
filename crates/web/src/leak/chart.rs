//! Chart 4: what a loop used from top-up to top-up, about its mean, with the limits of an individuals
//! chart.

use domain::book::outcome::TopUpClass;
use domain::condition::course::{Course, Done, Event};
use domain::condition::leak::case::Case;
use domain::condition::leak::control_chart::individuals;
use domain::condition::leak::exposure::MeterLine;
use domain::condition::leak::{LEAST_EXPOSURE, LeakPolicy, as_volume};
use domain::ids::FactKey;
use domain::moment::Moment;
use domain::quantity::rounding::float;
use storage::LoopCourse;

use super::told;
use crate::component::{Canvas, Cell, Chart, PlacedMark, Point, Stroke, Words, through};
use crate::figure;
use crate::unit::standing::Told;

/// The newest top-ups that are drawn.
const MOST: usize = 24;

/// One period, from a top-up to the next that is not in one go with it.
#[derive(Debug)]
struct Period {
    from: Moment,
    to: Moment,
    key: FactKey,
    /// The top-ups it holds: no rate follows from next to no exposure, and no litre is left out.
    top_ups: usize,
    /// What they come to.
    litres: f64,
    exposure: f64,
}

impl Period {
    /// Litres per unit of exposure.
    fn rate(&self) -> f64 {
        self.litres / self.exposure
    }
}

fn periods(course: &Course, meter: &MeterLine) -> Vec<Period> {
    let mut found: Vec<Period> = Vec::new();
    let Some(mut from) = course.begins() else {
        return found;
    };
    // What was topped up when the book had hardly begun goes with the first period.
    let (mut early, mut early_l) = (0_usize, 0.0);
    for Event { at, key, done } in &course.events {
        let Done::ToppedUp(volume, TopUpClass::Consumption) = done else {
            continue;
        };
        let litres = float(volume.ml()) / 1e3;
        let exposure = meter.between(from, *at);
        if exposure >= LEAST_EXPOSURE {
            found.push(Period {
                from,
                to: *at,
                key: *key,
                top_ups: early.saturating_add(1),
                litres: early_l + litres,
                exposure,
            });
            (from, early, early_l) = (*at, 0, 0.0);
        } else if let Some(before) = found.last_mut() {
            before.top_ups = before.top_ups.saturating_add(1);
            before.litres += litres;
        } else {
            early = early.saturating_add(1);
            early_l += litres;
        }
    }
    let skipped = found.len().saturating_sub(MOST);
    found.split_off(skipped)
}

/// None where there are fewer than three periods: a mean of two says nothing.
pub(crate) fn chart(
    (id, name): (String, &str),
    (each, cases): (&LoopCourse, &[Case]),
    (told, policy): (Told, &LeakPolicy),
) -> Option<Chart> {
    let meter = each.course.meter(policy);
    let per = meter.per();
    let found = periods(&each.course, &meter);
    if found.len() < 3 {
        return None;
    }
    let shown = |rate: f64| told::rate_number(told.units, per, rate);
    let rates: Vec<f64> = found.iter().map(|period| shown(period.rate())).collect();
    let limits = individuals(&rates)?;
    let times = (found.first()?.from, found.last()?.to);
    let top = rates.iter().copied().fold(limits.high, f64::max);
    let canvas = Canvas::over(times, (0.0, top * 1.05))?;
    let (low, low_words) = lower(canvas, limits.low).unzip();
    let outside = |rate: f64| rate > limits.high || rate < limits.low;
    let mut marks = marks(&found, canvas, (&shown, &outside));
    marks.extend(suspected(cases, times).map(|at| canvas.below(at, Point::Triangle)));
    let count = rates.iter().filter(|rate| outside(**rate)).count();
    let unit = told::rate_unit(told.units, per);
    let number = |value: f64| figure::decimal(told.units, value, 2);
    let (mean, mean_words) = canvas.across(limits.mean, "mean");
    let (high, high_words) = canvas.across(limits.high, "limit");
    let line = through(
        found
            .iter()
            .map(|period| Some((canvas.x(period.to), canvas.y(shown(period.rate()))))),
    );
    Some(Chart {
        description: format!(
            "Rates from top-up to top-up in {unit}: mean {}, upper limit {}, {}. The limits are the mean and 2.66 times the mean step from one to the next. A diamond lies outside them; a triangle on the base line is a day on which the leak rule began to suspect.",
            number(limits.mean),
            number(limits.high),
            if limits.low > 0.0 {
                format!("lower limit {}", number(limits.low))
            } else {
                "no lower limit above 0".to_owned()
            }
        ),
        caption: caption(name, (count, rates.len())),
        id,
        y_label: unit.clone(),
        x_label: "month",
        x_ticks: canvas.x_ticks(times, told.zone),
        y_ticks: canvas.y_ticks(),
        right: None,
        shades: Vec::new(),
        strokes: [mean, high]
            .into_iter()
            .chain(low)
            .chain([Stroke {
                path: line,
                dashed: false,
            }])
            .collect(),
        marks,
        words: [mean_words, high_words]
            .into_iter()
            .chain(low_words)
            .collect(),
        heads: heads(&unit),
        rows: found
            .iter()
            .map(|period| {
                cells(
                    period,
                    (shown(period.rate()), outside(shown(period.rate()))),
                    told,
                )
            })
            .collect(),
    })
}

/// The lower limit; one at or below 0 limits nothing.
fn lower(canvas: Canvas, low: f64) -> Option<(Stroke, Words)> {
    (low > 0.0).then(|| canvas.across(low, "lower limit"))
}

/// When the leak rule began to suspect, within what is drawn.
fn suspected(cases: &[Case], (from, to): (Moment, Moment)) -> impl Iterator<Item = Moment> {
    let tripped = cases.iter().filter_map(|case| case.consumption.tripped);
    tripped
        .map(|tripped| tripped.at)
        .filter(move |at| (from..=to).contains(at))
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
    let volume = told.units.volume(as_volume(period.litres));
    vec![
        Cell::plain(figure::day(period.from, told.zone)),
        Cell::link(
            figure::day(period.to, told.zone),
            format!("/jobs/{}", period.key),
        ),
        Cell::plain(match period.top_ups {
            1 => volume,
            count => format!("{volume} in {count} top-ups"),
        }),
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
        let rate = shown(period.rate());
        let point = if outside(rate) {
            Point::Diamond
        } else {
            Point::Dot
        };
        canvas.mark((period.to, rate), point, false)
    };
    found.iter().map(mark).collect()
}

#[cfg(test)]
mod tests {
    use domain::book::outcome::TopUpClass;
    use domain::condition::course::{Course, Done, Event};
    use domain::condition::leak::exposure::{MeterLine, Per};
    use domain::ids::FactKey;
    use domain::moment::{DAY_MS, Moment};
    use domain::quantity::Volume;
    use uuid::Uuid;

    use super::periods;

    const MINUTE_MS: i64 = 60_000;

    /// Its top-ups as minutes since it was opened and mL; the machine drives 200 km a day, so 100 km are 12 h.
    fn found(top_ups: &[(i64, i64)]) -> Vec<(usize, i64, i64)> {
        let event = |minutes: i64, done: Done| Event {
            at: Moment(20_000 * DAY_MS).plus_ms(minutes * MINUTE_MS),
            key: FactKey(Uuid::from_u128(u128::try_from(minutes).unwrap())),
            done,
        };
        let topped_up = |(minutes, ml): &(i64, i64)| {
            let volume = Volume::from_ml(*ml).unwrap();
            event(*minutes, Done::ToppedUp(volume, TopUpClass::Consumption))
        };
        let mut events = vec![event(0, Done::Opened)];
        events.extend(top_ups.iter().map(topped_up));
        let course = Course {
            events,
            ..Course::default()
        };
        let meter = MeterLine::new(Per::Distance, Vec::new(), 200.0);
        let whole = |number: f64| format!("{number:.0}").parse::<i64>().unwrap();
        periods(&course, &meter)
            .iter()
            .map(|period| {
                (
                    period.top_ups,
                    whole(period.litres * 1e3),
                    whole(period.exposure * 1e4),
                )
            })
            .collect()
    }

    #[test]
    fn what_is_topped_up_in_one_go_is_one_period_with_every_litre() {
        let day = 24 * 60;
        // 2 L after ten days, 4 L twenty minutes later, 1 L after five days more.
        let two = [(10 * day, 2_000), (10 * day + 20, 4_000), (15 * day, 1_000)];
        assert_eq!(found(&two), [(2, 6_000, 2_000), (1, 1_000, 1_000)]);
        // On the day of the opening: with the first period there is.
        assert_eq!(found(&[(5, 3_000), (10 * day, 2_000)]), [(2, 5_000, 2_000)]);
        // Every 5 h 33 min (46 km): each third one is far enough from the one that ended a period.
        let often: Vec<(i64, i64)> = (1..=9).map(|n| (n * 333, 100)).collect();
        assert_eq!(
            found(&often),
            [(3 + 2, 500, 139), (3, 300, 139), (1, 100, 139)]
        );
    }
}
