//! `/waiting` and `/offline`: kept by the tablet itself, so nothing of the record stands on them.

use askama::Template;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;

use crate::desk::Frame;
use crate::job::void;
use crate::sign_on::Door;
use crate::{AppState, WebError, page};

/// The script of the tablet fills it from what is kept there.
#[derive(Template)]
#[template(path = "waiting/show.html")]
struct WaitingPage {
    frame: Frame,
    void_reasons: String,
}

#[derive(Template)]
#[template(path = "waiting/offline.html")]
struct OfflinePage {
    frame: Frame,
}

/// GET /waiting
pub(crate) async fn show(
    State(state): State<AppState>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let frame = frame(&state, &headers, ("Waiting to send", "/waiting")).await?;
    let void_reasons = void::usual_reasons();
    Ok(page::shown(&WaitingPage {
        frame,
        void_reasons,
    }))
}

/// GET /offline: what stands in for a page that was not kept.
pub(crate) async fn show_offline(
    State(state): State<AppState>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    let title = ("This page needs the network", "/offline");
    let frame = frame(&state, &headers, title).await?;
    Ok(page::shown(&OfflinePage { frame }))
}

async fn frame(
    state: &AppState,
    headers: &HeaderMap,
    (title, here): (&str, &str),
) -> Result<Frame, WebError> {
    let door = Door::find(state, headers).await?;
    let frame = Frame::bare(title, state.mark, door.cookies.look()).on(door.tablet_id());
    Ok(Frame {
        here: here.to_owned(),
        ..frame
    })
}
