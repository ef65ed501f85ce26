//! Density, and how far a mixture swells with heat.
//!
//! `ρ = Σ a_ij (T/100)^i f^j` kg/m³, i to 2, j to 3, T in °C, f the glycol's share by volume. Fitted
//! to ASHRAE Fundamentals 2001 (10 to 60 %), the `EnergyPlus` glycol data (70 %) and water by
//! IAPWS-95, all within 0.92 kg/m³. Pure glycol in water is up to 9 kg/m³ lighter: inhibitors weigh.
//! It holds from the freeze point to 100 °C and from 0 to 70 %.

use thiserror::Error;

use super::freeze_point::freeze_c;
use super::{Glycol, STRONGEST};
use crate::quantity::decimal::tenths;
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{Density, FractionByVolume, Temperature};

/// Rows: powers of T/100; columns: powers of the share by volume. Fit to ASHRAE 2001,
/// `EnergyPlus` and IAPWS-95, kg/m³.
const EG: [[f64; 4]; 3] = [
    [1000.76, 183.55, -47.33, 3.81],
    [-9.00, -117.97, 223.59, -171.63],
    [-34.02, 85.90, -216.33, 164.58],
];

/// As [`EG`], for propylene glycol.
const PG: [[f64; 4]; 3] = [
    [1000.67, 139.78, -72.76, 3.36],
    [-8.72, -144.43, 237.25, -176.78],
    [-34.02, 87.42, -241.74, 197.23],
];

/// The hottest temperature of the curve.
const HOTTEST_C: f64 = 100.0;
/// The temperature at which the book states volumes.
const REFERENCE_C: f64 = 20.0;
/// The flattest slope, kg/m³ for a share of 1, from which a strength is read: our own choice. At
/// it, the curve's 0.9 kg/m³ are 1.8 % of strength.
const FLATTEST_SLOPE: f64 = 50.0;

const fn coefficients(glycol: Glycol) -> [[f64; 4]; 3] {
    match glycol {
        Glycol::Eg => EG,
        Glycol::Pg => PG,
    }
}

/// A temperature or strength that the density curve does not cover.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum OutsideCurve {
    /// Outside 0 to 70 % by volume, or not a number.
    #[error("strength is {} %, the density curve covers 0.0 to 70.0 %", tenths(share * 100.0))]
    Strength {
        /// The share by volume.
        share: f64,
    },
    /// Below the freeze point of the mixture, or not a number.
    #[error(
        "temperature is {} °C, this mixture begins to freeze at {} °C",
        tenths(*found_c),
        tenths(*freezes_at_c)
    )]
    Frozen {
        /// The temperature, °C.
        found_c: f64,
        /// The mixture's freeze point, °C.
        freezes_at_c: f64,
    },
    /// Above 100 °C.
    #[error("temperature is {} °C, the density curve ends at 100.0 °C", tenths(*found_c))]
    Hot {
        /// The temperature, °C.
        found_c: f64,
    },
}

/// Why no strength was read from a density.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoStrength {
    /// Lighter than water at that temperature.
    #[error("density is {found}, water at this temperature has {} kg/m³", tenths(*water_kg_per_m3))]
    LighterThanWater {
        /// The density.
        found: Density,
        /// That of water by the curve, kg/m³.
        water_kg_per_m3: f64,
    },
    /// Heavier than a 70 % mixture at that temperature.
    #[error("density is {found}, the curve ends at 70 % with {} kg/m³", tenths(*strongest_kg_per_m3))]
    HeavierThanCurve {
        /// The density.
        found: Density,
        /// That of the 70 % mixture, kg/m³.
        strongest_kg_per_m3: f64,
    },
    /// Density hardly changes with strength here, as in strong propylene glycol.
    #[error(
        "density changes by {:.2} kg/m³ for 1 % of strength here, a strength is read from {:.2} up",
        slope / 100.0,
        FLATTEST_SLOPE / 100.0
    )]
    TooFlat {
        /// kg/m³ for a share of 1.
        slope: f64,
    },
    /// Off the curve.
    #[error(transparent)]
    OutsideCurve(#[from] OutsideCurve),
}

