//! `/figures`: a shop's key figures, each with what it was worked out from and the list behind it.

mod behind;
pub(crate) mod period;
mod sums;

pub(crate) use behind::show as show_behind;

use askama::Template;
use axum::extract::RawQuery;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use domain::book::outcome::Measure;
use domain::condition::key_figure::Share;
use domain::condition::policy::Policies;
use domain::fleet::Role;
use domain::job::Account;
use domain::quantity::UnitsOfMeasure;
use storage::{LoopFigures, Read};

use crate::WebError;
use crate::component::TextField;
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::{Form, FormProblem};
use crate::page;
use crate::winter;

use period::Span;
use sums::{Sums, lasted};

/// Those who look at how a shop does as a whole.
pub(crate) const ROLES: &[Role] = &[Role::Manager, Role::ComplianceOfficer, Role::Reader];

const NOT_RECORDED: &str = "not recorded";

#[derive(Template)]
#[template(path = "key_figure/show.html")]
struct FiguresPage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    from: TextField,
    to: TextField,
    shop: String,
    span: String,
    before: String,
    volumes: Vec<Line>,
    work: Vec<Line>,
    today: Vec<Line>,
}

/// One key figure.
#[derive(Clone, Debug)]
struct Line {
    name: &'static str,
    value: String,
    /// The same over as many months right before; empty where it is of today.
    before: String,
    /// What it was worked out from.
    how: String,
    /// Where the list behind it is.
    behind: Option<String>,
}

/// What volumes are called on pages.
const MEASURES: [(Measure, &str); 9] = [
    (Measure::Bought, "Bought"),
    (Measure::Recovered, "Recovered"),
    (Measure::Reused, "Reused"),
    (Measure::FilledFromVessel, "Filled from vessels"),
    (Measure::ToppedUp, "Topped up"),
    (Measure::UsedUp, "Used up"),
    (Measure::ToWaste, "To waste"),
    (Measure::Shipped, "Shipped"),
    (Measure::Spilled, "Spilled"),
];

/// GET /figures
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let span = Span::read(&mut form, desk.today());
    let mut read = desk.read().await?;
    let now = Sums::of(&desk, &mut read, span).await?;
    let before = Sums::of(&desk, &mut read, span.before()).await?;
    let loops = read
        .list_loop_figures(desk.shop.id)
        .await
        .map_err(WebError::fault)?;
    let capacity = loops.iter().filter_map(|each| each.capacity_ml);
    let fleet_ml = capacity.fold(0, i64::saturating_add);
    let today = today(&desk, &mut read, &loops).await?;
    let status = if form.is_good() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let (from, to) = Span::fields(&form, span);
    let page = FiguresPage {
        frame: desk.frame("Key figures"),
        problems: form.problems().to_vec(),
        summary: form.summary_after("Not shown"),
        from,
        to,
        shop: desk.shop.name.clone(),
        span: span.words(),
        before: span.before().words(),
        volumes: volumes(desk.units(), (&now, &before), span),
        work: work(desk.units(), (&now, &before), (span, fleet_ml)),
        today,
    };
    Ok((status, page::shown(&page)).into_response())
}

fn volumes(units: UnitsOfMeasure, (now, before): (&Sums, &Sums), span: Span) -> Vec<Line> {
    let line = |&(measure, name): &(Measure, &'static str)| {
        let (ml, lines) = now.flow(measure);
        Line {
            name,
            value: figure::volume(units, ml),
            before: figure::volume(units, before.flow(measure).0),
            how: match lines {
                1 => format!("1 line of a job, mixed, at 20 °C{}", left_out(measure)),
                lines => format!(
                    "{lines} lines of jobs, mixed, at 20 °C{}",
                    left_out(measure)
                ),
            },
            behind: Some(behind(measure.code(), span)),
        }
    };
    MEASURES.iter().map(line).collect()
}

/// What of a measure is no coolant and is not in its figure.
const fn left_out(measure: Measure) -> &'static str {
    match measure {
        Measure::Bought => "; plain water left out",
        Measure::Recovered => "; rinses of flushes left out",
        _ => "",
    }
}

