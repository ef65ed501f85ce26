//! Filter change: a coolant filter, with or without additive in it.

use std::collections::BTreeSet;

use domain::book::component::InhibitorClass;
use domain::fleet::Loop;
use domain::gate::Breach;
use domain::job::{Account, Details, Job, JobKind};

use super::common::{Common, read_loop};
use super::gate;
use super::ground::Ground;
use super::plain::{self, Step, YES_OR_NO};
use super::sheet::{DoneOn, Drawn, Foreseen, Parts, Sheet, Steps};
use crate::component::{Pad, TextField, Width};
use crate::form::{Form, Presence};

/// The sheet.
pub(crate) struct FilterChange;

const CHARGED: (&str, &str) = ("charged", "Does the new filter carry additive?");
const UNITS: (&str, &str) = ("additive_units", "Additive units in it (optional)");

/// More than any filter carries.
const MOST_UNITS: i64 = 100;

impl Sheet for FilterChange {
    fn kind(&self) -> JobKind {
        JobKind::FilterChange
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "The coolant filter was changed."
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
        let charged = form.choice(CHARGED, YES_OR_NO, Presence::Needed);
        let additive_tenths = read_additive(form, charged);
        let (circuit, charged) = (circuit?, charged?);
        let mut breaches = BTreeSet::new();
        if charged && !takes_additive(&circuit) {
            let why = format!(
                "this loop holds {}, which takes no additive from a filter; fit one without",
                circuit.class.word()
            );
            let breach = (Breach::ChargedFilter, &mut breaches);
            gate::has_happened(form, CHARGED, &why, breach);
        }
        Some(gate.into_parts(Parts {
            place: Some(Account::Loop(circuit.id)),
            details: Some(Details::FilterChange {
                charged,
                additive_tenths: additive_tenths?,
            }),
            breaches,
            ..Parts::default()
        }))
    }

    fn holds(&self, job: &Job) -> bool {
        let tenths = match &job.details {
            Some(Details::FilterChange {
                charged,
                additive_tenths,
            }) => (*charged || *additive_tenths == 0).then_some(*additive_tenths),
            _ => None,
        };
        job.lines.is_empty() && tenths.is_some()
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        gate::refill(form, job);
        if let Some(Details::FilterChange {
            charged,
            additive_tenths,
        }) = &job.details
        {
            plain::refill_yes_or_no(form, CHARGED, *charged);
            if *additive_tenths > 0 {
                let (whole, tenth) = (
                    additive_tenths.div_euclid(10),
                    additive_tenths.rem_euclid(10),
                );
                form.set(UNITS.0, format!("{whole}.{tenth}"));
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let filter = Step::new("Filter")
            .saying(held(ground))
            .caution("Close the filter's valves first and put a pan under it. Wipe drips, keep them from animals.")
            .with(plain::yes_or_no(form, CHARGED, "Never on coolant of organic acid technology."))
            .with(TextField {
                pad: Pad::Decimal,
                ..form.text_field(UNITS, "As printed on the filter.", Width::Five)
            });
        plain::page(common, [Step::before_opening(form, ground), filter])
    }
}

/// Units in tenths; none in a filter without additive.
fn read_additive(form: &mut Form, charged: Option<bool>) -> Option<i32> {
    let units = form.thousandths(UNITS, (0, MOST_UNITS));
    let Some((typed, thousandths)) = units else {
        return form.problem_of(UNITS.0).is_empty().then_some(0);
    };
    let problem = if charged == Some(false) && thousandths > 0 {
        format!("{typed} was typed, and a filter without additive has none; empty this")
    } else if thousandths % 100 != 0 {
        format!("{typed} was typed, one digit behind the mark is taken")
    } else {
        return i32::try_from(thousandths.div_euclid(100)).ok();
    };
    form.note(UNITS.0, UNITS.1, problem);
    None
}

/// Coolant of organic acid technology takes no additive from a filter (common practice, no source);
/// with nitrite or silicate in it neither, and least of all the loops of electric units and fuel
/// cells: our own default. Where the class is not known, whoever stands before it decides.
fn takes_additive(circuit: &Loop) -> bool {
    matches!(
        circuit.class,
        InhibitorClass::Iat
            | InhibitorClass::IatSca
            | InhibitorClass::Hoat
            | InhibitorClass::Unknown
    )
}

/// "It is kept for EG NOAT."
fn held(ground: &Ground) -> Vec<String> {
    let several = ground.loops().len() > 1;
    let said = |each: &Loop| {
        let of = if several { &each.name } else { "It" };
        format!(
            "{of} is kept for {} {}.",
            each.base.word(),
            each.class.word()
        )
    };
    ground.loops().iter().map(said).collect()
}
