//! `/figures/{what}`: the months and the facts behind a key figure.

use std::collections::HashMap;

use askama::Template;
use axum::extract::{Path, RawQuery};
use axum::response::Response;
use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::condition::policy::Policies;
use domain::condition::{FreezePolicy, test_age_days};
use domain::job::JobKind;
use domain::moment::Moment;
use storage::{DipJob, Done, JobRow, LoopFigures, Read};

use super::period::Span;
use super::{MEASURES, left_out};
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::page::sentence;
use crate::{WebError, figure, page};

/// So many facts on one page; a shorter period shows the others.
const MOST: usize = 200;

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
    /// More facts than are shown.
    more: bool,
}

/// What a month came to.
struct MonthLine {
    month: String,
    volume: String,
    lines: i64,
    address: String,
    is_shown: bool,
}

/// One fact.
struct Row {
    address: String,
    what: String,
    day: String,
    value: String,
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
    let period = span.period(&desk)?;
    let shown = match what.as_str() {
        "fills" => {
            let fills = read.list_fills(period).await.map_err(WebError::fault)?;
            let words = ("right the first time", "came back within 30 days");
            done(&desk, &mut read, ("Fills", fills), words).await?
        }
        "repairs" => {
            let repairs = read.list_repairs(period).await.map_err(WebError::fault)?;
            let words = ("not mended again", "mended again within 30 days");
            done(&desk, &mut read, ("Leak repairs", repairs), words).await?
        }
        "taken-back" => taken_back(&desk, &mut read, span).await?,
        "dips" => dips(&desk, &mut read, span).await?,
        "untested" => not_tested(&desk, &mut read).await?,
        what => {
            let measure = Measure::from_code(what).ok_or(WebError::NotFound)?;
            flows(&desk, &mut read, (measure, span), form.typed("month")).await?
        }
    };
    let of_today = what == "untested";
    Ok(page::shown(&BehindPage {
        span: if of_today {
            String::new()
        } else {
            span.words()
        },
        all_figures: format!("/figures?{}", span.query()),
        ..shown
    }))
}

fn bare(desk: &Desk, name: &str) -> BehindPage {
    BehindPage {
        frame: desk.frame(name),
        name: name.to_owned(),
        shop: desk.shop.name.clone(),
        span: String::new(),
        all_figures: String::new(),
        months: Vec::new(),
        caption: String::new(),
        column: "",
        rows: Vec::new(),
        more: false,
    }
}

async fn flows(
    desk: &Desk,
    read: &mut Read,
    (measure, span): (Measure, Span),
    asked: &str,
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
    let wanted = Month::try_from(asked.to_owned()).ok();
    let months = span.months();
    let latest = months.iter().rev().find(|month| of(**month).1 > 0);
    let month = wanted.or(latest.copied()).unwrap_or(span.last);
    let within = Span {
        first: month,
        last: month,
    };
    let most = i64::try_from(MOST.saturating_add(1)).unwrap_or(i64::MAX);
    let mut jobs = read
        .list_jobs_of_measure(within.period(desk)?, (measure, month), most)
        .await
        .map_err(WebError::fault)?;
    let more = jobs.len() > MOST;
    jobs.truncate(MOST);
    let name = MEASURES
        .iter()
        .find(|(known, _)| *known == measure)
        .map_or("Volume", |(_, name)| name);
    let address =
        |month: Month| format!("/figures/{}?{}&month={month}", measure.code(), span.query());
    Ok(BehindPage {
        months: months
            .into_iter()
            .rev()
            .map(|each| MonthLine {
                month: each.to_string(),
                volume: figure::volume(desk.units(), of(each).0),
                lines: of(each).1,
                address: address(each),
                is_shown: each == month,
            })
            .collect(),
        caption: format!("Jobs of {month}, newest first{}", left_out(measure)),
        column: "Counts",
        rows: jobs
            .iter()
            .map(|(job, ml)| row(job, figure::volume(desk.units(), *ml)))
            .collect(),
        more,
        ..bare(desk, name)
    })
}

async fn done(
    desk: &Desk,
    read: &mut Read,
    (name, done): (&str, Vec<Done>),
    (lasted, again): (&str, &str),
) -> Result<BehindPage, WebError> {
    let latest: Vec<&Done> = done.iter().rev().take(MOST).collect();
    let seqs: Vec<i64> = latest.iter().map(|each| each.seq).collect();
    let jobs = read.list_jobs(&seqs).await.map_err(WebError::fault)?;
    let jobs: HashMap<i64, &JobRow> = jobs.iter().map(|job| (job.seq, job)).collect();
    let rows = latest.iter().filter_map(|each| {
        let word = if each.again { again } else { lasted };
        Some(row(jobs.get(&each.seq)?, word.to_owned()))
    });
    Ok(BehindPage {
        caption: format!("{} in all, newest first", done.len()),
        column: "Came out",
        rows: rows.collect(),
        more: done.len() > MOST,
        ..bare(desk, name)
    })
}

