//! Everything that can go wrong with a request, and how it is told.
//!
//! JSON clients get `application/problem+json` (RFC 9457); people get a small page with a way onward.
//! This is the only file that knows status codes.

use std::{error::Error, fmt};

use askama::Template;
use axum::{
    extract::{Path, State},
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use domain::fleet::Role;
use serde::Serialize;

use crate::{
    AppState,
    answer::{RequestId, Wish},
    desk::{Cookies, Frame, role_word},
    page,
};

/// Why a request was not answered with what it asked for.
#[derive(Debug)]
pub enum WebError {
    /// What arrived cannot be read; `found` says what it was.
    NotReadable {
        found: String,
    },
    NotFound,
    MethodNotAllowed,
    BodyTooSlow {
        seconds: u64,
    },
    BodyTooLarge {
        most_mib: usize,
    },
    /// A rule or a field says no; every reason at once.
    Refused {
        detail: String,
        problems: Vec<FieldProblem>,
    },
    /// The key stands for another job already.
    KeyUsed {
        job: i64,
    },
    NotJson,
    /// A form was expected.
    NotAForm,
    /// A page of another site sent it.
    OtherSite,
    /// Signed on, but in none of these roles.
    NotAllowed {
        roles: &'static [Role],
    },
    TokenNeeded,
    TokenNotSetUp,
    /// It was sent to a name that is not this server's.
    Misdirected {
        found: String,
    },
    /// It may or may not have been done; the same request again settles it.
    NotConfirmed {
        detail: String,
    },
    /// Our own fault. The cause is logged here and never shown.
    Fault(Box<dyn Error + Send + Sync>),
}

/// What is wrong with one field of a form or a JSON body.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FieldProblem {
    pub field: String,
    /// What was in it, where that helps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found: Option<String>,
    pub problem: String,
}

/// The kinds of problem, each with an address that explains it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProblemKind {
    NotReadable,
    NotFound,
    MethodNotAllowed,
    BodyTooSlow,
    BodyTooLarge,
    Refused,
    KeyUsed,
    NotJson,
    NotAForm,
    OtherSite,
    NotAllowed,
    TokenNeeded,
    TokenNotSetUp,
    Misdirected,
    OurFault,
    NotConfirmed,
    /// A refusal of the HTTP layer that has no words of its own here.
    Other(StatusCode),
}

/// Rides on an answer until the outermost layer, which knows the request id and who is asking.
#[derive(Clone, Debug)]
pub(crate) struct Problem {
    kind: ProblemKind,
    detail: String,
    problems: Vec<FieldProblem>,
}

#[derive(Serialize)]
struct ProblemDocument<'a> {
    #[serde(rename = "type")]
    address: &'a str,
    title: &'a str,
    status: u16,
    detail: &'a str,
    instance: &'a str,
    #[serde(skip_serializing_if = "<[FieldProblem]>::is_empty")]
    problems: &'a [FieldProblem],
}

impl ProblemKind {
    const EXPLAINED: [Self; 16] = [
        Self::NotReadable,
        Self::NotFound,
        Self::MethodNotAllowed,
        Self::BodyTooSlow,
        Self::BodyTooLarge,
        Self::Refused,
        Self::KeyUsed,
        Self::NotJson,
        Self::NotAForm,
        Self::OtherSite,
        Self::NotAllowed,
        Self::TokenNeeded,
        Self::TokenNotSetUp,
        Self::Misdirected,
        Self::OurFault,
        Self::NotConfirmed,
    ];

    pub const fn status(self) -> StatusCode {
        match self {
            Self::NotReadable => StatusCode::BAD_REQUEST,
            Self::NotFound => StatusCode::NOT_FOUND,
            Self::MethodNotAllowed => StatusCode::METHOD_NOT_ALLOWED,
            Self::BodyTooSlow => StatusCode::REQUEST_TIMEOUT,
            Self::BodyTooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::Refused | Self::KeyUsed => StatusCode::UNPROCESSABLE_ENTITY,
            Self::NotJson | Self::NotAForm => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Self::OtherSite | Self::NotAllowed | Self::TokenNotSetUp => StatusCode::FORBIDDEN,
            Self::TokenNeeded => StatusCode::UNAUTHORIZED,
            Self::Misdirected => StatusCode::MISDIRECTED_REQUEST,
            Self::OurFault => StatusCode::INTERNAL_SERVER_ERROR,
            Self::NotConfirmed => StatusCode::SERVICE_UNAVAILABLE,
            Self::Other(status) => status,
        }
    }

