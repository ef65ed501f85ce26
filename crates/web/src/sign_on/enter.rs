//! `/sign-on`: who works here now.

use askama::Template;
use axum::Extension;
use axum::body::Bytes;
use axum::extract::{RawQuery, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::Proved;
use domain::fleet::Person;
use domain::ids::ShopId;
use storage::access::{NewSession, Tablet};

use super::claim::{self, Refused, Shown};
use super::door::{self, Door, TILES, Tile};
use super::kept::{KeptForm, Offer};
use super::way_back;
use crate::component::{Pad, TextField, Width};
use crate::desk::{Frame, Kept, Seen, desk_of, roles_that_count, shop_to_stand_in};
use crate::form::{Form, FormProblem};
use crate::unfinished::Unfinished;
use crate::{AppState, RequestId, WebError, page};

const NEXT: &str = "next";
const ALL: &str = "all";

#[derive(Template)]
#[template(path = "sign_on/sign_on.html")]
struct SignOnPage<'a> {
    frame: Frame,
    problems: &'a [FormProblem],
    /// A form is carried along.
    keeps_form: bool,
    hidden: Vec<(String, String)>,
    tablet: Option<TabletPart>,
    handle: TextField,
    password: TextField,
    /// The fields of the password are shown from the start.
    by_password: bool,
}

/// What only an enrolled tablet shows.
struct TabletPart {
    name: String,
    tiles: Vec<Tile>,
    people_problem: String,
    /// The address of the page with all of them, when some are left out.
    more: Option<String>,
    pin: TextField,
    badge: TextField,
    unfinished: Unfinished,
}

/// GET /sign-on
pub(crate) async fn show(
    State(state): State<AppState>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let door = Door::find(&state, &headers).await?;
    let somebody = state.access.anybody_can_sign_on().await;
    // A tablet goes on taking PINs and badges even when the last password no longer works.
    if !somebody.map_err(WebError::fault)? && door.tablet.is_none() {
        return Ok(Redirect::to("/set-up").into_response());
    }
    let form = Form::from_query(query.as_deref());
    draw(&state, &door, (&form, None)).await
}

/// A form that arrived when nobody was signed on. One that is no form of ours has nothing to keep.
pub(crate) async fn keep_form(
    state: &AppState,
    (headers, path): (&HeaderMap, &str),
    body: &[u8],
) -> Result<Response, WebError> {
    let Some(kept) = KeptForm::of(path, &Form::from_body(headers, body)?) else {
        return Ok(Redirect::to("/sign-on").into_response());
    };
    if kept.is_empty() {
        return Ok(Redirect::to("/sign-on").into_response());
    }
    let door = Door::find(state, headers).await?;
    let page = draw(state, &door, (&Form::default(), Some(&kept))).await?;
    let asks = [(header::WWW_AUTHENTICATE, HeaderValue::from_static("SignOn"))];
    Ok((StatusCode::UNAUTHORIZED, asks, page).into_response())
}

/// POST /sign-on
pub(crate) async fn enter(
    State(state): State<AppState>,
    Extension(request): Extension<RequestId>,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let (kept, mut form) = KeptForm::split(&Form::from_body(&headers, &body)?);
    let door = Door::find(&state, &headers).await?;
    let next = way_back::to_page(&form.ask(NEXT));
    // Whoever comes back to the page finds the name they chose, even one of the later ones.
    form.set(ALL, "yes");
    form.ask(ALL);
    let claim = claim::read(&mut form, door.tablet.as_ref());
    form.refuse_what_was_not_asked();
    let Some(claim) = claim.filter(|_| form.is_good()) else {
        return refused(&state, &door, (&form, kept.as_ref()), None).await;
    };
    let shown = match claim::prove(&state, door.tablet.as_ref(), (claim, door.now)).await? {
        Ok(shown) => match without_roles(&state, &door, &shown).await? {
            Some(why) => Err(why),
            None => Ok(shown),
        },
        Err(why) => Err(why),
    };
    match shown {
        Ok(shown) => begin(&state, &door, (&shown, request), (kept, next)).await,
        Err(why) => {
            form.note(why.field.0, why.field.1, why.text.clone());
            refused(&state, &door, (&form, kept.as_ref()), Some(&why)).await
        }
    }
}

/// A PIN or badge of somebody who may do nothing with it: they are told at once what does help.
async fn without_roles(
    state: &AppState,
    door: &Door,
    shown: &Shown,
) -> Result<Option<Refused>, WebError> {
    if shown.proved == Proved::Password {
        return Ok(None);
    }
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let here = door.tablet.as_ref().map(|tablet| tablet.shop);
    let shop = shop_to_stand_in(&mut read, &shown.person, here).await?;
    let roles = match shop {
        Some(shop) => read
            .list_roles(shown.person.id, shop.id)
            .await
            .map_err(WebError::fault)?,
        None => Vec::new(),
    };
    let none = roles_that_count(roles, shown.proved).is_empty();
    Ok(none.then(|| Refused {
        field: claim::HANDLE,
        text: "a PIN or badge is for the work of technicians and lead hands; sign on with your short name and password"
            .to_owned(),
        until: None,
    }))
}

/// Signs somebody on under a new token. Whoever was signed on in this browser no longer is.
pub(super) async fn begin_session(
    state: &AppState,
    door: &Door,
    shown: &Shown,
) -> Result<String, WebError> {
    if let Some(before) = door.cookies.find(Kept::Session) {
        state
            .access
            .end_session(before, door.now)
            .await
            .map_err(WebError::fault)?;
    }
    let new = NewSession {
        person: shown.person.id,
        shop: stands_in(door, &shown.person),
        tablet: door.tablet.as_ref().map(|tablet| tablet.id),
        proved: shown.proved,
    };
    let token = state
        .access
        .begin_session(new, door.now)
        .await
        .map_err(WebError::fault)?;
    Ok(token.as_str().to_owned())
}

