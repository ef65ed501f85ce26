//! `POST /tablet/jobs`: a job that waited on a tablet comes in.

use axum::body::Bytes;
use axum::extract::{Extension, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use domain::fact::Proved;
use domain::fleet::{Person, Role};
use domain::ids::{PersonId, ShopId};
use domain::moment::Moment;
use serde_json::{Value, json};
use storage::access::{Session, Tablet, TabletId};

use super::written::{self, Address, Written};
use crate::desk::{Desk, Look, roles_that_count};
use crate::intake;
use crate::job::void;
use crate::job::waited::{self, Became, Waited};
use crate::sign_on::Door;
use crate::{AppState, Clock, RequestId, WebError};

/// Those who log jobs.
const WORK: &[Role] = &[Role::Technician, Role::LeadHand, Role::Manager];

/// What a tablet is told: JSON always, because a page may be anybody's answer.
pub(super) struct Reply {
    status: u16,
    body: Vec<u8>,
    /// Seconds until it is worth another try.
    wait: Option<u16>,
}

impl Reply {
    pub(super) fn of(status: StatusCode, body: &Value) -> Self {
        Self {
            status: status.as_u16(),
            body: body.to_string().into_bytes(),
            wait: None,
        }
    }

    pub(super) fn not_enrolled() -> Self {
        Self::of(
            StatusCode::UNAUTHORIZED,
            &json!({ "state": "not_enrolled" }),
        )
    }

    pub(super) fn not_readable(text: &str) -> Self {
        let told = json!({ "state": "not_readable", "text": text });
        Self::of(StatusCode::BAD_REQUEST, &told)
    }

    pub(super) fn not_now() -> Self {
        Self {
            wait: Some(5),
            ..Self::of(
                StatusCode::SERVICE_UNAVAILABLE,
                &json!({ "state": "not_now" }),
            )
        }
    }

    fn of_job(written: &Written, became: Became) -> Self {
        match became {
            Became::Taken(answer) => Self {
                status: answer.status,
                body: answer.body,
                wait: None,
            },
            Became::Returned(problems) => {
                let problems: Vec<Value> = problems
                    .iter()
                    .map(|problem| json!({ "field": problem.field, "text": problem.listed() }))
                    .collect();
                let told = json!({ "key": written.key, "state": "returned", "problems": problems });
                Self::of(StatusCode::UNPROCESSABLE_ENTITY, &told)
            }
            Became::UsedForAnother { address } => Self::of(
                StatusCode::UNPROCESSABLE_ENTITY,
                &json!({ "key": written.key, "state": "used_for_another", "address": address }),
            ),
            Became::NotNow => Self::not_now(),
        }
    }
}

impl IntoResponse for Reply {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let kind = HeaderValue::from_static("application/json");
        let mut response = (status, [(header::CONTENT_TYPE, kind)], self.body).into_response();
        if let Some(seconds) = self.wait {
            response
                .headers_mut()
                .insert(header::RETRY_AFTER, HeaderValue::from(seconds));
        }
        response
    }
}

/// POST /tablet/jobs
pub(crate) async fn post(
    State(state): State<AppState>,
    Extension(request): Extension<RequestId>,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let Some(tablet) = tablet(&state, &headers).await? else {
        return Ok(Reply::not_enrolled().into_response());
    };
    let from = Sender {
        shop: tablet.shop,
        tablet: Some(tablet.id),
        request,
    };
    let reply = match take_in(&state, from, &body).await {
        Ok((written, became)) => Reply::of_job(&written, became),
        Err(text) => Reply::not_readable(&text),
    };
    Ok(reply.into_response())
}

/// Where a job that waited comes from.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sender {
    pub(super) shop: ShopId,
    /// None for a file: whoever holds one can write into it.
    pub(super) tablet: Option<TabletId>,
    pub(super) request: RequestId,
}

/// The enrolled tablet that sends JSON from a page of ours.
pub(super) async fn tablet(
    state: &AppState,
    headers: &HeaderMap,
) -> Result<Option<Tablet>, WebError> {
    intake::refuse_other_sites(headers)?;
    if !intake::is_json(headers) {
        return Err(WebError::NotJson);
    }
    Ok(Door::find(state, headers).await?.tablet)
}

