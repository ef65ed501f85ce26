//! The air in a cart's tank and in a cooling system: what a vacuum draws, what a charge pushes,
//! what a falling gauge proves.
//!
//! Ideal gas throughout. Pressures have types: what a gauge shows is never taken for what a gas
//! law wants. Volumes are in L, temperatures in °C, heights in m.

pub mod atmosphere;
pub mod decay;
pub mod draw;
pub mod fill;
pub mod hold;
pub mod line;
pub mod verdict;
pub mod warmth;

use std::fmt;

use thiserror::Error;

/// Standard gravity, m/s² (CGPM 1901).
pub const GRAVITY_M_S2: f64 = 9.806_65;
/// One inch of mercury at 0 °C, Pa (NIST SP 811, appendix B.8: 3.386 389 E+03).
pub const PA_PER_INHG: f64 = 3_386.389;
/// One pound-force a square inch, Pa (NIST SP 811, appendix B.8: 6.894 757 E+03).
pub const PA_PER_PSI: f64 = 6_894.757;

macro_rules! pressures {
    ($($(#[$doc:meta])* $name:ident)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $name {
            /// From inches of mercury at 0 °C.
            pub fn from_inhg(inhg: f64) -> Self {
                Self(inhg * PA_PER_INHG)
            }

            /// From pounds a square inch.
            pub fn from_psi(psi: f64) -> Self {
                Self(psi * PA_PER_PSI)
            }

            /// In kilopascals.
            pub fn kpa(self) -> f64 {
                self.0 / 1_000.0
            }

            /// In inches of mercury at 0 °C.
            pub fn inhg(self) -> f64 {
                self.0 / PA_PER_INHG
            }

            /// In pounds a square inch.
            pub fn psi(self) -> f64 {
                self.0 / PA_PER_PSI
            }
        }
    )*};
}

pressures! {
    /// A pressure above nothing, Pa: what a gas law wants.
    Absolute
    /// A pressure above the atmosphere, Pa: what a pressure gauge shows.
    Gauge
    /// A pressure below the atmosphere, Pa, counted upwards: what a vacuum gauge shows.
    Vacuum
}

impl Absolute {
    /// What a gauge shows of it.
    pub fn gauge(self, atmosphere: Self) -> Gauge {
        Gauge(self.0 - atmosphere.0)
    }

    /// What a vacuum gauge shows of it.
    pub fn vacuum(self, atmosphere: Self) -> Vacuum {
        Vacuum(atmosphere.0 - self.0)
    }
}

impl Gauge {
    /// What it is above nothing.
    pub fn absolute(self, atmosphere: Absolute) -> Absolute {
        Absolute(self.0 + atmosphere.0)
    }
}

impl Vacuum {
    /// What it leaves above nothing, where the atmosphere allows such a vacuum at all.
    ///
    /// ```
    /// use domain::gas::{Vacuum, atmosphere::standard};
    /// let outside = standard(1_600.0).unwrap();
    /// assert!((Vacuum::from_inhg(20.0).left(outside).unwrap().kpa() - 15.796).abs() < 1e-3);
    /// assert_eq!(
    ///     Vacuum::from_inhg(25.0).left(outside).unwrap_err().to_string(),
    ///     "a vacuum of 25.00 inHg is deeper than the atmosphere here, 24.66 inHg; \
    ///      that is the most there can be",
    /// );
    /// ```
    ///
    /// # Errors
    /// [`NotPossible`] below 0 and from the atmosphere's own pressure on.
    pub fn left(self, atmosphere: Absolute) -> Result<Absolute, NotPossible> {
        not_below_0("the vacuum", self.inhg())?;
        if self.0 < atmosphere.0 {
            Ok(self.absolute(atmosphere))
        } else {
            Err(NotPossible::DeeperThanAir {
                found: self,
                atmosphere,
            })
        }
    }

    /// What is left above nothing.
    pub fn absolute(self, atmosphere: Absolute) -> Absolute {
        Absolute(atmosphere.0 - self.0)
    }
}

