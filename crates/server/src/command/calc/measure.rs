//! Figures as people type them on a command line: a number and its unit.

use domain::calculation::{Dimension, Entered, Input};
use domain::fluid::Glycol;

/// A unit: how it is written, and what makes a number of it one of the column's unit: a factor,
/// and what is added after it.
type Unit = (&'static [&'static str], f64, f64);

/// Factors are those of NIST SP 811, appendix B.8; a gallon is a US gallon.
const fn units(dimension: Dimension) -> &'static [Unit] {
    match dimension {
        Dimension::Glycol => &[],
        Dimension::Share => &[(&["%"], 0.01, 0.0)],
        Dimension::Temperature => &[
            (&["C", "°C"], 1.0, 0.0),
            (&["F", "°F"], 5.0 / 9.0, -160.0 / 9.0),
            (&["K"], 1.0, -273.15),
        ],
        Dimension::TemperatureDifference => &[
            (&["C", "°C", "K"], 1.0, 0.0),
            (&["F", "°F"], 5.0 / 9.0, 0.0),
        ],
        Dimension::Volume => &[
            (&["L", "l"], 1.0, 0.0),
            (&["mL", "ml"], 0.001, 0.0),
            (&["gal", "US gal"], 3.785_411_784, 0.0),
            (&["qt"], 0.946_352_946, 0.0),
        ],
        Dimension::Length => &[
            (&["m"], 1.0, 0.0),
            (&["cm"], 0.01, 0.0),
            (&["mm"], 0.001, 0.0),
            (&["ft"], 0.3048, 0.0),
            (&["in"], 0.0254, 0.0),
        ],
        Dimension::Density => &[
            (&["kg/m3", "kg/m³"], 1.0, 0.0),
            (&["g/mL", "g/ml"], 1_000.0, 0.0),
            (&["lb/gal"], 119.826_4, 0.0),
        ],
        Dimension::Vacuum => &[
            (&["inHg"], 1.0, 0.0),
            (&["kPa"], 1_000.0 / 3_386.389, 0.0),
            (&["psi"], 6_894.757 / 3_386.389, 0.0),
            (&["mbar"], 100.0 / 3_386.389, 0.0),
            (&["mmHg"], 1.0 / 25.4, 0.0),
        ],
        Dimension::GaugePressure | Dimension::PressureStep => &[
            (&["psi", "psig"], 1.0, 0.0),
            (&["kPa"], 1_000.0 / 6_894.757, 0.0),
            (&["bar"], 100_000.0 / 6_894.757, 0.0),
        ],
        Dimension::Time => &[
            (&["min"], 1.0, 0.0),
            (&["s"], 1.0 / 60.0, 0.0),
            (&["h"], 60.0, 0.0),
        ],
        Dimension::LeakRate => &[(&["std cc/min", "cc/min", "mL/min", "ml/min"], 1.0, 0.0)],
    }
}

/// The name of an option: its column without the unit.
pub(super) fn option_of(input: Input) -> String {
    let plain = match (input.column, input.dimension) {
        ("vol_fraction", _) => "strength",
        ("t_c", _) => "temperature",
        (column, dimension) => column.strip_suffix(suffix(dimension)).unwrap_or(column),
    };
    plain.replace('_', "-")
}

const fn suffix(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Glycol | Dimension::Share | Dimension::Time => "",
        Dimension::Temperature | Dimension::TemperatureDifference => "_c",
        Dimension::Volume => "_l",
        Dimension::Length => "_m",
        Dimension::Density => "_kg_m3",
        Dimension::Vacuum => "_inhg",
        Dimension::GaugePressure => "_psig",
        Dimension::PressureStep => "_psi",
        Dimension::LeakRate => "_std_cc_min",
    }
}

/// What stands for it in the help.
pub(super) const fn example_of(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Glycol => "EG|PG",
        Dimension::Share => "50%",
        Dimension::Temperature => "20C",
        Dimension::TemperatureDifference => "1C",
        Dimension::Volume => "100L",
        Dimension::Length => "1.2m",
        Dimension::Density => "1075kg/m3",
        Dimension::Vacuum => "20inHg",
        Dimension::GaugePressure => "15psi",
        Dimension::PressureStep => "0.1psi",
        Dimension::Time => "10min",
        Dimension::LeakRate => "50cc/min",
    }
}

/// What is taken where an option is left out, and said so; none where nothing can be taken.
pub(super) fn usual_of(input: Input) -> Option<&'static str> {
    match input.column {
        "glycol" => Some("EG"),
        "liquid_l" => Some("0 L"),
        "lift_m" => Some("0 m"),
        // A refractometer read with care (ASTM D3321).
        "half_width_c" => Some("1 C"),
        _ => None,
    }
}

/// The word of a glycol in columns and options.
pub(super) const fn word_of(glycol: Glycol) -> &'static str {
    match glycol {
        Glycol::Eg => "EG",
        Glycol::Pg => "PG",
    }
}

