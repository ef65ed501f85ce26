//! `/jobs/{job}/photos/{photo}/remove`: a photo taken out of sight. That it was there stays on record;
//! its bytes go for good.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use domain::fact::{Fact, PhotoRemoved, What};
use domain::words::Text;
use storage::{AppendError, Appended, Command, Read, StoredAnswer, Via};

use super::kept;
use super::to_the_job;
use crate::component::{ChoiceField, TextArea};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem};
use crate::intake::derived;
use crate::job::reason::Why;
use crate::job::take_back::{Leave, Whose};
use crate::job::told::{self, Told};
use crate::record::{Names, Wanted};
use crate::{WebError, page};

const WHY: Why = Why {
    question: "Why is it taken out of sight?",
    reasons: &[
        "It shows a person",
        "It shows another vehicle",
        "It cannot be made out",
    ],
};

#[derive(Template)]
#[template(path = "job/photo_remove.html")]
struct RemovePage {
    frame: Frame,
    heading: String,
    address: String,
    photo: String,
    caption: String,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    anothers: bool,
    reason: ChoiceField,
    words: TextArea,
}

type Address = Path<(String, String)>;

/// GET /jobs/{job}/photos/{photo}/remove
pub(crate) async fn show(desk: Desk, Path((job, photo)): Address) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    if let Leave::OnlyFor(roles) = told.leave(&desk, &mut read).await? {
        return Err(WebError::NotAllowed { roles });
    }
    draw(&desk, &mut read, (&told, &photo), (&Form::default(), false)).await
}

/// POST /jobs/{job}/photos/{photo}/remove
pub(crate) async fn submit(
    desk: Desk,
    Path((job, photo)): Address,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    let asks_again = match told.leave(&desk, &mut read).await? {
        Leave::OnlyFor(roles) => return Err(WebError::NotAllowed { roles }),
        Leave::GivenOnceProved => desk.must_prove(&form),
        Leave::Given => None,
    };
    let of_job = read.list_photos(told.key).await.map_err(WebError::fault)?;
    let row = of_job.iter().find(|row| row.key.to_string() == photo);
    let row = row.ok_or(WebError::NotFound)?;
    if row.removed_by.is_some() {
        return Ok(to_the_job(&told));
    }
    if let Some(answer) = asks_again {
        return Ok(answer);
    }
    let as_sent = form.as_sent();
    let reason = WHY.read(&mut form);
    form.refuse_what_was_not_asked();
    let (Some(reason), true) = (reason, form.is_good()) else {
        return draw(&desk, &mut read, (&told, &photo), (&form, false)).await;
    };
    drop(read);
    match take_out(&desk, (&told, row.key), (&reason, as_sent)).await? {
        // Somebody else was quicker: the photo is gone, which is what was wanted.
        Ok(_) | Err(AppendError::KeyUsedForAnother { .. }) => Ok(to_the_job(&told)),
        Err(error) => {
            tracing::warn!(%error, "a photo's removal was not confirmed");
            let mut read = desk.read().await?;
            draw(&desk, &mut read, (&told, &photo), (&form, true)).await
        }
    }
}

async fn take_out(
    desk: &Desk,
    (told, photo): (&Told, domain::ids::FactKey),
    (reason, as_sent): (&str, Vec<u8>),
) -> Result<Result<Appended, AppendError>, WebError> {
    let reason = Text::plain(reason).ok_or_else(|| WebError::fault("no reason"))?;
    let fact = Fact {
        when: told::now(desk)?,
        by: desk.by(),
        what: What::PhotoRemoved(PhotoRemoved {
            photo,
            job: told.key,
            reason,
        }),
    };
    let address = format!("/jobs/{}", told.key);
    let command = Command {
        shop: Some(told.job.shop),
        as_sent: Some(as_sent),
        answer: Box::new(move |_| StoredAnswer {
            status: StatusCode::SEE_OTHER.as_u16(),
            body: address.into_bytes(),
        }),
        ..Command::plain(
            derived::fact_key("photo removed", &[&photo.to_string()]),
            fact,
            Via::Form,
        )
    };
    Ok(desk.append(command).await)
}

async fn draw(
    desk: &Desk,
    read: &mut Read,
    (told, photo): (&Told, &str),
    (form, not_confirmed): (&Form, bool),
) -> Result<Response, WebError> {
    let (before, row) = kept::find(read, told, photo).await?;
    let mut wanted = Wanted::default();
    let caption = kept::caption(&row);
    wanted.text(caption.as_ref());
    let names = Names::of(read, wanted).await?;
    let heading = format!("Take photo {} out of sight", before.saturating_add(1));
    let (status, title) = if not_confirmed {
        let title = format!("Not confirmed: {heading}");
        (StatusCode::SERVICE_UNAVAILABLE, title)
    } else if form.is_good() {
        (StatusCode::OK, heading.clone())
    } else {
        let title = format!("Not saved: {heading}");
        (StatusCode::UNPROCESSABLE_ENTITY, title)
    };
    let (reason, words) = WHY.fields(form);
    let address = format!("/jobs/{}", told.key);
    let page = RemovePage {
        frame: desk.frame(title),
        heading,
        photo: format!("{address}/photos/{photo}"),
        address,
        caption: caption.map_or_else(String::new, |caption| names.text(&caption, "words removed")),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed,
        anothers: told.whose(desk) == Whose::Anothers,
        reason,
        words,
    };
    Ok((status, page::shown(&page)).into_response())
}
