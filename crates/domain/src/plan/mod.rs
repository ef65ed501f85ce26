//! What to do before a job is begun: how deep a vacuum, how high a charge, what to drain and what
//! to add; and what speaks against beginning at all.
//!
//! Each plan is worked out from quantities as people give them and says [`Against`] for every reason
//! not to begin. None of these keeps a job from being logged that has already happened.

pub mod correction;
pub mod draw;
pub mod fill;
pub mod plug_swap;
pub mod pressure_test;

use crate::fluid::freeze_point::freeze_c;
use crate::fluid::vapour::{boils_at_c, vapour_pressure};
use crate::fluid::{Glycol, STRONGEST, density};
use crate::gas::{self, atmosphere};
use crate::gate::OPEN_BELOW;
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{FractionByVolume, GaugePressure, Height, Temperature, Vacuum, Volume};

/// It is opened, or put under vacuum, only this far below the temperature at which it would boil:
/// our own choice, about six times the error of the boiling curve.
pub const BOILING_MARGIN_C: f64 = 10.0;

/// Why a job should not be begun.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Against {
    /// It is hotter than what burns nobody.
    TooHot {
        /// What it is.
        found: Temperature,
        /// It has to be below this.
        below: Temperature,
    },
    /// It would boil under this vacuum, or nearly.
    Boils {
        /// What it is.
        found: Temperature,
        /// The vacuum.
        vacuum: Vacuum,
        /// It boils here.
        at: Temperature,
        /// It has to be below this.
        below: Temperature,
    },
    /// Nobody knows how much the tank takes.
    NoTankSize,
    /// Nobody knows what vacuum the tank bears.
    NoVacuumRating,
    /// The tank does not bear this vacuum.
    AboveVacuumRating {
        /// What was asked for.
        wanted: Vacuum,
        /// What it bears.
        rated: Vacuum,
    },
    /// There is no such vacuum at this height.
    DeeperThanAir {
        /// What was asked for.
        wanted: Vacuum,
        /// All the air there is.
        atmosphere: Vacuum,
    },
    /// This vacuum does not lift the liquid, or does not hold it.
    NotLifted {
        /// What was asked for.
        wanted: Vacuum,
        /// What the column takes.
        needed: Vacuum,
    },
    /// The liquid stands higher than any vacuum there may be here lifts it.
    TooHigh {
        /// The deepest vacuum there may be.
        deepest: Vacuum,
        /// What the column takes.
        needed: Vacuum,
    },
    /// It does not fit into the vessel.
    NoRoom {
        /// What is to go in.
        wanted: Volume,
        /// What still fits.
        free: Volume,
    },
    /// It does not fit into the loop.
    NoRoomInLoop {
        /// What is to go in.
        wanted: Volume,
        /// What is missing in it.
        missing: Volume,
    },
    /// It is pushed into a loop whose filler is shut.
    FillerShut,
    /// The coolant is frozen at that temperature.
    Frozen {
        /// What it is.
        found: Temperature,
        /// It begins to freeze here.
        freezes_at: Temperature,
    },
    /// The vessel does not hold as much.
    TooLittle {
        /// What is to come out.
        wanted: Volume,
        /// What it holds.
        held: Volume,
    },
    /// Nobody knows what pressure the tank bears: its rating or its relief valve is not on record.
    NoPressureRating,
    /// What may be put on the tank does not even lift the liquid.
    LimitTooLow {
        /// The most that may be put on.
        limit: GaugePressure,
        /// What lifts the liquid to the end, with a fall that is seen.
        needed: GaugePressure,
    },
    /// Nobody knows what pressure the loop bears.
    NoLoopRating,
    /// The loop does not bear this pressure.
    AboveLoopRating {
        /// What was asked for.
        wanted: GaugePressure,
        /// Its lowest rated part.
        rating: GaugePressure,
    },
    /// The strength does not lie between what is in it and what is put in.
    Unreachable {
        /// What was asked for.
        wanted: FractionByVolume,
        /// The nearest there is.
        nearest: FractionByVolume,
    },
    /// No reading ever told how strong the coolant is.
    NotTested,
    /// More than one glycol, or one without a curve: no strength leads to a freeze point.
    NoCurve,
}

