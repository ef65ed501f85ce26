//! Before coolant is drawn: how deep a vacuum, how many pulls, whether it fits.

use super::{Against, Liquid, Tank, below, litres, metres, pulled, temperature, vacuum, volume};
use super::{BOILING_MARGIN_C, degrees_c};
use crate::gas::{self, draw};
use crate::gate::OPEN_BELOW;
use crate::quantity::{Height, Temperature, Vacuum, Volume};

/// What is to be drawn, into what, from how far below.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Draw {
    /// The vessel it goes into.
    pub tank: Tank,
    /// How much.
    pub wanted: Volume,
    /// What the gauge is to show before the source is shut; none to have it worked out.
    pub vacuum: Option<Vacuum>,
    /// The tank's inlet above the level in the unit when all is drawn; negative below it.
    pub lift: Height,
    /// The coolant.
    pub liquid: Liquid,
    /// The air outside.
    pub air: gas::Absolute,
}

/// The plan of a draw.
#[derive(Clone, PartialEq, Debug)]
pub struct Planned {
    /// Why not to begin.
    pub against: Vec<Against>,
    /// What still fits into the vessel.
    pub free: Option<Volume>,
    /// What the column alone takes.
    pub least: Vacuum,
    /// The deepest there may be: the tank, the air outside and boiling all allow it.
    pub deepest: Option<Vacuum>,
    /// With this the source may be shut and what is stored draws all of it; none where no vacuum
    /// there may be does.
    pub in_one_pull: Option<Vacuum>,
    /// The vacuum the rest of the plan goes by: as asked for, or else the least that does it, or else
    /// the deepest.
    pub vacuum: Option<Vacuum>,
    /// What one pull at it draws with the source shut.
    pub one_pull_draws: Option<Volume>,
    /// So many pulls at it draw all; none where no number of them does.
    pub pulls: Option<u32>,
    /// It boils here at that vacuum.
    pub boils_at: Option<Temperature>,
    /// It has to be colder than this.
    pub open_below: Temperature,
    /// Air in the tank before.
    pub headspace: Option<Volume>,
}

impl Draw {
    /// Works it out.
    ///
    /// ```
    /// use domain::fluid::Glycol;
    /// use domain::plan::{Liquid, Tank, air_at, draw::Draw};
    /// use domain::quantity::{FractionByVolume, Height, Temperature, Vacuum, Volume};
    /// let litres = |l: i64| Volume::from_ml(l * 1000).unwrap();
    /// let plan = Draw {
    ///     tank: Tank {
    ///         capacity: Some(litres(100)),
    ///         held: Some(litres(10)),
    ///         rated_vacuum: Some(Vacuum::MAX),
    ///         ..Tank::default()
    ///     },
    ///     wanted: litres(40),
    ///     vacuum: None,
    ///     lift: Height::from_mm(1000)?,
    ///     liquid: Liquid {
    ///         glycol: Some(Glycol::Eg),
    ///         strength: FractionByVolume::from_millionths(500_000)?,
    ///         temperature: Temperature::from_millicelsius(20_000)?,
    ///     },
    ///     air: air_at(0).unwrap(),
    /// }
    /// .plan();
    /// assert!(plan.against.is_empty());
    /// // ρgh + 40/90 (patm − ρgh) = 10.53 + 0.4444 × 90.80 kPa: 50.9 kPa, 15.0 inHg.
    /// assert_eq!(plan.in_one_pull.unwrap().pa() / 100, 508);
    /// assert_eq!(plan.pulls, Some(1));
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    pub fn plan(&self) -> Planned {
        let lifted = gas::Vacuum(gas::column_pa(
            self.liquid.density_kg_m3(),
            metres(self.lift),
        ));
        let deepest = self.deepest();
        let headspace_l = self.tank.headspace_l();
        let in_one_pull = headspace_l
            .zip(deepest)
            .and_then(|(headspace_l, deepest)| self.one_pull(lifted, (headspace_l, deepest)));
        let chosen = self.vacuum.or(in_one_pull).or(deepest);
        let (one_pull_draws, pulls) = match (headspace_l, chosen) {
            (Some(headspace_l), Some(chosen)) => self.pulls(headspace_l, chosen),
            _ => (None, None),
        };
        let boils_at = chosen.and_then(|chosen| self.liquid.boils_under(chosen, self.air));
        let cool = boils_at.map(|at| temperature(degrees_c(at) - BOILING_MARGIN_C));
        Planned {
            against: self.against(lifted, deepest),
            free: self.tank.free(),
            least: vacuum(lifted),
            deepest,
            in_one_pull,
            vacuum: chosen,
            one_pull_draws,
            pulls,
            boils_at,
            open_below: cool.map_or(OPEN_BELOW, |cool| cool.min(OPEN_BELOW)),
            headspace: headspace_l.map(volume),
        }
    }

    /// None without a rating.
    fn deepest(&self) -> Option<Vacuum> {
        let rated = self.tank.rated_vacuum?;
        Some(self.liquid.deepest_in(rated, self.air))
    }

    /// p₀ Vg = p₁ (Vg − V) solved for the vacuum.
    fn one_pull(
        &self,
        lifted: gas::Vacuum,
        (headspace_l, deepest): (f64, Vacuum),
    ) -> Option<Vacuum> {
        let part = litres(self.wanted) / headspace_l;
        if part >= 1.0 {
            return None;
        }
        let needed = lifted.0 + part * (self.air.0 - lifted.0);
        // A gauge that is read is never read closer; rounded down it would fall short of itself.
        let needed = vacuum(gas::Vacuum(needed.ceil()));
        (needed <= deepest).then_some(needed)
    }

    fn pulls(&self, headspace_l: f64, chosen: Vacuum) -> (Option<Volume>, Option<u32>) {
        let draw = draw::Draw {
            headspace_l,
            vacuum: below(chosen),
            lift_m: metres(self.lift),
            density_kg_m3: self.liquid.density_kg_m3(),
            atmosphere: self.air,
        };
        let pulls = draw.pulls(litres(self.wanted)).ok();
        (
            draw.dry_l().ok().map(volume),
            pulls.map(|pulls| pulls.pulls),
        )
    }

    fn against(&self, lifted: gas::Vacuum, deepest: Option<Vacuum>) -> Vec<Against> {
        let mut against = self.liquid.heat(self.vacuum, self.air);
        if self.tank.capacity.is_none() {
            against.push(Against::NoTankSize);
        }
        if let Some(free) = self.tank.free()
            && self.wanted > free
        {
            against.push(Against::NoRoom {
                wanted: self.wanted,
                free,
            });
        }
        against.extend(pulled(self.vacuum, (self.tank.rated_vacuum, self.air)));
        let needed = vacuum(lifted);
        match (self.vacuum, deepest) {
            (Some(wanted), _) if wanted <= needed && lifted.0 > 0.0 => {
                against.push(Against::NotLifted { wanted, needed });
            }
            // Hot coolant leaves no vacuum at all; then the heat is what to mend.
            (None, Some(deepest)) if deepest <= needed && lifted.0 > 0.0 && against.is_empty() => {
                against.push(Against::TooHigh { deepest, needed });
            }
            _ => {}
        }
        against
    }
}
