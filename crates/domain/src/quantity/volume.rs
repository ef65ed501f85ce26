//! Volume, mass and density.

use super::bounds::{quantity, quantity_sums};
use super::rounding::wide_from_i64;

quantity! {
    /// A volume of liquid in whole millilitres.
    ///
    /// ```
    /// use domain::quantity::Volume;
    /// let cart = Volume::from_ml(30_000)?;
    /// let fill = Volume::from_ml(12_500)?;
    /// assert_eq!(cart.checked_sub(fill)?.to_string(), "17.500 L");
    /// assert!(fill.checked_sub(cart).is_err());
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    Volume(i64, "i64", wide_from_i64) {
        name: "volume",
        /// Nothing: 0 mL.
        min: 0,
        /// One million litres: 1 000 000 000 mL; a bound against slips, not a vessel's size.
        max: 1_000_000_000,
        shown: "L", 1000, 3,
        /// From millilitres.
        from: from_ml,
        /// Millilitres.
        get: ml,
    }
}
quantity_sums!(Volume);

quantity! {
    /// A mass in whole grams.
    ///
    /// ```
    /// use domain::quantity::Mass;
    /// let full = Mass::from_g(61_200)?;
    /// let empty = Mass::from_g(18_700)?;
    /// assert_eq!(full.checked_sub(empty)?.to_string(), "42.500 kg");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    Mass(i64, "i64", wide_from_i64) {
        name: "mass",
        /// Nothing: 0 g.
        min: 0,
        /// Ten thousand tonnes: 10 000 000 000 g, above the mass of any [`Volume`] of coolant.
        max: 10_000_000_000,
        shown: "kg", 1000, 3,
        /// From grams.
        from: from_g,
        /// Grams.
        get: g,
    }
}
quantity_sums!(Mass);

quantity! {
    /// A density in whole grams per cubic metre (thousandths of a kg/m³).
    ///
    /// ```
    /// use domain::quantity::Density;
    /// assert_eq!(Density::from_g_per_m3(1_044_960)?.to_string(), "1,044.960 kg/m³");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    Density(i64, "i64", wide_from_i64) {
        name: "density",
        /// 0 g/m³.
        min: 0,
        /// 2 000 000 g/m³, about twice water.
        max: 2_000_000,
        shown: "kg/m³", 1000, 3,
        /// From grams per cubic metre.
        from: from_g_per_m3,
        /// Grams per cubic metre.
        get: g_per_m3,
    }
}
