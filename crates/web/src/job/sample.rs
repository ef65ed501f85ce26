//! Sample: a bottle sent to a laboratory. What comes back is a condition test that goes on from it.

use chrono_tz::Tz;
use domain::ids::FactKey;
use domain::job::{Account, Details, Job, JobKind};
use domain::moment::Moment;

use super::common::{Common, read_place};
use super::ground::Ground;
use super::plain::{self, Step};
use super::sheet::{DoneOn, Drawn, Foreseen, Parts, Sheet};
use crate::component::Width;
use crate::form::{Form, Presence};

/// The sheet.
pub(crate) struct Sample;

const BOTTLE: (&str, &str) = ("bottle", "Number on the bottle");
const TESTS: (&str, &str) = ("tests", "Tests asked for");

impl Sheet for Sample {
    fn kind(&self) -> JobKind {
        JobKind::Sample
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Either
    }

    fn purpose(&self) -> &'static str {
        "A bottle was sent to a laboratory."
    }

    fn foreseen(&self) -> Foreseen {
        Foreseen::No
    }

    fn preset(&self, _: &mut Form, _: &Ground) {}

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let place = read_place(form, ground);
        let bottle = form.line(BOTTLE, Presence::Needed);
        let tests = form.line(TESTS, Presence::Needed);
        Some(Parts {
            place: Some(place?),
            details: Some(Details::Sample {
                bottle: bottle?,
                tests: tests?,
            }),
            ..Parts::default()
        })
    }

    /// Lists write the result beside it.
    fn holds(&self, job: &Job) -> bool {
        job.lines.is_empty()
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Details::Sample { bottle, tests }) = &job.details {
            form.set(BOTTLE.0, bottle.clone());
            form.set(TESTS.0, tests.clone());
        }
    }

    fn page(&self, form: &Form, _: &Ground, common: Common) -> Drawn {
        let sample = Step::new("Sample")
            .caution("Take the sample only below 50 °C (122 °F) and at 0 gauge, from circulated coolant. Eye protection on. Wipe drips, keep it from animals.")
            .with(form.text_field(BOTTLE, "Write it on the label before it is filled.", Width::Twenty))
            .with(form.text_field(TESTS, "Like \"freeze point, pH, metals\".", Width::Twenty));
        plain::page(common, [sample])
    }
}

/// Nobody has a result of a sample this long after it was taken: 21 days (our own default).
pub(crate) const CHASED_DAYS: i64 = 21;

/// Where the result of a sample of a unit or vessel is logged: a condition test that goes on from it, at
/// the time it was taken.
pub(crate) fn way_to_result(
    subject: &str,
    (sample, place): (FactKey, Option<Account>),
    (taken_at, zone): (Moment, Tz),
) -> String {
    let kind = JobKind::ConditionTest.code();
    let of_loop = match place {
        Some(Account::Loop(place)) => format!("&loop={place}"),
        _ => String::new(),
    };
    let at = taken_at.utc().unwrap_or_default().with_timezone(&zone);
    format!(
        "{subject}/jobs/{kind}?follows={sample}&instrument=other&tool=laboratory&when=earlier&day={}&time={}{of_loop}",
        at.date_naive(),
        at.format("%H:%M")
    )
}
