//! Before a plug is swapped under vacuum: what keeps the coolant in while its port is open.

use super::{Against, Liquid, all_of, below, litres, metres, vacuum, volume};
use crate::gas::{self, hold};
use crate::quantity::{Height, Temperature, Vacuum, Volume};

/// So many times what the column needs is proposed, so that it can swallow some air: our own
/// choice.
const PROPOSED: f64 = 1.5;

/// A loop under vacuum whose port is opened.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct PlugSwap {
    /// The level of the coolant above the port.
    pub column: Height,
    /// Air above the coolant; none where nobody knows.
    pub air_space: Option<Volume>,
    /// What the gauge is to show; none to have it worked out.
    pub vacuum: Option<Vacuum>,
    /// The coolant.
    pub liquid: Liquid,
    /// The air outside.
    pub air: gas::Absolute,
}

/// The plan of a swap.
#[derive(Clone, PartialEq, Debug)]
pub struct Planned {
    /// Why not to begin.
    pub against: Vec<Against>,
    /// Below this it runs out.
    pub least: Vacuum,
    /// The vacuum the rest of the plan goes by: as asked for, or else half as much again as the
    /// least.
    pub vacuum: Vacuum,
    /// So much outside air it may swallow before it is lost, as long as the source is shut.
    pub may_swallow: Option<Volume>,
    /// It boils here at that vacuum.
    pub boils_at: Option<Temperature>,
}

impl PlugSwap {
    /// Works it out.
    pub fn plan(&self) -> Planned {
        let mut held = hold::Hold {
            column_m: metres(self.column).max(0.0),
            density_kg_m3: self.liquid.density_kg_m3(),
            air_l: self.air_space.map_or(0.0, litres),
            vacuum: gas::Vacuum(0.0),
            atmosphere: self.air,
        };
        let least = held.least();
        let chosen = self
            .vacuum
            .unwrap_or_else(|| vacuum(gas::Vacuum(PROPOSED * least.0)));
        held.vacuum = below(chosen);
        let may_swallow = self
            .air_space
            .and_then(|_| held.air_before_loss_l().ok())
            .map(volume);
        let mut against = self.liquid.heat(Some(chosen), self.air);
        if chosen >= all_of(self.air) {
            against.push(Against::DeeperThanAir {
                wanted: chosen,
                atmosphere: all_of(self.air),
            });
        }
        if !held.holds() {
            against.push(Against::NotLifted {
                wanted: chosen,
                needed: vacuum(least),
            });
        }
        Planned {
            against,
            least: vacuum(least),
            vacuum: chosen,
            may_swallow,
            boils_at: self.liquid.boils_under(chosen, self.air),
        }
    }
}