    /// The last part of the problem's address; stable, programs may compare it.
    const fn slug(self) -> Option<&'static str> {
        Some(match self {
            Self::NotReadable => "not-readable",
            Self::NotFound => "not-found",
            Self::MethodNotAllowed => "method-not-allowed",
            Self::BodyTooSlow => "body-too-slow",
            Self::BodyTooLarge => "body-too-large",
            Self::Refused => "refused",
            Self::KeyUsed => "key-used-for-another-job",
            Self::NotJson => "not-json",
            Self::NotAForm => "not-a-form",
            Self::NotAllowed => "not-allowed",
            Self::OtherSite => "other-site",
            Self::TokenNeeded => "token-needed",
            Self::TokenNotSetUp => "token-not-set-up",
            Self::Misdirected => "misdirected",
            Self::OurFault => "our-fault",
            Self::NotConfirmed => "not-confirmed",
            Self::Other(_) => return None,
        })
    }

    fn address(self) -> String {
        self.slug().map_or_else(
            || "about:blank".to_owned(),
            |slug| format!("/problems/{slug}"),
        )
    }

    fn title(self) -> &'static str {
        match self {
            Self::NotReadable => "Not readable",
            Self::NotFound => "Nothing here",
            Self::MethodNotAllowed => "Not in this way",
            Self::BodyTooSlow => "Took too long to arrive",
            Self::BodyTooLarge => "Too large",
            Self::Refused => "Not saved",
            Self::KeyUsed => "Not saved: the key stands for another job",
            Self::NotJson => "Not JSON",
            Self::NotAForm => "Not a form",
            Self::NotAllowed => "Not yours to do",
            Self::OtherSite => "Sent by another site",
            Self::TokenNeeded => "Token needed",
            Self::TokenNotSetUp => "No token set up",
            Self::Misdirected => "Sent to another name",
            Self::OurFault => "Our fault",
            Self::NotConfirmed => "Not confirmed",
            Self::Other(status) => status.canonical_reason().unwrap_or("Not done"),
        }
    }

    const fn meaning(self) -> &'static str {
        match self {
            Self::NotReadable => {
                "What arrived could not be read, so nothing was done with it. Put it right and send it again."
            }
            Self::NotFound => {
                "There is nothing at this address, or it belongs to another shop. \
                 Start from the start page and look it up there."
            }
            Self::MethodNotAllowed => {
                "The address exists but does not take this kind of request. \
                 The Allow header of the answer lists what it takes."
            }
            Self::BodyTooSlow => {
                "The whole request did not arrive in time, so nothing was done with it. Send it again."
            }
            Self::BodyTooLarge => {
                "What was sent is larger than the server takes, so nothing was done with it. \
                 Go back, shorten the note or send fewer lines at once."
            }
            Self::Refused => {
                "Something has to be put right first; the answer names each field. Nothing was saved."
            }
            Self::KeyUsed => {
                "A key stands for one job for ever. This one was used for another job, so nothing was saved. \
                 Open that job to compare, or send this one with a key of its own."
            }
            Self::NotJson => {
                "This address takes JSON, sent with the header Content-Type: application/json. Nothing was done."
            }
            Self::NotAForm => {
                "This address takes the form of its own page. Nothing was done; open the page and fill it in there."
            }
            Self::NotAllowed => {
                "This is for people in another role, so nothing was done. The page says who can do it."
            }
            Self::OtherSite => {
                "A page of another site sent this, which it may not do in anybody's name. Nothing was done."
            }
            Self::TokenNeeded => {
                "Another program shows its token in the header Authorization: Bearer TOKEN. Nothing was done."
            }
            Self::TokenNotSetUp => {
                "Over the network the JSON interface needs a token, and this server has none. Whoever looks after \
                 it starts it with serve --api-token-file FILE. Nothing was done."
            }
            Self::Misdirected => {
                "The request was sent to a name that is not this server's, so nothing was done. On the machine itself \
                 it is reached at localhost or 127.0.0.1; behind a proxy at the name given with --origin, which the \
                 proxy must pass on in the header Host."
            }
            Self::OurFault => {
                "The server went wrong, not you. The reference number finds the cause in its log. \
                 Send it again; the same job is never counted twice."
            }
            Self::NotConfirmed => {
                "It may or may not have been saved. Send the same form again: the same job is never counted twice."
            }
            Self::Other(_) => "The request could not be taken as it was sent.",
        }
    }
}

