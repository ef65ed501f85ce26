//! `/laboratory`: the samples of a shop and what came back of them; `/laboratory/file`: results out of a
//! laboratory's file.

mod file;
pub(crate) mod hint;
pub(crate) mod take_in;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::fleet::Role;
use domain::job::Account;
use domain::moment::DAY_MS;
use storage::{Read, SampleRow};

use crate::WebError;
use crate::component::{Shape, Status};
use crate::desk::Desk;
use crate::desk::Frame;
use crate::figure;
use crate::form::Form;
use crate::job::sample::{CHASED_DAYS, way_to_result};
use crate::page;

/// Those who take a laboratory's file in.
pub(crate) const MAY_TAKE_IN: &[Role] = &[Role::Manager, Role::ComplianceOfficer];

/// So far back samples are listed: a year and what a laboratory takes.
const DAYS_BACK: i64 = 400;
/// So many are listed; where there are more, the page says so.
const MOST: usize = 300;

/// How a sample stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Overdue,
    Out,
    Back,
}

const STATES: [(State, &str, &str, Shape); 3] = [
    (
        State::Overdue,
        "overdue",
        "Ask the laboratory",
        Shape::Watch,
    ),
    (State::Out, "out", "No result yet", Shape::Wait),
    (State::Back, "back", "Result here", Shape::Good),
];

#[derive(Template)]
#[template(path = "laboratory/list.html")]
struct ListPage {
    frame: Frame,
    counts: Vec<(Status, usize, String)>,
    narrowed: Option<&'static str>,
    rows: Vec<Row>,
    may_take_in: bool,
    /// More are on record than are listed.
    cut: bool,
}

struct Row {
    bottle: String,
    address: String,
    of: String,
    of_address: Option<String>,
    taken: String,
    days: i64,
    status: Status,
    step: Option<(String, String)>,
}

/// The latest samples of the shop, and whether there are more.
async fn latest(desk: &Desk, read: &mut Read) -> Result<(Vec<SampleRow>, bool), WebError> {
    let from = desk.now_ms().plus_ms(DAYS_BACK.saturating_mul(-DAY_MS));
    let one_more = i64::try_from(MOST).unwrap_or(i64::MAX).saturating_add(1);
    let samples = read.list_samples(desk.shop.id, from, one_more).await;
    let mut samples = samples.map_err(WebError::fault)?;
    let cut = samples.len() > MOST;
    samples.truncate(MOST);
    Ok((samples, cut))
}

/// How many stand at each state, with their list.
fn counts(desk: &Desk, samples: &[SampleRow]) -> Vec<(Status, usize, String)> {
    let counts = STATES.iter().map(|(state, code, words, shape)| {
        let those = samples.iter().filter(|row| state_of(desk, row) == *state);
        (
            Status::new(*shape, *words),
            those.count(),
            format!("/laboratory?state={code}"),
        )
    });
    counts.filter(|(_, count, _)| *count > 0).collect()
}

/// The samples whose results somebody waits for, those that are overdue first.
pub(crate) async fn waiting(
    desk: &Desk,
    read: &mut Read,
) -> Result<Vec<(Status, usize, String)>, WebError> {
    let (mut samples, _) = latest(desk, read).await?;
    samples.retain(|sample| state_of(desk, sample) != State::Back);
    Ok(counts(desk, &samples))
}

/// GET /laboratory
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let wanted = STATES
        .iter()
        .find(|(_, code, ..)| *code == form.typed("state"));
    let mut read = desk.read().await?;
    let (samples, cut) = latest(&desk, &mut read).await?;
    drop(read);
    let mut shown: Vec<&SampleRow> = samples
        .iter()
        .filter(|row| wanted.is_none_or(|(state, ..)| state_of(&desk, row) == *state))
        .collect();
    // What waits longest comes first, what is back last and the latest of it first.
    shown.sort_by_key(|row| match state_of(&desk, row) {
        State::Back => (true, row.taken_at.0.saturating_neg()),
        State::Overdue | State::Out => (false, row.taken_at.0),
    });
    Ok(page::shown(&ListPage {
        frame: desk.frame("Laboratory results"),
        counts: counts(&desk, &samples),
        narrowed: wanted.map(|(_, _, words, _)| *words),
        rows: shown.into_iter().map(|sample| row(&desk, sample)).collect(),
        may_take_in: desk.may(MAY_TAKE_IN),
        cut,
    }))
}

/// Whole days since it was taken.
fn days_out(desk: &Desk, sample: &SampleRow) -> i64 {
    domain::condition::course::whole_days(sample.taken_at, desk.now_ms())
}

fn state_of(desk: &Desk, sample: &SampleRow) -> State {
    match sample.result {
        Some(_) => State::Back,
        None if sample.has_sheet => State::Back,
        None if days_out(desk, sample) > CHASED_DAYS => State::Overdue,
        None => State::Out,
    }
}

/// "unit 3307" or "Cart A", and its page.
fn subject(sample: &SampleRow) -> (String, Option<String>) {
    match (sample.unit, &sample.unit_number, &sample.vessel) {
        (Some(unit), Some(number), _) => (number.clone(), Some(format!("/units/{unit}"))),
        (None, _, Some(name)) => {
            let place = sample.place.and_then(Account::place);
            (name.clone(), place.map(|place| format!("/vessels/{place}")))
        }
        _ => ("no card".to_owned(), None),
    }
}

fn row(desk: &Desk, sample: &SampleRow) -> Row {
    let (of, of_address) = subject(sample);
    let state = state_of(desk, sample);
    let (word, shape) = STATES
        .iter()
        .find(|(known, ..)| *known == state)
        .map_or(("", Shape::Nothing), |(_, _, words, shape)| {
            (*words, *shape)
        });
    let may_work = desk.may(&[Role::Technician, Role::LeadHand, Role::Manager]);
    let step = match (sample.result, &of_address) {
        (Some(result), _) => Some((
            format!("Open result of {}", sample.bottle),
            format!("/jobs/{result}"),
        )),
        (None, Some(address)) if may_work && !sample.has_sheet => Some((
            format!("Log result of {}", sample.bottle),
            way_to_result(
                address,
                (sample.key, sample.place),
                (sample.taken_at, desk.zone()),
            ),
        )),
        _ => None,
    };
    Row {
        bottle: sample.bottle.clone(),
        address: format!("/jobs/{}", sample.key),
        of,
        of_address,
        taken: figure::day(sample.taken_at, desk.zone()),
        days: days_out(desk, sample),
        status: Status::new(shape, word),
        step,
    }
}
