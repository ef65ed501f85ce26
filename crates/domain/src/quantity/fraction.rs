//! Glycol strength by volume and by mass: two types, since 50 % by volume of ethylene glycol is
//! 52.7 % by mass.

use super::bounds::{quantity, quantity_sums};
use super::rounding::{float, nearest, wide_from_i32};

quantity! {
    /// The share of glycol by volume, in millionths: the trade's "strength".
    ///
    /// Component volumes before mixing at 20 °C.
    ///
    /// ```
    /// use domain::quantity::FractionByVolume;
    /// let half = FractionByVolume::from_millionths(500_000)?;
    /// assert_eq!(half.to_string(), "50.0000 % by volume");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    ///
    /// ```compile_fail,E0308
    /// use domain::quantity::{FractionByMass, FractionByVolume};
    /// let _ = FractionByVolume::MAX.checked_sub(FractionByMass::MAX);
    /// ```
    FractionByVolume(i32, "i32", wide_from_i32) {
        name: "strength by volume",
        /// None: 0.
        min: 0,
        /// All: 1 000 000 millionths.
        max: 1_000_000,
        shown: "% by volume", 10_000, 4,
        /// From millionths.
        from: from_millionths,
        /// Millionths.
        get: millionths,
    }
}
quantity_sums!(FractionByVolume);

quantity! {
    /// The share of glycol by mass, in millionths.
    ///
    /// ```
    /// use domain::quantity::FractionByMass;
    /// let half = FractionByMass::from_millionths(500_000)?;
    /// assert_eq!(half.to_string(), "50.0000 % by mass");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    ///
    /// ```compile_fail,E0308
    /// use domain::quantity::{FractionByMass, FractionByVolume};
    /// let strength: FractionByVolume = FractionByMass::MAX;
    /// ```
    FractionByMass(i32, "i32", wide_from_i32) {
        name: "strength by mass",
        /// None: 0.
        min: 0,
        /// All: 1 000 000 millionths.
        max: 1_000_000,
        shown: "% by mass", 10_000, 4,
        /// From millionths.
        from: from_millionths,
        /// Millionths.
        get: millionths,
    }
}
quantity_sums!(FractionByMass);

impl FractionByVolume {
    /// The share as a plain number, 0 to 1.
    pub fn as_ratio(self) -> f64 {
        float(wide_from_i32(self.0)) / 1e6
    }

    /// From a plain number, rounded to the nearest millionth; none outside 0 to 1.
    ///
    /// ```
    /// use domain::quantity::FractionByVolume;
    /// let third = FractionByVolume::from_ratio(1.0 / 3.0).unwrap();
    /// assert_eq!(third.millionths(), 333_333);
    /// assert_eq!(FractionByVolume::from_ratio(f64::NAN), None);
    /// ```
    pub fn from_ratio(ratio: f64) -> Option<Self> {
        let millionths = nearest(ratio * 1e6)?;
        Self::from_wide(i128::from(millionths)).ok()
    }
}

impl FractionByMass {
    /// The share as a plain number, 0 to 1.
    pub fn as_ratio(self) -> f64 {
        float(wide_from_i32(self.0)) / 1e6
    }

    /// From a plain number, rounded to the nearest millionth; none outside 0 to 1.
    pub fn from_ratio(ratio: f64) -> Option<Self> {
        let millionths = nearest(ratio * 1e6)?;
        Self::from_wide(i128::from(millionths)).ok()
    }
}