/// Reads a figure; without a unit it is in that of its column.
pub(super) fn read(typed: &str, dimension: Dimension) -> Result<Entered, String> {
    let typed = typed.trim();
    if dimension == Dimension::Glycol {
        return Glycol::ALL
            .into_iter()
            .find(|glycol| word_of(*glycol).eq_ignore_ascii_case(typed))
            .map(Entered::Glycol)
            .ok_or_else(|| format!("\"{typed}\" is neither EG nor PG"));
    }
    if typed.is_empty() {
        return Err(format!(
            "nothing is there; write it like {}",
            example_of(dimension)
        ));
    }
    if groups_thousands(typed) {
        return Err(format!(
            "\"{typed}\" can be read in two ways; write thousands without a comma, and a part with a point"
        ));
    }
    let plain = typed.replace('\u{2212}', "-").replace(',', ".");
    let (number, symbol) = number_and_unit(&plain).ok_or_else(|| {
        format!(
            "\"{typed}\" does not begin with a number; write it like {}",
            example_of(dimension)
        )
    })?;
    if symbol.is_empty() {
        return Ok(Entered::Number(number));
    }
    let known = units(dimension);
    let found = known.iter().find(|(names, ..)| names.contains(&symbol));
    let (_, factor, zero) = found.ok_or_else(|| {
        let names: Vec<&str> = known
            .iter()
            .filter_map(|(names, ..)| names.first().copied())
            .collect();
        format!(
            "\"{symbol}\" is no unit of this; it is one of {}",
            names.join(", ")
        )
    })?;
    Ok(Entered::Number(number * factor + zero))
}

/// A comma with exactly three digits behind it: "1,600" may be either.
fn groups_thousands(typed: &str) -> bool {
    let parts = typed.split(',').skip(1);
    parts
        .map(|behind| behind.bytes().take_while(u8::is_ascii_digit).count())
        .any(|digits| digits == 3)
}

/// The longest beginning that is a number, and what follows it.
fn number_and_unit(text: &str) -> Option<(f64, &str)> {
    let begins = text.starts_with(|letter: char| letter.is_ascii_digit() || "+-.".contains(letter));
    if !begins {
        return None;
    }
    let ends = text
        .char_indices()
        .map(|(at, letter)| at + letter.len_utf8())
        .rev();
    ends.filter_map(|end| text.split_at_checked(end))
        .find_map(|(number, rest)| Some((number.parse::<f64>().ok()?, rest.trim())))
        .filter(|(number, _)| number.is_finite())
}

#[cfg(test)]
mod tests {
    use super::{option_of, read};
    use domain::calculation::{Dimension, Entered, all};
    use std::collections::HashSet;

    fn number(typed: &str, dimension: Dimension) -> f64 {
        match read(typed, dimension) {
            Ok(Entered::Number(number)) => number,
            other => panic!("{typed}: {other:?}"),
        }
    }

    #[test]
    fn figures_are_read_with_their_units() {
        for (typed, dimension, expected) in [
            ("20inHg", Dimension::Vacuum, 20.0),
            ("67.72778 kPa", Dimension::Vacuum, 20.0),
            ("50%", Dimension::Share, 0.5),
            ("0.5", Dimension::Share, 0.5),
            ("68F", Dimension::Temperature, 20.0),
            ("-34 °F", Dimension::Temperature, -36.666_667),
            ("\u{2212}37C", Dimension::Temperature, -37.0),
            ("293.15K", Dimension::Temperature, 20.0),
            ("1.8F", Dimension::TemperatureDifference, 1.0),
            ("10 US gal", Dimension::Volume, 37.854_118),
            ("12,5L", Dimension::Volume, 12.5),
            ("1600m", Dimension::Length, 1_600.0),
            ("1e3", Dimension::Length, 1_000.0),
            ("600 s", Dimension::Time, 10.0),
            ("103.421355kPa", Dimension::GaugePressure, 15.0),
        ] {
            let found = number(typed, dimension);
            assert!((found - expected).abs() < 1e-5, "{typed}: {found}");
        }
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        for (typed, dimension, words) in [
            ("", Dimension::Volume, "nothing is there"),
            ("much", Dimension::Volume, "does not begin with a number"),
            ("1,600 ft", Dimension::Length, "in two ways"),
            ("NaN", Dimension::Volume, "does not begin with a number"),
            ("inf", Dimension::Volume, "does not begin with a number"),
            ("20 psi", Dimension::Volume, "no unit of this"),
            ("20 inHg", Dimension::GaugePressure, "no unit of this"),
            ("IAT", Dimension::Glycol, "neither EG nor PG"),
        ] {
            let problem = read(typed, dimension).unwrap_err();
            assert!(problem.contains(words), "{typed}: {problem}");
        }
    }

    #[test]
    fn every_calculation_has_each_option_once() {
        for calculation in all() {
            let mut options = HashSet::from(["json".to_owned(), "rows".to_owned()]);
            for input in calculation.inputs {
                let option = option_of(*input);
                assert!(
                    options.insert(option.clone()),
                    "{}: {option}",
                    calculation.name
                );
            }
        }
        let draw: Vec<String> = domain::calculation::find("vacuum-draw")
            .unwrap()
            .inputs
            .iter()
            .map(|input| option_of(*input))
            .collect();
        assert_eq!(
            draw,
            [
                "tank",
                "liquid",
                "vacuum",
                "lift",
                "altitude",
                "glycol",
                "strength",
                "temperature"
            ]
        );
    }
}
