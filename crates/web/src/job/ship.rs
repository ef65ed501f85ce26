//! Ship out: fluid leaves the site with a carrier and a paper.
//!
//! A manager prepares it; the compliance officer puts their name under it on the page of the job.

use domain::fleet::Role;
use domain::job::{Account, Details, Fit, Intent, Job, JobKind, Line};
use domain::quantity::{Mass, Temperature};

use super::common::{self, Common, read_volume};
use super::ground::{Ground, KnownVessel};
use super::plain::{self, Step};
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet};
use super::transfer;
use crate::component::Width;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct Ship;

const VOLUME: (&str, &str) = ("volume", "How much left");
const TEMPERATURE: (&str, &str) = ("temperature", "Temperature of the fluid (optional)");
const CARRIER: (&str, &str) = ("carrier", "Carrier");
const DOCUMENT: (&str, &str) = ("document", "Number of the shipping paper");
const DESTINATION: (&str, &str) = ("destination", "Where it goes (optional)");
const TREATMENT: (&str, &str) = (
    "treatment",
    "Treatment or method code on the paper (optional)",
);

impl Sheet for Ship {
    fn kind(&self) -> JobKind {
        JobKind::Ship
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Vessel
    }

    fn purpose(&self) -> &'static str {
        "Fluid in this vessel left the site with a carrier."
    }

    fn logged_by(&self) -> &'static [Role] {
        &[Role::Manager]
    }

    fn preset(&self, _: &mut Form, _: &Ground) {}

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let own = ground.own_vessel()?;
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let temperature = form.quantity::<Temperature>(
            TEMPERATURE,
            ground.units().temperature.unit(),
            Presence::Optional,
        );
        let carrier = form.line(CARRIER, Presence::Needed);
        let document = form.line(DOCUMENT, Presence::Needed);
        let destination = form.line(DESTINATION, Presence::Optional);
        let treatment = form.line(TREATMENT, Presence::Optional);
        let place = Account::Vessel(own.card.id);
        let moved = Moved {
            from: place,
            to: Account::Carrier,
            volume: volume?,
            temperature,
            fluid: None,
        };
        Some(Parts {
            place: Some(place),
            lines: vec![moved.judged(Fit::Undecided, Intent::Undecided)],
            details: Some(Details::Ship {
                carrier: carrier?,
                document: document?,
                destination,
                treatment,
            }),
            ..Parts::default()
        })
    }

    /// Lists can tell of a shipment without its paper.
    fn holds(&self, job: &Job) -> bool {
        matches!(job.lines.as_slice(), [Line::Movement(_)])
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Line::Movement(movement)) = job.lines.first() {
            form.set(VOLUME.0, movement.volume.typed.clone());
            if let Some(typed) = &movement.temperature {
                form.set(TEMPERATURE.0, typed.typed.clone());
            }
        }
        if let Some(Details::Ship {
            carrier,
            document,
            destination,
            treatment,
        }) = &job.details
        {
            form.set(CARRIER.0, carrier.clone());
            form.set(DOCUMENT.0, document.clone());
            form.set(DESTINATION.0, destination.clone().unwrap_or_default());
            form.set(TREATMENT.0, treatment.clone().unwrap_or_default());
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let own = ground.own_vessel();
        let load = Step::new("Load")
            .saying(own.as_ref().map(|own| held(own, ground)))
            .caution("Local rules and licensed practice come first. Close the lid, wipe the outside, keep spill absorbent at hand. Never to a drain, the ground or a septic tank.")
            .with(form.quantity_field(
                VOLUME,
                Offered::Volume,
                units,
                "Measured, or a fair estimate of what is in it: the size of the drum is none.",
            ))
            .with(form.quantity_field(
                TEMPERATURE,
                Offered::Temperature,
                units,
                common::left_empty(units),
            ));
        let papers = Step::new("Papers")
            .with(form.text_field(CARRIER, "Who took it away.", Width::Twenty))
            .with(form.text_field(
                DOCUMENT,
                "The same number for every vessel of one load.",
                Width::Twenty,
            ))
            .with(form.text_field(
                DESTINATION,
                "The facility named on the paper.",
                Width::Twenty,
            ))
            .with(form.text_field(TREATMENT, "Like R2 or H020.", Width::Ten));
        plain::page(common, [load, papers])
    }
}

/// "It holds 38.0 L of 200.0 L, 41 kg, drum, waste, by the book."
fn held(own: &KnownVessel, ground: &Ground) -> String {
    let gauge = transfer::gauge(own, ground);
    let grams = own
        .contents
        .as_ref()
        .and_then(|held| held.contents.mass_g());
    let mass = grams.and_then(|grams| Mass::from_g(grams).ok());
    let mass = mass.map_or_else(
        || "mass not known".to_owned(),
        |mass| ground.units().mass(mass),
    );
    format!("It holds {}, {mass}, {}.", gauge.text, gauge.below)
}
