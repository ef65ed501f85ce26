//! Chart 2: what a vessel held over time, against its fill limit, with what dips made of it.

use domain::fleet::Vessel;
use domain::job::JobKind;
use domain::moment::Moment;
use domain::quantity::UnitsOfMeasure;
use domain::quantity::format::VolumeUnit;
use domain::quantity::rounding::float;
use storage::{HistoryRow, Read};

use crate::WebError;
use crate::component::{Canvas, Cell, Chart, PlacedMark, Point, Stroke, Words};
use crate::desk::Desk;
use crate::figure;
use crate::place::history::charted;

/// So far back it is drawn.
const DAYS: i64 = 365;
/// The newest facts that are drawn: more would not keep apart.
const MOST: i64 = 80;
/// Above the highest level or limit the axis goes on by this share, so that words have room there.
const ABOVE: f64 = 1.2;
/// Words of the limit keep so far from the level.
const KEEP_AWAY: f64 = 24.0;
const ML_A_US_GALLON: f64 = 3_785.411_784;

/// What the chart is about.
#[derive(Clone, Copy)]
struct About<'a> {
    name: &'a str,
    /// What it may hold, mL, and whether that is its fill limit or its capacity.
    limit: Option<(i64, &'static str)>,
    units: UnitsOfMeasure,
    zone: chrono_tz::Tz,
    now: Moment,
}

/// None where fewer than two facts changed what it holds.
pub(super) async fn chart(
    desk: &Desk,
    read: &mut Read,
    card: &Vessel,
) -> Result<Option<Chart>, WebError> {
    let rows = charted(desk, read, card.id, (DAYS, MOST)).await?;
    let fill_limit = card.fill_limit.as_ref().map(|it| (it, "fill limit"));
    let capacity = card.capacity.as_ref().map(|it| (it, "capacity"));
    let about = About {
        name: &card.name,
        limit: fill_limit
            .or(capacity)
            .map(|(limit, word)| (limit.value.ml(), word)),
        units: desk.units(),
        zone: desk.zone(),
        now: desk.now_ms(),
    };
    Ok(draw(&rows, about))
}

/// In the unit the shop reads volumes in.
fn shown(units: UnitsOfMeasure, ml: i64) -> f64 {
    match units.volume {
        VolumeUnit::Litre => float(ml) / 1e3,
        VolumeUnit::UsGallon => float(ml) / ML_A_US_GALLON,
    }
}

fn is_change(row: &HistoryRow) -> bool {
    row.shown_before_ml != row.shown_after_ml || is_dip(row)
}

fn is_dip(row: &HistoryRow) -> bool {
    row.job_kind.as_deref().and_then(JobKind::from_code) == Some(JobKind::Dip)
}

fn draw(rows: &[HistoryRow], about: About<'_>) -> Option<Chart> {
    let rows: Vec<&HistoryRow> = rows.iter().filter(|row| is_change(row)).collect();
    let (first, last) = (rows.first()?, rows.last()?);
    if rows.len() < 2 {
        return None;
    }
    let litres = |ml: i64| shown(about.units, ml);
    let ends = rows.iter().map(|row| litres(row.shown_after_ml));
    let limit = about.limit.map(|(ml, word)| (litres(ml), word));
    let highest = ends
        .chain([litres(first.shown_before_ml)])
        .chain(limit.map(|(limit, _)| limit))
        .fold(0.0, f64::max);
    let times = (first.order.happened, about.now);
    let canvas = Canvas::over(times, (0.0, highest * ABOVE))?;
    let mut levels = vec![(first.order.happened, litres(first.shown_before_ml))];
    levels.extend(
        rows.iter()
            .map(|row| (row.order.happened, litres(row.shown_after_ml))),
    );
    let mut strokes = vec![Stroke {
        path: canvas.stepped(&levels, about.now),
        dashed: false,
    }];
    let mut words = Vec::new();
    if let Some((limit, word)) = limit {
        let (line, label) = canvas.across(limit, word);
        let level = canvas.y(litres(last.shown_after_ml));
        strokes.push(line);
        words.push(kept_apart(label, (canvas.y(limit), level)));
    }
    Some(Chart {
        id: "level".to_owned(),
        caption: caption(last.shown_after_ml, about),
        description: "What it held after each job that changed it, worked out by the book. Diamonds are dips; what is hatched at one is the difference it found: not accounted for.".to_owned(),
        y_label: about.units.volume.unit().symbol().to_owned(),
        x_label: "month",
        x_ticks: canvas.x_ticks(times, about.zone),
        y_ticks: canvas.y_ticks(),
        right: None,
        shades: rows
            .iter()
            .filter(|row| is_dip(row))
            .filter_map(|row| {
                let ends = (litres(row.shown_before_ml), litres(row.shown_after_ml));
                canvas.between(row.order.happened, ends)
            })
            .collect(),
        strokes,
        marks: rows.iter().map(|row| mark(row, canvas, about)).collect(),
        words,
        heads: ["Date", "Job", "Change", "Level"].map(str::to_owned).to_vec(),
        rows: rows.iter().rev().map(|row| cells(row, about)).collect(),
    })
}

/// Words above a line go below it where the level runs close above.
fn kept_apart(words: Words, (line, level): (f64, f64)) -> Words {
    let is_close_above = level < line && line - level < KEEP_AWAY;
    if is_close_above {
        Words {
            y: format!("{:.1}", line + 19.0),
            ..words
        }
    } else {
        words
    }
}

