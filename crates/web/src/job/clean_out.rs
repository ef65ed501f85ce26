//! Clean out: a vessel emptied and rinsed, and what it is kept for from then on.

use std::collections::BTreeSet;

use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::gate::Breach;
use domain::job::{Account, Details, DipRead, Fit, Intent, Job, JobKind, Line, Movement};
use domain::quantity::Volume;
use domain::quantity::entry::Typed;

use super::common::{Common, read_volume};
use super::gate;
use super::ground::{Ground, KnownVessel};
use super::plain::{self, Step};
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet, Steps};
use super::vessel_choice::{self, Purpose};
use super::{source, transfer};
use crate::component::{Pad, TextField, Width};
use crate::figure;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct CleanOut;

const RINSES: (&str, &str) = ("rinses", "How many rinses?");
const RINSE: (&str, &str) = ("volume", "Rinse water, all together (optional)");
const TO: (&str, &str) = (
    "to",
    "Into which vessel did it go? (needed with rinse water)",
);
const LEFT: (&str, &str) = ("left", "What is left in it");
const BASE: (&str, &str) = ("base", "Glycol it is kept for from now on");
const CLASS: (&str, &str) = ("class", "Inhibitor class it is kept for from now on");

/// More is a typing error.
const MOST_RINSES: i64 = 20;
/// So much may be left by the book before it counts as not emptied: what clings to the walls, 1 % of
/// the capacity (from memory).
const CLINGS_PERCENT: i64 = 1;

impl Sheet for CleanOut {
    fn kind(&self) -> JobKind {
        JobKind::CleanOut
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Vessel
    }

    fn purpose(&self) -> &'static str {
        "This vessel was emptied, rinsed and given a use."
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        form.preset(LEFT.0, "0");
        if let Some(own) = ground.own_vessel() {
            let (base, class) = own.kind();
            form.preset(BASE.0, base.word());
            form.preset(CLASS.0, class.word());
        }
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let own = ground.own_vessel()?;
        let rinses = form.whole(RINSES, (1, MOST_RINSES), Presence::Needed);
        let rinse = read_rinse(form, ground, &mut breaches);
        let left = form.quantity::<Volume>(LEFT, ground.units().volume.unit(), Presence::Needed);
        let base = form.choice(
            BASE,
            &BASES.map(|base| (base.word(), base)),
            Presence::Needed,
        );
        let classes = INHIBITOR_CLASSES.map(|class| (class.word(), class));
        let class = form.choice(CLASS, &classes, Presence::Needed);
        note_not_emptied(form, (&own, ground), &mut breaches);
        let place = Account::Vessel(own.card.id);
        let (base, class): (Base, InhibitorClass) = (base?, class?);
        let dip = Line::Dip(DipRead {
            place,
            volume: left?,
            temperature: None,
            gauge: None,
            gauge_error: None,
            fluid: None,
        });
        Some(Parts {
            place: Some(place),
            lines: rinse.into_iter().chain([dip]).collect(),
            details: Some(Details::CleanOut {
                rinses: u16::try_from(rinses?).ok()?,
                base,
                class,
            }),
            breaches,
            ..Parts::default()
        })
    }

    /// Another program may have told of more.
    fn holds(&self, job: &Job) -> bool {
        match job.lines.as_slice() {
            [Line::Dip(_)] => true,
            [Line::Movement(rinse), Line::Dip(_)] => rinse.from == Account::Supplier,
            _ => false,
        }
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Details::CleanOut {
            rinses,
            base,
            class,
        }) = &job.details
        {
            form.set(RINSES.0, rinses.to_string());
            form.set(BASE.0, base.word());
            form.set(CLASS.0, class.word());
        }
        let not_emptied = Breach::NotEmptied.code();
        if job.cautions.iter().any(|caution| caution == not_emptied) {
            form.set("happened", "yes");
        }
        for line in &job.lines {
            match line {
                Line::Movement(Movement { volume, to, .. }) => {
                    form.set(RINSE.0, volume.typed.clone());
                    if let Some(vessel) = to.place() {
                        form.set(TO.0, vessel.to_string());
                    }
                }
                Line::Dip(dip) => form.set(LEFT.0, dip.volume.typed.clone()),
                Line::Reading(_) => {}
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let volume =
            |named, hint| form.quantity_field(named, Offered::Volume, ground.units(), hint);
        let own = ground.own_vessel();
        let held = own.as_ref().map(|own| transfer::gauge(own, ground).text);
        let rinse = Step::new("Rinse")
            .saying(held.map(|held| format!("The book has {held} in it. Move out first what can be poured.")))
            .caution("Pressure off, eye protection on, air through it: never climb or reach in. The rinse is waste: never to a drain, the ground or a septic tank.")
            .with(TextField {
                pad: Pad::Decimal,
                ..form.text_field(RINSES, "", Width::Five)
            })
            .with(volume(RINSE, "What went into a waste vessel."))
            .with(vessel_choice::field(form, TO, Purpose::TakesUnfit, ground));
        let kept = Step::new("Kept for")
            .with(volume(
                LEFT,
                "By stick or sight glass. At most 1 % of what it takes.",
            ))
            .with(form.word_list(BASE, &BASES.map(Base::word)))
            .with(form.word_list(CLASS, &INHIBITOR_CLASSES.map(InhibitorClass::word)));
        plain::page(common, [rinse, kept])
    }
}

/// Water that came out of the tap and went through the vessel: both of its fields, or none.
fn read_rinse(form: &mut Form, ground: &Ground, breaches: &mut BTreeSet<Breach>) -> Option<Line> {
    let names = [RINSE.0, TO.0];
    if names.iter().all(|name| form.typed(name).trim().is_empty()) {
        form.ask(TO.0);
        read_volume(form, RINSE, (ground, Presence::Optional));
        return None;
    }
    let volume = read_volume(form, RINSE, (ground, Presence::Needed));
    let to = vessel_choice::read(form, TO, Purpose::TakesUnfit, (ground, breaches));
    Some(rinse_line(volume?, Account::Vessel(to?)))
}

fn rinse_line(volume: Typed<Volume>, to: Account) -> Line {
    let rinse = Moved {
        from: Account::Supplier,
        to,
        volume,
        temperature: None,
        fluid: Some(source::water()),
    };
    rinse.judged(Fit::No, Intent::Waste)
}

/// A vessel is cleaned out empty: what it held would be gone from the book without a trace.
fn note_not_emptied(
    form: &mut Form,
    (own, ground): (&KnownVessel, &Ground),
    breaches: &mut BTreeSet<Breach>,
) {
    let capacity = own.card.capacity.as_ref();
    let clings = capacity.map_or(0, |capacity| {
        capacity.value.ml().saturating_mul(CLINGS_PERCENT) / 100
    });
    if !form.typed("replaces").is_empty() {
        // The book of now has it emptied by the job that is corrected: its mark is kept.
        if form.ticked("happened") {
            breaches.insert(Breach::NotEmptied);
        }
        return;
    }
    if own.shown_ml() <= clings {
        return;
    }
    let held = figure::volume(ground.units(), own.shown_ml());
    let why = format!("the book has {held} in it; log first where that went");
    gate::has_happened(form, LEFT, &why, (Breach::NotEmptied, breaches));
}
