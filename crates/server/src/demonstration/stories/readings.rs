//! Readings that do not fit: the wrong scale (5), a digit misread in a month that is closed (15),
//! and two that wait because they lie too far off.

use domain::book::component::Base;
use domain::book::question::{QuestionId, QuestionKind};
use domain::fact::{Analyte, Answer, Decision, LaboratoryResult, Void, What};
use domain::fleet::Tool;
use domain::job::{JobKind, Line, Measured, Reading};
use domain::words::Text;

use super::super::calendar::At;
use super::super::exchange::Way;
use super::super::floor::{Arrival, Floor};
use super::super::plan::Plan;
use super::super::{Made, instruments, typing};

const GENERATOR: u32 = 7802;
const MISREAD: u32 = 3306;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story("2026-09-14", "10:50", |floor, at| {
        plain(floor, at, GENERATOR, ("-40 °C", "R-1", Base::Eg), None).map(drop)
    })?;
    plan.story("2026-09-15", "08:40", |floor, at| {
        floor.kept_sample("7802 sample", at, GENERATOR)
    })?;
    plan.story("2026-09-28", "13:15", laboratory_says)?;
    plan.story("2026-07-20", "09:30", misread)?;
    plan.story("2026-07-21", "08:15", lead_hand_accepts)?;
    plan.story("2026-07-23", "09:45", |floor, at| {
        floor.drain_and_refill(at, MISREAD, Way::SameBack("Cart A"), (0, i64::MAX))
    })?;
    plan.story("2026-08-12", "11:05", found_out)?;
    plan.story("2026-09-24", "14:10", |floor, at| {
        plain(
            floor,
            at,
            5607,
            ("-44 °C", "R-1", Base::Eg),
            Some("prism smeared?"),
        )
        .map(drop)
    })?;
    plan.story("2026-09-25", "15:20", |floor, at| {
        plain(
            floor,
            at,
            6703,
            ("-37 °C", "R-2", Base::Eg),
            Some("cold drop, in a hurry"),
        )
        .map(drop)
    })
}

fn plain(
    floor: &mut Floor,
    at: At,
    number: u32,
    (typed, tag, scale): (&str, &str, Base),
    note: Option<&str>,
) -> Made<domain::ids::FactKey> {
    let place = floor.loop_of(number, None)?;
    let mut sheet = floor.unit_sheet(at, JobKind::ConditionTest, number)?;
    sheet.line(Line::Reading(Reading {
        instrument: Some(instruments::by_tag(floor.seed, tag)),
        scale: Some(scale),
        warm: Some(true),
        ..Reading::of(
            place,
            Measured::FreezePoint(typing::temperature(typed)?),
            Tool::Refractometer,
        )
    }));
    if let Some(note) = note {
        sheet.note(note);
    }
    Ok(floor.file(sheet))
}

fn laboratory_says(floor: &mut Floor, at: At) -> Made<()> {
    let sample = floor.job_kept("7802 sample")?;
    let by = floor.in_the_office("P10")?;
    floor.record(
        at,
        by.clone(),
        Arrival::AtOnce,
        What::LaboratoryResult(LaboratoryResult {
            sample,
            number: "DEMO-LAB-7802".to_owned(),
            analytes: vec![Analyte {
                name: "freeze point".to_owned(),
                printed: "-30.0".to_owned(),
                unit: "°C".to_owned(),
            }],
        }),
    );
    let taken = At::local("2026-09-15", "08:40")?;
    let mut sheet = floor.unit_sheet(taken, JobKind::ConditionTest, GENERATOR)?;
    sheet.job.meters.clear();
    sheet.by = by;
    // Entered when the sheet came back, for the day the bottle was filled.
    let days_on = at.moment.ms_since(taken.moment) / domain::moment::MINUTE_MS;
    sheet.arrival = Arrival::AfterMinutes(days_on + 20);
    sheet.job.follows = Some(sample);
    let place = floor.loop_of(GENERATOR, None)?;
    sheet.line(Line::Reading(Reading::of(
        place,
        Measured::FreezePoint(typing::temperature("-30 °C")?),
        Tool::Laboratory,
    )));
    floor.file(sheet);
    Ok(())
}

/// Read as −37, typed as −34.
fn misread(floor: &mut Floor, at: At) -> Made<()> {
    let key = plain(floor, at, MISREAD, ("-34 °C", "R-1", Base::Eg), None)?;
    if let Some(filed) = floor.facts.iter_mut().find(|fact| fact.key == key) {
        filed.received_at = at.moment.plus_ms(8 * domain::moment::MINUTE_MS);
    }
    floor.kept.insert("3306 misread", key);
    Ok(())
}

fn lead_hand_accepts(floor: &mut Floor, at: At) -> Made<()> {
    let job = floor.job_kept("3306 misread")?;
    let by = floor.in_the_office("P8")?;
    floor.record(
        at,
        by,
        Arrival::AtOnce,
        What::Answer(Answer {
            question: QuestionId {
                job,
                line: 0,
                kind: QuestionKind::ReadingFarOff,
            },
            decision: Decision::Accept,
            reason: Text::plain("asked, he says he read it twice"),
        }),
    );
    Ok(())
}

/// By then July is closed: the job is taken out, and logged anew for its own day.
fn found_out(floor: &mut Floor, at: At) -> Made<()> {
    let job = floor.job_kept("3306 misread")?;
    let by = floor.in_the_office("P8")?;
    let reason = Text::plain("4 typed for 7: the sheet on the clipboard says -37");
    if let Some(reason) = reason {
        floor.record(
            at,
            by.clone(),
            Arrival::AtOnce,
            What::Void(Void { job, reason }),
        );
    }
    let read = At::local("2026-07-20", "09:30")?;
    let key = plain(
        floor,
        read,
        MISREAD,
        ("-37 °C", "R-1", Base::Eg),
        Some("as on the sheet"),
    )?;
    if let Some(filed) = floor.facts.iter_mut().find(|fact| fact.key == key) {
        filed.fact.by = by;
        filed.fact.when.made_at = at.moment;
        filed.fact.when.clock_offset_ms = 0;
        filed.fact.when.happened_at = read.moment;
        filed.received_at = at.moment.plus_ms(6 * domain::moment::MINUTE_MS);
    }
    Ok(())
}
