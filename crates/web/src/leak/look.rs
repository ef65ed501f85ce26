//! `/units/{unit}/nothing-found`: somebody looked for the leak of an open case and found none.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Redirect, Response};
use domain::condition::course::Done;
use domain::condition::leak::case::CaseState;
use domain::condition::stated::NothingFound;
use domain::fact::What;
use domain::fleet::Role;
use domain::ids::PlaceId;
use domain::words::Text;
use storage::Read;

use super::told;
use crate::WebError;
use crate::card::{self, Added, Before, Part, Sheet};
use crate::component::{Choice, ChoiceLook};
use crate::desk::Desk;
use crate::form::{Form, Presence};
use crate::page::sentence;
use crate::record::{Names, Wanted};
use crate::unit::on_record;
use crate::unit::standing::Told;
use crate::upkeep::{self, UnitUpkeep};

/// Those who may say so of a suspicion.
const WORK: &[Role] = &[Role::Technician, Role::LeadHand, Role::Manager];
/// Those who may say so of a leak that somebody saw.
const LEAD: &[Role] = &[Role::LeadHand, Role::Manager];

const OF: (&str, &str) = ("loop", "Of which loop?");
const REASON: (&str, &str) = (
    "reason",
    "What was looked at, and what explains the top-ups?",
);

/// An open case that whoever asks may end.
#[derive(Clone, Debug)]
pub(super) struct Offered {
    place: PlaceId,
    name: String,
    why: String,
    acting: &'static [Role],
}

/// The open cases of a unit that whoever asks may end.
pub(super) fn offered(desk: &Desk, unit: &UnitUpkeep) -> Vec<Offered> {
    let told = Told::at(desk);
    let open = unit.each().filter_map(|(of, known)| {
        let case = known.case().filter(|case| case.state.is_open())?;
        Some(Offered {
            place: of.place,
            name: of.name.clone(),
            why: sentence(&told::why(case, told)),
            acting: if case.state == CaseState::Seen {
                LEAD
            } else {
                WORK
            },
        })
    });
    open.filter(|each| desk.may(each.acting)).collect()
}

/// Who looked, and what they said of it.
pub(super) async fn names_of(read: &mut Read, unit: &UnitUpkeep) -> Result<Names, WebError> {
    let mut wanted = Wanted::default();
    let mut any = false;
    for event in unit.course.loops.iter().flat_map(|of| &of.course.events) {
        if let Done::NothingFound { by, reason } = &event.done {
            wanted.people.extend(*by);
            wanted.text(Some(reason));
            any = true;
        }
    }
    if any {
        Names::of(read, wanted).await
    } else {
        Ok(Names::default())
    }
}

fn sheet<'a>(unit: &UnitUpkeep, offered: &'a [Offered]) -> Sheet<'a> {
    let number = &unit.course.number;
    let address = format!("/units/{}", unit.course.unit);
    Sheet {
        word: "finding",
        heading: format!("No leak found on unit {number}"),
        about: "It ends the case under your name; its history stays, and what is topped up from now on is counted anew. Look cold, cap and pressure test first: what nobody looked at is not found either.".to_owned(),
        action: format!("{address}/nothing-found"),
        back: (format!("{address}/leaks"), format!("Leaks of unit {number}")),
        parts: Box::new(move |form| {
            let loops = offered.iter().map(|each| Choice {
                value: each.place.to_string(),
                label: each.name.clone(),
                hint: each.why.clone(),
                ..Choice::default()
            });
            vec![Part::of(
                "Finding",
                vec![
                    form.choice_field(OF, "", loops.collect(), ChoiceLook::OneOf)
                        .into(),
                    form.text_area(REASON, "Like: cap replaced, pressure test tight, one top-up was logged twice.")
                        .into(),
                ],
            )]
        }),
    }
}

async fn find(desk: &Desk, address: &str) -> Result<(UnitUpkeep, Vec<Offered>), WebError> {
    let id = on_record::id_of(address)?;
    let mut read = desk.read().await?;
    let unit = upkeep::of_unit(desk, &mut read, id)
        .await?
        .ok_or(WebError::NotFound)?;
    let offered = offered(desk, &unit);
    Ok((unit, offered))
}

/// GET /units/{unit}/nothing-found
pub(crate) async fn show(desk: Desk, Path(unit): Path<String>) -> Result<Response, WebError> {
    let (unit, offered) = find(&desk, &unit).await?;
    let Some(first) = offered.first() else {
        let address = format!("/units/{}/leaks", unit.course.unit);
        return Ok(Redirect::to(&address).into_response());
    };
    let mut form = card::new_form();
    if offered.len() == 1 {
        form.set(OF.0, first.place.to_string());
    }
    Ok(sheet(&unit, &offered).draw(&desk, &form))
}

/// POST /units/{unit}/nothing-found
pub(crate) async fn submit(
    desk: Desk,
    Path(unit): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let (unit, offered) = find(&desk, &unit).await?;
    let key = card::read_key(&mut form);
    // Sent again it finds the case ended by itself.
    if let Some(key) = key
        && card::key_before(&desk, key, &as_sent).await? == Before::SameForm
    {
        let address = format!("/units/{}/leaks", unit.course.unit);
        return Ok(Redirect::to(&address).into_response());
    }
    let codes: Vec<String> = offered.iter().map(|each| each.place.to_string()).collect();
    let known: Vec<(&str, &Offered)> = codes
        .iter()
        .zip(&offered)
        .map(|(code, each)| (code.as_str(), each))
        .collect();
    let of = form.choice(OF, &known, Presence::Needed);
    let reason = form.lines(REASON, Presence::Needed);
    form.refuse_what_was_not_asked();
    let sheet = sheet(&unit, &offered);
    let reason = reason.as_deref().and_then(Text::plain);
    let (Some(key), Some(of), Some(reason), true) = (key, of, reason, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let what = What::NothingFound(NothingFound {
        place: of.place,
        reason,
    });
    let added = Added {
        facts: vec![(key, what)],
        acting: of.acting,
        leads_to: format!("/units/{}/leaks", unit.course.unit),
    };
    sheet.add(&desk, added, (form, as_sent)).await
}
