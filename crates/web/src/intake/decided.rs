//! What takes a job back or answers a question about it, as another program sends it.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use domain::book::question::{QuestionId, QuestionKind};
use domain::fact::{Answer, By, Decision, Fact, Proved, Void, What};
use domain::ids::{FactKey, ShopId};
use domain::moment::Precision;
use serde_json::Value;
use storage::{Read, StorageError};

use super::derived::normal_name;
use super::lookup;
use super::read::{filled, note, read_uuid, read_zone, when_at, word};
use super::time::{self, LocalMoment};
use super::written::{Problems, WrittenJob};

/// More questions than ever wait.
const MOST_QUESTIONS: i64 = 100_000;
/// What such a body may hold besides.
const FIELDS: [&str; 9] = [
    "key",
    "kind",
    "when",
    "who",
    "replaces",
    "replace_reason",
    "question",
    "line",
    "decision",
];

/// What is decided about a job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Decided {
    Void,
    Answer,
}

/// Whether something is decided about a job, instead of a job told.
pub(super) fn decided(written: &WrittenJob) -> Option<Decided> {
    match normal_name(written.kind.as_deref()?).as_str() {
        "void" => Some(Decided::Void),
        "answer" => Some(Decided::Answer),
        _ => None,
    }
}

/// Reads a void or an answer; nothing when something is wrong with it, which is noted.
pub(super) async fn read(
    reading: &mut Read,
    (written, decided): (&WrittenJob, Decided),
    now: DateTime<Utc>,
    problems: &mut Problems,
) -> Result<Option<(ShopId, Fact)>, StorageError> {
    see_what_is_not_used(written, decided, problems);
    let reason = note(written.replace_reason.as_ref(), "replace_reason", problems);
    let target = filled(written.replaces.as_ref()).unwrap_or_default();
    let job = read_uuid("replaces", written.replaces.as_deref(), problems);
    let row = match job {
        Some(job) => reading.find_fact(job).await?,
        None => None,
    };
    let fact = row.map(|row| row.fact()).transpose()?;
    let (Some(job), Some(What::Job(about))) = (job, fact.map(|fact| fact.what)) else {
        if !problems.concern(&["replaces"]) {
            problems.note("replaces", target, "no job on record has this key");
        }
        return Ok(None);
    };
    let shops = reading.list_shops().await?;
    let shop = shops.iter().find(|shop| shop.id == about.shop);
    let zone = shop.and_then(|shop| read_zone(&shop.zone).ok());
    let zone = zone.unwrap_or(Tz::UTC);
    let at = read_when(written, zone, now, problems);
    let mut person = None;
    if let (Some(handle), Some(shop)) = (filled(written.who.as_ref()), shop) {
        person = lookup::find_person(reading, shop, handle).await?;
        if person.is_none() {
            problems.note(
                "who",
                handle,
                "nobody of this handle is on record in the shop of the job",
            );
        }
    }
    let what = match decided {
        Decided::Void => {
            if reason.is_none() && !problems.concern(&["replace_reason"]) {
                problems.note("replace_reason", "", "say why the job is taken back");
            }
            reason.map(|reason| What::Void(Void { job, reason }))
        }
        Decided::Answer => {
            let question = question(reading, written, job, problems).await?;
            let decisions = [("accept", Decision::Accept), ("reject", Decision::Reject)];
            let decision = word(written.decision.as_ref(), "decision", &decisions, problems);
            if filled(written.decision.as_ref()).is_none() {
                problems.note("decision", "", "write accept or reject");
            }
            question.zip(decision).map(|(question, decision)| {
                What::Answer(Answer {
                    question,
                    decision,
                    reason,
                })
            })
        }
    };
    Ok(at.zip(what).map(|(at, what)| {
        let by = By {
            person: person.map(|person| person.id),
            proved: Proved::Import,
        };
        let when = when_at(at, at.at);
        (about.shop, Fact { when, by, what })
    }))
}

/// When it was decided: now, where that is not told.
fn read_when(
    written: &WrittenJob,
    zone: Tz,
    now: DateTime<Utc>,
    problems: &mut Problems,
) -> Option<LocalMoment> {
    let Some(typed) = filled(written.when.as_ref()) else {
        return problems.take("when", "", time::in_zone(now, zone, Precision::Minute));
    };
    let read = time::read(typed, zone, None);
    let read = read.and_then(|read| time::not_after(read, Some(now), zone));
    problems.take("when", typed, read)
}

fn see_what_is_not_used(written: &WrittenJob, decided: Decided, problems: &mut Problems) {
    let fields = serde_json::to_value(written).unwrap_or_default();
    let Value::Object(fields) = fields else {
        return;
    };
    let names = |name: &str| FIELDS.into_iter().position(|known| known == name);
    // The last three are an answer's.
    let used = match decided {
        Decided::Void => FIELDS.len().saturating_sub(3),
        Decided::Answer => FIELDS.len(),
    };
    for (name, value) in fields {
        if !value.is_null() && names(&name).is_none_or(|at| at >= used) {
            let word = if decided == Decided::Void {
                "void"
            } else {
                "answer"
            };
            let problem = format!("a {word} has no use for the field {name}; leave it out");
            problems.note("kind", word, problem);
        }
    }
}

/// The question, which must wait for an answer.
async fn question(
    reading: &mut Read,
    written: &WrittenJob,
    job: FactKey,
    problems: &mut Problems,
) -> Result<Option<QuestionId>, StorageError> {
    let code = filled(written.question.as_ref()).unwrap_or_default();
    let line = written.line.unwrap_or_default();
    let id = QuestionKind::from_code(code).map(|kind| QuestionId { job, line, kind });
    let open = reading.list_open_questions(None, MOST_QUESTIONS).await?;
    let waits = |id: &QuestionId| open.iter().any(|asked| asked.id == *id);
    let found = id.filter(waits);
    if found.is_none() {
        let problem = format!("no such question about line {line} of the job waits for an answer");
        problems.note("question", code, problem);
    }
    Ok(found)
}
