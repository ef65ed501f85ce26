//! The photos of a job as its page shows them, and `/jobs/{job}/photos/{photo}`, the bytes.

use axum::extract::Path;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use domain::fact::What;
use domain::words::Text;
use storage::{PhotoRow, Read};

use super::{AddForm, MOST, may_add};
use crate::desk::Desk;
use crate::form::Form;
use crate::job::told::Told;
use crate::record::{Names, Wanted};
use crate::{WebError, figure};

/// A photo is looked at and does nothing, whatever is in it.
const NOTHING_RUNS: HeaderValue = HeaderValue::from_static("default-src 'none'; sandbox");
const JPEG: HeaderValue = HeaderValue::from_static("image/jpeg");

/// The photos on a job's page.
#[derive(Debug)]
pub(crate) struct Part {
    pub(crate) shown: Vec<Shown>,
    /// One sentence for each that was taken out of sight.
    pub(crate) removed: Vec<String>,
    /// None for those who may not add one.
    pub(crate) add: Option<AddForm>,
}

/// One photo in sight.
#[derive(Clone, Debug)]
pub(crate) struct Shown {
    pub(crate) address: String,
    pub(crate) width: i64,
    pub(crate) height: i64,
    /// "Photo 1 of 3".
    pub(crate) place: String,
    /// What it shows; empty where nobody said it.
    pub(crate) caption: String,
    /// "P10, Ostrin Marrable, 2026-10-05 07:45".
    pub(crate) added: String,
    /// Where it is taken out of sight, for those who may.
    pub(crate) remove: Option<String>,
}

impl Part {
    /// `may_remove`: whoever may void the job.
    pub(crate) async fn of(
        desk: &Desk,
        read: &mut Read,
        (told, may_remove): (&Told, bool),
    ) -> Result<Self, WebError> {
        let photos = read.list_photos(told.key).await.map_err(WebError::fault)?;
        let (stand, gone): (Vec<_>, Vec<_>) = photos
            .into_iter()
            .partition(|photo| photo.removed_by.is_none());
        let mut wanted = Wanted::default();
        for photo in &stand {
            wanted.people.extend(photo.person);
            wanted.text(caption(photo).as_ref());
        }
        let names = Names::of(read, wanted).await?;
        let mut removed = Vec::new();
        for photo in &gone {
            removed.extend(removal(desk, read, photo).await?);
        }
        let of = stand.len();
        let shown = stand.iter().enumerate().map(|(before, photo)| {
            let address = format!("/jobs/{}/photos/{}", told.key, photo.key);
            Shown {
                width: photo.width,
                height: photo.height,
                place: format!("Photo {} of {of}", before.saturating_add(1)),
                caption: caption(photo)
                    .map_or_else(String::new, |caption| names.text(&caption, "words removed")),
                added: format!(
                    "{}, {}",
                    names.person(photo.person),
                    figure::time(photo.at, desk.zone())
                ),
                remove: may_remove.then(|| format!("{address}/remove")),
                address,
            }
        });
        Ok(Self {
            shown: shown.collect(),
            removed,
            add: (may_add(desk, told) && of < MOST).then(|| AddForm::of(told, &Form::default())),
        })
    }

    /// Whether its section would say nothing.
    pub(crate) fn is_empty(&self) -> bool {
        self.shown.is_empty() && self.removed.is_empty() && self.add.is_none()
    }
}

pub(super) fn caption(photo: &PhotoRow) -> Option<Text> {
    photo.caption_digest.clone().map(Text::Digest)
}

/// "A photo was taken out of sight by P10 …, 2026-10-05 07:45. Reason: It shows a person."
async fn removal(
    desk: &Desk,
    read: &mut Read,
    photo: &PhotoRow,
) -> Result<Option<String>, WebError> {
    let Some(by) = photo.removed_by else {
        return Ok(None);
    };
    let row = read.find_fact(by).await.map_err(WebError::fault)?;
    let row = row.ok_or_else(|| WebError::fault(format!("{by} is in a view and not on record")))?;
    let fact = row.fact().map_err(WebError::fault)?;
    let What::PhotoRemoved(removed) = &fact.what else {
        return Err(WebError::fault(format!("{by} takes no photo out of sight")));
    };
    let mut wanted = Wanted::default();
    wanted.people.extend(fact.by.person);
    wanted.text(Some(&removed.reason));
    let names = Names::of(read, wanted).await?;
    Ok(Some(format!(
        "A photo was taken out of sight by {}, {}. Reason: {}.",
        names.person(fact.by.person),
        figure::time(domain::moment::Moment(row.at), desk.zone()),
        names
            .text(&removed.reason, "reason removed")
            .trim_end_matches('.')
    )))
}

/// The photo behind a key in an address, while it is in sight, with its place among the others.
pub(super) async fn find(
    read: &mut Read,
    told: &Told,
    photo: &str,
) -> Result<(usize, PhotoRow), WebError> {
    let photos = read.list_photos(told.key).await.map_err(WebError::fault)?;
    photos
        .into_iter()
        .filter(|row| row.removed_by.is_none())
        .enumerate()
        .find(|(_, row)| row.key.to_string() == photo)
        .ok_or(WebError::NotFound)
}

/// GET /jobs/{job}/photos/{photo}
pub(crate) async fn serve(
    desk: Desk,
    Path((job, photo)): Path<(String, String)>,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    let (before, row) = find(&mut read, &told, &photo).await?;
    drop(read);
    let bytes = desk.state.store.read_photo(&row.digest).await;
    let Some(bytes) = bytes.map_err(WebError::fault)? else {
        tracing::error!(
            photo.digest = row.digest,
            "the bytes of a photo are missing or changed"
        );
        return Err(WebError::NotFound);
    };
    let place = before.saturating_add(1);
    let name = format!(
        "attachment; filename=\"job-{}-photo-{place}.jpg\"",
        told.row.seq
    );
    let name = HeaderValue::from_str(&name).map_err(WebError::fault)?;
    Ok((
        [
            (header::CONTENT_TYPE, JPEG),
            (header::CONTENT_SECURITY_POLICY, NOTHING_RUNS),
            (header::CONTENT_DISPOSITION, name),
        ],
        bytes,
    )
        .into_response())
}
