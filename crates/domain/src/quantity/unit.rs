//! Units: how each is written, and its factor to the raw integer.
//!
//! Exact factors (gallon 231 in³, inch 25.4 mm, pound 453.592 37 g, mile 1609.344 m) and those
//! printed to seven digits (psi 6894.757 Pa, conventional inHg 3386.389 Pa and mmHg 133.3224 Pa,
//! mercury at 0 °C) are as in NIST Special Publication 811 (2008), appendix B, from memory.

use std::fmt;
use std::marker::PhantomData;

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::bounds::OutOfBounds;
use super::decimal::{self, Marks};
use super::{
    AbsolutePressure, Density, Distance, FractionByMass, FractionByVolume, GaugePressure, Height,
    Mass, RunningTime, Temperature, TemperatureDifference, Vacuum, Volume,
};

mod sealed {
    pub trait Sealed {}
}

/// What one comma before exactly three digits means, as in "121,400".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoneComma {
    /// It groups thousands when one to three digits stand before it and the first is not 0.
    Groups,
    /// It is the decimal mark.
    Decimal,
}

/// A quantity that people type and read. Implemented by the quantities of this module only.
pub trait Typeable:
    sealed::Sealed + Copy + Eq + fmt::Debug + fmt::Display + Serialize + DeserializeOwned + 'static
{
    /// The name in messages, such as "volume".
    const NAME: &'static str;
    /// The JSON key of the raw integer, such as "ml".
    const RAW_KEY: &'static str;
    /// Every unit that is read, the usual ones first.
    const UNITS: &'static [Unit<Self>];
    /// How many of [`Self::UNITS`], counted from the first, are offered when no unit was typed.
    const OFFERED: usize;
    /// What a lone comma before three digits means.
    const LONE_COMMA: LoneComma = LoneComma::Decimal;
    /// Words that may follow any of the units, such as "absolute", as compared (no spaces).
    const QUALIFIERS: &'static [&'static str] = &[];

    /// From the raw integer.
    ///
    /// # Errors
    /// [`OutOfBounds`] outside the quantity's range.
    fn from_raw(raw: i128) -> Result<Self, OutOfBounds>;

    /// The raw integer.
    fn raw(self) -> i128;
}

/// Which side of a limit matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// Nothing above it.
    AtMost,
    /// Nothing below it.
    AtLeast,
}

/// A quantity that is a pressure of some kind.
pub trait Pressure: Typeable {}

/// A unit in which the quantity `Q` is typed or shown.
///
/// `raw = (typed × numerator + offset) ÷ denominator`, all three whole numbers.
///
/// ```
/// use domain::quantity::{Unit, Volume};
/// assert_eq!(Unit::<Volume>::US_GALLON.symbol(), "US gal");
/// assert_eq!(Unit::<Volume>::named("Gallons"), Some(Unit::<Volume>::US_GALLON));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unit<Q> {
    symbol: &'static str,
    spellings: &'static [&'static str],
    numerator: i128,
    offset: i128,
    denominator: i128,
    quantity: PhantomData<Q>,
}

impl<Q> Unit<Q> {
    const fn new(
        symbol: &'static str,
        spellings: &'static [&'static str],
        numerator: i128,
        denominator: i128,
    ) -> Self {
        Self {
            symbol,
            spellings,
            numerator,
            offset: 0,
            denominator,
            quantity: PhantomData,
        }
    }

    /// With the raw value of a typed zero, still to be divided by the denominator.
    const fn starting_at(self, offset: i128) -> Self {
        Self { offset, ..self }
    }

    /// The symbol, as shown after a number.
    pub const fn symbol(&self) -> &'static str {
        self.symbol
    }
}

/// Spellings are compared in lower case without spaces or full stops, and with one kind of
/// degree sign.
pub(super) fn plain_spelling(text: &str) -> String {
    let mut plain = String::new();
    for letter in text.chars().flat_map(char::to_lowercase) {
        match letter {
            '.' => {}
            'º' | '˚' => plain.push('°'),
            '℃' => plain.push_str("°c"),
            '℉' => plain.push_str("°f"),
            '³' => plain.push('3'),
            letter if letter.is_whitespace() => {}
            letter => plain.push(letter),
        }
    }
    plain
}

impl<Q: Typeable> Unit<Q> {
    /// The unit that a person means by `text`; upper and lower case, spaces and full stops do
    /// not matter ("kPa", "U.S. gal", "fl. oz").
    pub fn named(text: &str) -> Option<Self> {
        let plain = plain_spelling(text);
        let spelled = |plain: &str| {
            let matches = |unit: &&Self| {
                plain_spelling(unit.symbol) == plain || unit.spellings.contains(&plain)
            };
            Q::UNITS.iter().find(matches).copied()
        };
        spelled(&plain).or_else(|| {
            let bare = |word: &&str| plain.strip_suffix(*word);
            Q::QUALIFIERS.iter().find_map(bare).and_then(spelled)
        })
    }

