//! Leak repair: what leaked and why. It opens a watch.

use domain::job::{Account, Details, Job, JobKind};

use super::common::{Common, read_loop};
use super::ground::Ground;
use super::plain::{self, Step};
use super::sheet::{DoneOn, Drawn, Foreseen, Parts, Sheet};
use crate::component::{Pad, TextField, Width};
use crate::form::{Form, Presence};

/// The sheet.
pub(crate) struct LeakRepair;

const PART: (&str, &str) = ("part", "Which part leaked?");
const CAUSE: (&str, &str) = ("cause", "Why did it leak?");
const WATCH: (&str, &str) = ("watch_days", "Watch it for how many days?");

/// Our own default, no source.
const USUAL_DAYS: &str = "30";
/// The longest watch: a year and a day.
pub(crate) const LONGEST_DAYS: i64 = 366;

impl Sheet for LeakRepair {
    fn kind(&self) -> JobKind {
        JobKind::LeakRepair
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "A leak was mended; the unit is watched from now on."
    }

    fn foreseen(&self) -> Foreseen {
        Foreseen::No
    }

    fn preset(&self, form: &mut Form, _: &Ground) {
        form.preset(WATCH.0, USUAL_DAYS);
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let circuit = read_loop(form, ground);
        let part = form.line(PART, Presence::Needed);
        let cause = form.line(CAUSE, Presence::Needed);
        let days = form.whole(WATCH, (1, LONGEST_DAYS), Presence::Needed);
        Some(Parts {
            place: Some(Account::Loop(circuit?.id)),
            details: Some(Details::LeakRepair {
                part: part?,
                cause: cause?,
                watch_days: u16::try_from(days?).ok()?,
            }),
            ..Parts::default()
        })
    }

    fn holds(&self, job: &Job) -> bool {
        job.lines.is_empty()
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Details::LeakRepair {
            part,
            cause,
            watch_days,
        }) = &job.details
        {
            form.set(PART.0, part.clone());
            form.set(CAUSE.0, cause.clone());
            form.set(WATCH.0, watch_days.to_string());
        }
    }

    fn page(&self, form: &Form, _: &Ground, common: Common) -> Drawn {
        let leak = Step::new("Leak")
            .caution("Mend it cold and at 0 gauge, key out: the fan can start. What was drained, put back or spilled is logged as jobs of their own.")
            .with(form.text_field(PART, "Like \"lower hose at the pump\".", Width::Twenty))
            .with(form.text_field(CAUSE, "Like \"clamp loose\".", Width::Twenty));
        let watch = Step::new("Watch").with(TextField {
            pad: Pad::Decimal,
            ..form.text_field(
                WATCH,
                "It stands on the unit's page until then. Put it under pressure before it leaves.",
                Width::Five,
            )
        });
        plain::page(common, [leak, watch])
    }
}
