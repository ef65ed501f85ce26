//! Move: fluid moved from one vessel to another.

use std::collections::BTreeSet;

use askama::Template;
use domain::job::{Account, Job, JobKind, Line};
use domain::quantity::{Temperature, Volume};

use super::common::{self, Common, read_volume};
use super::ground::{Ground, KnownVessel};
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet};
use super::vessel_choice::{self, Purpose};
use crate::component::{Caution, ChoiceField, Gauge, QuantityField};
use crate::desk::Frame;
use crate::figure;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct Transfer;

const TO: (&str, &str) = ("to", "Into which vessel?");
const VOLUME: (&str, &str) = ("volume", "How much was moved");
const TEMPERATURE: (&str, &str) = (
    "temperature",
    "Temperature of the fluid at the gauge (optional)",
);

#[derive(Template)]
#[template(path = "job/transfer.html")]
struct Page {
    frame: Frame,
    common: Common,
    from: Option<Gauge>,
    caution: Caution,
    to: ChoiceField,
    volume: QuantityField,
    temperature: QuantityField,
}

impl Sheet for Transfer {
    fn kind(&self) -> JobKind {
        JobKind::Move
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Vessel
    }

    fn purpose(&self) -> &'static str {
        "Fluid was moved from this vessel into another."
    }

    fn preset(&self, _: &mut Form, _: &Ground) {}

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let units = ground.units();
        let from = ground.own_vessel()?;
        let to = vessel_choice::read(
            form,
            TO,
            Purpose::TakesFromVessel(&from),
            (ground, &mut breaches),
        );
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let temperature =
            form.quantity::<Temperature>(TEMPERATURE, units.temperature.unit(), Presence::Optional);
        let own = Account::Vessel(from.card.id);
        let moved = Moved {
            from: own,
            to: Account::Vessel(to?),
            volume: volume?,
            temperature,
            fluid: None,
        };
        Some(Parts {
            place: Some(own),
            lines: vec![moved.line()],
            breaches,
            ..Parts::default()
        })
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Line::Movement(movement)) = job.lines.first() {
            if let Some(to) = movement.to.place() {
                form.set(TO.0, to.to_string());
            }
            form.set(VOLUME.0, movement.volume.typed.clone());
            if let Some(typed) = &movement.temperature {
                form.set(TEMPERATURE.0, typed.typed.clone());
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let own = ground.own_vessel();
        // A job on a unit never comes here.
        let to = own
            .as_ref()
            .map_or(Purpose::TakesUnfit, Purpose::TakesFromVessel);
        Drawn::from(&Page {
            frame: common.frame.clone(),
            from: own.as_ref().map(|own| gauge(own, ground)),
            caution: Caution {
                text: "Wipe drips, close both vessels, keep it from animals. Never to a drain, the ground or a septic tank.",
            },
            to: vessel_choice::field(form, TO, to, ground),
            volume: form
                .quantity_field(VOLUME, Offered::Volume, units, "")
                .needed(),
            temperature: form.quantity_field(
                TEMPERATURE,
                Offered::Temperature,
                units,
                common::left_empty(units),
            ),
            common,
        })
    }
}

/// The vessel the fluid comes from.
pub(super) fn gauge(own: &KnownVessel, ground: &Ground) -> Gauge {
    let units = ground.units();
    let held = figure::volume(units, own.shown_ml());
    let capacity = own.card.capacity.as_ref().map(|capacity| capacity.value);
    let of = capacity.map_or_else(String::new, |capacity| {
        format!(" of {}", units.volume(capacity))
    });
    Gauge {
        text: format!("{held}{of}"),
        below: format!(
            "{}, {}, by the book",
            own.card.kind.word(),
            own.card.holds.word()
        ),
        held_ml: own.shown_ml(),
        capacity_ml: capacity.map(Volume::ml),
        fill_limit_ml: own.card.fill_limit.as_ref().map(|limit| limit.value.ml()),
        id: "own".to_owned(),
    }
}
