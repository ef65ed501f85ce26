//! `/figures`: a shop's key figures, each with what it was worked out from and the lists behind it.

mod behind;
mod figures;
mod list;
pub(crate) mod period;
mod sums;
mod trend;

pub(crate) use behind::show as show_behind;
pub(crate) use trend::show as show_trend;

use askama::Template;
use axum::extract::RawQuery;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use domain::book::outcome::Measure;
use domain::condition::key_figure::Share;
use domain::fleet::Role;
use domain::job::Account;
use domain::quantity::UnitsOfMeasure;
use storage::Read;

use crate::WebError;
use crate::component::{Counted, Piece, Said, TextField};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::{Form, FormProblem};
use crate::page;
use crate::winter;

use figures::{KeyFigure, VOLUMES, WORK, Worked};
use list::{List, Of};
use period::Span;
use sums::{Fleet, Sums};

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
    /// None where it is not recorded.
    value: Option<Counted>,
    /// The same over as many months right before; empty where it is of today.
    before: String,
    /// What it was worked out from.
    how: Said,
    /// Where its last twelve months are.
    trend: Option<String>,
}

/// What volumes are called on pages.
const MEASURES: [(Measure, &str); 10] = [
    (Measure::Bought, "Bought"),
    (Measure::Recovered, "Recovered"),
    (Measure::Reused, "Reused"),
    (Measure::FilledFromVessel, "Filled from vessels"),
    (Measure::ToppedUp, "Topped up"),
    (Measure::UsedUp, "Used up"),
    (Measure::ToWaste, "To waste"),
    (Measure::Shipped, "Shipped"),
    (Measure::Spilled, "Spilled"),
    (Measure::BecameWaste, "Became waste"),
];

/// What of a measure is no coolant and is not in its figure.
const fn left_out(measure: Measure) -> &'static str {
    match measure {
        Measure::Bought => "; plain water left out",
        Measure::Recovered => "; rinses of flushes left out",
        _ => "",
    }
}

/// GET /figures
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let span = Span::read(&mut form, desk.today());
    let mut read = desk.read().await?;
    let fleet = Fleet::of(&desk, &mut read).await?;
    let now = Sums::of((&desk, &mut read), &fleet, span).await?;
    let before = Sums::of((&desk, &mut read), &fleet, span.before()).await?;
    let of = |sums| Of {
        desk: &desk,
        sums,
        fleet: &fleet,
    };
    let line = |figure: &KeyFigure| line(figure, of(&now), of(&before));
    let today = today(&mut read, of(&now)).await?;
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
        volumes: VOLUMES.iter().map(line).collect(),
        work: WORK.iter().map(line).collect(),
        today,
    };
    Ok((status, page::shown(&page)).into_response())
}

fn line(figure: &KeyFigure, now: Of<'_>, before: Of<'_>) -> Line {
    let units = now.desk.units();
    let worked = (figure.work)(now);
    let before = (figure.work)(before).value;
    Line {
        name: figure.name,
        value: led(figure, &worked, units),
        before: before.map_or_else(
            || NOT_RECORDED.to_owned(),
            |value| figure.unit.shown(units, value),
        ),
        how: worked.how.into(),
        trend: (!worked.behind.is_empty())
            .then(|| format!("/figures/{}/months?to={}", figure.code, now.sums.span.last)),
    }
}

/// A figure with the way to its list; none where it is not recorded.
fn led(figure: &KeyFigure, worked: &Worked, units: UnitsOfMeasure) -> Option<Counted> {
    let shown = figure.unit.shown(units, worked.value?);
    let behind = worked.behind.clone();
    Some(match worked.sum {
        Some(sum) => Counted::sum((shown, sum), behind),
        None => Counted::told(shown, behind),
    })
}

/// What stands today.
async fn today(read: &mut Read, of: Of<'_>) -> Result<Vec<Line>, WebError> {
    let Of { desk, fleet, .. } = of;
    let window = fleet.policy.freeze.test_older_than_days;
    let ready = winter::coverage_of(desk, &fleet.loops)?;
    let ready_at = format!("{}?state=ready", winter::PATH);
    let (all, units) = List::Units.count(of);
    let (tested, tested_units) = List::Tested.count(of);
    let (unknown, unknown_units) = List::UnknownChemistry.count(of);
    Ok(vec![
        of_today(
            ("Winter coverage", winter::PATH),
            percent(desk, counted(ready.ready, ready.units)),
            vec![
                Counted::rows(ready.ready, ready_at).into(),
                " of ".into(),
                Counted::rows(ready.units, winter::PATH).into(),
                " units are ready".into(),
            ],
        ),
        of_today(
            ("Tested in the window", "/figures/untested"),
            percent(desk, counted(tested, all)),
            vec![
                tested_units.into(),
                " of ".into(),
                units.into(),
                format!(" units had every loop tested within {window} days").into(),
            ],
        ),
        of_today(
            ("Units of unknown chemistry", "/figures/unknown-chemistry"),
            Some(unknown.to_string()),
            vec![
                unknown_units.into(),
                " of ".into(),
                List::Units.count(of).1.into(),
                " units have a loop of which nobody knows what inhibitors are in it".into(),
            ],
        ),
        fitted(read, of).await?,
        book_error(desk, read).await?,
    ])
}

fn of_today((name, behind): (&'static str, &str), value: Option<String>, how: Vec<Piece>) -> Line {
    Line {
        name,
        value: value.map(|value| Counted::told(value, behind)),
        before: String::new(),
        how: how.into(),
        trend: None,
    }
}

async fn book_error(desk: &Desk, read: &mut Read) -> Result<Line, WebError> {
    let balances = read.list_outside_balances().await;
    let balances = balances.map_err(WebError::fault)?;
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
    let units = desk.units();
    let how = format!(
        "{} not accounted for ÷ {} bought or there at the opening",
        figure::volume(units, error.part),
        figure::volume(units, error.whole)
    );
    Ok(of_today(
        (
            "Balance error, all shops, since the book began",
            "/book-check",
        ),
        percent(desk, error),
        vec![how.into()],
    ))
}

async fn fitted(read: &mut Read, of: Of<'_>) -> Result<Line, WebError> {
    let desk = of.desk;
    let (done, all) = crate::retrofit::count_done(desk, read).await?;
    let how = vec![
        Counted::rows(done, "/retrofit?show=done").into(),
        " of ".into(),
        List::Units.count(of).1.into(),
        " units have their drain fitting".into(),
    ];
    Ok(of_today(
        ("Retrofit coverage", "/retrofit"),
        percent(desk, counted(done, all)),
        how,
    ))
}

fn counted(part: usize, whole: usize) -> Share {
    let count = |units: usize| i64::try_from(units).unwrap_or(i64::MAX);
    Share {
        part: count(part),
        whole: count(whole),
    }
}

fn percent(desk: &Desk, share: Share) -> Option<String> {
    let percent = share.percent()?;
    Some(figures::Unit::Percent.shown(desk.units(), percent))
}
