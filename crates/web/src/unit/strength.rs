//! Chart 1: the strength of a loop over two years, against what the winter low needs.

use domain::book::outcome::Knowledge;
use domain::condition::figures;
use domain::condition::probability::strengths_at_or_below;
use domain::fluid::{Glycol, freeze_point};
use domain::ids::PlaceId;
use domain::job::JobKind;
use domain::moment::Moment;
use domain::quantity::format::TemperatureUnit;
use domain::quantity::rounding::float;
use domain::quantity::{FractionByVolume, Temperature};
use storage::{HistoryRow, Read};

use super::standing::Told;
use crate::WebError;
use crate::component::{Canvas, Cell, Chart, PlacedMark, Point, Stroke, Tick, through};
use crate::desk::Desk;
use crate::figure;
use crate::place::history::charted;

/// So far back it is drawn.
const DAYS: i64 = 730;
/// The newest facts that are drawn: more would not keep apart.
const MOST: i64 = 64;
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
    let rows = charted(desk, read, about.place, (DAYS, MOST)).await?;
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

/// What a loop holds now.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Now {
    Empty,
    NotKnown,
    Percent(f64),
}

impl Now {
    /// After the last fact of all, whatever it tells of the strength.
    fn after(last: &HistoryRow) -> Self {
        match percent(last) {
            Some(percent) => Self::Percent(percent),
            None if last.shown_after_ml <= 0 => Self::Empty,
            None => Self::NotKnown,
        }
    }
}

/// The strengths in percent that freeze at or below the winter low; no most where every stronger one does.
#[derive(Clone, Copy, Debug)]
struct Needed {
    least: f64,
    most: Option<f64>,
}

fn draw(rows: &[HistoryRow], about: &About<'_>, told: Told) -> Option<Chart> {
    let known: Vec<f64> = rows.iter().filter_map(percent).collect();
    let newest = rows.iter().rev().find(|row| percent(row).is_some())?;
    if known.len() < 2 {
        return None;
    }
    let now = Now::after(rows.last()?);
    let needed = about.winter_low.and_then(|low| {
        let glycol = newest.chemistry_after.glycol()?;
        let low_c = float(i64::from(low.millicelsius())) / 1e3;
        let (least, most) = strengths_at_or_below(glycol, low_c)?;
        let needed = Needed {
            least: least * 100.0,
            most: most.map(|most| most * 100.0),
        };
        Some((needed, figure::temperature(told.units, low)))
    });
    let ends = known
        .iter()
        .copied()
        .chain(needed.iter().map(|(needed, _)| needed.least));
    let low = ends.clone().fold(f64::MAX, f64::min) - BESIDE;
    let high = ends.fold(f64::MIN, f64::max) + BESIDE;
    let times = (at(rows.first()?), told.now);
    let canvas = Canvas::over(times, (low.max(0.0), high))?;
    let number = |value: f64| figure::decimal(told.units, value, 1);
    let mut strokes = lines(rows, canvas, told.now);
    let (mut words, mut shades) = (Vec::new(), Vec::new());
    if let Some((Needed { least, .. }, low)) = &needed {
        let (line, label) = canvas.across(*least, &format!("Winter low {low}"));
        strokes.push(line);
        words.push(label);
        shades.extend(canvas.down_from(*least));
    }
    Some(Chart {
        id: about.id.clone(),
        description: description(needed.as_ref(), &number),
        caption: caption(about.name, now, needed.map(|(needed, _)| needed), &number),
        y_label: "glycol, % by vol.".to_owned(),
        right: newest
            .chemistry_after
            .glycol()
            .map(|glycol| freezes(canvas, glycol, told)),
        x_label: "month",
        x_ticks: canvas.x_ticks(times, told.zone),
        y_ticks: canvas.y_ticks(),
        shades,
        strokes,
        marks: marks(rows, canvas),
        words,
        heads: ["Date", "Strength", "Freeze point", "Job"]
            .map(str::to_owned)
            .to_vec(),
        rows: rows.iter().rev().map(|row| cells(row, told)).collect(),
    })
}

/// Through what is known: a full line leads to a strength that was read, a dashed one to what the book
/// worked out, and on to now, where nothing was read since.
fn lines(rows: &[HistoryRow], canvas: Canvas, now: Moment) -> Vec<Stroke> {
    let place = |row: &HistoryRow| Some((canvas.x(at(row)), canvas.y(percent(row)?)));
    let mut to_read = Vec::new();
    let mut to_worked_out = Vec::new();
    for two in rows.windows(2) {
        let [before, after] = two else { continue };
        let (Some(from), Some(to)) = (place(before), place(after)) else {
            continue;
        };
        let line = if was_read(after) {
            &mut to_read
        } else {
            &mut to_worked_out
        };
        line.extend([Some(from), Some(to), None]);
    }
    let last = rows.last().and_then(|last| {
        let (x, y) = place(last)?;
        Some([Some((x, y)), Some((canvas.x(now), y)), None])
    });
    to_worked_out.extend(last.into_iter().flatten());
    [(to_read, false), (to_worked_out, true)]
        .into_iter()
        .filter(|(points, _)| !points.is_empty())
        .map(|(points, dashed)| Stroke {
            path: through(points.into_iter()),
            dashed,
        })
        .collect()
}

/// A reading of its strength counted: nothing else makes the spread smaller.
fn was_read(row: &HistoryRow) -> bool {
    row.job_kind.as_deref() == Some(JobKind::ConditionTest.code())
        && row.sigma_after_millionths < row.sigma_before_millionths
}

