//! What keeps units that are strong enough from standing unready for nothing: a look in spring at some that
//! were not tested all summer, and the questions about two jugs answered (3, 13).

use domain::book::question::{QuestionId, QuestionKind};
use domain::fact::{Answer, Decision, What};
use domain::job::JobKind;
use domain::words::Text;

use super::super::Made;
use super::super::calendar::At;
use super::super::floor::{Arrival, Floor};
use super::super::plan::Plan;

const BATTERY_BUS: u32 = 2203;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story("2026-05-19", "10:20", |floor, at| {
        look(floor, at, (2111, None))
    })?;
    plan.story("2026-05-20", "11:05", |floor, at| {
        look(floor, at, (4508, None))
    })?;
    plan.story("2026-05-21", "09:50", |floor, at| {
        look(floor, at, (5605, None))
    })?;
    // The strength as well, beside the conductivity of the day before.
    plan.story("2026-08-27", "08:40", |floor, at| {
        look(floor, at, (BATTERY_BUS, Some("battery")))
    })?;
    plan.story("2025-12-03", "14:30", |floor, at| {
        let reason = "OAT it was; drained and refilled twice since, the rest is 1.5 %";
        accept(floor, at, ("4506 jug", "P8", reason))
    })?;
    plan.story("2026-07-06", "15:10", |floor, at| {
        let reason = "engine coolant it was; the loop stays locked by its conductivity";
        accept(floor, at, ("2203 jug", "P9", reason))
    })
}

/// The strength alone, no strip: the inhibitors stay as overdue as they were.
fn look(floor: &mut Floor, at: At, (number, name): (u32, Option<&str>)) -> Made<()> {
    floor.apart(&format!("look at {number}"), |floor| {
        let place = floor.loop_of(number, name)?;
        let mut sheet = floor.unit_sheet(at, JobKind::ConditionTest, number)?;
        sheet.arrival = Arrival::AtOnce;
        floor.read_freeze_point(&mut sheet, place)?;
        floor.file(sheet);
        Ok(())
    })
}

/// A lead hand lets a job stand whose fluid was of another class.
fn accept(floor: &mut Floor, at: At, (job, who, reason): (&'static str, &str, &str)) -> Made<()> {
    let question = QuestionId {
        job: floor.job_kept(job)?,
        line: 0,
        kind: QuestionKind::WrongChemistry,
    };
    let by = floor.in_the_office(who)?;
    floor.apart(job, |floor| {
        floor.record(
            at,
            by,
            Arrival::AtOnce,
            What::Answer(Answer {
                question,
                decision: Decision::Accept,
                reason: Text::plain(reason),
            }),
        );
        Ok(())
    })
}
