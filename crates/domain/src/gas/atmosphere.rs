//! The atmosphere at a height above sea level.

use super::{Absolute, NotPossible};

/// Standard pressure at sea level (ISO 2533).
pub const SEA_LEVEL: Absolute = Absolute(101_325.0);

const LOWEST_M: f64 = -500.0;
/// The troposphere of the standard atmosphere ends here.
const HIGHEST_M: f64 = 11_000.0;

/// The standard atmosphere: 101.325 kPa × (1 − 0.0065 h ÷ 288.15)^5.25588 (ISO 2533, troposphere).
/// The Python library `fluids` 1.3.1 agrees within 0.02 % up to 3,000 m. The weather moves it by
/// some 3 % either way.
///
/// ```
/// use domain::gas::atmosphere::standard;
/// assert!((standard(1_600.0).unwrap().kpa() - 83.5235).abs() < 1e-3);
/// ```
///
/// # Errors
/// [`NotPossible::Height`] below −500 m and above 11,000 m.
pub fn standard(altitude_m: f64) -> Result<Absolute, NotPossible> {
    if !(LOWEST_M..=HIGHEST_M).contains(&altitude_m) {
        return Err(NotPossible::Height {
            found_m: altitude_m,
        });
    }
    let share = (1.0 - 0.0065 * altitude_m / 288.15).powf(5.255_88);
    Ok(Absolute(SEA_LEVEL.0 * share))
}
