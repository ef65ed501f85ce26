//! `/units/{unit}/edit`: a unit's card changed, with a reason.
//!
//! A change is keyed by the card it was made on. Two people who change the same card meet there: the
//! second is shown what the first one did, and nothing is put over it unseen.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::What;
use domain::fleet::Unit;
use domain::ids::{PlaceId, UnitId};
use domain::words::Text;
use storage::Read;

use super::card::{self, Around, Changed, Draft, Ground, UnitSaving};
use super::on_record::{self, OnRecord};
use crate::WebError;
use crate::card::{Before, Saved, edit_key, key_before, read_based_on, who_and_when};
use crate::desk::Desk;
use crate::form::{Form, Presence};

/// GET /units/{unit}/edit
pub(crate) async fn show(desk: Desk, Path(unit): Path<String>) -> Result<Response, WebError> {
    let id = on_record::id_of(&unit)?;
    let mut read = desk.read().await?;
    let now = on_record::find(&desk, &mut read, id).await?;
    if now.retired {
        return Ok(to_the_unit(id));
    }
    let mut form = Form::default();
    form.set("based_on", now.last.seq.to_string());
    card::refill(&mut form, &Draft::of(&now.unit));
    Ok(draw(&desk, &form, around(&now.unit)))
}

/// POST /units/{unit}/edit
pub(crate) async fn submit(
    desk: Desk,
    Path(unit): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let id = on_record::id_of(&unit)?;
    let mut form = Form::from_body(&headers, &body)?;
    let (saving, draft) = match prepare(&desk, id, &mut form).await? {
        Prepared::Answer(answer) => return Ok(answer),
        Prepared::ToSave(saving, draft) => (*saving, draft),
    };
    let unit = saving.card.clone();
    match card::save(&desk, saving).await? {
        Saved::OnRecord => Ok(to_the_unit(id)),
        Saved::NotConfirmed => {
            let around = Around {
                not_confirmed: true,
                ..around(&unit)
            };
            Ok(draw(&desk, &form, around))
        }
        Saved::Overtaken => {
            let mut read = desk.read().await?;
            let now = on_record::find(&desk, &mut read, id).await?;
            changed(&desk, &mut read, draft, &now).await
        }
    }
}

/// What comes of a form before anything is written.
enum Prepared {
    Answer(Response),
    ToSave(Box<UnitSaving>, Draft),
}

/// Reads the form and holds it against the record, all of one moment.
async fn prepare(desk: &Desk, id: UnitId, form: &mut Form) -> Result<Prepared, WebError> {
    let as_sent = form.as_sent();
    let mut read = desk.read().await?;
    let now = on_record::find(desk, &mut read, id).await?;
    if now.retired {
        return Ok(Prepared::Answer(to_the_unit(id)));
    }
    let (base, draft) = read_form(desk, &mut read, form, &now).await?;
    if form.typed("add_loop") == "yes" {
        let form = card::with_another_loop(form);
        return Ok(Prepared::Answer(draw(desk, &form, around(&now.unit))));
    }
    form.refuse_what_was_not_asked();
    let (Some(based_on), Some(draft), true) = (base, draft, form.is_good()) else {
        return Ok(Prepared::Answer(draw(desk, form, around(&now.unit))));
    };
    let key = edit_key("unit", id.0, based_on);
    match key_before(desk, key, &as_sent).await? {
        Before::SameForm => {}
        Before::Nothing if based_on == now.last.seq => {
            if let Some(answer) = check(desk, &mut read, form, (&now.unit, &draft)).await? {
                return Ok(Prepared::Answer(answer));
            }
        }
        Before::Nothing | Before::Other(_) => {
            let answer = changed(desk, &mut read, draft, &now).await?;
            return Ok(Prepared::Answer(answer));
        }
    }
    let (card, followers) = card::card_with_ids(&mut read, (&draft, key), &now.unit).await?;
    let saving = UnitSaving {
        key,
        card,
        followers,
        after: Some(now.last.at),
        as_sent,
    };
    Ok(Prepared::ToSave(Box::new(saving), draft))
}

