//! Dip: the level read in a vessel.

use askama::Template;
use domain::ids::FluidId;
use domain::job::{Account, DipRead, FluidNamed, Job, JobKind, Line};
use domain::quantity::{Temperature, Volume};

use super::common::{self, Common};
use super::ground::Ground;
use super::sheet::{DoneOn, Drawn, Parts, Sheet};
use super::{source, transfer};
use crate::component::{Choice, ChoiceField, ChoiceLook, Gauge, QuantityField};
use crate::desk::Frame;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct Dip;

const VOLUME: (&str, &str) = ("volume", "What the vessel holds");
const TEMPERATURE: (&str, &str) = ("temperature", "Temperature of the fluid (optional)");
const FLUID: (&str, &str) = ("fluid", "What is in it?");
/// As its card says, of unknown strength.
const NOT_KNOWN: &str = "not_known";

#[derive(Template)]
#[template(path = "job/dip.html")]
struct Page {
    frame: Frame,
    common: Common,
    own: Option<Gauge>,
    volume: QuantityField,
    temperature: QuantityField,
    /// Asked where the book knows of no fluid in it.
    fluid: Option<ChoiceField>,
}

impl Sheet for Dip {
    fn kind(&self) -> JobKind {
        JobKind::Dip
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Vessel
    }

    fn purpose(&self) -> &'static str {
        "The level in this vessel was read."
    }

    fn preset(&self, form: &mut Form, _: &Ground) {
        form.preset(FLUID.0, NOT_KNOWN);
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let units = ground.units();
        let own = Account::Vessel(ground.own_vessel()?.card.id);
        let volume = form.quantity::<Volume>(VOLUME, units.volume.unit(), Presence::Needed);
        let temperature =
            form.quantity::<Temperature>(TEMPERATURE, units.temperature.unit(), Presence::Optional);
        let fluid = read_fluid(form, ground);
        Some(Parts {
            place: Some(own),
            lines: vec![Line::Dip(DipRead {
                place: own,
                volume: volume?,
                temperature,
                gauge: None,
                gauge_error: None,
                fluid,
            })],
            ..Parts::default()
        })
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Line::Dip(dip)) = job.lines.first() {
            form.set(VOLUME.0, dip.volume.typed.clone());
            if let Some(typed) = &dip.temperature {
                form.set(TEMPERATURE.0, typed.typed.clone());
            }
            let fluid = dip.fluid.as_ref().and_then(|named| named.fluid);
            form.set(
                FLUID.0,
                fluid.map_or_else(|| NOT_KNOWN.to_owned(), |fluid| fluid.to_string()),
            );
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        Drawn::from(&Page {
            frame: common.frame.clone(),
            own: ground.own_vessel().map(|own| transfer::gauge(&own, ground)),
            volume: form.quantity_field(
                VOLUME,
                Offered::Volume,
                units,
                "As read at the stick or sight glass. 0 for empty.",
            ),
            temperature: form.quantity_field(
                TEMPERATURE,
                Offered::Temperature,
                units,
                common::left_empty(units),
            ),
            fluid: is_asked(form, ground).then(|| fluid_field(form, ground)),
            common,
        })
    }
}

/// The book has the vessel as empty, or a fluid was named already.
fn is_asked(form: &Form, ground: &Ground) -> bool {
    let empty = ground.own_vessel().is_none_or(|own| own.shown_ml() <= 0);
    empty || !matches!(form.typed(FLUID.0), "" | NOT_KNOWN)
}

fn fluid_field(form: &Form, ground: &Ground) -> ChoiceField {
    let mut entries = Choice::list(&[(NOT_KNOWN, "What its card says, strength not known")]);
    entries.extend(ground.fluids.iter().map(|fluid| Choice {
        value: fluid.id.to_string(),
        label: fluid.name.clone(),
        ..Choice::default()
    }));
    form.choice_field(
        FLUID,
        "The book has this vessel as empty, so it cannot know.",
        entries,
        ChoiceLook::List,
    )
}

fn read_fluid(form: &mut Form, ground: &Ground) -> Option<FluidNamed> {
    let typed = form.typed(FLUID.0).to_owned();
    if typed.is_empty() || typed == NOT_KNOWN {
        form.ask(FLUID.0);
        return None;
    }
    let id = form.id(FLUID, Presence::Needed)?;
    let found = ground.fluids.iter().find(|fluid| fluid.id == FluidId(id));
    if found.is_none() {
        form.note(
            FLUID.0,
            FLUID.1,
            "no such fluid is on the shop's list; choose one of those offered",
        );
    }
    found.map(source::named)
}
