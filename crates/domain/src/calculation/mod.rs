//! Every calculation that can be asked for by name, in one table: what goes in, what comes out.
//!
//! The command line makes its options and its columns from this table, and the tests read worked
//! rows through it. A new one is an entry here.

mod fluid;
mod gas;

use std::fmt;

use thiserror::Error;

use crate::fluid::Glycol;

/// What kind of figure a column holds; its name ends in the unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// "EG" or "PG".
    Glycol,
    /// A share from 0 to 1.
    Share,
    /// °C.
    Temperature,
    /// A difference of temperatures, °C.
    TemperatureDifference,
    /// L.
    Volume,
    /// m.
    Length,
    /// kg/m³.
    Density,
    /// Inches of mercury below the atmosphere.
    Vacuum,
    /// psi above the atmosphere.
    GaugePressure,
    /// psi, of a difference or a step.
    PressureStep,
    /// min.
    Time,
    /// Standard cm³/min.
    LeakRate,
}

/// A figure that goes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Input {
    /// The name of its column, the unit last.
    pub column: &'static str,
    /// What it is.
    pub dimension: Dimension,
}

/// A figure that comes out.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number in the unit of its column.
    Number(f64),
    /// Words.
    Text(String),
    /// Yes or no.
    Flag(bool),
    /// Nothing to say here.
    Nothing,
}

impl Value {
    fn of(number: Option<f64>) -> Self {
        number.map_or(Self::Nothing, Self::Number)
    }

    fn text(words: &str) -> Self {
        Self::Text(words.to_owned())
    }
}

impl fmt::Display for Value {
    /// Numbers with six digits that count, which is more than any of them is good for.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => f.write_str(&six_digits(*number)),
            Self::Text(words) => f.write_str(words),
            Self::Flag(flag) => write!(f, "{flag}"),
            Self::Nothing => Ok(()),
        }
    }
}

/// A number rounded to six digits that count, without zeros that say nothing.
fn six_digits(number: f64) -> String {
    const DIGITS: usize = 6;
    let scientific = format!("{number:.*e}", DIGITS - 1);
    let exponent: i32 = scientific
        .rsplit_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0);
    // Far from 1 the power says it shorter.
    if !number.is_finite() || !(-6..=12).contains(&exponent) {
        return scientific;
    }
    let behind = usize::try_from(5_i32.saturating_sub(exponent)).unwrap_or(0);
    let plain = format!("{number:.behind$}");
    let shortened = if plain.contains('.') {
        plain.trim_end_matches('0').trim_end_matches('.')
    } else {
        &plain
    };
    if shortened == "-0" {
        "0".to_owned()
    } else {
        shortened.to_owned()
    }
}

/// A figure that was given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Entered {
    /// In the unit of its column.
    Number(f64),
    /// A glycol.
    Glycol(Glycol),
}

/// All that was given, in the order of the inputs.
#[derive(Clone, Debug)]
pub struct Given<'a> {
    inputs: &'a [Input],
    figures: &'a [Entered],
}

impl Given<'_> {
    fn find(&self, column: &str) -> Result<Entered, Problem> {
        let at = self.inputs.iter().position(|input| input.column == column);
        at.and_then(|at| self.figures.get(at).copied())
            .ok_or_else(|| Problem(format!("{column} is missing")))
    }

    fn number(&self, column: &str) -> Result<f64, Problem> {
        match self.find(column)? {
            Entered::Number(number) if number.is_finite() => Ok(number),
            Entered::Number(number) => Err(Problem(format!(
                "{column} is {number}, which is no number that can be worked with"
            ))),
            Entered::Glycol(_) => Err(Problem(format!("{column} is a glycol, not a number"))),
        }
    }

    fn glycol(&self) -> Result<Glycol, Problem> {
        match self.find("glycol")? {
            Entered::Glycol(glycol) => Ok(glycol),
            Entered::Number(_) => Err(Problem("glycol is neither EG nor PG".to_owned())),
        }
    }

    /// A share from 0 to 1.
    fn share(&self, column: &str) -> Result<f64, Problem> {
        let share = self.number(column)?;
        if (0.0..=1.0).contains(&share) {
            Ok(share)
        } else {
            Err(Problem(format!(
                "{column} is {share}, a share from 0 to 1 is possible: half and half is 0.5, or 50%"
            )))
        }
    }

    /// A number above 0.
    fn above_0(&self, column: &str) -> Result<f64, Problem> {
        let number = self.number(column)?;
        if number > 0.0 {
            Ok(number)
        } else {
            Err(Problem(format!("{column} is {number}, it must be above 0")))
        }
    }

    /// A number not below 0.
    fn not_below_0(&self, column: &str) -> Result<f64, Problem> {
        let number = self.number(column)?;
        if number >= 0.0 {
            Ok(number)
        } else {
            Err(Problem(format!(
                "{column} is {number}, it must not be below 0"
            )))
        }
    }
}

