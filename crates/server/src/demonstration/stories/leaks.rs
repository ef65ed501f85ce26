//! Leaks: the slow one nobody sees (1), the weeping pump (2), four that were found and mended,
//! and one that has just begun.

use domain::job::{Details, JobKind};

use super::super::Made;
use super::super::calendar::At;
use super::super::exchange::Way;
use super::super::floor::Floor;
use super::super::plan::{Plan, Step};
use super::super::work::{Held, TIGHT};
use super::laboratory;

const SLOW: u32 = 3307;
const WEEP: u32 = 2114;
/// Days a mended leak is watched.
const WATCH_DAYS: u16 = 30;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    slow_leak(plan)?;
    weeping_pump(plan)?;
    mended(plan)?;
    just_begun(plan)
}

fn slow_leak(plan: &mut Plan) -> Made<()> {
    plan.story("2025-11-18", "10:05", |floor, at| {
        floor.kept_sample("3307 first sample", at, SLOW)
    })?;
    plan.story("2025-11-27", "13:30", |floor, at| {
        sheet_back(floor, at, "3307 first sample", ("8.2", "140"))
    })?;
    plan.story("2026-03-16", "07:20", |floor, at| {
        slow(floor, at, "P1", 1_200)
    })?;
    plan.story("2026-04-06", "14:35", |floor, at| {
        slow(floor, at, "P3", 1_400)
    })?;
    plan.story("2026-04-24", "08:10", |floor, at| {
        slow(floor, at, "P2", 1_500)
    })?;
    plan.story("2026-05-11", "07:05", |floor, at| {
        slow(floor, at, "P8", 1_500)
    })?;
    // The one nobody wrote down: the loop is topped up, the record does not know.
    plan.story("2026-05-27", "06:50", |floor, _| {
        let place = floor.loop_of(SLOW, None)?;
        let lost = floor.lose(place, 1_400);
        floor.gain(place, &lost);
        Ok(())
    })?;
    plan.story("2026-06-13", "09:15", |floor, at| {
        slow(floor, at, "P1", 1_500)
    })?;
    plan.story("2026-06-15", "10:40", |floor, at| {
        let held = Held {
            drop_kpa: 9,
            leak_class: 0,
            leak_place: None,
        };
        floor.pressure_test(at, SLOW, held)?;
        floor.kept_sample("3307 second sample", at.plus_minutes(50)?, SLOW)
    })?;
    plan.story("2026-06-25", "11:20", |floor, at| {
        sheet_back(floor, at, "3307 second sample", ("6.8", "620"))
    })?;
    plan.story("2026-07-01", "07:40", |floor, at| {
        slow(floor, at, "P2", 1_600)
    })?;
    plan.story("2026-07-14", "09:30", |floor, at| {
        floor.drain_and_refill(at, SLOW, Way::FreshByCart("Cart A"), (0, i64::MAX))?;
        floor.mend(
            at.plus_minutes(210)?,
            SLOW,
            ("EGR cooler", "cracked core, coolant burnt with the exhaust"),
        )?;
        floor
            .pressure_test(at.plus_minutes(255)?, SLOW, TIGHT)
            .map(drop)
    })
}

fn slow(floor: &mut Floor, at: At, who: &str, ml: i64) -> Made<()> {
    floor.top_up_by((at, who), SLOW, ml, "low at the daily look, nothing wet")
}

fn sheet_back(
    floor: &mut Floor,
    at: At,
    sample: &'static str,
    (ph, sulphate): (&str, &str),
) -> Made<()> {
    let number = format!("DEMO-LAB-{}", floor.dice.between(1_000, 9_999));
    let found = [
        ("pH", ph, ""),
        ("sulphate", sulphate, "ppm"),
        ("chloride", "38", "ppm"),
    ];
    laboratory::sheet_back(floor, at, sample, &number, &found)
}

