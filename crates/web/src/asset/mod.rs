//! GET /static/{name}: style, script and fonts, built in and kept by browsers for good.
//!
//! A name ends in a hash of the contents, so what a name stands for never changes. `build.rs` makes
//! the list and a constant with the address of every file.

#[cfg(test)]
mod look;
#[cfg(test)]
mod tests;

use axum::{
    body::{Body, Bytes},
    extract::Path,
    http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};

use crate::WebError;
use crate::desk::ScreenSize;

/// One built-in file.
struct Asset {
    url: &'static str,
    content_type: &'static str,
    /// The smallest first; the last one is not packed.
    forms: &'static [Form],
}

/// A file's bytes, packed or as they are.
struct Form {
    /// Name of the packing; empty for none.
    encoding: &'static str,
    tag: &'static str,
    bytes: &'static [u8],
}

include!(concat!(env!("OUT_DIR"), "/assets.rs"));

const FOR_GOOD: HeaderValue = HeaderValue::from_static("public, max-age=31536000, immutable");
const ASKED_FOR_ANEW: HeaderValue = HeaderValue::from_static("no-cache");
const BY_ENCODING: HeaderValue = HeaderValue::from_static("accept-encoding");

pub(crate) async fn serve(
    Path(name): Path<String>,
    headers: HeaderMap,
) -> Result<Response, WebError> {
    if let Some(size) = ScreenSize::of_file(&name) {
        // Its name says all that is in it.
        let kept = [
            (header::CACHE_CONTROL, FOR_GOOD),
            (
                header::CONTENT_TYPE,
                HeaderValue::from_static("text/css; charset=utf-8"),
            ),
        ];
        return Ok((kept, size.style()).into_response());
    }
    let asset = ASSETS
        .iter()
        .find(|asset| asset.url.strip_prefix("/static/") == Some(name.as_str()));
    answer(asset, &headers, FOR_GOOD)
}

/// GET /worker.js: the one script whose address must stay the same. It works for the whole site
/// because it is served at its root, and is asked for anew each time.
pub(crate) async fn serve_worker(headers: HeaderMap) -> Result<Response, WebError> {
    let asset = ASSETS.iter().find(|asset| asset.url == WORKER_JS);
    answer(asset, &headers, ASKED_FOR_ANEW)
}

fn answer(
    asset: Option<&'static Asset>,
    headers: &HeaderMap,
    kept: HeaderValue,
) -> Result<Response, WebError> {
    let (asset, form) = asset
        .and_then(|asset| Some((asset, asset.form_for(headers)?)))
        .ok_or(WebError::NotFound)?;
    let always = [
        (header::CACHE_CONTROL, kept),
        (header::VARY, BY_ENCODING),
        (header::ETAG, HeaderValue::from_static(form.tag)),
    ];
    if is_known(headers, form.tag) {
        return Ok((StatusCode::NOT_MODIFIED, always).into_response());
    }
    let bytes = Body::from(Bytes::from_static(form.bytes));
    let kind = HeaderValue::from_static(asset.content_type);
    let mut response = (always, [(header::CONTENT_TYPE, kind)], bytes).into_response();
    if !form.encoding.is_empty() {
        let encoding = HeaderValue::from_static(form.encoding);
        response
            .headers_mut()
            .insert(header::CONTENT_ENCODING, encoding);
    }
    Ok(response)
}

impl Asset {
    /// The smallest form that the client takes.
    fn form_for(&self, headers: &HeaderMap) -> Option<&'static Form> {
        self.forms
            .iter()
            .find(|form| form.encoding.is_empty() || takes(headers, form.encoding))
    }
}

/// Whether the client names this packing and does not rule it out with `q=0`.
fn takes(headers: &HeaderMap, encoding: &str) -> bool {
    words(headers, header::ACCEPT_ENCODING).any(|word| {
        let (name, weight) = word.split_once(';').unwrap_or((word, "q=1"));
        let weight = weight.trim().trim_start_matches("q=");
        name.trim().eq_ignore_ascii_case(encoding)
            && weight.parse::<f32>().is_ok_and(|weight| weight > 0.0)
    })
}

/// Whether the client holds these bytes already.
fn is_known(headers: &HeaderMap, tag: &str) -> bool {
    words(headers, header::IF_NONE_MATCH)
        .any(|known| known == "*" || known.trim_start_matches("W/") == tag)
}

/// The comma-separated words of a header.
fn words(headers: &HeaderMap, name: HeaderName) -> impl Iterator<Item = &str> {
    headers
        .get_all(name)
        .into_iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(','))
        .map(str::trim)
}
