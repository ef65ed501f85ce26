//! What holds for every answer: a request id, the security headers, one log line, and problems told
//! in the form the client can use.

use std::{any::Any, fmt};

use axum::{
    extract::{MatchedPath, Request, State},
    http::{HeaderMap, HeaderName, HeaderValue, Method, header},
    middleware::Next,
    response::{IntoResponse, Response},
};
use tokio::time::{Instant, timeout};
use tracing::Instrument;
use uuid::Uuid;

use crate::{
    AppState, Transport, WebError, asset,
    body::Measure,
    desk::{Cookies, Frame},
    error::Problem,
};

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
/// Tells an answer of ours from what something on the way answered in our place, and one build's
/// pages from another's.
const APP_VERSION: HeaderName = HeaderName::from_static("x-app-version");

const CONTENT_SECURITY_POLICY: HeaderValue = HeaderValue::from_static(
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; connect-src 'self'; \
     manifest-src 'self'; worker-src 'self'; img-src 'self' blob:; form-action 'self'; base-uri 'none'; \
     frame-ancestors 'none'",
);

/// Camera for reading labels, wake lock for a hold that is being watched; nothing else.
const PERMISSIONS_POLICY: HeaderValue = HeaderValue::from_static(
    "camera=(self), screen-wake-lock=(self), accelerometer=(), autoplay=(), bluetooth=(), display-capture=(), \
     encrypted-media=(), fullscreen=(), geolocation=(), gyroscope=(), hid=(), magnetometer=(), microphone=(), \
     midi=(), payment=(), serial=(), usb=(), xr-spatial-tracking=()",
);

const STRICT_TRANSPORT_SECURITY: HeaderValue =
    HeaderValue::from_static("max-age=31536000; includeSubDomains");

/// Names one request in its answer, its problem document and the log. Always our own: an id that a
/// client sends is not taken over, so that it cannot be made to collide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RequestId(Uuid);

impl fmt::Display for RequestId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// In which form the client wants to be told about a problem.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Wish {
    Page,
    Json,
}

impl Wish {
    /// A browser lists HTML; a program lists JSON, sends JSON, or uses the JSON interface's addresses.
    fn of(request: &Request) -> Self {
        let path = request.uri().path();
        let in_json_interface = path == "/api" || path.starts_with("/api/");
        let sends_json = || mentions(request.headers(), &header::CONTENT_TYPE, "json");
        match Self::accepted(request.headers()) {
            Some(wish) => wish,
            None if in_json_interface || sends_json() => Self::Json,
            None => Self::Page,
        }
    }

    /// What the client says it takes; nothing where it names neither.
    pub(crate) fn accepted(headers: &HeaderMap) -> Option<Self> {
        let takes = |word| mentions(headers, &header::ACCEPT, word);
        if takes("text/html") {
            return Some(Self::Page);
        }
        takes("json").then_some(Self::Json)
    }
}

fn mentions(headers: &HeaderMap, name: &HeaderName, word: &str) -> bool {
    headers.get_all(name).iter().any(|value| {
        value
            .to_str()
            .is_ok_and(|value| value.to_ascii_lowercase().contains(word))
    })
}

/// The outermost layer.
pub(crate) async fn complete(
    State(state): State<AppState>,
    mut request: Request,
    next: Next,
) -> Response {
    let id = RequestId(Uuid::new_v4());
    let wish = Wish::of(&request);
    // The pattern, never the address as typed: addresses can hold what does not belong in a log.
    let frame = Frame::bare(
        "",
        state.mark,
        Cookies::of(request.headers(), &state.transport).look(),
    );
    let route = request
        .extensions()
        .get::<MatchedPath>()
        .map_or_else(|| "-".to_owned(), |path| path.as_str().to_owned());
    let span = tracing::info_span!("request", request.id = %id, http.method = method_name(request.method()), http.route = route);
    request.extensions_mut().insert(id);

    let started = Instant::now();
    let response = next.run(request).instrument(span.clone()).await;
    let mut response = in_our_words(response, (id, wish), frame);
    set_headers(response.headers_mut(), &state.transport);
    if let Ok(value) = HeaderValue::from_str(&id.to_string()) {
        response.headers_mut().insert(REQUEST_ID, value);
    }
    let ms = u64::try_from(started.elapsed().as_millis()).unwrap_or(u64::MAX);
    span.in_scope(|| tracing::info!(http.status = response.status().as_u16(), ms, "answered"));
    response
}

