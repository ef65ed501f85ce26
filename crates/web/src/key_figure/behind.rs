//! `/figures/{what}`: the months and the facts behind a key figure.

use std::collections::HashMap;

use askama::Template;
use axum::extract::{Path, RawQuery};
use axum::response::Response;
use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::job::JobKind;
use domain::moment::DAY_MS;
use storage::{JobRow, Period, Read};

use super::list::{Entry, List, Of, Subject, volume};
use super::period::Span;
use super::sums::{Fleet, Sums};
use super::{MEASURES, left_out};
use crate::component::{Counted, Pager, page_asked};
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::page::sentence;
use crate::{WebError, figure, page};

const PER_PAGE: usize = 100;

#[derive(Template)]
#[template(path = "key_figure/behind.html")]
struct BehindPage {
    frame: Frame,
    name: String,
    shop: String,
    /// Of which months; empty where it is of today.
    span: String,
    all_figures: String,
    months: Vec<MonthLine>,
    /// What the facts below are, as a caption.
    caption: String,
    /// What the last column says.
    column: &'static str,
    rows: Vec<Row>,
    pager: Pager,
}

/// What a month came to.
struct MonthLine {
    month: String,
    ml: i64,
    volume: Counted,
    lines: i64,
    is_shown: bool,
}

/// One fact.
struct Row {
    address: String,
    what: String,
    day: String,
    shown: String,
    value: i64,
}

/// GET /figures/{what}
pub(crate) async fn show(
    desk: Desk,
    Path(what): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let span = Span::read(&mut form, desk.today());
    let mut read = desk.read().await?;
    let asked = page_asked(form.typed("page"));
    let shown = if let Some(list) = List::from_code(&what) {
        listed(&desk, &mut read, (list, span, asked)).await?
    } else {
        let measure = Measure::from_code(&what).ok_or(WebError::NotFound)?;
        let month = Month::try_from(form.typed("month").to_owned()).ok();
        flows(&desk, &mut read, ((measure, span), month, asked)).await?
    };
    Ok(page::shown(&BehindPage {
        all_figures: format!("/figures?{}", span.query()),
        ..shown
    }))
}

/// A page of rows, and the ways to those beside it.
async fn paged(
    read: &mut Read,
    entries: Vec<Entry>,
    (asked, address): (usize, impl Fn(usize) -> String),
) -> Result<(Vec<Row>, Pager), WebError> {
    let pager = Pager::over(("rows", entries.len()), (asked, PER_PAGE), address);
    let entries = pager.take(entries.into_iter());
    let seqs: Vec<i64> = entries
        .iter()
        .filter_map(|entry| match entry.subject {
            Subject::Job(seq) => Some(seq),
            Subject::At(..) => None,
        })
        .collect();
    let jobs = read.list_jobs(&seqs).await.map_err(WebError::fault)?;
    let jobs: HashMap<i64, &JobRow> = jobs.iter().map(|job| (job.seq, job)).collect();
    let rows = entries.into_iter().filter_map(|entry| {
        let (address, what, day) = match entry.subject {
            Subject::Job(seq) => told(jobs.get(&seq)?),
            Subject::At(address, what, day) => (address, what, day),
        };
        Some(Row {
            address,
            what,
            day,
            shown: entry.shown,
            value: entry.value,
        })
    });
    Ok((rows.collect(), pager))
}

/// Where a job stands, what it was and its day.
fn told(job: &JobRow) -> (String, String, String) {
    let kind = JobKind::from_code(&job.kind).map_or("record", JobKind::word);
    let what = match &job.unit_number {
        Some(number) => format!("{kind}, unit {number}"),
        None => kind.to_owned(),
    };
    (
        format!("/jobs/{}", job.order.key),
        sentence(&what).trim_end_matches('.').to_owned(),
        job.local_date.clone(),
    )
}

async fn listed(
    desk: &Desk,
    read: &mut Read,
    (list, span, asked): (List, Span, usize),
) -> Result<BehindPage, WebError> {
    let fleet = Fleet::of(desk, read).await?;
    let sums = Sums::of((desk, read), &fleet, span).await?;
    let of = Of {
        desk,
        sums: &sums,
        fleet: &fleet,
    };
    let entries = list.entries(of);
    let (code, name, rows_are, column) = list.words();
    let count = entries.len();
    let address = |page: usize| format!("/figures/{code}?{}&page={page}", span.query());
    let (rows, pager) = paged(read, entries, (asked, address)).await?;
    let mut caption = format!("{rows_are}: {count} in all");
    if !pager.page_of.is_empty() {
        caption = format!("{caption}. {}", pager.page_of);
    }
    Ok(BehindPage {
        frame: desk.frame(name),
        name: name.to_owned(),
        shop: desk.shop.name.clone(),
        span: if list.is_of_today() {
            String::new()
        } else {
            span.words()
        },
        all_figures: String::new(),
        months: Vec::new(),
        caption,
        column,
        rows,
        pager,
    })
}

async fn flows(
    desk: &Desk,
    read: &mut Read,
    ((measure, span), wanted, asked): ((Measure, Span), Option<Month>, usize),
) -> Result<BehindPage, WebError> {
    let flows = read
        .list_flows_by_month(desk.shop.id, (span.first, span.last))
        .await
        .map_err(WebError::fault)?;
    let of = |month: Month| {
        let mut flows = flows.iter();
        let flow = flows.find(|flow| flow.month == month && flow.measure == measure);
        flow.map_or((0, 0), |flow| (flow.shown_ml, flow.lines))
    };
    let months = span.months();
    let latest = months.iter().rev().find(|month| of(**month).1 > 0);
    let month = wanted.or(latest.copied()).unwrap_or(span.last);
    let jobs = read
        .list_jobs_of_measure(about(desk, month)?, (measure, month))
        .await
        .map_err(WebError::fault)?;
    let units = desk.units();
    let jobs = jobs.iter().map(|job| volume(units, (job.seq, job.ml)));
    let address =
        |month: Month| format!("/figures/{}?{}&month={month}", measure.code(), span.query());
    let at_page = |page: usize| format!("{}&page={page}#jobs", address(month));
    let (rows, pager) = paged(read, jobs.collect(), (asked, at_page)).await?;
    let named = MEASURES.iter().find(|(known, _)| *known == measure);
    let name = named.map_or("Volume", |(_, name)| name);
    Ok(BehindPage {
        frame: desk.frame(name),
        name: name.to_owned(),
        shop: desk.shop.name.clone(),
        span: span.words(),
        all_figures: String::new(),
        months: months
            .into_iter()
            .rev()
            .map(|each| {
                let (ml, lines) = of(each);
                let shown = (figure::volume(units, ml), ml);
                MonthLine {
                    month: each.to_string(),
                    ml,
                    volume: Counted::sum(shown, format!("{}#jobs", address(each))),
                    lines,
                    is_shown: each == month,
                }
            })
            .collect(),
        caption: format!("Jobs of {month}, newest first{}", left_out(measure)),
        column: "Counts",
        rows,
        pager,
    })
}

/// A month and what lies about it: a job counts in the month of its day in the shop, and a clock that was
/// off moves it a little in the order of the book.
fn about(desk: &Desk, month: Month) -> Result<Period, WebError> {
    let within = Span {
        first: month,
        last: month,
    };
    let period = within.period(desk)?;
    Ok(Period {
        from: period.from.plus_ms(DAY_MS.saturating_mul(-7)),
        to: period.to.plus_ms(DAY_MS.saturating_mul(7)),
        ..period
    })
}
