//! Freeze point from strength, and strength from freeze point.
//!
//! One cubic a glycol, `a f + b f² + c f³` °C with `f` the glycol's share by volume, fitted
//! (minimax, kept falling) to the 45 rows a glycol of the freezing tables in ASHRAE Handbook
//! Fundamentals 2001, which are for inhibited industrial glycol. The worst row is 0.28 °C off for
//! ethylene glycol and 0.14 °C for propylene glycol. Tables for pure ethylene glycol are up to 3 °C
//! colder at the same strength and would promise too much.
//!
//! Below the lowest temperature of those tables there is no number: laboratories disagree, and
//! more glycol no longer helps. Ethylene glycol gets worse again above a share of 0.744; that branch
//! is for a warning, never for a promise.

use thiserror::Error;

use super::composition::{fraction_of_moles, mole_fraction};
use super::{Glycol, STRONGEST};
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{FractionByVolume, Temperature};

/// The cubic of one glycol and where it ends.
#[derive(Debug, Clone, Copy)]
struct Curve {
    /// °C at a share of 1, linear term.
    a: f64,
    /// °C, square term.
    b: f64,
    /// °C, cubic term.
    c: f64,
    /// The coldest temperature of the table, °C.
    floor_c: f64,
    /// The share at which the cubic has come down to the floor.
    floor_share: f64,
}

/// Fitted to ASHRAE Fundamentals 2001 up to 55.7 % by volume; the floor is its last row.
const EG: Curve = Curve {
    a: -34.13,
    b: -30.93,
    c: -98.32,
    floor_c: -48.3,
    floor_share: 0.573_547_081_260_264,
};

/// Fitted to ASHRAE Fundamentals 2001; the floor is its last row.
const PG: Curve = Curve {
    a: -36.26,
    b: 32.26,
    c: -188.98,
    floor_c: -51.1,
    floor_share: 0.600_683_256_423_228,
};

/// Pure ethylene glycol melts at 260.15 K and takes 9960 J/mol to do so (data of the Python
/// library `chemicals` 1.5.2); the ideal solubility of its crystals follows from both.
const EG_MELTS_AT_K: f64 = 260.15;
const EG_MELTING_J_PER_MOL: f64 = 9960.0;
/// Molar gas constant, J/(mol K): exact since the SI of 2019, cut to 10 digits.
const GAS_CONSTANT: f64 = 8.314_462_618;
/// 0 °C in kelvin.
const ZERO_CELSIUS_K: f64 = 273.15;

impl Curve {
    const fn of(glycol: Glycol) -> Self {
        match glycol {
            Glycol::Eg => EG,
            Glycol::Pg => PG,
        }
    }

    fn cubic_c(self, f: f64) -> f64 {
        f * (self.a + f * (self.b + f * self.c))
    }

    fn slope(self, f: f64) -> f64 {
        self.a + f * (2.0 * self.b + f * 3.0 * self.c)
    }

    /// The share at which the cubic has come down to `t_c`, which must lie between the floor
    /// and 0. The cubic falls throughout, so there is one such share.
    fn share_at(self, t_c: f64) -> f64 {
        let (mut low, mut high) = (0.0, STRONGEST);
        let mut f = 0.3;
        for _ in 0..60 {
            let off = self.cubic_c(f) - t_c;
            if off > 0.0 {
                low = f;
            } else {
                high = f;
            }
            // Newton's step, or halving when it would leave the bracket.
            let next = f - off / self.slope(f);
            let next = if next > low && next < high {
                next
            } else {
                f64::midpoint(low, high)
            };
            if (next - f).abs() < 1e-13 {
                return next;
            }
            f = next;
        }
        f
    }
}

/// Where on the curve a freeze point lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FreezeStatus {
    /// On the fitted table.
    Table(Temperature),
    /// At or below this temperature, the coldest of the table.
    Floor(Temperature),
    /// Too much ethylene glycol: its own crystals form at this warmer temperature. For a
    /// warning only, up to 3.7 °C off values of ASHRAE recalled from memory.
    Rising(Temperature),
}

/// A freeze point with what is known about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FreezePoint {
    status: FreezeStatus,
    too_strong: bool,
}

impl FreezePoint {
    /// Where on the curve it lies.
    pub const fn status(self) -> FreezeStatus {
        self.status
    }

