//! Glycol and water: freeze point, density, composition, vapour and boiling, dosing, and how sure
//! each is.
//!
//! The curves hold for one glycol in water, on the trade's volume basis: component volumes
//! before mixing at 20 °C. Mixtures of both glycols have no curve.

pub mod composition;
pub mod density;
pub mod dosing;
pub mod freeze_point;
pub mod pure_curve;
pub mod refractometer;
pub mod uncertainty;
pub mod vapour;

use std::fmt;

use serde::{Deserialize, Serialize};

pub use composition::{Components, MassSource, mass};
pub use density::{OutsideCurve, density};
pub use freeze_point::{FreezePoint, FreezeStatus, Promise, Strength, freeze_point, strength_at};

/// A glycol that has curves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Glycol {
    /// Ethylene glycol.
    Eg,
    /// Propylene glycol.
    Pg,
}

impl Glycol {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Eg, Self::Pg];

    /// The name in a sentence.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Eg => "ethylene glycol",
            Self::Pg => "propylene glycol",
        }
    }
}

impl fmt::Display for Glycol {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.pad(self.name())
    }
}

/// The strongest mixture that the density curve covers and that is not called too strong.
pub const STRONGEST: f64 = 0.70;
