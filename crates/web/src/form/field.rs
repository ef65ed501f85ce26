//! Makes the fields of a page from a form: what was typed, and what is wrong with it.

use domain::quantity::{
    Distance, FractionByVolume, GaugePressure, Height, RunningTime, Temperature, UnitsOfMeasure,
    Vacuum, Volume, format,
};

use super::Form;
use crate::component::{
    Choice, ChoiceField, ChoiceLook, Pad, QuantityField, TextArea, TextField, UnitChoice, Width,
};

/// The units offered beside a quantity, the shop's own first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Offered {
    Volume,
    Temperature,
    GaugePressure,
    Vacuum,
    Strength,
    Distance,
    Hours,
    Height,
}

impl Offered {
    /// Symbol, and what turns it into the first unit: first = typed × factor + zero.
    fn units(self, shop: UnitsOfMeasure) -> Vec<(&'static str, f64, f64)> {
        let metric_first = match self {
            Self::Volume => shop.volume == format::VolumeUnit::Litre,
            Self::Temperature => shop.temperature == format::TemperatureUnit::Celsius,
            Self::GaugePressure => shop.pressure == format::PressureUnit::Kilopascal,
            Self::Vacuum => shop.vacuum == format::VacuumUnit::Kilopascal,
            Self::Distance | Self::Height => shop.distance == format::DistanceUnit::Kilometre,
            Self::Strength | Self::Hours => true,
        };
        let mut units = match self {
            Self::Volume => vec![("L", 1.0, 0.0), ("US gal", 3.785_411_784, 0.0)],
            Self::Temperature => vec![("°C", 1.0, 0.0), ("°F", 5.0 / 9.0, -160.0 / 9.0)],
            Self::GaugePressure => vec![("kPa", 1.0, 0.0), ("psi", 6.894_757, 0.0)],
            Self::Vacuum => vec![("kPa", 1.0, 0.0), ("inHg", 3.386_389, 0.0)],
            Self::Distance => vec![("km", 1.0, 0.0), ("mi", 1.609_344, 0.0)],
            Self::Strength => vec![("%", 1.0, 0.0)],
            Self::Hours => vec![("h", 1.0, 0.0)],
            Self::Height => vec![("m", 1.0, 0.0), ("ft", 0.3048, 0.0)],
        };
        if !metric_first {
            units.reverse();
        }
        units
    }

    /// What is taken at all, in the metric unit that the factors lead to.
    const fn range(self) -> (f64, f64) {
        match self {
            Self::Volume => Volume::everyday_range(),
            Self::Temperature => Temperature::everyday_range(),
            Self::GaugePressure => GaugePressure::everyday_range(),
            Self::Vacuum => Vacuum::everyday_range(),
            Self::Strength => FractionByVolume::everyday_range(),
            Self::Distance => Distance::everyday_range(),
            Self::Hours => RunningTime::everyday_range(),
            Self::Height => Height::everyday_range(),
        }
    }

    /// The symbol of the unit that is chosen unless somebody chooses another.
    pub(crate) fn preset(self, shop: UnitsOfMeasure) -> &'static str {
        self.units(shop).first().map_or("", |(symbol, ..)| symbol)
    }
}

/// Name of a field and its label.
pub(crate) type Named<'a> = (&'a str, &'a str);

impl Form {
    /// A quantity with its unit pair.
    pub(crate) fn quantity_field(
        &self,
        (name, label): Named<'_>,
        offered: Offered,
        shop: UnitsOfMeasure,
        hint: impl Into<String>,
    ) -> QuantityField {
        let chosen = self.typed(&format!("{name}_unit"));
        let units = offered.units(shop);
        let known = units.iter().any(|(symbol, ..)| *symbol == chosen);
        let chosen = if known { chosen } else { offered.preset(shop) };
        QuantityField {
            name: name.to_owned(),
            label: label.to_owned(),
            hint: hint.into(),
            value: self.put_back(name),
            problem: self.problem_of(name),
            units: units
                .iter()
                .map(|&(symbol, factor, zero)| UnitChoice {
                    code: symbol,
                    symbol,
                    chosen: symbol == chosen,
                    factor,
                    zero,
                })
                .collect(),
            sign: None,
            range: offered.range(),
            needed: false,
        }
    }

    /// One line of text.
    pub(crate) fn text_field(
        &self,
        (name, label): Named<'_>,
        hint: impl Into<String>,
        width: Width,
    ) -> TextField {
        TextField {
            name: name.to_owned(),
            label: label.to_owned(),
            hint: hint.into(),
            value: self.put_back(name),
            problem: self.problem_of(name),
            width,
            pad: Pad::None,
            kind: "text",
            autocomplete: "off",
        }
    }

    /// Several lines of text.
    pub(crate) fn text_area(&self, (name, label): Named<'_>, hint: impl Into<String>) -> TextArea {
        TextArea {
            name: name.to_owned(),
            label: label.to_owned(),
            hint: hint.into(),
            value: self.put_back(name),
            problem: self.problem_of(name),
        }
    }

    /// A question with a few answers; what was typed counts more than what an entry says is chosen.
    pub(crate) fn choice_field(
        &self,
        (name, label): Named<'_>,
        hint: impl Into<String>,
        choices: Vec<Choice>,
        look: ChoiceLook,
    ) -> ChoiceField {
        let typed = self.all(name);
        let choices = choices
            .into_iter()
            .map(|choice| Choice {
                chosen: if typed.is_empty() {
                    choice.chosen
                } else {
                    typed.contains(&choice.value.as_str())
                },
                ..choice
            })
            .collect();
        ChoiceField {
            name: name.to_owned(),
            label: label.to_owned(),
            hint: hint.into(),
            problem: self.problem_of(name),
            choices,
            look,
        }
    }

    /// A list of words of which somebody must choose one: nothing is chosen for them.
    pub(crate) fn word_list(&self, named: Named<'_>, words: &[&str]) -> ChoiceField {
        let none = Choice {
            label: "Choose one".to_owned(),
            ..Choice::default()
        };
        let words = words.iter().map(|word| Choice {
            value: (*word).to_owned(),
            label: if *word == "unknown" {
                "not known"
            } else {
                word
            }
            .to_owned(),
            ..Choice::default()
        });
        let choices = std::iter::once(none).chain(words).collect();
        self.choice_field(named, "", choices, ChoiceLook::List)
    }
}
