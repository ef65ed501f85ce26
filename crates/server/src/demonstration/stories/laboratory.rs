//! What a laboratory is asked and answers: a sheet that hints at something, one that never came, two that
//! are still out. With them what is checked and put off besides: the refractometers' zero, a task.

use domain::condition::stated::PutOff;
use domain::condition::task::Task;
use domain::condition::zero::ZeroCheck;
use domain::fact::What;
use domain::fleet::Tool;
use domain::ids::FactKey;
use domain::job::{Account, Details, Job, JobKind, Line, Measured, Reading};
use domain::moment::MINUTE_MS;
use domain::words::Text;

use super::super::calendar::{At, day};
use super::super::floor::{Arrival, Floor};
use super::super::plan::Plan;
use super::super::sheet::{blank, thousandths};
use super::super::{Made, Unmade, instruments, typing};

/// Topped up with hard water.
const HARD_WATER: u32 = 3308;
/// A sheet that nobody asked after.
const NEVER_CAME: u32 = 3309;
const STILL_OUT: [u32; 2] = [3314, 2104];
const PUT_OFF: u32 = 3302;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story("2026-08-20", "14:05", |floor, at| {
        floor.apart("3309 sample", |floor| {
            floor.kept_sample("3309 sample", at, NEVER_CAME)
        })
    })?;
    plan.story("2026-09-09", "10:15", |floor, at| {
        floor.apart("3308 sample", |floor| {
            floor.kept_sample("3308 sample", at, HARD_WATER)
        })
    })?;
    plan.story("2026-09-23", "13:40", |floor, at| {
        let found = [
            ("pH", "8.1", ""),
            ("hardness", "240", "ppm"),
            ("chloride", "62", "ppm"),
            ("iron", "6", "ppm"),
        ];
        floor.apart("3308 sheet", |floor| {
            sheet_back(floor, at, "3308 sample", "DEMO-LAB-3308", &found)
        })
    })?;
    plan.story("2026-09-29", "09:35", |floor, at| {
        floor.apart("samples still out", |floor| {
            let [one, other] = STILL_OUT;
            floor.kept_sample("sample still out", at, one)?;
            floor.kept_sample("other sample still out", at.plus_minutes(25)?, other)
        })
    })?;
    plan.story("2026-09-28", "06:50", |floor, at| {
        floor.apart("zero of R-3", |floor| zero(floor, at, "R-3", "0.2 °C"))
    })?;
    plan.story("2026-10-05", "06:20", |floor, at| {
        floor.apart("zero of R-1", |floor| zero(floor, at, "R-1", "0.1 °C"))
    })?;
    plan.story("2026-10-02", "15:10", |floor, at| {
        floor.apart("put off", |floor| put_off(floor, at))
    })
}

/// A sheet as it is taken in from the laboratory's file: a test of the moment its sample was taken,
/// entered when it came back. Each figure is a word, a number and a unit.
pub(super) fn sheet_back(
    floor: &mut Floor,
    at: At,
    sample: &'static str,
    number: &str,
    found: &[(&str, &str, &str)],
) -> Made<()> {
    let sample = floor.job_kept(sample)?;
    let (taken, of) = taken(floor, sample)?;
    let place = of.place.ok_or_else(|| missing("the loop of a sample"))?;
    let lines = found.iter().map(|figure| read(place, figure));
    let job = Job {
        unit: of.unit,
        place: Some(place),
        lines: lines.collect::<Made<_>>()?,
        details: Some(Details::Laboratory {
            report: Some(number.to_owned()),
            reported_on: Some(at.date),
        }),
        follows: Some(sample),
        ..blank(JobKind::ConditionTest, of.shop)
    };
    let late = at.moment.ms_since(taken.moment) / MINUTE_MS;
    let by = floor.in_the_office("P10")?;
    floor.record(taken, by, Arrival::AfterMinutes(late), What::Job(job));
    Ok(())
}

fn missing(what: &str) -> Unmade {
    Unmade::Missing(what.to_owned())
}

/// When a sample was taken, and its job.
fn taken(floor: &Floor, sample: FactKey) -> Made<(At, Job)> {
    let mut facts = floor.facts.iter();
    let recorded = facts.find(|recorded| recorded.key == sample);
    let recorded = recorded.ok_or_else(|| missing("a sample"))?;
    let What::Job(job) = &recorded.fact.what else {
        return Err(missing("the job of a sample"));
    };
    let when = recorded.fact.when;
    let at = At {
        moment: when.happened(),
        date: when.local_date,
        offset_min: when.utc_offset_min,
    };
    Ok((at, job.clone()))
}

fn read(place: Account, (what, typed, unit): &(&str, &str, &str)) -> Made<Line> {
    Ok(Line::Reading(Reading::of(
        place,
        Measured::Other {
            what: (*what).to_owned(),
            thousandths: thousandths(typed)?,
            unit: (*unit).to_owned(),
            typed: (*typed).to_owned(),
        },
        Tool::Laboratory,
    )))
}

fn zero(floor: &mut Floor, at: At, tag: &str, reads: &str) -> Made<()> {
    let person = floor.person("P8")?;
    let by = floor.on_a_tablet(person);
    let checked = ZeroCheck {
        instrument: instruments::by_tag(floor.seed, tag),
        reads: typing::temperature(reads)?,
    };
    floor.record(at, by, Arrival::AtOnce, What::ZeroCheck(checked));
    Ok(())
}

fn put_off(floor: &mut Floor, at: At) -> Made<()> {
    let place = floor.loop_of(PUT_OFF, None)?;
    let place = place
        .place()
        .ok_or_else(|| missing("a loop to put work off on"))?;
    let person = floor.person("P8")?;
    let by = floor.on_a_tablet(person);
    let reason = Text::plain("out on the pass with the night crew until the 16th");
    let put_off = PutOff {
        place,
        task: Task::InhibitorTest,
        until: day("2026-10-16")?,
        reason: reason.ok_or_else(|| missing("a reason"))?,
    };
    floor.record(at, by, Arrival::AtOnce, What::PutOff(put_off));
    Ok(())
}
