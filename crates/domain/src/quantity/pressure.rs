//! Gauge pressure, absolute pressure and vacuum: three types, since the same number means
//! three different things.

use super::OutOfBounds;
use super::bounds::quantity;
use super::rounding::wide_from_i64;

quantity! {
    /// A pressure above the air outside (negative below it), in whole pascals.
    ///
    /// It becomes absolute only with an atmosphere:
    ///
    /// ```
    /// use domain::quantity::{AbsolutePressure, GaugePressure};
    /// let cap = GaugePressure::from_pa(103_421)?;
    /// let absolute = cap.absolute(AbsolutePressure::STANDARD_ATMOSPHERE)?;
    /// assert_eq!(absolute.pa(), 204_746);
    /// assert_eq!(absolute.gauge(AbsolutePressure::STANDARD_ATMOSPHERE)?, cap);
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    ///
    /// ```compile_fail,E0369
    /// use domain::quantity::{AbsolutePressure, GaugePressure};
    /// let _ = GaugePressure::MAX + AbsolutePressure::MIN;
    /// ```
    ///
    /// ```compile_fail,E0308
    /// use domain::quantity::GaugePressure;
    /// let _ = GaugePressure::MAX.absolute(GaugePressure::MAX);
    /// ```
    ///
    /// ```compile_fail,E0308
    /// use domain::quantity::{GaugePressure, Vacuum};
    /// let _ = GaugePressure::MAX == Vacuum::MAX;
    /// ```
    GaugePressure(i64, "i64", wide_from_i64) {
        name: "gauge pressure",
        /// −101 325 Pa, one standard atmosphere (ISO 2533) below the air outside.
        min: -101_325,
        /// 5000 kPa.
        max: 5_000_000,
        shown: "kPa gauge", 1000, 3,
        /// From pascals above the air outside.
        from: from_pa,
        /// Pascals above the air outside.
        get: pa,
    }
}

quantity! {
    /// A pressure above nothing, in whole pascals.
    ///
    /// ```
    /// use domain::quantity::AbsolutePressure;
    /// assert_eq!(AbsolutePressure::from_pa(83_500)?.to_string(), "83.500 kPa absolute");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    AbsolutePressure(i64, "i64", wide_from_i64) {
        name: "absolute pressure",
        /// Nothing: 0 Pa.
        min: 0,
        /// 5 101 325 Pa: the highest [`GaugePressure`] on one standard atmosphere.
        max: 5_101_325,
        shown: "kPa absolute", 1000, 3,
        /// From pascals.
        from: from_pa,
        /// Pascals.
        get: pa,
    }
}

quantity! {
    /// How far a pressure lies below the air outside, in whole pascals; what a vacuum gauge shows.
    ///
    /// ```
    /// use domain::quantity::{AbsolutePressure, Vacuum};
    /// let pulled = Vacuum::from_pa(67_728)?; // 20 inHg
    /// let atmosphere = AbsolutePressure::from_pa(83_500)?; // about 1600 m up
    /// assert_eq!(pulled.absolute(atmosphere)?.pa(), 15_772);
    /// assert_eq!(pulled.gauge().pa(), -67_728);
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    ///
    /// ```compile_fail,E0308
    /// use domain::quantity::{GaugePressure, Vacuum};
    /// let pulled: Vacuum = GaugePressure::MIN;
    /// ```
    Vacuum(i64, "i64", wide_from_i64) {
        name: "vacuum",
        /// None: 0 Pa below the air outside.
        min: 0,
        /// 101 325 Pa, one standard atmosphere (ISO 2533).
        max: 101_325,
        shown: "kPa vacuum", 1000, 3,
        /// From pascals below the air outside.
        from: from_pa,
        /// Pascals below the air outside.
        get: pa,
    }
}

impl GaugePressure {
    /// The same pressure above nothing, where the air outside has `atmosphere`.
    ///
    /// # Errors
    /// [`OutOfBounds`] when it would lie below nothing, or above [`AbsolutePressure::MAX`].
    pub fn absolute(self, atmosphere: AbsolutePressure) -> Result<AbsolutePressure, OutOfBounds> {
        AbsolutePressure::from_wide(self.wide().saturating_add(atmosphere.wide()))
    }
}

impl AbsolutePressure {
    /// 101 325 Pa, the standard atmosphere at sea level (ISO 2533).
    pub const STANDARD_ATMOSPHERE: Self = Self(101_325);

    /// The same pressure above the air outside, which has `atmosphere`.
    ///
    /// # Errors
    /// [`OutOfBounds`] when it leaves the range of a [`GaugePressure`].
    pub fn gauge(self, atmosphere: Self) -> Result<GaugePressure, OutOfBounds> {
        GaugePressure::from_wide(self.wide().saturating_sub(atmosphere.wide()))
    }
}

impl Vacuum {
    /// The same pressure above nothing, where the air outside has `atmosphere`.
    ///
    /// # Errors
    /// [`OutOfBounds`] when the vacuum is deeper than that atmosphere allows.
    pub fn absolute(self, atmosphere: AbsolutePressure) -> Result<AbsolutePressure, OutOfBounds> {
        AbsolutePressure::from_wide(atmosphere.wide().saturating_sub(self.wide()))
    }

    /// The same pressure as a gauge pressure at or below zero.
    pub const fn gauge(self) -> GaugePressure {
        GaugePressure(self.0.saturating_neg())
    }
}