    /// The temperature; of a floor, the one that it lies at or below.
    pub const fn temperature(self) -> Temperature {
        match self.status {
            FreezeStatus::Table(temperature)
            | FreezeStatus::Floor(temperature)
            | FreezeStatus::Rising(temperature) => temperature,
        }
    }

    /// Whether the fluid freezes at the temperature or anywhere below it.
    pub const fn is_at_or_below(self) -> bool {
        matches!(self.status, FreezeStatus::Floor(_))
    }

    /// Whether the fluid holds more than 70 % glycol by volume, above which stronger is not
    /// better and makers' limits end.
    pub const fn too_strong(self) -> bool {
        self.too_strong
    }
}

/// The strength that a freeze point stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Strength {
    /// This share.
    Exact(FractionByVolume),
    /// The reading lies below the table: this share or any above it.
    AtLeast(FractionByVolume),
}

/// A freeze point warmer than that of water, which no mixture has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("freeze point is {found}, plain water freezes at 0.0 °C")]
pub struct AboveWater {
    /// The freeze point.
    pub found: Temperature,
}

/// The freeze point that may be promised.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Promise {
    /// The curve's.
    Curve(FreezePoint),
    /// The maker's stated minimum, which is warmer.
    Maker(Temperature),
}

impl Promise {
    /// The temperature promised.
    pub const fn temperature(self) -> Temperature {
        match self {
            Self::Curve(point) => point.temperature(),
            Self::Maker(temperature) => temperature,
        }
    }
}

/// The coldest temperature of the table: −48.3 °C for ethylene, −51.1 °C for propylene glycol
/// (ASHRAE Fundamentals 2001).
///
/// ```
/// use domain::fluid::{Glycol, freeze_point::floor};
/// assert_eq!(floor(Glycol::Eg).millicelsius(), -48_300);
/// assert_eq!(floor(Glycol::Pg).millicelsius(), -51_100);
/// ```
pub fn floor(glycol: Glycol) -> Temperature {
    temperature(Curve::of(glycol).floor_c)
}

/// The freeze point of a mixture, rounded to 0.001 °C.
///
/// ```
/// use domain::fluid::{Glycol, freeze_point};
/// use domain::quantity::FractionByVolume;
/// let half = FractionByVolume::from_millionths(500_000)?;
/// // −17.065 − 7.7325 − 12.29 = −37.0875
/// assert_eq!(freeze_point(Glycol::Eg, half).temperature().millicelsius(), -37_088);
/// let strong = FractionByVolume::from_millionths(620_000)?;
/// let point = freeze_point(Glycol::Eg, strong);
/// assert!(point.is_at_or_below() && !point.too_strong());
/// assert_eq!(point.temperature().millicelsius(), -48_300);
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
pub fn freeze_point(glycol: Glycol, strength: FractionByVolume) -> FreezePoint {
    let curve = Curve::of(glycol);
    let f = strength.as_ratio();
    let found = temperature(freeze_c(glycol, f));
    let status = if f <= STRONGEST && curve.cubic_c(f) > curve.floor_c {
        FreezeStatus::Table(found)
    } else if found > floor(glycol) {
        FreezeStatus::Rising(found)
    } else {
        FreezeStatus::Floor(found)
    };
    FreezePoint {
        status,
        too_strong: f > STRONGEST,
    }
}

/// The strength that freezes at `freezes_at`, on the falling side of the curve.
///
/// A freeze *test* of ethylene glycol between −48 and −13 °C has a second answer above a share of
/// 0.744, [`fraction_too_strong_at_freeze`]; a refractometer has not.
///
/// ```
/// use domain::fluid::{Glycol, Strength, strength_at};
/// use domain::quantity::{FractionByVolume, Temperature};
/// let reading = Temperature::from_millicelsius(-37_000)?;
/// assert_eq!(
///     strength_at(Glycol::Eg, reading),
///     Ok(Strength::Exact(FractionByVolume::from_millionths(499_369)?)),
/// );
/// let colder = Temperature::from_millicelsius(-51_100)?;
/// assert_eq!(
///     strength_at(Glycol::Eg, colder),
///     Ok(Strength::AtLeast(FractionByVolume::from_millionths(573_547)?)),
/// );
/// assert!(strength_at(Glycol::Eg, Temperature::from_millicelsius(100)?).is_err());
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
///
/// # Errors
/// [`AboveWater`] above 0 °C: plain water, or a bad reading.
pub fn strength_at(glycol: Glycol, freezes_at: Temperature) -> Result<Strength, AboveWater> {
    let found = freezes_at;
    let t_c = float(i64::from(freezes_at.millicelsius())) / 1000.0;
    if found > Temperature::WATER_FREEZES {
        return Err(AboveWater { found });
    }
    Ok(match fraction_at_freeze(glycol, t_c) {
        Some(f) => Strength::Exact(share(f)),
        None => Strength::AtLeast(share(fraction_at_floor(glycol))),
    })
}

