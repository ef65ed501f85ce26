//! `POST /tablet/photos/{job}`: a photo that waited on a tablet comes in, after its job.

use axum::body::Bytes;
use axum::extract::{Extension, Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use domain::fact::Proved;
use domain::ids::PersonId;
use serde::Deserialize;
use serde_json::json;
use uuid::Uuid;

use super::intake::{Author, Reply, Sender, desk};
use super::written;
use crate::intake;
use crate::job::photo::{Kept, take_waited};
use crate::sign_on::Door;
use crate::{AppState, RequestId, WebError};

/// Where it is sent; the body may be larger than a form's.
pub(crate) const ADDRESS: &str = "/tablet/photos/{job}";

/// The body is the picture alone, so the rest stands in the address.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Told {
    person: Uuid,
    /// As of a job: believed where the server knows it too.
    proved: String,
    /// When the photo itself was taken or chosen, by the tablet's clock, ms.
    saved_at: i64,
    #[serde(default)]
    clock_offset_ms: i64,
}

/// POST /tablet/photos/{job}. 200: it stands on its job. 422: it never will. 503: later, perhaps. The job comes first;
/// while it is not on record the photo is returned to wait (409).
pub(crate) async fn post(
    State(state): State<AppState>,
    Extension(request): Extension<RequestId>,
    Path(job): Path<String>,
    Query(told): Query<Told>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    intake::refuse_other_sites(&headers)?;
    let kind = headers.get(header::CONTENT_TYPE);
    if kind.is_none_or(|kind| kind != "image/jpeg") {
        return Ok(Reply::not_readable("a photo is sent as image/jpeg").into_response());
    }
    let Some(tablet) = Door::find(&state, &headers).await?.tablet else {
        return Ok(Reply::not_enrolled().into_response());
    };
    let from = Sender {
        shop: tablet.shop,
        tablet: Some(tablet.id),
        request,
    };
    let times = match written::times((told.saved_at, told.saved_at), told.clock_offset_ms) {
        Ok(times) => times,
        Err(text) => return Ok(Reply::not_readable(&text).into_response()),
    };
    let author = Author {
        person: PersonId(told.person),
        proved: Proved::from_code(&told.proved).unwrap_or(Proved::Unconfirmed),
        saved_at: times.saved_at,
        saved: times.saved_moment(),
    };
    let kept = match desk(&state, from, author).await? {
        None => {
            Kept::Returned("the person it goes under does not log jobs in this shop".to_owned())
        }
        Some(desk) => match take_waited(&desk, &job, (body.to_vec(), times)).await {
            Ok(kept) => kept,
            Err(WebError::NotFound) => {
                let told = json!({ "job": job, "state": "job_first" });
                return Ok(Reply::of(StatusCode::CONFLICT, &told).into_response());
            }
            Err(error) => {
                tracing::warn!(?error, "a photo that waited could not be kept");
                Kept::NotNow(String::new())
            }
        },
    };
    Ok(match kept {
        Kept::InSight => Reply::of(StatusCode::OK, &json!({ "job": job, "state": "accepted" })),
        Kept::Returned(text) => Reply::of(
            StatusCode::UNPROCESSABLE_ENTITY,
            &json!({ "job": job, "state": "returned", "text": text }),
        ),
        Kept::NotNow(_) => Reply::not_now(),
    }
    .into_response())
}
