//! `/vessels/new` and `/vessels/{vessel}/edit`: a vessel's card made and changed.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::book::component::{Base, InhibitorClass};
use domain::fact::{Opening, What};
use domain::fleet::{Holds, Role, Vessel, VesselKind};
use domain::ids::{FactKey, PlaceId};
use domain::job::{Account, FluidNamed};
use storage::Read;

use super::card::{CardOf, Draft, on_record, parts, read};
use super::find_own;
use crate::WebError;
use crate::card::{self, Added, Before, Change, Sheet};
use crate::desk::Desk;
use crate::form::Form;
use crate::intake::derived;

const KINDS: &[&str] = &["vessel"];
const ACTING: &[Role] = &[Role::Manager];

fn sheet<'a>(desk: &'a Desk, card: Option<&Vessel>) -> Sheet<'a> {
    let of = if card.is_some() {
        CardOf::OnRecord
    } else {
        CardOf::New
    };
    let (heading, own, back) = match card {
        None => (
            "New vessel".to_owned(),
            "/vessels/new".to_owned(),
            ("/vessels".to_owned(), "Vessels".to_owned()),
        ),
        Some(card) => (
            format!("Edit {}", card.name),
            format!("/vessels/{}/edit", card.id),
            (format!("/vessels/{}", card.id), card.name.clone()),
        ),
    };
    Sheet {
        word: "vessel",
        heading,
        about: String::new(),
        action: own,
        back,
        parts: Box::new(move |form| parts(form, desk.units(), of)),
    }
}

/// GET /vessels/new
pub(crate) async fn show_new(desk: Desk) -> Response {
    sheet(&desk, None).draw(&desk, &card::new_form())
}

/// POST /vessels/new
pub(crate) async fn submit_new(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = card::read_key(&mut form);
    let blank = blank(&desk, key);
    let draft = read(&mut form, &desk, (&blank, CardOf::New));
    form.refuse_what_was_not_asked();
    if let (Some(draft), Some(key)) = (&draft, key)
        && form.is_good()
        && card::key_before(&desk, key, &as_sent).await? != Before::SameForm
    {
        let mut read = desk.read().await?;
        note_name_in_use(&mut read, &mut form, &draft.card).await?;
    }
    let sheet = sheet(&desk, None);
    let (Some(draft), Some(key), true) = (draft, key, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    sheet.add(&desk, added(draft, key), (form, as_sent)).await
}

/// The card first, then what is in the vessel, under a key of its own.
fn added(draft: Draft, key: FactKey) -> Added {
    let id = draft.card.id;
    let mut facts = vec![(key, What::Vessel(draft.card))];
    facts.extend(draft.opening.map(|(volume, strength)| {
        let opening = Opening {
            place: Account::Vessel(id),
            volume: Some(volume),
            strength,
            fluid: None::<FluidNamed>,
        };
        let key = derived::fact_key("opening of a new vessel", &[&key.to_string()]);
        (key, What::Opening(opening))
    }));
    Added {
        facts,
        acting: ACTING,
        leads_to: format!("/vessels/{id}"),
    }
}

/// A card to begin with. The id follows from the form's key, so that a form sent twice makes one
/// vessel.
fn blank(desk: &Desk, key: Option<FactKey>) -> Vessel {
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
    let mut form = on_record(&card, desk.units());
    card::stand_on_last(&mut read, (card.id.0, KINDS), &mut form).await?;
    Ok(sheet(&desk, Some(&card)).draw(&desk, &form))
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
    let known = find_own(&desk, &mut snapshot, &vessel).await?;
    let based_on = card::read_based_on(&mut form);
    let draft = read(&mut form, &desk, (&known, CardOf::OnRecord));
    form.refuse_what_was_not_asked();
    if let Some(draft) = &draft
        && draft.card.name != known.name
    {
        note_name_in_use(&mut snapshot, &mut form, &draft.card).await?;
    }
    drop(snapshot);
    let sheet = sheet(&desk, Some(&known));
    let (Some(based_on), Some(draft), true) = (based_on, draft, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let change = Change {
        subject: known.id.0,
        kinds: KINDS,
        based_on,
        what: What::Vessel(draft.card),
        as_sent,
        acting: ACTING,
    };
    let changed = card::change(&desk, change).await?;
    let now = async || {
        let card = find_own(&desk, &mut desk.read().await?, &vessel).await?;
        Ok(on_record(&card, desk.units()))
    };
    sheet.answer(&desk, (changed, form), now).await
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
