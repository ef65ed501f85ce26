//! Shares by volume, mass and moles; shrinking on mixing; mass from component volumes.
//!
//! Volumes are those of the pure components before mixing, at 20 °C.

use serde::{Deserialize, Serialize};

use super::density::kg_per_m3;
use super::{Glycol, STRONGEST};
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{FractionByMass, FractionByVolume, Mass, Volume};

/// Water at 20 °C, kg/m³ (IAPWS-95: 998.21).
pub const WATER_KG_PER_M3: f64 = 998.2;
/// Water, g/mol (IAPWS-95).
pub const WATER_G_PER_MOL: f64 = 18.01528;

/// The pure density at 20 °C, kg/m³: ethylene glycol 1113.4 (three methods of the Python library
/// `thermo` 0.6.1, 1113.4 to 1113.7), propylene glycol 1036.4 (reference equation of state,
/// J. Phys. Chem. Ref. Data 2021, through `CoolProp` 8.0.0).
pub const fn pure_kg_per_m3(glycol: Glycol) -> f64 {
    match glycol {
        Glycol::Eg => 1113.4,
        Glycol::Pg => 1036.4,
    }
}

/// The molar mass, g/mol: ethylene glycol C₂H₆O₂ 62.068, propylene glycol C₃H₈O₂ 76.095.
pub const fn g_per_mol(glycol: Glycol) -> f64 {
    match glycol {
        Glycol::Eg => 62.068,
        Glycol::Pg => 76.095,
    }
}

/// The share by mass of a mixture with the share `f` by volume; outside 0 to 1, of the nearer end.
///
/// ```
/// use domain::fluid::{Glycol, composition::mass_fraction};
/// // 556.7 / (556.7 + 499.1)
/// assert!((mass_fraction(Glycol::Eg, 0.5) - 0.527278).abs() < 1e-6);
/// ```
pub fn mass_fraction(glycol: Glycol, f: f64) -> f64 {
    let f = f.clamp(0.0, 1.0);
    let glycol_kg = f * pure_kg_per_m3(glycol);
    let water_kg = (1.0 - f) * WATER_KG_PER_M3;
    glycol_kg / (glycol_kg + water_kg)
}

/// The share by volume of a mixture with the share `w` by mass; outside 0 to 1, of the nearer end.
///
/// ```
/// use domain::fluid::{Glycol, composition::volume_fraction};
/// assert!((volume_fraction(Glycol::Eg, 0.527278) - 0.5).abs() < 1e-6);
/// ```
pub fn volume_fraction(glycol: Glycol, w: f64) -> f64 {
    let w = w.clamp(0.0, 1.0);
    let glycol_m3 = w / pure_kg_per_m3(glycol);
    let water_m3 = (1.0 - w) / WATER_KG_PER_M3;
    glycol_m3 / (glycol_m3 + water_m3)
}

/// The share of glycol molecules in a mixture with the share `f` by volume.
///
/// ```
/// use domain::fluid::{Glycol, composition::mole_fraction};
/// // 8.495 mol of glycol to 26.240 mol of water
/// assert!((mole_fraction(Glycol::Eg, 0.5) - 0.244569).abs() < 1e-6);
/// ```
pub fn mole_fraction(glycol: Glycol, f: f64) -> f64 {
    let w = mass_fraction(glycol, f);
    let glycol_moles = w / g_per_mol(glycol);
    let water_moles = (1.0 - w) / WATER_G_PER_MOL;
    glycol_moles / (glycol_moles + water_moles)
}

/// The share by volume of a mixture of which the share `x` of all molecules is glycol; outside 0 to
/// 1, of the nearer end. The inverse of [`mole_fraction`].
///
/// ```
/// use domain::fluid::{Glycol, composition::fraction_of_moles};
/// assert!((fraction_of_moles(Glycol::Eg, 0.244569) - 0.5).abs() < 1e-6);
/// ```
pub fn fraction_of_moles(glycol: Glycol, x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    let glycol_g = x * g_per_mol(glycol);
    let water_g = (1.0 - x) * WATER_G_PER_MOL;
    volume_fraction(glycol, glycol_g / (glycol_g + water_g))
}

/// The share by mass, rounded to a millionth.
///
/// ```
/// use domain::fluid::{Glycol, composition::{by_mass, by_volume}};
/// use domain::quantity::FractionByVolume;
/// let half = FractionByVolume::from_millionths(500_000)?;
/// assert_eq!(by_mass(Glycol::Eg, half).millionths(), 527_278);
/// assert_eq!(by_volume(Glycol::Eg, by_mass(Glycol::Eg, half)), half);
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
pub fn by_mass(glycol: Glycol, strength: FractionByVolume) -> FractionByMass {
    // A share stays between 0 and 1, so the other arm is never taken.
    FractionByMass::from_ratio(mass_fraction(glycol, strength.as_ratio()))
        .unwrap_or(FractionByMass::MIN)
}

