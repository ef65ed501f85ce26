//! How sure a freeze point is: from the mean strength and its standard deviation, as if the error
//! were normal.

use super::figures::Chemistry;
use crate::book::outcome::{Figures, Knowledge};
use crate::fluid::Glycol;
use crate::fluid::freeze_point::{
    floor, fraction_at_floor, fraction_at_freeze, fraction_too_strong_at_freeze,
};
use crate::quantity::rounding::float;

use super::figures::degrees_c;

/// The chance that a standard normal number is at most `z`: ½ + φ(z) (z + z³/3 + z⁵/(3·5) + …), all
/// terms of one sign, so that nothing cancels.
///
/// ```
/// use domain::condition::probability::normal;
/// // Table of the normal distribution: Φ(1.96) = 0.9750.
/// assert!((normal(1.96) - 0.975_002_104_852).abs() < 1e-12);
/// ```
pub fn normal(z: f64) -> f64 {
    if z.abs() > 8.0 {
        // Off by less than 1e-15.
        return if z > 0.0 { 1.0 } else { 0.0 };
    }
    let (mut term, mut sum) = (z, z);
    for odd in (3..400_u16).step_by(2) {
        term *= z * z / f64::from(odd);
        let before = sum;
        sum += term;
        // Terms only grow while they still count: what adds nothing is followed by nothing that does.
        if sum.total_cmp(&before).is_eq() {
            break;
        }
    }
    let height = (-z * z / 2.0).exp() / std::f64::consts::TAU.sqrt();
    (0.5 + height * sum).clamp(0.0, 1.0)
}

/// The strengths that freeze at or below a temperature: from the first share to the second, which is
/// none where every stronger one does too.
///
/// None below the floor of the curve, where nothing is promised.
pub fn strengths_at_or_below(glycol: Glycol, t_c: f64) -> Option<(f64, Option<f64>)> {
    if t_c >= 0.0 {
        return Some((0.0, None));
    }
    let least = fraction_at_freeze(glycol, t_c).or_else(|| {
        // The floor is rounded to a thousandth of a degree where it is a temperature.
        (t_c >= degrees_c(floor(glycol))).then(|| fraction_at_floor(glycol))
    })?;
    Some((least, fraction_too_strong_at_freeze(glycol, t_c)))
}

/// The chance that a strength known so well freezes at or below `t_c` °C.
///
/// None where nobody knows the strength, where there is no curve, and below the floor of the curve.
///
/// ```
/// use domain::book::outcome::{Figures, Knowledge};
/// use domain::condition::{Chemistry, probability::probability_at_or_below};
/// use domain::fluid::Glycol;
/// let figures = Figures {
///     shown_ml: 40_000,
///     fraction_millionths: 463_000,
///     sigma_millionths: 17_000,
///     knowledge: Knowledge::Tested,
/// };
/// let sure = |t_c| probability_at_or_below(&figures, Chemistry::One(Glycol::Eg), t_c).unwrap();
/// assert!((sure(-31.0) - 0.71).abs() < 0.02);
/// ```
pub fn probability_at_or_below(figures: &Figures, chemistry: Chemistry, t_c: f64) -> Option<f64> {
    if figures.knowledge == Knowledge::Assumed {
        return None;
    }
    let (least, most) = strengths_at_or_below(chemistry.glycol()?, t_c)?;
    let mean = float(figures.fraction_millionths) / 1e6;
    let sigma = float(figures.sigma_millionths) / 1e6;
    Some(probability_between(mean, sigma, (least, most)))
}

/// The chance that a normal number lies between two ends; the upper one may be missing.
pub fn probability_between(mean: f64, sigma: f64, (least, most): (f64, Option<f64>)) -> f64 {
    if sigma <= 0.0 {
        let inside = mean >= least && most.is_none_or(|most| mean <= most);
        return if inside { 1.0 } else { 0.0 };
    }
    // No loop holds less than nothing: with no lower end there is none to fall below.
    let below = if least <= 0.0 {
        0.0
    } else {
        normal((least - mean) / sigma)
    };
    let up_to = most.map_or(1.0, |most| normal((most - mean) / sigma));
    (up_to - below).clamp(0.0, 1.0)
}
