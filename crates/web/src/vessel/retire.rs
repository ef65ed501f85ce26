//! `/vessels/{vessel}/retire` and `/vessels/{vessel}/decide`: a vessel goes out of use; what may become
//! of what it holds is settled.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::{Fitness, FitnessDecision, Retired, What};
use domain::fleet::{Holds, Role, Vessel};
use domain::ids::FactKey;
use domain::job::Account;
use domain::words::Text;
use storage::PlaceContents;
use uuid::Uuid;

use super::find_own;
use crate::WebError;
use crate::card::{self, Saved, Saving};
use crate::component::{Choice, ChoiceField, ChoiceLook, TextArea};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::{Form, FormProblem, Presence};
use crate::intake::derived;
use crate::page;

const REASON: (&str, &str) = ("reason", "Why?");
const FITNESS: (&str, &str) = ("fitness", "What may become of all it holds?");
const KNOWN: (&str, &str) = ("known", "What it holds");

#[derive(Template)]
#[template(path = "vessel/retire.html")]
struct RetirePage {
    frame: Frame,
    step: Step,
    name: String,
    address: String,
    held: String,
    /// It holds waste, which should be shipped or moved first: a box must be ticked.
    holds_waste: bool,
    ticked: bool,
    key: String,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    fitness: ChoiceField,
    reason: TextArea,
}

/// Which of the two pages it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    Retire,
    Decide,
}

impl Step {
    fn heading(self, name: &str) -> String {
        match self {
            Self::Retire => format!("Retire {name}"),
            Self::Decide => format!("Decide on the contents of {name}"),
        }
    }
}

impl RetirePage {
    fn is_retire(&self) -> bool {
        self.step == Step::Retire
    }

    fn heading(&self) -> String {
        self.step.heading(&self.name)
    }
}

/// GET /vessels/{vessel}/retire
pub(crate) async fn show(desk: Desk, Path(vessel): Path<String>) -> Result<Response, WebError> {
    open(&desk, &vessel, Step::Retire).await
}

/// GET /vessels/{vessel}/decide
pub(crate) async fn show_decide(
    desk: Desk,
    Path(vessel): Path<String>,
) -> Result<Response, WebError> {
    open(&desk, &vessel, Step::Decide).await
}

/// POST /vessels/{vessel}/retire
pub(crate) async fn submit(
    desk: Desk,
    Path(vessel): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let Some((card, held)) = in_use(&desk, &vessel).await? else {
        return Ok(there(&vessel));
    };
    form.ask("key");
    let reason = form.lines(REASON, Presence::Needed);
    let ticked = form.ticked(KNOWN.0);
    if holds_waste(&card, held.as_ref()) && !ticked {
        let held = figure::volume(desk.units(), held.as_ref().map_or(0, |held| held.shown_ml));
        let text = format!(
            "it holds {held} of waste; move or ship that first, or tick that it is gone with the container"
        );
        form.note(KNOWN.0, KNOWN.1, text);
    }
    form.refuse_what_was_not_asked();
    let (Some(reason), true) = (reason, form.is_good()) else {
        return Ok(draw(
            &desk,
            (&form, Step::Retire),
            (&card, held.as_ref()),
            StatusCode::UNPROCESSABLE_ENTITY,
        ));
    };
    let what = What::Retired(Retired {
        unit: None,
        places: vec![Account::Vessel(card.id)],
        reason: Text::plain(&reason),
    });
    // Whoever retired it a moment before has retired it all the same.
    let key = derived::fact_key("retire vessel", &[&card.id.to_string()]);
    record(
        &desk,
        (form, Step::Retire),
        (&card, held.as_ref()),
        (key, what),
    )
    .await
}

