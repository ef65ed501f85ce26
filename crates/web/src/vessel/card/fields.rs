//! The fields of a card on a page, and a card put back into them.

use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::fleet::{Holds, Vessel, VesselKind};
use domain::quantity::UnitsOfMeasure;

use super::{
    BASE, CAPACITY, CLASS, CardOf, DUE, FILL_LIMIT, HOLDS, INSPECTED, KIND, MAWP, NAME, Named,
    OPENING, RELIEF, START, STRENGTH, VACUUM,
};
use crate::card::Part;
use crate::component::{Choice, ChoiceLook, Field, Width};
use crate::form::{Form, Offered};
use crate::vessel::words::{KINDS, USES};

/// Everything a card is filled in with; only a new vessel is asked what is in it.
pub(in crate::vessel) fn parts(form: &Form, units: UnitsOfMeasure, of: CardOf) -> Vec<Part> {
    let day = |named: Named| Field::from(form.text_field(named, "", Width::Ten));
    let pressure =
        |named: Named| Field::from(form.quantity_field(named, Offered::GaugePressure, units, ""));
    let volume = |named: Named, hint: &str| {
        Field::from(form.quantity_field(named, Offered::Volume, units, hint))
    };
    let one_of = |named: Named, hint: &str, words: &[&'static str]| {
        let choices = words.iter().map(|word| entry(word)).collect();
        Field::from(form.choice_field(named, hint, choices, ChoiceLook::OneOf))
    };
    let vessel = vec![
        form.text_field(NAME, "", Width::Twenty).into(),
        one_of(KIND, "", &KINDS.map(VesselKind::word)),
        one_of(
            HOLDS,
            "Fluid drawn out of units is offered only vessels kept for recovered, quarantine or waste.",
            &USES.map(Holds::word),
        ),
        form.word_list(BASE, &BASES.map(Base::word)).into(),
        form.word_list(CLASS, &INHIBITOR_CLASSES.map(InhibitorClass::word))
            .into(),
        volume(CAPACITY, ""),
        volume(
            FILL_LIMIT,
            "How far it may be filled; the capacity where nothing is said.",
        ),
        day(START),
    ];
    let as_pressure_vessel = Part {
        hint: "From its plate and its last certificate. Local codes decide how often it is inspected.",
        ..Part::of(
            "As a pressure vessel",
            vec![
                pressure(MAWP),
                pressure(RELIEF),
                form.quantity_field(VACUUM, Offered::Vacuum, units, "")
                    .into(),
                day(INSPECTED),
                day(DUE),
            ],
        )
    };
    let mut parts = vec![Part::of("Vessel", vessel), as_pressure_vessel];
    if of == CardOf::New {
        let strength = form.quantity_field(STRENGTH, Offered::Strength, units, "Glycol by volume.");
        let opening = volume(
            OPENING,
            "As it reads now, mixed; 0 for an empty one. Left open, nobody knows until it is dipped.",
        );
        parts.push(Part::of("What is in it", vec![opening, strength.into()]));
    }
    parts
}

fn entry(word: &'static str) -> Choice {
    Choice {
        value: word.to_owned(),
        label: word.to_owned(),
        ..Choice::default()
    }
}

/// A card on record in the fields of a form, in the shop's units.
pub(in crate::vessel) fn on_record(card: &Vessel, units: UnitsOfMeasure) -> Form {
    let mut form = Form::default();
    let day = |day: Option<chrono::NaiveDate>| day.map(|day| day.to_string()).unwrap_or_default();
    form.set(NAME.0, card.name.clone());
    form.set(KIND.0, card.kind.word());
    form.set(HOLDS.0, card.holds.word());
    form.set(BASE.0, card.base.word());
    form.set(CLASS.0, card.class.word());
    if let Some(capacity) = &card.capacity {
        form.set(CAPACITY.0, capacity.typed.clone());
    }
    if let Some(limit) = &card.fill_limit {
        form.set(FILL_LIMIT.0, limit.typed.clone());
    }
    form.set(START.0, day(card.start_date));
    let vessel = card.pressure_vessel.clone().unwrap_or_default();
    for (named, pressure) in [(MAWP, vessel.mawp), (RELIEF, vessel.relief_set)] {
        if let Some(pressure) = pressure {
            form.set(named.0, units.gauge_pressure(pressure));
        }
    }
    if let Some(vacuum) = vessel.rated_vacuum {
        form.set(VACUUM.0, units.vacuum(vacuum));
    }
    form.set(INSPECTED.0, day(vessel.inspected_on));
    form.set(DUE.0, day(vessel.next_due));
    form
}
