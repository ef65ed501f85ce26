//! Who may use a route, checked before its handler runs.

use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::Proved;
use domain::fleet::{Person, Role, Shop};
use domain::ids::ShopId;
use storage::Read;
use storage::access::{Form, SecurityEvent, SecurityKind, Session};

use super::{Cookies, Desk, Kept, Look};
use crate::sign_on;
use crate::{AppState, BODY_LIMIT, Clock, RequestId, WebError};

/// Whom a route is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Who {
    /// Anybody: nothing of the record is shown.
    Anybody,
    /// Another program: its handler asks for the token.
    Program,
    /// An enrolled tablet, whoever holds it: its handler asks for the tablet's cookie.
    Tablet,
    /// Whoever is signed on.
    SignedOn,
    /// Whoever is signed on in one of these roles.
    Roles(&'static [Role]),
}

/// What a guard knows of the route it stands before.
#[derive(Clone, Debug)]
pub(crate) struct Asked {
    pub(crate) state: AppState,
    pub(crate) who: Who,
    /// Whether something may be half typed on the page it shows.
    pub(crate) form: Form,
}

/// A PIN is short and a badge can be found: both are for work in the shop, not for its settings.
const BY_PIN_OR_BADGE: &[Role] = &[Role::Technician, Role::LeadHand];

/// Lets a request through to its handler, or says what is missing.
pub(crate) async fn guard(
    State(asked): State<Asked>,
    mut request: Request,
    next: Next,
) -> Response {
    let roles = match asked.who {
        Who::Anybody | Who::Program | Who::Tablet => return next.run(request).await,
        Who::SignedOn => None,
        Who::Roles(roles) => Some(roles),
    };
    let state = &asked.state;
    // A request cannot be lent to what waits: its body is nobody else's to look at meanwhile.
    let found = match shown(state, &request) {
        Ok((Some(token), seen)) => desk_of(state, &token, seen).await,
        Ok((None, _)) => Ok(None),
        Err(error) => Err(error),
    };
    let mut desk = match found {
        Ok(Some(desk)) => desk,
        Ok(None) => return ask_to_sign_on(state, request).await,
        Err(error) => return error.into_response(),
    };
    if is_of_pages(request.uri().path()) {
        match must_choose_password(&desk).await {
            Ok(false) => {}
            Ok(true) => return Redirect::to(OWN_PASSWORD).into_response(),
            Err(error) => return error.into_response(),
        }
    }
    if let Some(roles) = roles
        && !desk.may(roles)
    {
        note_refusal(&desk).await;
        return WebError::NotAllowed { roles }.into_response();
    }
    if is_reading(request.method()) {
        note_form(&mut desk, asked.form).await;
    }
    request.extensions_mut().insert(desk);
    next.run(request).await
}

const OWN_PASSWORD: &str = "/own-password";

fn is_of_pages(path: &str) -> bool {
    !matches!(path, OWN_PASSWORD | "/session/stay")
}

/// Whoever issued a password knows it. Before its owner chose another one nothing is done under
/// their name.
async fn must_choose_password(desk: &Desk) -> Result<bool, WebError> {
    if desk.session.proved != Proved::Password {
        return Ok(false);
    }
    let issued = desk.state.access.password_is_issued(desk.person.id).await;
    issued.map_err(WebError::fault)
}

fn is_reading(method: &Method) -> bool {
    method == Method::GET || method == Method::HEAD
}

/// A disk that is full keeps nobody from reading pages.
async fn note_form(desk: &mut Desk, form: Form) {
    match desk.state.access.set_form_open(&desk.session, form).await {
        Ok(session) => desk.session = session,
        Err(error) => tracing::warn!(%error, "an open form was not noted"),
    }
}

async fn note_refusal(desk: &Desk) {
    let event = SecurityEvent::new(SecurityKind::NotAllowed, Clock::system().now().into())
        .about(desk.person.id)
        .on(desk.session.tablet);
    if let Err(error) = desk.state.access.note(&event).await {
        tracing::warn!(%error, "a refusal was not noted");
    }
}

/// What a request shows of who sends it: the token of a session, where it holds one.
fn shown(state: &AppState, request: &Request) -> Result<(Option<String>, Seen), WebError> {
    let cookies = Cookies::of(request.headers(), &state.transport);
    let request_id = request.extensions().get::<RequestId>().copied();
    let seen = Seen {
        look: cookies.look(),
        path: request.uri().path().to_owned(),
        request: request_id.ok_or_else(|| WebError::fault("a request has no id"))?,
    };
    Ok((cookies.find(Kept::Session).map(str::to_owned), seen))
}

