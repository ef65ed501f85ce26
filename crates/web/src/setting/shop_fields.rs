//! What a shop is set to: shown, put back and read, at the set-up and later.

use chrono_tz::{TZ_VARIANTS, Tz};
use domain::fleet::{Paper, Shop};
use domain::quantity::format::DecimalMark;
use domain::quantity::{Height, UnitsOfMeasure};

use crate::component::{
    Choice, ChoiceField, ChoiceLook, QuantityField, TextField, UnitChoice, Width,
};
use crate::form::{Form, Presence, printable};
use crate::intake::read_zone;

pub(super) const SHOP: (&str, &str) = ("shop", "Shop");
pub(super) const ZONE: (&str, &str) = ("zone", "Time zone of the shop");
pub(super) const ALTITUDE: (&str, &str) = ("altitude", "Height above sea level");
pub(super) const UNITS: (&str, &str) = ("units", "Units of measure");
pub(super) const MARK: (&str, &str) = ("decimal_mark", "Decimal mark");
pub(super) const PAPER: (&str, &str) = ("paper", "Paper");

/// No shop stands lower or higher, in metres.
const LOWEST_M: i64 = -500;
const HIGHEST_M: i64 = 6_000;

const REGIONS: [&str; 10] = [
    "Africa",
    "America",
    "Antarctica",
    "Arctic",
    "Asia",
    "Atlantic",
    "Australia",
    "Europe",
    "Indian",
    "Pacific",
];

/// The fields of a shop but for its winter low.
#[derive(Clone, Debug)]
pub(crate) struct ShopFields {
    pub(crate) name: TextField,
    pub(crate) zone: ChoiceField,
    pub(crate) altitude: QuantityField,
    pub(crate) units: ChoiceField,
    pub(crate) decimal_mark: ChoiceField,
    pub(crate) paper: ChoiceField,
}

/// What was filled in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct ShopWords {
    pub(crate) name: String,
    pub(crate) zone: Tz,
    pub(crate) altitude_m: i32,
    pub(crate) units_of_measure: UnitsOfMeasure,
    pub(crate) paper: Paper,
}

impl ShopFields {
    pub(crate) fn of(form: &Form, about_name: &str) -> Self {
        let one_of =
            |field, hint: &str, choices| form.choice_field(field, hint, choices, ChoiceLook::OneOf);
        Self {
            name: form.text_field(SHOP, about_name, Width::Twenty),
            zone: zone_field(form),
            altitude: altitude_field(form),
            units: one_of(
                UNITS,
                "What its people read; the record keeps both.",
                vec![
                    choice("metric", "Litre, °C, kPa, km", true),
                    choice("us", "US gallon, °F, psi, inHg, mile", false),
                ],
            ),
            decimal_mark: one_of(
                MARK,
                "",
                vec![
                    choice("point", "Point, as in 12.5", true),
                    choice("comma", "Comma, as in 12,5", false),
                ],
            ),
            paper: one_of(
                PAPER,
                "",
                vec![choice("a4", "A4", true), choice("letter", "Letter", false)],
            ),
        }
    }

    /// Puts a shop on record into a form. Units that were put together otherwise stand as those
    /// they resemble most: their volume decides.
    pub(super) fn refill(form: &mut Form, shop: &Shop) {
        let units = shop.units_of_measure;
        let is_us = units.volume == UnitsOfMeasure::US.volume;
        form.set(SHOP.0, shop.name.clone());
        form.set(ZONE.0, shop.zone.clone());
        form.set(ALTITUDE.0, shop.altitude_m.to_string());
        form.set("altitude_unit", "m");
        form.set(UNITS.0, if is_us { "us" } else { "metric" });
        let has_comma = units.decimal_mark == DecimalMark::Comma;
        form.set(MARK.0, if has_comma { "comma" } else { "point" });
        let is_letter = shop.paper == Paper::Letter;
        form.set(PAPER.0, if is_letter { "letter" } else { "a4" });
    }
}

