//! How a fluid behaves as a whole: how much it shrinks on mixing, swells with heat and weighs.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "volumes are bounded as in `contents`"
)]

use super::component::Base;
use super::contents::{Contents, MILLION};
use super::filed::Named;
use crate::fluid::{Glycol, composition, density};
use crate::quantity::rounding;

/// A fluid's strength and what its glycol is.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mixture {
    fraction: f64,
    /// Shares of ethylene and propylene glycol in all concentrate; what is missing to 1 has no
    /// curve and counts as neither shrinking nor swelling.
    eg: f64,
    pg: f64,
    /// Volume change on mixing, percent, negative.
    pub(super) contraction: f64,
}

impl Mixture {
    pub(super) fn of(contents: &Contents) -> Self {
        let fraction = rounding::float(contents.fraction_millionths()) / 1e6;
        if let Some(glycol) = contents.only_glycol() {
            Self::pure(glycol, fraction)
        } else {
            let share = |base| rounding::float(contents.base_share_millionths(base)) / 1e6;
            Self::new(fraction, share(Base::Eg), share(Base::Pg))
        }
    }

    pub(super) fn named(fluid: Named) -> Self {
        let fraction = rounding::float(fluid.millionths) / 1e6;
        match fluid.base.glycol() {
            Some(glycol) => Self::pure(glycol, fraction),
            None => Self::new(fraction, 0.0, 0.0),
        }
    }

    fn pure(glycol: Glycol, fraction: f64) -> Self {
        match glycol {
            Glycol::Eg => Self::new(fraction, 1.0, 0.0),
            Glycol::Pg => Self::new(fraction, 0.0, 1.0),
        }
    }

    fn new(fraction: f64, eg: f64, pg: f64) -> Self {
        let part = |share: f64, glycol| {
            if share > 0.0 {
                share * composition::contraction_percent(glycol, fraction)
            } else {
                0.0
            }
        };
        Self {
            fraction,
            eg,
            pg,
            contraction: part(eg, Glycol::Eg) + part(pg, Glycol::Pg),
        }
    }

    /// Volume at a temperature of what fills 1 at 20 °C. Water swells as both curves do at 0 %.
    pub(super) fn expansion(&self, millicelsius: i32) -> f64 {
        if millicelsius == 20_000 {
            return 1.0;
        }
        let t_c = f64::from(millicelsius) / 1e3;
        let of = |glycol| density::expansion_at_or_beyond(glycol, t_c, self.fraction).ratio;
        if self.fraction <= 0.0 {
            return of(Glycol::Eg);
        }
        let mut ratio = 1.0;
        for (share, glycol) in [(self.eg, Glycol::Eg), (self.pg, Glycol::Pg)] {
            if share > 0.0 {
                ratio += share * (of(glycol) - 1.0);
            }
        }
        ratio
    }
}

/// The volume before mixing of what takes up `shown_ml` once mixed.
pub(super) fn before_mixing_ml(shown_ml: i64, contraction_percent: f64) -> i64 {
    rounding::nearest(rounding::float(shown_ml) / (1.0 + contraction_percent / 100.0))
        .unwrap_or(shown_ml)
}

impl Contents {
    /// Its mass in grams; none where part of the concentrate has no density curve.
    pub fn mass_g(&self) -> Option<i64> {
        mass_of(self)
    }
}

pub(super) fn mass_of(contents: &Contents) -> Option<i64> {
    let water = rounding::float(contents.ml_of(super::component::Component::Water));
    let concentrate = contents.concentrate_ml();
    let grams = match contents.only_glycol() {
        Some(glycol) => composition::mass_of(glycol, rounding::float(concentrate), water).0,
        None if concentrate == 0 => composition::mass_of(Glycol::Eg, 0.0, water).0,
        None => {
            let eg = contents.base_share_millionths(Base::Eg);
            let pg = contents.base_share_millionths(Base::Pg);
            // Each share is rounded by itself, so two that make up the whole may miss it by one.
            if (eg + pg - MILLION).abs() > 1 {
                return None;
            }
            let all = rounding::float(concentrate);
            let share = |share: i64| rounding::float(share) / 1e6;
            share(eg) * composition::mass_of(Glycol::Eg, all, water).0
                + share(pg) * composition::mass_of(Glycol::Pg, all, water).0
        }
    };
    rounding::nearest(grams)
}
