//! Bounds stated once, and the range message built from them.

use std::fmt;

use super::decimal::{self, Marks};
use super::rounding::widest;

/// How a raw integer is written in its everyday SI unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Scale {
    /// The unit's symbol.
    pub(crate) unit: &'static str,
    /// Raw steps in one unit.
    pub(crate) per_unit: i64,
    /// Decimals that show one raw step.
    pub(crate) decimals: u32,
}

impl Scale {
    fn number(self, raw: i128) -> String {
        let scaled = decimal::power_of_ten(self.decimals)
            .and_then(|power| raw.checked_mul(power))
            .and_then(|product| decimal::divide_rounded(product, widest(self.per_unit)));
        scaled.map_or_else(
            || format!("{raw} / {}", self.per_unit),
            |scaled| decimal::write(scaled, self.decimals, Marks::POINT),
        )
    }

    /// All decimals: "12.500 L".
    pub(crate) fn full(self, raw: i64) -> String {
        format!("{} {}", self.number(widest(raw)), self.unit)
    }

    /// No more decimals than needed, one at least: "12.5 L".
    fn short(self, raw: i128) -> String {
        let number = self.number(raw);
        let short = number.trim_end_matches('0');
        if short.ends_with('.') {
            format!("{short}0 {}", self.unit)
        } else {
            format!("{short} {}", self.unit)
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Limit {
    Least(i64),
    Most(i64),
}

/// A number outside the range of its quantity.
///
/// The message names the quantity, what was found and the limit that it passed.
///
/// ```
/// use domain::quantity::Volume;
/// assert_eq!(
///     Volume::from_ml(1_200_000_000).unwrap_err().to_string(),
///     "volume is 1,200,000.0 L, the most this server takes is 1,000,000.0 L",
/// );
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OutOfBounds {
    name: &'static str,
    found: i128,
    limit: Limit,
    scale: Scale,
}

impl OutOfBounds {
    pub(crate) const fn least(name: &'static str, found: i128, limit: i64, scale: Scale) -> Self {
        let limit = Limit::Least(limit);
        Self {
            name,
            found,
            limit,
            scale,
        }
    }

    pub(crate) const fn most(name: &'static str, found: i128, limit: i64, scale: Scale) -> Self {
        let limit = Limit::Most(limit);
        Self {
            name,
            found,
            limit,
            scale,
        }
    }

    /// The quantity's name, such as "volume".
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// The limit that was passed, as the quantity's raw integer.
    pub const fn limit(&self) -> i64 {
        match self.limit {
            Limit::Least(limit) | Limit::Most(limit) => limit,
        }
    }
}

impl fmt::Display for OutOfBounds {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let found = self.scale.short(self.found);
        let (side, limit) = match self.limit {
            Limit::Least(limit) => ("least", limit),
            Limit::Most(limit) => ("most", limit),
        };
        let limit = self.scale.short(widest(limit));
        let name = self.name;
        write!(
            formatter,
            "{name} is {found}, the {side} this server takes is {limit}"
        )
    }
}

impl std::error::Error for OutOfBounds {}

/// Declares a quantity: an integer newtype with one stated range.
macro_rules! quantity {
    (
        $(#[$about:meta])*
        $name:ident($raw:ty, $raw_text:literal, $wide:path) {
            name: $label:literal,
            $(#[$min_about:meta])*
            min: $min:literal,
            $(#[$max_about:meta])*
            max: $max:literal,
            shown: $unit:literal, $per_unit:literal, $decimals:literal,
            $(#[$from_about:meta])*
            from: $from:ident,
            $(#[$get_about:meta])*
            get: $get:ident,
        }
    ) => {
        $(#[$about])*
        #[derive(
            Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash,
            serde::Serialize, serde::Deserialize,
        )]
        #[serde(try_from = $raw_text, into = $raw_text)]
        pub struct $name($raw);

        impl $name {
            /// The name used in messages.
            pub const NAME: &'static str = $label;
            $(#[$min_about])*
            pub const MIN: Self = Self($min);
            $(#[$max_about])*
            pub const MAX: Self = Self($max);
            pub(crate) const SCALE: $crate::quantity::bounds::Scale =
                $crate::quantity::bounds::Scale {
                    unit: $unit,
                    per_unit: $per_unit,
                    decimals: $decimals,
                };

            $(#[$from_about])*
            ///
            /// # Errors
            /// [`OutOfBounds`](crate::quantity::OutOfBounds) below [`Self::MIN`] or above
            /// [`Self::MAX`].
            pub const fn $from($get: $raw) -> Result<Self, $crate::quantity::OutOfBounds> {
                let wide = $crate::quantity::rounding::widest($wide($get));
                match Self::refusal(wide) {
                    None => Ok(Self($get)),
                    Some(refusal) => Err(refusal),
                }
            }

            $(#[$get_about])*
            pub const fn $get(self) -> $raw {
                self.0
            }

            /// The least and the most of it in its everyday SI unit, for whoever checks a number
            /// before it is sent.
            pub const fn everyday_range() -> (f64, f64) {
                use $crate::quantity::rounding::float;
                let per_unit = float(Self::SCALE.per_unit);
                (float($wide($min)) / per_unit, float($wide($max)) / per_unit)
            }

            const fn refusal(wide: i128) -> Option<$crate::quantity::OutOfBounds> {
                use $crate::quantity::{OutOfBounds, rounding::widest};
                let (least, most) = ($wide($min), $wide($max));
                if wide < widest(least) {
                    Some(OutOfBounds::least(Self::NAME, wide, least, Self::SCALE))
                } else if wide > widest(most) {
                    Some(OutOfBounds::most(Self::NAME, wide, most, Self::SCALE))
                } else {
                    None
                }
            }

            /// From a raw number of any size.
            pub(crate) fn from_wide(wide: i128) -> Result<Self, $crate::quantity::OutOfBounds> {
                use $crate::quantity::OutOfBounds;
                match Self::refusal(wide) {
                    Some(refusal) => Err(refusal),
                    None => <$raw>::try_from(wide).map(Self).map_err(|_| {
                        OutOfBounds::most(Self::NAME, wide, $wide($max), Self::SCALE)
                    }),
                }
            }

            /// The raw number as the widest integer, for sums that cannot overflow.
            pub(crate) const fn wide(self) -> i128 {
                $crate::quantity::rounding::widest($wide(self.0))
            }
        }

        impl TryFrom<$raw> for $name {
            type Error = $crate::quantity::OutOfBounds;

            fn try_from(raw: $raw) -> Result<Self, Self::Error> {
                Self::$from(raw)
            }
        }

        impl From<$name> for $raw {
            fn from(quantity: $name) -> Self {
                quantity.0
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                formatter.pad(&Self::SCALE.full($wide(self.0)))
            }
        }
    };
}

/// Gives a quantity sums and differences of its own kind.
macro_rules! quantity_sums {
    ($name:ident) => {
        impl $name {
            /// The sum of both.
            ///
            /// # Errors
            /// [`OutOfBounds`](crate::quantity::OutOfBounds) above [`Self::MAX`] or below
            /// [`Self::MIN`].
            pub fn checked_add(self, other: Self) -> Result<Self, $crate::quantity::OutOfBounds> {
                Self::from_wide(self.wide().saturating_add(other.wide()))
            }

            /// This one less the other.
            ///
            /// # Errors
            /// [`OutOfBounds`](crate::quantity::OutOfBounds) below [`Self::MIN`] or above
            /// [`Self::MAX`].
            pub fn checked_sub(self, other: Self) -> Result<Self, $crate::quantity::OutOfBounds> {
                Self::from_wide(self.wide().saturating_sub(other.wide()))
            }
        }
    };
}

pub(crate) use {quantity, quantity_sums};
