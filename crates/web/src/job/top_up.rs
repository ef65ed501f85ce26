//! Top up: fluid added to a loop in service. One page, the commonest job of all.

use std::collections::BTreeSet;

use askama::Template;
use domain::job::{Account, Job, JobKind, Line, Mark};

use super::common::{Common, read_loop, read_volume};
use super::ground::Ground;
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet};
use super::{mark, source};
use crate::component::{Caution, ChoiceField, QuantityField};
use crate::desk::Frame;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct TopUp;

const VOLUME: (&str, &str) = ("volume", "How much was added");
const MARK: (&str, &str) = ("mark", "Is the level now at the mark?");
const AFTER_HEAT_CYCLE: &str = "after_heat_cycle";

#[derive(Template)]
#[template(path = "job/top_up.html")]
struct Page {
    frame: Frame,
    common: Common,
    caution: Caution,
    source: ChoiceField,
    volume: QuantityField,
    mark: ChoiceField,
    after_heat_cycle: bool,
}

impl Sheet for TopUp {
    fn kind(&self) -> JobKind {
        JobKind::TopUp
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "Fluid was added to a unit in service."
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        form.preset("mark", "at");
        source::preset(form, ground);
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let circuit = read_loop(form, ground);
        let source = source::read(form, (ground, circuit.as_ref()), &mut breaches);
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let mark = mark::read(form, MARK, Presence::Needed);
        let after_heat_cycle = form.ticked(AFTER_HEAT_CYCLE);
        let source = source?;
        let to = Account::Loop(circuit?.id);
        let moved = Moved {
            from: source.from,
            to,
            volume: volume?,
            temperature: None,
            fluid: source.fluid,
        };
        Some(Parts {
            place: Some(to),
            lines: vec![moved.line()],
            mark: Some(mark?),
            after_heat_cycle,
            breaches,
            ..Parts::default()
        })
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        // As a new form has it, where nobody said.
        mark::refill(form, MARK, job.mark.or(Some(Mark::At)));
        if job.after_heat_cycle {
            form.set(AFTER_HEAT_CYCLE, "yes");
        }
        if let Some(Line::Movement(movement)) = job.lines.first() {
            form.set(VOLUME.0, movement.volume.typed.clone());
            source::refill(form, movement);
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        Drawn::from(&Page {
            frame: common.frame.clone(),
            caution: Caution {
                text: "Open the cap only below 50 °C (122 °F) and at 0 gauge. Wipe drips, close the container, keep it from animals.",
            },
            source: source::field(form, ground),
            volume: form
                .quantity_field(
                    VOLUME,
                    Offered::Volume,
                    ground.units(),
                    ground.holdings_in_words(form),
                )
                .needed(),
            mark: mark::field(
                form,
                MARK,
                "At the mark proves the loop full, and that as much had been used up.",
            ),
            after_heat_cycle: form.typed(AFTER_HEAT_CYCLE) == "yes",
            common,
        })
    }
}
