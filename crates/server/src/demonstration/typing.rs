//! What people type: litres beside quarts and gallons, °C beside °F, rounded as people round.

use domain::quantity::entry::{Typed, read};
use domain::quantity::{
    Distance, FractionByVolume, GaugePressure, RunningTime, Temperature, Vacuum, Volume,
};

use super::Made;
use super::dice::Dice;

/// How somebody writes a volume.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Measure {
    /// "12.5 L".
    Litre,
    /// "3.25 gal".
    Gallon,
    /// "2 qt".
    Quart,
}

const QUARTER_GALLON_ML: i64 = 946;

impl Measure {
    /// Metered fills are mostly in litres, some in gallons.
    pub(super) fn of_a_meter(dice: &mut Dice) -> Self {
        if dice.chance(75) {
            Self::Litre
        } else {
            Self::Gallon
        }
    }

    /// Jugs are marked in quarts as often as in litres.
    pub(super) fn of_a_jug(dice: &mut Dice) -> Self {
        if dice.chance(55) {
            Self::Litre
        } else {
            Self::Quart
        }
    }

    /// About so many mL, as this person would type it.
    pub(super) fn typed(self, ml: i64) -> Made<Typed<Volume>> {
        let text = match self {
            Self::Litre => format!("{} L", tenths(rounded(ml, 100))),
            Self::Gallon => {
                let quarters = rounded(ml, QUARTER_GALLON_ML);
                format!("{} gal", hundredths(quarters * 25))
            }
            Self::Quart => format!("{} qt", tenths(rounded(ml, QUARTER_GALLON_ML / 2) * 5)),
        };
        Ok(read(&text)?)
    }
}

fn rounded(value: i64, step: i64) -> i64 {
    let half = if value < 0 { -step / 2 } else { step / 2 };
    (value + half) / step
}

fn tenths(count: i64) -> String {
    let sign = if count < 0 { "-" } else { "" };
    let count = count.abs();
    if count % 10 == 0 {
        format!("{sign}{}", count / 10)
    } else {
        format!("{sign}{}.{}", count / 10, count % 10)
    }
}

fn hundredths(count: i64) -> String {
    match (count % 100, count / 100) {
        (0, whole) => format!("{whole}"),
        (50, whole) => format!("{whole}.5"),
        (rest, whole) => format!("{whole}.{rest:02}"),
    }
}

pub(super) fn volume(text: &str) -> Made<Typed<Volume>> {
    Ok(read(text)?)
}

pub(super) fn litres(ml: i64) -> Made<Typed<Volume>> {
    Measure::Litre.typed(ml)
}

pub(super) fn pressure(text: &str) -> Made<Typed<GaugePressure>> {
    Ok(read(text)?)
}

pub(super) fn vacuum(text: &str) -> Made<Typed<Vacuum>> {
    Ok(read(text)?)
}

pub(super) fn temperature(text: &str) -> Made<Typed<Temperature>> {
    Ok(read(text)?)
}

pub(super) fn strength(text: &str) -> Made<Typed<FractionByVolume>> {
    Ok(read(text)?)
}

/// To half a degree in °C, to a whole one in °F.
pub(super) fn reading(millicelsius: i64, fahrenheit: bool) -> Made<Typed<Temperature>> {
    let text = if fahrenheit {
        format!("{} °F", rounded(millicelsius * 9 / 5 + 32_000, 1_000))
    } else {
        format!("{} °C", tenths(rounded(millicelsius, 500) * 5))
    };
    Ok(read(&text)?)
}

/// To a whole degree, as read off a thermometer.
pub(super) fn warmth(celsius: i64, fahrenheit: bool) -> Made<Typed<Temperature>> {
    reading(celsius * 1_000, fahrenheit)
}

pub(super) fn distance(metres: i64, miles: bool) -> Made<Typed<Distance>> {
    let text = if miles {
        format!("{} mi", grouped(metres * 1_000 / 1_609_344))
    } else {
        format!("{} km", grouped(metres / 1_000))
    };
    Ok(read(&text)?)
}

pub(super) fn hours(seconds: i64) -> Made<Typed<RunningTime>> {
    Ok(read(&format!("{} h", tenths(seconds / 360)))?)
}

fn grouped(count: i64) -> String {
    if count >= 1_000 {
        format!("{},{:03}", grouped(count / 1_000), count % 1_000)
    } else {
        format!("{count}")
    }
}
