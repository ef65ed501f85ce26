//! The body of a request is read whole, within limits, before any handler runs.
//!
//! So no handler ever waits for a client while it holds something others need.

use std::time::Duration;

use axum::{
    body::{Body, Bytes},
    extract::{MatchedPath, Request},
    http::{HeaderMap, header},
    middleware::Next,
    response::{IntoResponse, Response},
};
use http_body_util::BodyExt;
use tokio::{
    sync::{Semaphore, SemaphorePermit},
    time::timeout,
};

use crate::{WebError, job::photo, waiting};

/// The largest body of a form or a JSON request: 2 MiB.
pub const BODY_LIMIT: usize = 2 * 1024 * 1024;
/// The largest body that brings a photo: the photo, and what stands around it.
pub(crate) const PHOTO_LIMIT: usize = ::photo::MOST_BYTES + 64 * 1024;
/// What is read and thrown away past the limit. A client that is cut off while it is still sending
/// sees a broken connection; one that could finish sees the answer that tells why.
const THROWN_AWAY_LIMIT: usize = 8 * 1024 * 1024;

/// So many bodies larger than a form's are held at once; whoever comes then is told to come again.
static LARGE: Semaphore = Semaphore::const_new(6);
const PLACE_WITHIN: Duration = Duration::from_secs(10);

/// What a request may bring, and how long that and its answer may take.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Measure {
    most: usize,
    arrives_within: Duration,
    /// From the first byte of the body.
    pub(crate) answered_within: Duration,
}

const FORM: Measure = Measure {
    most: BODY_LIMIT,
    arrives_within: Duration::from_secs(10),
    answered_within: Duration::from_secs(20),
};
/// Some 3 Mbit/s: a photo straight from a camera over the network of a yard.
const PHOTO: Measure = Measure {
    most: PHOTO_LIMIT,
    arrives_within: Duration::from_secs(30),
    answered_within: Duration::from_mins(1),
};

impl Measure {
    pub(crate) fn of(request: &Request) -> Self {
        let path = request.extensions().get::<MatchedPath>();
        match path.map(MatchedPath::as_str) {
            Some(photo::ADDRESS | waiting::photo::ADDRESS) => PHOTO,
            _ => FORM,
        }
    }
}

pub(crate) async fn read_whole(request: Request, next: Next) -> Response {
    let measure = Measure::of(&request);
    let (parts, body) = request.into_parts();
    if waits_for_leave_to_send_too_much(&parts.headers, measure.most) {
        return too_large(measure).into_response();
    }
    match timeout(measure.arrives_within, collect(body, measure)).await {
        Ok(Ok((bytes, place))) => {
            let answer = next
                .run(Request::from_parts(parts, Body::from(bytes)))
                .await;
            drop(place);
            answer
        }
        Ok(Err(refusal)) => refusal.into_response(),
        Err(_) => WebError::BodyTooSlow {
            seconds: measure.arrives_within.as_secs(),
        }
        .into_response(),
    }
}

type Place = Option<SemaphorePermit<'static>>;

async fn collect(mut body: Body, measure: Measure) -> Result<(Bytes, Place), WebError> {
    let mut kept = Vec::new();
    let mut place = None;
    let mut thrown_away = 0_usize;
    while let Some(frame) = body.frame().await {
        let frame = frame.map_err(|_| WebError::NotReadable {
            found: "a body that broke off".to_owned(),
        })?;
        // What is not data are trailers, which nothing here uses.
        let Ok(data) = frame.into_data() else {
            continue;
        };
        let length = kept.len().saturating_add(data.len());
        if thrown_away == 0 && length <= measure.most {
            if length > BODY_LIMIT && place.is_none() {
                place = Some(place_for_a_large_one().await?);
            }
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
        Err(too_large(measure))
    } else {
        Ok((kept.into(), place))
    }
}

async fn place_for_a_large_one() -> Result<SemaphorePermit<'static>, WebError> {
    let place = timeout(PLACE_WITHIN, LARGE.acquire()).await;
    let busy = || {
        WebError::NotConfirmed {
        detail: "many photos are being sent just now, so this one was not kept; add it again in a minute".to_owned(),
    }
    };
    place.map_err(|_| busy())?.map_err(WebError::fault)
}

fn too_large(measure: Measure) -> WebError {
    WebError::BodyTooLarge {
        most_mib: measure.most / (1024 * 1024),
    }
}

/// A client that sends `Expect: 100-continue` has sent nothing yet, so it can be told at once.
fn waits_for_leave_to_send_too_much(headers: &HeaderMap, most: usize) -> bool {
    headers.contains_key(header::EXPECT)
        && headers
            .get(header::CONTENT_LENGTH)
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.parse::<usize>().ok())
            .is_some_and(|length| length > most)
}