fn mark(row: &HistoryRow, canvas: Canvas, about: About<'_>) -> PlacedMark {
    let level = shown(about.units, row.shown_after_ml);
    let point = if is_dip(row) {
        Point::Diamond
    } else {
        Point::Dot
    };
    canvas.mark((row.order.happened, level), point, false)
}

fn caption(now_ml: i64, about: About<'_>) -> String {
    let name = about.name;
    let held = figure::volume(about.units, now_ml);
    let Some((limit_ml, word)) = about.limit else {
        return format!("{name}: {held} now");
    };
    let away = figure::volume(
        about.units,
        now_ml.abs_diff(limit_ml).try_into().unwrap_or(0),
    );
    match now_ml.cmp(&limit_ml) {
        std::cmp::Ordering::Less => format!("{name}: {held} now, {away} below its {word}"),
        std::cmp::Ordering::Equal => format!("{name}: {held} now, at its {word}"),
        std::cmp::Ordering::Greater => format!("{name}: {held} now, {away} over its {word}"),
    }
}

fn cells(row: &HistoryRow, about: About<'_>) -> Vec<Cell> {
    let kind = row.job_kind.as_deref().and_then(JobKind::from_code);
    let what = kind.map_or("record", JobKind::word);
    let address = if kind.is_some() {
        format!("/jobs/{}", row.order.key)
    } else {
        format!("/records/{}", row.seq)
    };
    let day = row.local_date.clone();
    let change = row.shown_after_ml.saturating_sub(row.shown_before_ml);
    vec![
        Cell::plain(day.unwrap_or_else(|| figure::day(row.order.happened, about.zone))),
        Cell::link(what, address),
        Cell::plain(figure::volume_change(about.units, change)),
        Cell::plain(figure::volume(about.units, row.shown_after_ml)),
    ]
}

#[cfg(test)]
mod tests {
    use crate::place::history::row_of_tests::quiet_row;
    use chrono_tz::Tz;
    use domain::ids::FactKey;
    use domain::moment::{DAY_MS, Moment};
    use domain::quantity::UnitsOfMeasure;
    use storage::HistoryRow;
    use uuid::Uuid;

    use super::{About, draw};

    fn row(day: i64, kind: &str, (before, after): (i64, i64)) -> HistoryRow {
        HistoryRow {
            seq: day,
            job_kind: Some(kind.to_owned()),
            local_date: Some(format!("1970-01-{:02}", day + 1)),
            shown_before_ml: before,
            shown_after_ml: after,
            ..quiet_row(Moment(day * DAY_MS), u128::try_from(day).unwrap())
        }
    }

    fn about(limit: Option<(i64, &'static str)>) -> About<'static> {
        About {
            name: "D-5",
            limit,
            units: UnitsOfMeasure::METRIC,
            zone: Tz::UTC,
            now: Moment(20 * DAY_MS),
        }
    }

    #[test]
    fn the_table_tells_what_is_drawn_and_leads_to_each_job() {
        let rows = [
            row(0, "recover", (0, 100_000)),
            row(5, "sample", (100_000, 100_000)),
            row(10, "dip", (100_000, 80_000)),
        ];
        let chart = draw(&rows, about(Some((200_000, "fill limit")))).unwrap();
        assert_eq!(
            chart.caption,
            "D-5: 80.0 L now, 120.0 L below its fill limit"
        );
        let said: Vec<Vec<&str>> = chart
            .rows
            .iter()
            .map(|cells| cells.iter().map(|cell| cell.text.as_str()).collect())
            .collect();
        assert_eq!(
            said,
            [
                ["1970-01-11", "dip", "\u{2212}20.0 L", "80.0 L"],
                ["1970-01-01", "recover", "+100.0 L", "100.0 L"]
            ]
        );
        for (cells, key) in chart.rows.iter().zip([10_u128, 0]) {
            let job = cells[1].address.clone();
            assert_eq!(
                job,
                Some(format!("/jobs/{}", FactKey(Uuid::from_u128(key))))
            );
        }
        // From nothing up at once, level for ten days, down at the dip and level until now. The axis goes to
        // 300 L over 172 units: 100 L stand a third of it above 206.
        assert_eq!(
            chart.strokes[0].path,
            "M66.0 206.0H66.0V148.7H202.0V160.1H338.0"
        );
        assert_eq!(chart.marks.len(), 2);
        assert_eq!(chart.shades.len(), 1, "the dip alone");
        assert_eq!(chart.words.len(), 1);
    }

    #[test]
    fn over_its_limit_is_said_and_the_words_keep_away_from_the_level() {
        let rows = [
            row(0, "recover", (0, 190_000)),
            row(3, "recover", (190_000, 205_000)),
        ];
        let over = draw(&rows, about(Some((200_000, "fill limit")))).unwrap();
        assert_eq!(over.caption, "D-5: 205.0 L now, 5.0 L over its fill limit");
        let under = [
            row(0, "recover", (0, 100_000)),
            row(3, "recover", (100_000, 195_000)),
        ];
        let under = draw(&under, about(Some((200_000, "fill limit")))).unwrap();
        let y = |text: &str| text.parse::<f64>().unwrap();
        assert!(y(&over.words[0].y) > y(&under.words[0].y) + 20.0);
        assert!(
            draw(&rows[..1], about(None)).is_none(),
            "one level is no course"
        );
    }
}
