//! `/tablets/enrol`: opened on the tablet itself, with a code that somebody who may made for it.

use askama::Template;
use axum::body::Bytes;
use axum::extract::{RawQuery, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use storage::access::NewTablet;

use super::door::Door;
use crate::desk::{Frame, Kept};
use crate::form::Form;
use crate::{AppState, WebError, page};

const CODE: &str = "code";

#[derive(Template)]
#[template(path = "sign_on/enrol.html")]
struct EnrolPage {
    frame: Frame,
    offered: Option<Offered>,
}

struct Offered {
    tablet: String,
    shop: String,
    code: String,
    /// What this browser is enrolled as so far.
    so_far: Option<String>,
}

/// GET /tablets/enrol
pub(crate) async fn show(
    State(state): State<AppState>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let code = Form::from_query(query.as_deref()).typed(CODE).to_owned();
    let door = Door::find(&state, &headers).await?;
    let offered = match state.enrolments.find(&code, door.now) {
        Some(tablet) => Some(offered(&state, &door, (tablet, code)).await?),
        None => None,
    };
    let status = if offered.is_some() {
        StatusCode::OK
    } else {
        StatusCode::NOT_FOUND
    };
    let title = if offered.is_some() {
        "Enrol this tablet"
    } else {
        "Not enrolled"
    };
    let page = page::shown(&EnrolPage {
        frame: Frame::bare(title, state.mark, door.cookies.look()).on(door.tablet_id()),
        offered,
    });
    Ok((status, page).into_response())
}

async fn offered(
    state: &AppState,
    door: &Door,
    (tablet, code): (NewTablet, String),
) -> Result<Offered, WebError> {
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let shop = read.find_shop(tablet.shop).await.map_err(WebError::fault)?;
    Ok(Offered {
        tablet: tablet.name,
        shop: shop.map_or_else(|| "a shop that has no card".to_owned(), |shop| shop.name),
        code,
        so_far: door.tablet.as_ref().map(|tablet| tablet.name.clone()),
    })
}

/// POST /tablets/enrol
pub(crate) async fn enrol(
    State(state): State<AppState>,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let form = Form::from_body(&headers, &body)?;
    let door = Door::find(&state, &headers).await?;
    let Some(tablet) = state.enrolments.take(form.typed(CODE), door.now) else {
        let page = page::shown(&EnrolPage {
            frame: Frame::bare("Not enrolled", state.mark, door.cookies.look())
                .on(door.tablet_id()),
            offered: None,
        });
        return Ok((StatusCode::NOT_FOUND, page).into_response());
    };
    let enrolled = state.access.enrol_tablet(tablet, door.now).await;
    let (_, token) = enrolled.map_err(WebError::fault)?;
    let mut response = Redirect::to("/sign-on").into_response();
    let headers = response.headers_mut();
    headers.extend(door.cookies.keep(Kept::Tablet, token.as_str()));
    // A session that began before this was a tablet would keep the longer terms of the office.
    if let Some(before) = door.cookies.find(Kept::Session) {
        state
            .access
            .end_session(before, door.now)
            .await
            .map_err(WebError::fault)?;
        headers.extend(door.cookies.let_go(Kept::Session));
    }
    Ok(response)
}