impl WebError {
    pub fn fault(cause: impl Into<Box<dyn Error + Send + Sync>>) -> Self {
        Self::Fault(cause.into())
    }

    fn into_problem(self) -> Problem {
        let plain = |kind, detail: String| Problem {
            kind,
            detail,
            problems: Vec::new(),
        };
        match self {
            Self::NotReadable { found } => plain(
                ProblemKind::NotReadable,
                format!("found {found}; nothing was done with it; put it right and send it again"),
            ),
            Self::NotFound => plain(
                ProblemKind::NotFound,
                "there is nothing at this address; look it up from the start page".to_owned(),
            ),
            Self::MethodNotAllowed => plain(
                ProblemKind::MethodNotAllowed,
                "this address does not take this kind of request; the Allow header lists what it takes".to_owned(),
            ),
            Self::BodyTooSlow { seconds } => plain(
                ProblemKind::BodyTooSlow,
                format!("the request did not arrive whole within {seconds} s; nothing was done with it; send it again"),
            ),
            Self::BodyTooLarge { most_mib } => plain(
                ProblemKind::BodyTooLarge,
                format!("the request is larger than {most_mib} MiB, which is the most the server takes here; nothing was done with it; \
                 go back and send less at once"),
            ),
            Self::Refused { detail, problems } => Problem { kind: ProblemKind::Refused, detail, problems },
            Self::KeyUsed { job } => plain(
                ProblemKind::KeyUsed,
                format!("this key was used for job {job}, which says something else; nothing was saved; open job {job}, or send this one with a new key"),
            ),
            Self::NotJson => plain(ProblemKind::NotJson, ProblemKind::NotJson.meaning().to_owned()),
            Self::NotAForm => plain(ProblemKind::NotAForm, ProblemKind::NotAForm.meaning().to_owned()),
            Self::NotAllowed { roles } => plain(ProblemKind::NotAllowed, only_for(roles)),
            Self::OtherSite => plain(ProblemKind::OtherSite, ProblemKind::OtherSite.meaning().to_owned()),
            Self::TokenNeeded => plain(ProblemKind::TokenNeeded, ProblemKind::TokenNeeded.meaning().to_owned()),
            Self::TokenNotSetUp => plain(ProblemKind::TokenNotSetUp, ProblemKind::TokenNotSetUp.meaning().to_owned()),
            Self::Misdirected { found } => plain(
                ProblemKind::Misdirected,
                format!("the request was sent to {found}, which is not a name of this server; nothing was done; open it at its own address"),
            ),
            Self::NotConfirmed { detail } => plain(ProblemKind::NotConfirmed, detail),
            Self::Fault(cause) => {
                tracing::error!(cause = %Chain(&*cause), "a request failed through our own fault");
                Problem::our_fault()
            }
        }
    }
}

impl IntoResponse for WebError {
    fn into_response(self) -> Response {
        self.into_problem().into_response()
    }
}

impl Problem {
    pub(crate) fn our_fault() -> Self {
        Self {
            kind: ProblemKind::OurFault,
            detail:
                "the server went wrong, not you; send it again, and if it stays so give the reference number \
                     to whoever looks after the server"
                    .to_owned(),
            problems: Vec::new(),
        }
    }

