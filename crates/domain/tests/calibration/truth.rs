//! What really is in a loop or a cart, and what a tool shows of it.

use crate::numbers::Numbers;
use domain::fluid::{Glycol, composition, freeze_point};

/// Fluid by what it was mixed from, mL at 20 °C before mixing.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Fluid {
    pub(crate) concentrate: f64,
    pub(crate) water: f64,
}

impl Fluid {
    /// So much of it, as a gauge would show it.
    pub(crate) fn of(shown_ml: f64, strength: f64) -> Self {
        let total = shown_ml / shrunk(strength);
        Self {
            concentrate: total * strength,
            water: total * (1.0 - strength),
        }
    }

    pub(crate) fn total(self) -> f64 {
        self.concentrate + self.water
    }

    pub(crate) fn strength(self) -> f64 {
        self.concentrate / self.total().max(1e-9)
    }

    pub(crate) fn shown(self) -> f64 {
        self.total() * shrunk(self.strength())
    }

    pub(crate) fn add(&mut self, other: Self) {
        self.concentrate += other.concentrate;
        self.water += other.water;
    }

    /// Takes out so much of it, as a gauge would show it.
    pub(crate) fn take(&mut self, shown_ml: f64) -> Self {
        let share = (shown_ml / self.shown()).clamp(0.0, 1.0);
        let taken = Self {
            concentrate: self.concentrate * share,
            water: self.water * share,
        };
        self.concentrate -= taken.concentrate;
        self.water -= taken.water;
        taken
    }
}

fn shrunk(strength: f64) -> f64 {
    1.0 + composition::contraction_percent(Glycol::Eg, strength) / 100.0
}

/// A normal number: twelve even ones less six.
pub(crate) fn normal(numbers: &mut Numbers, sigma: f64) -> f64 {
    let sum: f64 = (0..12).map(|_| numbers.unit()).sum();
    (sum - 6.0) * sigma
}

/// The freeze point of a strength, °C.
pub(crate) fn freezes_c(strength: f64) -> f64 {
    freeze_point::freeze_c(Glycol::Eg, strength)
}
