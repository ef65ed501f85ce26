//! Reading what people type.
//!
//! # Numbers
//! Digits 0 to 9, a sign (`+`, `-` or U+2212), a decimal point or comma, and groups of three
//! digits set apart by spaces (also no-break, thin and narrow ones), apostrophes, or whichever of
//! point and comma is not the decimal mark. At most 15 digits stand before the mark and 12 after.
//!
//! A mark that could be either is read by one rule for each quantity ([`LoneComma`]):
//!
//! | Typed | [`Distance`](super::Distance), [`RunningTime`](super::RunningTime) | everything else |
//! |---|---|---|
//! | one comma, 1 to 3 digits before it (the first not 0) and 3 after: "121,400" | 121400 | 121.4 |
//! | any other single comma: "0,900", "12,5" | 0.9, 12.5 | 0.9, 12.5 |
//! | one point: "1.500" | 1.5 | 1.5 |
//! | the same mark more than once: "1,234,567" | 1234567 | 1234567 |
//! | both, each group of three: "1,234.5", "1.234,5" | 1234.5 | 1234.5 |
//!
//! # Units
//! Upper and lower case, spaces and full stops in a unit do not matter. Converting is exact
//! integer arithmetic with one rounding at the end, halves away from zero.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{self, Deserialize, Deserializer, MapAccess, Visitor};
use serde::ser::{Serialize, SerializeStruct, Serializer};
use thiserror::Error;

use super::OutOfBounds;
pub use super::unit::LoneComma;
use super::unit::{self, Typeable, Unit};

/// The most characters that are read.
pub const LONGEST: usize = 100;
/// The most digits before the decimal mark, leading zeros apart.
pub const DIGITS_BEFORE_MARK: usize = 15;
/// The most digits after the decimal mark.
pub const DIGITS_AFTER_MARK: usize = 12;

/// What was typed and what it was read as.
///
/// In JSON: `{"typed": "12.5 L", "ml": 12500}`, the key being [`Typeable::RAW_KEY`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Typed<Q> {
    /// The text without the blanks around it; a preset unit that was used stands behind it.
    pub typed: String,
    /// What it was read as.
    pub value: Q,
}

/// Why a text was not read as a quantity.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EntryProblem {
    /// Nothing but blanks.
    #[error("no {name} was typed, write it like {example}")]
    Empty {
        /// The quantity.
        name: &'static str,
        /// How it could be written.
        example: String,
    },
    /// More than [`LONGEST`] characters.
    #[error("{found} characters were typed, the most read is {LONGEST}")]
    TooLong {
        /// How many.
        found: usize,
    },
    /// A control character, or the mark left by damaged text.
    #[error("the text has the unprintable character U+{:04X} in it, only printable ones are read", u32::from(*found))]
    Unprintable {
        /// The first such character.
        found: char,
    },
    /// No number where one belongs.
    #[error("\"{found}\" does not begin with a number, write it like {example}")]
    NotANumber {
        /// What was typed.
        found: String,
        /// How it could be written.
        example: String,
    },
    /// Digits of another script or width, or a fraction sign.
    #[error("the number has \"{found}\" in it, only the digits 0 to 9 are read")]
    OtherDigits {
        /// The first such character.
        found: char,
    },
    /// A power of ten, such as "1e3".
    #[error("\"{found}\" has a power of ten in it, write the number out in full")]
    PowerOfTen {
        /// What was typed.
        found: String,
    },
    /// Groups not of three digits, or more than one decimal mark.
    #[error(
        "\"{found}\" is not a number, write groups of three digits and one decimal mark, like 1,234.5"
    )]
    Misgrouped {
        /// The number as typed.
        found: String,
    },
    /// Too many digits before the decimal mark.
    #[error(
        "the number has {found} digits before the decimal mark, the most read is {DIGITS_BEFORE_MARK}"
    )]
    TooManyDigits {
        /// How many.
        found: usize,
    },
    /// Too many digits after the decimal mark.
    #[error(
        "the number has {found} digits after the decimal mark, the most read is {DIGITS_AFTER_MARK}"
    )]
    TooManyDecimals {
        /// How many.
        found: usize,
    },
    /// A number alone, and no unit preset.
    #[error("say the unit: {offered}")]
    NoUnit {
        /// The number with the usual units.
        offered: String,
    },
    /// A unit that is not known at all.
    #[error("\"{found}\" is not a known unit, {name} is read in {known}")]
    UnknownUnit {
        /// The unit as typed.
        found: String,
        /// The quantity.
        name: &'static str,
        /// Its units.
        known: String,
    },
    /// A unit of another quantity.
    #[error("\"{found}\" is a unit of {measures}, {name} is read in {known}")]
    OtherQuantity {
        /// The unit as typed.
        found: String,
        /// What it is a unit of.
        measures: &'static str,
        /// The quantity wanted.
        name: &'static str,
        /// Its units.
        known: String,
    },
    /// A number outside the quantity's range.
    #[error(transparent)]
    OutOfBounds(#[from] OutOfBounds),
}