/// The share by volume, rounded to a millionth.
///
/// ```
/// use domain::fluid::{Glycol, composition::by_volume};
/// use domain::quantity::FractionByMass;
/// // 50 % by mass is 47.3 % by volume
/// let half = FractionByMass::from_millionths(500_000)?;
/// assert_eq!(by_volume(Glycol::Eg, half).millionths(), 472_722);
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
pub fn by_volume(glycol: Glycol, strength: FractionByMass) -> FractionByVolume {
    FractionByVolume::from_ratio(volume_fraction(glycol, strength.as_ratio()))
        .unwrap_or(FractionByVolume::MIN)
}

/// The change of volume on mixing in %, at 20 °C: 0 for either component alone, negative between.
///
/// `f (1 − f) (k₀ + k₁ z + k₂ z²)` with `z = 1 − 2 f`, fitted to densities in the CRC Handbook
/// (102nd ed., ethylene glycol at 20 °C, up to 57 %; within 0.01 %) and in J. Phys. Chem. 71 (1967)
/// 814 (propylene glycol at 25 °C, up to 91 %; within 0.04 %). Shares outside 0 to 1 are read as the
/// nearer end.
///
/// ```
/// use domain::fluid::{Glycol, composition::contraction_percent};
/// // 0.25 × −4.513
/// assert!((contraction_percent(Glycol::Eg, 0.5) - -1.12825).abs() < 1e-9);
/// ```
pub fn contraction_percent(glycol: Glycol, f: f64) -> f64 {
    let (k0, k1, k2) = match glycol {
        Glycol::Eg => (-4.513, 1.312, 1.328),
        Glycol::Pg => (-7.868, 2.595, 2.106),
    };
    let f = f.clamp(0.0, 1.0);
    let z = 1.0 - 2.0 * f;
    f * (1.0 - f) * (k0 + z * (k1 + z * k2))
}

/// The volumes of glycol and water before mixing, at 20 °C.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Components {
    /// Glycol with its inhibitors.
    pub glycol: Volume,
    /// Water.
    pub water: Volume,
}

/// How a mass was worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MassSource {
    /// The density curve times the volume after mixing, up to 70 % glycol; within 0.1 % of
    /// inhibited coolant.
    DensityCurve,
    /// The pure densities of the components, above 70 %; up to 1 % low, since inhibitors make
    /// real coolant heavier.
    PureComponents,
}

/// The mass in grams of component volumes in millilitres, and how it was worked out.
///
/// Up to 70 % glycol: the density curve at 20 °C times the volume after shrinking. Above: 1.1134
/// (ethylene) or 1.0364 (propylene) g and 0.9982 g for each millilitre before mixing. The two differ
/// by up to 1 % where they meet. Negative volumes are read as none.
///
/// ```
/// use domain::fluid::{Glycol, MassSource, composition::mass_of};
/// let (grams, source) = mass_of(Glycol::Eg, 10_000.0, 0.0);
/// assert!((grams - 11_134.0).abs() < 1e-6 && source == MassSource::PureComponents);
/// ```
pub fn mass_of(glycol: Glycol, glycol_ml: f64, water_ml: f64) -> (f64, MassSource) {
    let (glycol_ml, water_ml) = (glycol_ml.max(0.0), water_ml.max(0.0));
    let total_ml = glycol_ml + water_ml;
    let f = if total_ml > 0.0 {
        glycol_ml / total_ml
    } else {
        0.0
    };
    if f <= STRONGEST {
        let shown_ml = total_ml * (1.0 + contraction_percent(glycol, f) / 100.0);
        let grams = shown_ml * kg_per_m3(glycol, 20.0, f) / 1000.0;
        (grams, MassSource::DensityCurve)
    } else {
        let glycol_g = glycol_ml * pure_kg_per_m3(glycol) / 1000.0;
        let water_g = water_ml * WATER_KG_PER_M3 / 1000.0;
        (glycol_g + water_g, MassSource::PureComponents)
    }
}

/// [`mass_of`] with quantities, rounded to a gram.
///
/// ```
/// use domain::fluid::{Components, Glycol, MassSource, mass};
/// use domain::quantity::Volume;
/// let components = Components {
///     glycol: Volume::from_ml(20_000)?,
///     water: Volume::from_ml(20_000)?,
/// };
/// // 40 L shrink by 1.128 % to 39.549 L, at 1073.5 kg/m³
/// let (found, source) = mass(Glycol::Eg, components);
/// assert_eq!(found.to_string(), "42.455 kg");
/// assert_eq!(source, MassSource::DensityCurve);
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
pub fn mass(glycol: Glycol, components: Components) -> (Mass, MassSource) {
    let Components {
        glycol: glycol_volume,
        water,
    } = components;
    let (grams, source) = mass_of(glycol, float(glycol_volume.ml()), float(water.ml()));
    // Two volumes of a million litres weigh less than 2300 t, within the range of a mass.
    let mass = nearest(grams)
        .and_then(|grams| Mass::from_g(grams).ok())
        .unwrap_or(Mass::MAX);
    (mass, source)
}