fn stands_in(door: &Door, person: &Person) -> Option<ShopId> {
    person
        .shop
        .or_else(|| door.tablet.as_ref().map(|tablet| tablet.shop))
}

async fn begin(
    state: &AppState,
    door: &Door,
    (shown, request): (&Shown, RequestId),
    (kept, next): (Option<KeptForm>, Option<String>),
) -> Result<Response, WebError> {
    let token = begin_session(state, door, shown).await?;
    let mut response = match kept {
        None => Redirect::to(next.as_deref().unwrap_or("/")).into_response(),
        Some(kept) => {
            let seen = Seen {
                look: door.cookies.look(),
                path: "/".to_owned(),
                request,
            };
            let desk = desk_of(state, &token, seen).await?;
            let desk = desk.ok_or_else(|| WebError::fault("a session just begun is gone"))?;
            kept.offered(&desk, Offer::Save)
        }
    };
    response
        .headers_mut()
        .extend(door.cookies.keep(Kept::Session, &token));
    Ok(response)
}

async fn refused(
    state: &AppState,
    door: &Door,
    forms: (&Form, Option<&KeptForm>),
    why: Option<&Refused>,
) -> Result<Response, WebError> {
    let page = draw(state, door, forms).await?;
    let Some(until) = why.and_then(|why| why.until) else {
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    let seconds = until.ms_since(door.now).max(0).saturating_add(999) / 1_000;
    let wait = [(header::RETRY_AFTER, HeaderValue::from(seconds))];
    Ok((StatusCode::TOO_MANY_REQUESTS, wait, page).into_response())
}

async fn draw(
    state: &AppState,
    door: &Door,
    (form, kept): (&Form, Option<&KeptForm>),
) -> Result<Response, WebError> {
    let next = way_back::to_page(form.typed(NEXT));
    let tablet = match &door.tablet {
        Some(tablet) => {
            let person = form.typed(claim::PERSON.0);
            let tiles = door::tiles(state, tablet, (person, door.now)).await?;
            let all = kept.is_some() || form.typed(ALL) == "yes";
            let unfinished = unfinished(state, tablet).await?;
            let mut part = tablet_part(tablet, (form, next.as_deref()), (tiles, all));
            part.unfinished = unfinished;
            Some(part)
        }
        None => None,
    };
    let title = if form.is_good() {
        "Sign on"
    } else {
        "Not signed on"
    };
    let mut hidden = kept.map(KeptForm::hidden).unwrap_or_default();
    if let Some(next) = next {
        hidden.push((NEXT.to_owned(), next));
    }
    let touched = |name: &str| !form.typed(name).is_empty() || !form.problem_of(name).is_empty();
    Ok(page::shown(&SignOnPage {
        frame: Frame::bare(title, state.mark, door.cookies.look()).on(door.tablet_id()),
        problems: form.problems(),
        keeps_form: kept.is_some(),
        hidden,
        by_password: tablet.is_none() || touched(claim::HANDLE.0) || touched(claim::PASSWORD.0),
        tablet,
        handle: TextField {
            autocomplete: "username",
            ..form.text_field(claim::HANDLE, "", Width::Ten)
        },
        password: password_field(form),
    }))
}

/// What whoever comes to the tablet finds half done in its shop.
async fn unfinished(state: &AppState, tablet: &Tablet) -> Result<Unfinished, WebError> {
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let shop = read.find_shop(tablet.shop).await.map_err(WebError::fault)?;
    match shop {
        None => Ok(Unfinished::default()),
        // Jobs are on the business clock.
        Some(shop) => Unfinished::in_shop(&mut read, &shop, state.clock.now().into()).await,
    }
}

fn tablet_part(
    tablet: &Tablet,
    (form, next): (&Form, Option<&str>),
    (mut tiles, all): (Vec<Tile>, bool),
) -> TabletPart {
    let more = !all && tiles.len() > TILES;
    if more {
        tiles.truncate(TILES);
    }
    TabletPart {
        name: tablet.name.clone(),
        tiles,
        people_problem: form.problem_of(claim::PERSON.0),
        more: more.then(|| address(&[(ALL, "yes"), (NEXT, next.unwrap_or("/"))])),
        pin: pin_field(form),
        badge: badge_field(form),
        unfinished: Unfinished::default(),
    }
}

/// The sign-on page that leads back to an address of this site.
pub(crate) fn address_with_way_back(path: &str) -> String {
    address(&[(NEXT, path)])
}

fn address(fields: &[(&str, &str)]) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.extend_pairs(fields);
    format!("/sign-on?{}", query.finish())
}

/// Secrets are never put back on a page.
pub(super) fn pin_field(form: &Form) -> TextField {
    TextField {
        value: String::new(),
        pad: Pad::Pin,
        kind: "password",
        ..form.text_field(
            claim::PIN,
            "After the sixth digit the page goes on by itself.",
            Width::Ten,
        )
    }
}

pub(super) fn badge_field(form: &Form) -> TextField {
    TextField {
        value: String::new(),
        kind: "password",
        ..form.text_field(
            claim::BADGE,
            "Touch this field and hold the badge under the scanner.",
            Width::Ten,
        )
    }
}

pub(super) fn password_field(form: &Form) -> TextField {
    TextField {
        value: String::new(),
        kind: "password",
        autocomplete: "current-password",
        ..form.text_field(claim::PASSWORD, "", Width::Twenty)
    }
}
