//! Vapour pressure and boiling of glycol in water.
//!
//! Ideal mixing (Raoult): the vapour pressure is that of each pure part times its share of the
//! molecules. Against measured boiling tables it is within about 1.3 °C for ethylene and 1.7 °C for
//! propylene glycol up to 60 % by volume; above 70 % it says too much by up to 6 °C.
//!
//! Pure parts follow the DIPPR-101 equation with the coefficients of Perry's Chemical Engineers'
//! Handbook, 8th edition, as the Python library `chemicals` 1.5.2 has them. Water is 0.16 % above
//! IAPWS-95 at 100 °C, which is 0.04 °C.

use thiserror::Error;

use super::Glycol;
use super::composition::mole_fraction;
use crate::gas::Absolute;

/// `ln p = c1 + c2/T + c3 ln T + c4 T^c5`, Pa and kelvin.
#[derive(Clone, Copy, Debug)]
struct Dippr101 {
    c1: f64,
    c2: f64,
    c3: f64,
    c4: f64,
    c5: i32,
}

impl Dippr101 {
    fn pa(self, t_c: f64) -> f64 {
        let t_k = t_c + ZERO_CELSIUS_K;
        (self.c1 + self.c2 / t_k + self.c3 * t_k.ln() + self.c4 * t_k.powi(self.c5)).exp()
    }
}

const WATER: Dippr101 = Dippr101 {
    c1: 73.649,
    c2: -7_258.2,
    c3: -7.3037,
    c4: 4.1653e-6,
    c5: 2,
};
const ETHYLENE_GLYCOL: Dippr101 = Dippr101 {
    c1: 84.09,
    c2: -10_411.0,
    c3: -8.1976,
    c4: 1.6536e-18,
    c5: 6,
};
const PROPYLENE_GLYCOL: Dippr101 = Dippr101 {
    c1: 212.8,
    c2: -15_420.0,
    c3: -28.109,
    c4: 2.1564e-5,
    c5: 2,
};

/// 0 °C in kelvin.
const ZERO_CELSIUS_K: f64 = 273.15;

/// Boiling is looked for from here, °C.
pub const COLDEST_C: f64 = -20.0;
/// Boiling is looked for up to here, °C.
pub const HOTTEST_C: f64 = 230.0;
/// Halvings of that range: 250 °C ÷ 2^60 is far below what any pressure can tell.
const HALVINGS: u32 = 60;

/// No boiling point lies in the range at this pressure.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error(
    "at {:.2} kPa absolute it does not boil between −20 and 230 °C; a pressure between {:.2} and {:.0} kPa is taken",
    found.kpa(), lowest.kpa(), highest.kpa()
)]
pub struct NoBoilingPoint {
    /// What was asked for.
    pub found: Absolute,
    /// The lowest pressure that has one.
    pub lowest: Absolute,
    /// The highest.
    pub highest: Absolute,
}

/// The vapour pressure at `t_c` °C of a mixture with the share `f` by volume: (1 − x) p of water + x
/// p of glycol, x being glycol's share of the molecules and each p that of the pure part.
///
/// For −20 to 230 °C. From −10 to 60 °C it lies 0.2 to 4.0 % above measurements of ethylene glycol
/// (Trans. JSRAE 6(2) 183, 1989).
///
/// ```
/// use domain::fluid::{Glycol, vapour::vapour_pressure};
/// let found = vapour_pressure(Glycol::Eg, 80.0, 0.5);
/// assert!((found.kpa() - 35.9492).abs() < 1e-3);
/// ```
pub fn vapour_pressure(glycol: Glycol, t_c: f64, f: f64) -> Absolute {
    let share = mole_fraction(glycol, f);
    let pure = match glycol {
        Glycol::Eg => ETHYLENE_GLYCOL,
        Glycol::Pg => PROPYLENE_GLYCOL,
    };
    Absolute((1.0 - share) * WATER.pa(t_c) + share * pure.pa(t_c))
}

/// The temperature, °C, at which a mixture with the share `f` by volume boils.
///
/// Where its vapour pressure is that above it. With a cap this is the atmosphere's plus the cap's;
/// under vacuum the atmosphere's less the vacuum, which [`crate::gas::Vacuum::left`] works out and
/// refuses where there can be no such vacuum.
///
/// ```
/// use domain::fluid::{Glycol, vapour::boils_at_c};
/// use domain::gas::{Gauge, Vacuum, atmosphere::{SEA_LEVEL, standard}};
/// let sea_level = boils_at_c(Glycol::Eg, 0.5, SEA_LEVEL).unwrap();
/// assert!((sea_level - 107.853).abs() < 1e-3);
/// let capped = boils_at_c(Glycol::Eg, 0.5, Gauge::from_psi(15.0).absolute(SEA_LEVEL)).unwrap();
/// assert!((capped - 129.8).abs() < 0.05);
/// let outside = standard(1_600.0).unwrap();
/// let left = Vacuum::from_inhg(15.0).left(outside).unwrap();
/// assert!((boils_at_c(Glycol::Eg, 0.5, left).unwrap() - 77.7).abs() < 0.05);
/// ```
///
/// # Errors
/// [`NoBoilingPoint`] where none lies between −20 and 230 °C.
pub fn boils_at_c(glycol: Glycol, f: f64, pressure: Absolute) -> Result<f64, NoBoilingPoint> {
    let lowest = vapour_pressure(glycol, COLDEST_C, f);
    let highest = vapour_pressure(glycol, HOTTEST_C, f);
    if !(lowest.0..=highest.0).contains(&pressure.0) {
        return Err(NoBoilingPoint {
            found: pressure,
            lowest,
            highest,
        });
    }
    let (mut low, mut high) = (COLDEST_C, HOTTEST_C);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if vapour_pressure(glycol, middle, f) < pressure {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(f64::midpoint(low, high))
}
