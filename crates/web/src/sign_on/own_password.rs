//! `/own-password`: whoever signed on with a password chooses another one.

use askama::Template;
use axum::body::Bytes;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use domain::fact::Proved;
use storage::access::{Change, NewPassword};

use super::claim::{self, Claim};
use super::door::Door;
use crate::component::{TextField, Width};
use crate::desk::{Desk, Frame, Kept};
use crate::form::{Form, FormProblem};
use crate::{Clock, WebError, page};

const NOW: (&str, &str) = ("password", "Password so far");
const NEW: (&str, &str) = ("new_password", "New password");
const AGAIN: (&str, &str) = ("new_password_again", "New password again");

#[derive(Template)]
#[template(path = "sign_on/own_password.html")]
struct OwnPasswordPage<'a> {
    frame: Frame,
    problems: &'a [FormProblem],
    summary: String,
    /// They signed on with a PIN or badge, which is not enough here.
    needs_password: bool,
    /// It is still the one that was issued, and nothing else is done before another was chosen.
    issued: bool,
    now: TextField,
    new: TextField,
    again: TextField,
}

#[derive(Template)]
#[template(path = "sign_on/password_changed.html")]
struct ChangedPage {
    frame: Frame,
}

/// GET /own-password
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    draw(&desk, &Form::default()).await
}

/// POST /own-password
pub(crate) async fn submit(
    desk: Desk,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let now = form.ask(NOW.0);
    let new = form.ask(NEW.0);
    let again = form.ask(AGAIN.0);
    form.refuse_what_was_not_asked();
    for (named, typed) in [(NOW, &now), (NEW, &new)] {
        if typed.is_empty() {
            form.note(named.0, named.1, "nothing was typed here, and it is needed");
        }
    }
    if !new.is_empty() && new != again {
        form.note(
            AGAIN.0,
            AGAIN.1,
            "it is not the same as the first one; type both again",
        );
    }
    if desk.session.proved != Proved::Password {
        form.note(NOW.0, NOW.1, "sign on with your password first");
    }
    let door = Door::find(&desk.state, &headers).await?;
    if form.is_good() {
        let claim = Claim::PasswordOf {
            person: desk.person.id,
            password: now,
        };
        let shown = claim::prove(&desk.state, door.tablet.as_ref(), (claim, door.now)).await?;
        if let Err(refused) = shown {
            form.note(NOW.0, NOW.1, refused.text);
        }
    }
    if form.is_good() {
        set(&desk, &mut form, &new).await?;
    }
    if !form.is_good() {
        let page = draw(&desk, &form).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    }
    let mut response = page::shown(&ChangedPage {
        frame: Frame::bare("Password changed", desk.state.mark, desk.look),
    });
    let headers = response.headers_mut();
    headers.extend(door.cookies.let_go(Kept::Session));
    Ok(response)
}

async fn set(desk: &Desk, form: &mut Form, password: &str) -> Result<(), WebError> {
    let known = [
        desk.person.handle.as_str(),
        desk.name.as_deref().unwrap_or_default(),
        desk.shop.name.as_str(),
    ];
    let new = NewPassword {
        change: Change {
            of: desk.person.id,
            by: Some(desk.person.id),
        },
        password,
        known_words: &known,
    };
    let set = desk
        .state
        .access
        .change_password(new, Clock::system().now().into());
    if let Err(unfit) = set.await.map_err(WebError::fault)? {
        form.note(NEW.0, NEW.1, unfit.to_string());
    }
    Ok(())
}

/// What was typed is never put back on a page.
async fn draw(desk: &Desk, form: &Form) -> Result<Response, WebError> {
    let issued = desk.state.access.password_is_issued(desk.person.id).await;
    let issued = issued.map_err(WebError::fault)?;
    let field = |named, hint: &str, autocomplete| TextField {
        value: String::new(),
        kind: "password",
        autocomplete,
        ..form.text_field(named, hint, Width::Twenty)
    };
    let title = if form.is_good() {
        "Your password"
    } else {
        "Not saved: your password"
    };
    Ok(page::shown(&OwnPasswordPage {
        frame: desk.frame(title),
        problems: form.problems(),
        summary: form.summary(),
        needs_password: desk.session.proved != Proved::Password,
        issued,
        now: field(NOW, "", "current-password"),
        new: field(
            NEW,
            "15 characters or more; four or five words in a row do well.",
            "new-password",
        ),
        again: field(AGAIN, "", "new-password"),
    }))
}