/// A coolant at a temperature, as far as its weight and its vapour go.
///
/// Of one without a curve the careful figures are taken: as heavy as ethylene glycol of 60 %, and
/// boiling like water.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Liquid {
    /// Its glycol; none for one without a curve.
    pub glycol: Option<Glycol>,
    /// Its share by volume.
    pub strength: FractionByVolume,
    /// How warm it is.
    pub temperature: Temperature,
}

impl Liquid {
    /// Its weight, kg/m³, at the nearest temperature of the density curve.
    pub fn density_kg_m3(&self) -> f64 {
        const HEAVY: f64 = 0.60;
        let (glycol, share) = match self.glycol {
            Some(glycol) => (glycol, self.strength.as_ratio().min(STRONGEST)),
            None => (Glycol::Eg, HEAVY),
        };
        let t_c = degrees_c(self.temperature).clamp(freeze_c(glycol, share), 100.0);
        density::kg_per_m3(glycol, t_c, share)
    }

    fn boils(&self) -> (Glycol, f64) {
        match self.glycol {
            Some(glycol) => (glycol, self.strength.as_ratio()),
            None => (Glycol::Eg, 0.0),
        }
    }

    /// The pressure of its vapour at `t_c` °C.
    fn vapour_at(&self, t_c: f64) -> gas::Absolute {
        let (glycol, share) = self.boils();
        vapour_pressure(glycol, t_c, share)
    }

    /// It cannot be drawn or pushed below its freeze point.
    fn frozen(&self) -> Option<Against> {
        let freezes_at = temperature(freeze_c(self.glycol?, self.strength.as_ratio()));
        (self.temperature <= freezes_at).then_some(Against::Frozen {
            found: self.temperature,
            freezes_at,
        })
    }

    /// The temperature at which it boils under `vacuum`; none where no curve says so.
    pub fn boils_under(&self, vacuum: Vacuum, air: gas::Absolute) -> Option<Temperature> {
        let (glycol, share) = self.boils();
        let boils_c = boils_at_c(glycol, share, below(vacuum).absolute(air)).ok()?;
        Some(temperature(boils_c))
    }

    /// The deepest vacuum that a tank bears, that there is in this air, and under which it stays
    /// clear of boiling.
    fn deepest_in(&self, rated: Vacuum, air: gas::Absolute) -> Vacuum {
        let vapour = self.vapour_at(degrees_c(self.temperature) + BOILING_MARGIN_C);
        let boils = vacuum(gas::Vacuum((air.0 - vapour.0).max(0.0)));
        rated.min(boils).min(all_of(air))
    }

    /// What speaks against opening it, and against putting it under a vacuum that was asked for: one
    /// that a plan proposes keeps clear of boiling by itself.
    fn heat(&self, asked_for: Option<Vacuum>, air: gas::Absolute) -> Vec<Against> {
        let found = self.temperature;
        let mut against: Vec<Against> = too_hot(found).into_iter().collect();
        against.extend(self.frozen());
        let boils = asked_for.and_then(|vacuum| Some((vacuum, self.boils_under(vacuum, air)?)));
        if let Some((vacuum, at)) = boils {
            let below = temperature(degrees_c(at) - BOILING_MARGIN_C);
            if found >= below {
                against.push(Against::Boils {
                    found,
                    vacuum,
                    at,
                    below,
                });
            }
        }
        against
    }
}

/// What speaks against opening a system at this temperature.
fn too_hot(found: Temperature) -> Option<Against> {
    (found >= OPEN_BELOW).then_some(Against::TooHot {
        found,
        below: OPEN_BELOW,
    })
}

