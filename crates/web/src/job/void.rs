//! `/jobs/{job}/undo` and `/jobs/{job}/void`: a job taken out of the book. It stays on record.
//!
//! Both are one fact with one key, worked out from the job's: a job is taken out once, however many
//! people press at the same time.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::{Fact, Void, What};
use domain::ids::FactKey;
use domain::moment::{Moment, When};
use domain::words::Text;
use storage::{AppendError, Appended, Command, Read, StoredAnswer, Via};

use super::common::sentence_case;
use super::entered::{Entered, Wording};
use super::reason::Why;
use super::show::follows::Side;
use super::take_back::{self, Leave, Whose};
use super::taken_out::{TakenOut, UNDONE};
use super::told::{self, Stands, Told};
use super::waited::{self, Became, Waited};
use crate::component::{ChoiceField, TextArea};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem};
use crate::intake::derived;
use crate::record::{Names, number};
use crate::{WebError, page};

const WHY: Why = Why {
    question: "Why is it voided?",
    reasons: &[
        "Wrong unit",
        "Wrong volume",
        "Wrong vessel",
        "Entered twice",
        "Practice",
    ],
};

/// The usual reasons, as a tablet without network offers them: "Wrong unit|Wrong volume".
pub(crate) fn usual_reasons() -> String {
    WHY.reasons.join("|")
}

#[derive(Template)]
#[template(path = "job/void.html")]
struct VoidPage {
    frame: Frame,
    heading: String,
    address: String,
    entered: Vec<Entered>,
    /// What each place goes back to.
    goes_back: Vec<String>,
    /// Later entries about these places are worked out again.
    later: bool,
    /// It took the place of another job, which does not come back.
    replaces: bool,
    problems: Vec<FormProblem>,
    summary: String,
    notice: Option<Notice>,
    anothers: bool,
    reason: ChoiceField,
    words: TextArea,
}

/// What is said above a form that was not taken.
enum Notice {
    NotConfirmed,
    /// Somebody was quicker: who, when and why.
    Meanwhile(String),
}

impl Notice {
    fn meanwhile(&self) -> Option<&str> {
        match self {
            Self::NotConfirmed => None,
            Self::Meanwhile(sentence) => Some(sentence),
        }
    }
}

/// GET /jobs/{job}/void
pub(crate) async fn show(desk: Desk, Path(job): Path<String>) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    if told.stands() == Stands::TakenOut {
        return Ok(to_the_job(&told));
    }
    let leave = told.leave(&desk, &mut read).await?;
    if let Leave::OnlyFor(roles) = leave {
        return Err(WebError::NotAllowed { roles });
    }
    draw(&desk, &mut read, (&told, &Form::default()), None).await
}

/// POST /jobs/{job}/void
pub(crate) async fn submit(
    desk: Desk,
    Path(job): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    let as_sent = form.as_sent();
    if told.stands() == Stands::TakenOut {
        return too_late(&desk, &mut read, (&told, &form), &as_sent).await;
    }
    let leave = told.leave(&desk, &mut read).await?;
    let asks_again = match leave {
        Leave::OnlyFor(roles) => return Err(WebError::NotAllowed { roles }),
        Leave::GivenOnceProved => desk.must_prove(&form),
        Leave::Given => None,
    };
    if let Some(answer) = asks_again {
        return Ok(answer);
    }
    let reason = WHY.read(&mut form);
    form.refuse_what_was_not_asked();
    let (Some(reason), true) = (reason, form.is_good()) else {
        return draw(&desk, &mut read, (&told, &form), None).await;
    };
    drop(read);
    match take_out(&desk, &told, (&reason, as_sent)).await? {
        Ok(_) => Ok(to_the_job(&told)),
        Err(AppendError::KeyUsedForAnother { .. }) => {
            let mut read = desk.read().await?;
            let told = Told::find(&desk, &mut read, &job).await?;
            too_late(&desk, &mut read, (&told, &form), &[]).await
        }
        Err(error) => {
            tracing::warn!(%error, "a void was not confirmed");
            let mut read = desk.read().await?;
            draw(&desk, &mut read, (&told, &form), Some(Notice::NotConfirmed)).await
        }
    }
}

