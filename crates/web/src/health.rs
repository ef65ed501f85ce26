//! GET /healthz and GET /readyz, for whatever watches over the server.

use axum::{
    Json,
    extract::State,
    http::{HeaderMap, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Serialize;

use crate::AppState;

#[derive(Serialize)]
struct Ready {
    ready: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
}

/// The process answers; says nothing about what stands behind it.
pub(crate) async fn alive() -> &'static str {
    "ok"
}

/// 200 when work can be taken, else 503. The reason is shown only to whoever shows the API token.
pub(crate) async fn ready(State(state): State<AppState>, headers: HeaderMap) -> Response {
    let Some(reason) = state.readiness.reason_against() else {
        return Json(Ready {
            ready: true,
            reason: None,
        })
        .into_response();
    };
    let may_know = state
        .api_token
        .is_some_and(|token| token.is_shown_in(&headers));
    let ready = Ready {
        ready: false,
        reason: may_know.then_some(reason),
    };
    (
        StatusCode::SERVICE_UNAVAILABLE,
        [(header::RETRY_AFTER, "5")],
        Json(ready),
    )
        .into_response()
}