fn work(
    units: UnitsOfMeasure,
    (now, before): (&Sums, &Sums),
    (span, fleet_ml): (Span, i64),
) -> Vec<Line> {
    let back = |of: &Sums| Share {
        part: of.taken_back,
        whole: of.jobs,
    };
    let mut lines = fluid(units, (now, before), (span, fleet_ml)).to_vec();
    lines.extend(lasting(units, (now, before), span));
    lines.extend([
        paid(units, (now, before), span),
        missing(units, (now, before), span),
        Line {
            name: "Jobs taken back",
            value: percent(units, back(now)),
            before: percent(units, back(before)),
            how: format!(
                "{} of {} jobs were taken back or had another put in their place",
                now.taken_back, now.jobs
            ),
            behind: Some(behind("taken-back", span)),
        },
        Line {
            name: "Minutes per exchange, with and without fitting",
            value: NOT_RECORDED.to_owned(),
            before: NOT_RECORDED.to_owned(),
            how: "no minutes are kept with an exchange".to_owned(),
            behind: None,
        },
    ]);
    lines
}

fn behind(what: &str, span: Span) -> String {
    format!("/figures/{what}?{}", span.query())
}

fn fluid(
    units: UnitsOfMeasure,
    (now, before): (&Sums, &Sums),
    (span, fleet_ml): (Span, i64),
) -> [Line; 2] {
    let litres = |ml| figure::volume(units, ml);
    let reuse = |of: &Sums| Share {
        part: of.flow(Measure::Reused).0,
        whole: of.flow(Measure::Recovered).0,
    };
    let turnover = |of: &Sums, span: Span| {
        let share = Share {
            part: of.flow(Measure::Bought).0,
            whole: fleet_ml,
        };
        let turns = share.a_year(span.days());
        or_not_recorded(turns.map(|turns| figure::decimal(units, turns, 2)))
    };
    [
        Line {
            name: "Reuse rate",
            value: percent(units, reuse(now)),
            before: percent(units, reuse(before)),
            how: format!(
                "{} put into units out of recovered fluid ÷ {} recovered",
                litres(reuse(now).part),
                litres(reuse(now).whole)
            ),
            behind: Some(behind(Measure::Reused.code(), span)),
        },
        Line {
            name: "Fleet turnover a year",
            value: turnover(now, span),
            before: turnover(before, span.before()),
            how: format!(
                "{} bought in {} days ÷ {} that the loops hold when full",
                litres(now.flow(Measure::Bought).0),
                span.days(),
                litres(fleet_ml)
            ),
            behind: Some(behind(Measure::Bought.code(), span)),
        },
    ]
}

fn lasting(units: UnitsOfMeasure, (now, before): (&Sums, &Sums), span: Span) -> [Line; 2] {
    let fills = |of: &Sums| counted(lasted(&of.fills), of.fills.len());
    let repairs = |of: &Sums| {
        let again = of.repairs.len().saturating_sub(lasted(&of.repairs));
        counted(again, of.repairs.len())
    };
    [
        Line {
            name: "First-time fill",
            value: percent(units, fills(now)),
            before: percent(units, fills(before)),
            how: format!(
                "{} of {} fills did not come back within 30 days: no more than 1 L to complete them, \
                 no top-up of more than 1.6 L, no second fill, no leak seen or mended on another day",
                fills(now).part,
                fills(now).whole
            ),
            behind: Some(behind("fills", span)),
        },
        Line {
            name: "Repeat leak within 30 days",
            value: percent(units, repairs(now)),
            before: percent(units, repairs(before)),
            how: format!(
                "{} of {} leak repairs were followed by another on the same loop",
                repairs(now).part,
                repairs(now).whole
            ),
            behind: Some(behind("repairs", span)),
        },
    ]
}

