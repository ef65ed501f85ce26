//! How a sheet that was filled in becomes a job on record, whatever way it came here.

use axum::response::Response;
use domain::fact::{Fact, What};
use domain::gate::Breach;
use domain::ids::FactKey;
use domain::job::{Account, Job};
use storage::{Command, Refusal, StoredAnswer, Via};
use uuid::Uuid;

use super::common::{self, Shared};
use super::correct;
use super::doubt;
use super::ground::{Ground, Subject};
use super::sheet::{Parts, Sheet};
use crate::WebError;
use crate::desk::Desk;
use crate::form::Form;

/// A sheet and what it is filled in on.
pub(super) type Paper<'a> = (&'a dyn Sheet, &'a Ground);

/// What a sheet that was sent comes to, before anything is written.
pub(super) enum Sent {
    /// A job to be taken in.
    Ready(FactKey, Box<Fact>),
    /// There is something to put right; it is noted on the form.
    Refused,
    /// Somebody must answer something first; this asks for it.
    Asked(Response),
}

/// What a repeat is told by: the form, where it was sent, and in whose name.
pub(super) fn as_sent(desk: &Desk, (sheet, ground): Paper<'_>, form: &Form) -> Vec<u8> {
    let mut sent = format!("{} {}\n", desk.person.id, common::address(sheet, ground)).into_bytes();
    sent.extend(form.as_sent());
    sent
}

/// "Save as another job" brings the key of that other job.
pub(super) fn take_fresh_key(form: &mut Form) {
    let fresh = form.ask("fresh_key");
    if !fresh.is_empty() {
        form.set("key", fresh);
        form.set("fresh_key", "");
    }
}

/// What this very form was answered with, when it is on record: what it was judged by then may have
/// changed since, by the job itself to begin with.
pub(super) async fn find_saved(
    desk: &Desk,
    form: &Form,
    as_sent: &[u8],
) -> Option<(FactKey, StoredAnswer)> {
    let key = FactKey(Uuid::try_parse(form.typed("key").trim()).ok()?);
    let answered = desk.state.store.answered(key, as_sent).await;
    // A key that stands for another job is found again when the form is taken in.
    let appended = answered.ok().flatten()?;
    Some((key, appended.answer))
}

/// Reads all of a sheet; everything wrong is noted on it.
pub(super) async fn read(
    desk: &Desk,
    (sheet, ground): Paper<'_>,
    form: &mut Form,
) -> Result<Sent, WebError> {
    let parts = sheet.read(form, ground);
    let shared = common::read(form, ground);
    let key = read_key(form);
    form.refuse_what_was_not_asked();
    let (Some(parts), Some(shared), Some(key), true) = (parts, shared, key, form.is_good()) else {
        return Ok(Sent::Refused);
    };
    if let Some(old) = shared.replaces.as_ref() {
        if let Some(answer) = correct::judge(desk, form, (key, old.job)).await? {
            return Ok(Sent::Asked(answer));
        }
        if !form.is_good() {
            return Ok(Sent::Refused);
        }
    }
    if let Some(earlier) = shared.follows
        && !correct::is_of_the_same(desk, ground, earlier).await?
    {
        form.note(
            "",
            "Form",
            "the job it goes on from is not on record here; open the page anew from that job",
        );
        return Ok(Sent::Refused);
    }
    let mut fact = fact(desk, (sheet, ground), parts, shared);
    doubt::mark(&mut desk.read().await?, &mut fact).await?;
    Ok(Sent::Ready(key, Box::new(fact)))
}

/// The key the form was given when it was opened.
fn read_key(form: &mut Form) -> Option<FactKey> {
    let key = Uuid::try_parse(form.typed("key").trim()).ok().map(FactKey);
    if key.is_none() {
        // Only a page that was tampered with or cut off has none; nothing can have been saved under it.
        form.set("key", Uuid::new_v4().to_string());
        form.note(
            "",
            "Form",
            "the form had no key of its own; it has one now, save it again",
        );
    }
    key
}

fn fact(desk: &Desk, (sheet, ground): Paper<'_>, parts: Parts, shared: Shared) -> Fact {
    let place = parts.place.or(match &ground.subject {
        Subject::Vessel(vessel) => Some(Account::Vessel(vessel.id)),
        Subject::Unit(_) => None,
    });
    Fact {
        when: shared.when,
        by: desk.by(),
        what: What::Job(Job {
            kind: sheet.kind(),
            shop: ground.shop.id,
            unit: ground.unit(),
            place,
            typed: None,
            lines: parts.lines,
            mark: parts.mark,
            after_heat_cycle: parts.after_heat_cycle,
            gate_temperature: parts.gate_temperature,
            gate_pressure: parts.gate_pressure,
            looks: parts.looks,
            meters: shared.meters,
            details: parts.details,
            planned: shared.planned,
            cautions: parts
                .breaches
                .into_iter()
                .map(Breach::code)
                .map(str::to_owned)
                .collect(),
            note: shared.note,
            replaces: shared.replaces,
            follows: shared.follows,
        }),
    }
}

/// Known again by the form as it was sent: "now" is another moment the second time.
pub(super) fn command(key: FactKey, fact: Fact, sent: Vec<u8>) -> Command {
    Command {
        as_sent: Some(sent),
        judge: Box::new(move |_, fact| match &fact.what {
            What::Job(job) => domain::job::judge(key, job).map_err(Refusal::Job),
            _ => Ok(()),
        }),
        ..Command::plain(key, fact, Via::Form)
    }
}
