//! A drum nearly full and old, one without a date (9), and litres that left the coast yard's drum on no job (12).

use domain::book::question::{QuestionId, QuestionKind};
use domain::fact::{Answer, ContainerChange, ContainerEvent, Decision, What};
use domain::job::{Fit, Intent, Job, JobKind, Line};
use domain::words::Text;

use super::super::calendar::At;
use super::super::exchange::Way;
use super::super::floor::{Arrival, Floor};
use super::super::plan::{Plan, Step, Task};
use super::super::typing::Measure;
use super::super::{Made, vessels};

/// What went missing in months 5 to 8: 61 L together.
const MISSING: [(&str, i64); 4] = [
    ("2025-08-14", 15_000),
    ("2025-09-11", 15_500),
    ("2025-10-09", 15_000),
    ("2025-11-13", 15_500),
];
/// What goes into the second drum.
const PART_ML: i64 = 40_000;
/// Half a litre a month since the service lane has its form.
const SINCE: [&str; 5] = [
    "2025-12-11",
    "2026-01-15",
    "2026-03-12",
    "2026-05-21",
    "2026-07-09",
];

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    for (date, ml) in MISSING {
        plan.add(At::local(date, "18:30")?, Task::Missing("D-2", ml));
    }
    for date in SINCE {
        plan.add(At::local(date, "18:30")?, Task::Missing("D-2", 500));
    }
    for date in ["2025-09-02", "2025-10-02", "2025-11-03", "2025-12-01"] {
        plan.story(date, "10:10", manager_answers)?;
    }
    plan.story("2026-01-20", "11:20", into_a_second_drum)?;
    plan.story("2026-04-17", "09:10", |floor, at| {
        floor.drain_and_refill(at, 3402, Way::Fresh, (0, i64::MAX))
    })?;
    plan.story("2026-09-21", "14:05", into_the_drum_without_a_date)?;
    for (date, step) in LOOKS {
        plan.story(date, "15:10", *step)?;
    }
    Ok(())
}

/// The manager says of the last dip of the drum what is known about it.
fn manager_answers(floor: &mut Floor, at: At) -> Made<()> {
    let drum = floor.vessel("D-2");
    let dipped = floor.facts.iter().rev().find_map(|filed| {
        let What::Job(Job {
            kind: JobKind::Dip,
            lines,
            ..
        }) = &filed.fact.what
        else {
            return None;
        };
        let line = lines
            .iter()
            .position(|line| matches!(line, Line::Dip(dip) if dip.place == drum))?;
        Some((filed.key, u16::try_from(line).ok()?))
    });
    let Some((job, line)) = dipped else {
        return Ok(());
    };
    let by = floor.in_the_office("P11")?;
    floor.record(
        at,
        by,
        Arrival::AtOnce,
        What::Answer(Answer {
            question: QuestionId {
                job,
                line,
                kind: QuestionKind::DipDiffers,
            },
            decision: Decision::Accept,
            reason: Text::plain("cans for the service lane, nobody writes them down"),
        }),
    );
    Ok(())
}

/// D-7 is too heavy for the lift truck at the gate: a part of it goes into the empty drum beside it, which
/// carries its date on, and both leave on one paper.
fn into_a_second_drum(floor: &mut Floor, at: At) -> Made<()> {
    let whole = vessels::id(floor.seed, "D-7");
    let start = floor.facts.iter().rev().find_map(|filed| {
        let What::ContainerEvent(said) = &filed.fact.what else {
            return None;
        };
        match said.event {
            ContainerChange::StartDate(start) if said.vessel == whole => Some(start),
            _ => None,
        }
    });
    floor.apart("a second drum", |floor| {
        floor.label(at, "D-5", start.unwrap_or(at.date))?;
        floor.move_on(at, "D-7", "D-5", PART_ML)
    })
}

/// D-6 stood behind the lift, so an empty drum was taken; nobody wrote a date on it.
fn into_the_drum_without_a_date(floor: &mut Floor, at: At) -> Made<()> {
    let (truck, drum) = (floor.loop_of(5606, None)?, floor.vessel("D-8"));
    let mut sheet = floor.unit_sheet(at, JobKind::Exchange, 5606)?;
    let out = floor.pour(&mut sheet, (truck, drum), 20_500, Measure::Litre)?;
    sheet.judged(Fit::Yes, Intent::Waste);
    let source = floor.source(truck, 5606, sheet.yard)?;
    floor.pour_fresh(&mut sheet, (source, truck), out, Measure::Litre)?;
    floor.file(sheet);
    Ok(())
}

/// The officer's look at the containers.
const LOOKS: &[(&str, Step)] = &[
    ("2026-08-20", |floor, at| looked(floor, at, "D-7", None)),
    ("2026-09-10", |floor, at| looked(floor, at, "D-5", None)),
    ("2026-09-24", |floor, at| {
        looked(floor, at, "D-8", Some("no start date on it"))
    }),
    ("2026-10-01", |floor, at| {
        looked(floor, at, "D-5", Some("nearly full"))
    }),
];

fn looked(floor: &mut Floor, at: At, drum: &str, found: Option<&str>) -> Made<()> {
    let by = floor.in_the_office("P12")?;
    let vessel = vessels::id(floor.seed, drum);
    let event = ContainerChange::Inspected(found.and_then(Text::plain));
    floor.record(
        at,
        by,
        Arrival::AtOnce,
        What::ContainerEvent(ContainerEvent { vessel, event }),
    );
    Ok(())
}
