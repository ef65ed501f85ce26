//! Before coolant is pushed in from below: how high the tank is charged, how often, what is left.

use super::{Against, Liquid, Tank, above, gauge, litres, metres, too_hot, volume};
use crate::gas::{self, fill};
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{GaugePressure, Height, Volume};

/// A charge stays below so much of what the relief valve is set to (from memory).
pub const OF_RELIEF: f64 = 0.9;
/// What is kept above the column for hose and fittings when nobody says otherwise: 35 kPa, our own
/// default, no source.
pub const FOR_THE_HOSE: GaugePressure = match GaugePressure::from_pa(35_000) {
    Ok(margin) => margin,
    // Never taken; if it were, no charge would be allowed.
    Err(_) => GaugePressure::MAX,
};

/// What is to be pushed, out of what, how far up.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Fill {
    /// The vessel it comes from.
    pub tank: Tank,
    /// How much.
    pub wanted: Volume,
    /// The highest point of the unit's coolant above the tank's outlet.
    pub lift: Height,
    /// What is kept above the column for hose and fittings.
    pub margin: GaugePressure,
    /// What the air supply is set to; none where nobody says.
    pub regulator: Option<GaugePressure>,
    /// What is missing in the loop; none where its capacity is not on record.
    pub missing: Option<Volume>,
    /// The filler is open, so that the loop is never under pressure and its air gets out.
    pub filler_open: bool,
    /// The coolant.
    pub liquid: Liquid,
    /// The air outside.
    pub air: gas::Absolute,
}

/// The plan of a fill.
#[derive(Clone, PartialEq, Debug)]
pub struct Planned {
    /// Why not to begin.
    pub against: Vec<Against>,
    /// The most that may be put on the tank; none where that is not on record.
    pub limit: Option<GaugePressure>,
    /// The gauge must not fall below this before all has gone over.
    pub end_least: GaugePressure,
    /// How it is pushed; none where it cannot be.
    pub push: Option<Push>,
    /// The most that one charge at the limit pushes.
    pub most_at_once: Option<Volume>,
    /// Air in the tank before.
    pub headspace: Option<Volume>,
}

/// One charge, or several.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Push {
    /// Charged once, the air then shut.
    Once {
        /// To this.
        charge: GaugePressure,
        /// Where the gauge ends when it goes so fast that the air stays cold.
        ends_fast: GaugePressure,
        /// Where it ends when it goes slowly: to be let off before unhooking.
        ends_slow: GaugePressure,
    },
    /// Charged anew whenever it has fallen to the end pressure.
    InStages {
        /// So many charges, the first one counted; a fast push can take one more.
        charges: u32,
        /// Every charge but the last.
        charge: GaugePressure,
        /// The first one pushes so much.
        first: Volume,
        /// The last charge.
        last_charge: GaugePressure,
        /// Where it ends.
        ends: GaugePressure,
    },
}

impl Push {
    /// The first charge.
    pub const fn first_charge(self) -> GaugePressure {
        match self {
            Self::Once { charge, .. } | Self::InStages { charge, .. } => charge,
        }
    }
}

impl Fill {
    /// Works it out.
    ///
    /// ```
    /// use domain::fluid::Glycol;
    /// use domain::plan::{Liquid, Tank, air_at, fill::{FOR_THE_HOSE, Fill, Push}};
    /// use domain::quantity::{FractionByVolume, GaugePressure, Height, Temperature, Volume};
    /// let litres = |l: i64| Volume::from_ml(l * 1000).unwrap();
    /// let bears = |kpa: i64| Some(GaugePressure::from_pa(kpa * 1000).unwrap());
    /// let plan = Fill {
    ///     tank: Tank {
    ///         capacity: Some(litres(100)),
    ///         held: Some(litres(60)),
    ///         mawp: bears(345),
    ///         relief_set: bears(276),
    ///         ..Tank::default()
    ///     },
    ///     wanted: litres(20),
    ///     lift: Height::from_mm(1500)?,
    ///     margin: FOR_THE_HOSE,
    ///     regulator: None,
    ///     missing: None,
    ///     filler_open: true,
    ///     liquid: Liquid {
    ///         glycol: Some(Glycol::Eg),
    ///         strength: FractionByVolume::from_millionths(500_000)?,
    ///         temperature: Temperature::from_millicelsius(20_000)?,
    ///     },
    ///     air: air_at(0).unwrap(),
    /// }
    /// .plan();
    /// // 15.8 kPa of column and 35 kPa: (50.8 + 101.3) (60/40)^1.4 − 101.3 = 167.1 kPa, 24.2 psi.
    /// let Some(Push::Once { charge, .. }) = plan.push else { panic!() };
    /// assert_eq!(charge.pa() / 1000, 167);
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    pub fn plan(&self) -> Planned {
        let column = gas::column_pa(self.liquid.density_kg_m3(), metres(self.lift)).max(0.0);
        let end_least = gas::Gauge(column + above(self.margin).0.max(0.0));
        let limit = self.limit();
        let headspace_l = self.tank.headspace_l();
        let air = |headspace_l| fill::Fill {
            headspace_l,
            fill_l: litres(self.wanted),
            atmosphere: self.air,
        };
        let whole = headspace_l.zip(limit);
        let push = whole.and_then(|(headspace_l, limit)| push(air(headspace_l), end_least, limit));
        let most_at_once = whole.and_then(|(headspace_l, limit)| {
            let most_l = air(headspace_l).most_l(above(limit), end_least).ok()?;
            let held = self.tank.held.unwrap_or(Volume::MIN);
            Some(volume(most_l).min(held))
        });
        Planned {
            against: self.against(end_least, limit),
            limit,
            end_least: gauge(end_least),
            push,
            most_at_once,
            headspace: headspace_l.map(volume),
        }
    }

