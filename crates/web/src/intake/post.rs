//! POST /api/v1/jobs: a job of another program, with that program's key.

use axum::{
    body::Bytes,
    extract::State,
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use chrono::TimeDelta;
use domain::fact::{By, Fact, Proved, What};
use domain::fleet::{Paper, Shop, Site};
use domain::ids::FactKey;
use domain::moment::When;
use domain::quantity::UnitsOfMeasure;
use storage::{AppendError, Appended, Command, Refusal, Store, Via};
use uuid::Uuid;

use super::answer::{Held, answer};
use super::decided::{self, decided};
use super::derived::{self, fact_key, normal_name};
use super::instrument;
use super::lookup;
use super::read::{ReadJob, read};
use super::written::{FieldProblem, Problems, WrittenJob};
use crate::job::doubt;
use crate::{AppState, Transport, WebError};

/// The handler.
pub(crate) async fn post(
    State(state): State<AppState>,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    refuse_other_sites(&headers)?;
    check_token(&state, &headers)?;
    if !is_json(&headers) {
        return Err(WebError::NotJson);
    }
    let written = parse(&body)?;
    let key = key_of(&written, &headers)?;
    // Sent again, it is answered as it was the first time, whatever its names mean by now.
    let sent = written.as_sent().map_err(WebError::fault)?;
    let answered = state.store.answered(key, &sent).await;
    if let Some(appended) = answered.map_err(not_taken)? {
        return Ok(respond(appended));
    }
    // Never ahead of the moment at which the record takes it in.
    let now = state.clock.now();
    let now = now.checked_sub_signed(TimeDelta::seconds(1)).unwrap_or(now);
    let mut reading = state.store.read().await.map_err(WebError::fault)?;
    if let Some(decided) = decided(&written) {
        let mut problems = Problems::default();
        let read = decided::read(&mut reading, (&written, decided), now, &mut problems)
            .await
            .map_err(WebError::fault)?;
        drop(reading);
        return match read {
            Some((shop, fact)) if problems.is_empty() => {
                let command = Command {
                    shop: Some(shop),
                    ..command((key, sent), fact, UnitsOfMeasure::METRIC)
                };
                let appended = state.store.append(command).await;
                appended.map(respond).map_err(not_taken)
            }
            _ => Err(refused(&problems.into_vec())),
        };
    }
    let found = lookup::names(&mut reading, &written)
        .await
        .map_err(WebError::fault)?;
    let mut job = read(&written, &found.names, Some(now)).map_err(|problems| refused(&problems))?;
    instrument::name(&mut reading, &written, &mut job)
        .await?
        .map_err(|problem| refused(&[problem]))?;
    doubt::mark(&mut reading, &mut job.fact).await?;
    // The snapshot must not be held while waiting for the writer.
    drop(reading);
    let units = found.units_of_measure(job.shop.id);
    write_what_is_new(&state.store, &job).await?;
    let appended = state
        .store
        .append(command((key, sent), job.fact, units))
        .await;
    appended.map(respond).map_err(not_taken)
}

fn parse(body: &[u8]) -> Result<WrittenJob, WebError> {
    // The fields could also be read from a list, in an order that nobody promises.
    let begins = body.iter().find(|byte| !byte.is_ascii_whitespace());
    let written = if begins == Some(&b'[') {
        Err("a list at line 1 column 1, where an object belongs".to_owned())
    } else {
        serde_json::from_slice(body).map_err(|problem| problem.to_string())
    };
    written.map_err(|problem| WebError::NotReadable {
        found: format!("JSON that is not a job: {problem}"),
    })
}

/// A page of another site can send requests in the name of whoever has it open.
pub(crate) fn refuse_other_sites(headers: &HeaderMap) -> Result<(), WebError> {
    match headers.get("sec-fetch-site").map(HeaderValue::as_bytes) {
        None | Some(b"same-origin" | b"none") => Ok(()),
        Some(_) => Err(WebError::OtherSite),
    }
}

/// Who can reach a server that listens on this machine alone could read its files as well.
fn check_token(state: &AppState, headers: &HeaderMap) -> Result<(), WebError> {
    match (&state.api_token, &state.transport) {
        (Some(token), _) if token.is_shown_in(headers) => Ok(()),
        (_, Transport::Loopback) => Ok(()),
        (Some(_), _) => Err(WebError::TokenNeeded),
        (None, _) => Err(WebError::TokenNotSetUp),
    }
}

pub(crate) fn is_json(headers: &HeaderMap) -> bool {
    headers
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.split(';').next())
        .is_some_and(|kind| kind.trim().eq_ignore_ascii_case("application/json"))
}