/// Reads a quantity with its unit.
///
/// ```
/// use domain::quantity::Volume;
/// use domain::quantity::entry::read;
/// let typed = read::<Volume>(" 1.234,5 L ")?;
/// assert_eq!((typed.typed.as_str(), typed.value.ml()), ("1.234,5 L", 1_234_500));
/// assert_eq!(read::<Volume>("1 gal")?.value.ml(), 3_785);
/// assert_eq!(
///     read::<Volume>("12.5").unwrap_err().to_string(),
///     "say the unit: 12.5 L or 12.5 US gal",
/// );
/// # Ok::<(), domain::quantity::entry::EntryProblem>(())
/// ```
///
/// # Errors
/// [`EntryProblem`], whose message says what was found and what is read.
pub fn read<Q: Typeable>(text: &str) -> Result<Typed<Q>, EntryProblem> {
    read_in(text, None)
}

/// Reads a quantity whose unit is preset beside the field; a unit in the text wins.
///
/// ```
/// use domain::quantity::{Unit, Volume};
/// use domain::quantity::entry::read_with_default_unit;
/// let gallon = Unit::<Volume>::US_GALLON;
/// let typed = read_with_default_unit::<Volume>("2", gallon)?;
/// assert_eq!((typed.typed.as_str(), typed.value.ml()), ("2 US gal", 7_571));
/// assert_eq!(read_with_default_unit::<Volume>("2 L", gallon)?.value.ml(), 2_000);
/// # Ok::<(), domain::quantity::entry::EntryProblem>(())
/// ```
///
/// # Errors
/// [`EntryProblem`], whose message says what was found and what is read.
pub fn read_with_default_unit<Q: Typeable>(
    text: &str,
    unit: Unit<Q>,
) -> Result<Typed<Q>, EntryProblem> {
    read_in(text, Some(unit))
}

fn read_in<Q: Typeable>(text: &str, preset: Option<Unit<Q>>) -> Result<Typed<Q>, EntryProblem> {
    let typed = text.trim();
    check_characters::<Q>(typed)?;
    let (number, unit_text) = split(typed);
    if !number
        .digits
        .contains(|letter: char| letter.is_ascii_digit())
    {
        return Err(no_number::<Q>(typed, unit_text));
    }
    if let Some(found) = unit_text.chars().next().filter(|first| first.is_numeric()) {
        return Err(EntryProblem::OtherDigits { found });
    }
    if is_power_of_ten(unit_text) {
        let found = typed.to_owned();
        return Err(EntryProblem::PowerOfTen { found });
    }
    let decimal = Decimal::read(number, Q::LONE_COMMA)?;
    let (unit, typed) = if unit_text.is_empty() {
        let unit = preset.ok_or_else(|| EntryProblem::NoUnit {
            offered: offered::<Q>(typed),
        })?;
        (unit, format!("{typed} {}", unit.symbol()))
    } else {
        (unit_in::<Q>(unit_text)?, typed.to_owned())
    };
    let raw = unit.raw(decimal.mantissa, decimal.decimals);
    let raw = raw.ok_or(EntryProblem::TooManyDigits {
        found: number.digits.len(),
    })?;
    let value = Q::from_raw(raw)?;
    Ok(Typed { typed, value })
}

fn check_characters<Q: Typeable>(typed: &str) -> Result<(), EntryProblem> {
    if typed.is_empty() {
        return Err(EntryProblem::Empty {
            name: Q::NAME,
            example: example::<Q>(),
        });
    }
    let found = typed.chars().count();
    if found > LONGEST {
        return Err(EntryProblem::TooLong { found });
    }
    let unprintable = |letter: &char| letter.is_control() || *letter == '\u{FFFD}';
    match typed.chars().find(unprintable) {
        Some(found) => Err(EntryProblem::Unprintable { found }),
        None => Ok(()),
    }
}

