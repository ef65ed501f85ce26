//! The freezing curve of pure glycol in water, as a laboratory has it: up to 2.9 °C colder than
//! the trade's fluids at the same share. For comparison, never for a promise.

use super::Glycol;
use super::composition::mass_fraction;

/// The strongest mixture of the curve, % by mass.
const STRONGEST_MASS_PERCENT: f64 = 60.0;

/// About which share by mass the polynomial stands, %, and its coefficients.
const fn polynomial(glycol: Glycol) -> (f64, [f64; 6]) {
    match glycol {
        Glycol::Eg => (
            30.8462,
            [-15.25, -0.808, -0.01334, -7.293e-5, 1.006e-6, 1.14e-9],
        ),
        Glycol::Pg => (
            30.7031,
            [-13.25, -0.6631, -0.01094, -2.283e-4, -3.409e-6, 1.465e-8],
        ),
    }
}

/// Where pure glycol with the share `f` by volume begins to freeze, °C; none above 60 % by mass.
///
/// Source: polynomials of the International Institute of Refrigeration, Properties of Secondary
/// Working Fluids for Indirect Systems, 2010, through `CoolProp` 8.0.0 (MEG and MPG).
///
/// ```
/// use domain::fluid::{Glycol, pure_curve::freeze_c};
/// assert!((freeze_c(Glycol::Eg, 0.5).unwrap() - -39.8453).abs() < 1e-3);
/// assert_eq!(freeze_c(Glycol::Eg, 0.6), None);
/// ```
pub fn freeze_c(glycol: Glycol, f: f64) -> Option<f64> {
    let percent = 100.0 * mass_fraction(glycol, f);
    if !(0.0..=STRONGEST_MASS_PERCENT).contains(&percent) {
        return None;
    }
    let (about, coefficients) = polynomial(glycol);
    let from_there = percent - about;
    Some(
        coefficients
            .iter()
            .rev()
            .fold(0.0, |sum, coefficient| sum * from_there + coefficient),
    )
}
