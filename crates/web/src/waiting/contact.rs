//! `POST /tablet/contact`: a tablet tells how many jobs wait on it, and hears the server's time.

use axum::body::Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use domain::moment::Moment;
use serde::Deserialize;
use serde_json::json;
use storage::access::Contact;
use uuid::Uuid;

use super::intake::{Reply, tablet};
use crate::{AppState, Clock, WebError};

/// Far more than a tablet ever holds.
const MOST_WAITING: u32 = 100_000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Told {
    store: Uuid,
    waiting: u32,
    #[serde(default)]
    oldest_ms: Option<i64>,
    /// The tablet's clock. What it is off by comes with each job.
    #[serde(default, rename = "now_ms")]
    _now_ms: Option<i64>,
}

/// POST /tablet/contact
pub(crate) async fn post(
    State(state): State<AppState>,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let Some(tablet) = tablet(&state, &headers).await? else {
        return Ok(Reply::not_enrolled().into_response());
    };
    let told: Told = match serde_json::from_slice(&body) {
        Ok(told) => told,
        Err(problem) => return Ok(Reply::not_readable(&problem.to_string()).into_response()),
    };
    if told.waiting > MOST_WAITING {
        let text = format!("waiting: {} is more than {MOST_WAITING}", told.waiting);
        return Ok(Reply::not_readable(&text).into_response());
    }
    let contact = Contact {
        store: told.store,
        waiting: told.waiting.into(),
        oldest_at: told.oldest_ms.map(Moment),
    };
    let now = Clock::system().now().into();
    let noted = state.access.note_contact(tablet.id, contact, now).await;
    noted.map_err(WebError::fault)?;
    // Jobs are placed by the business clock, so the offset is measured against it.
    let told = json!({ "now_ms": state.clock.now().timestamp_millis() });
    Ok(Reply::of(StatusCode::OK, &told).into_response())
}
