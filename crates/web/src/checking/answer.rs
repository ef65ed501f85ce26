//! POST /checking: a question answered.
//!
//! The key of the answer is worked out from the question, so that two people who answer at the same
//! time do not overrule one another unseen.

use askama::Template;
use axum::body::Bytes;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::book::question::{QuestionId, QuestionKind};
use domain::fact::{Answer, Decision, Fact, What};
use domain::ids::{FactKey, ShopId};
use domain::words::Text;
use storage::{AppendError, Appended, Command, OpenQuestion, Read, StoredAnswer, Via};

use super::asked::{self, ANSWER, Asked};
use super::said::ASK;
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::intake::derived;
use crate::job::now;
use crate::{WebError, page};

const REASON: (&str, &str) = ("reason", "Reason");

#[derive(Template)]
#[template(path = "checking/answer.html")]
struct AnswerPage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    /// Somebody answered it meanwhile.
    meanwhile: bool,
    question: Asked,
    back_to: &'static str,
    /// Address and label of the way back.
    back: (String, &'static str),
}

/// POST /checking
pub(crate) async fn submit(
    desk: Desk,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let id = read_id(&mut form).ok_or(WebError::NotFound)?;
    let mut read = desk.read().await?;
    let question = find(&desk, &mut read, &id).await?;
    if !may(&desk, &mut read, &question).await? && !asked::is_own_name(&desk, &question) {
        return Err(WebError::NotAllowed { roles: ANSWER });
    }
    let back = Back::read(&mut form, id.job);
    let decision = read_decision(&mut form, id.kind);
    let presence = if decision == Some(Decision::Reject) {
        Presence::Needed
    } else {
        Presence::Optional
    };
    let reason = form.lines(REASON, presence);
    form.refuse_what_was_not_asked();
    let Some(decision) = decision.filter(|_| form.is_good()) else {
        return draw(&desk, &mut read, (question, &form, back), Outcome::Refused).await;
    };
    drop(read);
    let answer = Answer {
        question: id,
        decision,
        reason: reason.as_deref().and_then(Text::plain),
    };
    let outcome = match record(&desk, (answer, question.shop), as_sent).await? {
        Ok(appended) => return Ok(Redirect::to(&back.after(appended.seq)).into_response()),
        Err(error) => Outcome::of(&error),
    };
    let mut read = desk.read().await?;
    let question = find(&desk, &mut read, &id).await?;
    draw(&desk, &mut read, (question, &form, back), outcome).await
}

pub(super) fn read_id(form: &mut Form) -> Option<QuestionId> {
    // Some forms carry it for what is said, not for what is decided.
    form.ask("said_before");
    Some(QuestionId {
        job: FactKey(form.id(("job", "Form"), Presence::Needed)?),
        line: form.ask("line").parse().ok()?,
        kind: QuestionKind::from_code(&form.ask("kind"))?,
    })
}

/// The question, of a shop this person sees.
pub(super) async fn find(
    desk: &Desk,
    read: &mut Read,
    id: &QuestionId,
) -> Result<OpenQuestion, WebError> {
    let all = read
        .list_questions_of_fact(id.job)
        .await
        .map_err(WebError::fault)?;
    all.into_iter()
        .find(|question| question.id == *id)
        .filter(|question| question.shop.is_some_and(|shop| desk.sees(shop)))
        .ok_or(WebError::NotFound)
}

/// Whether this person answers questions of its shop.
pub(super) async fn may(
    desk: &Desk,
    read: &mut Read,
    question: &OpenQuestion,
) -> Result<bool, WebError> {
    match question.shop {
        None => Ok(false),
        Some(shop) => asked::may_answer(desk, read, shop).await,
    }
}

fn read_decision(form: &mut Form, kind: QuestionKind) -> Option<Decision> {
    let offered: &[(&str, Decision)] = if kind.waits() {
        &[("accept", Decision::Accept), ("reject", Decision::Reject)]
    } else {
        &[("accept", Decision::Accept)]
    };
    form.choice(("decision", "Answer"), offered, Presence::Needed)
}

