//! The only steps between floating point and integers.
//!
//! Physics runs in `f64` inside one function; what it finds leaves through [`nearest`].

/// The floating-point number nearest to `value`; exact up to 2⁵³ (9.0e15).
///
/// ```
/// use domain::quantity::rounding::float;
/// assert!((float(12_500) / 1000.0 - 12.5).abs() < 1e-12);
/// ```
#[expect(
    clippy::as_conversions,
    clippy::cast_precision_loss,
    reason = "every quantity is far below 2^53, where each integer has its own float"
)]
pub const fn float(value: i64) -> f64 {
    value as f64
}

/// The integer nearest to `value`, halves away from zero; none for what is not a number,
/// is infinite, or lies outside `i64`.
///
/// ```
/// use domain::quantity::rounding::nearest;
/// assert_eq!(nearest(-2.5), Some(-3));
/// assert_eq!(nearest(f64::NAN), None);
/// assert_eq!(nearest(1e300), None);
/// ```
#[expect(
    clippy::as_conversions,
    clippy::cast_possible_truncation,
    reason = "the rounded number was just found to lie inside i64"
)]
pub fn nearest(value: f64) -> Option<i64> {
    // 2^63 as a float; i64 reaches from -2^63 up to, but not including, 2^63.
    const LIMIT: f64 = 9_223_372_036_854_775_808.0;
    let rounded = value.round();
    (-LIMIT..LIMIT).contains(&rounded).then_some(rounded as i64)
}

/// `i32` to `i64`, usable in constants.
#[expect(
    clippy::as_conversions,
    reason = "widening, and `From` cannot be called in constants"
)]
pub(crate) const fn wide_from_i32(value: i32) -> i64 {
    value as i64
}

/// `i64` to `i64`; the counterpart of [`wide_from_i32`].
pub(crate) const fn wide_from_i64(value: i64) -> i64 {
    value
}

/// `i64` to `i128`, usable in constants.
#[expect(
    clippy::as_conversions,
    reason = "widening, and `From` cannot be called in constants"
)]
pub(crate) const fn widest(value: i64) -> i128 {
    value as i128
}
