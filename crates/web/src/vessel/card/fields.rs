//! The fields of a card on a page, and a card put back into them.

use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::fleet::{Holds, Vessel, VesselKind};
use domain::quantity::UnitsOfMeasure;

use super::{
    BASE, CAPACITY, CLASS, CardOf, DUE, FILL_LIMIT, HOLDS, INSPECTED, KIND, MAWP, NAME, Named,
    OPENING, RELIEF, START, STRENGTH, VACUUM,
};
use crate::component::{Choice, ChoiceField, ChoiceLook, QuantityField, TextField, Width};
use crate::form::{Form, Offered};
use crate::vessel::words::{KINDS, USES};

/// Everything a card is filled in with.
#[derive(Clone, Debug)]
pub(in crate::vessel) struct CardFields {
    pub(in crate::vessel) name: TextField,
    pub(in crate::vessel) kind: ChoiceField,
    pub(in crate::vessel) holds: ChoiceField,
    pub(in crate::vessel) base: ChoiceField,
    pub(in crate::vessel) class: ChoiceField,
    pub(in crate::vessel) capacity: QuantityField,
    pub(in crate::vessel) fill_limit: QuantityField,
    pub(in crate::vessel) start_date: TextField,
    pub(in crate::vessel) mawp: QuantityField,
    pub(in crate::vessel) relief_set: QuantityField,
    pub(in crate::vessel) rated_vacuum: QuantityField,
    pub(in crate::vessel) inspected_on: TextField,
    pub(in crate::vessel) next_due: TextField,
    /// Volume and strength of what is in a new vessel.
    pub(in crate::vessel) opening: Option<(QuantityField, QuantityField)>,
}

impl CardFields {
    pub(in crate::vessel) fn of(form: &Form, units: UnitsOfMeasure, of: CardOf) -> Self {
        let day = |named: Named| form.text_field(named, "", Width::Ten);
        let pressure = |named: Named| form.quantity_field(named, Offered::GaugePressure, units, "");
        let volume =
            |named: Named, hint: &str| form.quantity_field(named, Offered::Volume, units, hint);
        let words = |named: Named, hint: &str, words: Vec<&'static str>, look| {
            form.choice_field(named, hint, words.into_iter().map(entry).collect(), look)
        };
        Self {
            name: form.text_field(NAME, "", Width::Twenty),
            kind: words(
                KIND,
                "",
                KINDS.map(VesselKind::word).to_vec(),
                ChoiceLook::OneOf,
            ),
            holds: words(
                HOLDS,
                "Fluid drawn out of units is offered only vessels kept for recovered, quarantine or waste.",
                USES.map(Holds::word).to_vec(),
                ChoiceLook::OneOf,
            ),
            base: form.word_list(BASE, &BASES.map(Base::word)),
            class: form.word_list(CLASS, &INHIBITOR_CLASSES.map(InhibitorClass::word)),
            capacity: volume(CAPACITY, ""),
            fill_limit: volume(
                FILL_LIMIT,
                "How far it may be filled; the capacity where nothing is said.",
            ),
            start_date: day(START),
            mawp: pressure(MAWP),
            relief_set: pressure(RELIEF),
            rated_vacuum: form.quantity_field(VACUUM, Offered::Vacuum, units, ""),
            inspected_on: day(INSPECTED),
            next_due: day(DUE),
            opening: (of == CardOf::New).then(|| {
                (
                    volume(
                        OPENING,
                        "As it reads now, mixed; 0 for an empty one. Left open, nobody knows until it is dipped.",
                    ),
                    form.quantity_field(STRENGTH, Offered::Strength, units, "Glycol by volume."),
                )
            }),
        }
    }
}

fn entry(word: &'static str) -> Choice {
    Choice {
        value: word.to_owned(),
        label: word.to_owned(),
        ..Choice::default()
    }
}

/// Puts a card back into the fields of a form, in the shop's units.
pub(in crate::vessel) fn refill(form: &mut Form, card: &Vessel, units: UnitsOfMeasure) {
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
}