    /// The raw integer for `mantissa ÷ 10^decimals` of this unit, rounded once.
    pub(super) fn raw(&self, mantissa: i128, decimals: u32) -> Option<i128> {
        let power = decimal::power_of_ten(decimals)?;
        let offset = self.offset.checked_mul(power)?;
        let numerator = mantissa.checked_mul(self.numerator)?.checked_add(offset)?;
        decimal::divide_rounded(numerator, self.denominator.checked_mul(power)?)
    }

    /// The number of this unit in `quantity`, times `10^decimals`, rounded once.
    fn scaled(&self, quantity: Q, decimals: u32) -> Option<i128> {
        let raw = quantity.raw().checked_mul(self.denominator)?;
        let numerator = raw
            .checked_sub(self.offset)?
            .checked_mul(decimal::power_of_ten(decimals)?)?;
        decimal::divide_rounded(numerator, self.numerator)
    }

    /// "12.5 L": the number to so many decimals, a space, the symbol.
    pub(super) fn show(&self, quantity: Q, decimals: u32, marks: Marks) -> String {
        self.write(self.scaled(quantity, decimals), quantity, (decimals, marks))
    }

    /// The same of a limit: what is read back from it never lies beyond the limit, on the side that
    /// matters.
    pub(super) fn show_limit(
        &self,
        quantity: Q,
        (decimals, marks): (u32, Marks),
        side: Side,
    ) -> String {
        let scaled = self.scaled(quantity, decimals).map(|scaled| {
            let back = self.raw(scaled, decimals);
            let beyond = |back: i128| match side {
                Side::AtMost => back > quantity.raw(),
                Side::AtLeast => back < quantity.raw(),
            };
            match side {
                _ if !back.is_some_and(beyond) => scaled,
                Side::AtMost => scaled.saturating_sub(1),
                Side::AtLeast => scaled.saturating_add(1),
            }
        });
        self.write(scaled, quantity, (decimals, marks))
    }

    fn write(&self, scaled: Option<i128>, quantity: Q, (decimals, marks): (u32, Marks)) -> String {
        scaled.map_or_else(
            || quantity.to_string(),
            |scaled| {
                format!(
                    "{} {}",
                    decimal::write(scaled, decimals, marks),
                    self.symbol
                )
            },
        )
    }
}

impl Unit<Volume> {
    /// Litre.
    pub const LITRE: Self = Self::new(
        "L",
        &["litre", "litres", "liter", "liters", "ltr", "ltrs"],
        1000,
        1,
    );
    /// US gallon, 231 cubic inches: 3.785 411 784 L exactly.
    pub const US_GALLON: Self = Self::new(
        "US gal",
        &[
            "gal",
            "gals",
            "gallon",
            "gallons",
            "usgallon",
            "usgallons",
            "usg",
        ],
        3_785_411_784,
        1_000_000,
    );
    /// Millilitre.
    pub const MILLILITRE: Self = Self::new(
        "mL",
        &[
            "millilitre",
            "millilitres",
            "milliliter",
            "milliliters",
            "cc",
        ],
        1,
        1,
    );
    /// US liquid quart, a quarter of a gallon: 946.352 946 mL exactly.
    pub const QUART: Self = Self::new(
        "qt",
        &["qts", "quart", "quarts", "usqt"],
        946_352_946,
        1_000_000,
    );
    /// US liquid pint, an eighth of a gallon: 473.176 473 mL exactly.
    pub const PINT: Self = Self::new(
        "pt",
        &["pts", "pint", "pints", "uspt"],
        473_176_473,
        1_000_000,
    );
    /// US fluid ounce, 1/128 of a gallon: 29.573 529 562 5 mL exactly.
    pub const FLUID_OUNCE: Self = Self::new(
        "fl oz",
        &["fluidounce", "fluidounces", "usfloz"],
        473_176_473,
        16_000_000,
    );
}

impl Unit<Mass> {
    /// Kilogram.
    pub const KILOGRAM: Self = Self::new("kg", &["kgs", "kilogram", "kilograms"], 1000, 1);
    /// Avoirdupois pound, 453.592 37 g exactly.
    pub const POUND: Self = Self::new("lb", &["lbs", "pound", "pounds"], 45_359_237, 100_000);
    /// Gram.
    pub const GRAM: Self = Self::new("g", &["gram", "grams"], 1, 1);
}

impl Unit<Density> {
    /// Kilogram per cubic metre.
    pub const KILOGRAM_PER_CUBIC_METRE: Self = Self::new("kg/m³", &["kg/m3"], 1000, 1);
    /// Kilogram per litre, which is gram per millilitre.
    pub const KILOGRAM_PER_LITRE: Self =
        Self::new("kg/L", &["g/ml", "g/cm3", "g/cc"], 1_000_000, 1);
}

