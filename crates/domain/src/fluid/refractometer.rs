//! A freeze point read off a refractometer: what strength it stands for, and what it is worth when
//! the wrong scale was read.
//!
//! A refractometer measures how a drop bends light. Its freeze-point scale holds for one glycol;
//! it has no scale for a mixture of both, or for a fluid that nobody knows. So every question here is
//! asked of one [`Glycol`], and [`only_glycol`] is the way from what is in a system to one:
//!
//! ```compile_fail,E0308
//! use domain::fluid::{Glycol, refractometer::Reading};
//! let unknown: Option<Glycol> = None;
//! Reading::new(Glycol::Eg, -30.0).strength_of(unknown);
//! ```
//!
//! A strength ([`Read`]) comes from the fluid's own scale only. What the other one would have meant
//! is an [`Estimate`], another type: good enough to say how wrong it was, not to dose by.

use thiserror::Error;

use super::Glycol;
use super::composition::{mass_fraction, volume_fraction};
use super::freeze_point::{fraction_at_freeze, fraction_read, freeze_c};
use super::uncertainty::{ReadStrength, read_strength};
use crate::quantity::decimal::tenths;

/// A reading taken with care is right within 1 °C (2 °F): ASTM D3321. Taken as an even spread.
pub const HALF_WIDTH_C: f64 = 1.0;

/// A freeze point as it was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    scale: Glycol,
    shows_c: f64,
    at_or_below: bool,
    half_width_c: f64,
}

/// The strength that a reading stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Read {
    /// This one.
    Of(ReadStrength),
    /// This one or any above it: the line stood at the end of the scale or beyond.
    AtLeast {
        /// The share by volume.
        f: f64,
        /// The share when the reading was too cold by its half-width.
        low: f64,
        /// What may be promised, °C; never below the curve's floor.
        promise_c: f64,
    },
}

impl Read {
    /// What may be promised, °C.
    pub fn promise_c(&self) -> f64 {
        match self {
            Self::Of(read) => read.promise_c,
            Self::AtLeast { promise_c, .. } => *promise_c,
        }
    }
}

/// What a reading on the other glycol's scale is about worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The share by volume of the glycol that is really there.
    pub f: f64,
    /// Where that freezes, °C.
    pub freezes_c: f64,
    /// How much colder than that the scale showed, °C; below zero when it showed too warm.
    pub too_cold_by_c: f64,
}

/// Why a reading stands for no strength.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NoStrength {
    /// The scale is not the fluid's.
    #[error("the scale of {scale} was read, and the fluid is {fluid}: read the scale of {fluid}")]
    OtherScale {
        /// The scale that was read.
        scale: Glycol,
        /// What is in the system.
        fluid: Glycol,
    },
    /// Warmer than water freezes.
    #[error(
        "the reading is {} °C and nothing with glycol in it freezes above 0.0 °C: \
         set the instrument with clean water and read once more",
        tenths(*shows_c)
    )]
    AboveWater {
        /// What was read, °C.
        shows_c: f64,
    },
    /// Colder than the curve goes.
    #[error(
        "the reading is {} °C and the freeze curve ends at {} °C: \
         give it as \"at or below {} °C\"",
        tenths(*shows_c), tenths(*floor_c), tenths(*floor_c)
    )]
    BelowCurve {
        /// What was read, °C.
        shows_c: f64,
        /// The coldest of the curve, °C.
        floor_c: f64,
    },
    /// An error of the instrument that is below zero, or no number.
    #[error("the instrument is said to be right within {} °C, which must be 0 °C or more", tenths(*found_c))]
    HalfWidth {
        /// What was given, °C.
        found_c: f64,
    },
    /// Beyond the tables of refractive indices.
    #[error(
        "{} °C on the scale of {scale} lies beyond the known refractive indices, \
         which end at 60 % by mass",
        tenths(*shows_c)
    )]
    BeyondIndex {
        /// The scale that was read.
        scale: Glycol,
        /// What was read, °C.
        shows_c: f64,
    },
}

impl Reading {
    /// A reading of `shows_c` °C on the scale of a glycol, right within [`HALF_WIDTH_C`].
    pub const fn new(scale: Glycol, shows_c: f64) -> Self {
        Self {
            scale,
            shows_c,
            at_or_below: false,
            half_width_c: HALF_WIDTH_C,
        }
    }

    /// The line stood at the end of the scale, or the scale ended before it.
    #[must_use]
    pub const fn at_or_below(self) -> Self {
        Self {
            at_or_below: true,
            ..self
        }
    }

    /// Right within another half-width, °C.
    #[must_use]
    pub const fn within_c(self, half_width_c: f64) -> Self {
        Self {
            half_width_c,
            ..self
        }
    }

