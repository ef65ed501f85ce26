//! `/vessels/new` and `/vessels/{vessel}/edit`: a vessel's card made and changed.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::book::component::{Base, InhibitorClass};
use domain::fact::{Opening, What};
use domain::fleet::{Holds, Role, Vessel, VesselKind};
use domain::ids::{FactKey, PlaceId};
use domain::job::{Account, FluidNamed};
use storage::Read;
use uuid::Uuid;

use super::card::{CardFields, CardOf, Draft, FIELDS, read, refill};
use super::find_own;
use crate::WebError;
use crate::card::{self, Before, Difference, Saved, Saving};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem};
use crate::intake::derived;
use crate::page;

#[derive(Template)]
#[template(path = "vessel/card.html")]
struct CardPage {
    frame: Frame,
    heading: String,
    action: String,
    back: String,
    back_label: String,
    hidden: Vec<(&'static str, String)>,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    /// "P10 at 2026-10-05 07:42"; the fields then hold what is typed, on top of their change.
    changed_by: Option<String>,
    differences: Vec<Difference>,
    fields: CardFields,
}

/// What a page says beside its fields.
#[derive(Default)]
struct Said {
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
}

/// GET /vessels/new
pub(crate) async fn show_new(desk: Desk) -> Response {
    let mut form = Form::default();
    form.set("key", Uuid::new_v4().to_string());
    draw(&desk, (&form, None), Said::default())
}

/// POST /vessels/new
pub(crate) async fn submit_new(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = form.id(("key", "Form"), crate::form::Presence::Needed);
    let blank = blank(&desk, key);
    let draft = read(&mut form, &desk, (&blank, CardOf::New));
    form.refuse_what_was_not_asked();
    if let (Some(draft), Some(key)) = (&draft, key)
        && form.is_good()
    {
        let mut read = desk.read().await?;
        let before = card::key_before(&desk, FactKey(key), &as_sent).await?;
        if before != Before::SameForm {
            note_name_in_use(&mut read, &mut form, &draft.card).await?;
        }
    }
    let (Some(draft), Some(key), true) = (draft, key, form.is_good()) else {
        return Ok(draw(&desk, (&form, None), Said::default()));
    };
    save_new(&desk, (draft, FactKey(key)), (form, as_sent)).await
}

/// The card first, then what is in the vessel, under a key of its own.
async fn save_new(
    desk: &Desk,
    (draft, key): (Draft, FactKey),
    (mut form, as_sent): (Form, Vec<u8>),
) -> Result<Response, WebError> {
    let id = draft.card.id;
    let opening = draft.opening.map(|(volume, strength)| Opening {
        place: Account::Vessel(id),
        volume: Some(volume),
        strength,
        fluid: None::<FluidNamed>,
    });
    let opening_key = derived::fact_key("opening of a new vessel", &[&key.to_string()]);
    let first = (key, What::Vessel(draft.card), None);
    let facts =
        std::iter::once(first).chain(opening.map(|it| (opening_key, What::Opening(it), None)));
    for (key, what, after) in facts {
        let saving = Saving {
            key,
            what,
            after,
            as_sent: as_sent.clone(),
            acting: &[Role::Manager],
        };
        match card::save(desk, saving).await? {
            Saved::OnRecord => {}
            Saved::Overtaken => {
                form.set("key", Uuid::new_v4().to_string());
                form.note("", "Form", "this form was saved before with other values; look at the list, then save it as another vessel");
                return Ok(draw(desk, (&form, None), Said::default()));
            }
            Saved::NotConfirmed => {
                let said = Said {
                    not_confirmed: true,
                    ..Said::default()
                };
                return Ok(draw(desk, (&form, None), said));
            }
        }
    }
    Ok(Redirect::to(&format!("/vessels/{id}")).into_response())
}

/// A card to begin with. The id follows from the form's key, so that a form sent twice makes one
/// vessel.
fn blank(desk: &Desk, key: Option<Uuid>) -> Vessel {
    let key = key.map(|key| key.to_string()).unwrap_or_default();
    Vessel {
        id: PlaceId(derived::fact_key("id of a new vessel", &[&key]).0),
        name: String::new(),
        kind: VesselKind::Cart,
        shop: desk.shop.id,
        capacity: None,
        fill_limit: None,
        holds: Holds::Quarantine,
        base: Base::Unknown,
        class: InhibitorClass::Unknown,
        start_date: None,
        pressure_vessel: None,
    }
}

/// GET /vessels/{vessel}/edit
pub(crate) async fn show_edit(
    desk: Desk,
    Path(vessel): Path<String>,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let card = find_own(&desk, &mut read, &vessel).await?;
    let last = card::find_last(&mut read, card.id.0, "vessel")
        .await?
        .ok_or(WebError::NotFound)?;
    let mut form = Form::default();
    form.set("based_on", last.seq.to_string());
    refill(&mut form, &card, desk.units());
    Ok(draw(&desk, (&form, Some(&card)), Said::default()))
}

/// POST /vessels/{vessel}/edit
pub(crate) async fn submit_edit(
    desk: Desk,
    Path(vessel): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let mut snapshot = desk.read().await?;
    let on_record = find_own(&desk, &mut snapshot, &vessel).await?;
    let last = card::find_last(&mut snapshot, on_record.id.0, "vessel").await?;
    let last = last.ok_or(WebError::NotFound)?;
    let based_on = card::read_based_on(&mut form);
    let draft = read(&mut form, &desk, (&on_record, CardOf::OnRecord));
    form.refuse_what_was_not_asked();
    if let Some(draft) = &draft
        && draft.card.name != on_record.name
    {
        note_name_in_use(&mut snapshot, &mut form, &draft.card).await?;
    }
    let (Some(based_on), Some(draft), true) = (based_on, draft, form.is_good()) else {
        return Ok(draw(&desk, (&form, Some(&on_record)), Said::default()));
    };
    let key = card::edit_key("vessel", on_record.id.0, based_on);
    let is_repeat = card::key_before(&desk, key, &as_sent).await? == Before::SameForm;
    if based_on != last.seq && !is_repeat {
        let by = card::who_and_when(&desk, &mut snapshot, &last).await?;
        return Ok(overtaken(&desk, (form, &on_record), (last.seq, by)));
    }
    drop(snapshot);
    let saving = Saving {
        key,
        what: What::Vessel(draft.card),
        after: Some(last.at),
        as_sent,
        acting: &[Role::Manager],
    };
    match card::save(&desk, saving).await? {
        Saved::OnRecord => Ok(Redirect::to(&format!("/vessels/{}", on_record.id)).into_response()),
        Saved::NotConfirmed => {
            let said = Said {
                not_confirmed: true,
                ..Said::default()
            };
            Ok(draw(&desk, (&form, Some(&on_record)), said))
        }
        Saved::Overtaken => {
            let mut read = desk.read().await?;
            let on_record = find_own(&desk, &mut read, &vessel).await?;
            let last = card::find_last(&mut read, on_record.id.0, "vessel")
                .await?
                .ok_or(WebError::NotFound)?;
            let by = card::who_and_when(&desk, &mut read, &last).await?;
            Ok(overtaken(&desk, (form, &on_record), (last.seq, by)))
        }
    }
}

/// Somebody was faster: the form keeps what was typed, stands on their card now, and is saved over
/// it only when it is sent once more.
fn overtaken(desk: &Desk, (mut form, card): (Form, &Vessel), (seq, by): (i64, String)) -> Response {
    form.set("based_on", seq.to_string());
    let mut on_record = Form::default();
    refill(&mut on_record, card, desk.units());
    let said = Said {
        changed_by: Some(by),
        differences: card::differences(&on_record, &form, &FIELDS),
        ..Said::default()
    };
    draw(desk, (&form, Some(card)), said)
}

async fn note_name_in_use(read: &mut Read, form: &mut Form, card: &Vessel) -> Result<(), WebError> {
    let other = read
        .find_vessel_by_name(&card.name, Some(card.shop))
        .await
        .map_err(WebError::fault)?;
    if let Some(other) = other
        && other.id != card.id
        && !read.is_retired(other.id.0).await.map_err(WebError::fault)?
    {
        form.note(
            "name",
            "Name on it",
            format!(
                "a vessel named {} is in use in this shop; give another name",
                other.name
            ),
        );
    }
    Ok(())
}

fn draw(desk: &Desk, (form, card): (&Form, Option<&Vessel>), said: Said) -> Response {
    let of = if card.is_some() {
        CardOf::OnRecord
    } else {
        CardOf::New
    };
    let heading = card.map_or_else(
        || "New vessel".to_owned(),
        |card| format!("Edit {}", card.name),
    );
    let refused = !form.is_good() || said.changed_by.is_some();
    let (status, title) = match (refused, said.not_confirmed) {
        (_, true) => (
            StatusCode::SERVICE_UNAVAILABLE,
            format!("Not confirmed: {heading}"),
        ),
        (true, false) => (
            StatusCode::UNPROCESSABLE_ENTITY,
            format!("Not saved: {heading}"),
        ),
        (false, false) => (StatusCode::OK, heading.clone()),
    };
    let own = card.map(|card| format!("/vessels/{}", card.id));
    let page = CardPage {
        frame: desk.frame(title),
        action: own
            .as_ref()
            .map_or_else(|| "/vessels/new".to_owned(), |own| format!("{own}/edit")),
        back: own.unwrap_or_else(|| "/vessels".to_owned()),
        back_label: card.map_or_else(|| "Vessels".to_owned(), |card| card.name.clone()),
        heading,
        hidden: ["key", "based_on"]
            .into_iter()
            .map(|name| (name, form.put_back(name)))
            .filter(|(_, value)| !value.is_empty())
            .collect(),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed: said.not_confirmed,
        changed_by: said.changed_by,
        differences: said.differences,
        fields: CardFields::of(form, desk.units(), of),
    };
    (status, page::shown(&page)).into_response()
}
