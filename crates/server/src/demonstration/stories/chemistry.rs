//! The wrong jug: 4506 with another class (3), 2203 with engine coolant in its battery loop (13).

use domain::book::component::{Base, InhibitorClass};
use domain::job::{Account, FluidNamed, JobKind, Line, Mark};

use super::super::calendar::At;
use super::super::floor::Floor;
use super::super::plan::Plan;
use super::super::sheet::{Bought, Sheet};
use super::super::typing::Measure;
use super::super::{Made, instruments};

const MIXED: u32 = 4506;
const BATTERY_BUS: u32 = 2203;
const JUG_ML: i64 = 9_000;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story("2025-09-16", "10:15", |floor, at| {
        nitrite(floor, at, MIXED, "1450")
    })?;
    plan.story("2025-10-14", "16:20", unlabelled_jug)?;
    plan.story("2025-10-21", "09:40", |floor, at| {
        nitrite(floor, at, MIXED, "1080")
    })?;
    plan.story("2025-11-04", "10:05", |floor, at| {
        nitrite(floor, at, MIXED, "820")
    })?;
    plan.story("2025-11-10", "08:30", gravity_exchange)?;
    plan.story("2025-11-24", "08:45", gravity_exchange)?;
    plan.story("2025-12-02", "10:30", |floor, at| {
        nitrite(floor, at, MIXED, "1500")
    })?;
    plan.story("2025-06-17", "09:10", |floor, at| {
        conductivity(floor, at, "4.1")
    })?;
    plan.story("2025-12-09", "09:25", |floor, at| {
        conductivity(floor, at, "4.0")
    })?;
    plan.story("2026-05-12", "09:05", |floor, at| {
        conductivity(floor, at, "4.2")
    })?;
    plan.story("2026-06-30", "17:05", engine_coolant_in_a_battery_loop)?;
    plan.story("2026-07-03", "10:20", |floor, at| {
        conductivity(floor, at, "38")
    })?;
    plan.story("2026-08-26", "10:35", |floor, at| {
        conductivity(floor, at, "120")
    })
}

fn nitrite(floor: &mut Floor, at: At, number: u32, ppm: &str) -> Made<()> {
    let place = floor.loop_of(number, None)?;
    let mut sheet = floor.unit_sheet(at, JobKind::ConditionTest, number)?;
    floor.read_freeze_point(&mut sheet, place)?;
    let tag = instruments::strips(sheet.yard);
    floor.read_other(&mut sheet, place, ("nitrite", "ppm"), (ppm, tag))?;
    floor.read_other(&mut sheet, place, ("pH", ""), ("9.1", tag))?;
    floor.file(sheet);
    Ok(())
}

/// A hose burst on the road, and the driver filled up with what was at hand.
fn unlabelled_jug(floor: &mut Floor, at: At) -> Made<()> {
    let place = floor.loop_of(MIXED, None)?;
    floor.lose(place, JUG_ML);
    let mut sheet = floor.unit_sheet(at, JobKind::TopUp, MIXED)?;
    let jug = Bought {
        kind: (Base::Eg, InhibitorClass::Oat),
        millionths: 500_000,
    };
    floor.pour_bought(&mut sheet, (Some(jug), place), JUG_ML, Measure::Litre)?;
    name_the_jug(&mut sheet, "jug without a label, found to be OAT");
    sheet.job.mark = Some(Mark::At);
    sheet.note("hose burst on the road, driver filled up from a jug without a label");
    let key = floor.file(sheet);
    floor.kept.insert("4506 jug", key);
    Ok(())
}

fn name_the_jug(sheet: &mut Sheet, words: &str) {
    if let Some(Line::Movement(movement)) = sheet.job.lines.last_mut()
        && let Some(FluidNamed {
            typed,
            fluid,
            lot,
            price_hundredths,
            ..
        }) = &mut movement.fluid
    {
        words.clone_into(typed);
        *fluid = None;
        *lot = None;
        *price_hundredths = None;
    }
}

/// Drained by gravity: a quarter stays in the loop.
fn gravity_exchange(floor: &mut Floor, at: At) -> Made<()> {
    let place = floor.loop_of(MIXED, None)?;
    let mut sheet = floor.unit_sheet(at, JobKind::Exchange, MIXED)?;
    let out = floor.level_ml(place) * 3 / 4;
    let out = floor.pour_waste(&mut sheet, place, out, Measure::Litre)?;
    let source = floor.source(place, MIXED, sheet.yard)?;
    floor.pour_fresh(&mut sheet, (source, place), out, Measure::Litre)?;
    sheet.note("mixed classes: drained by gravity and refilled");
    floor.file(sheet);
    Ok(())
}

fn conductivity(floor: &mut Floor, at: At, read: &str) -> Made<()> {
    let place = floor.loop_of(BATTERY_BUS, Some("battery"))?;
    let mut sheet = floor.unit_sheet(at, JobKind::ConditionTest, BATTERY_BUS)?;
    floor.read_other(&mut sheet, place, ("conductivity", "µS/cm"), (read, "CM-1"))?;
    if read == "120" {
        sheet.note("over the loop's limit: not to be used, refill only from a sealed pail");
    }
    for name in ["traction", "cabin"] {
        let other = floor.loop_of(BATTERY_BUS, Some(name))?;
        floor.read_freeze_point(&mut sheet, other)?;
    }
    floor.file(sheet);
    Ok(())
}

/// A jug that had held engine coolant: a litre is enough to ruin the loop.
fn engine_coolant_in_a_battery_loop(floor: &mut Floor, at: At) -> Made<()> {
    let place: Account = floor.loop_of(BATTERY_BUS, Some("battery"))?;
    floor.lose(place, 1_000);
    let mut sheet = floor.unit_sheet(at, JobKind::TopUp, BATTERY_BUS)?;
    let jug = Bought {
        kind: (Base::Eg, InhibitorClass::Noat),
        millionths: 500_000,
    };
    floor.pour_bought(&mut sheet, (Some(jug), place), 1_000, Measure::Litre)?;
    name_the_jug(&mut sheet, "jug from the diesel bay, NOAT 50 %");
    sheet.job.mark = Some(Mark::At);
    sheet.note("low in the evening, topped up from the jug in the bay");
    let key = floor.file(sheet);
    floor.kept.insert("2203 jug", key);
    Ok(())
}