/// What the request itself tells about the page it asks for.
pub(crate) struct Seen {
    pub(crate) look: Look,
    /// The address without its query.
    pub(crate) path: String,
    pub(crate) request: RequestId,
}

/// The desk of whoever holds a session's token, when that is somebody who still works here.
pub(crate) async fn desk_of(
    state: &AppState,
    token: &str,
    seen: Seen,
) -> Result<Option<Desk>, WebError> {
    let now = Clock::system().now().into();
    let session = state.access.session_of(token, now).await;
    let Some(session) = session.map_err(WebError::fault)? else {
        return Ok(None);
    };
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let Some(standing) = standing(&mut read, &session).await? else {
        return Ok(None);
    };
    let name = match standing.person.name.as_ref().and_then(|name| name.digest()) {
        Some(digest) => read.find_text(digest).await.map_err(WebError::fault)?,
        None => None,
    };
    Ok(Some(Desk {
        state: state.clone(),
        session,
        everywhere: standing.person.shop.is_none(),
        person: standing.person,
        name,
        roles: standing.roles,
        shop: standing.shop,
        look: seen.look,
        path: seen.path,
        request: seen.request,
    }))
}

struct Standing {
    person: Person,
    shop: Shop,
    roles: Vec<Role>,
}

/// The person of a session as the record has them now: a role that was taken away, or a person who
/// left, counts from the next request on.
async fn standing(read: &mut Read, session: &Session) -> Result<Option<Standing>, WebError> {
    let person = read
        .find_person(session.person)
        .await
        .map_err(WebError::fault)?;
    let Some(person) = person.filter(|person| person.active) else {
        return Ok(None);
    };
    let Some(shop) = shop_to_stand_in(read, &person, session.shop).await? else {
        return Ok(None);
    };
    let roles = read
        .list_roles(person.id, shop.id)
        .await
        .map_err(WebError::fault)?;
    Ok(Some(Standing {
        person,
        shop,
        roles: roles_that_count(roles, session.proved),
    }))
}

/// The roles somebody may act in, by how they proved who they are.
pub(crate) fn roles_that_count(mut roles: Vec<Role>, proved: Proved) -> Vec<Role> {
    if proved != Proved::Password {
        roles.retain(|role| BY_PIN_OR_BADGE.contains(role));
    }
    roles
}

/// Their own shop; of all shops the one they chose, or the first.
pub(crate) async fn shop_to_stand_in(
    read: &mut Read,
    person: &Person,
    chosen: Option<ShopId>,
) -> Result<Option<Shop>, WebError> {
    if let Some(shop) = person.shop.or(chosen)
        && let Some(shop) = read.find_shop(shop).await.map_err(WebError::fault)?
    {
        return Ok(Some(shop));
    }
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    Ok(shops.into_iter().next())
}

fn sends_files(headers: &HeaderMap) -> bool {
    headers
        .get(header::CONTENT_TYPE)
        .is_some_and(|kind| kind.as_bytes().starts_with(b"multipart/form-data"))
}

/// To the sign-on page and back; a form that was sent waits there, so that nothing typed is lost.
async fn ask_to_sign_on(state: &AppState, request: Request) -> Response {
    let path = request
        .uri()
        .path_and_query()
        .map_or("/", |path| path.as_str())
        .to_owned();
    if is_reading(request.method()) {
        return Redirect::to(&sign_on::address_with_way_back(&path)).into_response();
    }
    if sends_files(request.headers()) {
        // Too much to be carried along: it is chosen again once somebody is signed on.
        return Redirect::to(&sign_on::address_with_way_back(&path)).into_response();
    }
    let (parts, body): (_, Body) = request.into_parts();
    // The body was held to its limit when it was read.
    let body = to_bytes(body, BODY_LIMIT).await.unwrap_or_default();
    match sign_on::keep_form(state, (&parts.headers, &path), &body).await {
        Ok(response) => response,
        Err(error) => error.into_response(),
    }
}

#[cfg(test)]
mod tests {
    use domain::fact::Proved;
    use domain::fleet::Role;

    use super::roles_that_count;

    #[test]
    fn a_pin_or_badge_opens_the_work_of_the_shop_and_nothing_more() {
        let all = || {
            vec![
                Role::Technician,
                Role::LeadHand,
                Role::Manager,
                Role::Administrator,
            ]
        };
        for proved in [Proved::Pin, Proved::Badge, Proved::Unconfirmed] {
            assert_eq!(
                roles_that_count(all(), proved),
                [Role::Technician, Role::LeadHand]
            );
        }
        assert_eq!(roles_that_count(all(), Proved::Password), all());
    }
}