/// The key, from the body or from the header `Idempotency-Key: "…"`.
fn key_of(written: &WrittenJob, headers: &HeaderMap) -> Result<FactKey, WebError> {
    let problem = |found: &str, problem: &str| {
        refused(&[FieldProblem {
            column: "key",
            found: found.to_owned(),
            problem: problem.to_owned(),
        }])
    };
    let read = |text: &str| {
        Uuid::try_parse(text.trim().trim_matches('"'))
            .map(FactKey)
            .map_err(|_| {
                let found: String = text.chars().take(60).collect();
                problem(
                    &found,
                    "this is no UUID; one looks like 0f8fad5b-d9cb-469f-a165-70867728950e",
                )
            })
    };
    let in_body = written.key.as_deref().map(read).transpose()?;
    let in_header = headers
        .get("idempotency-key")
        .map(|value| read(&String::from_utf8_lossy(value.as_bytes())))
        .transpose()?;
    match (in_body, in_header) {
        (Some(key), None) | (None, Some(key)) => Ok(key),
        (Some(key), Some(other)) if key == other => Ok(key),
        (Some(_), Some(other)) => Err(problem(
            &other.to_string(),
            "the header Idempotency-Key names another key than the body",
        )),
        (None, None) => Err(problem(
            "",
            "a job needs a key: a UUID made once for this job, in key or in the header Idempotency-Key; \
             with it the same job can be sent again and counts once",
        )),
    }
}

fn refused(problems: &[FieldProblem]) -> WebError {
    let count = problems.len();
    let things = if count == 1 { "thing" } else { "things" };
    let problems = problems
        .iter()
        .map(|problem| crate::FieldProblem {
            field: problem.column.to_owned(),
            found: Some(problem.found.clone()),
            problem: problem.problem.clone(),
        })
        .collect();
    WebError::Refused {
        detail: format!("not saved: {count} {things} to put right"),
        problems,
    }
}

/// A shop or person that only this job names is opened first, by facts of their own. Another job
/// may have done so a moment ago, which is as good.
async fn write_what_is_new(store: &Store, job: &ReadJob) -> Result<(), WebError> {
    let mut facts = Vec::new();
    if job.shop_is_new {
        let name = normal_name(&job.shop.name);
        let site = Site {
            id: derived::site_id(&job.shop.name),
            name: job.shop.name.clone(),
        };
        let shop = Shop {
            id: job.shop.id,
            site: site.id,
            name: job.shop.name.clone(),
            zone: job.shop.zone.name().to_owned(),
            altitude_m: 0,
            winter_low: None,
            first_frost: None,
            units_of_measure: UnitsOfMeasure::METRIC,
            paper: Paper::A4,
        };
        facts.push((fact_key("site", &[&name]), What::Site(site)));
        facts.push((fact_key("shop", &[&name]), What::Shop(shop)));
    }
    if let Some(person) = &job.new_person {
        let key = fact_key("person", &[&person.id.to_string()]);
        facts.push((key, What::Person(person.clone())));
    }
    if facts.is_empty() {
        return Ok(());
    }
    let commands = facts
        .into_iter()
        .map(|(key, what)| Command::plain(key, introduced(job.fact.when, what), Via::Intake))
        .collect();
    let answers = store.append_many(commands).await.map_err(not_taken)?;
    for answer in answers {
        match answer {
            Ok(_) | Err(AppendError::KeyUsedForAnother { .. }) => {}
            Err(error) => return Err(not_taken(error)),
        }
    }
    Ok(())
}

fn introduced(when: When, what: What) -> Fact {
    Fact {
        when,
        by: By {
            person: None,
            proved: Proved::Import,
        },
        what,
    }
}

fn command((key, sent): (FactKey, Vec<u8>), fact: Fact, units: UnitsOfMeasure) -> Command {
    let held = Held::default();
    let noted = held.clone();
    Command {
        judge: Box::new(move |book, fact| {
            noted.note(book, fact);
            match &fact.what {
                What::Job(job) => domain::job::judge(key, job).map_err(Refusal::Job),
                _ => Ok(()),
            }
        }),
        answer: Box::new(move |view| answer(view, &held, units)),
        as_sent: Some(sent),
        ..Command::plain(key, fact, Via::Intake)
    }
}

fn respond(appended: Appended) -> Response {
    let status = StatusCode::from_u16(appended.answer.status).unwrap_or(StatusCode::CREATED);
    let kind = HeaderValue::from_static("application/json");
    (status, [(header::CONTENT_TYPE, kind)], appended.answer.body).into_response()
}

fn not_taken(error: AppendError) -> WebError {
    match error {
        AppendError::Refused(refusal) => WebError::Refused {
            detail: format!("not saved: {refusal}"),
            problems: Vec::new(),
        },
        AppendError::KeyUsedForAnother { seq } => WebError::KeyUsed { job: seq },
        // The cause was logged where it was met.
        AppendError::NotConfirmed(_)
        | AppendError::Failed(_)
        | AppendError::WentOn { .. }
        | AppendError::Busy
        | AppendError::DiskFull => WebError::NotConfirmed {
            detail: error.to_string(),
        },
    }
}