/// A sign, and the digits with their marks.
#[derive(Debug, Clone, Copy)]
struct Number<'text> {
    negative: bool,
    digits: &'text str,
}

fn is_blank(letter: char) -> bool {
    matches!(letter, ' ' | '\u{A0}' | '\u{2009}' | '\u{202F}')
}

fn is_apostrophe(letter: char) -> bool {
    matches!(letter, '\'' | '\u{2019}')
}

/// Parts a text into its number and its unit.
fn split(typed: &str) -> (Number<'_>, &str) {
    let (negative, unsigned) = match typed.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (true, rest),
        None => (false, typed.strip_prefix('+').unwrap_or(typed)),
    };
    let unsigned = unsigned.trim_start();
    let belongs = |letter: char| {
        letter.is_ascii_digit()
            || matches!(letter, '.' | ',')
            || is_blank(letter)
            || is_apostrophe(letter)
    };
    let end = unsigned
        .find(|letter| !belongs(letter))
        .unwrap_or(unsigned.len());
    let (digits, unit) = unsigned.split_at_checked(end).unwrap_or((unsigned, ""));
    let digits = digits.trim_end();
    (Number { negative, digits }, unit.trim())
}

fn no_number<Q: Typeable>(typed: &str, unit_text: &str) -> EntryProblem {
    match unit_text.chars().next() {
        Some(found) if found.is_numeric() => EntryProblem::OtherDigits { found },
        _ => EntryProblem::NotANumber {
            found: typed.to_owned(),
            example: example::<Q>(),
        },
    }
}

/// "e18", "E-3", "^18".
fn is_power_of_ten(unit_text: &str) -> bool {
    let Some(exponent) = unit_text.strip_prefix(['e', 'E', '^']) else {
        return false;
    };
    let exponent = exponent
        .strip_prefix(['+', '-', '\u{2212}'])
        .unwrap_or(exponent);
    exponent.starts_with(|letter: char| letter.is_ascii_digit())
}

/// `mantissa ÷ 10^decimals`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Decimal {
    mantissa: i128,
    decimals: u32,
}

impl Decimal {
    fn read(number: Number<'_>, lone_comma: LoneComma) -> Result<Self, EntryProblem> {
        let misgrouped = || EntryProblem::Misgrouped {
            found: number.digits.to_owned(),
        };
        let (whole, part) = number.parted(lone_comma).ok_or_else(misgrouped)?;
        let whole = ungrouped(whole).ok_or_else(misgrouped)?;
        let whole = whole.trim_start_matches('0');
        if whole.len() > DIGITS_BEFORE_MARK {
            let found = whole.len();
            return Err(EntryProblem::TooManyDigits { found });
        }
        if part.len() > DIGITS_AFTER_MARK {
            let found = part.len();
            return Err(EntryProblem::TooManyDecimals { found });
        }
        let part = part.trim_end_matches('0');
        let mut mantissa: i128 = 0;
        for digit in whole.chars().chain(part.chars()) {
            let digit = digit.to_digit(10).ok_or_else(misgrouped)?;
            mantissa = mantissa
                .saturating_mul(10)
                .saturating_add(i128::from(digit));
        }
        if number.negative {
            mantissa = mantissa.saturating_neg();
        }
        let decimals = u32::try_from(part.len()).map_err(|_| misgrouped())?;
        Ok(Self { mantissa, decimals })
    }
}

impl<'text> Number<'text> {
    /// The whole part, still grouped, and the digits after the decimal mark.
    fn parted(self, lone_comma: LoneComma) -> Option<(&'text str, &'text str)> {
        let text = self.digits;
        let Some(mark) = decimal_mark(text, lone_comma) else {
            return Some((text, ""));
        };
        let (whole, part) = text.rsplit_once(mark)?;
        let digits_only = part.chars().all(|digit| digit.is_ascii_digit());
        (digits_only && !part.is_empty()).then_some((whole, part))
    }
}

