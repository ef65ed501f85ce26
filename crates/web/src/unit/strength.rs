//! Chart 1: the strength of a loop over two years, against what the winter low needs.

use domain::book::outcome::Knowledge;
use domain::condition::figures;
use domain::condition::probability::strengths_at_or_below;
use domain::ids::PlaceId;
use domain::job::JobKind;
use domain::moment::{DAY_MS, Moment};
use domain::quantity::Temperature;
use domain::quantity::rounding::float;
use storage::{HistoryRow, Read};

use super::standing::Told;
use crate::WebError;
use crate::component::{Canvas, Cell, Chart, PlacedMark, Point, Stroke, through};
use crate::desk::Desk;
use crate::figure;

/// So far back it is drawn.
const DAYS: i64 = 730;
/// The newest facts that are drawn: more would not keep apart.
const MOST: i64 = 120;
/// The axis goes at least so many points beyond what is drawn.
const BESIDE: f64 = 3.0;

/// What the chart of one loop is about.
pub(super) struct About<'a> {
    pub(super) id: String,
    pub(super) name: &'a str,
    pub(super) place: PlaceId,
    pub(super) winter_low: Option<Temperature>,
}

/// None where fewer than two facts tell of a strength.
pub(super) async fn chart(
    desk: &Desk,
    read: &mut Read,
    about: About<'_>,
) -> Result<Option<Chart>, WebError> {
    let rows = read.list_place_history(about.place, None, MOST).await;
    let since = desk.now_ms().plus_ms(-(DAYS * DAY_MS));
    let mut rows = rows.map_err(WebError::fault)?;
    rows.retain(|row| row.standing == "posted" && row.order.happened >= since);
    rows.reverse();
    Ok(draw(&rows, &about, Told::at(desk)))
}

/// The strength after a fact in percent; none where nobody knows it.
fn percent(row: &HistoryRow) -> Option<f64> {
    let after = row.after();
    let known = after.knowledge != Knowledge::Assumed && after.shown_ml > 0;
    known.then(|| float(after.fraction_millionths) / 1e4)
}

fn at(row: &HistoryRow) -> Moment {
    row.order.happened
}

fn draw(rows: &[HistoryRow], about: &About<'_>, told: Told) -> Option<Chart> {
    let known: Vec<f64> = rows.iter().filter_map(percent).collect();
    let newest = rows.iter().rev().find(|row| percent(row).is_some())?;
    if known.len() < 2 {
        return None;
    }
    let now = percent(newest)?;
    let needed = about.winter_low.and_then(|low| {
        let glycol = newest.chemistry_after.glycol()?;
        let least = strengths_at_or_below(glycol, float(i64::from(low.millicelsius())) / 1e3)?.0;
        Some((least * 100.0, figure::temperature(told.units, low)))
    });
    let ends = known
        .iter()
        .copied()
        .chain(needed.iter().map(|(least, _)| *least));
    let low = ends.clone().fold(f64::MAX, f64::min) - BESIDE;
    let high = ends.fold(f64::MIN, f64::max) + BESIDE;
    let times = (at(rows.first()?), told.now);
    let canvas = Canvas::over(times, (low.max(0.0), high))?;
    let number = |value: f64| figure::decimal(told.units, value, 1);
    let points = rows
        .iter()
        .map(|row| Some((canvas.x(at(row)), canvas.y(percent(row)?))));
    let mut strokes = vec![Stroke {
        path: through(points),
        dashed: false,
    }];
    let (mut words, mut zone) = (Vec::new(), None);
    if let Some((least, low)) = &needed {
        let (line, label) = canvas.across(*least, &format!("{low} needs {} %", number(*least)));
        strokes.push(line);
        words.push(label);
        zone = canvas.down_from(*least);
    }
    Some(Chart {
        id: about.id.clone(),
        caption: caption(about.name, now, needed.as_ref().map(|(least, _)| *least), &number),
        description: "Glycol in percent by volume after each job that changed or read it. Triangles on the base line are top-ups, squares fills. The hatched part is too weak for the winter low.".to_owned(),
        y_label: "glycol, % by volume".to_owned(),
        x_label: "month",
        x_ticks: canvas.x_ticks(times, told.zone),
        y_ticks: canvas.y_ticks(),
        zone,
        strokes,
        marks: marks(rows, canvas),
        words,
        heads: ["Date", "Strength", "Freeze point", "Job"].map(str::to_owned).to_vec(),
        rows: rows.iter().rev().map(|row| cells(row, told)).collect(),
    })
}

fn caption(name: &str, now: f64, needed: Option<f64>, number: &dyn Fn(f64) -> String) -> String {
    match needed {
        Some(least) if now < least => format!(
            "{name}: {} %, {} points too weak for its winter",
            number(now),
            number(least - now)
        ),
        Some(least) => format!(
            "{name}: {} %, {} points above what its winter needs",
            number(now),
            number(now - least)
        ),
        None => format!("{name}: {} % now", number(now)),
    }
}

fn marks(rows: &[HistoryRow], canvas: Canvas) -> Vec<PlacedMark> {
    rows.iter()
        .filter_map(|row| {
            let kind = JobKind::from_code(row.job_kind.as_deref()?)?;
            match kind {
                JobKind::TopUp => Some(canvas.below(at(row), Point::Triangle)),
                JobKind::Fill | JobKind::Exchange => Some(canvas.below(at(row), Point::Square)),
                // What was read stands on the line itself.
                JobKind::ConditionTest => {
                    Some(canvas.mark((at(row), percent(row)?), Point::Dot, false))
                }
                _ => None,
            }
        })
        .collect()
}

fn cells(row: &HistoryRow, told: Told) -> Vec<Cell> {
    let after = row.after();
    let known = percent(row).is_some();
    let kind = row.job_kind.as_deref().and_then(JobKind::from_code);
    let what = kind.map_or("record", JobKind::word);
    let freeze = figures::freeze(&after, row.chemistry_after).filter(|_| known);
    let address = if kind.is_some() {
        format!("/jobs/{}", row.order.key)
    } else {
        format!("/records/{}", row.seq)
    };
    vec![
        Cell::plain(figure::day(at(row), told.zone)),
        Cell::plain(if known {
            figure::strength_with_spread(told.units, &after)
        } else {
            "not known".to_owned()
        }),
        Cell::plain(freeze.map_or_else(
            || "not known".to_owned(),
            |point| figure::freeze_with_spread(told.units, &point),
        )),
        Cell::link(what, address),
    ]
}
