//! `/retrofit`: how many units have their drain fitting, when the last one will, and which comes next.

mod asked;
mod chart;
mod row;

use askama::Template;
use axum::extract::RawQuery;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use chrono::NaiveDate;
use domain::condition::policy::{Policies, Policy, PolicyRow};
use domain::condition::retrofit::{Finish, Progress};
use domain::fleet::Role;
use domain::moment::DAY_MS;
use storage::{Fitting, Read, RetrofitUnit};

use crate::WebError;
use crate::component::{ChoiceField, Pager, TextField};
use crate::desk::{Desk, Frame};
use crate::form::FormProblem;
use crate::page;
use crate::waste::export::Csv;

use asked::{Asked, Order, Show};
use chart::Chart;
use row::{Differs, Each, Parts, Row};

const PATH: &str = "/retrofit";
const PER_PAGE: usize = 50;
/// Visits and drains are counted over so many days.
const COUNTED_OVER_DAYS: i64 = 365;
/// Those who log jobs.
const WORK: &[Role] = &[Role::Technician, Role::LeadHand, Role::Manager];

#[derive(Template)]
#[template(path = "retrofit/show.html")]
struct RetrofitPage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    by: TextField,
    kind: ChoiceField,
    /// The hidden part of the form.
    order: &'static str,
    shop: String,
    units: usize,
    done: (usize, String),
    left: (usize, String),
    shows_done: bool,
    /// At this pace the day wanted is missed: a sentence.
    missed: Option<String>,
    chart: Option<Chart>,
    by_visit: String,
    by_payback: String,
    /// The same units as a file.
    file: String,
    ordered_by_payback: bool,
    rows: Vec<Row>,
    pager: Pager,
    parts: Vec<Parts>,
    /// The first and the last fitting with minutes: minutes and the address of the job.
    minutes: Option<[(i64, String); 2]>,
    differ: Vec<Differs>,
    policy: Vec<PolicyRow>,
    may_work: bool,
}

async fn found(
    desk: &Desk,
    read: &mut Read,
    counted_over_days: i64,
) -> Result<(Vec<RetrofitUnit>, Vec<Fitting>), WebError> {
    let counted_ms = DAY_MS.saturating_mul(counted_over_days);
    let since = desk.now_ms().plus_ms(counted_ms.saturating_neg());
    let units = read.list_retrofit_units(desk.shop.id, since).await;
    let fittings = read.list_fittings(desk.shop.id).await;
    Ok((
        units.map_err(WebError::fault)?,
        fittings.map_err(WebError::fault)?,
    ))
}

/// How many units in use have their fitting, and how many there are.
pub(crate) async fn count_done(desk: &Desk, read: &mut Read) -> Result<(usize, usize), WebError> {
    // Visits and drains have no part in it.
    let (units, fittings) = found(desk, read, 0).await?;
    let policy = Policies::on(desk.today()).map_err(WebError::fault)?;
    let all = row::each(units, &fittings, (desk, policy));
    let done = all.iter().filter(|each| each.fitted.is_some()).count();
    Ok((done, all.len()))
}

/// GET /retrofit
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let (units, fittings) = found(&desk, &mut read, COUNTED_OVER_DAYS).await?;
    drop(read);
    let policy = Policies::on(desk.today()).map_err(WebError::fault)?;
    let asked = Asked::read(query.as_deref(), &units);
    let all = row::each(units, &fittings, (&desk, policy));
    let in_scope: Vec<&Each> = all.iter().filter(|each| asked.takes(each)).collect();
    let fitted: Vec<Option<NaiveDate>> = in_scope.iter().map(|each| each.fitted).collect();
    let progress = Progress::of(&fitted, desk.today(), asked.by, &policy.retrofit);
    let status = if asked.form.is_good() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let differ = row::differing(&fittings, &in_scope);
    let page = RetrofitPage {
        minutes: row::first_and_last(&fittings, &in_scope),
        differ,
        parts: row::parts(&fittings, &in_scope),
        ..lay_out(&desk, &asked, (in_scope, &progress, policy))
    };
    Ok((status, page::shown(&page)).into_response())
}

