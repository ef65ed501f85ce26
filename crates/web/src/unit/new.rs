//! `/units/new`: a unit that nobody has a card for yet.

use axum::body::Bytes;
use axum::extract::RawQuery;
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::What;
use domain::fleet::Unit;
use domain::ids::{FactKey, UnitId};
use storage::Read;

use super::card::{self, Around, Draft, Ground, UnitSaving};
use super::on_record;
use crate::WebError;
use crate::card::{Before, Saved, key_before};
use crate::desk::Desk;
use crate::form::{Form, Presence};
use crate::intake::derived::{self, USUAL_LOOP, normal_name};

/// A number that was given away so often has something wrong with it.
const MOST_HOLDERS: usize = 100;

/// GET /units/new
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Response {
    let asked = Form::from_query(query.as_deref());
    let mut form = Form::default();
    form.set("number", asked.put_back("number"));
    form.set("opened", desk.now().timestamp_millis().to_string());
    form.set("loops", "1");
    form.set("loop1_name", USUAL_LOOP);
    draw(&desk, &form, around())
}

/// POST /units/new
pub(crate) async fn submit(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    form.ask("add_loop");
    form.ask("opened");
    let draft = card::read(
        &mut form,
        Ground {
            units: desk.units(),
            today: desk.today(),
            known: &[],
            needed: &[],
            reason: Presence::Optional,
        },
    );
    if form.typed("add_loop") == "yes" {
        return Ok(draw(&desk, &card::with_another_loop(&form), around()));
    }
    form.refuse_what_was_not_asked();
    let (Some(draft), true) = (draft, form.is_good()) else {
        return Ok(draw(&desk, &form, around()));
    };
    let mut around = around();
    let saving = {
        let mut read = desk.read().await?;
        prepare(&desk, &mut read, (&mut form, &draft, &mut around), as_sent).await?
    };
    let Some(saving) = saving else {
        return Ok(draw(&desk, &form, around));
    };
    let unit = saving.card.clone();
    match card::save(&desk, saving).await? {
        Saved::OnRecord => Ok(Redirect::to(&format!("/units/{}", unit.id)).into_response()),
        Saved::NotConfirmed => {
            around.not_confirmed = true;
            Ok(draw(&desk, &form, around))
        }
        Saved::Overtaken => {
            // Somebody gave the number to a unit between our look at it and our writing.
            let mut read = desk.read().await?;
            let other = on_record::find_in_use(&mut read, &draft.number, None).await?;
            card::note_in_use(&mut form, &other.unwrap_or(unit), &mut around);
            Ok(draw(&desk, &form, around))
        }
    }
}

/// The card with its ids, unless the record speaks against it.
async fn prepare(
    desk: &Desk,
    read: &mut Read,
    (form, draft, around): (&mut Form, &Draft, &mut Around),
    as_sent: Vec<u8>,
) -> Result<Option<UnitSaving>, WebError> {
    let (key, before) = key_of(desk, read, &draft.number, &as_sent).await?;
    let id = match before {
        Before::SameForm => id_at(read, key).await?,
        Before::Nothing | Before::Other(_) => {
            if let Some(other) = on_record::find_in_use(read, &draft.number, None).await? {
                card::note_in_use(form, &other, around);
                return Ok(None);
            }
            free_id(read, &draft.number, key).await?
        }
    };
    let base = Unit {
        id,
        number: draft.number.clone(),
        kind: draft.kind.clone(),
        shop: desk.shop.id,
        engine_family: None,
        loops: Vec::new(),
        reason: None,
    };
    if before != Before::SameForm {
        card::note_openings(read, form, (draft, &base)).await?;
        if !form.is_good() {
            return Ok(None);
        }
    }
    let (card, followers) = card::card_with_ids(read, (draft, key), &base).await?;
    Ok(Some(UnitSaving {
        key,
        card,
        followers,
        after: None,
        as_sent,
    }))
}

/// The key of the first card under a number. Two people who give one number at the same moment meet
/// in it. A number whose holder was retired or has another number by now may be given again: its
/// key follows from the card of the holder before.
async fn key_of(
    desk: &Desk,
    read: &mut Read,
    number: &str,
    as_sent: &[u8],
) -> Result<(FactKey, Before), WebError> {
    let number = normal_name(number);
    let mut last = String::new();
    for _ in 0..MOST_HOLDERS {
        let key = derived::fact_key("new unit", &[&number, &last]);
        let before = key_before(desk, key, as_sent).await?;
        let Before::Other(seq) = before else {
            return Ok((key, before));
        };
        let holder = id_at(read, key).await?;
        let card = read.find_unit(holder).await.map_err(WebError::fault)?;
        let retired = read.is_retired(holder.0).await.map_err(WebError::fault)?;
        let still_holds = card.is_some_and(|card| normal_name(&card.number) == number);
        if still_holds && !retired {
            return Ok((key, before));
        }
        last = seq.to_string();
    }
    Err(WebError::fault(format!(
        "more than {MOST_HOLDERS} units had the same number"
    )))
}

/// The unit whose card has a key.
async fn id_at(read: &mut Read, key: FactKey) -> Result<UnitId, WebError> {
    let row = read.find_fact(key).await.map_err(WebError::fault)?;
    let fact = row
        .map(|row| row.fact())
        .transpose()
        .map_err(WebError::fault)?;
    match fact.map(|fact| fact.what) {
        Some(What::Unit(unit)) => Ok(unit.id),
        _ => Err(WebError::fault(format!("no unit's card has the key {key}"))),
    }
}

/// The id that the number gives, so that jobs which named it before are the unit's own; another
/// when a unit of an earlier day has it.
async fn free_id(read: &mut Read, number: &str, key: FactKey) -> Result<UnitId, WebError> {
    let by_number = derived::unit_id(number);
    let taken = read
        .find_unit(by_number)
        .await
        .map_err(WebError::fault)?
        .is_some();
    let retired = read
        .is_retired(by_number.0)
        .await
        .map_err(WebError::fault)?;
    if taken || retired {
        return Ok(UnitId(
            derived::fact_key("id of a new unit", &[&key.to_string()]).0,
        ));
    }
    Ok(by_number)
}

fn draw(desk: &Desk, form: &Form, around: Around) -> Response {
    card::draw(desk, form, Presence::Optional, around)
}

fn around() -> Around {
    Around {
        heading: "New unit".to_owned(),
        action: "/units/new".to_owned(),
        back: "/units".to_owned(),
        back_label: "Units".to_owned(),
        ..Around::default()
    }
}