/// The fact the form was opened on, and what was typed.
async fn read_form(
    desk: &Desk,
    read: &mut Read,
    form: &mut Form,
    now: &OnRecord,
) -> Result<(Option<i64>, Option<Draft>), WebError> {
    form.ask("add_loop");
    let based_on = read_based_on(form);
    let base = match based_on {
        Some(seq) => card_at(read, now.unit.id, seq).await?,
        None => None,
    };
    if base.is_none() && form.is_good() {
        form.note(
            "",
            "Form",
            "the card it was opened on is not on record; open the page anew",
        );
    }
    let ids = |unit: &Unit| {
        unit.loops
            .iter()
            .map(|each| each.id)
            .collect::<Vec<PlaceId>>()
    };
    let needed = ids(&now.unit);
    let known = [base.as_ref().map(ids).unwrap_or_default(), needed.clone()].concat();
    let unchanged = based_on == Some(now.last.seq);
    let draft = card::read(
        form,
        Ground {
            units: desk.units(),
            today: desk.today(),
            known: &known,
            needed: if unchanged { &needed } else { &[] },
            reason: Presence::Needed,
        },
    );
    Ok((based_on, draft))
}

/// The card of this unit that stands at a place in the record.
async fn card_at(read: &mut Read, id: UnitId, seq: i64) -> Result<Option<Unit>, WebError> {
    let row = read.find_fact_at(seq).await.map_err(WebError::fault)?;
    let fact = row
        .map(|row| row.fact())
        .transpose()
        .map_err(WebError::fault)?;
    Ok(match fact.map(|fact| fact.what) {
        Some(What::Unit(unit)) if unit.id == id => Some(unit),
        _ => None,
    })
}

/// What the record says against it.
async fn check(
    desk: &Desk,
    read: &mut Read,
    form: &mut Form,
    (unit, draft): (&Unit, &Draft),
) -> Result<Option<Response>, WebError> {
    let mut around = around(unit);
    if let Some(other) = on_record::find_in_use(read, &draft.number, Some(unit.id)).await? {
        card::note_in_use(form, &other, &mut around);
    }
    card::note_openings(read, form, (draft, unit)).await?;
    let same = Draft {
        reason: draft.reason.clone(),
        ..Draft::of(unit)
    };
    if *draft == same {
        form.note(
            "",
            "Form",
            "nothing on it differs from what is on record; change something, or go back",
        );
    }
    Ok((!form.is_good()).then(|| draw(desk, form, around)))
}

/// Somebody was faster: what is on record now beside what was typed, to be saved on top or not.
async fn changed(
    desk: &Desk,
    read: &mut Read,
    draft: Draft,
    now: &OnRecord,
) -> Result<Response, WebError> {
    let draft = draft.moved_onto(&now.unit);
    let mut form = Form::default();
    form.set("based_on", now.last.seq.to_string());
    card::refill(&mut form, &draft);
    let digest = now.unit.reason.as_ref().and_then(Text::digest);
    let reason = match digest {
        Some(digest) => {
            let text = read.find_text(digest).await.map_err(WebError::fault)?;
            text.unwrap_or_else(|| "reason removed".to_owned())
        }
        None => String::new(),
    };
    let around = Around {
        changed: Some(Changed {
            by: who_and_when(desk, read, &now.last).await?,
            reason,
            differences: card::differences(&Draft::of(&now.unit), &draft, desk.units()),
        }),
        ..around(&now.unit)
    };
    Ok(draw(desk, &form, around))
}

fn draw(desk: &Desk, form: &Form, around: Around) -> Response {
    card::draw(desk, form, Presence::Needed, around)
}

fn around(unit: &Unit) -> Around {
    Around {
        heading: format!("Edit unit {}", unit.number),
        action: format!("/units/{}/edit", unit.id),
        back: format!("/units/{}", unit.id),
        back_label: format!("Unit {}", unit.number),
        ..Around::default()
    }
}

fn to_the_unit(id: UnitId) -> Response {
    Redirect::to(&format!("/units/{id}")).into_response()
}