/// The marks of the axis as freeze points; none where the curve ends.
fn freezes(canvas: Canvas, glycol: Glycol, told: Told) -> (String, Vec<Tick>) {
    let (unit, is_celsius) = match told.units.temperature {
        TemperatureUnit::Celsius => ("°C", true),
        TemperatureUnit::Fahrenheit => ("°F", false),
    };
    let ticks = canvas.right_ticks(&|percent| {
        let point = freeze_point(glycol, FractionByVolume::from_ratio(percent / 100.0)?);
        let celsius = figures::degrees_c(point.temperature());
        let shown = if is_celsius {
            celsius
        } else {
            celsius * 1.8 + 32.0
        };
        (!point.is_at_or_below()).then(|| figure::decimal(told.units, shown, 0))
    });
    (format!("freezes, {unit}"), ticks)
}

fn description(needed: Option<&(Needed, String)>, number: &dyn Fn(f64) -> String) -> String {
    let needs = needed.map_or_else(String::new, |(needed, low)| {
        format!(
            " The dashed line across is the winter low {low}, which needs {} %; the hatched part is too weak for it.",
            number(needed.least)
        )
    });
    format!(
        "Glycol in percent by volume after each job that changed or read it, with the freeze point at the right. A full line and a full dot were read; a dashed line and a hollow dot were worked out by the book. Triangles on the base line are top-ups, squares fills.{needs}"
    )
}

fn caption(name: &str, now: Now, needed: Option<Needed>, number: &dyn Fn(f64) -> String) -> String {
    let now = match now {
        Now::Empty => return format!("{name}: empty"),
        Now::NotKnown => return format!("{name}: strength not known now"),
        Now::Percent(now) => now,
    };
    let shown = number(now);
    match needed {
        None => format!("{name}: {shown} % now"),
        Some(Needed { least, .. }) if now < least => format!(
            "{name}: {shown} %, {} points short of what it needs to freeze at its winter low",
            number(least - now)
        ),
        Some(Needed {
            most: Some(most), ..
        }) if now > most => format!(
            "{name}: {shown} %, {} points too strong: it freezes above its winter low",
            number(now - most)
        ),
        Some(Needed { least, .. }) => format!(
            "{name}: {shown} %, {} points above what it needs to freeze at its winter low",
            number(now - least)
        ),
    }
}

fn marks(rows: &[HistoryRow], canvas: Canvas) -> Vec<PlacedMark> {
    let below = |row: &HistoryRow| {
        let point = match JobKind::from_code(row.job_kind.as_deref()?)? {
            JobKind::TopUp => Point::Triangle,
            JobKind::Fill | JobKind::Exchange => Point::Square,
            _ => return None,
        };
        Some(canvas.below(at(row), point))
    };
    // What was read or worked out stands on the line itself.
    let on_the_line = |row: &HistoryRow| {
        let (before, after) = (row.before(), row.after());
        let changed = before.fraction_millionths != after.fraction_millionths
            || before.knowledge != after.knowledge;
        let is_read = was_read(row);
        let tells = is_read || changed;
        let value = percent(row).filter(|_| tells)?;
        Some(canvas.mark((at(row), value), Point::Dot, !is_read))
    };
    let each = rows.iter();
    each.flat_map(|row| [below(row), on_the_line(row)])
        .flatten()
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

#[cfg(test)]
mod tests {
    use crate::place::history::row_of_tests::quiet_row;
    use domain::condition::Chemistry;
    use domain::fluid::Glycol;
    use domain::moment::Moment;
    use storage::HistoryRow;

    use super::{Needed, Now, caption};

    fn row(shown_after_ml: i64, knowledge: &str) -> HistoryRow {
        HistoryRow {
            shown_after_ml,
            fraction_before_millionths: 520_000,
            fraction_after_millionths: 520_000,
            knowledge_after: knowledge.to_owned(),
            chemistry_before: Chemistry::One(Glycol::Eg),
            chemistry_after: Chemistry::One(Glycol::Eg),
            ..quiet_row(Moment(0), 0)
        }
    }

    #[test]
    fn the_headline_tells_of_the_last_fact_of_all() {
        assert_eq!(Now::after(&row(40_000, "tested")), Now::Percent(52.0));
        assert_eq!(Now::after(&row(0, "tested")), Now::Empty);
        assert_eq!(Now::after(&row(40_000, "assumed")), Now::NotKnown);
    }

    #[test]
    fn too_strong_is_not_above() {
        let number = |value: f64| format!("{value:.1}");
        let told = |now: f64, most: Option<f64>| {
            let needed = Needed { least: 48.0, most };
            caption("Engine", Now::Percent(now), Some(needed), &number)
        };
        assert_eq!(
            told(52.0, Some(80.0)),
            "Engine: 52.0 %, 4.0 points above what it needs to freeze at its winter low"
        );
        assert_eq!(
            told(45.0, Some(80.0)),
            "Engine: 45.0 %, 3.0 points short of what it needs to freeze at its winter low"
        );
        assert_eq!(
            told(95.0, Some(80.0)),
            "Engine: 95.0 %, 15.0 points too strong: it freezes above its winter low"
        );
        assert!(told(95.0, None).contains("47.0 points above"));
        let needed = Some(Needed {
            least: 48.0,
            most: None,
        });
        assert_eq!(
            caption("Engine", Now::Empty, needed, &number),
            "Engine: empty"
        );
        assert_eq!(
            caption("Engine", Now::NotKnown, needed, &number),
            "Engine: strength not known now"
        );
    }
}
