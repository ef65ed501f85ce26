//! `/figures/{figure}/months`: a key figure month by month, over a year.

use askama::Template;
use axum::extract::{Path, RawQuery};
use axum::response::Response;
use chrono::Months;
use domain::book::month::Month;
use domain::moment::Moment;
use domain::quantity::UnitsOfMeasure;

use super::figures::{KeyFigure, find};
use super::list::Of;
use super::period::Span;
use super::sums::{Fleet, Sums};
use super::{NOT_RECORDED, led};
use crate::component::{Canvas, Cell, Chart, Counted, Point, Said, Stroke, through};
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::{WebError, page};

/// So many months before the last one.
const BEFORE: u32 = 11;

#[derive(Template)]
#[template(path = "key_figure/trend.html")]
struct TrendPage {
    frame: Frame,
    name: &'static str,
    shop: String,
    span: String,
    all_figures: String,
    chart: Option<Chart>,
    months: Vec<MonthLine>,
}

struct MonthLine {
    month: String,
    value: Option<Counted>,
    how: Said,
}

/// A month with its figure.
struct At {
    month: Month,
    middle: Moment,
    value: Option<f64>,
}

/// GET /figures/{figure}/months
pub(crate) async fn show(
    desk: Desk,
    Path(code): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let figure = find(&code).ok_or(WebError::NotFound)?;
    let mut form = Form::from_query(query.as_deref());
    let last = Span::read(&mut form, desk.today()).last;
    let first = last.first_day().checked_sub_months(Months::new(BEFORE));
    let year = Span {
        first: first.map_or(last, Month::of),
        last,
    };
    let mut read = desk.read().await?;
    let fleet = Fleet::of(&desk, &mut read).await?;
    let (mut months, mut points) = (Vec::new(), Vec::new());
    for month in year.months() {
        let span = Span {
            first: month,
            last: month,
        };
        let sums = Sums::of((&desk, &mut read), &fleet, span).await?;
        let worked = (figure.work)(Of {
            desk: &desk,
            sums: &sums,
            fleet: &fleet,
        });
        let period = span.period(&desk)?;
        let half = period.to.ms_since(period.from).checked_div(2);
        points.push(At {
            month,
            middle: period.from.plus_ms(half.unwrap_or(0)),
            value: worked.value,
        });
        months.push(MonthLine {
            month: month.to_string(),
            value: led(figure, &worked, desk.units()),
            how: worked.how.into(),
        });
    }
    months.reverse();
    Ok(page::shown(&TrendPage {
        frame: desk.frame(figure.name),
        name: figure.name,
        shop: desk.shop.name.clone(),
        span: year.words(),
        all_figures: format!("/figures?from={0}&to={0}", year.last),
        chart: chart(&desk, figure, &points),
        months,
    }))
}

/// None where fewer than two months have a figure, or none of them is above zero.
fn chart(desk: &Desk, figure: &KeyFigure, points: &[At]) -> Option<Chart> {
    let units = desk.units();
    let number = |at: &At| at.value.map(|value| figure.unit.number(units, value));
    let known: Vec<(&At, f64)> = points
        .iter()
        .filter_map(|at| Some((at, number(at)?)))
        .collect();
    let [(first, _), .., (last, _)] = known.as_slice() else {
        return None;
    };
    let numbers = || known.iter().map(|(_, number)| *number);
    let top = numbers().fold(0.0, f64::max);
    let low = numbers().fold(0.0, f64::min);
    let times = (points.first()?.middle, points.last()?.middle);
    let canvas = Canvas::over(times, (low * 1.05, top * 1.05))?;
    let place = |at: &At| Some((canvas.x(at.middle), canvas.y(number(at)?)));
    let word = figure.unit.word(units);
    Some(Chart {
        id: "months".to_owned(),
        caption: format!(
            "{}: {} in {}, {} in {}.",
            figure.name,
            shown(figure, units, first),
            first.month,
            shown(figure, units, last),
            last.month
        ),
        description: format!(
            "{} by month. A month without a mark has no figure. The table below has every month.",
            figure.name
        ),
        y_label: if word.is_empty() {
            "a month".to_owned()
        } else {
            word
        },
        x_label: "month",
        x_ticks: canvas.x_ticks(times, desk.zone()),
        y_ticks: canvas.y_ticks(),
        right: None,
        shades: Vec::new(),
        strokes: vec![Stroke {
            path: through(points.iter().map(place)),
            dashed: false,
        }],
        marks: known
            .iter()
            .map(|(at, number)| canvas.mark((at.middle, *number), Point::Dot, false))
            .collect(),
        words: Vec::new(),
        heads: ["Month", "Figure"].map(str::to_owned).to_vec(),
        rows: points
            .iter()
            .map(|at| {
                let cells = [at.month.to_string(), shown(figure, units, at)];
                cells.map(Cell::plain).to_vec()
            })
            .collect(),
    })
}

fn shown(figure: &KeyFigure, units: UnitsOfMeasure, at: &At) -> String {
    at.value.map_or_else(
        || NOT_RECORDED.to_owned(),
        |value| figure.unit.shown(units, value),
    )
}