/// The curve's density in kg/m³ at `t_c` °C and the share `f` by volume.
///
/// Bare arithmetic for callers that have kept to the range, as [`check`] tells; [`density`]
/// refuses outside it.
///
/// ```
/// use domain::fluid::{Glycol, density::kg_per_m3};
/// // 1081.179 − 0.2 × 33.542 − 0.04 × 24.580
/// assert!((kg_per_m3(Glycol::Eg, 20.0, 0.5) - 1073.487).abs() < 1e-3);
/// ```
pub fn kg_per_m3(glycol: Glycol, t_c: f64, f: f64) -> f64 {
    let t = t_c / 100.0;
    let [constant, linear, square] = coefficients(glycol).map(|row| along(row, f));
    constant + t * (linear + t * square)
}

fn along([a0, a1, a2, a3]: [f64; 4], f: f64) -> f64 {
    a0 + f * (a1 + f * (a2 + f * a3))
}

/// kg/m³ for a share of 1.
pub(crate) fn slope(glycol: Glycol, t_c: f64, f: f64) -> f64 {
    let t = t_c / 100.0;
    let [constant, linear, square] =
        coefficients(glycol).map(|[_, a1, a2, a3]| a1 + f * (2.0 * a2 + f * 3.0 * a3));
    constant + t * (linear + t * square)
}

/// Whether the curve covers `t_c` °C and the share `f` by volume.
///
/// # Errors
/// [`OutsideCurve`] where it does not, also for what is not a number.
pub fn check(glycol: Glycol, t_c: f64, f: f64) -> Result<(), OutsideCurve> {
    if !(0.0..=STRONGEST).contains(&f) {
        return Err(OutsideCurve::Strength { share: f });
    }
    if t_c > HOTTEST_C {
        return Err(OutsideCurve::Hot { found_c: t_c });
    }
    let freezes_at_c = freeze_c(glycol, f);
    if (freezes_at_c..=HOTTEST_C).contains(&t_c) {
        Ok(())
    } else {
        Err(OutsideCurve::Frozen {
            found_c: t_c,
            freezes_at_c,
        })
    }
}

/// The density of a mixture, rounded to 0.001 kg/m³.
///
/// ```
/// use domain::fluid::{Glycol, density};
/// use domain::quantity::{FractionByVolume, Temperature};
/// let strength = FractionByVolume::from_millionths(300_000)?;
/// let found = density(Glycol::Eg, Temperature::REFERENCE, strength).unwrap();
/// assert_eq!(found.to_string(), "1,044.957 kg/m³");
/// let cold = Temperature::from_millicelsius(-20_000)?;
/// assert_eq!(
///     density(Glycol::Eg, cold, strength).unwrap_err().to_string(),
///     "temperature is −20.0 °C, this mixture begins to freeze at −15.7 °C",
/// );
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
///
/// # Errors
/// [`OutsideCurve`] below the freeze point, above 100 °C, above 70 % by volume.
pub fn density(
    glycol: Glycol,
    temperature: Temperature,
    strength: FractionByVolume,
) -> Result<Density, OutsideCurve> {
    let (t_c, f) = (celsius(temperature), strength.as_ratio());
    check(glycol, t_c, f)?;
    // Inside the curve a density lies between 950 and 1120 kg/m³.
    Ok(nearest(kg_per_m3(glycol, t_c, f) * 1000.0)
        .and_then(|g_per_m3| Density::from_g_per_m3(g_per_m3).ok())
        .unwrap_or(Density::MAX))
}