/// Takes in a void that waited on a tablet.
pub(crate) async fn take_waited(
    desk: &Desk,
    job: &str,
    waited: Waited<'_>,
) -> Result<Became, WebError> {
    let mut form = Form::with(form_urlencoded::parse(waited.fields.as_bytes()));
    let as_sent = form.as_sent();
    let mut read = desk.read().await?;
    let told = match Told::find(desk, &mut read, job).await {
        Ok(told) => told,
        Err(WebError::NotFound) => {
            return Ok(Became::returned("the job to be voided is not on record"));
        }
        Err(error) => return Err(error),
    };
    let address = format!("/jobs/{}", told.key);
    match desk
        .state
        .store
        .answered(void_key(told.key), &as_sent)
        .await
    {
        Ok(Some(earlier)) => {
            let answer = waited::as_answered(earlier.answer, waited.key, &address);
            return Ok(Became::Taken(answer));
        }
        Ok(None) => {}
        Err(error) => return Ok(Became::not_taken(error, address)),
    }
    match told.leave(desk, &mut read).await? {
        Leave::OnlyFor(roles) => return Err(WebError::NotAllowed { roles }),
        Leave::GivenOnceProved => return Ok(Became::returned(waited::ANOTHERS)),
        Leave::Given => {}
    }
    drop(read);
    let reason = WHY.read(&mut form);
    form.refuse_what_was_not_asked();
    let (Some(reason), true) = (reason, form.is_good()) else {
        return Ok(Became::Returned(form.problems().to_vec()));
    };
    let when = told::at(
        desk,
        waited
            .times
            .saved()
            .ok_or_else(waited::beyond_the_calendar)?,
    )?;
    let command = void(desk, &told, (&reason, as_sent), waited.times.on(when))?;
    let (key, units, at) = (waited.key, desk.units(), address.clone());
    let command = Command {
        client_at: Some(waited.times.saved_at),
        answer: Box::new(move |view| waited::accepted(view, (key, &at), units)),
        ..command
    };
    Ok(match desk.append(command).await {
        Ok(appended) => Became::Taken(appended.answer),
        Err(error) => Became::not_taken(error, address),
    })
}

/// POST /jobs/{job}/undo
pub(crate) async fn undo(
    desk: Desk,
    Path(job): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    form.refuse_what_was_not_asked();
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    drop(read);
    if told.stands() == Stands::TakenOut {
        return Ok(to_the_job(&told));
    }
    let lately = take_back::can_be_undone(told.whose(&desk), told.received_at(), desk.now_ms());
    if !lately || !form.is_good() {
        // The other way asks for a reason and says who may.
        return Ok(Redirect::to(&format!("/jobs/{}/void", told.key)).into_response());
    }
    match take_out(&desk, &told, (UNDONE, form.as_sent())).await? {
        Ok(_) | Err(AppendError::KeyUsedForAnother { .. }) => Ok(to_the_job(&told)),
        Err(error) => {
            tracing::warn!(%error, "an undo was not confirmed");
            Err(WebError::NotConfirmed {
                detail: "it may or may not have been undone; open the job and press Undo again if it still counts".to_owned(),
            })
        }
    }
}

fn to_the_job(told: &Told) -> Response {
    Redirect::to(&format!("/jobs/{}", told.key)).into_response()
}

fn void_key(job: FactKey) -> FactKey {
    derived::fact_key("void", &[&job.to_string()])
}

/// The same form sent again goes on; another one is shown who was quicker.
async fn too_late(
    desk: &Desk,
    read: &mut Read,
    (told, form): (&Told, &Form),
    as_sent: &[u8],
) -> Result<Response, WebError> {
    let before = desk.state.store.answered(void_key(told.key), as_sent).await;
    if matches!(before, Ok(Some(_))) {
        return Ok(to_the_job(told));
    }
    let taken_out = TakenOut::find(desk, read, told).await?;
    let sentence = taken_out.map_or_else(
        || "Somebody else has taken it out.".to_owned(),
        |taken_out| taken_out.in_one_line(),
    );
    draw(desk, read, (told, form), Some(Notice::Meanwhile(sentence))).await
}