/// Ends a request that nobody would wait for any longer.
pub(crate) async fn in_time(request: Request, next: Next) -> Response {
    let within = Measure::of(&request).answered_within;
    match timeout(within, next.run(request)).await {
        Ok(response) => response,
        Err(_) => WebError::NotConfirmed {
            detail: format!(
                "no answer was ready within {} s; send the same again, the same job is never counted twice",
                within.as_secs()
            ),
        }
        .into_response(),
    }
}

/// The panic itself is logged by the program's panic hook, inside the request's span.
pub(crate) fn after_panic(_payload: Box<dyn Any + Send>) -> Response {
    Problem::our_fault().into_response()
}

fn in_our_words(response: Response, (id, wish): (RequestId, Wish), frame: Frame) -> Response {
    let status = response.status();
    let refused = status.is_client_error() || status.is_server_error();
    let problem = match response.extensions().get::<Problem>() {
        Some(problem) => problem.clone(),
        None if refused && is_in_a_librarys_words(response.headers()) => Problem::of_status(status),
        None => return response,
    };
    let mut told = problem.render(id, wish, frame);
    for name in [
        header::ALLOW,
        header::RETRY_AFTER,
        header::CONNECTION,
        header::WWW_AUTHENTICATE,
    ] {
        if let Some(value) = response.headers().get(&name) {
            told.headers_mut().insert(name, value.clone());
        }
    }
    told
}

/// Our own answers are pages or JSON; what libraries make by themselves is bare or plain text.
fn is_in_a_librarys_words(headers: &HeaderMap) -> bool {
    headers
        .get(header::CONTENT_TYPE)
        .is_none_or(|value| value.as_bytes().starts_with(b"text/plain"))
}

fn set_headers(headers: &mut HeaderMap, transport: &Transport) {
    // A handler may have said something stricter (downloads) or longer-lived (files named by their hash).
    headers
        .entry(header::CONTENT_SECURITY_POLICY)
        .or_insert(CONTENT_SECURITY_POLICY);
    headers
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    for (name, value) in [
        (
            header::X_CONTENT_TYPE_OPTIONS,
            HeaderValue::from_static("nosniff"),
        ),
        (
            header::REFERRER_POLICY,
            HeaderValue::from_static("same-origin"),
        ),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            HeaderValue::from_static("same-origin"),
        ),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            HeaderValue::from_static("same-origin"),
        ),
        (
            HeaderName::from_static("permissions-policy"),
            PERMISSIONS_POLICY,
        ),
        (APP_VERSION, HeaderValue::from_static(asset::VERSION)),
    ] {
        headers.insert(name, value);
    }
    if transport.is_https() {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, STRICT_TRANSPORT_SECURITY);
    }
}

/// A method is any word a client likes; only the known ones go to the log.
fn method_name(method: &Method) -> &'static str {
    const KNOWN: [(&Method, &str); 9] = [
        (&Method::GET, "GET"),
        (&Method::HEAD, "HEAD"),
        (&Method::POST, "POST"),
        (&Method::PUT, "PUT"),
        (&Method::PATCH, "PATCH"),
        (&Method::DELETE, "DELETE"),
        (&Method::OPTIONS, "OPTIONS"),
        (&Method::TRACE, "TRACE"),
        (&Method::CONNECT, "CONNECT"),
    ];
    KNOWN
        .into_iter()
        .find(|(known, _)| *known == method)
        .map_or("other", |(_, name)| name)
}