/// What speaks against pulling a tank to a vacuum that was asked for.
fn pulled(wanted: Option<Vacuum>, (rated, air): (Option<Vacuum>, gas::Absolute)) -> Vec<Against> {
    let mut against = Vec::new();
    match (wanted, rated) {
        (_, None) => against.push(Against::NoVacuumRating),
        (Some(wanted), Some(rated)) if wanted > rated => {
            against.push(Against::AboveVacuumRating { wanted, rated });
        }
        _ => {}
    }
    if let Some(wanted) = wanted.filter(|wanted| *wanted >= all_of(air)) {
        against.push(Against::DeeperThanAir {
            wanted,
            atmosphere: all_of(air),
        });
    }
    against
}

/// A vessel that takes or gives liquid.
#[derive(Clone, Copy, PartialEq, Debug, Default)]
pub struct Tank {
    /// What it takes when full to the brim.
    pub capacity: Option<Volume>,
    /// How far it may be filled.
    pub fill_limit: Option<Volume>,
    /// What is in it.
    pub held: Option<Volume>,
    /// The vacuum it bears.
    pub rated_vacuum: Option<Vacuum>,
    /// Its maximum allowable working pressure.
    pub mawp: Option<GaugePressure>,
    /// What its relief valve is set to.
    pub relief_set: Option<GaugePressure>,
}

impl Tank {
    fn held_l(&self) -> f64 {
        self.held.map_or(0.0, litres)
    }

    /// Air in it, L; none for a tank whose size nobody knows, and for one that is full.
    fn headspace_l(&self) -> Option<f64> {
        gas::draw::headspace_l(litres(self.capacity?), self.held_l()).ok()
    }

    /// What still fits below its fill limit, or else its brim.
    fn free(&self) -> Option<Volume> {
        let limit = self.fill_limit.or(self.capacity)?;
        Some(volume(litres(limit) - self.held_l()))
    }
}

/// The air outside at a shop.
pub fn air_at(altitude_m: i32) -> Result<gas::Absolute, gas::NotPossible> {
    atmosphere::standard(f64::from(altitude_m))
}

/// All the vacuum there can be in this air.
pub fn all_of(air: gas::Absolute) -> Vacuum {
    vacuum(gas::Vacuum(air.0))
}

fn litres(volume: Volume) -> f64 {
    float(volume.ml()) / 1e3
}

/// To the nearest millilitre; nothing for less than nothing.
fn volume(litres: f64) -> Volume {
    nearest((litres * 1e3).max(0.0))
        .and_then(|ml| Volume::from_ml(ml).ok())
        .unwrap_or(Volume::MAX)
}

fn degrees_c(temperature: Temperature) -> f64 {
    float(i64::from(temperature.millicelsius())) / 1e3
}

fn temperature(t_c: f64) -> Temperature {
    let most = float(i64::from(Temperature::MAX.millicelsius()));
    let least = float(i64::from(Temperature::MIN.millicelsius()));
    nearest((t_c * 1e3).clamp(least, most))
        .and_then(|milli| i32::try_from(milli).ok())
        .and_then(|milli| Temperature::from_millicelsius(milli).ok())
        .unwrap_or(Temperature::MAX)
}

fn metres(height: Height) -> f64 {
    f64::from(height.mm()) / 1e3
}

fn below(vacuum: Vacuum) -> gas::Vacuum {
    gas::Vacuum(float(vacuum.pa()))
}

/// Never less than none, never more than a standard atmosphere.
fn vacuum(of: gas::Vacuum) -> Vacuum {
    nearest(of.0.clamp(0.0, float(Vacuum::MAX.pa())))
        .and_then(|pa| Vacuum::from_pa(pa).ok())
        .unwrap_or(Vacuum::MAX)
}

fn above(gauge: GaugePressure) -> gas::Gauge {
    gas::Gauge(float(gauge.pa()))
}

fn gauge(of: gas::Gauge) -> GaugePressure {
    let (least, most) = (
        float(GaugePressure::MIN.pa()),
        float(GaugePressure::MAX.pa()),
    );
    nearest(of.0.clamp(least, most))
        .and_then(|pa| GaugePressure::from_pa(pa).ok())
        .unwrap_or(GaugePressure::MAX)
}

fn share(ratio: f64) -> FractionByVolume {
    FractionByVolume::from_ratio(ratio.clamp(0.0, 1.0)).unwrap_or(FractionByVolume::MAX)
}
