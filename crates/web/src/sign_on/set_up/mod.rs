//! `/set-up`: the first person of a new server, or a password for somebody when none is left.
//!
//! The code that the program printed at its start comes first; only then is anything shown or
//! asked. There is no account before somebody made one here.

mod fields;
mod gate;
mod ground;
mod write;

use askama::Template;
use axum::body::Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::Proved;
use domain::fleet::Person;

pub use gate::{SetUp, SetUpFor};

use super::claim::Shown;
use super::door::Door;
use super::enter;
use crate::component::{ChoiceField, Pad, TextField, Width};
use crate::desk::{Cookies, Frame, Kept};
use crate::form::{Form, FormProblem, Presence};
use crate::setting::ShopFields;
use crate::{AppState, Clock, WebError, page};

use gate::CodeRefused;
use ground::Ground;

const CODE: (&str, &str) = ("code", "Set-up code");
/// Set on the second page: the first one asks for the code alone.
const STEP: &str = "step";

#[derive(Template)]
#[template(path = "sign_on/set_up.html")]
struct SetUpPage<'a> {
    frame: Frame,
    problems: &'a [FormProblem],
    /// What is asked once the code was right.
    asked: Option<Asked>,
    code: TextField,
    /// It can no longer be done with the code of this start.
    is_closed: bool,
}

/// The fields of the second page.
struct Asked {
    code: String,
    key: String,
    opened: String,
    step: &'static str,
    lost_password: bool,
    /// Somebody on record, or a new administrator; none on an empty record.
    who: Option<ChoiceField>,
    place: Option<Place>,
    shop: Option<ChoiceField>,
    person: Option<(TextField, TextField)>,
    password: TextField,
    again: TextField,
}

/// Where the first shop stands and what it reads.
struct Place {
    site: TextField,
    shop: ShopFields,
}

/// What the set-up may do now; none when there is nothing to set up.
async fn allowed(state: &AppState) -> Result<Option<Allowed>, WebError> {
    let somebody = state
        .access
        .anybody_can_sign_on()
        .await
        .map_err(WebError::fault)?;
    Ok(match (state.set_up.open_for(), somebody) {
        (Some(SetUpFor::LostPassword), _) => Some(Allowed::Password),
        (Some(SetUpFor::First), false) => Some(Allowed::All),
        (None, false) => Some(Allowed::Nothing),
        (Some(SetUpFor::First) | None, true) => None,
    })
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Allowed {
    All,
    /// A password for somebody on record.
    Password,
    /// Nobody can sign on, and this start of the program printed no code.
    Nothing,
}

/// GET /set-up
pub(crate) async fn show(
    State(state): State<AppState>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let Some(allowed) = allowed(&state).await? else {
        return Ok(Redirect::to("/sign-on").into_response());
    };
    let cookies = Cookies::of(&headers, &state.transport);
    Ok(draw_code(&state, (&cookies, allowed), &Form::default()))
}

/// POST /set-up
pub(crate) async fn submit(
    State(state): State<AppState>,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let turn = state.set_up.turn.clone();
    // Until the answer is ready: a second one who comes at the same time finds the first one's work.
    let _alone = turn.lock().await;
    let Some(allowed) = allowed(&state).await? else {
        return Ok(Redirect::to("/sign-on").into_response());
    };
    let door = Door::find(&state, &headers).await?;
    if let Err(refused) = state.set_up.check(&form.ask(CODE.0), door.now) {
        form = Form::with([(CODE.0, form.typed(CODE.0).to_owned())]);
        form.note(CODE.0, CODE.1, told(refused));
        let page = draw_code(&state, (&door.cookies, allowed), &form);
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    }
    let ground = Ground::find(&state, allowed).await?;
    if form.ask(STEP).is_empty() {
        let mut form = Form::with([(CODE.0, form.typed(CODE.0).to_owned())]);
        fields::preset(&mut form, Clock::system().now());
        return Ok(draw(&state, (&door.cookies, &ground), &form));
    }
    let Some(person) = write::write(&state, &ground, &mut form).await? else {
        let page = draw(&state, (&door.cookies, &ground), &form);
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    state.set_up.close();
    sign_on(&state, &door, person).await
}

async fn sign_on(state: &AppState, door: &Door, person: Person) -> Result<Response, WebError> {
    let shown = Shown {
        person,
        proved: Proved::Password,
    };
    let token = enter::begin_session(state, door, &shown).await?;
    let mut response = Redirect::to("/").into_response();
    response
        .headers_mut()
        .extend(door.cookies.keep(Kept::Session, &token));
    Ok(response)
}

fn told(refused: CodeRefused) -> String {
    match refused {
        CodeRefused::Wrong { tries_left: 1 } => {
            "this is not the code the program printed; 1 try is left, look at it once more".to_owned()
        }
        CodeRefused::Wrong { tries_left } => {
            format!("this is not the code the program printed; {tries_left} tries are left, look at it once more")
        }
        CodeRefused::Void => "this code no longer counts: it does for 15 minutes, for 10 tries and for one set-up; stop \
                              the program and start it again, and it prints a new one"
            .to_owned(),
    }
}

fn draw_code(state: &AppState, (cookies, allowed): (&Cookies, Allowed), form: &Form) -> Response {
    let title = if form.is_good() {
        "Set up"
    } else {
        "Not set up"
    };
    page::shown(&SetUpPage {
        frame: Frame::bare(title, state.mark, cookies.look()),
        problems: form.problems(),
        asked: None,
        code: TextField {
            pad: Pad::None,
            ..form.text_field(
                CODE,
                "Like 7KQM-2XVD-H9PT; the program printed it where it was started.",
                Width::Twenty,
            )
        },
        is_closed: allowed == Allowed::Nothing,
    })
}

fn draw(state: &AppState, (cookies, ground): (&Cookies, &Ground), form: &Form) -> Response {
    let title = if form.is_good() {
        "Set up"
    } else {
        "Not set up"
    };
    page::shown(&SetUpPage {
        frame: Frame::bare(title, state.mark, cookies.look()),
        problems: form.problems(),
        code: form.text_field(CODE, "", Width::Twenty),
        asked: Some(fields::asked(form, ground)),
        is_closed: false,
    })
}

/// A field that has to be filled in.
fn needed(form: &mut Form, field: (&'static str, &'static str)) -> Option<String> {
    form.line(field, Presence::Needed)
}