/// The warmer of the curve and the least freeze point that the maker states, where there is one.
///
/// ```
/// use domain::fluid::{Glycol, Promise, freeze_point};
/// use domain::fluid::freeze_point::promised_freeze_point;
/// use domain::quantity::{FractionByVolume, Temperature};
/// let half = FractionByVolume::from_millionths(500_000)?;
/// let curve = freeze_point(Glycol::Pg, half); // −33.7 °C
/// let maker = Temperature::from_millicelsius(-31_000)?;
/// assert_eq!(promised_freeze_point(curve, Some(maker)), Promise::Maker(maker));
/// assert_eq!(promised_freeze_point(curve, None), Promise::Curve(curve));
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
pub fn promised_freeze_point(curve: FreezePoint, makers_minimum: Option<Temperature>) -> Promise {
    match makers_minimum {
        Some(minimum) if minimum > curve.temperature() => Promise::Maker(minimum),
        _ => Promise::Curve(curve),
    }
}

/// Freeze point in °C at a share `f` by volume; shares outside 0 to 1 are read as the nearer end.
///
/// Never below the floor; what is not a number stays so. Sums and products only up to `f` = 0.70,
/// so the same everywhere; the rising branch above takes a logarithm.
///
/// ```
/// use domain::fluid::{Glycol, freeze_point::freeze_c};
/// // 0.4 × (−34.13 + 0.4 × (−30.93 − 0.4 × 98.32))
/// assert!((freeze_c(Glycol::Eg, 0.4) - -24.89328).abs() < 1e-9);
/// ```
pub fn freeze_c(glycol: Glycol, f: f64) -> f64 {
    let curve = Curve::of(glycol);
    if f.is_nan() {
        return f;
    }
    let f = f.clamp(0.0, 1.0);
    if f <= STRONGEST {
        return curve.cubic_c(f).max(curve.floor_c);
    }
    match glycol {
        Glycol::Eg => eg_crystals_c(f).max(curve.floor_c),
        Glycol::Pg => curve.floor_c,
    }
}

/// Where crystals of ethylene glycol form, by ideal solubility.
fn eg_crystals_c(f: f64) -> f64 {
    let share = mole_fraction(Glycol::Eg, f);
    let per_kelvin = 1.0 / EG_MELTS_AT_K - GAS_CONSTANT * share.ln() / EG_MELTING_J_PER_MOL;
    1.0 / per_kelvin - ZERO_CELSIUS_K
}

/// The share by volume that freezes at `t_c` °C; none above 0, below the floor, or when `t_c` is
/// not a number.
///
/// ```
/// use domain::fluid::{Glycol, freeze_point::fraction_at_freeze};
/// let f = fraction_at_freeze(Glycol::Eg, -24.89328).unwrap();
/// assert!((f - 0.4).abs() < 1e-9);
/// assert_eq!(fraction_at_freeze(Glycol::Eg, -50.0), None);
/// ```
pub fn fraction_at_freeze(glycol: Glycol, t_c: f64) -> Option<f64> {
    let curve = Curve::of(glycol);
    (curve.floor_c..=0.0)
        .contains(&t_c)
        .then(|| curve.share_at(t_c))
}