    /// The strength of a fluid of which this is the scale.
    ///
    /// One strength, although ethylene glycol has two for most freeze points
    /// ([`super::freeze_point::fraction_too_strong_at_freeze`]): the refractive index rises with the
    /// strength throughout, so a scale has each temperature once.
    ///
    /// ```
    /// use domain::fluid::{Glycol, refractometer::{Read, Reading}};
    /// let Read::Of(read) = Reading::new(Glycol::Pg, -18.0).strength_of(Glycol::Pg).unwrap() else {
    ///     panic!("the line was on the scale");
    /// };
    /// assert!((read.f - 0.363).abs() < 1e-3 && read.promise_c == -17.0);
    /// let end = Reading::new(Glycol::Eg, -51.0).at_or_below().strength_of(Glycol::Eg).unwrap();
    /// assert_eq!(end.promise_c(), -48.3);
    /// assert_eq!(
    ///     Reading::new(Glycol::Eg, -18.0).strength_of(Glycol::Pg).unwrap_err().to_string(),
    ///     "the scale of ethylene glycol was read, and the fluid is propylene glycol: \
    ///      read the scale of propylene glycol",
    /// );
    /// ```
    ///
    /// # Errors
    /// [`NoStrength`] on the wrong scale, above 0 °C, and below the curve unless it was "at or below".
    pub fn strength_of(&self, fluid: Glycol) -> Result<Read, NoStrength> {
        if fluid != self.scale {
            return Err(NoStrength::OtherScale {
                scale: self.scale,
                fluid,
            });
        }
        let f = self.fraction()?;
        if self.at_or_below {
            let warm_c = self.shows_c + self.half_width_c;
            return Ok(Read::AtLeast {
                f,
                low: fraction_read(fluid, warm_c, true).unwrap_or(0.0),
                promise_c: warm_c.clamp(floor_c(fluid), 0.0),
            });
        }
        read_strength(fluid, self.shows_c, self.half_width_c)
            .map(Read::Of)
            .map_err(|off| NoStrength::BelowCurve {
                shows_c: off.found_c,
                floor_c: off.floor_c,
            })
    }

    /// What this would truly be if the fluid is another glycol than the scale's: the strength that
    /// bends light as much, and its freeze point.
    ///
    /// By the refractive indices of pure glycol; those of inhibited coolant were not found. ASTM
    /// D3321 says that the wrong scale may be off by 10 °C (18 °F) and more.
    ///
    /// ```
    /// use domain::fluid::{Glycol, refractometer::Reading};
    /// // Propylene glycol of half and half looks like −43 °C on the scale of ethylene glycol.
    /// let truly = Reading::new(Glycol::Eg, -43.1).truly(Glycol::Pg).unwrap();
    /// assert!((truly.f - 0.50).abs() < 0.002 && (truly.freezes_c - -33.7).abs() < 0.2);
    /// assert!(truly.too_cold_by_c > 9.0);
    /// ```
    ///
    /// # Errors
    /// [`NoStrength`] where the reading has no strength, and beyond 60 % by mass.
    pub fn truly(&self, fluid: Glycol) -> Result<Estimate, NoStrength> {
        let f = self.fraction()?;
        let bends_as = refractive_index(self.scale, f)
            .and_then(|index| fraction_at_index(fluid, index))
            // The end of a scale says "or stronger", which has no one counterpart.
            .filter(|_| !self.at_or_below);
        let f = bends_as.ok_or(NoStrength::BeyondIndex {
            scale: self.scale,
            shows_c: self.shows_c,
        })?;
        let freezes_c = freeze_c(fluid, f);
        Ok(Estimate {
            f,
            freezes_c,
            too_cold_by_c: freezes_c - self.shows_c,
        })
    }

    /// The share by the scale that was read.
    fn fraction(&self) -> Result<f64, NoStrength> {
        if !(self.half_width_c.is_finite() && self.half_width_c >= 0.0) {
            return Err(NoStrength::HalfWidth {
                found_c: self.half_width_c,
            });
        }
        fraction_read(self.scale, self.shows_c, self.at_or_below).ok_or({
            if self.shows_c <= 0.0 {
                NoStrength::BelowCurve {
                    shows_c: self.shows_c,
                    floor_c: floor_c(self.scale),
                }
            } else {
                NoStrength::AboveWater {
                    shows_c: self.shows_c,
                }
            }
        })
    }
}

fn floor_c(glycol: Glycol) -> f64 {
    freeze_c(glycol, super::STRONGEST)
}

/// What the scale of a glycol shows, °C, of a fluid with the share `f` of perhaps another; none
/// where the scale or the tables of indices end.
///
/// ```
/// use domain::fluid::{Glycol, refractometer::shown_on};
/// // Ethylene glycol of half and half protects to −37 °C; the wrong scale says −28 °C.
/// let wrong = shown_on(Glycol::Pg, Glycol::Eg, 0.5).unwrap();
/// assert!((wrong - -28.3).abs() < 0.2);
/// ```
pub fn shown_on(scale: Glycol, fluid: Glycol, f: f64) -> Option<f64> {
    let index = refractive_index(fluid, f)?;
    let as_if = fraction_at_index(scale, index)?;
    let shows_c = freeze_c(scale, as_if);
    fraction_at_freeze(scale, shows_c).map(|_| shows_c)
}

