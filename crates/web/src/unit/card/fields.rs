//! The fields of a card on a page.

use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::quantity::UnitsOfMeasure;

use super::read::rows;
use super::{FAMILY, KIND, MOST_LOOPS, NUMBER, REASON, field};
use crate::component::{
    Choice, ChoiceField, ChoiceLook, QuantityField, TextArea, TextField, Width,
};
use crate::form::{Form, Offered, Presence};

/// All fields.
#[derive(Clone, Debug)]
pub(in crate::unit) struct CardFields {
    pub(in crate::unit) number: TextField,
    pub(in crate::unit) kind: TextField,
    pub(in crate::unit) family: TextField,
    pub(in crate::unit) loops: Vec<LoopFields>,
    /// How many rows of loops there are.
    pub(in crate::unit) rows: usize,
    pub(in crate::unit) room_for_more: bool,
    pub(in crate::unit) reason: Option<TextArea>,
}

/// The fields of one loop.
#[derive(Clone, Debug)]
pub(in crate::unit) struct LoopFields {
    pub(in crate::unit) legend: String,
    pub(in crate::unit) id_name: String,
    /// The loop on record; empty for a new one.
    pub(in crate::unit) id: String,
    pub(in crate::unit) name: TextField,
    pub(in crate::unit) base: ChoiceField,
    pub(in crate::unit) class: ChoiceField,
    pub(in crate::unit) capacity: QuantityField,
    pub(in crate::unit) target: QuantityField,
    pub(in crate::unit) cap_rating: QuantityField,
    pub(in crate::unit) lowest_part: QuantityField,
    pub(in crate::unit) air_space: QuantityField,
    pub(in crate::unit) high_voltage: ChoiceField,
    pub(in crate::unit) coupling: TextField,
    /// Of a new loop.
    pub(in crate::unit) opening: Option<QuantityField>,
    /// Of a loop on record.
    pub(in crate::unit) gone: Option<ChoiceField>,
}

impl CardFields {
    pub(in crate::unit) fn of(form: &Form, units: UnitsOfMeasure, reason: Presence) -> Self {
        let rows = rows(form);
        Self {
            number: form.text_field(NUMBER, "As it is painted on the unit.", Width::Ten),
            kind: form.text_field(
                KIND,
                "As the shop says it, like transit bus or snowplow.",
                Width::Twenty,
            ),
            family: form.text_field(FAMILY, "For comparison with its sisters.", Width::Twenty),
            loops: (1..=rows)
                .map(|row| LoopFields::of(form, row, units))
                .collect(),
            rows,
            room_for_more: rows < MOST_LOOPS,
            reason: (reason == Presence::Needed)
                .then(|| form.text_area(REASON, "It stays on record with the change.")),
        }
    }
}

impl LoopFields {
    fn of(form: &Form, row: usize, units: UnitsOfMeasure) -> Self {
        let id = form.put_back(&field(row, "id"));
        let is_new = id.is_empty();
        Self {
            legend: legend(form, row, &id),
            id_name: field(row, "id"),
            name: form.text_field(
                (&field(row, "name"), "Name of the loop"),
                "Engine, battery, traction, heater.",
                Width::Twenty,
            ),
            base: form.word_list((&field(row, "base"), "Base"), &BASES.map(Base::word)),
            class: form.word_list(
                (&field(row, "class"), "Inhibitor class"),
                &INHIBITOR_CLASSES.map(InhibitorClass::word),
            ),
            capacity: form.quantity_field(
                (&field(row, "capacity"), "Capacity (optional)"),
                Offered::Volume,
                units,
                "What it takes from empty to the mark. Without it there are no limits, and the loop opens empty.",
            ),
            target: form.quantity_field(
                (&field(row, "target"), "Target strength (optional)"),
                Offered::Strength,
                units,
                "",
            ),
            cap_rating: form.quantity_field(
                (&field(row, "cap_rating"), "Rating stamped on the cap (optional)"),
                Offered::GaugePressure,
                units,
                "",
            ),
            lowest_part: form.quantity_field(
                (&field(row, "lowest_part"), "Lowest rating of another part (optional)"),
                Offered::GaugePressure,
                units,
                "Radiator, heater core. A pressure test stays below it.",
            ),
            air_space: air_space(form, row, units),
            high_voltage: tick(
                form,
                (&field(row, "high_voltage"), "High voltage"),
                "Part of a high-voltage system",
                "An authorised person isolates it and locks it out before the loop is opened.",
            ),
            coupling: form.text_field(
                (&field(row, "coupling"), "Drain coupling fitted on (optional)"),
                "A day, like 2026-10-05.",
                Width::Ten,
            ),
            opening: is_new.then(|| {
                form.quantity_field(
                    (&field(row, "opening"), "Strength now, if somebody knows it (optional)"),
                    Offered::Strength,
                    units,
                    "The loop then opens full at this strength. Without it the first test counts.",
                )
            }),
            gone: (!is_new).then(|| gone(form, row)),
            id,
        }
    }
}

fn air_space(form: &Form, row: usize, units: UnitsOfMeasure) -> QuantityField {
    form.quantity_field(
        (&field(row, "air_space"), "Air space when cold (optional)"),
        Offered::Volume,
        units,
        "The air above the mark in the surge tank or top tank. With it a pressure test also says how much leaks.",
    )
}

fn gone(form: &Form, row: usize) -> ChoiceField {
    tick(
        form,
        (&field(row, "gone"), "Taken off"),
        "No longer on this unit",
        "A loop that has held coolant is retired: what it holds leaves the book with it, its history stays.",
    )
}

fn legend(form: &Form, row: usize, id: &str) -> String {
    let title = form.put_back(&field(row, "name"));
    match (id.is_empty(), title.is_empty()) {
        (_, false) => format!("Loop {row}: {title}"),
        (true, true) => format!("Loop {row}: a further one, if there is one"),
        (false, true) => format!("Loop {row}"),
    }
}

/// One box to tick.
fn tick(form: &Form, named: (&str, &str), label: &str, hint: &str) -> ChoiceField {
    let choice = Choice {
        value: "yes".to_owned(),
        label: label.to_owned(),
        hint: hint.to_owned(),
        ..Choice::default()
    };
    form.choice_field(named, "", vec![choice], ChoiceLook::AnyOf)
}
