//! Recover: coolant drawn out of a loop into a vessel. The gate comes first, then how much went
//! where, then whether it may be used again.

use std::collections::BTreeSet;

use askama::Template;
use domain::job::{Account, Job, JobKind};

use super::common::{Common, read_loop};
use super::drained::{Drained, DrainedFields};
use super::gate::{self, GateFields};
use super::ground::Ground;
use super::sheet::{DoneOn, Drawn, Parts, Sheet, Steps};
use crate::component::Caution;
use crate::desk::Frame;
use crate::form::Form;

/// The sheet.
pub(crate) struct Recover;

const DRAINED: Drained = Drained {
    volume: ("volume", "How much came out"),
    temperature: (
        "temperature",
        "Temperature of the fluid at the gauge (optional)",
    ),
    may_be_nothing: false,
};

#[derive(Template)]
#[template(path = "job/recover.html")]
struct Page {
    frame: Frame,
    common: Common,
    open_caution: Caution,
    gate: GateFields,
    drained: DrainedFields,
}

impl Sheet for Recover {
    fn kind(&self) -> JobKind {
        JobKind::Recover
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "Coolant was drawn out of a unit into a vessel."
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        Drained::preset(form, ground);
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let circuit = read_loop(form, ground);
        let gate = gate::read(form, ground.units());
        let drained = DRAINED.read(form, (ground, circuit.as_ref()), &mut breaches)?;
        Some(gate.into_parts(Parts {
            place: Some(Account::Loop(circuit?.id)),
            lines: drained.lines,
            looks: drained.looks,
            breaches,
            ..Parts::default()
        }))
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        gate::refill(form, job);
        DRAINED.refill(form, job);
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        Drawn::from(&Page {
            frame: common.frame.clone(),
            open_caution: gate::LET_IT_COOL,
            gate: GateFields::of(form, ground.units()),
            drained: DRAINED.fields(form, ground),
            common,
        })
    }
}
