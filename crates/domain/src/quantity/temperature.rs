//! A temperature, and the difference between two.

use super::OutOfBounds;
use super::bounds::{quantity, quantity_sums};
use super::rounding::wide_from_i32;

quantity! {
    /// A point on the temperature scale in thousandths of a degree Celsius.
    ///
    /// Two points have a difference; they have no sum:
    ///
    /// ```
    /// use domain::quantity::{Temperature, TemperatureDifference};
    /// let hot = Temperature::from_millicelsius(95_000)?;
    /// let rise = hot.difference_from(Temperature::REFERENCE);
    /// assert_eq!(rise, TemperatureDifference::from_millikelvin(75_000)?);
    /// assert_eq!(Temperature::REFERENCE.checked_add(rise)?, hot);
    /// assert_eq!(hot.checked_sub(rise)?, Temperature::REFERENCE);
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    ///
    /// ```compile_fail,E0308
    /// use domain::quantity::Temperature;
    /// Temperature::REFERENCE.checked_add(Temperature::REFERENCE);
    /// ```
    ///
    /// ```compile_fail,E0369
    /// use domain::quantity::Temperature;
    /// let _ = Temperature::REFERENCE + Temperature::REFERENCE;
    /// ```
    Temperature(i32, "i32", wide_from_i32) {
        name: "temperature",
        /// −100 °C.
        min: -100_000,
        /// 400 °C.
        max: 400_000,
        shown: "°C", 1000, 3,
        /// From thousandths of a degree Celsius.
        from: from_millicelsius,
        /// Thousandths of a degree Celsius.
        get: millicelsius,
    }
}

quantity! {
    /// How far two temperatures lie apart, in thousandths of a kelvin.
    ///
    /// ```
    /// use domain::quantity::TemperatureDifference;
    /// let one = TemperatureDifference::from_millikelvin(1_000)?;
    /// assert_eq!(one.checked_add(one)?.to_string(), "2.000 K");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    TemperatureDifference(i32, "i32", wide_from_i32) {
        name: "temperature difference",
        /// −500 K, from the warmest [`Temperature`] to the coldest.
        min: -500_000,
        /// 500 K, from the coldest [`Temperature`] to the warmest.
        max: 500_000,
        shown: "K", 1000, 3,
        /// From thousandths of a kelvin.
        from: from_millikelvin,
        /// Thousandths of a kelvin.
        get: millikelvin,
    }
}
quantity_sums!(TemperatureDifference);

impl Temperature {
    /// 20 °C, at which the book states every volume.
    pub const REFERENCE: Self = Self(20_000);
    /// 0 °C, at which plain water freezes.
    pub const WATER_FREEZES: Self = Self(0);

    /// This point moved up by a difference.
    ///
    /// # Errors
    /// [`OutOfBounds`] when the point reached is outside the range of a temperature.
    pub fn checked_add(self, difference: TemperatureDifference) -> Result<Self, OutOfBounds> {
        Self::from_wide(self.wide().saturating_add(difference.wide()))
    }

    /// This point moved down by a difference.
    ///
    /// # Errors
    /// [`OutOfBounds`] when the point reached is outside the range of a temperature.
    pub fn checked_sub(self, difference: TemperatureDifference) -> Result<Self, OutOfBounds> {
        Self::from_wide(self.wide().saturating_sub(difference.wide()))
    }

    /// How far this point lies above `other`; negative below it.
    ///
    /// Every two temperatures have a difference, so this cannot fail.
    pub const fn difference_from(self, other: Self) -> TemperatureDifference {
        // Both ends are within ±400 000, so the subtraction stays far inside i32.
        TemperatureDifference(self.0.saturating_sub(other.0))
    }
}