/// The pressure of a column of liquid, Pa: ρ g h with ρ in kg/m³ and h in m; above zero when it has
/// to be lifted. g is standard gravity, within 0.3 % of the local one anywhere.
///
/// ```
/// use domain::gas::{Vacuum, column_pa};
/// // A metre of half and half ethylene glycol at 20 °C wants 3.109 inHg.
/// assert!((Vacuum(column_pa(1_073.487, 1.0)).inhg() - 3.109).abs() < 1e-3);
/// ```
pub fn column_pa(kg_per_m3: f64, height_m: f64) -> f64 {
    kg_per_m3 * GRAVITY_M_S2 * height_m
}

/// A figure that cannot be worked with.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NotPossible {
    /// A figure that must be above zero.
    #[error("{what} is {found}, it must be above 0")]
    NotAbove0 {
        /// Which.
        what: &'static str,
        /// What was given.
        found: f64,
    },
    /// A figure that must not be below zero.
    #[error("{what} is {found}, it must not be below 0")]
    Below0 {
        /// Which.
        what: &'static str,
        /// What was given.
        found: f64,
    },
    /// A vacuum deeper than the atmosphere.
    #[error(
        "a vacuum of {:.2} inHg is deeper than the atmosphere here, {:.2} inHg; that is the most there can be",
        found.inhg(), atmosphere.inhg()
    )]
    DeeperThanAir {
        /// What was asked for.
        found: Vacuum,
        /// The atmosphere.
        atmosphere: Absolute,
    },
    /// More liquid than the tank takes.
    #[error("{liquid_l} L of liquid do not fit into a tank of {tank_l} L")]
    TankTooSmall {
        /// L.
        liquid_l: f64,
        /// L.
        tank_l: f64,
    },
    /// More than all the pulls there can be will ever bring.
    #[error("{needed_l} L cannot be drawn into {headspace_l} L of air, however often it is pulled")]
    NeverEnough {
        /// L.
        needed_l: f64,
        /// L.
        headspace_l: f64,
    },
    /// The vacuum does not lift the liquid at all.
    #[error(
        "a vacuum of {:.2} inHg does not lift the liquid, which takes more than {:.2} inHg",
        found.inhg(), needed.inhg()
    )]
    NotLifted {
        /// What was asked for.
        found: Vacuum,
        /// What the column needs.
        needed: Vacuum,
    },
    /// A stage would have to end above where it begins.
    #[error(
        "a charge of {:.2} psi has to be above the {:.2} psi at which the stage ends",
        charge.psi(), end.psi()
    )]
    NoFall {
        /// The charge.
        charge: Gauge,
        /// Where it is to end.
        end: Gauge,
    },
    /// A height for which there is no standard atmosphere.
    #[error("{found_m} m above sea level is not covered, −500 to 11,000 m is")]
    Height {
        /// m.
        found_m: f64,
    },
}

/// A figure above zero, and not endless.
fn above_0(what: &'static str, found: f64) -> Result<(), NotPossible> {
    if found > 0.0 && found.is_finite() {
        Ok(())
    } else {
        Err(NotPossible::NotAbove0 { what, found })
    }
}

/// A figure not below zero, and not endless.
fn not_below_0(what: &'static str, found: f64) -> Result<(), NotPossible> {
    if found >= 0.0 && found.is_finite() {
        Ok(())
    } else {
        Err(NotPossible::Below0 { what, found })
    }
}

/// The next whole number of steps; a remainder that is only rounding asks for no further one.
pub(crate) fn whole_steps(exact: f64) -> Option<u32> {
    const ROUNDING: f64 = 1e-9;
    // More steps than anybody takes, and the loop below stays short.
    const MOST: u32 = 10_000;
    if exact.is_nan() {
        return None;
    }
    (0..=MOST).find(|steps| f64::from(*steps) >= exact - ROUNDING)
}

impl fmt::Display for Absolute {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.2} kPa absolute", self.kpa())
    }
}