/// The character that parts whole and rest in this number, if any.
fn decimal_mark(text: &str, lone_comma: LoneComma) -> Option<char> {
    let points = text.matches('.').count();
    let commas = text.matches(',').count();
    match (points, commas) {
        (1, 0) => Some('.'),
        (0, 1) if lone_comma == LoneComma::Groups && looks_grouped(text) => None,
        (0, 1) => Some(','),
        (_, 0) | (0, _) => None,
        (_, _) => text
            .chars()
            .rev()
            .find(|letter| matches!(letter, '.' | ',')),
    }
}

/// One to three digits, the first not 0, then a comma and three digits.
fn looks_grouped(text: &str) -> bool {
    text.split_once(',').is_some_and(|(before, after)| {
        (1..=3).contains(&before.len()) && !before.starts_with('0') && after.len() == 3
    })
}

/// The digits of a whole part without its group marks; none when the groups are not of three
/// digits or not set apart by one and the same kind of mark.
fn ungrouped(whole: &str) -> Option<String> {
    let is_mark = |letter: char| !letter.is_ascii_digit();
    let mut kinds = whole.chars().filter(|letter| is_mark(*letter)).map(|mark| {
        if is_blank(mark) {
            ' '
        } else if is_apostrophe(mark) {
            '\''
        } else {
            mark
        }
    });
    let Some(kind) = kinds.next() else {
        return Some(whole.to_owned());
    };
    if kinds.any(|other| other != kind) {
        return None;
    }
    let mut groups = whole.split(is_mark);
    let first = groups.next()?;
    let mut digits = first.to_owned();
    for group in groups {
        if group.len() != 3 {
            return None;
        }
        digits.push_str(group);
    }
    let sound = (1..=3).contains(&first.len()) && !first.starts_with('0');
    sound.then_some(digits)
}

fn unit_in<Q: Typeable>(text: &str) -> Result<Unit<Q>, EntryProblem> {
    Unit::named(text).ok_or_else(|| {
        let found = text.to_owned();
        let (name, known) = (Q::NAME, known::<Q>());
        match unit::quantity_named_by(text) {
            Some(measures) => EntryProblem::OtherQuantity {
                found,
                measures,
                name,
                known,
            },
            None => EntryProblem::UnknownUnit { found, name, known },
        }
    })
}

/// "12.5 L or 12.5 US gal".
fn offered<Q: Typeable>(number: &str) -> String {
    let with = |unit: &Unit<Q>| format!("{number} {}", unit.symbol());
    let offers: Vec<String> = Q::UNITS.iter().take(Q::OFFERED).map(with).collect();
    offers.join(" or ")
}

/// "L, US gal, mL, qt".
fn known<Q: Typeable>() -> String {
    let symbols: Vec<&str> = Q::UNITS.iter().map(Unit::symbol).collect();
    symbols.join(", ")
}

fn example<Q: Typeable>() -> String {
    Q::UNITS
        .first()
        .map_or_else(String::new, |unit| format!("12.5 {}", unit.symbol()))
}

impl<Q: Typeable> Serialize for Typed<Q> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut typed = serializer.serialize_struct("Typed", 2)?;
        typed.serialize_field("typed", &self.typed)?;
        typed.serialize_field(Q::RAW_KEY, &self.value)?;
        typed.end()
    }
}

impl<'de, Q: Typeable> Deserialize<'de> for Typed<Q> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_map(TypedVisitor(PhantomData))
    }
}

struct TypedVisitor<Q>(PhantomData<Q>);

impl<'de, Q: Typeable> Visitor<'de> for TypedVisitor<Q> {
    type Value = Typed<Q>;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{} as \"typed\" and \"{}\"", Q::NAME, Q::RAW_KEY)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
        let (mut typed, mut value) = (None, None);
        while let Some(key) = map.next_key::<String>()? {
            if key == "typed" {
                if typed.replace(map.next_value()?).is_some() {
                    return Err(de::Error::duplicate_field("typed"));
                }
            } else if key == Q::RAW_KEY {
                if value.replace(map.next_value()?).is_some() {
                    return Err(de::Error::duplicate_field(Q::RAW_KEY));
                }
            } else {
                return Err(de::Error::custom(format_args!(
                    "\"{key}\" stands beside \"typed\", where only \"{}\" belongs",
                    Q::RAW_KEY
                )));
            }
        }
        let typed = typed.ok_or_else(|| de::Error::missing_field("typed"))?;
        let value = value.ok_or_else(|| de::Error::missing_field(Q::RAW_KEY))?;
        Ok(Typed { typed, value })
    }
}