/// POST /vessels/{vessel}/decide
pub(crate) async fn submit_decide(
    desk: Desk,
    Path(vessel): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let Some((card, held)) = in_use(&desk, &vessel).await? else {
        return Ok(there(&vessel));
    };
    let key = form.id(("key", "Form"), Presence::Needed);
    let offered = CHOICES.map(|(code, _, fitness)| (code, fitness));
    let fitness = form.choice(FITNESS, &offered, Presence::Needed);
    let reason = form.lines(REASON, Presence::Needed);
    form.refuse_what_was_not_asked();
    let (Some(key), Some(fitness), Some(reason), true) = (key, fitness, reason, form.is_good())
    else {
        return Ok(draw(
            &desk,
            (&form, Step::Decide),
            (&card, held.as_ref()),
            StatusCode::UNPROCESSABLE_ENTITY,
        ));
    };
    let what = What::FitnessDecision(FitnessDecision {
        vessel: card.id,
        shop: Some(card.shop),
        fitness,
        reason: Text::plain(&reason),
    });
    record(
        &desk,
        (form, Step::Decide),
        (&card, held.as_ref()),
        (FactKey(key), what),
    )
    .await
}

const CHOICES: [(&str, &str, Fitness); 3] = [
    ("reuse", "Fit to be used again as it is", Fitness::Reuse),
    ("reclaim", "To be reclaimed first", Fitness::Reclaim),
    ("waste", "Waste, from today on", Fitness::Waste),
];

async fn record(
    desk: &Desk,
    (form, step): (Form, Step),
    (card, held): (&Vessel, Option<&PlaceContents>),
    (key, what): (FactKey, What),
) -> Result<Response, WebError> {
    let saving = Saving {
        key,
        what,
        after: None,
        as_sent: form.as_sent(),
        acting: &[Role::Manager, Role::ComplianceOfficer],
    };
    Ok(match card::save(desk, saving).await? {
        Saved::OnRecord | Saved::Overtaken => there(&card.id.to_string()),
        Saved::NotConfirmed => draw(
            desk,
            (&form, step),
            (card, held),
            StatusCode::SERVICE_UNAVAILABLE,
        ),
    })
}

fn there(vessel: &str) -> Response {
    Redirect::to(&format!("/vessels/{vessel}")).into_response()
}

async fn open(desk: &Desk, vessel: &str, step: Step) -> Result<Response, WebError> {
    let Some((card, held)) = in_use(desk, vessel).await? else {
        return Ok(there(vessel));
    };
    let mut form = Form::default();
    form.set("key", Uuid::new_v4().to_string());
    Ok(draw(
        desk,
        (&form, step),
        (&card, held.as_ref()),
        StatusCode::OK,
    ))
}

/// The vessel with what it holds; none when it is retired already.
async fn in_use(
    desk: &Desk,
    vessel: &str,
) -> Result<Option<(Vessel, Option<PlaceContents>)>, WebError> {
    let mut read = desk.read().await?;
    let card = find_own(desk, &mut read, vessel).await?;
    if read.is_retired(card.id.0).await.map_err(WebError::fault)? {
        return Ok(None);
    }
    let held = read.find_place(card.id).await.map_err(WebError::fault)?;
    Ok(Some((card, held)))
}

fn holds_waste(card: &Vessel, held: Option<&PlaceContents>) -> bool {
    card.holds == Holds::Waste && held.is_some_and(|held| held.shown_ml > 0)
}

fn draw(
    desk: &Desk,
    (form, step): (&Form, Step),
    (card, held): (&Vessel, Option<&PlaceContents>),
    status: StatusCode,
) -> Response {
    let heading = step.heading(&card.name);
    let title = match status {
        StatusCode::OK => heading,
        StatusCode::SERVICE_UNAVAILABLE => format!("Not confirmed: {heading}"),
        _ => format!("Not saved: {heading}"),
    };
    let choices = CHOICES
        .into_iter()
        .map(|(code, label, _)| Choice {
            value: code.to_owned(),
            label: label.to_owned(),
            ..Choice::default()
        })
        .collect();
    let page = RetirePage {
        frame: desk.frame(title),
        step,
        name: card.name.clone(),
        address: format!("/vessels/{}", card.id),
        held: figure::volume(desk.units(), held.map_or(0, |held| held.shown_ml)),
        holds_waste: holds_waste(card, held),
        ticked: form.typed(KNOWN.0) == "yes",
        key: form.put_back("key"),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed: status == StatusCode::SERVICE_UNAVAILABLE,
        fitness: form.choice_field(
            FITNESS,
            "It covers everything in the vessel at this moment. What is put in later is a new batch.",
            choices,
            ChoiceLook::OneOf,
        ),
        reason: form.text_area(REASON, ""),
    };
    (status, page::shown(&page)).into_response()
}
