//! `/jobs/{job}/correct`: a recorded job opened again as a form. What is saved from it is a job of
//! its own that takes the place of the first.

use axum::extract::Path;
use axum::response::{IntoResponse, Redirect, Response};
use domain::ids::FactKey;
use domain::job::Job;

use super::ground::Ground;
use super::take_back::Leave;
use super::taken_out::TakenOut;
use super::told::{Stands, Told};
use super::{find_sheet, write};
use crate::WebError;
use crate::desk::Desk;
use crate::form::Form;

/// Whether a job has a form to be corrected on.
pub(crate) fn can_be_corrected(job: &Job) -> bool {
    let has_subject = job.unit.is_some() || job.place.is_some();
    has_subject && find_sheet(job.kind.code()).is_some()
}

/// GET /jobs/{job}/correct
pub(crate) async fn show(desk: Desk, Path(job): Path<String>) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    if told.stands() == Stands::TakenOut {
        return Ok(Redirect::to(&format!("/jobs/{}", told.key)).into_response());
    }
    // The form is filled in in the shop the person stands in.
    if told.job.shop != desk.shop.id || !can_be_corrected(&told.job) {
        return Err(WebError::NotFound);
    }
    match told.leave(&desk, &mut read).await? {
        Leave::OnlyFor(roles) => return Err(WebError::NotAllowed { roles }),
        Leave::GivenOnceProved => {
            if let Some(answer) = desk.must_prove_first() {
                return Ok(answer);
            }
        }
        Leave::Given => {}
    }
    drop(read);
    let ground = match (told.job.unit, told.job.place) {
        (Some(unit), _) => Ground::of_unit(&desk, unit.0).await?,
        (None, Some(place)) => {
            let place = place.place().ok_or(WebError::NotFound)?;
            Ground::of_vessel(&desk, place.0).await?
        }
        (None, None) => return Err(WebError::NotFound),
    };
    write::open_correction(&desk, (told.key, &told.job), &ground)
}

/// For a form that says which job it takes the place of: an answer when that may not be, nothing
/// when it may. What is wrong with the job it names is noted on the form.
pub(super) async fn judge(
    desk: &Desk,
    form: &mut Form,
    (key, replaced): (FactKey, FactKey),
) -> Result<Option<Response>, WebError> {
    let mut read = desk.read().await?;
    let found = Told::look_up(&mut read, replaced).await?;
    let Some(told) = found.filter(|told| told.job.shop == desk.shop.id) else {
        form.note("", "Form", "the job to be corrected is not on record in this shop; open the page anew from the job");
        return Ok(None);
    };
    if told.stands.voided_by.is_some_and(|by| by != key) {
        let taken_out = TakenOut::find(desk, &mut read, &told).await?;
        let said = taken_out.map_or_else(String::new, |taken_out| taken_out.in_one_line());
        form.note(
            "",
            "Form",
            format!("the job to be corrected does not count any more. {said}"),
        );
        return Ok(None);
    }
    match told.leave(desk, &mut read).await? {
        Leave::OnlyFor(roles) => Err(WebError::NotAllowed { roles }),
        Leave::GivenOnceProved => Ok(desk.must_prove(form)),
        Leave::Given => Ok(None),
    }
}
