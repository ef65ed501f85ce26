//! What a browser sends with a photo (RFC 7578).

use axum::extract::multipart::{Multipart, MultipartError};
use axum::http::StatusCode;

use super::PHOTO;
use crate::WebError;
use crate::form::Form;

/// The page has two fields; whatever sends many more is not that page.
const MOST_PARTS: usize = 8;

pub(super) struct Sent {
    pub(super) form: Form,
    /// None when none was chosen, which hangs on its field.
    pub(super) photo: Option<Vec<u8>>,
}

pub(super) async fn read(mut parts: Multipart) -> Result<Sent, WebError> {
    let mut values: Vec<(String, String)> = Vec::new();
    let mut photos = Vec::new();
    let mut count = 0_usize;
    while let Some(part) = parts.next_field().await.map_err(|error| broken(&error))? {
        count += 1;
        if count > MOST_PARTS {
            return Err(not_readable("more fields than the page has"));
        }
        let name = part.name().unwrap_or_default().to_owned();
        let bytes = part.bytes().await.map_err(|error| broken(&error))?;
        if name == PHOTO.0 {
            // A browser sends an empty part where nothing was chosen.
            photos.extend(Some(bytes).filter(|bytes| !bytes.is_empty()));
        } else {
            values.push((name, String::from_utf8_lossy(&bytes).into_owned()));
        }
    }
    let mut form = Form::with(values);
    match photos.len() {
        0 => form.note(
            PHOTO.0,
            PHOTO.1,
            "nothing is chosen; take a photo or choose one",
        ),
        1 => {}
        many => {
            let found = format!("found {many} photos; send them one by one");
            form.note(PHOTO.0, PHOTO.1, found);
        }
    }
    Ok(Sent {
        photo: photos.pop().map(Vec::from),
        form,
    })
}

fn not_readable(found: &str) -> WebError {
    WebError::NotReadable {
        found: found.to_owned(),
    }
}

fn broken(error: &MultipartError) -> WebError {
    if error.status() == StatusCode::PAYLOAD_TOO_LARGE {
        return WebError::BodyTooLarge {
            most_mib: photo::MOST_BYTES / (1024 * 1024),
        };
    }
    tracing::debug!(%error, "a photo's form broke off");
    not_readable("a form that breaks off")
}