/// Where the form came from, and so where it leads back to.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Back {
    Job(FactKey),
    List,
    /// What is asked of the person themselves.
    Own,
}

impl Back {
    pub(super) fn read(form: &mut Form, job: FactKey) -> Self {
        match form.ask("back").as_str() {
            "job" => Self::Job(job),
            "asked" => Self::Own,
            _ => Self::List,
        }
    }

    fn after(self, seq: i64) -> String {
        match self {
            Self::Job(job) => format!("/jobs/{job}"),
            Self::List => format!("/checking?answered={seq}"),
            Self::Own => format!("/asked?saved={seq}"),
        }
    }

    /// Where to after somebody was asked.
    pub(super) fn asked(self, seq: i64) -> String {
        match self {
            Self::Job(job) => format!("/jobs/{job}"),
            Self::List | Self::Own => format!("/checking?asked={seq}"),
        }
    }

    fn code(self) -> &'static str {
        match self {
            Self::Job(_) => "job",
            Self::List => "checking",
            Self::Own => "asked",
        }
    }

    fn link(self) -> (String, &'static str) {
        match self {
            Self::Job(job) => (format!("/jobs/{job}"), "Back to the job"),
            Self::List => ("/checking".to_owned(), "Needs checking"),
            Self::Own => ("/asked".to_owned(), "Asked of you"),
        }
    }
}

async fn record(
    desk: &Desk,
    (answer, shop): (Answer, Option<ShopId>),
    as_sent: Vec<u8>,
) -> Result<Result<Appended, AppendError>, WebError> {
    let id = answer.question;
    let key = derived::fact_key(
        "answer",
        &[&id.job.to_string(), &id.line.to_string(), id.kind.code()],
    );
    let fact = Fact {
        when: now(desk)?,
        by: desk.by(),
        what: What::Answer(answer),
    };
    let command = Command {
        shop,
        role: desk.acts_as(ANSWER),
        as_sent: Some(as_sent),
        answer: Box::new(|view| StoredAnswer {
            status: StatusCode::SEE_OTHER.as_u16(),
            body: format!("/records/{}", view.seq).into_bytes(),
        }),
        ..Command::plain(key, fact, Via::Form)
    };
    Ok(desk.append(command).await)
}

/// Why nothing was saved.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Outcome {
    Refused,
    Meanwhile,
    NotConfirmed,
}

impl Outcome {
    pub(super) fn of(error: &AppendError) -> Self {
        if matches!(error, AppendError::KeyUsedForAnother { .. }) {
            return Self::Meanwhile;
        }
        tracing::warn!(%error, "words about a question were not confirmed");
        Self::NotConfirmed
    }

    pub(super) fn status(self) -> StatusCode {
        match self {
            Self::NotConfirmed => StatusCode::SERVICE_UNAVAILABLE,
            Self::Refused | Self::Meanwhile => StatusCode::UNPROCESSABLE_ENTITY,
        }
    }
}

pub(super) async fn draw(
    desk: &Desk,
    read: &mut Read,
    (question, form, back): (OpenQuestion, &Form, Back),
    outcome: Outcome,
) -> Result<Response, WebError> {
    let drawn = asked::draw(desk, read, vec![question]).await?.pop();
    let mut question = drawn.ok_or(WebError::NotFound)?;
    question.may_answer = back != Back::Own;
    question.own_name = !question.may_answer;
    question.ask = form.put_back(ASK.0);
    question.ask_problem = form.problem_of(ASK.0);
    question.reason = form.put_back(REASON.0);
    question.problem = form.problem_of(REASON.0);
    let title = match outcome {
        Outcome::NotConfirmed => "Not confirmed: answer",
        Outcome::Refused | Outcome::Meanwhile => "Not saved: answer",
    };
    let page = AnswerPage {
        frame: desk.frame(title),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed: outcome == Outcome::NotConfirmed,
        meanwhile: outcome == Outcome::Meanwhile,
        back_to: back.code(),
        back: back.link(),
        question,
    };
    Ok((outcome.status(), page::shown(&page)).into_response())
}
