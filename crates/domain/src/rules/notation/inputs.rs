//! The inputs of a row: `key=value` with `;` between them, the unit last in the key.

use std::cell::Cell;
use std::str::FromStr;

use chrono::NaiveDate;

use super::super::exact::Exact;
use super::super::measure;
use crate::quantity::Mass;

struct Input<'a> {
    key: &'a str,
    value: &'a str,
    is_used: Cell<bool>,
}

/// All inputs of a row; which of them were used is kept, so that none is passed over unseen.
pub(super) struct Inputs<'a>(Vec<Input<'a>>);

impl<'a> Inputs<'a> {
    pub(super) fn read(text: &'a str) -> Result<Self, String> {
        let mut found: Vec<Input<'a>> = Vec::new();
        for part in text
            .split(';')
            .map(str::trim)
            .filter(|part| !part.is_empty())
        {
            let (key, value) = part
                .split_once('=')
                .ok_or_else(|| format!("\"{part}\" is not written as key=value"))?;
            let (key, value) = (key.trim(), value.trim());
            if found.iter().any(|known| known.key == key) {
                return Err(format!("{key} is given twice"));
            }
            found.push(Input {
                key,
                value,
                is_used: Cell::new(false),
            });
        }
        Ok(Self(found))
    }

    /// The value of a key; an empty one is one that is not given.
    pub(super) fn text(&self, key: &str) -> Option<&'a str> {
        let input = self.0.iter().find(|input| input.key == key)?;
        input.is_used.set(true);
        (!input.value.is_empty()).then_some(input.value)
    }

    /// The value of the first of some keys that mean the same.
    pub(super) fn text_of(&self, keys: &[&str]) -> Option<&'a str> {
        keys.iter().find_map(|key| self.text(key))
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.0.iter().any(|input| input.key == key)
    }

    pub(super) fn parsed<T: FromStr>(&self, key: &str) -> Result<Option<T>, String> {
        self.text(key)
            .map(|text| {
                text.parse()
                    .map_err(|_| format!("{key} is \"{text}\", which cannot be read"))
            })
            .transpose()
    }

    /// A day; "none" is none.
    pub(super) fn day(&self, keys: &[&str]) -> Result<Option<NaiveDate>, String> {
        let typed = self.text_of(keys).filter(|text| *text != "none");
        typed
            .map(|text| {
                text.parse()
                    .map_err(|_| format!("\"{text}\" is no date written as 2026-10-05"))
            })
            .transpose()
    }

    pub(super) fn truth(&self, keys: &[&str]) -> Result<Option<bool>, String> {
        self.text_of(keys)
            .map(|text| match text {
                "true" | "yes" => Ok(true),
                "false" | "no" | "none" => Ok(false),
                _ => Err(format!("\"{text}\" is neither true nor false")),
            })
            .transpose()
    }

    /// A figure whose key ends in its unit: `saa_volume` with `saa_volume_gal`.
    fn with_unit<T>(
        &self,
        name: &str,
        units: &[(&str, &str)],
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Result<Option<T>, String> {
        let mut found = None;
        for (ending, unit) in units {
            let key = format!("{name}_{ending}");
            if let Some(number) = self.text(&key) {
                if found.is_some() {
                    return Err(format!("{name} is given in two units"));
                }
                let figure = read(&format!("{number} {unit}"));
                found = Some(figure.map_err(|problem| format!("{key}: {problem}"))?);
            }
        }
        Ok(found)
    }

    /// A mass; a part of a gram counts as a whole one.
    pub(super) fn mass(&self, name: &str) -> Result<Option<Mass>, String> {
        let units = [("g", "g"), ("kg", "kg"), ("lb", "lb")];
        self.with_unit(name, &units, measure::mass)
    }

    pub(super) fn volume_ml(&self, name: &str) -> Result<Option<Exact>, String> {
        let units = [("gal", "gal"), ("l", "L"), ("ml", "mL")];
        self.with_unit(name, &units, measure::volume_ml)
    }

    pub(super) fn length_m(&self, name: &str) -> Result<Option<Exact>, String> {
        let units = [
            ("miles", "mi"),
            ("km", "km"),
            ("m", "m"),
            ("in", "in"),
            ("mm", "mm"),
        ];
        self.with_unit(name, &units, measure::length_m)
    }

    /// mg/L.
    pub(super) fn strength(&self, name: &str) -> Result<Option<Exact>, String> {
        let units = [("mg_l", "mg/L"), ("ug_l", "ug/L")];
        self.with_unit(name, &units, measure::strength_mg_per_l)
    }

    /// A share from 0 to 1, or in percent with a key that ends so.
    pub(super) fn share(&self, name: &str) -> Result<Option<Exact>, String> {
        let percent = format!("{name}_pct");
        let share = match self.parsed::<Exact>(&percent)? {
            Some(percent) => percent.percent(),
            None => self.parsed(name)?,
        };
        match share {
            Some(share) if !share.is_share() => {
                Err(format!("{name} is {share}, no share from 0 to 1"))
            }
            share => Ok(share),
        }
    }

    /// All keys with one beginning and one end, in the order they stand.
    pub(super) fn keys_like(&self, begins: &str, ends: &str) -> Vec<&'a str> {
        let keys = self.0.iter().map(|input| input.key);
        keys.filter(|key| key.starts_with(begins) && key.ends_with(ends))
            .collect()
    }

    /// The keys that nobody asked for.
    pub(super) fn unused(&self) -> Vec<String> {
        let unused = self.0.iter().filter(|input| !input.is_used.get());
        unused.map(|input| input.key.to_owned()).collect()
    }
}
