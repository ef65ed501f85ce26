//! A plug swapped under vacuum: what keeps the liquid in while its port is open.

use super::{Absolute, NotPossible, Vacuum, above_0, column_pa, not_below_0, possible};

/// A system under vacuum whose port is opened below the level of the liquid.
///
/// That the column is held is necessary and not enough: a wide port lets air and liquid pass one
/// another at any vacuum, and every bubble eats up some of the margin.
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
    /// Below this vacuum it runs out.
    pub fn least(&self) -> Vacuum {
        Vacuum(column_pa(self.density_kg_m3, self.column_m))
    }

    /// Whether the column is held.
    pub fn holds(&self) -> bool {
        self.vacuum.0 >= self.least().0
    }

    /// How much outside air it may swallow before it is lost, L at the atmosphere's pressure.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn air_before_loss_l(&self) -> Result<f64, NotPossible> {
        not_below_0("the column, m,", self.column_m)?;
        above_0("the density, kg/m³,", self.density_kg_m3)?;
        not_below_0("the air in the system, L,", self.air_l)?;
        possible(self.vacuum, self.atmosphere)?;
        let spare = (self.vacuum.0 - self.least().0).max(0.0);
        Ok(self.air_l * spare / self.atmosphere.0)
    }
}
