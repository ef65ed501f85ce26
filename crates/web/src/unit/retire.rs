//! `/units/{unit}/retire`: a unit that is sold, scrapped or parked for good. What its loops hold
//! leaves the book with it.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::{Retired, What};
use domain::fleet::{Role, Unit};
use domain::ids::UnitId;
use domain::job::Account;
use domain::words::Text;
use storage::PlaceContents;

use super::on_record;
use crate::WebError;
use crate::card::{self, Saved, Saving};
use crate::component::TextArea;
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::{Form, FormProblem, Presence};
use crate::intake::derived;
use crate::page;

const REASON: (&str, &str) = ("reason", "Why is it retired?");

#[derive(Template)]
#[template(path = "unit/retire.html")]
struct RetirePage {
    frame: Frame,
    number: String,
    address: String,
    /// Each loop with what goes with it.
    held: Vec<(String, String)>,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    reason: TextArea,
}

/// GET /units/{unit}/retire
pub(crate) async fn show(desk: Desk, Path(unit): Path<String>) -> Result<Response, WebError> {
    let Some((unit, held)) = in_use(&desk, on_record::id_of(&unit)?).await? else {
        return Ok(Redirect::to(&format!("/units/{unit}")).into_response());
    };
    Ok(draw(
        &desk,
        &Form::default(),
        (&unit, &held),
        StatusCode::OK,
    ))
}

/// POST /units/{unit}/retire
pub(crate) async fn submit(
    desk: Desk,
    Path(unit): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let id = on_record::id_of(&unit)?;
    let mut form = Form::from_body(&headers, &body)?;
    let there = Redirect::to(&format!("/units/{id}")).into_response();
    let Some((unit, held)) = in_use(&desk, id).await? else {
        return Ok(there);
    };
    let reason = form.lines(REASON, Presence::Needed);
    form.refuse_what_was_not_asked();
    let (Some(reason), true) = (reason, form.is_good()) else {
        return Ok(draw(
            &desk,
            &form,
            (&unit, &held),
            StatusCode::UNPROCESSABLE_ENTITY,
        ));
    };
    let saving = Saving {
        key: derived::fact_key("retire unit", &[&unit.id.to_string()]),
        what: What::Retired(Retired {
            unit: Some(unit.id),
            places: unit
                .loops
                .iter()
                .map(|each| Account::Loop(each.id))
                .collect(),
            reason: Text::plain(&reason),
        }),
        after: None,
        as_sent: form.as_sent(),
        acting: &[Role::Manager],
    };
    match card::save(&desk, saving).await? {
        // Whoever retired it a moment before us has retired it all the same.
        Saved::OnRecord | Saved::Overtaken => Ok(there),
        Saved::NotConfirmed => Ok(draw(
            &desk,
            &form,
            (&unit, &held),
            StatusCode::SERVICE_UNAVAILABLE,
        )),
    }
}

/// The unit with what it holds; none when it is retired already.
async fn in_use(desk: &Desk, id: UnitId) -> Result<Option<(Unit, Vec<PlaceContents>)>, WebError> {
    let mut read = desk.read().await?;
    let now = on_record::find(desk, &mut read, id).await?;
    if now.retired {
        return Ok(None);
    }
    let held = read
        .list_places_of_unit(id)
        .await
        .map_err(WebError::fault)?;
    Ok(Some((now.unit, held)))
}

fn draw(
    desk: &Desk,
    form: &Form,
    (unit, held): (&Unit, &[PlaceContents]),
    status: StatusCode,
) -> Response {
    let heading = format!("Retire unit {}", unit.number);
    let title = match status {
        StatusCode::OK => heading,
        StatusCode::SERVICE_UNAVAILABLE => format!("Not confirmed: {heading}"),
        _ => format!("Not saved: {heading}"),
    };
    let held_by = |id| {
        let held = held.iter().find(|held| held.place == id);
        held.map_or(0, |held| held.shown_ml)
    };
    let page = RetirePage {
        frame: desk.frame(title),
        number: unit.number.clone(),
        address: format!("/units/{}", unit.id),
        held: unit
            .loops
            .iter()
            .map(|each| {
                (
                    each.name.clone(),
                    figure::volume(desk.units(), held_by(each.id)),
                )
            })
            .collect(),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed: status == StatusCode::SERVICE_UNAVAILABLE,
        reason: form.text_area(REASON, "Sold, scrapped, burnt out. It stays on record."),
    };
    (status, page::shown(&page)).into_response()
}
