//! GET and POST of a job's page: how every kind is opened, taken in and answered.

use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, RawQuery};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::{Fact, What};
use domain::gate::{self, Breach};
use domain::ids::FactKey;
use domain::job::{Account, Details, Job};
use domain::moment::Moment;
use serde::Serialize;
use storage::{AppendError, Command, StoredAnswer};
use uuid::Uuid;

use super::before_after;
use super::common::{self, Common, Notice};
use super::find_sheet;
use super::ground::Ground;
use super::sheet::{DoneOn, Foreseen, Sheet};
use super::take::{self, Paper, Sent};
use crate::answer::Wish;
use crate::desk::Desk;
use crate::form::Form;
use crate::intake::derived;
use crate::verdict::{self, ToldVerdict};
use crate::{WebError, sign_on};

/// GET /units/{unit}/jobs/{kind}
pub(crate) async fn show_on_unit(
    desk: Desk,
    Path((unit, kind)): Path<(String, String)>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let sheet = sheet_for(&desk, &kind, DoneOn::Unit)?;
    let ground = Ground::of_unit(&desk, id(&unit)?).await?;
    Ok(open(&desk, (sheet, &ground), query.as_deref()))
}

/// GET /vessels/{vessel}/jobs/{kind}
pub(crate) async fn show_on_vessel(
    desk: Desk,
    Path((vessel, kind)): Path<(String, String)>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let sheet = sheet_for(&desk, &kind, DoneOn::Vessel)?;
    let ground = Ground::of_vessel(&desk, id(&vessel)?).await?;
    Ok(open(&desk, (sheet, &ground), query.as_deref()))
}

/// POST /units/{unit}/jobs/{kind}
pub(crate) async fn submit_on_unit(
    desk: Desk,
    Path((unit, kind)): Path<(String, String)>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let sheet = sheet_for(&desk, &kind, DoneOn::Unit)?;
    let ground = Ground::of_unit(&desk, id(&unit)?).await?;
    let form = Form::from_body(&headers, &body)?;
    let ground = ground.correcting(&desk, &form).await?;
    answer(&desk, (sheet, &ground), (&headers, form)).await
}

/// POST /vessels/{vessel}/jobs/{kind}
pub(crate) async fn submit_on_vessel(
    desk: Desk,
    Path((vessel, kind)): Path<(String, String)>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let sheet = sheet_for(&desk, &kind, DoneOn::Vessel)?;
    let ground = Ground::of_vessel(&desk, id(&vessel)?).await?;
    let form = Form::from_body(&headers, &body)?;
    let ground = ground.correcting(&desk, &form).await?;
    answer(&desk, (sheet, &ground), (&headers, form)).await
}

async fn answer(
    desk: &Desk,
    paper: Paper<'_>,
    (headers, mut form): (&HeaderMap, Form),
) -> Result<Response, WebError> {
    if wants_to_be_somebody_else(&form) {
        return for_somebody_else(desk, paper, (headers, &form)).await;
    }
    if form.ticked("check") {
        return Ok(check(paper, &mut form));
    }
    let done = submit(desk, paper, form).await?;
    Ok(done.told(headers))
}

pub(super) fn id(text: &str) -> Result<Uuid, WebError> {
    Uuid::try_parse(text).map_err(|_| WebError::NotFound)
}

/// GET /offline/jobs/{kind}: the sheet of a unit that is named only once it is filled in, kept by a
/// tablet for units whose own page it does not hold.
pub(crate) async fn show_offline(
    desk: Desk,
    Path(kind): Path<String>,
) -> Result<Response, WebError> {
    let sheet = sheet_for(&desk, &kind, DoneOn::Unit)?;
    let ground = Ground::of_a_unit_to_come(&desk).await?;
    let mut form = Form::default();
    give_key(&mut form, &ground);
    sheet.preset(&mut form, &ground);
    Ok(drawn(&desk, (sheet, &ground), &form, |common| {
        common.for_a_unit_to_come(sheet);
    }))
}

fn sheet_for(desk: &Desk, kind: &str, on: DoneOn) -> Result<&'static dyn Sheet, WebError> {
    let sheet = find_sheet(kind).filter(|sheet| sheet.done_on().takes(on));
    let sheet = sheet.ok_or(WebError::NotFound)?;
    let roles = sheet.logged_by();
    if desk.may(roles) {
        Ok(sheet)
    } else {
        Err(WebError::NotAllowed { roles })
    }
}

/// "Not me" was pressed.
fn wants_to_be_somebody_else(form: &Form) -> bool {
    !form.typed("not_me").is_empty()
}

/// The sign-on page, which carries the form along, so that nothing typed is lost.
async fn for_somebody_else(
    desk: &Desk,
    (sheet, ground): Paper<'_>,
    (headers, form): (&HeaderMap, &Form),
) -> Result<Response, WebError> {
    let body = without_not_me(form);
    let address = common::address(sheet, ground);
    sign_on::keep_form(&desk.state, (headers, &address), body.as_bytes()).await
}

