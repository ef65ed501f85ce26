//! Spill: coolant that ran out of a loop or a vessel and was not caught.

use domain::job::{Account, Job, JobKind, Line};

use super::common::{Common, read_place, read_volume};
use super::ground::Ground;
use super::plain::{self, Step};
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet};
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct Spill;

const VOLUME: (&str, &str) = ("volume", "How much was spilled");

impl Sheet for Spill {
    fn kind(&self) -> JobKind {
        JobKind::Spill
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Either
    }

    fn purpose(&self) -> &'static str {
        "Coolant ran out and was not caught."
    }

    fn preset(&self, _: &mut Form, _: &Ground) {}

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let place = read_place(form, ground);
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let place = place?;
        let spilled = Moved {
            from: place,
            to: Account::Spilled,
            volume: volume?,
            temperature: None,
            fluid: None,
        };
        Some(Parts {
            place: Some(place),
            lines: vec![spilled.line()],
            ..Parts::default()
        })
    }

    fn holds(&self, job: &Job) -> bool {
        matches!(
            job.lines.as_slice(),
            [Line::Movement(movement)] if movement.to == Account::Spilled
                && movement.temperature.is_none()
                && Some(movement.from) == job.place
        )
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Line::Movement(movement)) = job.lines.first() {
            form.set(VOLUME.0, movement.volume.typed.clone());
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let spill = Step::new("Spill")
            .caution("Stop it at its source first, keep it from drains, ground and animals, take it up with something that soaks. What has to be reported, and to whom, the local code says.")
            .with(form.quantity_field(
                VOLUME,
                Offered::Volume,
                ground.units(),
                "As well as you can tell. Where it ran and how it was taken up: in the note.",
            ));
        plain::page(common, [spill])
    }
}