/// The strength of a mixture from its density, as a hydrometer has it.
///
/// A hydrometer cannot tell the glycols apart, and the density of strong propylene glycol hardly
/// changes with strength.
///
/// ```
/// use domain::fluid::{Glycol, density, density::strength_from_density};
/// use domain::quantity::{FractionByVolume, Temperature};
/// let strength = FractionByVolume::from_millionths(450_000)?;
/// let at = Temperature::REFERENCE;
/// let found = density(Glycol::Eg, at, strength).unwrap();
/// let read = strength_from_density(Glycol::Eg, at, found).unwrap();
/// assert!((read.millionths() - 450_000).abs() < 10);
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
///
/// # Errors
/// [`NoStrength`] outside the curve, and where its slope is below 0.50 kg/m³ for 1 % of strength.
pub fn strength_from_density(
    glycol: Glycol,
    temperature: Temperature,
    found: Density,
) -> Result<FractionByVolume, NoStrength> {
    let t_c = celsius(temperature);
    let sought = float(found.g_per_m3()) / 1000.0;
    let water_kg_per_m3 = kg_per_m3(glycol, t_c, 0.0);
    let strongest_kg_per_m3 = kg_per_m3(glycol, t_c, STRONGEST);
    // The strongest mixture stays liquid the longest, so where it does not, none does.
    check(glycol, t_c, STRONGEST)?;
    if sought < water_kg_per_m3 {
        return Err(NoStrength::LighterThanWater {
            found,
            water_kg_per_m3,
        });
    }
    if sought > strongest_kg_per_m3 {
        return Err(NoStrength::HeavierThanCurve {
            found,
            strongest_kg_per_m3,
        });
    }
    let (mut low, mut high) = (0.0, STRONGEST);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if kg_per_m3(glycol, t_c, middle) < sought {
            low = middle;
        } else {
            high = middle;
        }
    }
    check(glycol, t_c, high)?;
    let slope = slope(glycol, t_c, high);
    if slope < FLATTEST_SLOPE {
        return Err(NoStrength::TooFlat { slope });
    }
    // `high` lies between 0 and 0.70.
    Ok(FractionByVolume::from_ratio(high).unwrap_or(FractionByVolume::MIN))
}

/// The volume at `t_c` °C of what fills 1 at 20 °C: ρ(20 °C) ÷ ρ(t).
///
/// ```
/// use domain::fluid::{Glycol, density::expansion_ratio};
/// // 40 L of 50 % ethylene glycol swell by 1.8 L up to 95 °C.
/// let ratio = expansion_ratio(Glycol::Eg, 95.0, 0.5).unwrap();
/// assert!((40.0 * ratio - 41.805).abs() < 0.001);
/// ```
///
/// # Errors
/// [`OutsideCurve`] below the freeze point, above 100 °C, above 70 % by volume.
pub fn expansion_ratio(glycol: Glycol, t_c: f64, f: f64) -> Result<f64, OutsideCurve> {
    check(glycol, t_c, f)?;
    Ok(kg_per_m3(glycol, REFERENCE_C, f) / kg_per_m3(glycol, t_c, f))
}

/// An expansion that may have been taken at the edge of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expansion {
    /// The volume of what fills 1 at 20 °C.
    pub ratio: f64,
    /// Where it was taken.
    pub taken: Taken,
}

/// Whether the curve covers what was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Taken {
    /// At the temperature and strength asked for.
    AsAsked,
    /// At the nearest that the curve covers.
    AtEdge,
}

/// [`expansion_ratio`], at the nearest strength and temperature that the curve covers.
///
/// For bringing a measured volume to 20 °C: an edge value is nearer the truth there than no
/// correction at all, and concentrate (above 70 %) is measured as often as coolant. Between 60 and
/// 70 % ethylene glycol swells by 4.7 and 4.9 % up to 95 °C, so the edge costs little. What is not
/// a number has the ratio 1, at the edge.
///
/// ```
/// use domain::fluid::{Glycol, density::{Taken, expansion_at_or_beyond, expansion_ratio}};
/// let concentrate = expansion_at_or_beyond(Glycol::Eg, 30.0, 1.0);
/// assert_eq!(concentrate.taken, Taken::AtEdge);
/// let edge = expansion_ratio(Glycol::Eg, 30.0, 0.70).unwrap();
/// assert!((concentrate.ratio - edge).abs() < 1e-12);
/// ```
pub fn expansion_at_or_beyond(glycol: Glycol, t_c: f64, f: f64) -> Expansion {
    if let Ok(ratio) = expansion_ratio(glycol, t_c, f) {
        return Expansion {
            ratio,
            taken: Taken::AsAsked,
        };
    }
    let f = f.clamp(0.0, STRONGEST);
    let t_c = t_c.max(freeze_c(glycol, f)).min(HOTTEST_C);
    Expansion {
        ratio: expansion_ratio(glycol, t_c, f).unwrap_or(1.0),
        taken: Taken::AtEdge,
    }
}

fn celsius(temperature: Temperature) -> f64 {
    float(i64::from(temperature.millicelsius())) / 1000.0
}