fn without_not_me(form: &Form) -> String {
    let mut body = form_urlencoded::Serializer::new(String::new());
    body.extend_pairs(form.values().iter().filter(|(name, _)| name != "not_me"));
    body.finish()
}

/// A form that was just opened. Its key is made here, so that it stands for this job however often
/// it is sent.
fn open(desk: &Desk, (sheet, ground): Paper<'_>, query: Option<&str>) -> Response {
    let mut form = Form::from_query(query);
    form.set("replaces", "");
    give_key(&mut form, ground);
    sheet.preset(&mut form, ground);
    drawn(desk, (sheet, ground), &form, |_| {})
}

/// The form of a recorded job, to be recorded anew in its place. `besides` is what the job alone does
/// not tell: its time, its note.
///
/// Its key is worked out from the job's, so that two people who correct one job at the same time do
/// not record it twice.
pub(crate) fn open_correction(
    desk: &Desk,
    (key, job): (FactKey, &Job),
    ground: &Ground,
    besides: Vec<(&'static str, String)>,
) -> Result<Response, WebError> {
    let sheet = find_sheet(job.kind.code()).ok_or(WebError::NotFound)?;
    let mut form = Form::default();
    give_key(&mut form, ground);
    let correction = derived::fact_key("correction", &[&key.to_string()]);
    form.set("key", correction.to_string());
    form.set("replaces", key.to_string());
    for (name, value) in besides {
        form.set(name, value);
    }
    common::refill(&mut form, job, ground.units());
    sheet.refill(&mut form, job);
    Ok(drawn(desk, (sheet, ground), &form, |_| {}))
}

fn give_key(form: &mut Form, ground: &Ground) {
    form.set("key", Uuid::new_v4().to_string());
    form.set("opened", ground.now.timestamp_millis().to_string());
}

/// The page, with whatever `say` adds to what all sheets show.
fn drawn(
    desk: &Desk,
    (sheet, ground): Paper<'_>,
    form: &Form,
    say: impl FnOnce(&mut Common),
) -> Response {
    let mut common = Common::of(desk, (form, ground), sheet);
    say(&mut common);
    sheet.page(form, ground, common).into_response()
}

fn refused(desk: &Desk, paper: Paper<'_>, form: &Form) -> Response {
    (
        StatusCode::UNPROCESSABLE_ENTITY,
        drawn(desk, paper, form, |_| {}),
    )
        .into_response()
}

/// What became of a form.
enum Done {
    /// It is on record.
    Saved(FactKey),
    /// Nothing was saved, or nobody can say; the page tells.
    Page(Response),
}

/// What a script is told that sends a form by itself.
#[derive(Serialize)]
struct Saved {
    key: String,
    address: String,
}

impl Done {
    /// The way to the job. A script that asked for JSON is told the same, and that it is to send the
    /// form as a form where a page has something to ask.
    fn told(self, headers: &HeaderMap) -> Response {
        let to_script = Wish::accepted(headers) == Some(Wish::Json);
        match self {
            Self::Saved(key) if to_script => {
                let saved = Saved {
                    key: key.to_string(),
                    address: format!("/jobs/{key}"),
                };
                (StatusCode::CREATED, Json(saved)).into_response()
            }
            Self::Saved(key) => Redirect::to(&format!("/jobs/{key}")).into_response(),
            Self::Page(page) if to_script && !page.status().is_server_error() => {
                (StatusCode::UNPROCESSABLE_ENTITY, page).into_response()
            }
            Self::Page(page) => page,
        }
    }
}

async fn submit(desk: &Desk, (sheet, ground): Paper<'_>, mut form: Form) -> Result<Done, WebError> {
    let as_sent = take::as_sent(desk, (sheet, ground), &form);
    take::take_fresh_key(&mut form);
    let foresees = form.ticked("preview");
    form.set("preview", "");
    if !foresees && let Some((key, _)) = take::find_saved(desk, &form, &as_sent).await {
        return Ok(Done::Saved(key));
    }
    let (key, fact) = match take::read(desk, (sheet, ground), &mut form).await? {
        Sent::Ready(key, fact) => (key, *fact),
        Sent::Refused => return Ok(Done::Page(refused(desk, (sheet, ground), &form))),
        Sent::Asked(page) => return Ok(Done::Page(page)),
    };
    if !foresees && let Some(breach) = unexplained(&fact) {
        let what = breach.words();
        let problem = format!("{what}; write why, for whoever checks this job");
        form.note(common::NOTE.0, common::NOTE.1, problem);
        return Ok(Done::Page(refused(desk, (sheet, ground), &form)));
    }
    if foresees {
        let page = foreseen(desk, (sheet, ground), &form, (key, fact)).await;
        return Ok(Done::Page(page));
    }
    let command = Command {
        answer: Box::new(move |_| StoredAnswer {
            status: StatusCode::SEE_OTHER.as_u16(),
            body: format!("/jobs/{key}").into_bytes(),
        }),
        ..take::command(key, fact, as_sent)
    };
    let (status, notice) = match desk.append(command).await {
        Ok(_) => return Ok(Done::Saved(key)),
        Err(AppendError::Refused(refusal)) => {
            form.note("", "Job", refusal.to_string());
            return Ok(Done::Page(refused(desk, (sheet, ground), &form)));
        }
        Err(error) => not_taken(&error, key),
    };
    let page = drawn(desk, (sheet, ground), &form, |common| {
        common.notice = Some(notice);
    });
    Ok(Done::Page((status, page).into_response()))
}

/// What may have mixed coolants and is told without a word on why. A job that waited on a tablet is kept
/// as it is: nobody may stand beside it any more.
fn unexplained(fact: &Fact) -> Option<Breach> {
    let What::Job(job) = &fact.what else {
        return None;
    };
    let mut breaches = job
        .cautions
        .iter()
        .filter_map(|code| Breach::from_code(code));
    breaches.find(|breach| job.note.is_none() && breach.may_have_mixed())
}

/// What the job would come to, with the form as it is.
async fn foreseen(
    desk: &Desk,
    (sheet, ground): Paper<'_>,
    form: &Form,
    (key, fact): (FactKey, Fact),
) -> Response {
    if sheet.foreseen() == Foreseen::Judged {
        let judged = judged(&fact, ground);
        return drawn(desk, (sheet, ground), form, |common| {
            common.judged = judged;
        });
    }
    let what_comes = before_after::foresee(desk, ground, (key, fact)).await;
    drawn(desk, (sheet, ground), form, |common| {
        common.before_after = Some(what_comes);
    })
}

/// What a form would be asked to put right, for a page that shows it at the step it belongs to.
#[derive(Serialize)]
struct Checked {
    field: String,
    text: String,
    /// A gate: it stops the job from being started, not from being logged.
    gate: bool,
}

/// Reads the form as far as it is filled in. Nothing is written, and what it takes to save is not
/// judged: only the fields are.
fn check((sheet, ground): Paper<'_>, form: &mut Form) -> Response {
    form.set("check", "");
    let mut happened = form.clone();
    happened.set("happened", "yes");
    for form in [&mut *form, &mut happened] {
        sheet.read(form, ground);
        common::read(form, ground);
    }
    let problems = form.problems().iter();
    let checked: Vec<Checked> = problems
        .map(|problem| Checked {
            field: problem.field.clone(),
            text: problem.sentence(),
            gate: happened.problem_of(&problem.field).is_empty(),
        })
        .collect();
    Json(checked).into_response()
}

/// What the readings of a pressure test prove, before they are saved.
fn judged(fact: &Fact, ground: &Ground) -> Option<ToldVerdict> {
    let What::Job(job) = &fact.what else {
        return None;
    };
    let Some(Details::PressureTest(test)) = &job.details else {
        return None;
    };
    let place = job.place.and_then(Account::place);
    let card = ground.loops().iter().find(|each| Some(each.id) == place);
    let known = place
        .and_then(|place| ground.held_by(place))
        .and_then(|held| held.known(Moment(ground.now.timestamp_millis())));
    let of_loop = (
        card.and_then(gate::lowest_rating),
        known.map(|known| (known.figures, known.chemistry)),
    );
    let proved = verdict::judge(test, i64::from(ground.shop.altitude_m), of_loop)?;
    Some(ToldVerdict::of(&proved, ground.units()))
}

/// What is said when the record did not take it.
fn not_taken(error: &AppendError, key: FactKey) -> (StatusCode, Notice) {
    let (heading, sentence) = match error {
        AppendError::KeyUsedForAnother { seq } => {
            let notice = Notice::SavedAsAnother {
                seq: *seq,
                address: format!("/jobs/{key}"),
                fresh_key: Uuid::new_v4().to_string(),
            };
            return (StatusCode::UNPROCESSABLE_ENTITY, notice);
        }
        AppendError::Busy => (
            "Not saved yet",
            "Too many jobs are being saved at this moment. Press Save job again.",
        ),
        AppendError::DiskFull => (
            "Not saved",
            "The server's disk is full. Keep this page open, tell whoever runs the server, and press Save job again when there is room.",
        ),
        AppendError::Failed(_) => (
            "Not saved",
            "The server could not save it. Keep this page open and press Save job again; if that fails too, tell whoever runs the server.",
        ),
        AppendError::NotConfirmed(_) | AppendError::Refused(_) | AppendError::WentOn { .. } => (
            "Not confirmed",
            "It may or may not have been saved. Press Save job again: the same job is never counted twice.",
        ),
    };
    tracing::warn!(%error, "a job was not taken");
    (
        StatusCode::SERVICE_UNAVAILABLE,
        Notice::SendAgain(heading, sentence),
    )
}
