//! Signing off, staying signed on, the shop to stand in, and how the pages look.

use askama::Template;
use axum::body::Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::ids::ShopId;

use super::way_back;
use crate::component::{Choice, ChoiceField, ChoiceLook};
use crate::desk::{Cookies, Desk, Frame, Kept, Shade};
use crate::form::{Form, FormProblem, Presence};
use crate::{AppState, Clock, WebError, page};

/// What a browser may keep of the pages goes. Never "storage", "cookies" or everything: jobs that
/// were not sent yet and the tablet's enrolment would go too.
const LET_GO_OF_PAGES: (HeaderName, HeaderValue) = (
    HeaderName::from_static("clear-site-data"),
    HeaderValue::from_static("\"cache\""),
);

/// POST /sign-off
pub(crate) async fn sign_off(
    State(state): State<AppState>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let cookies = Cookies::of(&headers, &state.transport);
    if let Some(token) = cookies.find(Kept::Session) {
        let now = Clock::system().now().into();
        state
            .access
            .end_session(token, now)
            .await
            .map_err(WebError::fault)?;
    }
    let mut response = ([LET_GO_OF_PAGES], Redirect::to("/sign-on")).into_response();
    response.headers_mut().extend(cookies.let_go(Kept::Session));
    Ok(response)
}

/// POST /session/stay: somebody is still at the screen. Being let through to here is the use that
/// is noted.
pub(crate) async fn stay(_: Desk) -> StatusCode {
    StatusCode::NO_CONTENT
}

/// POST /look
pub(crate) async fn choose_look(
    State(state): State<AppState>,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let form = Form::from_body(&headers, &body)?;
    let look = Shade::from_code(form.typed("look"));
    let here = way_back::to_any_page(form.typed("here"));
    let mut response = Redirect::to(here.as_deref().unwrap_or("/")).into_response();
    let cookies = Cookies::of(&headers, &state.transport);
    response
        .headers_mut()
        .extend(cookies.keep(Kept::Look, look.code()));
    Ok(response)
}

const SHOP: (&str, &str) = ("shop", "Shop");

#[derive(Template)]
#[template(path = "sign_on/shops.html")]
struct ShopsPage<'a> {
    frame: Frame,
    problems: &'a [FormProblem],
    /// None for those who belong to one shop.
    shops: Option<ChoiceField>,
}

/// GET /shops
pub(crate) async fn show_shops(desk: Desk) -> Result<Response, WebError> {
    draw_shops(&desk, &Form::default()).await
}

/// POST /shops
pub(crate) async fn choose_shop(
    desk: Desk,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let shop = form.id(SHOP, Presence::Needed).map(ShopId);
    let found = match shop {
        Some(shop) => desk
            .read()
            .await?
            .find_shop(shop)
            .await
            .map_err(WebError::fault)?,
        None => None,
    };
    if shop.is_some() && found.is_none() {
        form.note(
            SHOP.0,
            SHOP.1,
            "there is no such shop; choose one of those offered",
        );
    }
    if !desk.everywhere {
        let own = &desk.shop.name;
        let refused = format!(
            "{} belongs to {own}; only people of all shops choose one",
            desk.person.handle
        );
        form.note(SHOP.0, SHOP.1, refused);
    }
    form.refuse_what_was_not_asked();
    let Some(shop) = found.filter(|_| form.is_good()) else {
        let page = draw_shops(&desk, &form).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    let chosen = desk.state.access.choose_shop(&desk.session, shop.id).await;
    chosen.map_err(WebError::fault)?;
    Ok(Redirect::to("/").into_response())
}

async fn draw_shops(desk: &Desk, form: &Form) -> Result<Response, WebError> {
    let shops = if desk.everywhere {
        let shops = desk
            .read()
            .await?
            .list_shops()
            .await
            .map_err(WebError::fault)?;
        let choices = shops.into_iter().map(|shop| Choice {
            value: shop.id.to_string(),
            chosen: shop.id == desk.shop.id,
            label: shop.name,
            ..Choice::default()
        });
        Some(form.choice_field(SHOP, "", choices.collect(), ChoiceLook::OneOf))
    } else {
        None
    };
    let title = if form.is_good() {
        "Shop to stand in"
    } else {
        "Not changed"
    };
    Ok(page::shown(&ShopsPage {
        frame: desk.frame(title),
        problems: form.problems(),
        shops,
    }))
}
