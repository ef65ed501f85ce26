//! How sure a strength and a freeze point are, by the first-order rule of the Guide to the
//! Expression of Uncertainty in Measurement (JCGM 100).

use thiserror::Error;

use super::freeze_point::{fraction_at_floor, fraction_at_freeze, freeze_c, slope_c_per_fraction};
use super::{Glycol, STRONGEST};

/// A freeze point from which no share follows.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error(
    "{found_c:.1} °C is no freeze point of the curve, which goes from 0 down to {floor_c:.1} °C"
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

/// Reads a strength from a freeze point of `reading_c` °C that is right within `half_width_c` °C.
/// A refractometer read with care is right within 1 °C (ASTM D3321).
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

/// Works an exchange of part of a full system out.
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
/// `capacity − exchange`, so that its error is that of both.
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
