//! Before a plug is swapped under vacuum: what keeps the coolant in while its port is open.

use super::{Against, Liquid, below, litres, metres, pulled, vacuum, volume};
use crate::gas::{self, hold};
use crate::quantity::{Height, Temperature, Vacuum, Volume};

/// So many times what the column needs is proposed, so that it can swallow some air: our own
/// choice.
const PROPOSED: f64 = 1.5;

/// Below so many times what the column needs hardly any air may get in before it runs out: our own
/// choice.
const LEAST: f64 = 1.2;

/// A loop under vacuum whose port is opened.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct PlugSwap {
    /// The level of the coolant above the port.
    pub column: Height,
    /// Air above the coolant; none where nobody knows.
    pub air_space: Option<Volume>,
    /// What the gauge is to show; none to have it worked out.
    pub vacuum: Option<Vacuum>,
    /// What the tank that pulls it bears; none where that is not on record.
    pub rated_vacuum: Option<Vacuum>,
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
    /// The deepest there may be: the tank, the air outside and boiling all allow it; none without a
    /// rating.
    pub deepest: Option<Vacuum>,
    /// The vacuum the rest of the plan goes by: as asked for, or else half as much again as the
    /// least, or else the deepest. None where there may be none.
    pub vacuum: Option<Vacuum>,
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
        let deepest = self
            .rated_vacuum
            .map(|rated| self.liquid.deepest_in(rated, self.air));
        let proposed = deepest.map(|deepest| vacuum(gas::Vacuum(PROPOSED * least.0)).min(deepest));
        let chosen = self.vacuum.or(proposed);
        held.vacuum = chosen.map_or(gas::Vacuum(0.0), below);
        let may_swallow = chosen
            .and(self.air_space)
            .and_then(|_| held.air_before_loss_l().ok())
            .map(volume);
        Planned {
            against: self.against(vacuum(gas::Vacuum(LEAST * least.0)), deepest),
            least: vacuum(least),
            deepest,
            vacuum: chosen,
            may_swallow,
            boils_at: chosen.and_then(|chosen| self.liquid.boils_under(chosen, self.air)),
        }
    }

    fn against(&self, needed: Vacuum, deepest: Option<Vacuum>) -> Vec<Against> {
        let mut against = self.liquid.heat(self.vacuum, self.air);
        against.extend(pulled(self.vacuum, (self.rated_vacuum, self.air)));
        match (self.vacuum, deepest) {
            (Some(wanted), _) if wanted < needed => {
                against.push(Against::NotLifted { wanted, needed });
            }
            (None, Some(deepest)) if deepest < needed => {
                against.push(Against::TooHigh { deepest, needed });
            }
            _ => {}
        }
        against
    }
}