    /// The least of: what the tank bears, what keeps clear of its relief valve, and what the air
    /// supply is set to.
    fn limit(&self) -> Option<GaugePressure> {
        let tank = self.tank.mawp?.min(below_relief(self.tank.relief_set?));
        Some(self.regulator.map_or(tank, |set| set.min(tank)))
    }

    fn against(&self, end_least: gas::Gauge, limit: Option<GaugePressure>) -> Vec<Against> {
        let mut against: Vec<Against> = too_hot(self.liquid.temperature).into_iter().collect();
        against.extend(self.liquid.frozen());
        if self.tank.capacity.is_none() {
            against.push(Against::NoTankSize);
        }
        let held = self.tank.held.unwrap_or(Volume::MIN);
        if self.wanted > held {
            against.push(Against::TooLittle {
                wanted: self.wanted,
                held,
            });
        }
        if self.tank.mawp.is_none() || self.tank.relief_set.is_none() {
            against.push(Against::NoPressureRating);
        }
        if !self.filler_open {
            against.push(Against::FillerShut);
        }
        if let Some(missing) = self
            .missing
            .filter(|missing| self.wanted > taken_by(*missing))
        {
            against.push(Against::NoRoomInLoop {
                wanted: self.wanted,
                missing,
            });
        }
        let needed = charge_least(end_least);
        if let Some(limit) = limit.filter(|limit| above(*limit).0 < needed.0) {
            against.push(Against::LimitTooLow {
                limit,
                needed: gauge(needed),
            });
        }
        against
    }
}

/// What is missing is known no better than a gauge is read: 0.1 L, our own default.
fn taken_by(missing: Volume) -> Volume {
    const READ_L: f64 = 0.1;
    volume(litres(missing) + READ_L)
}

fn below_relief(set: GaugePressure) -> GaugePressure {
    nearest((OF_RELIEF * float(set.pa())).floor())
        .and_then(|pa| GaugePressure::from_pa(pa).ok())
        .unwrap_or(GaugePressure::MIN)
}

/// What a charge has to reach at least. Nothing flows without a fall of pressure, and none is seen that is
/// smaller than a gauge is read: 1 kPa, our own default.
fn charge_least(end_least: gas::Gauge) -> gas::Gauge {
    const FALL_PA: f64 = 1_000.0;
    gas::Gauge(end_least.0 + FALL_PA)
}

fn push(air: fill::Fill, end_least: gas::Gauge, limit: GaugePressure) -> Option<Push> {
    if above(limit).0 < charge_least(end_least).0 {
        return None;
    }
    let charge = air.charge_to_end_fast_at(end_least).ok()?;
    if charge.0 <= above(limit).0 {
        return Some(Push::Once {
            charge: gauge(charge),
            ends_fast: gauge(air.end_when_fast(charge).ok()?),
            ends_slow: gauge(air.end(charge).ok()?),
        });
    }
    let stages = air
        .recharges(fill::Limits {
            charge: above(limit),
            stop: end_least,
            end_least,
            end_most: end_least,
        })
        .ok()?;
    if stages.recharges == 0 {
        // Slowly it goes in one charge at the limit; a fast push may have to be charged anew.
        return Some(Push::Once {
            charge: limit,
            ends_fast: gauge(air.end_when_fast(above(limit)).ok()?),
            ends_slow: gauge(air.end(above(limit)).ok()?),
        });
    }
    Some(Push::InStages {
        charges: stages.recharges.saturating_add(1),
        charge: limit,
        first: volume(stages.first_stage_l.unwrap_or(0.0)),
        last_charge: gauge(stages.last_charge),
        ends: gauge(stages.last_end),
    })
}
