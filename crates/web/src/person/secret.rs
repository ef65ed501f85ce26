//! A new PIN, badge or password: shown on the answer, this once, and kept only as a hash.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono_tz::Tz;
use domain::moment::Moment;
use storage::access::{Change, Held};

use super::Subject;
use super::list::{shop_name, shop_names};
use super::power::{self, Reach};
use crate::component::{Qr, Shape, Status};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::{Clock, WebError, page};

#[derive(Template)]
#[template(path = "person/secret.html")]
struct SecretPage {
    frame: Frame,
    heading: String,
    back: String,
    handle: String,
    shop: String,
    secret: Shown,
}

/// What was issued.
enum Shown {
    Pin(String),
    Badge { code: Qr, text: String },
    Password(String),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Pin,
    Badge,
    Password,
}

impl Kind {
    const fn word(self) -> &'static str {
        match self {
            Self::Pin => "PIN",
            Self::Badge => "badge",
            Self::Password => "password",
        }
    }

    const fn least(self) -> Reach {
        match self {
            Self::Pin => Reach::Pin,
            Self::Badge | Self::Password => Reach::Everything,
        }
    }
}

/// POST /people/{person}/pin
pub(crate) async fn issue_pin(
    desk: Desk,
    Path(person): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    issue(&desk, (&person, Kind::Pin), (&headers, &body)).await
}

/// POST /people/{person}/badge
pub(crate) async fn issue_badge(
    desk: Desk,
    Path(person): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    issue(&desk, (&person, Kind::Badge), (&headers, &body)).await
}

/// POST /people/{person}/password
pub(crate) async fn issue_password(
    desk: Desk,
    Path(person): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    issue(&desk, (&person, Kind::Password), (&headers, &body)).await
}

async fn issue(
    desk: &Desk,
    (person, kind): (&str, Kind),
    (headers, body): (&HeaderMap, &Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(headers, body)?;
    let mut read = desk.read().await?;
    let subject = super::find(desk, &mut read, person).await?;
    let shops = shop_names(&mut read).await?;
    let shop = shop_name(subject.person().shop, &shops);
    drop(read);
    form.is_a_button()?;
    if power::reach(desk, &subject.staff) < kind.least() {
        return Err(power::refused(desk, &subject.staff).await);
    }
    super::must_work_here(&subject)?;
    if kind == Kind::Password && subject.person().id == desk.person.id {
        return Err(WebError::Refused {
            detail: "your own password is changed on its own page; nobody issues one to themselves"
                .to_owned(),
            problems: Vec::new(),
        });
    }
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let secret = make(desk, &subject, kind).await?;
    Ok(page::shown(&SecretPage {
        frame: desk.frame(format!(
            "New {} for {}",
            kind.word(),
            subject.person().handle
        )),
        heading: format!("New {} for {}", kind.word(), subject.person().handle),
        back: subject.address(),
        handle: subject.person().handle.clone(),
        shop,
        secret,
    }))
}

async fn make(desk: &Desk, subject: &Subject, kind: Kind) -> Result<Shown, WebError> {
    let change = Change {
        of: subject.person().id,
        by: Some(desk.person.id),
    };
    let access = &desk.state.access;
    let now = Clock::system().now().into();
    Ok(match kind {
        Kind::Pin => {
            let pin = access
                .issue_pin(change, now)
                .await
                .map_err(WebError::fault)?;
            Shown::Pin(pin.as_str().to_owned())
        }
        Kind::Badge => {
            let badge = access
                .issue_badge(change, now)
                .await
                .map_err(WebError::fault)?;
            Shown::Badge {
                code: Qr::of(badge.as_str())?,
                text: badge.as_str().to_owned(),
            }
        }
        Kind::Password => {
            let password = access.issue_password(change, now).await;
            Shown::Password(password.map_err(WebError::fault)?.as_str().to_owned())
        }
    })
}

/// Whether somebody holds a PIN or password that works.
pub(super) fn state_of(held: Held, (now, zone): (Moment, Tz)) -> Status {
    match held {
        Held::No => Status::new(Shape::Nothing, "None"),
        Held::Waits(until) if until > now => Status::new(
            Shape::Wait,
            format!(
                "Waits until {} after wrong tries",
                figure::clock(until, zone)
            ),
        ),
        Held::Yes | Held::Waits(_) => Status::new(Shape::Good, "Works"),
        Held::Dead(_) => Status::new(Shape::Stop, "No longer works after wrong tries"),
    }
}

pub(super) fn badge_state(held: bool) -> Status {
    if held {
        Status::new(Shape::Good, "Works")
    } else {
        Status::new(Shape::Nothing, "None")
    }
}