impl ShopWords {
    /// Reads all of it; what is wrong is noted.
    pub(crate) fn read(form: &mut Form) -> Option<Self> {
        let name = form.line(SHOP, Presence::Needed);
        let zone = read_zone_field(form);
        let altitude_m = read_altitude(form);
        let units = [
            ("metric", UnitsOfMeasure::METRIC),
            ("us", UnitsOfMeasure::US),
        ];
        let units = form.choice(UNITS, &units, Presence::Needed);
        let marks = [("point", DecimalMark::Point), ("comma", DecimalMark::Comma)];
        let decimal_mark = form.choice(MARK, &marks, Presence::Needed);
        let papers = [("a4", Paper::A4), ("letter", Paper::Letter)];
        let paper = form.choice(PAPER, &papers, Presence::Needed);
        Some(Self {
            name: name?,
            zone: zone?,
            altitude_m: altitude_m?,
            units_of_measure: UnitsOfMeasure {
                decimal_mark: decimal_mark?,
                ..units?
            },
            paper: paper?,
        })
    }
}

fn choice(value: &str, label: &str, chosen: bool) -> Choice {
    Choice {
        value: value.to_owned(),
        label: label.to_owned(),
        chosen,
        ..Choice::default()
    }
}

fn zone_field(form: &Form) -> ChoiceField {
    let mut choices = vec![choice("", "Choose one", true), choice("UTC", "UTC", false)];
    for region in REGIONS {
        let within = TZ_VARIANTS.iter().filter_map(|zone| {
            let place = zone.name().strip_prefix(region)?.strip_prefix('/')?;
            Some(Choice {
                group: region.to_owned(),
                ..choice(zone.name(), &place.replace('_', " "), false)
            })
        });
        choices.extend(within);
    }
    form.choice_field(
        ZONE,
        "The place with the same time that lies nearest.",
        choices,
        ChoiceLook::List,
    )
}

fn altitude_field(form: &Form) -> QuantityField {
    let in_feet = form.typed("altitude_unit") == "ft";
    let unit = |symbol, factor, chosen| UnitChoice {
        code: symbol,
        symbol,
        chosen,
        factor,
        zero: 0.0,
    };
    QuantityField {
        name: ALTITUDE.0.to_owned(),
        label: ALTITUDE.1.to_owned(),
        hint: "The higher, the less vacuum there is to draw with.".to_owned(),
        value: form.put_back(ALTITUDE.0),
        problem: form.problem_of(ALTITUDE.0),
        units: vec![unit("m", 1.0, !in_feet), unit("ft", 0.3048, in_feet)],
        sign: None,
        range: Height::everyday_range(),
        needed: false,
    }
}

fn read_zone_field(form: &mut Form) -> Option<Tz> {
    let typed = form.ask(ZONE.0);
    if typed.is_empty() {
        form.note(ZONE.0, ZONE.1, "nothing was chosen here, and it is needed");
        return None;
    }
    match read_zone(&printable(&typed)) {
        Ok(zone) => Some(zone),
        Err(problem) => {
            form.note(ZONE.0, ZONE.1, problem);
            None
        }
    }
}

/// Feet are rounded to the nearest metre.
fn read_altitude(form: &mut Form) -> Option<i32> {
    // Without a unit the number says nothing, but the form still has such a field.
    form.ask(ALTITUDE.0);
    let unit = form.choice(
        ("altitude_unit", ALTITUDE.1),
        &[("m", "m"), ("ft", "ft")],
        Presence::Needed,
    )?;
    let metres = if unit == "ft" {
        let feet = form.whole(ALTITUDE, (-1_640, 19_685), Presence::Needed)?;
        feet.saturating_mul(3_048)
            .saturating_add(5_000)
            .div_euclid(10_000)
    } else {
        form.whole(ALTITUDE, (LOWEST_M, HIGHEST_M), Presence::Needed)?
    };
    i32::try_from(metres).ok()
}
