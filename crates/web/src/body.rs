//! The body of a request is read whole, within limits, before any handler runs.
//!
//! So no handler ever waits for a client while it holds something others need.

use std::time::Duration;

use axum::{
    body::{Body, Bytes},
    extract::Request,
    http::{HeaderMap, header},
    middleware::Next,
    response::{IntoResponse, Response},
};
use http_body_util::BodyExt;
use tokio::time::timeout;

use crate::WebError;

/// The largest body of a form or a JSON request: 2 MiB.
pub const BODY_LIMIT: usize = 2 * 1024 * 1024;
/// What is read and thrown away past the limit. A client that is cut off while it is still sending
/// sees a broken connection; one that could finish sees the answer that tells why.
const THROWN_AWAY_LIMIT: usize = 8 * 1024 * 1024;
const BODY_WITHIN: Duration = Duration::from_secs(10);

pub(crate) async fn read_whole(request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    if waits_for_leave_to_send_too_much(&parts.headers) {
        return WebError::BodyTooLarge.into_response();
    }
    match timeout(BODY_WITHIN, collect(body)).await {
        Ok(Ok(bytes)) => {
            next.run(Request::from_parts(parts, Body::from(bytes)))
                .await
        }
        Ok(Err(refusal)) => refusal.into_response(),
        Err(_) => WebError::BodyTooSlow {
            seconds: BODY_WITHIN.as_secs(),
        }
        .into_response(),
    }
}

async fn collect(mut body: Body) -> Result<Bytes, WebError> {
    let mut kept = Vec::new();
    let mut thrown_away = 0_usize;
    while let Some(frame) = body.frame().await {
        let frame = frame.map_err(|_| WebError::NotReadable {
            found: "a body that broke off".to_owned(),
        })?;
        // What is not data are trailers, which nothing here uses.
        let Ok(data) = frame.into_data() else {
            continue;
        };
        if thrown_away == 0 && kept.len().saturating_add(data.len()) <= BODY_LIMIT {
            kept.extend_from_slice(&data);
            continue;
        }
        kept = Vec::new();
        thrown_away = thrown_away.saturating_add(data.len()).max(1);
        if thrown_away > THROWN_AWAY_LIMIT {
            break;
        }
    }
    if thrown_away > 0 {
        Err(WebError::BodyTooLarge)
    } else {
        Ok(kept.into())
    }
}

/// A client that sends `Expect: 100-continue` has sent nothing yet, so it can be told at once.
fn waits_for_leave_to_send_too_much(headers: &HeaderMap) -> bool {
    headers.contains_key(header::EXPECT)
        && headers
            .get(header::CONTENT_LENGTH)
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.parse::<usize>().ok())
            .is_some_and(|length| length > BODY_LIMIT)
}