/// Five services, the drop growing; about 1.2 L every four weeks.
fn weeping_pump(plan: &mut Plan) -> Made<()> {
    for date in [
        "2026-02-20",
        "2026-03-20",
        "2026-04-17",
        "2026-05-15",
        "2026-06-12",
        "2026-07-10",
        "2026-08-07",
        "2026-09-04",
    ] {
        plan.story(date, "08:25", |floor, at| {
            let ml = floor.dice.between(1_150, 1_350);
            floor.top_up(at, WEEP, ml)
        })?;
    }
    let steps: [(&str, Step); 5] = [
        ("2026-02-24", |floor, at| weep(floor, at, 1)),
        ("2026-04-21", |floor, at| weep(floor, at, 1)),
        ("2026-06-16", |floor, at| weep(floor, at, 2)),
        ("2026-08-19", |floor, at| weep(floor, at, 2)),
        ("2026-09-22", |floor, at| weep(floor, at, 3)),
    ];
    for (date, step) in steps {
        plan.story(date, "11:10", step)?;
    }
    Ok(())
}

fn weep(floor: &mut Floor, at: At, leak_class: u8) -> Made<()> {
    let held = Held {
        drop_kpa: i64::from(leak_class) - 1,
        leak_class,
        leak_place: Some("water pump, weep hole"),
    };
    floor.pressure_test(at, WEEP, held).map(drop)
}

/// Three top-ups in 30 days, a leak seen, a part changed.
fn mended(plan: &mut Plan) -> Made<()> {
    let cases: [([&str; 4], Step, Step); 4] = [
        (
            ["2025-06-04", "2025-06-13", "2025-06-24", "2025-06-27"],
            |floor, at| floor.top_up(at, 2104, 1_700),
            |floor, at| find_and_mend(floor, at, 2104, ("hose to the roof heater", "chafed")),
        ),
        (
            ["2025-09-03", "2025-09-15", "2025-09-25", "2025-10-01"],
            |floor, at| floor.top_up(at, 3408, 1_500),
            |floor, at| find_and_mend(floor, at, 3408, ("radiator", "stone through the core")),
        ),
        (
            ["2025-12-02", "2025-12-12", "2025-12-22", "2025-12-29"],
            |floor, at| floor.top_up(at, 4510, 1_400),
            |floor, at| find_and_mend(floor, at, 4510, ("heater booster pump", "seal worn")),
        ),
        (
            ["2026-03-03", "2026-03-12", "2026-03-23", "2026-03-27"],
            |floor, at| floor.top_up(at, 5601, 1_100),
            |floor, at| find_and_mend(floor, at, 5601, ("upper hose", "clamp cut the hose")),
        ),
    ];
    for ([first, second, third, found], again, end) in cases {
        for date in [first, second, third] {
            plan.story(date, "07:35", again)?;
        }
        plan.story(found, "09:20", end)?;
    }
    Ok(())
}

fn find_and_mend(
    floor: &mut Floor,
    at: At,
    number: u32,
    (part, cause): (&'static str, &'static str),
) -> Made<()> {
    let held = Held {
        drop_kpa: 6,
        leak_class: 2,
        leak_place: Some(part),
    };
    floor.pressure_test(at, number, held)?;
    floor.mend(at.plus_minutes(190)?, number, (part, cause))?;
    floor
        .pressure_test(at.plus_minutes(230)?, number, TIGHT)
        .map(drop)
}

/// Three top-ups in four weeks, and nobody has looked yet.
fn just_begun(plan: &mut Plan) -> Made<()> {
    for date in ["2026-09-04", "2026-09-17", "2026-09-29"] {
        plan.story(date, "07:25", |floor, at| floor.top_up(at, 3310, 1_500))?;
    }
    Ok(())
}

impl Floor {
    fn mend(&mut self, at: At, number: u32, (part, cause): (&str, &str)) -> Made<()> {
        let mut sheet = self.unit_sheet(at, JobKind::LeakRepair, number)?;
        sheet.details(Details::LeakRepair {
            part: part.to_owned(),
            cause: cause.to_owned(),
            watch_days: WATCH_DAYS,
        });
        self.file(sheet);
        Ok(())
    }

    /// A bottle for the laboratory; its job is kept under a name for the sheet that comes back.
    pub(super) fn kept_sample(&mut self, name: &'static str, at: At, number: u32) -> Made<()> {
        let mut sheet = self.unit_sheet(at, JobKind::Sample, number)?;
        let bottle = format!("DEMO-{}", self.dice.between(1_000, 9_999));
        sheet.details(Details::Sample {
            bottle,
            tests: "freeze point, pH, anions, metals".to_owned(),
        });
        let key = self.file(sheet);
        self.kept.insert(name, key);
        Ok(())
    }
}
