//! A fill with air in it (6) and a cap that opens too soon (7).

use domain::job::{Details, Fit, Intent, JobKind};

use super::super::calendar::At;
use super::super::floor::Floor;
use super::super::plan::Plan;
use super::super::typing::Measure;
use super::super::work::TIGHT;
use super::super::{Made, typing};

const AIR: u32 = 3404;
const CAP: u32 = 5603;
/// How much too little went in.
const SHORT_ML: i64 = 3_400;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story("2025-09-08", "09:00", filled_short)?;
    plan.story("2025-09-09", "14:20", comes_back)?;
    for date in ["2025-11-05", "2025-12-10", "2026-01-21"] {
        plan.story(date, "07:50", |floor, at| {
            floor.top_up_by((at, "P5"), CAP, 1_400, "low again, nothing found")
        })?;
    }
    for date in ["2025-12-11", "2026-01-22"] {
        plan.story(date, "10:30", |floor, at| {
            floor.pressure_test(at, CAP, TIGHT).map(drop)
        })?;
    }
    plan.story("2026-02-03", "09:15", cap_tried)
}

/// Drained for a thermostat; the heater stayed shut, so air stayed in.
fn filled_short(floor: &mut Floor, at: At) -> Made<()> {
    let place = floor.loop_of(AIR, None)?;
    let mut sheet = floor.unit_sheet(at, JobKind::Recover, AIR)?;
    let recovered = floor.pour_waste(&mut sheet, place, 40_800, Measure::Litre)?;
    sheet.judged(Fit::Yes, Intent::Waste);
    floor.file(sheet);
    let mut sheet = floor.unit_sheet(at.plus_minutes(130)?, JobKind::Fill, AIR)?;
    let source = floor.source(place, AIR, sheet.yard)?;
    floor.pour_fresh(
        &mut sheet,
        (source, place),
        recovered - SHORT_ML,
        Measure::Litre,
    )?;
    sheet.note("poured, heater valve shut");
    let key = floor.file(sheet);
    floor.kept.insert("3404 fill", key);
    Ok(())
}

/// It ran hot the next day; filled by vacuum it took the missing litres.
fn comes_back(floor: &mut Floor, at: At) -> Made<()> {
    let place = floor.loop_of(AIR, None)?;
    let mut sheet = floor.unit_sheet(at, JobKind::Fill, AIR)?;
    let source = floor.source(place, AIR, sheet.yard)?;
    floor.pour_fresh(&mut sheet, (source, place), SHORT_ML, Measure::Litre)?;
    sheet.details(Details::VacuumHold {
        vacuum_start: typing::vacuum("24 inHg")?,
        vacuum_end: typing::vacuum("24 inHg")?,
        hold_s: 180,
    });
    sheet.job.after_heat_cycle = true;
    sheet.job.follows = Some(floor.job_kept("3404 fill")?);
    sheet.note("overheated on its round, comeback: air in the loop, heater valve open now");
    floor.file(sheet);
    floor
        .pressure_test(at.plus_minutes(75)?, AIR, TIGHT)
        .map(drop)
}

/// A cap for 7 psi fits the neck of a 15 psi system.
fn cap_tried(floor: &mut Floor, at: At) -> Made<()> {
    let mut sheet = floor.unit_sheet(at, JobKind::CapTest, CAP)?;
    sheet.details(Details::CapTest {
        stamped: typing::pressure("7 psi")?,
        opened_at: typing::pressure("7 psi")?,
        holds: true,
        vacuum_valve: None,
        replaced_by: Some(typing::pressure("15 psi")?),
    });
    sheet.note("wrong cap, it let coolant go on every hill");
    floor.file(sheet);
    Ok(())
}