async fn taken_back(desk: &Desk, read: &mut Read, span: Span) -> Result<BehindPage, WebError> {
    let most = i64::try_from(MOST.saturating_add(1)).unwrap_or(i64::MAX);
    let mut jobs = read
        .list_taken_back(span.period(desk)?, most)
        .await
        .map_err(WebError::fault)?;
    let more = jobs.len() > MOST;
    jobs.truncate(MOST);
    let why = "taken back, or another job in its place";
    Ok(BehindPage {
        caption: "Jobs of these months that do not count any more, newest first".to_owned(),
        column: "Why",
        rows: jobs.iter().map(|job| row(job, why.to_owned())).collect(),
        more,
        ..bare(desk, "Jobs taken back")
    })
}

async fn dips(desk: &Desk, read: &mut Read, span: Span) -> Result<BehindPage, WebError> {
    let dips = read
        .list_dips_of_stock(span.period(desk)?)
        .await
        .map_err(WebError::fault)?;
    let latest: Vec<&DipJob> = dips.jobs.iter().rev().take(MOST).collect();
    let seqs: Vec<i64> = latest.iter().map(|dip| dip.seq).collect();
    let jobs = read.list_jobs(&seqs).await.map_err(WebError::fault)?;
    let jobs: HashMap<i64, &JobRow> = jobs.iter().map(|job| (job.seq, job)).collect();
    let rows = latest.iter().filter_map(|dip| {
        let missing = figure::volume(desk.units(), dip.missing_ml);
        Some(row(jobs.get(&dip.seq)?, missing))
    });
    Ok(BehindPage {
        caption: format!(
            "{} jobs that dipped vessels without waste, newest first; below zero, more was there \
             than the book held",
            dips.jobs.len()
        ),
        column: "Missing",
        rows: rows.collect(),
        more: dips.jobs.len() > MOST,
        ..bare(desk, "Dips of stock")
    })
}

/// Units with a loop not tested within the window, each with the loop that was read longest ago.
pub(super) fn untested<'a>(
    loops: &'a [LoopFigures],
    policy: &FreezePolicy,
    now: Moment,
) -> Vec<&'a LoopFigures> {
    let read_at = |each: &LoopFigures| each.state.and_then(|state| state.last_reading_at);
    loops
        .chunk_by(|one, next| one.unit == next.unit)
        .filter_map(|unit| unit.iter().min_by_key(|each| read_at(each)))
        .filter(|worst| !policy.is_tested(test_age_days(read_at(worst), now)))
        .collect()
}

async fn not_tested(desk: &Desk, read: &mut Read) -> Result<BehindPage, WebError> {
    let loops = read
        .list_loop_figures(desk.shop.id)
        .await
        .map_err(WebError::fault)?;
    let policy = Policies::on(desk.today()).map_err(WebError::fault)?;
    let found = untested(&loops, &policy.freeze, desk.now_ms());
    let rows = found.iter().take(MOST).map(|each| Row {
        address: format!("/units/{}", each.unit),
        what: format!("{}, {}", each.unit_number, each.name),
        day: each
            .state
            .and_then(|state| state.last_reading_at)
            .map_or_else(
                || "no test yet".to_owned(),
                |at| figure::day(at, desk.zone()),
            ),
        value: each.unit_kind.clone(),
    });
    Ok(BehindPage {
        caption: format!(
            "{} units with a loop not tested within {} days, and its last test",
            found.len(),
            policy.freeze.test_older_than_days
        ),
        column: "Kind",
        rows: rows.collect(),
        more: found.len() > MOST,
        ..bare(desk, "Not tested in the window")
    })
}

fn row(job: &JobRow, value: String) -> Row {
    let kind = JobKind::from_code(&job.kind).map_or("record", JobKind::word);
    let what = match &job.unit_number {
        Some(number) => format!("{kind}, unit {number}"),
        None => kind.to_owned(),
    };
    Row {
        address: format!("/jobs/{}", job.order.key),
        what: sentence(&what).trim_end_matches('.').to_owned(),
        day: job.local_date.clone(),
        value,
    }
}
