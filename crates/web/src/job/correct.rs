//! `/jobs/{job}/correct`: a recorded job opened again as a form. What is saved from it is a job of
//! its own that takes the place of the first.

use axum::extract::Path;
use axum::response::{IntoResponse, Redirect, Response};
use domain::ids::FactKey;
use domain::job::{Account, Job};
use domain::moment::Precision;
use domain::words::Text;
use storage::Read;

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
    has_subject && find_sheet(job.kind.code()).is_some_and(|sheet| sheet.holds(job))
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
    let besides = besides(&desk, &mut read, &told).await?;
    drop(read);
    let ground = match (told.job.unit, told.job.place) {
        (Some(unit), _) => Ground::of_unit(&desk, unit.0).await?,
        (None, Some(place)) => {
            let place = place.place().ok_or(WebError::NotFound)?;
            Ground::of_vessel(&desk, place.0).await?
        }
        (None, None) => return Err(WebError::NotFound),
    };
    let ground = ground.knowing(&mut desk.read().await?, &told).await?;
    write::open_correction(&desk, (told.key, &told.job), &ground, besides)
}

/// The time it was done and its note, as the fields of a form hold them. A time that was off by a
/// wrong clock is the corrected one.
async fn besides(
    desk: &Desk,
    read: &mut Read,
    told: &Told,
) -> Result<Vec<(&'static str, String)>, WebError> {
    let at = told.when.happened().utc().unwrap_or_default();
    let at = at.with_timezone(&desk.zone());
    let mut besides = vec![("when", "earlier".to_owned())];
    if told.when.precision == Precision::Day {
        besides.push(("day", told.when.local_date.to_string()));
    } else {
        besides.push(("day", at.date_naive().to_string()));
        besides.push(("time", at.format("%H:%M").to_string()));
    }
    let digest = told.job.note.as_ref().and_then(Text::digest);
    let note = match digest {
        Some(digest) => read.find_text(digest).await.map_err(WebError::fault)?,
        None => None,
    };
    besides.extend(note.map(|note| ("note", note)));
    Ok(besides)
}

/// Whether the job that another one goes on from was done in this shop, on the same unit or vessel.
pub(super) async fn is_of_the_same(
    desk: &Desk,
    ground: &Ground,
    earlier: FactKey,
) -> Result<bool, WebError> {
    let mut read = desk.read().await?;
    let found = Told::look_up(&mut read, earlier).await?;
    let own = ground.own_vessel().map(|own| Account::Vessel(own.card.id));
    Ok(found.is_some_and(|told| {
        let same = match own {
            Some(own) => told.job.place == Some(own),
            None => told.job.unit == ground.unit(),
        };
        same && told.job.shop == desk.shop.id
    }))
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
