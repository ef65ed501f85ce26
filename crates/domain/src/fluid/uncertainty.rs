//! How sure a strength and a freeze point are, by the first-order rule of the Guide to the
//! Expression of Uncertainty in Measurement (JCGM 100).

use thiserror::Error;

use super::freeze_point::{fraction_at_floor, fraction_at_freeze, freeze_c, slope_c_per_fraction};
use super::{Glycol, STRONGEST};
use crate::quantity::decimal::tenths;

/// A freeze point from which no share follows.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error(
    "{} °C is no freeze point of the curve, which goes from 0 down to {} °C",
    tenths(*found_c),
    tenths(*floor_c)
)]
pub struct OffTheCurve {
    /// What was read, °C.
    pub found_c: f64,
    /// The coldest of the curve, °C.
    pub floor_c: f64,
}

fn share_at(glycol: Glycol, t_c: f64) -> Result<f64, OffTheCurve> {
    fraction_at_freeze(glycol, t_c).ok_or_else(|| OffTheCurve {
        found_c: t_c,
        floor_c: freeze_c(glycol, STRONGEST),
    })
}

/// What a freeze-point reading says of the strength.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadStrength {
    /// The share by volume.
    pub f: f64,
    /// °C for a share of 1; below zero.
    pub slope_c: f64,
    /// Half the width of the share by the slope.
    pub half_width: f64,
    /// The share if the reading was too cold by the half-width; that of water above 0 °C.
    pub low: f64,
    /// The share if the reading was too warm; none below the floor.
    pub high: Option<f64>,
    /// What may be promised: the reading and the half-width, never above 0 °C, °C.
    pub promise_c: f64,
}

impl ReadStrength {
    /// The standard uncertainty of the share: the reading lies anywhere within its half-width with
    /// the same right, so the half-width ÷ √3 (JCGM 100, 4.3.7).
    pub fn standard(&self) -> f64 {
        self.half_width / 3.0_f64.sqrt()
    }
}

/// Reads a strength from a freeze point of `reading_c` °C that is right within `half_width_c` °C.
///
/// The half-width of the share is that of the reading divided by the curve's slope, δf = δT ÷ |T′(f)|
/// (first order, JCGM 100); the two ends are read off the curve itself. From 0 °C down to the floor.
/// A refractometer read with care is right within 1 °C (ASTM D3321).
///
/// ```
/// use domain::fluid::{Glycol, uncertainty::read_strength};
/// let read = read_strength(Glycol::Eg, -37.0, 1.0).unwrap();
/// assert!((read.f - 0.49937).abs() < 1e-5);
/// // 1 °C ÷ 138.6 °C for a share of 1
/// assert!((read.half_width - 0.0072).abs() < 1e-4);
/// assert!((read.standard() - 0.0042).abs() < 1e-4);
/// assert_eq!(read.promise_c, -36.0);
/// ```
///
/// # Errors
/// [`OffTheCurve`] above 0 °C and below the curve's floor.
pub fn read_strength(
    glycol: Glycol,
    reading_c: f64,
    half_width_c: f64,
) -> Result<ReadStrength, OffTheCurve> {
    let f = share_at(glycol, reading_c)?;
    let slope_c = slope_c_per_fraction(glycol, f);
    Ok(ReadStrength {
        f,
        slope_c,
        half_width: half_width_c / slope_c.abs(),
        low: fraction_at_freeze(glycol, reading_c + half_width_c).unwrap_or(0.0),
        high: fraction_at_freeze(glycol, reading_c - half_width_c),
        promise_c: (reading_c + half_width_c).min(0.0),
    })
}

/// An exchange of part of a full system: what was read, drained and put in. Each `u_…` is a
/// standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchange {
    /// What the system takes, L.
    pub capacity_l: f64,
    /// Of [`Self::capacity_l`], L.
    pub u_capacity_l: f64,
    /// What is drained and put in anew, L.
    pub exchange_l: f64,
    /// Of [`Self::exchange_l`], L.
    pub u_exchange_l: f64,
    /// The freeze point read before, °C.
    pub reading_c: f64,
    /// Of [`Self::reading_c`], °C: 0.577 for a reading that is right within 1 °C.
    pub u_reading_c: f64,
    /// The share by volume of what is put in.
    pub c_refill: f64,
    /// Of [`Self::c_refill`].
    pub u_c_refill: f64,
}

/// What an exchange comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchanged {
    /// The share before.
    pub c0: f64,
    /// Its standard uncertainty.
    pub u_c0: f64,
    /// The share after.
    pub c_end: f64,
    /// Its standard uncertainty.
    pub u_c_end: f64,
    /// The freeze point after, °C.
    pub freeze_c: f64,
    /// Its standard uncertainty, °C; none past the floor, where the curve has no slope.
    pub u_freeze_c: Option<f64>,
    /// What may be promised, °C: two standard uncertainties above; past the floor the warmest that
    /// the share reaches within two of its own.
    pub promise_c: f64,
}

