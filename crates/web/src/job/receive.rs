//! Receive: bought fluid delivered into a vessel.

use std::collections::BTreeSet;

use domain::fleet::{Fluid, Holds};
use domain::gate::Breach;
use domain::ids::FluidId;
use domain::job::{Account, Job, JobKind, Line};
use domain::quantity::{FractionByVolume, Temperature};

use super::common::{self, Common, read_volume};
use super::gate;
use super::ground::{Ground, KnownVessel};
use super::plain::{self, Step};
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet};
use super::{source, transfer, vessel_choice};
use crate::component::{Choice, ChoiceLook, Pad, TextField, Width};
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct Receive;

const FLUID: (&str, &str) = ("fluid", "What was delivered?");
const VOLUME: (&str, &str) = ("volume", "How much was delivered");
const TEMPERATURE: (&str, &str) = ("temperature", "Temperature of the fluid (optional)");
const LOT: (&str, &str) = ("lot", "Lot on the label (optional)");
const PRICE: (&str, &str) = (
    "price",
    "Price of the delivery, in the shop's currency (optional)",
);

const HIGHEST_PRICE: i64 = 10_000_000;

impl Sheet for Receive {
    fn kind(&self) -> JobKind {
        JobKind::Receive
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Vessel
    }

    fn purpose(&self) -> &'static str {
        "Bought fluid was delivered into this vessel."
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        let Some(own) = ground.own_vessel() else {
            return;
        };
        let mut fitting = ground
            .fluids
            .iter()
            .filter(|fluid| reason_against(fluid, &own).is_none());
        if let (Some(only), None) = (fitting.next(), fitting.next()) {
            form.preset(FLUID.0, only.id.to_string());
        }
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let own = ground.own_vessel()?;
        let units = ground.units();
        let fluid = read_fluid(form, (ground, &own), &mut breaches);
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let temperature =
            form.quantity::<Temperature>(TEMPERATURE, units.temperature.unit(), Presence::Optional);
        let lot = form.line(LOT, Presence::Optional);
        let price_hundredths = read_price(form);
        let fluid = domain::job::FluidNamed {
            lot,
            price_hundredths,
            ..source::named(&fluid?)
        };
        let place = Account::Vessel(own.card.id);
        let moved = Moved {
            from: Account::Supplier,
            to: place,
            volume: volume?,
            temperature,
            fluid: Some(fluid),
        };
        Some(Parts {
            place: Some(place),
            lines: vec![moved.line()],
            breaches,
            ..Parts::default()
        })
    }

    /// Lists name fluids that are on no list of the shop.
    fn holds(&self, job: &Job) -> bool {
        match job.lines.as_slice() {
            [Line::Movement(movement)] => {
                let fluid = movement.fluid.as_ref();
                fluid.is_some_and(|fluid| fluid.fluid.is_some())
            }
            _ => false,
        }
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        let Some(Line::Movement(movement)) = job.lines.first() else {
            return;
        };
        form.set(VOLUME.0, movement.volume.typed.clone());
        if let Some(typed) = &movement.temperature {
            form.set(TEMPERATURE.0, typed.typed.clone());
        }
        if let Some(fluid) = &movement.fluid {
            form.set(LOT.0, fluid.lot.clone().unwrap_or_default());
            if let Some(id) = fluid.fluid {
                form.set(FLUID.0, id.to_string());
            }
            if let Some(price) = fluid.price_hundredths {
                let (whole, rest) = (price.div_euclid(100), price.rem_euclid(100));
                form.set(PRICE.0, format!("{whole}.{rest:02}"));
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let own = ground.own_vessel();
        let held = own.as_ref().map(|own| {
            let gauge = transfer::gauge(own, ground);
            format!("It holds {}, {}.", gauge.text, gauge.below)
        });
        let choices = own
            .as_ref()
            .map_or_else(Vec::new, |own| choices(ground, own));
        let delivery = Step::new("Delivery")
            .saying(held)
            .caution("Read the label of every container before it is emptied: what is mixed stays mixed. Wipe drips, keep them from animals.")
            .with(form.choice_field(FLUID, "", choices, ChoiceLook::OneOf))
            .with(form.quantity_field(VOLUME, Offered::Volume, units, ""));
        let papers = Step::new("Papers")
            .with(form.text_field(LOT, "", Width::Twenty))
            .with(TextField {
                pad: Pad::Decimal,
                ..form.text_field(PRICE, "Of all of it, like 420.50.", Width::Ten)
            })
            .with(form.quantity_field(
                TEMPERATURE,
                Offered::Temperature,
                units,
                common::left_empty(units),
            ));
        plain::page(common, [delivery, papers])
    }
}

/// The fluids that fit, and apart from them those it can only have been already.
fn choices(ground: &Ground, own: &KnownVessel) -> Vec<Choice> {
    let choice = |fluid: &Fluid| {
        let against = reason_against(fluid, own);
        let is_against = against.is_some();
        Choice {
            value: fluid.id.to_string(),
            label: fluid.name.clone(),
            hint: against.unwrap_or_default(),
            chosen: false,
            group: if is_against {
                vessel_choice::ONLY_LOGGED.to_owned()
            } else {
                String::new()
            },
        }
    };
    let mut all: Vec<Choice> = ground.fluids.iter().map(choice).collect();
    // Those that fit first; the order among them stays.
    all.sort_by_key(|choice| !choice.group.is_empty());
    all
}

/// Why a fluid should not be put into a vessel; nothing when it may.
fn reason_against(fluid: &Fluid, own: &KnownVessel) -> Option<String> {
    match own.card.holds {
        Holds::Fresh => {}
        other => return Some(format!("this vessel is kept for {}", other.word())),
    }
    // Without concentrate it is of no kind.
    let same = fluid.strength == FractionByVolume::MIN
        || vessel_choice::is_same_kind(own.kind(), (fluid.base, fluid.class));
    (!same).then(|| "another kind of coolant than this vessel is kept for".to_owned())
}

fn read_fluid(
    form: &mut Form,
    (ground, own): (&Ground, &KnownVessel),
    breaches: &mut BTreeSet<Breach>,
) -> Option<Fluid> {
    let id = form.id(FLUID, Presence::Needed)?;
    let found = ground.fluids.iter().find(|fluid| fluid.id == FluidId(id));
    let Some(fluid) = found else {
        let problem = "no such fluid is on the shop's list; choose one of those offered";
        form.note(FLUID.0, FLUID.1, problem);
        return None;
    };
    if let Some(against) = reason_against(fluid, own) {
        let why = format!(
            "{} should not go in here: {against}; choose another",
            fluid.name
        );
        if !gate::has_happened(form, FLUID, &why, (Breach::FluidNotOffered, breaches)) {
            return None;
        }
    }
    Some(fluid.clone())
}

/// In hundredths; what is worth less than one is a typing error.
fn read_price(form: &mut Form) -> Option<i64> {
    let (typed, thousandths) = form.thousandths(PRICE, (0, HIGHEST_PRICE))?;
    if thousandths % 10 != 0 {
        let problem = format!("{typed} was typed, two digits behind the mark are taken");
        form.note(PRICE.0, PRICE.1, problem);
        return None;
    }
    Some(thousandths.div_euclid(10))
}
