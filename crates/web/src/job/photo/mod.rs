//! `/jobs/{job}/photos`: photos of a job, added to it once it is on record.
//!
//! What is sent is drawn anew by the crate `photo`; only that is kept. A photo is known by its job and
//! its bytes, so the same photo sent twice, from one page or two, is one.

mod kept;
pub(crate) mod remove;
mod sent;

use std::time::Duration;

use askama::Template;
use axum::extract::Path;
use axum::extract::multipart::{Multipart, MultipartRejection};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::{Fact, Photo, What};
use domain::fleet::Role;
use domain::ids::FactKey;
use domain::words::Text;
use photo::{Clean, Refused};
use storage::{AppendError, Appended, Command, Store, StoredAnswer, Via};
use tokio::sync::Semaphore;
use tokio::time::timeout;

pub(crate) use self::kept::{Part, serve};
use self::sent::Sent;
use super::told::{self, Stands, Told};
use super::waited::{Times, beyond_the_calendar};
use crate::component::{TextField, Width};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::intake::derived;
use crate::record::Names;
use crate::{WebError, page};

/// Where photos are sent; the body of such a request may be larger than a form's.
pub(crate) const ADDRESS: &str = "/jobs/{job}/photos";

const PHOTO: (&str, &str) = ("photo", "Photo");
const CAPTION: (&str, &str) = ("caption", "What does it show?");
/// Photos that a job may have in sight.
const MOST: usize = 20;
const NOT_COUNTED: &str = "it does not count any more, so nothing is added to it";

/// One photo is drawn at a time: each may take some 150 MiB.
static DRAWING: Semaphore = Semaphore::const_new(1);
/// So long a photo waits for its turn.
const TURN_WITHIN: Duration = Duration::from_secs(15);

/// The fields with which a photo is added.
#[derive(Debug)]
pub(crate) struct AddForm {
    pub(crate) address: String,
    pub(crate) caption: TextField,
    /// What is wrong with the photo.
    pub(crate) problem: String,
}

impl AddForm {
    fn of(told: &Told, form: &Form) -> Self {
        Self {
            address: format!("/jobs/{}/photos", told.key),
            caption: form.text_field(
                CAPTION,
                "For example: upper hose, before the repair.",
                Width::Twenty,
            ),
            problem: form.problem_of(PHOTO.0),
        }
    }
}

#[derive(Template)]
#[template(path = "job/photo_add.html")]
struct AddPage {
    frame: Frame,
    heading: String,
    address: String,
    problems: Vec<FormProblem>,
    summary: String,
    add: AddForm,
}

/// Whether this person may add photos to a job: whoever logs jobs where it was logged.
fn may_add(desk: &Desk, told: &Told) -> bool {
    told.job.shop == desk.shop.id
        && told.stands() != Stands::TakenOut
        && desk.may(&[Role::Technician, Role::LeadHand, Role::Manager])
}

/// GET /jobs/{job}/photos
pub(crate) async fn show(desk: Desk, Path(job): Path<String>) -> Result<Response, WebError> {
    let told = find(&desk, &job).await?;
    if !may_add(&desk, &told) {
        return Ok(to_the_job(&told));
    }
    draw(&desk, &told, &Form::default()).await
}

/// POST /jobs/{job}/photos
pub(crate) async fn submit(
    desk: Desk,
    Path(job): Path<String>,
    parts: Result<Multipart, MultipartRejection>,
) -> Result<Response, WebError> {
    let told = find(&desk, &job).await?;
    let parts = parts.map_err(|_| WebError::NotAForm)?;
    let Sent { mut form, photo } = sent::read(parts).await?;
    let caption = form.line(CAPTION, Presence::Optional);
    form.refuse_what_was_not_asked();
    if !may_add(&desk, &told) {
        form.note("", "Job", NOT_COUNTED);
    }
    let Some(photo) = photo.filter(|_| form.is_good()) else {
        return draw(&desk, &told, &form).await;
    };
    match keep(&desk, &told, (photo, caption, None)).await? {
        Kept::InSight => Ok(to_the_job(&told)),
        Kept::Returned(text) | Kept::NotNow(text) => {
            form.note(PHOTO.0, PHOTO.1, text);
            draw(&desk, &told, &form).await
        }
    }
}

/// What became of a photo.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Kept {
    /// It stands on its job; perhaps it did before.
    InSight,
    /// Nothing is kept of it, and sending it again does not help.
    Returned(String),
    /// It could not be kept; later it may.
    NotNow(String),
}

/// Takes a photo in that waited on a tablet beside its job, as taken when it was saved there.
pub(crate) async fn take_waited(
    desk: &Desk,
    job: &str,
    (photo, times): (Vec<u8>, Times),
) -> Result<Kept, WebError> {
    let told = find(desk, job).await?;
    if !may_add(desk, &told) {
        return Ok(Kept::Returned(NOT_COUNTED.to_owned()));
    }
    keep(desk, &told, (photo, None, Some(times))).await
}