/// Takes one job in; otherwise why it cannot be read.
pub(super) async fn take_in(
    state: &AppState,
    from: Sender,
    body: &[u8],
) -> Result<(Written, Became), String> {
    let written = written::read(body)?;
    let became = match take(state, from, &written).await {
        Ok(became) => became,
        Err(WebError::NotReadable { found }) => return Err(found),
        Err(WebError::NotFound) => {
            returned("what it was done on is not on record here; log it anew")
        }
        Err(WebError::NotAllowed { .. }) => {
            returned("the person it goes under may not do this; a lead hand or manager can")
        }
        Err(error) => {
            tracing::error!(?error, "a job that waited could not be looked at");
            Became::NotNow
        }
    };
    Ok((written, became))
}

fn returned(text: &str) -> Became {
    Became::Returned(vec![crate::form::FormProblem {
        field: String::new(),
        label: "Job".to_owned(),
        text: text.to_owned(),
    }])
}

async fn take(state: &AppState, from: Sender, written: &Written) -> Result<Became, WebError> {
    let Some(desk) = desk(state, from, Author::of(written)).await? else {
        return Ok(returned(
            "the person it goes under does not log jobs in this shop now; save it under another name",
        ));
    };
    let waited = Waited {
        key: written.key,
        fields: &written.fields,
        times: written.times,
    };
    match &written.address {
        Address::Sheet { on, subject, kind } => {
            waited::take(&desk, (*on, *subject, kind), waited).await
        }
        Address::Void { job } => void::take_waited(&desk, job, waited).await,
    }
}

/// Under whose name something goes, as a tablet tells it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Author {
    pub(super) person: PersonId,
    pub(super) proved: Proved,
    /// When it was saved, by the tablet's clock.
    pub(super) saved_at: Moment,
    /// The same put right.
    pub(super) saved: Moment,
}

impl Author {
    fn of(written: &Written) -> Self {
        Self {
            person: written.person,
            proved: written.proved,
            saved_at: written.times.saved_at,
            saved: written.times.saved_moment(),
        }
    }
}

/// Where the person stood when they saved it; nothing when they log no jobs in this shop.
pub(super) async fn desk(
    state: &AppState,
    from: Sender,
    author: Author,
) -> Result<Option<Desk>, WebError> {
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let person = read.find_person(author.person).await;
    let person = person
        .map_err(WebError::fault)?
        .filter(|person| person.active && person.shop.is_none_or(|shop| shop == from.shop));
    let shop = read.find_shop(from.shop).await.map_err(WebError::fault)?;
    let (Some(person), Some(shop)) = (person, shop) else {
        return Ok(None);
    };
    let roles = read.list_roles(person.id, shop.id).await;
    let roles = roles.map_err(WebError::fault)?;
    drop(read);
    // Whoever logs jobs here did this one, however they were proved; what it may change of others'
    // is another matter.
    if !roles.iter().any(|role| WORK.contains(role)) {
        return Ok(None);
    }
    let proved = proved(state, (from.tablet, &person), author).await?;
    Ok(Some(Desk {
        state: state.clone(),
        session: Session::gone_by(from.tablet, person.id, (proved, author.saved_at)),
        person,
        name: None,
        roles: roles_that_count(roles, proved),
        shop,
        everywhere: false,
        look: Look::default(),
        path: "/waiting".to_owned(),
        request: from.request,
    }))
}

/// How they were proved, as far as the server knows it too. A tablet can say anything; a name that
/// is not known to have been proved is to be confirmed.
async fn proved(
    state: &AppState,
    (tablet, person): (Option<TabletId>, &Person),
    author: Author,
) -> Result<Proved, WebError> {
    let Some(tablet) = tablet.filter(|_| author.proved != Proved::Unconfirmed) else {
        return Ok(Proved::Unconfirmed);
    };
    let now: Moment = Clock::system().now().into();
    // Sessions run by the machine's clock, jobs by the business clock.
    let since = Moment::from(state.clock.now()).ms_since(author.saved);
    let at = now.plus_ms(since.saturating_neg());
    let was_there = state
        .access
        .was_signed_on((person.id, tablet), author.proved, at)
        .await;
    Ok(if was_there.map_err(WebError::fault)? {
        author.proved
    } else {
        Proved::Unconfirmed
    })
}
