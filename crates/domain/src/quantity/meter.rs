//! What a unit's meters show: distance driven and hours run.

use super::bounds::{quantity, quantity_sums};
use super::rounding::wide_from_i64;

quantity! {
    /// A distance in whole metres.
    ///
    /// ```
    /// use domain::quantity::Distance;
    /// let last = Distance::from_m(121_400_000)?;
    /// let now = Distance::from_m(133_900_000)?;
    /// assert_eq!(now.checked_sub(last)?.to_string(), "12,500.000 km");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    Distance(i64, "i64", wide_from_i64) {
        name: "distance",
        /// Nothing: 0 m.
        min: 0,
        /// Ten million kilometres.
        max: 10_000_000_000,
        shown: "km", 1000, 3,
        /// From metres.
        from: from_m,
        /// Metres.
        get: m,
    }
}
quantity_sums!(Distance);

quantity! {
    /// Engine running time in whole seconds; shown in hours to four decimals (0.36 s).
    ///
    /// ```
    /// use domain::quantity::RunningTime;
    /// assert_eq!(RunningTime::from_s(29_556_900)?.to_string(), "8,210.2500 h");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    RunningTime(i64, "i64", wide_from_i64) {
        name: "running time",
        /// Nothing: 0 s.
        min: 0,
        /// One million hours.
        max: 3_600_000_000,
        shown: "h", 3600, 4,
        /// From seconds.
        from: from_s,
        /// Seconds.
        get: s,
    }
}
quantity_sums!(RunningTime);
