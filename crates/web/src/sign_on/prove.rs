//! `/prove`: who is signed on shows once more who they are, before something that only they may do.

use askama::Template;
use axum::body::Bytes;
use axum::extract::RawQuery;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::Proved;
use domain::moment::{MINUTE_MS, Moment};

use super::claim::{self, Claim, Refused};
use super::door::Door;
use super::enter::{badge_field, password_field, pin_field};
use super::kept::{KeptForm, Offer};
use super::way_back;
use crate::component::TextField;
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem};
use crate::{Clock, WebError, page};

/// So long it counts that somebody showed who they are.
const COUNTS_FOR_MS: i64 = 2 * MINUTE_MS;
const NEXT: &str = "next";

#[derive(Template)]
#[template(path = "sign_on/prove.html")]
struct ProvePage<'a> {
    frame: Frame,
    problems: &'a [FormProblem],
    keeps_form: bool,
    hidden: Vec<(String, String)>,
    /// For those who signed on with one of these.
    pin_and_badge: Option<(TextField, TextField)>,
    password: TextField,
}

impl Desk {
    /// For a page: the way to `/prove` and back, unless they showed who they are within the last
    /// two minutes.
    pub(crate) fn must_prove_first(&self) -> Option<Response> {
        if self.proved_lately() {
            return None;
        }
        let query: String = form_urlencoded::Serializer::new(String::new())
            .append_pair(NEXT, &self.path)
            .finish();
        Some(Redirect::to(&format!("/prove?{query}")).into_response())
    }

    /// For a form that was sent: the page that asks for it and carries the form along, unless they
    /// showed who they are within the last two minutes.
    pub(crate) fn must_prove(&self, form: &Form) -> Option<Response> {
        if self.proved_lately() {
            return None;
        }
        let kept = KeptForm::of(&self.path, form);
        let page = draw(self, (&Form::default(), kept.as_ref()), None);
        let asks = [(header::WWW_AUTHENTICATE, HeaderValue::from_static("SignOn"))];
        Some((StatusCode::UNAUTHORIZED, asks, page).into_response())
    }

    /// Whether they showed who they are within the last two minutes.
    pub(crate) fn proved_lately(&self) -> bool {
        counts(self.session.proved_at, Clock::system().now().into())
    }
}

/// A clock that was put back must not make a proof last for hours.
fn counts(proved_at: Moment, now: Moment) -> bool {
    (-MINUTE_MS..COUNTS_FOR_MS).contains(&now.ms_since(proved_at))
}

/// GET /prove
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Response {
    let form = Form::from_query(query.as_deref());
    draw(
        &desk,
        (&Form::default(), None),
        way_back::to_page(form.typed(NEXT)),
    )
}

/// POST /prove
pub(crate) async fn prove(
    desk: Desk,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let (kept, mut form) = KeptForm::split(&Form::from_body(&headers, &body)?);
    let next = way_back::to_page(&form.ask(NEXT));
    let claim = read(&desk, &mut form);
    form.refuse_what_was_not_asked();
    if form.is_good() {
        let door = Door::find(&desk.state, &headers).await?;
        match shown(&desk, &door, claim).await? {
            Ok(()) => {
                let again = desk
                    .state
                    .access
                    .proved_again(&desk.session, door.now)
                    .await;
                again.map_err(WebError::fault)?;
                return Ok(match kept {
                    Some(kept) => kept.offered(&desk, Offer::GoOn),
                    None => Redirect::to(next.as_deref().unwrap_or("/")).into_response(),
                });
            }
            Err(why) => form.note(why.field.0, why.field.1, why.text),
        }
    }
    let page = draw(&desk, (&form, kept.as_ref()), next);
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// Who signed on with a password shows it again: a PIN would prove less.
fn read(desk: &Desk, form: &mut Form) -> Claim {
    let person = desk.person.id;
    let password = form.ask(claim::PASSWORD.0);
    let (pin, badge) = (form.ask(claim::PIN.0), form.ask(claim::BADGE.0));
    if !password.is_empty() || needs_password(desk) {
        if password.is_empty() {
            form.note(
                claim::PASSWORD.0,
                claim::PASSWORD.1,
                "nothing was typed here, and it is needed",
            );
        }
        return Claim::PasswordOf { person, password };
    }
    if !badge.trim().is_empty() {
        return Claim::Badge(badge);
    }
    if pin.trim().is_empty() {
        form.note(
            claim::PIN.0,
            claim::PIN.1,
            "nothing was typed here; it has 6 digits",
        );
    }
    Claim::Pin {
        person,
        pin: claim::without_blanks(&pin),
    }
}

fn needs_password(desk: &Desk) -> bool {
    desk.session.proved == Proved::Password
}

async fn shown(desk: &Desk, door: &Door, claim: Claim) -> Result<Result<(), Refused>, WebError> {
    let shown = claim::prove(&desk.state, door.tablet.as_ref(), (claim, door.now)).await?;
    Ok(shown.and_then(|shown| {
        if shown.person.id == desk.person.id {
            return Ok(());
        }
        Err(Refused {
            field: claim::BADGE,
            text: format!(
                "this badge is another person's; {} is signed on here and has to show who they are",
                desk.person.handle
            ),
            until: None,
        })
    }))
}

fn draw(desk: &Desk, (form, kept): (&Form, Option<&KeptForm>), next: Option<String>) -> Response {
    let title = if form.is_good() {
        "Show who you are"
    } else {
        "Not shown"
    };
    let mut hidden = kept.map(KeptForm::hidden).unwrap_or_default();
    hidden.extend(next.map(|next| (NEXT.to_owned(), next)));
    page::shown(&ProvePage {
        frame: desk.frame(title),
        problems: form.problems(),
        keeps_form: kept.is_some(),
        hidden,
        pin_and_badge: (!needs_password(desk)).then(|| (pin_field(form), badge_field(form))),
        password: password_field(form),
    })
}

#[cfg(test)]
mod tests {
    use domain::moment::{MINUTE_MS, Moment};

    use super::counts;

    #[test]
    fn a_proof_counts_for_two_minutes_and_not_for_longer_when_the_clock_is_put_back() {
        let at = Moment(100 * MINUTE_MS);
        assert!(counts(at, at));
        assert!(counts(at, at.plus_ms(2 * MINUTE_MS - 1)));
        assert!(!counts(at, at.plus_ms(2 * MINUTE_MS)));
        assert!(!counts(at, at.plus_ms(-2 * MINUTE_MS)));
    }
}