/// Draws a photo anew and keeps that; with the times of a tablet where it waited on one.
async fn keep(
    desk: &Desk,
    told: &Told,
    (photo, caption, waited): (Vec<u8>, Option<String>, Option<Times>),
) -> Result<Kept, WebError> {
    let clean = match drawn_anew(photo).await? {
        Ok(clean) => clean,
        Err(refused) => return Ok(Kept::Returned(refused.to_string())),
    };
    if is_one_too_many(desk, told.key, &Store::photo_digest(&clean.jpeg)).await? {
        let full = format!("found {MOST} photos of this job already, which is the most");
        return Ok(Kept::Returned(full));
    }
    let taken_in = (desk.clone(), told.clone());
    // Runs to its end even when the client goes away, so that no bytes are left without a fact.
    let work =
        tokio::spawn(
            async move { take_in(&taken_in.0, &taken_in.1, (clean, caption, waited)).await },
        );
    let (key, answer) = work.await.map_err(WebError::fault)??;
    match answer {
        Ok(_) | Err(AppendError::KeyUsedForAnother { .. }) => {
            if !is_removed(desk, (told.key, key)).await? {
                return Ok(Kept::InSight);
            }
            let gone =
                "found a photo that was taken out of sight of this job; it is not kept again";
            Ok(Kept::Returned(gone.to_owned()))
        }
        Err(AppendError::DiskFull) => {
            let full = "the server's disk has no room for photos now; the job itself is safe; tell whoever looks after the server";
            Ok(Kept::NotNow(full.to_owned()))
        }
        Err(error) => {
            tracing::warn!(%error, "a photo was not confirmed");
            Err(WebError::NotConfirmed {
                detail: "it may or may not have been saved; go back and add the same photo again: it is never kept twice".to_owned(),
            })
        }
    }
}

async fn find(desk: &Desk, job: &str) -> Result<Told, WebError> {
    let mut read = desk.read().await?;
    let told = Told::find(desk, &mut read, job).await?;
    // People who may stand in several shops work in the one they stand in.
    if told.job.shop == desk.shop.id {
        Ok(told)
    } else {
        Err(WebError::NotFound)
    }
}

fn to_the_job(told: &Told) -> Response {
    Redirect::to(&format!("/jobs/{}#photos", told.key)).into_response()
}

/// Whether a job has no room for these bytes. A photo that it had before is none more: its sender may
/// not have heard that it is there.
async fn is_one_too_many(desk: &Desk, job: FactKey, digest: &str) -> Result<bool, WebError> {
    let mut read = desk.read().await?;
    let photos = read.list_photos(job).await.map_err(WebError::fault)?;
    let stand = photos.iter().filter(|photo| photo.removed_by.is_none());
    Ok(stand.count() >= MOST && photos.iter().all(|photo| photo.digest != digest))
}

async fn is_removed(desk: &Desk, (job, photo): (FactKey, FactKey)) -> Result<bool, WebError> {
    let mut read = desk.read().await?;
    let photos = read.list_photos(job).await.map_err(WebError::fault)?;
    let removed = photos.iter().filter(|row| row.removed_by.is_some());
    Ok(removed.into_iter().any(|row| row.key == photo))
}

/// Draws a photo anew where nobody waits for the thread, when its turn has come.
async fn drawn_anew(sent: Vec<u8>) -> Result<Result<Clean, Refused>, WebError> {
    let busy = || {
        WebError::NotConfirmed {
        detail: "many photos are being sent just now, so this one was not kept; add it again in a minute".to_owned(),
    }
    };
    let turn = timeout(TURN_WITHIN, DRAWING.acquire()).await;
    let turn = turn.map_err(|_| busy())?.map_err(WebError::fault)?;
    let drawing = tokio::task::spawn_blocking(move || {
        let clean = photo::clean(&sent);
        // Not before: a client that went away must not let a second one in beside it.
        drop(turn);
        clean
    });
    // A decoder that panics has met a file that is no picture.
    Ok(drawing.await.unwrap_or(Err(Refused::Broken)))
}

type TakenIn = (FactKey, Result<Appended, AppendError>);

async fn take_in(
    desk: &Desk,
    told: &Told,
    (clean, caption, waited): (Clean, Option<String>, Option<Times>),
) -> Result<TakenIn, WebError> {
    let bytes = u32::try_from(clean.jpeg.len()).map_err(WebError::fault)?;
    let (width, height) = (clean.width, clean.height);
    let when = match waited {
        Some(times) => {
            let saved = times.saved().ok_or_else(beyond_the_calendar)?;
            times.on(told::at(desk, saved)?)
        }
        None => told::now(desk)?,
    };
    let kept = desk.state.store.keep_photo(clean.jpeg).await;
    let digest = match kept {
        Ok(digest) => digest,
        Err(error) => return Ok((told.key, Err(error))),
    };
    let key = derived::fact_key("photo", &[&told.key.to_string(), &digest]);
    let as_sent = Some(digest.clone().into_bytes());
    let fact = Fact {
        when,
        by: desk.by(),
        what: What::Photo(Photo {
            job: told.key,
            digest,
            bytes,
            width,
            height,
            caption: caption.as_deref().and_then(Text::plain),
        }),
    };
    let address = format!("/jobs/{}", told.key);
    let command = Command {
        shop: Some(told.job.shop),
        client_at: waited.map(|times| times.saved_at),
        as_sent,
        answer: Box::new(move |_| StoredAnswer {
            status: StatusCode::SEE_OTHER.as_u16(),
            body: address.into_bytes(),
        }),
        ..Command::plain(key, fact, Via::Form)
    };
    Ok((key, desk.append(command).await))
}

async fn draw(desk: &Desk, told: &Told, form: &Form) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let names = Names::of(&mut read, told.wanted()).await?;
    drop(read);
    let heading = format!(
        "Add a photo: {} {}",
        told.job.kind.word(),
        told.subject(&names)
    );
    let (status, title) = if form.is_good() {
        (StatusCode::OK, heading.clone())
    } else {
        let title = format!("Not saved: {heading}");
        (StatusCode::UNPROCESSABLE_ENTITY, title)
    };
    let page = AddPage {
        frame: desk.frame(title),
        heading,
        address: format!("/jobs/{}", told.key),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        add: AddForm::of(told, form),
    };
    Ok((status, page::shown(&page)).into_response())
}