/// The share that a freeze point was read as, "at or below" it where the instrument's scale ended.
///
/// None where [`fraction_at_freeze`] has none, but for "at or below" a temperature under the floor,
/// which still says: the floor's share or more.
///
/// ```
/// use domain::fluid::{Glycol, freeze_point::{fraction_at_floor, fraction_read}};
/// assert_eq!(fraction_read(Glycol::Eg, -50.0, false), None);
/// assert_eq!(fraction_read(Glycol::Eg, -50.0, true), Some(fraction_at_floor(Glycol::Eg)));
/// assert_eq!(fraction_read(Glycol::Eg, 1.0, true), None);
/// ```
pub fn fraction_read(glycol: Glycol, t_c: f64, at_or_below: bool) -> Option<f64> {
    let past_the_floor = at_or_below && t_c < 0.0;
    fraction_at_freeze(glycol, t_c).or_else(|| past_the_floor.then(|| fraction_at_floor(glycol)))
}

/// The other share of ethylene glycol that freezes at `t_c` °C, on the rising branch: 0.744 to 1 for
/// the floor to −13 °C, none outside, and none for propylene glycol.
///
/// A freeze *test* cannot tell this share from [`fraction_at_freeze`]'s; a refractometer can, since
/// the refractive index only rises with the share. Ideal solubility of the glycol's crystals,
/// `ln x = ΔH/R (1/Tₘ − 1/T)` with x the share of molecules; data of the Python library `chemicals`
/// 1.5.2. Up to 3.7 °C off values of ASHRAE recalled from memory: for a warning, never for a dose.
///
/// ```
/// use domain::fluid::{Glycol, freeze_point::{fraction_too_strong_at_freeze, freeze_c}};
/// let f = fraction_too_strong_at_freeze(Glycol::Eg, -29.1).unwrap();
/// assert!((f - 0.897).abs() < 1e-3);
/// assert!((freeze_c(Glycol::Eg, f) - -29.1).abs() < 1e-9);
/// ```
pub fn fraction_too_strong_at_freeze(glycol: Glycol, t_c: f64) -> Option<f64> {
    let melts_at_c = EG_MELTS_AT_K - ZERO_CELSIUS_K;
    if glycol == Glycol::Pg || !(EG.floor_c..=melts_at_c).contains(&t_c) {
        return None;
    }
    let per_kelvin = 1.0 / EG_MELTS_AT_K - 1.0 / (t_c + ZERO_CELSIUS_K);
    let moles = (EG_MELTING_J_PER_MOL / GAS_CONSTANT * per_kelvin).exp();
    Some(fraction_of_moles(glycol, moles))
}

/// The share by volume at which the curve reaches its floor: 0.5735 for ethylene, 0.6007 for
/// propylene glycol.
///
/// ```
/// use domain::fluid::{Glycol, freeze_point::{fraction_at_floor, freeze_c}};
/// let f = fraction_at_floor(Glycol::Pg);
/// assert!((f - 0.6007).abs() < 1e-4);
/// assert!((freeze_c(Glycol::Pg, f) - -51.1).abs() < 1e-9);
/// ```
pub const fn fraction_at_floor(glycol: Glycol) -> f64 {
    Curve::of(glycol).floor_share
}

/// How fast the freeze point falls with the share, °C for a share of 1; always below zero.
///
/// For carrying uncertainty between the two. A share outside the table takes the slope at the
/// nearer end, so dividing by it is safe.
///
/// ```
/// use domain::fluid::{Glycol, freeze_point::slope_c_per_fraction};
/// assert!((slope_c_per_fraction(Glycol::Eg, 0.5) - -138.80).abs() < 0.01);
/// ```
pub fn slope_c_per_fraction(glycol: Glycol, f: f64) -> f64 {
    let curve = Curve::of(glycol);
    let f = if f.is_nan() { 0.0 } else { f };
    curve.slope(f.clamp(0.0, curve.floor_share))
}

/// Temperatures of the curve lie between its floor and 0 °C, so the last arm is never taken; it
/// is the one that promises nothing.
fn temperature(t_c: f64) -> Temperature {
    nearest(t_c * 1000.0)
        .and_then(|millicelsius| i32::try_from(millicelsius).ok())
        .and_then(|millicelsius| Temperature::from_millicelsius(millicelsius).ok())
        .unwrap_or(Temperature::WATER_FREEZES)
}

fn share(f: f64) -> FractionByVolume {
    FractionByVolume::from_ratio(f).unwrap_or(FractionByVolume::MIN)
}
