//! Inspect: a vessel looked at, and when that is due again.

use chrono::Days;
use domain::condition::vessel::inspection_due;
use domain::job::{Account, Details, Job, JobKind};
use storage::PlaceContents;

use super::common::Common;
use super::ground::Ground;
use super::plain::{self, Step, YES_OR_NO};
use super::sheet::{DoneOn, Drawn, Foreseen, Parts, Sheet};
use crate::component::Width;
use crate::form::{Form, Presence};

/// The sheet.
pub(crate) struct Inspect;

const PASSED: (&str, &str) = ("passed", "Did it pass?");
const NEXT_DUE: (&str, &str) = (
    "next_due",
    "Next due on, like 2027-10-05 (needed when it passed)",
);

impl Sheet for Inspect {
    fn kind(&self) -> JobKind {
        JobKind::Inspect
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Vessel
    }

    fn purpose(&self) -> &'static str {
        "This vessel, its hoses and gauges were inspected."
    }

    fn foreseen(&self) -> Foreseen {
        Foreseen::No
    }

    fn preset(&self, _: &mut Form, _: &Ground) {}

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let own = Account::Vessel(ground.own_vessel()?.card.id);
        let passed = form.choice(PASSED, YES_OR_NO, Presence::Needed);
        let presence = if passed == Some(true) {
            Presence::Needed
        } else {
            Presence::Optional
        };
        let typed = form.day(NEXT_DUE, presence);
        let next_due = match (passed?, typed) {
            (true, typed) => {
                let next_due = typed?;
                if next_due <= ground.today {
                    let problem = format!(
                        "{next_due} was typed, which is over already; type the day it is due again, after {}",
                        ground.today
                    );
                    form.note(NEXT_DUE.0, NEXT_DUE.1, problem);
                    return None;
                }
                next_due
            }
            // Out of date from the day it failed.
            (false, None) => ground.today,
            (false, Some(_)) => {
                let problem = "it did not pass, so it is due until it does; empty this";
                form.note(NEXT_DUE.0, NEXT_DUE.1, problem);
                return None;
            }
        };
        Some(Parts {
            place: Some(own),
            details: Some(Details::Inspect {
                passed: passed?,
                next_due,
            }),
            ..Parts::default()
        })
    }

    fn holds(&self, job: &Job) -> bool {
        job.lines.is_empty()
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Details::Inspect { passed, next_due }) = &job.details {
            plain::refill_yes_or_no(form, PASSED, *passed);
            if *passed {
                form.set(NEXT_DUE.0, next_due.to_string());
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let in_a_year = ground.today.checked_add_days(Days::new(365));
        let hint = in_a_year.map_or_else(String::new, |day| {
            format!("As on its tag or certificate. A year from today is {day}.")
        });
        let inspection = Step::new("Inspection")
            .saying(due_now(ground))
            .caution("Let all pressure off before anything is unhooked or opened. Relief valves are set and sealed by those licensed to.")
            .with(plain::yes_or_no(form, PASSED, "Number of the certificate, relief setting, hoses: in the note."))
            .with(form.text_field(NEXT_DUE, hint, Width::Ten));
        plain::page(common, [inspection])
    }
}

/// "It is due on 2026-11-01."
fn due_now(ground: &Ground) -> Option<String> {
    let own = ground.own_vessel()?;
    let held = own.contents.as_ref().map(PlaceContents::held_now);
    let due = inspection_due(&own.card, held)?;
    let verb = if due > ground.today { "is" } else { "was" };
    Some(format!("It {verb} due on {due}."))
}