/// Why there is nothing to say; in words, lower case, no full stop.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{0}")]
pub struct Problem(pub String);

impl Problem {
    fn of(cause: impl fmt::Display) -> Self {
        Self(cause.to_string())
    }
}

/// What a calculation comes to, in the order of its outputs.
pub type Worked = Result<Vec<Value>, Problem>;

/// A calculation that can be asked for.
#[derive(Clone, Copy, Debug)]
pub struct Calculation {
    /// Its name on the command line.
    pub name: &'static str,
    /// What it answers.
    pub about: &'static str,
    /// What goes in.
    pub inputs: &'static [Input],
    /// The columns that come out.
    pub outputs: &'static [&'static str],
    run: fn(&Given<'_>) -> Worked,
}

impl Calculation {
    /// Works it out from figures in the order of its inputs.
    ///
    /// # Errors
    /// [`Problem`] for figures that cannot be, or for which nothing can be said.
    pub fn work_out(&self, figures: &[Entered]) -> Worked {
        let given = Given {
            inputs: self.inputs,
            figures,
        };
        let found = (self.run)(&given)?;
        let endless = |value: &Value| matches!(value, Value::Number(number) if !number.is_finite());
        if found.iter().any(endless) {
            return Err(Problem(
                "these figures are too large or too small to be worked out".to_owned(),
            ));
        }
        Ok(found)
    }
}

/// Every calculation.
pub fn all() -> impl Iterator<Item = &'static Calculation> {
    fluid::ALL.iter().chain(gas::ALL)
}

/// A calculation by its name.
pub fn find(name: &str) -> Option<&'static Calculation> {
    all().find(|calculation| calculation.name == name)
}

const fn input(column: &'static str, dimension: Dimension) -> Input {
    Input { column, dimension }
}

const GLYCOL: Input = input("glycol", Dimension::Glycol);
const STRENGTH: Input = input("vol_fraction", Dimension::Share);
const TEMPERATURE: Input = input("t_c", Dimension::Temperature);
const ALTITUDE: Input = input("altitude_m", Dimension::Length);
const VACUUM: Input = input("vacuum_inhg", Dimension::Vacuum);

#[cfg(test)]
mod tests {
    use super::{all, six_digits};
    use std::collections::HashSet;

    #[test]
    fn six_digits_count_and_no_zero_that_says_nothing() {
        for (number, text) in [
            (0.0, "0"),
            (-0.0, "0"),
            (1.0, "1"),
            (60.157_912, "60.1579"),
            (-48.3, "-48.3"),
            (0.000_285_082_4, "0.000285082"),
            (200.0, "200"),
            (123_456_789.0, "123456789"),
            (2.9657e-9, "2.96570e-9"),
        ] {
            assert_eq!(six_digits(number), text);
        }
    }

    #[test]
    fn names_and_columns_are_each_there_once() {
        let mut names = HashSet::new();
        for calculation in all() {
            assert!(names.insert(calculation.name), "{}", calculation.name);
            let mut columns = HashSet::new();
            let inputs = calculation.inputs.iter().map(|input| input.column);
            for column in inputs.chain(calculation.outputs.iter().copied()) {
                assert!(columns.insert(column), "{}: {column}", calculation.name);
            }
        }
    }
}