/// Why a fluid is not one glycol.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NotOneGlycol {
    /// There is none in it.
    #[error("there is no glycol in it")]
    Nothing,
    /// Both are in it.
    #[error(
        "ethylene and propylene glycol are mixed in it: a refractometer is wrong on either scale; \
         have a laboratory find the strength"
    )]
    Both,
    /// Something is in it that has no freeze curve here, or that nobody knows.
    #[error(
        "not all of it is known to be ethylene or propylene glycol: \
         find out what it is before it is read"
    )]
    Other,
}

/// The one glycol that all concentrates of a fluid are; each is given as its glycol, or none where
/// it is something else or not known.
///
/// ```
/// use domain::fluid::{Glycol, refractometer::{NotOneGlycol, only_glycol}};
/// assert_eq!(only_glycol([Some(Glycol::Eg), Some(Glycol::Eg)]), Ok(Glycol::Eg));
/// assert_eq!(only_glycol([Some(Glycol::Eg), Some(Glycol::Pg)]), Err(NotOneGlycol::Both));
/// assert_eq!(only_glycol([Some(Glycol::Eg), None]), Err(NotOneGlycol::Other));
/// ```
///
/// # Errors
/// [`NotOneGlycol`] for none, for both, and for what is neither.
pub fn only_glycol(of: impl IntoIterator<Item = Option<Glycol>>) -> Result<Glycol, NotOneGlycol> {
    let mut only = None;
    for concentrate in of {
        let glycol = concentrate.ok_or(NotOneGlycol::Other)?;
        if only.is_some_and(|first| first != glycol) {
            return Err(NotOneGlycol::Both);
        }
        only = Some(glycol);
    }
    only.ok_or(NotOneGlycol::Nothing)
}

/// How far two entries of the tables lie apart, % by mass; the first is water.
const STEP_MASS_PERCENT: f64 = 5.0;

/// Refractive indices at the sodium D line and 20 °C, in steps of 5 % by mass up to 60 %.
///
/// Ethylene glycol: CRC Handbook, 102nd ed., Concentrative Properties of Aqueous Solutions. Propylene
/// glycol: Anal. Chem. 23 (1951) 618 at 25 °C, moved to 20 °C by measured slopes; measurements at
/// 20 °C agree within 0.0003 at 50 and 60 %. Both pure.
const fn indices(glycol: Glycol) -> [f64; 13] {
    match glycol {
        Glycol::Eg => [
            1.333, 1.3377, 1.3425, 1.347_41, 1.3523, 1.357_43, 1.362_55, 1.367_67, 1.3728,
            1.377_95, 1.383_11, 1.388_19, 1.3931,
        ],
        Glycol::Pg => [
            1.332_84, 1.338_26, 1.343_79, 1.349_46, 1.355_21, 1.361, 1.366_79, 1.3725, 1.378_13,
            1.383_65, 1.389_04, 1.394_25, 1.399_31,
        ],
    }
}

/// Each step of a table: the share by mass at its begin in %, the index there and at its end.
fn steps(table: &[f64; 13]) -> impl Iterator<Item = (f64, f64, f64)> {
    let begins = (0_u8..).map(|step| STEP_MASS_PERCENT * f64::from(step));
    let pairs = table.iter().zip(table.iter().skip(1));
    begins.zip(pairs).map(|(at, (low, high))| (at, *low, *high))
}

/// The refractive index of pure glycol in water at 20 °C, straight between the table's entries
/// (within 0.0001 of every row of the handbook); none beyond 60 % by mass.
///
/// ```
/// use domain::fluid::{Glycol, refractometer::refractive_index};
/// // 18.31 % by volume is 20 % by mass.
/// assert!((refractive_index(Glycol::Eg, 0.183_1).unwrap() - 1.3523).abs() < 1e-5);
/// assert_eq!(refractive_index(Glycol::Eg, 0.6), None);
/// ```
pub fn refractive_index(glycol: Glycol, f: f64) -> Option<f64> {
    let percent = 100.0 * mass_fraction(glycol, f);
    let table = indices(glycol);
    let mut steps = steps(&table);
    steps.find_map(|(at, low, high)| {
        let part = (percent - at) / STEP_MASS_PERCENT;
        (0.0..=1.0)
            .contains(&part)
            .then_some(low + part * (high - low))
    })
}

/// The share by volume that has a refractive index at 20 °C; water's for any below it, none beyond
/// 60 % by mass.
fn fraction_at_index(glycol: Glycol, index: f64) -> Option<f64> {
    let table = indices(glycol);
    let mut steps = steps(&table);
    steps.find_map(|(at, low, high)| {
        let part = ((index - low) / (high - low)).max(0.0);
        let percent = at + part * STEP_MASS_PERCENT;
        (part <= 1.0).then(|| volume_fraction(glycol, percent / 100.0))
    })
}