    /// For refusals that a library made in its own words, which people should not have to read.
    pub(crate) fn of_status(status: StatusCode) -> Self {
        let kind = ProblemKind::EXPLAINED
            .into_iter()
            .find(|kind| kind.status() == status)
            .unwrap_or(ProblemKind::Other(status));
        Self {
            kind,
            detail: kind.meaning().to_owned(),
            problems: Vec::new(),
        }
    }

    pub(crate) fn render(&self, id: RequestId, wish: Wish, frame: Frame) -> Response {
        match wish {
            Wish::Json => self.json(id),
            Wish::Page => self.page(id, frame),
        }
    }

    fn json(&self, id: RequestId) -> Response {
        let document = ProblemDocument {
            address: &self.kind.address(),
            title: self.kind.title(),
            status: self.kind.status().as_u16(),
            detail: &self.detail,
            instance: &format!("urn:uuid:{id}"),
            problems: &self.problems,
        };
        let kind = HeaderValue::from_static("application/problem+json");
        // Plain texts and a number always become JSON; the fallback only spares a panic.
        let body = serde_json::to_string(&document).unwrap_or_else(|_| "{}".to_owned());
        (self.kind.status(), [(header::CONTENT_TYPE, kind)], body).into_response()
    }

    fn page(&self, id: RequestId, frame: Frame) -> Response {
        let page = ProblemPage {
            frame: Frame {
                title: self.kind.title().to_owned(),
                ..frame
            },
            sentence: page::sentence(&self.detail),
            problems: self
                .problems
                .iter()
                .map(|problem| (problem.field.clone(), page::sentence(&problem.problem)))
                .collect(),
            reference: Some(id.to_string()),
        };
        (self.kind.status(), page::shown(&page)).into_response()
    }
}

/// A problem as people see it, and what the address of a problem says.
#[derive(Template)]
#[template(path = "problem.html")]
struct ProblemPage {
    frame: Frame,
    sentence: String,
    /// Field and sentence.
    problems: Vec<(String, String)>,
    reference: Option<String>,
}

/// "only a lead hand or a shop manager can do this; ask one of them".
fn only_for(roles: &[Role]) -> String {
    let words: Vec<String> = roles
        .iter()
        .map(|role| {
            let word = role_word(*role);
            let article = if word.starts_with('a') { "an" } else { "a" };
            format!("{article} {word}")
        })
        .collect();
    let listed = match words.as_slice() {
        [] => "nobody".to_owned(),
        [one] => one.clone(),
        [many @ .., last] => format!("{} or {last}", many.join(", ")),
    };
    format!(
        "only {listed} can do this, so nothing was done; ask one of them, or sign on as somebody who can"
    )
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut response = self.kind.status().into_response();
        if matches!(self.kind, ProblemKind::NotConfirmed) {
            response
                .headers_mut()
                .insert(header::RETRY_AFTER, HeaderValue::from_static("5"));
        }
        if matches!(self.kind, ProblemKind::TokenNeeded) {
            response
                .headers_mut()
                .insert(header::WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        response.extensions_mut().insert(self);
        response
    }
}

/// GET /problems/{slug}: what a problem's address means.
pub(crate) async fn explain(
    State(state): State<AppState>,
    headers: HeaderMap,
    Path(slug): Path<String>,
) -> Result<Response, WebError> {
    let kind = ProblemKind::EXPLAINED
        .into_iter()
        .find(|kind| kind.slug() == Some(&slug))
        .ok_or(WebError::NotFound)?;
    let page = ProblemPage {
        frame: Frame::bare(
            kind.title(),
            state.mark,
            Cookies::of(&headers, &state.transport).look(),
        ),
        sentence: format!(
            "{} (HTTP status {})",
            kind.meaning(),
            kind.status().as_u16()
        ),
        problems: Vec::new(),
        reference: None,
    };
    Ok(page::shown(&page).into_response())
}

/// A cause with all its own causes, on one line.
struct Chain<'a>(&'a (dyn Error + 'static));

impl fmt::Display for Chain<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)?;
        let mut cause = self.0.source();
        while let Some(inner) = cause {
            write!(f, ": {inner}")?;
            cause = inner.source();
        }
        Ok(())
    }
}
