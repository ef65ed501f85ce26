//! What is said about a question before it is answered: `POST /checking/ask` asks whoever did the
//! job, `/asked` shows them what is asked and takes their words.
//!
//! The key of what is said is worked out from the question and from how much was said before, so
//! that one press is one entry and nobody speaks past what another just said.

use askama::Template;
use axum::body::Bytes;
use axum::extract::RawQuery;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::book::question::{QuestionId, QuestionKind};
use domain::fact::{Fact, Said, What};
use domain::ids::PersonId;
use domain::words::Text;
use storage::{AppendError, Appended, Command, OpenQuestion, Read, StoredAnswer, Via};

use super::answer::{self, Back, Outcome};
use super::asked::{self, ANSWER, Asked};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::intake::derived;
use crate::job::now;
use crate::record::number;
use crate::{WebError, page};

pub(super) const ASK: (&str, &str) = ("ask", "What you ask");
pub(super) const WORDS: (&str, &str) = ("words", "Your answer");
const NOT_ME: &str = "It was not me.";
/// More than anybody reads in one go; the rest comes up as these are answered.
const MOST: i64 = 50;

/// POST /checking/ask
pub(crate) async fn ask(desk: Desk, headers: HeaderMap, body: Bytes) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let id = answer::read_id(&mut form).ok_or(WebError::NotFound)?;
    let mut read = desk.read().await?;
    let question = answer::find(&desk, &mut read, &id).await?;
    if !answer::may(&desk, &mut read, &question).await? {
        return Err(WebError::NotAllowed { roles: ANSWER });
    }
    let back = Back::read(&mut form, id.job);
    let before = read_before(&mut form);
    let words = form.lines(ASK, Presence::Needed);
    form.refuse_what_was_not_asked();
    let person = question.person;
    if person.is_none() && form.is_good() {
        form.note(
            ASK.0,
            ASK.1,
            "nobody is named on this job, so nobody can be asked; answer it, or void the job",
        );
    }
    let words = words.as_deref().and_then(Text::plain);
    let (Some(words), Some(to), true) = (words, person, form.is_good()) else {
        let drawn = (question, &form, back);
        return answer::draw(&desk, &mut read, drawn, Outcome::Refused).await;
    };
    drop(read);
    let said = Said {
        question: id,
        to: Some(to),
        words,
    };
    let recorded = record(&desk, (&question, said), (before, as_sent)).await?;
    let outcome = match recorded {
        Ok(appended) => return Ok(Redirect::to(&back.asked(appended.seq)).into_response()),
        Err(error) => Outcome::of(&error),
    };
    let mut read = desk.read().await?;
    let question = answer::find(&desk, &mut read, &id).await?;
    answer::draw(&desk, &mut read, (question, &form, back), outcome).await
}

#[derive(Template)]
#[template(path = "checking/own.html")]
struct OwnPage {
    frame: Frame,
    /// What was just saved, as an event of the record.
    saved: Option<String>,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    meanwhile: bool,
    questions: Vec<Asked>,
}

/// GET /asked
pub(crate) async fn show_own(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    draw_own(&desk, &mut read, (&form, None), None).await
}

/// POST /asked
pub(crate) async fn answer_own(
    desk: Desk,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let id = answer::read_id(&mut form).ok_or(WebError::NotFound)?;
    let mut read = desk.read().await?;
    let question = answer::find(&desk, &mut read, &id).await?;
    // The same form can also go to where it is decided.
    form.ask("back");
    let before = read_before(&mut form);
    let not_me = form.ask("not_me") == "yes" && asked::is_own_name(&desk, &question);
    let words = if not_me {
        Some(NOT_ME.to_owned())
    } else {
        form.lines(WORDS, Presence::Needed)
    };
    form.refuse_what_was_not_asked();
    let words = words.as_deref().and_then(Text::plain);
    let (Some(words), true) = (words, form.is_good()) else {
        return draw_own(&desk, &mut read, (&form, Some(id)), Some(Outcome::Refused)).await;
    };
    let key = key_of(&id, before);
    let asked_last = asked_last(&mut read, &id).await?;
    let repeated = desk.state.store.answered(key, &as_sent).await;
    let repeated = repeated.is_ok_and(|earlier| earlier.is_some());
    if !repeated && !not_me && asked_last != Some(desk.person.id) {
        let outcome = Some(Outcome::Meanwhile);
        return draw_own(&desk, &mut read, (&form, Some(id)), outcome).await;
    }
    drop(read);
    let said = Said {
        question: id,
        to: None,
        words,
    };
    let outcome = match record(&desk, (&question, said), (before, as_sent)).await? {
        Ok(appended) => {
            let address = format!("/asked?saved={}", appended.seq);
            return Ok(Redirect::to(&address).into_response());
        }
        Err(error) => Outcome::of(&error),
    };
    let mut read = desk.read().await?;
    draw_own(&desk, &mut read, (&form, Some(id)), Some(outcome)).await
}

