//! A sheet that was filled in on a tablet without network, and its way onto the record later.
//!
//! It is read by the very sheet of its page, as having happened already, at the time it was saved.

use chrono::{DateTime, Utc};
use domain::fleet::Role;
use domain::ids::FactKey;
use domain::moment::{Moment, When};
use domain::quantity::UnitsOfMeasure;
use serde::Serialize;
use storage::{AppendError, AppendedView, Command, StoredAnswer};
use uuid::Uuid;

use super::find_sheet;
use super::ground::Ground;
use super::sheet::DoneOn;
use super::take::{self, Sent};
use crate::WebError;
use crate::desk::Desk;
use crate::form::{Form, FormProblem};

/// On record, nothing odd about it.
const ACCEPTED: u16 = 201;
/// On record, and a question was raised.
const NEEDS_CHECKING: u16 = 202;

/// The times of a form, by the clock of the tablet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Times {
    pub(crate) opened_at: Moment,
    pub(crate) saved_at: Moment,
    /// Server clock minus that clock, milliseconds; 0 where the tablet never heard the server's.
    pub(crate) clock_offset_ms: i64,
}

impl Times {
    /// When it was saved, as far as the server can tell.
    pub(crate) fn saved(self) -> Option<DateTime<Utc>> {
        self.saved_moment().utc()
    }

    pub(crate) fn saved_moment(self) -> Moment {
        self.saved_at.plus_ms(self.clock_offset_ms)
    }

    /// A time read on the form, with the clock it was read by.
    pub(super) fn on(self, read: When) -> When {
        When {
            // What a form says is corrected already; the record keeps the tablet's own clock.
            happened_at: read
                .happened_at
                .plus_ms(self.clock_offset_ms.saturating_neg()),
            made_at: self.opened_at.min(self.saved_at),
            clock_offset_ms: self.clock_offset_ms,
            ..read
        }
    }
}

/// A form as a tablet kept it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Waited<'a> {
    pub(crate) key: FactKey,
    /// The form, url-encoded.
    pub(crate) fields: &'a str,
    pub(crate) times: Times,
}

/// What became of it.
pub(crate) enum Became {
    /// On record, now or since an earlier try.
    Taken(StoredAnswer),
    /// A person has to look at it again.
    Returned(Vec<FormProblem>),
    /// Its key stands for another job.
    UsedForAnother { address: String },
    /// It can be sent again.
    NotNow,
}

impl Became {
    pub(super) fn returned(text: impl Into<String>) -> Self {
        Self::Returned(vec![FormProblem {
            field: String::new(),
            label: "Job".to_owned(),
            text: text.into(),
        }])
    }

    pub(super) fn not_taken(error: AppendError, address: String) -> Self {
        match error {
            AppendError::Refused(refusal) => Self::returned(refusal.to_string()),
            AppendError::KeyUsedForAnother { .. } => Self::UsedForAnother { address },
            error => {
                tracing::warn!(%error, "the record did not take a job that waited");
                Self::NotNow
            }
        }
    }
}

#[derive(Serialize)]
struct Accepted<'a> {
    key: String,
    state: &'a str,
    address: &'a str,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    questions: Vec<String>,
}

/// Takes in a job on a unit or vessel.
pub(crate) async fn take(
    desk: &Desk,
    (on, id, kind): (DoneOn, Uuid, &str),
    waited: Waited<'_>,
) -> Result<Became, WebError> {
    let Some(sheet) = find_sheet(kind).filter(|sheet| sheet.done_on().takes(on)) else {
        return Ok(Became::returned("this kind of job is not logged any more"));
    };
    // Whose name nobody proved has no roles, and what a technician may log counts all the same.
    let roles = sheet.logged_by();
    if !roles.contains(&Role::Technician) && !desk.may(roles) {
        return Ok(Became::returned(NOT_THEIRS));
    }
    let mut form = Form::with(form_urlencoded::parse(waited.fields.as_bytes()));
    let now = waited.times.saved().ok_or_else(beyond_the_calendar)?;
    let ground = Ground::of_waited(desk, (on, id), &form, now).await?;
    let paper = (sheet, &ground);
    let as_sent = take::as_sent(desk, paper, &form);
    take::take_fresh_key(&mut form);
    let key = waited.key;
    if Uuid::try_parse(form.typed("key").trim()).ok() != Some(key.0) {
        return Err(WebError::NotReadable {
            found: "a form whose own key is another one".to_owned(),
        });
    }
    let address = format!("/jobs/{key}");
    match desk.state.store.answered(key, &as_sent).await {
        Ok(Some(earlier)) => return Ok(Became::Taken(as_answered(earlier.answer, key, &address))),
        Ok(None) => {}
        Err(error) => return Ok(Became::not_taken(error, address)),
    }
    for button in ["preview", "check", "not_me"] {
        form.ask(button);
    }
    form.set("happened", "yes");
    let mut fact = match take::read(desk, paper, &mut form).await? {
        Sent::Ready(_, fact) => *fact,
        Sent::Refused => return Ok(Became::Returned(form.problems().to_vec())),
        Sent::Asked(_) => return Ok(Became::returned(ANOTHERS)),
    };
    fact.when = waited.times.on(fact.when);
    let units = ground.units();
    let at = address.clone();
    let command = Command {
        client_at: Some(waited.times.saved_at),
        answer: Box::new(move |view| accepted(view, (key, &at), units)),
        ..take::command(key, fact, as_sent)
    };
    Ok(match desk.append(command).await {
        Ok(appended) => Became::Taken(appended.answer),
        Err(error) => Became::not_taken(error, address),
    })
}

/// What is said of another's job, which is never changed without a proof given at that moment.
pub(super) const ANOTHERS: &str =
    "it changes another's job; open that job and change it there, with your PIN, badge or password";

/// What is said of a kind of job that is for others.
const NOT_THEIRS: &str = "this kind of job is for others; ask a manager to log it";

pub(super) fn beyond_the_calendar() -> WebError {
    WebError::NotReadable {
        found: "a time beyond the calendar".to_owned(),
    }
}

/// The answer to what was taken in just now.
pub(super) fn accepted(
    view: &AppendedView<'_>,
    (key, address): (FactKey, &str),
    units: UnitsOfMeasure,
) -> StoredAnswer {
    let asked = view.outcome.map(|outcome| outcome.questions.as_slice());
    let questions: Vec<String> = asked
        .unwrap_or_default()
        .iter()
        .map(|question| crate::page::sentence(&question.sentence(units)))
        .collect();
    answer(key, address, questions)
}

fn answer(key: FactKey, address: &str, questions: Vec<String>) -> StoredAnswer {
    let (status, state) = if questions.is_empty() {
        (ACCEPTED, "accepted")
    } else {
        (NEEDS_CHECKING, "needs_checking")
    };
    let accepted = Accepted {
        key: key.to_string(),
        state,
        address,
        questions,
    };
    StoredAnswer {
        status,
        // Plain texts always become JSON; the fallback only spares a panic.
        body: serde_json::to_vec(&accepted).unwrap_or_default(),
    }
}

/// What was answered the first time; to a form that came straight then, the same in JSON.
pub(super) fn as_answered(earlier: StoredAnswer, key: FactKey, address: &str) -> StoredAnswer {
    if matches!(earlier.status, ACCEPTED | NEEDS_CHECKING) {
        earlier
    } else {
        answer(key, address, Vec::new())
    }
}
