//! Figures with a unit, as the tables of rules state them: exact, in one unit for each kind.

use super::exact::Exact;
use crate::quantity::Mass;

/// A unit and what one of it is in the unit that is kept: numerator and denominator.
type Factor = (&'static str, u64, u64);

/// Kept in mL. 1 US gallon is 3.785411784 L, exactly (by definition of the inch).
const VOLUMES: [Factor; 3] = [
    ("gal", 3_785_411_784, 1_000_000),
    ("L", 1_000, 1),
    ("mL", 1, 1),
];
/// Kept in m. 1 mile is 1,609.344 m and 1 inch 25.4 mm, exactly (by definition).
const LENGTHS: [Factor; 5] = [
    ("mi", 1_609_344, 1_000),
    ("km", 1_000, 1),
    ("m", 1, 1),
    ("in", 254, 10_000),
    ("mm", 1, 1_000),
];
/// Kept in g. 1 pound is 453.59237 g, exactly (by definition).
const MASSES: [Factor; 3] = [("g", 1, 1), ("kg", 1_000, 1), ("lb", 45_359_237, 100_000)];
/// Kept in mg/L.
const STRENGTHS: [Factor; 2] = [("mg/L", 1, 1), ("ug/L", 1, 1_000)];

fn in_unit(text: &str, factors: &[Factor], up: bool) -> Result<Exact, String> {
    let (number, unit) = text
        .split_once(' ')
        .ok_or_else(|| format!("\"{text}\" is no number with a unit behind it"))?;
    let number: Exact = number.parse().map_err(|problem| format!("{problem}"))?;
    let units = || {
        let names: Vec<&str> = factors.iter().map(|(name, ..)| *name).collect();
        format!(
            "\"{unit}\" is none of the units of this: {}",
            names.join(", ")
        )
    };
    let (_, up_by, down_by) = factors
        .iter()
        .find(|(name, ..)| *name == unit)
        .ok_or_else(units)?;
    number
        .scaled((*up_by, *down_by), up)
        .ok_or_else(|| format!("{text} is too much"))
}

/// A volume, mL.
pub(super) fn volume_ml(text: &str) -> Result<Exact, String> {
    in_unit(text, &VOLUMES, true)
}

/// A length or distance, m.
pub(super) fn length_m(text: &str) -> Result<Exact, String> {
    in_unit(text, &LENGTHS, true)
}

/// A distance with its unit, in m: "250 mi".
///
/// ```
/// use domain::rules::read_way;
/// assert_eq!(read_way("200 mi").unwrap().to_string(), "321868.8");
/// assert!(read_way("200").is_err());
/// ```
///
/// # Errors
/// In words, when it is none.
pub fn read_way(typed: &str) -> Result<Exact, String> {
    length_m(typed.trim())
}

/// What a laboratory reports, mg/L.
pub(super) fn strength_mg_per_l(text: &str) -> Result<Exact, String> {
    in_unit(text, &STRENGTHS, true)
}

/// A mass; a part of a gram counts as a whole one, so that no limit is passed unseen.
pub(super) fn mass(text: &str) -> Result<Mass, String> {
    whole_grams(in_unit(text, &MASSES, true)?)
}

/// Grams, a part of one counted as a whole one.
pub(super) fn whole_grams(grams: Exact) -> Result<Mass, String> {
    let whole = grams.times(Exact::ONE, true);
    let whole = whole.and_then(|grams| i64::try_from(grams).ok());
    let whole = whole.ok_or_else(|| format!("{grams} g is too much"))?;
    Mass::from_g(whole).map_err(|problem| problem.to_string())
}

#[cfg(test)]
mod tests {
    use super::{length_m, mass, strength_mg_per_l, volume_ml};

    #[test]
    fn units_are_converted_without_loss() {
        // By the definitions of the inch, the mile and the pound.
        assert_eq!(volume_ml("55 gal").unwrap().to_string(), "208197.64812");
        assert_eq!(volume_ml("208.198 L").unwrap().to_string(), "208198");
        assert_eq!(length_m("200 mi").unwrap().to_string(), "321868.8");
        assert_eq!(length_m("1 in").unwrap(), length_m("25.4 mm").unwrap());
        assert_eq!(mass("220 lb").unwrap().g(), 99_791);
        assert_eq!(mass("100000.000000001 g").unwrap().g(), 100_001);
        assert_eq!(strength_mg_per_l("4999 ug/L").unwrap().to_string(), "4.999");
        for wrong in ["55", "gal", "55 pints", "-1 gal", "1e3 L", " L"] {
            assert!(volume_ml(wrong).is_err(), "{wrong}");
        }
    }
}