/// Whom somebody asked last, when nobody has said anything since.
async fn asked_last(read: &mut Read, id: &QuestionId) -> Result<Option<PersonId>, WebError> {
    let said = read.list_said(&[id.job]).await.map_err(WebError::fault)?;
    let last = said.iter().rfind(|said| said.question == *id);
    Ok(last.and_then(|said| said.asked))
}

/// How much had been said when the page was opened.
fn read_before(form: &mut Form) -> u32 {
    form.ask("said_before").parse().unwrap_or_default()
}

fn key_of(id: &QuestionId, before: u32) -> domain::ids::FactKey {
    let parts = [
        id.job.to_string(),
        id.line.to_string(),
        id.kind.code().to_owned(),
        before.to_string(),
    ];
    let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
    derived::fact_key("said", &parts)
}

async fn record(
    desk: &Desk,
    (question, said): (&OpenQuestion, Said),
    (before, as_sent): (u32, Vec<u8>),
) -> Result<Result<Appended, AppendError>, WebError> {
    let key = key_of(&said.question, before);
    let fact = Fact {
        when: now(desk)?,
        by: desk.by(),
        what: What::Said(said),
    };
    let command = Command {
        shop: question.shop,
        as_sent: Some(as_sent),
        answer: Box::new(|view| StoredAnswer {
            status: StatusCode::SEE_OTHER.as_u16(),
            body: format!("/records/{}", view.seq).into_bytes(),
        }),
        ..Command::plain(key, fact, Via::Form)
    };
    Ok(desk.append(command).await)
}

async fn draw_own(
    desk: &Desk,
    read: &mut Read,
    (form, about): (&Form, Option<QuestionId>),
    outcome: Option<Outcome>,
) -> Result<Response, WebError> {
    let who = (desk.shop.id, desk.person.id);
    let found = read.list_questions_for(who, MOST).await;
    let found = found.map_err(WebError::fault)?;
    let own: Vec<bool> = found
        .iter()
        .map(|question| asked::is_own_name(desk, question))
        .collect();
    let is_about: Vec<bool> = found
        .iter()
        .map(|question| about.as_ref() == Some(&question.id))
        .collect();
    let mut questions = asked::draw(desk, read, found).await?;
    for ((question, own), is_about) in questions.iter_mut().zip(own).zip(is_about) {
        question.own_name = own;
        if is_about {
            question.reason = form.put_back(WORDS.0);
            question.problem = form.problem_of(WORDS.0);
        }
    }
    let title = match outcome {
        None => "Asked of you",
        Some(Outcome::NotConfirmed) => "Not confirmed: asked of you",
        Some(Outcome::Refused | Outcome::Meanwhile) => "Not saved: asked of you",
    };
    let saved: Option<i64> = form.typed("saved").parse().ok();
    let page = OwnPage {
        frame: desk.frame(title),
        saved: saved.map(|seq| number(desk.units(), seq)),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed: outcome == Some(Outcome::NotConfirmed),
        meanwhile: outcome == Some(Outcome::Meanwhile),
        questions,
    };
    let status = outcome.map_or(StatusCode::OK, Outcome::status);
    Ok((status, page::shown(&page)).into_response())
}

/// How much waits for the person: jobs under their name, and questions.
pub(crate) async fn count_own(desk: &Desk, read: &mut Read) -> Result<(usize, usize), WebError> {
    let who = (desk.shop.id, desk.person.id);
    let found = read.list_questions_for(who, MOST).await;
    let found = found.map_err(WebError::fault)?;
    let names = found
        .iter()
        .filter(|question| question.id.kind == QuestionKind::NameToConfirm)
        .count();
    Ok((names, found.len().saturating_sub(names)))
}
