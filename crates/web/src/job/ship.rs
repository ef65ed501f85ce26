//! Ship out: fluid leaves the site with a carrier and a paper.
//!
//! A manager prepares it; the compliance officer puts their name under it on the page of the job. One
//! paper is one job: what goes with the vessel of the page is a line of its own each.

use std::collections::BTreeSet;

use domain::fleet::{Holds, Role};
use domain::ids::PlaceId;
use domain::job::{Account, Details, Fit, Intent, Job, JobKind, Line, Movement};
use domain::quantity::entry::Typed;
use domain::quantity::{Mass, Temperature, Volume};
use uuid::Uuid;

use super::common::{self, Common, read_volume};
use super::ground::{Ground, KnownVessel};
use super::plain::{self, Step};
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet};
use super::transfer;
use crate::component::{Field, Width};
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

/// The field of a further vessel's load: this and the vessel's id.
const FURTHER: &str = "further-";
/// So many of them are read out of a form that names them itself.
const MOST_FURTHER: usize = 200;
const FURTHER_VESSELS: (&str, &str) = (
    "Further vessels on the same paper",
    "One paper, one job, one signature. Leave empty what stayed here; the temperature above counts for all of it.",
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
        let further = read_further(form, (ground, &own));
        let loads = std::iter::once((own.card.id, volume?)).chain(further?);
        let left = |(vessel, volume)| Moved {
            from: Account::Vessel(vessel),
            to: Account::Carrier,
            volume,
            temperature: temperature.clone(),
            fluid: None,
        };
        let lines = loads.map(left);
        Some(Parts {
            place: Some(Account::Vessel(own.card.id)),
            lines: lines
                .map(|moved| moved.judged(Fit::Undecided, Intent::Undecided))
                .collect(),
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
        let mut loads = job.lines.iter().map(load_of);
        let Some(first) = loads.next().flatten() else {
            return false;
        };
        let mut seen = BTreeSet::from([first.from]);
        let alike = |line: Option<&Movement>| {
            line.is_some_and(|further| {
                further.temperature == first.temperature && seen.insert(further.from)
            })
        };
        job.lines.len() == 1 || (job.place == Some(first.from) && loads.all(alike))
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        for (n, movement) in job.lines.iter().filter_map(load_of).enumerate() {
            let typed = movement.volume.typed.clone();
            match movement.from.place().filter(|_| n > 0) {
                Some(vessel) => form.set(&further_name(vessel), typed),
                None => form.set(VOLUME.0, typed),
            }
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
            ))
            .folding(FURTHER_VESSELS, (form, further_fields(form, ground)));
        let papers = Step::new("Papers")
            .with(form.text_field(CARRIER, "Who took it away.", Width::Twenty))
            .with(form.text_field(
                DOCUMENT,
                "It goes for every vessel of the load.",
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

/// A line of a shipment; none for a line of another kind.
fn load_of(line: &Line) -> Option<&Movement> {
    match line {
        Line::Movement(movement) if movement.to == Account::Carrier => Some(movement),
        _ => None,
    }
}

fn further_name(vessel: PlaceId) -> String {
    format!("{FURTHER}{vessel}")
}

/// The vessels that may go on the same paper: those of the shop with waste or used fluid in them.
fn may_go(ground: &Ground) -> impl Iterator<Item = &KnownVessel> {
    let own = ground.own_vessel().map(|own| own.card.id);
    ground.vessels.iter().filter(move |vessel| {
        Some(vessel.card.id) != own && vessel.shown_ml() > 0 && is_used(vessel)
    })
}

/// Kept for something else than fresh coolant, or spoilt.
fn is_used(vessel: &KnownVessel) -> bool {
    vessel.card.holds != Holds::Fresh || vessel.is_unfit()
}

/// The further vessels of a page or form: those that may go, and those the form has a field of, such as
/// one that is empty since the shipment that is corrected.
fn further(form: &Form, ground: &Ground) -> Vec<PlaceId> {
    let mut all: Vec<PlaceId> = may_go(ground).map(|vessel| vessel.card.id).collect();
    let names = form.values().iter().map(|(name, _)| name);
    let ids = names.filter_map(|name| Uuid::try_parse(name.strip_prefix(FURTHER)?).ok());
    for vessel in ids.map(PlaceId).take(MOST_FURTHER) {
        if !all.contains(&vessel) {
            all.push(vessel);
        }
    }
    all
}

/// "How much left of D-8".
fn further_label(vessel: PlaceId, ground: &Ground) -> String {
    format!("How much left of {}", ground.name_of(vessel))
}

/// Reads what left of further vessels; none where one of them cannot go on this paper.
fn read_further(
    form: &mut Form,
    (ground, own): (&Ground, &KnownVessel),
) -> Option<Vec<(PlaceId, Typed<Volume>)>> {
    let mut loads = Some(Vec::new());
    for vessel in further(form, ground) {
        let (name, label) = (further_name(vessel), further_label(vessel, ground));
        let problems = form.problems().len();
        let read = read_volume(form, (&name, &label), (ground, Presence::Optional));
        if let Some(why) = read.as_ref().and_then(|_| against(vessel, (ground, own))) {
            form.note(&name, &label, why);
        }
        if form.problems().len() > problems {
            loads = None;
        }
        if let (Some(loads), Some(read)) = (&mut loads, read) {
            loads.push((vessel, read));
        }
    }
    loads
}

/// Why a vessel cannot be a further one of this shipment. One that left with the shipment that is
/// corrected can, whatever became of it since: it may be empty, cleaned out or retired now.
fn against(vessel: PlaceId, (ground, own): (&Ground, &KnownVessel)) -> Option<String> {
    if vessel == own.card.id {
        return Some(format!(
            "{} is on this paper already, with what is typed under \u{201C}{}\u{201D}",
            own.card.name, VOLUME.1
        ));
    }
    if ground.took_out_of(vessel) {
        return None;
    }
    match ground.vessel(vessel) {
        None => Some("no such vessel is in use in this shop; leave it empty".to_owned()),
        Some(known) if !is_used(known) => Some(format!(
            "{} holds fresh coolant; ship it out on a page of its own",
            known.card.name
        )),
        Some(_) => None,
    }
}

fn further_fields(form: &Form, ground: &Ground) -> Vec<Field> {
    let field = |vessel: PlaceId| {
        let hint = ground.vessel_now_or_then(vessel);
        let hint = hint.map(|known| held(known, ground));
        let (name, label) = (further_name(vessel), further_label(vessel, ground));
        let named = (name.as_str(), label.as_str());
        let hint = hint.unwrap_or_default();
        Field::from(form.quantity_field(named, Offered::Volume, ground.units(), hint))
    };
    further(form, ground).into_iter().map(field).collect()
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