fn paid(units: UnitsOfMeasure, (now, before): (&Sums, &Sums), span: Span) -> Line {
    let price = |of: &Sums| {
        let hundredths = domain::quantity::rounding::float(of.paid.hundredths);
        or_not_recorded(
            (of.paid.with_price > 0).then(|| figure::decimal(units, hundredths / 100.0, 2)),
        )
    };
    Line {
        name: "Paid for coolant, in the shop's currency",
        value: price(now),
        before: price(before),
        how: format!(
            "{} of {} lines of fluid received have a price",
            now.paid.with_price, now.paid.lines
        ),
        behind: Some(behind(Measure::Bought.code(), span)),
    }
}

fn missing(units: UnitsOfMeasure, (now, before): (&Sums, &Sums), span: Span) -> Line {
    let a_month = |of: &Sums, span: Span| {
        let per = of.missing_ml.checked_div(i64::from(span.count()));
        or_not_recorded(
            (of.dips > 0)
                .then(|| per.map(|ml| figure::volume(units, ml)))
                .flatten(),
        )
    };
    Line {
        name: "Stock unexplained, a month",
        value: a_month(now, span),
        before: a_month(before, span.before()),
        how: format!(
            "{} missing in {} jobs that dipped vessels without waste ÷ {} months",
            figure::volume(units, now.missing_ml),
            now.dips,
            span.count()
        ),
        behind: Some(format!("/stock?{}", span.query())),
    }
}

/// What stands today.
async fn today(desk: &Desk, read: &mut Read, loops: &[LoopFigures]) -> Result<Vec<Line>, WebError> {
    let units = desk.units();
    let ready = winter::coverage_of(desk, loops)?;
    let policy = Policies::on(desk.today()).map_err(WebError::fault)?;
    let window = policy.freeze.test_older_than_days;
    let all = loops.chunk_by(|one, next| one.unit == next.unit).count();
    let untested = behind::untested(loops, &policy.freeze, desk.now_ms()).len();
    let tested = all.saturating_sub(untested);
    let balances = read
        .list_outside_balances()
        .await
        .map_err(WebError::fault)?;
    let held = |account: Account| {
        let of = balances.iter().filter(|row| row.account == account.word());
        of.map(|row| row.ml).fold(0, i64::saturating_add)
    };
    let error = Share {
        part: held(Account::NotAccountedFor).saturating_abs(),
        whole: held(Account::Supplier)
            .saturating_add(held(Account::Opening))
            .saturating_abs(),
    };
    Ok(vec![
        Line {
            name: "Winter coverage",
            value: percent(units, counted(ready.ready, ready.units)),
            before: String::new(),
            how: format!("{} of {} units are ready", ready.ready, ready.units),
            behind: Some("/winter".to_owned()),
        },
        Line {
            name: "Tested in the window",
            value: percent(units, counted(tested, all)),
            before: String::new(),
            how: format!("{tested} of {all} units had every loop tested within {window} days"),
            behind: Some("/figures/untested".to_owned()),
        },
        fitted(desk, read).await?,
        Line {
            name: "Balance error, all shops, since the book began",
            value: percent(units, error),
            before: String::new(),
            how: format!(
                "{} not accounted for ÷ {} bought or there at the opening",
                figure::volume(units, error.part),
                figure::volume(units, error.whole)
            ),
            behind: Some("/book-check".to_owned()),
        },
    ])
}

async fn fitted(desk: &Desk, read: &mut Read) -> Result<Line, WebError> {
    let (done, all) = crate::retrofit::count_done(desk, read).await?;
    Ok(Line {
        name: "Retrofit coverage",
        value: percent(desk.units(), counted(done, all)),
        before: String::new(),
        how: format!("{done} of {all} units have their drain fitting"),
        behind: Some("/retrofit".to_owned()),
    })
}

fn counted(part: usize, whole: usize) -> Share {
    let count = |units: usize| i64::try_from(units).unwrap_or(i64::MAX);
    Share {
        part: count(part),
        whole: count(whole),
    }
}

fn percent(units: UnitsOfMeasure, share: Share) -> String {
    let percent = share.percent();
    or_not_recorded(percent.map(|percent| format!("{} %", figure::decimal(units, percent, 1))))
}

fn or_not_recorded(value: Option<String>) -> String {
    value.unwrap_or_else(|| NOT_RECORDED.to_owned())
}
