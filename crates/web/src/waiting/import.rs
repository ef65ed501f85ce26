//! `/waiting/import`: jobs that a tablet saved to a file, taken in as if the tablet had sent them.
//!
//! A file can be written into by whoever holds it, so every name in it is to be confirmed.

use askama::Template;
use axum::extract::multipart::{Multipart, MultipartRejection};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::Value;

use super::intake::{Sender, take_in};
use super::written::{Address, Written};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem};
use crate::job::waited::Became;
use crate::job::{kind_in_words, sentence_case};
use crate::{WebError, figure, page};

const FILE: (&str, &str) = ("file", "File");
/// Far more than a tablet of a shop keeps; beyond it the file is no tablet's.
const MOST_JOBS: usize = 1_000;

#[derive(Template)]
#[template(path = "waiting/import.html")]
struct ImportPage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    /// What is wrong with the file.
    problem: String,
    /// What became of its jobs, once one was read.
    taken: Option<Vec<Line>>,
}

/// One job of the file.
struct Line {
    /// "Top up, 2026-10-05 07:40".
    title: String,
    state: &'static str,
    /// The page of the job, when it is on record.
    address: Option<String>,
    reasons: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    format: u8,
    jobs: Vec<Value>,
}

/// GET /waiting/import
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    Ok(draw(&desk, &Form::default(), None))
}

/// POST /waiting/import
///
/// Each job stands for itself: what cannot be read is named, and the others are taken in.
pub(crate) async fn submit(
    desk: Desk,
    parts: Result<Multipart, MultipartRejection>,
) -> Result<Response, WebError> {
    let parts = parts.map_err(|_| WebError::NotAForm)?;
    let mut form = Form::default();
    let jobs = match read(parts).await? {
        Ok(jobs) => jobs,
        Err(problem) => {
            form.note(FILE.0, FILE.1, problem);
            return Ok(draw(&desk, &form, None));
        }
    };
    let from = Sender {
        shop: desk.shop.id,
        tablet: None,
        request: desk.request,
    };
    let mut taken = Vec::with_capacity(jobs.len());
    for job in &jobs {
        let body = serde_json::to_vec(job).map_err(WebError::fault)?;
        let was_there = is_on_record(&desk, job).await?;
        taken.push(match take_in(&desk.state, from, &body).await {
            Ok((written, became)) => line(&desk, (&written, became), was_there),
            Err(text) => Line {
                title: "A job that cannot be read".to_owned(),
                state: "Not taken in",
                address: None,
                reasons: vec![page::sentence(&text)],
            },
        });
    }
    Ok(draw(&desk, &form, Some(taken)))
}

/// The jobs of the file that was sent; otherwise what is wrong with it.
async fn read(mut parts: Multipart) -> Result<Result<Vec<Value>, String>, WebError> {
    let broken = |_| WebError::NotReadable {
        found: "a form that breaks off".to_owned(),
    };
    let mut file = None;
    while let Some(part) = parts.next_field().await.map_err(broken)? {
        if part.name() == Some(FILE.0) {
            file = Some(part.bytes().await.map_err(broken)?);
        }
    }
    let Some(bytes) = file.filter(|bytes| !bytes.is_empty()) else {
        return Ok(Err(
            "nothing is chosen; choose the file the tablet saved".to_owned()
        ));
    };
    Ok(match serde_json::from_slice::<File>(&bytes) {
        Ok(file) if file.format > 1 => Err(format!(
            "found format {}, which a later version of this program wrote",
            file.format
        )),
        Ok(file) if file.jobs.len() > MOST_JOBS => Err(format!(
            "found {} jobs, more than the {MOST_JOBS} that are taken in at once",
            file.jobs.len()
        )),
        Ok(file) => Ok(file.jobs),
        Err(problem) => Err(format!(
            "this is not a file of waiting jobs as a tablet saves it: {problem}"
        )),
    })
}

async fn is_on_record(desk: &Desk, job: &Value) -> Result<bool, WebError> {
    let key = job.get("key").and_then(Value::as_str);
    let Some(key) = key.and_then(|key| uuid::Uuid::try_parse(key).ok()) else {
        return Ok(false);
    };
    let mut read = desk.read().await?;
    let fact = read.find_fact(domain::ids::FactKey(key)).await;
    Ok(fact.map_err(WebError::fault)?.is_some())
}

fn line(desk: &Desk, (written, became): (&Written, Became), was_there: bool) -> Line {
    let (kind, on_record) = match &written.address {
        Address::Sheet { kind, .. } => (kind_in_words(kind), format!("/jobs/{}", written.key)),
        Address::Void { job } => (Some("void"), format!("/jobs/{job}")),
    };
    let kind = sentence_case(kind.unwrap_or("job"));
    let saved = written.times.saved().map(Into::into);
    let at = saved.map(|at| figure::time(at, desk.zone()));
    let (state, address, reasons) = match became {
        Became::Taken(_) if was_there => ("On record already", Some(on_record), Vec::new()),
        Became::Taken(_) => ("Taken in", Some(on_record), Vec::new()),
        Became::Returned(problems) => (
            "Not taken in",
            None,
            problems.iter().map(FormProblem::listed).collect(),
        ),
        Became::UsedForAnother { address } => (
            "Not taken in",
            Some(address),
            vec!["Its key stands for another job on record.".to_owned()],
        ),
        Became::NotNow => (
            "Not confirmed",
            None,
            vec!["The server could not save it now. Take the same file in again: nothing is counted twice.".to_owned()],
        ),
    };
    Line {
        title: at.map_or_else(|| kind.clone(), |at| format!("{kind}, {at}")),
        state,
        address,
        reasons,
    }
}

fn draw(desk: &Desk, form: &Form, taken: Option<Vec<Line>>) -> Response {
    let status = if form.is_good() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let shown = page::shown(&ImportPage {
        frame: desk.frame("Take in a file of jobs"),
        problems: form.problems().to_vec(),
        summary: form.summary_after("Not taken in"),
        problem: form.problem_of(FILE.0),
        taken,
    });
    (status, shown).into_response()
}