async fn take_out(
    desk: &Desk,
    told: &Told,
    (reason, as_sent): (&str, Vec<u8>),
) -> Result<Result<Appended, AppendError>, WebError> {
    let command = void(desk, told, (reason, as_sent), told::now(desk)?)?;
    Ok(desk.append(command).await)
}

fn void(
    desk: &Desk,
    told: &Told,
    (reason, as_sent): (&str, Vec<u8>),
    when: When,
) -> Result<Command, WebError> {
    let reason = Text::plain(reason).ok_or_else(|| WebError::fault("a void without a reason"))?;
    let fact = Fact {
        when,
        by: desk.by(),
        what: What::Void(Void {
            job: told.key,
            reason,
        }),
    };
    let address = format!("/jobs/{}", told.key);
    Ok(Command {
        shop: Some(told.job.shop),
        as_sent: Some(as_sent),
        answer: Box::new(move |_| StoredAnswer {
            status: StatusCode::SEE_OTHER.as_u16(),
            body: address.into_bytes(),
        }),
        ..Command::plain(void_key(told.key), fact, Via::Form)
    })
}

async fn draw(
    desk: &Desk,
    read: &mut Read,
    (told, form): (&Told, &Form),
    notice: Option<Notice>,
) -> Result<Response, WebError> {
    let names = Names::of(read, told.wanted()).await?;
    let units = desk.units();
    let subject = told.subject(&names);
    let job = number(units, told.row.seq);
    let heading = format!("Void job {job}: {} {subject}", told.job.kind.word());
    let (status, title) = match &notice {
        Some(Notice::NotConfirmed) => (
            StatusCode::SERVICE_UNAVAILABLE,
            format!("Not confirmed: {heading}"),
        ),
        None if form.is_good() => (StatusCode::OK, heading.clone()),
        None | Some(Notice::Meanwhile(_)) => (
            StatusCode::UNPROCESSABLE_ENTITY,
            format!("Not saved: {heading}"),
        ),
    };
    let wording = Wording {
        units,
        names: &names,
        job: &told.job,
    };
    let (reason, words) = WHY.fields(form);
    let page = VoidPage {
        frame: desk.frame(title),
        heading: sentence_case(&heading),
        address: format!("/jobs/{}", told.key),
        entered: super::show::entered(desk, told, &wording),
        goes_back: goes_back(desk, &names, told),
        later: changed_later(read, told).await?,
        replaces: told.job.replaces.is_some(),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        notice,
        anothers: told.whose(desk) == Whose::Anothers,
        reason,
        words,
    };
    Ok((status, page::shown(&page)).into_response())
}

/// "4204 goes back to 41.2 L, 48.1 % ± 2.0 points, …": the places the job changed, as they were
/// before it.
fn goes_back(desk: &Desk, names: &Names, told: &Told) -> Vec<String> {
    let changes = told.stands.changes.iter();
    let touched = changes.filter(|change| change.before != change.after);
    let lines = touched.map(|change| {
        let before = Side::of(desk.units(), &change.before);
        format!(
            "{} goes back to {}, as before the job",
            names.place(change.place),
            before.in_words()
        )
    });
    lines.collect()
}

/// Whether a later entry touched one of these places.
async fn changed_later(read: &mut Read, told: &Told) -> Result<bool, WebError> {
    let places: Vec<_> = told
        .stands
        .changes
        .iter()
        .map(|change| change.place)
        .collect();
    let now = read.list_places(&places).await.map_err(WebError::fault)?;
    let at: Moment = told.stands.order.happened;
    Ok(now
        .iter()
        .any(|place| place.changed_at.is_some_and(|changed| changed > at)))
}
