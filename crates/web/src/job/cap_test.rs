//! Cap test: the cap tried on its own, apart from the system.

use domain::job::{Account, Details, Job, JobKind};
use domain::quantity::GaugePressure;
use domain::quantity::entry::Typed;

use super::common::{Common, read_loop};
use super::gate;
use super::ground::Ground;
use super::plain::{self, Step, YES_OR_NO};
use super::pressure_test::rating_sentence;
use super::sheet::{DoneOn, Drawn, Foreseen, Parts, Sheet, Steps};
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct CapTest;

const STAMPED: (&str, &str) = ("stamped", "Rating stamped on the cap");
const OPENED: (&str, &str) = ("opened_at", "It opened at");
const HOLDS: (&str, &str) = ("holds", "Does it hold below that?");
const VALVE: (&str, &str) = (
    "vacuum_valve",
    "Does its vacuum valve let air in? (optional)",
);
const NEW: (&str, &str) = ("replaced_by", "Rating of the new cap (optional)");

impl Sheet for CapTest {
    fn kind(&self) -> JobKind {
        JobKind::CapTest
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "The pressure cap was tried on its own."
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn foreseen(&self) -> Foreseen {
        Foreseen::No
    }

    fn preset(&self, _: &mut Form, _: &Ground) {}

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let circuit = read_loop(form, ground);
        let gate = gate::read(form, ground.units());
        let stamped = read_pressure(form, STAMPED, (ground, Presence::Needed));
        let opened_at = read_pressure(form, OPENED, (ground, Presence::Needed));
        let holds = form.choice(HOLDS, YES_OR_NO, Presence::Needed);
        let vacuum_valve = form.choice(VALVE, YES_OR_NO, Presence::Optional);
        let replaced_by = read_pressure(form, NEW, (ground, Presence::Optional));
        Some(gate.into_parts(Parts {
            place: Some(Account::Loop(circuit?.id)),
            details: Some(Details::CapTest {
                stamped: stamped?,
                opened_at: opened_at?,
                holds: holds?,
                vacuum_valve,
                replaced_by,
            }),
            ..Parts::default()
        }))
    }

    fn holds(&self, job: &Job) -> bool {
        job.lines.is_empty()
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        gate::refill(form, job);
        if let Some(Details::CapTest {
            stamped,
            opened_at,
            holds,
            vacuum_valve,
            replaced_by,
        }) = &job.details
        {
            form.set(STAMPED.0, stamped.typed.clone());
            form.set(OPENED.0, opened_at.typed.clone());
            plain::refill_yes_or_no(form, HOLDS, *holds);
            if let Some(works) = vacuum_valve {
                plain::refill_yes_or_no(form, VALVE, *works);
            }
            if let Some(new) = replaced_by {
                form.set(NEW.0, new.typed.clone());
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let pressure =
            |named, hint| form.quantity_field(named, Offered::GaugePressure, ground.units(), hint);
        let ratings = ground.loops().iter();
        let cap = Step::new("Cap")
            .saying(ratings.map(|each| rating_sentence(each, ground)))
            .caution("Eye protection on. Raise the pressure slowly and keep clear of where the cap lets it off.")
            .with(pressure(STAMPED, "As on the cap, not as on a list."))
            .with(pressure(OPENED, ""))
            .with(plain::yes_or_no(form, HOLDS, ""))
            .with(plain::yes_or_no(form, VALVE, "Without it hoses fold as the system cools."));
        let new = Step::new("New cap").with(pressure(NEW, "Left empty when the old one stays on."));
        plain::page(common, [Step::before_opening(form, ground), cap, new])
    }
}

/// Nothing is stamped with 0, and nothing opens there.
fn read_pressure(
    form: &mut Form,
    named: (&str, &str),
    (ground, presence): (&Ground, Presence),
) -> Option<Typed<GaugePressure>> {
    let units = ground.units();
    let pressure = form.quantity::<GaugePressure>(named, units.pressure.unit(), presence)?;
    if pressure.value.pa() <= 0 {
        let found = units.gauge_pressure(pressure.value);
        let problem = format!("{found} was typed, it must be above 0");
        form.note(named.0, named.1, problem);
        return None;
    }
    Some(pressure)
}