impl Unit<Temperature> {
    /// Degree Celsius.
    pub const CELSIUS: Self = Self::new(
        "°C",
        &["c", "degc", "celsius", "degreescelsius", "°celsius"],
        1000,
        1,
    );
    /// Degree Fahrenheit: °C = (°F − 32) × 5/9.
    pub const FAHRENHEIT: Self = Self::new(
        "°F",
        &[
            "f",
            "degf",
            "fahrenheit",
            "degreesfahrenheit",
            "°fahrenheit",
        ],
        5000,
        9,
    )
    .starting_at(-160_000);
    /// Kelvin: °C = K − 273.15.
    pub const KELVIN: Self = Self::new("K", &["kelvin", "kelvins"], 1000, 1).starting_at(-273_150);
}

impl Unit<TemperatureDifference> {
    /// Degree Celsius, as a step.
    pub const CELSIUS: Self = Self::new("°C", &["c", "degc", "celsius"], 1000, 1);
    /// Degree Fahrenheit, as a step: 5/9 K.
    pub const FAHRENHEIT: Self = Self::new("°F", &["f", "degf", "fahrenheit"], 5000, 9);
    /// Kelvin.
    pub const KELVIN: Self = Self::new("K", &["kelvin", "kelvins"], 1000, 1);
}

/// Kilopascal, psi, bar and pascal of one kind of pressure.
macro_rules! pressure_units {
    ($quantity:ty, $kilopascal:literal, $psi:literal, [$($psi_spelling:literal),*]) => {
        impl Unit<$quantity> {
            /// Kilopascal.
            pub const KILOPASCAL: Self =
                Self::new($kilopascal, &["kpa", "kilopascal", "kilopascals"], 1000, 1);
            /// Pound-force per square inch: 6894.757 Pa (NIST SP 811, from memory).
            pub const PSI: Self = Self::new($psi, &["psi", $($psi_spelling),*], 6_894_757, 1000);
            /// Bar: 100 kPa.
            pub const BAR: Self = Self::new("bar", &["bars"], 100_000, 1);
            /// Pascal.
            pub const PASCAL: Self = Self::new("Pa", &["pascal", "pascals"], 1, 1);
        }
    };
}

pressure_units!(GaugePressure, "kPa", "psi", ["psig"]);
pressure_units!(AbsolutePressure, "kPa absolute", "psi absolute", ["psia"]);
pressure_units!(Vacuum, "kPa", "psi", []);

/// Inch and millimetre of mercury, where a mercury gauge is usual.
macro_rules! mercury_units {
    ($quantity:ty) => {
        impl Unit<$quantity> {
            /// Conventional inch of mercury (0 °C): 3386.389 Pa (NIST SP 811, from memory).
            pub const INCH_OF_MERCURY: Self = Self::new(
                "inHg",
                &["\"hg", "inchofmercury", "inchesofmercury"],
                3_386_389,
                1000,
            );
            /// Conventional millimetre of mercury (0 °C): 133.3224 Pa (NIST SP 811, from
            /// memory).
            pub const MILLIMETRE_OF_MERCURY: Self = Self::new("mmHg", &[], 1_333_224, 10_000);
        }
    };
}

mercury_units!(AbsolutePressure);
mercury_units!(Vacuum);

impl Unit<FractionByVolume> {
    /// Hundredth by volume.
    pub const PERCENT: Self = Self::new(
        "%",
        &[
            "percent",
            "vol%",
            "%vol",
            "%byvolume",
            "%v/v",
            "percentbyvolume",
        ],
        10_000,
        1,
    );
}

impl Unit<FractionByMass> {
    /// Hundredth by mass.
    pub const PERCENT: Self = Self::new(
        "% by mass",
        &[
            "%",
            "percent",
            "mass%",
            "%mass",
            "wt%",
            "%wt",
            "%w/w",
            "%byweight",
        ],
        10_000,
        1,
    );
}

impl Unit<Distance> {
    /// Kilometre.
    pub const KILOMETRE: Self = Self::new(
        "km",
        &["kms", "kilometre", "kilometres", "kilometer", "kilometers"],
        1000,
        1,
    );
    /// Mile: 1609.344 m exactly.
    pub const MILE: Self = Self::new("mi", &["mile", "miles"], 1_609_344, 1000);
    /// Metre.
    pub const METRE: Self = Self::new("m", &["metre", "metres", "meter", "meters"], 1, 1);
}

