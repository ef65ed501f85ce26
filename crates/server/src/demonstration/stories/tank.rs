//! The reuse tank that everybody took for 50 % (14).

use domain::book::contents::Contents;
use domain::fact::{Analyte, LaboratoryResult, What};
use domain::fleet::Tool;
use domain::job::{Details, JobKind, Line, Measured, Reading};

use super::super::calendar::At;
use super::super::exchange::Way;
use super::super::floor::{Arrival, Floor, named_contents};
use super::super::plan::{Plan, Step};
use super::super::vessels::{TANK_TAKEN_OVER_ML, TANK_TRUE_STRENGTH, opening};
use super::super::{Made, typing};

/// The day the tank was taken over.
pub(in super::super) const OPENED: &str = "2026-05-04";
/// Pumps were changed on eleven buses in these days, each filled from the tank.
pub(in super::super) const CAMPAIGN: (&str, &str) = ("2026-06-08", "2026-06-30");
/// Ten buses of the coast, and one from the hill that was in the shop there.
const FILLED: [(&str, Step); 11] = [
    ("2026-06-09", |floor, at| filled(floor, at, 2119)),
    ("2026-06-11", |floor, at| filled(floor, at, 2102)),
    ("2026-06-13", |floor, at| filled(floor, at, 2106)),
    ("2026-06-15", |floor, at| filled(floor, at, 2107)),
    ("2026-06-17", |floor, at| filled(floor, at, 2101)),
    ("2026-06-18", |floor, at| filled(floor, at, 2109)),
    ("2026-06-20", |floor, at| filled(floor, at, 2110)),
    ("2026-06-22", |floor, at| filled(floor, at, 2112)),
    ("2026-06-24", |floor, at| filled(floor, at, 2113)),
    ("2026-06-25", |floor, at| filled(floor, at, 2115)),
    ("2026-06-26", |floor, at| filled(floor, at, 2116)),
];

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story(OPENED, "07:30", taken_over)?;
    plan.story("2026-06-08", "07:10", sampled)?;
    for (date, step) in FILLED {
        plan.story(date, "08:50", step)?;
    }
    plan.story("2026-06-30", "10:45", laboratory_says)
}

const FROM_THE_HILL: u32 = 2119;

fn taken_over(floor: &mut Floor, at: At) -> Made<()> {
    let card = floor.store("T-1")?.card.clone();
    let kind = (card.base, card.class);
    let held: Contents = named_contents(kind, TANK_TRUE_STRENGTH, TANK_TAKEN_OVER_ML);
    floor.set_truth(card.id, held);
    let by = floor.in_the_office("P9")?;
    let fact = opening(&card, TANK_TAKEN_OVER_ML, 500_000)?;
    floor.record(at, by, Arrival::AtOnce, fact);
    Ok(())
}

fn filled(floor: &mut Floor, at: At, number: u32) -> Made<()> {
    // For a pump half is enough; the bus from the hill had a hose changed at the lowest point.
    let most_ml = if number == FROM_THE_HILL {
        i64::MAX
    } else {
        36_000
    };
    floor.drain_and_refill(at, number, Way::ByTank, (0, most_ml))
}

fn sampled(floor: &mut Floor, at: At) -> Made<()> {
    let mut sheet = floor.vessel_sheet(at, JobKind::Sample, "T-1")?;
    sheet.details(Details::Sample {
        bottle: "DEMO-T1-0608".to_owned(),
        tests: "freeze point, glycol".to_owned(),
    });
    let key = floor.file(sheet);
    floor.kept.insert("tank sample", key);
    Ok(())
}

/// The sheet comes three weeks later; its reading counts from the day of the sample.
fn laboratory_says(floor: &mut Floor, at: At) -> Made<()> {
    let sample = floor.job_kept("tank sample")?;
    let by = floor.in_the_office("P12")?;
    floor.record(
        at,
        by.clone(),
        Arrival::AtOnce,
        What::LaboratoryResult(LaboratoryResult {
            sample,
            number: "DEMO-LAB-T1".to_owned(),
            analytes: vec![Analyte {
                name: "glycol".to_owned(),
                printed: "48.2".to_owned(),
                unit: "% by volume".to_owned(),
            }],
        }),
    );
    let taken = At::local("2026-06-08", "07:10")?;
    let mut sheet = floor.vessel_sheet(taken, JobKind::ConditionTest, "T-1")?;
    sheet.by = by;
    let later = at.moment.ms_since(taken.moment) / domain::moment::MINUTE_MS;
    sheet.arrival = Arrival::AfterMinutes(later + 15);
    sheet.job.follows = Some(sample);
    let place = floor.vessel("T-1");
    sheet.line(Line::Reading(Reading::of(
        place,
        Measured::Strength(typing::strength("48.2 %")?),
        Tool::Laboratory,
    )));
    floor.file(sheet);
    Ok(())
}
