//! What warmth does to a gauge above a closed loop: the gas presses harder, the coolant swells into
//! its room, and warm coolant adds vapour.
//!
//! One °C does p ÷ T by the gas and p β V coolant ÷ V gas by the coolant: at 38 L of coolant under 2 L
//! of air the coolant does more than twice as much as the air. Hoses that give take some of it back, so
//! what it does is corrected for in the middle of what it can be, and the rest is uncertainty.

use super::decay::ZERO_CELSIUS_K;
use super::verdict::{GasVolume, Test};
use crate::fluid::Glycol;
use crate::fluid::density::expansion_at_or_beyond;
use crate::fluid::vapour::vapour_pressure;

/// From here on vapour counts, °C: below it does less than 4 % of what is read.
pub const VAPOUR_FROM_C: f64 = 40.0;
/// Of what the coolant swells by, at least so much reaches the gauge; hoses take the rest. Our own
/// default, no source.
pub const LEAST_SHARE_FELT: f64 = 0.5;
/// Coolant to gas where nobody knows either: the coolant of a full loop under the air of its surge
/// tank. Our own default, no source.
pub const USUAL_COOLANT_TO_GAS: f64 = 20.0;

/// Coolant under the gas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coolant {
    /// How much, L at 20 °C.
    pub l: f64,
    /// What it is made with.
    pub glycol: Glycol,
    /// Its strength, a share by volume.
    pub fraction: f64,
}

impl Coolant {
    /// What is taken where nobody knows it: half and half ethylene glycol.
    const fn usual(l: f64) -> Self {
        Self {
            l,
            glycol: Glycol::Eg,
            fraction: 0.5,
        }
    }
}

/// A loop as warmth sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Warmth {
    /// For each litre of gas.
    coolant: Coolant,
    /// Both volumes are known.
    pub(super) is_known: bool,
    /// Standard uncertainty of the gas volume, as a share of it.
    gas_share: f64,
    /// Warm enough for vapour; of what, by glycol and strength.
    vapour: Option<(Glycol, f64)>,
}

impl Warmth {
    pub(super) fn of(test: &Test) -> Self {
        let gas = test.gas.filter(|gas| gas.l > 0.0);
        let known = gas.zip(test.coolant);
        let is_warm = test
            .looks
            .iter()
            .any(|look| look.t_c.is_some_and(|t_c| t_c > VAPOUR_FROM_C));
        // Water has the most vapour of all there may be.
        let vapour = test
            .coolant
            .map_or((Glycol::Eg, 0.0), |it| (it.glycol, it.fraction));
        let share = |gas: GasVolume| gas.u_l / gas.l;
        Self {
            coolant: known.map_or(Coolant::usual(USUAL_COOLANT_TO_GAS), |(gas, coolant)| {
                Coolant {
                    l: coolant.l / gas.l,
                    ..coolant
                }
            }),
            is_known: known.is_some(),
            gas_share: known.map_or(0.0, |(gas, _)| share(gas)),
            vapour: is_warm.then_some(vapour),
        }
    }

    /// The vapour in it, Pa.
    pub(super) fn vapour_pa(&self, t_c: f64) -> f64 {
        self.vapour
            .map_or(0.0, |(glycol, f)| vapour_pressure(glycol, t_c, f).0)
    }

    /// How much of the swelling is taken to reach the gauge, and one standard uncertainty of it. Where
    /// nobody knows the volumes nothing is corrected for, and all of it may be.
    fn felt(&self) -> (f64, f64) {
        // A rectangle has its half-width divided by √3 as standard uncertainty.
        let root = 3.0_f64.sqrt();
        if self.is_known {
            let middle = f64::midpoint(LEAST_SHARE_FELT, 1.0);
            let by_hoses = (1.0 - middle) / root;
            (middle, by_hoses.hypot(middle * self.gas_share))
        } else {
            (0.0, 1.0 / root)
        }
    }

    /// A pressure read at one temperature, as it would be at another; both absolute, Pa and °C.
    pub(super) fn brought(&self, read: (f64, f64), to_c: f64) -> f64 {
        self.brought_by(read, to_c, self.felt().0)
    }

    /// The same if all of the swelling reached the gauge.
    pub(super) fn brought_at_most(&self, read: (f64, f64), to_c: f64) -> f64 {
        self.brought_by(read, to_c, 1.0)
    }

    fn brought_by(&self, (pa, read_c): (f64, f64), to_c: f64, felt: f64) -> f64 {
        let litres = |warm: f64| {
            let swells = expansion_at_or_beyond(self.coolant.glycol, warm, self.coolant.fraction);
            self.coolant.l * swells.ratio
        };
        let taken_up = felt * (litres(read_c) - litres(to_c));
        let kelvin = (to_c + ZERO_CELSIUS_K) / (read_c + ZERO_CELSIUS_K);
        let dry = (pa - self.vapour_pa(read_c)) * kelvin * (1.0 - taken_up).max(0.0);
        dry + self.vapour_pa(to_c)
    }

    /// What is left open of a pressure brought to another temperature because nobody knows how much
    /// of the swelling is felt, one standard uncertainty, Pa.
    pub(super) fn u_of_swelling(&self, read: (f64, f64), to_c: f64) -> f64 {
        let whole = self.brought_by(read, to_c, 1.0) - self.brought_by(read, to_c, 0.0);
        whole.abs() * self.felt().1
    }

    /// What cooling by so many °C takes off at most, Pa.
    pub(super) fn taken_off(&self, (pa, t_c): (f64, f64), by_c: f64) -> f64 {
        pa - self.brought_at_most((pa, t_c), t_c - by_c)
    }
}