impl Unit<Height> {
    /// Metre.
    pub const METRE: Self = Self::new("m", &["metre", "metres", "meter", "meters"], 1000, 1);
    /// Foot: 304.8 mm exactly.
    pub const FOOT: Self = Self::new("ft", &["foot", "feet", "'"], 3048, 10);
    /// Centimetre.
    pub const CENTIMETRE: Self = Self::new("cm", &["centimetre", "centimetres"], 10, 1);
    /// Inch: 25.4 mm exactly.
    pub const INCH: Self = Self::new("in", &["inch", "inches", "\""], 254, 10);
}

impl Unit<RunningTime> {
    /// Hour.
    pub const HOUR: Self = Self::new("h", &["hr", "hrs", "hour", "hours"], 3600, 1);
    /// Minute.
    pub const MINUTE: Self = Self::new("min", &["mins", "minute", "minutes"], 60, 1);
    /// Second.
    pub const SECOND: Self = Self::new("s", &["sec", "second", "seconds"], 1, 1);
}

macro_rules! typeable {
    ($quantity:ident, $key:literal, [$($unit:ident),+], $offered:literal $(, $rule:item)*) => {
        impl sealed::Sealed for $quantity {}

        impl Typeable for $quantity {
            const NAME: &'static str = Self::NAME;
            const RAW_KEY: &'static str = $key;
            const UNITS: &'static [Unit<Self>] = &[$(Unit::<Self>::$unit),+];
            const OFFERED: usize = $offered;
            $($rule)*

            fn from_raw(raw: i128) -> Result<Self, OutOfBounds> {
                Self::from_wide(raw)
            }

            fn raw(self) -> i128 {
                self.wide()
            }
        }
    };
}

typeable!(
    Volume,
    "ml",
    [LITRE, US_GALLON, MILLILITRE, QUART, PINT, FLUID_OUNCE],
    2
);
typeable!(Mass, "g", [KILOGRAM, POUND, GRAM], 2);
typeable!(
    Density,
    "g_per_m3",
    [KILOGRAM_PER_CUBIC_METRE, KILOGRAM_PER_LITRE],
    2
);
typeable!(
    Temperature,
    "millicelsius",
    [CELSIUS, FAHRENHEIT, KELVIN],
    2
);
typeable!(
    TemperatureDifference,
    "millikelvin",
    [CELSIUS, FAHRENHEIT, KELVIN],
    2
);
typeable!(
    GaugePressure,
    "pa",
    [KILOPASCAL, PSI, BAR, PASCAL],
    2,
    const QUALIFIERS: &'static [&'static str] = &["gauge", "(gauge)"];
);
typeable!(
    AbsolutePressure,
    "pa",
    [
        KILOPASCAL,
        PSI,
        BAR,
        PASCAL,
        INCH_OF_MERCURY,
        MILLIMETRE_OF_MERCURY
    ],
    2,
    const QUALIFIERS: &'static [&'static str] = &["absolute", "(absolute)", "abs", "(abs)"];
);
typeable!(
    Vacuum,
    "pa",
    [
        INCH_OF_MERCURY,
        KILOPASCAL,
        MILLIMETRE_OF_MERCURY,
        PSI,
        BAR,
        PASCAL
    ],
    2,
    const QUALIFIERS: &'static [&'static str] = &["vacuum", "(vacuum)", "vac"];
);
typeable!(FractionByVolume, "millionths", [PERCENT], 1);
typeable!(FractionByMass, "millionths", [PERCENT], 1);
typeable!(
    Distance,
    "m",
    [KILOMETRE, MILE, METRE],
    2,
    const LONE_COMMA: LoneComma = LoneComma::Groups;
);
typeable!(Height, "mm", [METRE, FOOT, CENTIMETRE, INCH], 2);
typeable!(
    RunningTime,
    "s",
    [HOUR, MINUTE, SECOND],
    1,
    const LONE_COMMA: LoneComma = LoneComma::Groups;
);

impl Pressure for GaugePressure {}
impl Pressure for AbsolutePressure {}
impl Pressure for Vacuum {}

/// The name of a quantity that `text` is a unit of, if any.
pub(super) fn quantity_named_by(text: &str) -> Option<&'static str> {
    fn name<Q: Typeable>(text: &str) -> Option<&'static str> {
        Unit::<Q>::named(text).map(|_| Q::NAME)
    }
    name::<Volume>(text)
        .or_else(|| name::<Temperature>(text))
        .or_else(|| name::<FractionByVolume>(text))
        .or_else(|| name::<FractionByMass>(text))
        .or_else(|| name::<GaugePressure>(text))
        .or_else(|| name::<Vacuum>(text))
        .or_else(|| name::<AbsolutePressure>(text))
        .or_else(|| name::<Distance>(text))
        .or_else(|| name::<Height>(text))
        .or_else(|| name::<RunningTime>(text))
        .or_else(|| name::<Mass>(text))
        .or_else(|| name::<Density>(text))
}
