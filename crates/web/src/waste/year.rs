//! `/waste/year`: what each month of a year counts as, and where the coolant of the year went.

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::month::{FlowTotal, Month};
use domain::quantity::UnitsOfMeasure;
use domain::waste::{Generation, SiteFigure, SiteMass};
use storage::Read;

use super::closed::{Kept, word_of_figure};
use super::month::list_of;
use super::stream::{self, Streams};
use super::{LOCAL_RULES, Listed, OnSite, kilograms, month_asked};
use crate::WebError;
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::page;
use crate::record::number;

/// Months in one year.
const MONTHS: usize = 12;

/// A month with what it counts as.
pub(super) struct YearMonth {
    pub(super) month: Month,
    pub(super) totals: Vec<FlowTotal>,
    pub(super) found: Generation<'static>,
    /// Code of the smaller class of the month before.
    pub(super) rose_from: Option<String>,
    /// What the lines of what became waste come to, g.
    pub(super) listed_g: i64,
}

/// The twelve months that a page or file is about, the earliest first: a calendar year as far as it
/// has come, or those up to a month.
pub(super) fn span_asked(desk: &Desk, form: &mut Form) -> Vec<Month> {
    let now = Month::of(desk.today());
    let year = form.ask("year").parse::<i32>().ok();
    let first = year.and_then(|year| NaiveDate::from_ymd_opt(year, 1, 1));
    let until = month_asked(desk, form);
    if let Some(first) = first.map(Month::of).filter(|first| *first <= now) {
        let months = std::iter::successors(Some(first), |month| Some(month.after()));
        return months
            .take(MONTHS)
            .take_while(|month| *month <= now)
            .collect();
    }
    let back = std::iter::successors(Some(until), |month| Some(month.before()));
    let mut span: Vec<Month> = back.take(MONTHS).collect();
    span.reverse();
    span
}

/// What the months come to, the earliest first.
pub(super) async fn months_of(
    read: &mut Read,
    (site, span): (&OnSite, &[Month]),
) -> Result<Vec<YearMonth>, WebError> {
    let (Some(first), Some(last)) = (span.first(), span.last()) else {
        return Ok(Vec::new());
    };
    let days = (first.before().first_day(), last.last_day());
    let lines = site.list(read, days).await?;
    let mut before = site.generation(first.before(), &lines)?;
    let mut all = Vec::new();
    for month in span {
        let found = site.generation(*month, &lines)?;
        all.push(YearMonth {
            month: *month,
            totals: site.totals(read, (*month, *month)).await?,
            rose_from: found
                .rose_from(&before)
                .and_then(|_| before.code(before.standing)),
            listed_g: became_waste(&lines, *month),
            found,
        });
        before = found;
    }
    Ok(all)
}

fn became_waste(list: &[Listed], month: Month) -> i64 {
    list.iter()
        .filter(|it| Month::of(it.line.day) == month)
        .filter(|it| it.waste.came == domain::waste::Came::AsWaste)
        .filter_map(|it| it.line.mass_g)
        .sum()
}

#[derive(Template)]
#[template(path = "waste/year.html")]
struct YearPage {
    frame: Frame,
    site: String,
    local_rules: &'static str,
    /// "2025-11 to 2026-10".
    span: String,
    /// What the file is asked for with: "year=2026".
    asked: String,
    before: i32,
    after: Option<i32>,
    words: [&'static str; 4],
    rows: Vec<Row>,
    sums: [(&'static str, String); 4],
    rises: String,
    streams: stream::Table,
    head: String,
}

struct Row {
    month: Month,
    /// What and where the list behind it is.
    figures: [(&'static str, String, String); 4],
    class: String,
    worst: String,
    rules: String,
    closed: &'static str,
}

/// The figures of the table, in its order.
const SHOWN: [SiteFigure; 4] = [
    SiteFigure::CoolantFirm,
    SiteFigure::CoolantPerhaps,
    SiteFigure::OtherNonAcute,
    SiteFigure::OtherAcute,
];

fn g_of(found: &Generation<'_>, figure: SiteFigure) -> i64 {
    let masses = SiteMass::all(found);
    let mass = masses.iter().find(|mass| mass.figure == figure);
    mass.map_or(0, |mass| mass.g)
}

/// GET /waste/year
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let span = span_asked(&desk, &mut form);
    let (Some(first), Some(last)) = (span.first().copied(), span.last().copied()) else {
        return Err(WebError::NotFound);
    };
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let months = months_of(&mut read, (&site, &span)).await?;
    let units = desk.units();
    let mut rows = Vec::new();
    for of in months.iter().rev() {
        let closed = !Kept::all(&mut read, &site, of.month).await?.is_empty();
        rows.push(row(units, of, closed));
    }
    let streams = Streams::of(&mut read, (&site, (first, last))).await?;
    let year = last.year();
    Ok(page::shown(&YearPage {
        frame: desk.frame(format!("Waste, {first} to {last}")),
        site: site.name.clone(),
        local_rules: LOCAL_RULES,
        span: format!("{first} to {last}"),
        asked: asked(&form, last),
        before: year.saturating_sub(1),
        after: (year < Month::of(desk.today()).year()).then(|| year.saturating_add(1)),
        words: SHOWN.map(word_of_figure),
        sums: SHOWN.map(|figure| {
            let g = months.iter().map(|of| g_of(&of.found, figure)).sum();
            (word_of_figure(figure), kilograms(units, g))
        }),
        rises: rises(&months),
        rows,
        streams: streams.table(units),
        head: format!(
            "event {}, {}",
            number(units, site.head.seq),
            site.head.hash_hex()
        ),
    }))
}

fn asked(form: &Form, last: Month) -> String {
    match form.typed("year").parse::<i32>() {
        Ok(year) => format!("year={year}"),
        Err(_) => format!("month={last}"),
    }
}

fn row(units: UnitsOfMeasure, of: &YearMonth, is_closed: bool) -> Row {
    let code = |standing| {
        let code = of.found.code(standing);
        code.unwrap_or_else(|| "none".to_owned())
    };
    let class = code(of.found.standing);
    Row {
        month: of.month,
        figures: SHOWN.map(|figure| {
            let said = kilograms(units, g_of(&of.found, figure));
            // Lines without a known mass are in none of the figures.
            let is_least = figure.is_coolant() && of.found.lines_without_mass > 0;
            let said = if is_least {
                format!("at least {said}")
            } else {
                said
            };
            (word_of_figure(figure), said, list_of(of.month, figure))
        }),
        class: match &of.rose_from {
            Some(from) => format!("{class}, rose from {from}"),
            None => class,
        },
        worst: code(of.found.worst),
        rules: of
            .found
            .profile
            .map_or_else(|| "none chosen".to_owned(), |profile| profile.id.clone()),
        closed: if is_closed { "yes" } else { "no" },
    }
}

/// "The class rose in 2026-03 and 2026-09."
fn rises(months: &[YearMonth]) -> String {
    let rose = months.iter().filter(|of| of.rose_from.is_some());
    let rose: Vec<String> = rose.map(|of| of.month.to_string()).collect();
    match rose.as_slice() {
        [] => "The class rose in none of these months.".to_owned(),
        [only] => format!("The class rose in {only}."),
        [first @ .., last] => format!("The class rose in {} and {last}.", first.join(", ")),
    }
}
