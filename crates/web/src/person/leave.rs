//! `/people/{person}/leave`: somebody no longer works here. Their name can be removed afterwards; what
//! they recorded stays under their short name.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::{TextRemoved, What};
use domain::fleet::Person;
use domain::ids::FactKey;
use storage::Read;
use storage::access::Change;

use super::Subject;
use super::power::RUNS_PEOPLE;
use crate::card::{self, Saved, Saving};
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::intake::derived;
use crate::{Clock, WebError, page};

/// So often the card may be changed by others meanwhile.
const TRIES: usize = 5;

#[derive(Template)]
#[template(path = "person/leave.html")]
struct LeavePage {
    frame: Frame,
    heading: String,
    address: String,
    handle: String,
    not_confirmed: bool,
}

/// GET /people/{person}/leave
pub(crate) async fn show(desk: Desk, Path(person): Path<String>) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let subject = somebody_else(&desk, &mut read, &person).await?;
    if !subject.person().active {
        return Ok(Redirect::to(&subject.address()).into_response());
    }
    Ok(draw(&desk, &subject, StatusCode::OK))
}

async fn somebody_else(desk: &Desk, read: &mut Read, person: &str) -> Result<Subject, WebError> {
    let subject = super::find_to_change(desk, read, person).await?;
    if subject.person().id == desk.person.id {
        return Err(WebError::Refused {
            detail:
                "nobody takes themselves off the list; another manager or the administrator does"
                    .to_owned(),
            problems: Vec::new(),
        });
    }
    Ok(subject)
}

/// POST /people/{person}/leave
pub(crate) async fn submit(
    desk: Desk,
    Path(person): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let mut read = desk.read().await?;
    let subject = somebody_else(&desk, &mut read, &person).await?;
    form.is_a_button()?;
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let id = subject.person().id;
    drop(read);
    if let Some(not_confirmed) = put_on_record(&desk, &person).await? {
        return Ok(not_confirmed);
    }
    // Also when they had left before: what a stop in between left over goes now.
    let change = Change {
        of: id,
        by: Some(desk.person.id),
    };
    let now = Clock::system().now().into();
    let taken = desk.state.access.take_away_secrets(change, now).await;
    taken.map_err(WebError::fault)?;
    Ok(Redirect::to(&subject.address()).into_response())
}

/// Says on the card that they left. It is a change like any other and keyed like one: whoever edits
/// the card at the same time meets it. Hands back a page when it may or may not be on record.
async fn put_on_record(desk: &Desk, person: &str) -> Result<Option<Response>, WebError> {
    // Each time somebody else was faster it stands on their card.
    for _ in 0..TRIES {
        let mut read = desk.read().await?;
        let subject = somebody_else(desk, &mut read, person).await?;
        if !subject.person().active {
            return Ok(None);
        }
        let id = subject.person().id;
        let last = card::find_last(&mut read, id.0, "person")
            .await?
            .ok_or(WebError::NotFound)?;
        drop(read);
        let saving = Saving {
            key: card::edit_key("person", id.0, last.seq),
            what: What::Person(Person {
                active: false,
                ..card_as_it_stands(&subject)
            }),
            after: Some(last.at),
            // No form for an edit looks like this.
            as_sent: b"leave".to_vec(),
            acting: RUNS_PEOPLE,
        };
        match card::save(desk, saving).await? {
            Saved::OnRecord => return Ok(None),
            Saved::Overtaken => {}
            Saved::NotConfirmed => {
                return Ok(Some(draw(desk, &subject, StatusCode::SERVICE_UNAVAILABLE)));
            }
        }
    }
    Err(WebError::NotConfirmed {
        detail: "the card was changed again and again meanwhile; press the button again".to_owned(),
    })
}

/// The card with its name in words again: each fact keeps a digest of its own.
fn card_as_it_stands(subject: &Subject) -> Person {
    Person {
        name: subject.name.as_deref().and_then(domain::words::Text::plain),
        ..subject.person().clone()
    }
}

/// POST /people/{person}/remove-name
pub(crate) async fn remove_name(
    desk: Desk,
    Path(person): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let mut read = desk.read().await?;
    let subject = super::find_to_change(&desk, &mut read, &person).await?;
    form.is_a_button()?;
    if subject.person().active {
        return Err(WebError::Refused {
            detail: format!(
                "{} works here; a name is removed once somebody has left",
                subject.person().handle
            ),
            problems: Vec::new(),
        });
    }
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let names = names_on_record(&mut read, &subject).await?;
    drop(read);
    for removed in names {
        let digest = removed.digest.clone();
        let saving = Saving {
            key: derived::fact_key("remove name", &[&removed.fact.to_string(), &digest]),
            what: What::TextRemoved(removed),
            after: None,
            as_sent: form.as_sent(),
            acting: RUNS_PEOPLE,
        };
        if card::save(&desk, saving).await? == Saved::NotConfirmed {
            return Err(WebError::NotConfirmed {
                detail: "the name may or may not have been removed everywhere; remove it again"
                    .to_owned(),
            });
        }
    }
    Ok(Redirect::to(&subject.address()).into_response())
}

/// Every card of theirs has the name once more.
async fn names_on_record(read: &mut Read, subject: &Subject) -> Result<Vec<TextRemoved>, WebError> {
    let mut names = Vec::new();
    let mut before = i64::MAX;
    loop {
        let row = read
            .find_previous_fact(subject.person().id.0, "person", before)
            .await
            .map_err(WebError::fault)?;
        let Some(row) = row else {
            return Ok(names);
        };
        before = row.seq;
        let fact = row.fact().map_err(WebError::fault)?;
        let What::Person(card) = fact.what else {
            continue;
        };
        let Some(digest) = card.name.as_ref().and_then(|name| name.digest()) else {
            continue;
        };
        if read
            .find_text(digest)
            .await
            .map_err(WebError::fault)?
            .is_some()
        {
            names.push(TextRemoved {
                digest: digest.to_owned(),
                fact: FactKey(row.key),
            });
        }
    }
}

fn draw(desk: &Desk, subject: &Subject, status: StatusCode) -> Response {
    let heading = format!("{} leaves", subject.person().handle);
    let not_confirmed = status != StatusCode::OK;
    let page = LeavePage {
        frame: desk.frame(if not_confirmed {
            format!("Not confirmed: {heading}")
        } else {
            heading.clone()
        }),
        heading,
        address: subject.address(),
        handle: subject.person().handle.clone(),
        not_confirmed,
    };
    (status, page::shown(&page)).into_response()
}