/// GET /retrofit.csv: every unit in scope, those to fit first and the quickest to pay back on top.
pub(crate) async fn show_csv(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let (units, fittings) = found(&desk, &mut read, COUNTED_OVER_DAYS).await?;
    drop(read);
    let policy = Policies::on(desk.today()).map_err(WebError::fault)?;
    let asked = Asked::read(query.as_deref(), &units);
    let mut units = row::each(units, &fittings, (&desk, policy));
    units.retain(|each| asked.takes(each));
    units.sort_by(|one, other| {
        let months = |each: &Each| each.payback_months.unwrap_or(f64::INFINITY);
        let by_state = one.fitted.is_some().cmp(&other.fitted.is_some());
        by_state.then(months(one).total_cmp(&months(other)))
    });
    let mut file = Csv::default();
    file.row(&row::HEADS);
    for each in &units {
        file.row(&each.cells());
    }
    file.answer(&format!("retrofit {}", desk.today()))
}

fn lay_out(
    desk: &Desk,
    asked: &Asked,
    (mut units, progress, policy): (Vec<&Each>, &Progress, &Policy),
) -> RetrofitPage {
    let total = units.len();
    units.retain(|each| each.fitted.is_some() == (asked.show == Show::Done));
    match (asked.show, asked.order) {
        (Show::Done, _) => units.sort_by_key(|each| std::cmp::Reverse(each.fitted)),
        (Show::Left, Order::Visit) => {
            units.sort_by_key(|each| {
                each.next_visit
                    .map_or((true, NaiveDate::MAX), |day| (false, day))
            });
        }
        (Show::Left, Order::Payback) => units.sort_by(|one, other| {
            let months = |each: &Each| each.payback_months.unwrap_or(f64::INFINITY);
            months(one).total_cmp(&months(other))
        }),
    }
    let pager = Pager::over(("units", units.len()), (asked.page, PER_PAGE), |page| {
        asked.address(&[("page", &page.to_string())])
    });
    let rows = pager.take(units.into_iter()).into_iter();
    let done = progress.done.len();
    RetrofitPage {
        frame: desk.frame("Retrofit programme"),
        problems: asked.form.problems().to_vec(),
        summary: asked.form.summary_after("Not worked out"),
        by: asked.by_field(progress.wanted_by),
        kind: asked.kind_field(),
        order: asked.order.code(),
        shop: desk.shop.name.clone(),
        units: total,
        done: (done, asked.address(&[("show", "done")])),
        left: (
            total.saturating_sub(done),
            asked.address(&[("show", "left")]),
        ),
        shows_done: asked.show == Show::Done,
        missed: missed(progress),
        chart: Chart::of(progress, desk.today(), finding(progress)),
        by_visit: asked.address(&[("order", "visit")]),
        by_payback: asked.address(&[("order", "payback")]),
        file: asked.file(),
        ordered_by_payback: asked.order == Order::Payback,
        rows: rows.map(|each| Row::of(each, desk)).collect(),
        pager,
        parts: Vec::new(),
        minutes: None,
        differ: Vec::new(),
        policy: policy
            .rows
            .iter()
            .filter(|row| row.field.starts_with("retrofit_") || row.field == "winter_minute_price")
            .cloned()
            .collect(),
        may_work: desk.may(WORK),
    }
}

fn finding(progress: &Progress) -> String {
    let done = progress.done.len();
    let scope = progress.scope;
    match progress.finish {
        Finish::Done => format!("All {scope} units are fitted."),
        Finish::On(day) => format!("{done} of {scope} fitted; at this pace all by {day}."),
        Finish::NoPace => format!("{done} of {scope} fitted; none of late, so no end in sight."),
    }
}

fn missed(progress: &Progress) -> Option<String> {
    let wanted = progress.wanted_by.filter(|_| progress.misses())?;
    Some(match progress.finish {
        Finish::On(day) => {
            let days = day.signed_duration_since(wanted).num_days();
            format!("At this pace the end of the plan, {wanted}, is missed by {days} days.")
        }
        _ => format!(
            "None was fitted of late: at this pace the end of the plan, {wanted}, is missed."
        ),
    })
}
