//! How far one level stands above another.

use super::bounds::quantity;
use super::rounding::wide_from_i32;

quantity! {
    /// A height in whole millimetres; below the other level it is negative.
    ///
    /// ```
    /// use domain::quantity::Height;
    /// assert_eq!(Height::from_mm(1_250)?.to_string(), "1.250 m");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    Height(i32, "i32", wide_from_i32) {
        name: "height",
        /// 30 m below.
        min: -30_000,
        /// 30 m above.
        max: 30_000,
        shown: "m", 1000, 3,
        /// From millimetres.
        from: from_mm,
        /// Millimetres.
        get: mm,
    }
}
