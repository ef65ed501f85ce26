//! A plug swapped under vacuum: what keeps the liquid in while its port is open.

use super::{Absolute, NotPossible, Vacuum, above_0, column_pa, not_below_0};

/// A system under vacuum whose port is opened below the level of the liquid.
///
/// That the column is held is necessary and not enough: a wide port lets air and liquid pass one
/// another at any vacuum, and every bubble eats up some of the margin.
///
/// ```
/// use domain::gas::{Vacuum, atmosphere::SEA_LEVEL, hold::Hold};
/// let hold = Hold {
///     column_m: 1.0,
///     density_kg_m3: 1_073.487,
///     air_l: 5.0,
///     vacuum: Vacuum::from_inhg(10.0),
///     atmosphere: SEA_LEVEL,
/// };
/// assert!(hold.holds() && (hold.least().inhg() - 3.109).abs() < 1e-3);
/// // 5 × (33,864 − 10,527) ÷ 101,325
/// assert!((hold.air_before_loss_l().unwrap() - 1.152).abs() < 1e-3);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hold {
    /// The port below the level on which the vacuum acts, m.
    pub column_m: f64,
    /// Of the liquid, kg/m³.
    pub density_kg_m3: f64,
    /// Air above the liquid, L.
    pub air_l: f64,
    /// What the gauge shows.
    pub vacuum: Vacuum,
    /// The atmosphere at this height.
    pub atmosphere: Absolute,
}

impl Hold {
    /// Below this vacuum it runs out: ρ g h, since what holds the liquid is the atmosphere at the port
    /// against the air that is left above it.
    pub fn least(&self) -> Vacuum {
        Vacuum(column_pa(self.density_kg_m3, self.column_m))
    }

    /// Whether the column is held.
    pub fn holds(&self) -> bool {
        self.vacuum.0 >= self.least().0
    }

    /// How much outside air it may swallow before it is lost, L at the atmosphere's pressure:
    /// V (vacuum − ρ g h) ÷ that pressure, none where it does not hold.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn air_before_loss_l(&self) -> Result<f64, NotPossible> {
        not_below_0("the column, m,", self.column_m)?;
        above_0("the density, kg/m³,", self.density_kg_m3)?;
        not_below_0("the air in the system, L,", self.air_l)?;
        self.vacuum.left(self.atmosphere)?;
        let spare = (self.vacuum.0 - self.least().0).max(0.0);
        Ok(self.air_l * spare / self.atmosphere.0)
    }
}