impl Exchanged {
    /// Twice the standard uncertainty, °C: about 95 % of the cases.
    pub fn expanded_c(&self) -> Option<f64> {
        self.u_freeze_c.map(|u_freeze_c| 2.0 * u_freeze_c)
    }
}

/// Works an exchange of part of a full system out: c = (1 − d/V) c₀ + (d/V) cᵣ, and its uncertainty by the first-order rule
/// u² = ((1 − d/V) u(c₀))² + ((d/V) u(cᵣ))² + ((cᵣ − c₀)/V u(d))² + (d (cᵣ − c₀)/V² u(V))²,
/// u(c₀) = u(reading) ÷ |T′(c₀)|.
///
/// Shrinking on mixing is left out, as in [`super::dosing`].
///
/// ```
/// use domain::fluid::{Glycol, uncertainty::{Exchange, exchange}};
/// let found = exchange(Glycol::Eg, Exchange {
///     capacity_l: 40.0,
///     u_capacity_l: 1.0,
///     exchange_l: 10.0,
///     u_exchange_l: 0.2,
///     reading_c: -20.0,
///     u_reading_c: 0.577,
///     c_refill: 1.0,
///     u_c_refill: 0.005,
/// }).unwrap();
/// assert!((found.c_end - 0.513).abs() < 1e-3 && (found.u_c_end - 0.0071).abs() < 1e-4);
/// assert!((found.freeze_c - -38.9).abs() < 0.1 && (found.promise_c - -36.9).abs() < 0.1);
/// ```
///
/// # Errors
/// [`OffTheCurve`] for a reading above 0 °C or below the floor.
pub fn exchange(glycol: Glycol, of: Exchange) -> Result<Exchanged, OffTheCurve> {
    let c0 = share_at(glycol, of.reading_c)?;
    let u_c0 = of.u_reading_c / slope_c_per_fraction(glycol, c0).abs();
    let amounts = Amounts {
        capacity_l: of.capacity_l,
        u_capacity_l: of.u_capacity_l,
        kept_l: of.capacity_l - of.exchange_l,
        u_exchange_l: of.u_exchange_l,
        c_refill: of.c_refill,
        u_c_refill: of.u_c_refill,
    };
    Ok(exchange_of(glycol, (c0, u_c0), amounts))
}

/// How much of a system is kept and what fills it up. Each `u_…` is a standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Amounts {
    /// What the system takes, L.
    pub capacity_l: f64,
    /// Of [`Self::capacity_l`], L.
    pub u_capacity_l: f64,
    /// What stays in it, L.
    pub kept_l: f64,
    /// Of what is drained and put in, L.
    pub u_exchange_l: f64,
    /// The share by volume of what fills it up.
    pub c_refill: f64,
    /// Of [`Self::c_refill`].
    pub u_c_refill: f64,
}

/// Works an exchange out from the share before and its standard uncertainty. What is kept counts as
/// `capacity − exchange`, so that its error is that of both; formulas as for [`exchange`].
///
/// ```
/// use domain::fluid::{Glycol, uncertainty::{Amounts, exchange_of}};
/// let amounts = Amounts {
///     capacity_l: 40.0,
///     u_capacity_l: 1.0,
///     kept_l: 30.0,
///     u_exchange_l: 0.2,
///     c_refill: 1.0,
///     u_c_refill: 0.005,
/// };
/// let found = exchange_of(Glycol::Eg, (0.350_5, 0.006_27), amounts);
/// // 0.75 × 0.3505 + 0.25, and √(0.0047² + 0.00125² + 0.0032² + 0.0041²)
/// assert!((found.c_end - 0.5129).abs() < 1e-4 && (found.u_c_end - 0.0071).abs() < 1e-4);
/// ```
pub fn exchange_of(glycol: Glycol, (c0, u_c0): (f64, f64), of: Amounts) -> Exchanged {
    let part = 1.0 - of.kept_l / of.capacity_l;
    let c_end = (1.0 - part) * c0 + part * of.c_refill;
    let gained = of.c_refill - c0;
    let parts = [
        (1.0 - part) * u_c0,
        part * of.u_c_refill,
        gained / of.capacity_l * of.u_exchange_l,
        part * gained / of.capacity_l * of.u_capacity_l,
    ];
    let u_c_end = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    let freezes_c = freeze_c(glycol, c_end);
    let u_freeze_c = (c_end <= fraction_at_floor(glycol))
        .then(|| slope_c_per_fraction(glycol, c_end).abs() * u_c_end);
    let promise_c = match u_freeze_c {
        Some(u_freeze_c) => (freezes_c + 2.0 * u_freeze_c).min(0.0),
        None => [-2.0, 2.0]
            .map(|times| freeze_c(glycol, c_end + times * u_c_end))
            .into_iter()
            .fold(freezes_c, f64::max),
    };
    Exchanged {
        c0,
        u_c0,
        c_end,
        u_c_end,
        freeze_c: freezes_c,
        u_freeze_c,
        promise_c,
    }
}
