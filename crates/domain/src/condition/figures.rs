//! Strength and freeze point of what a place holds, with how well they are known.

pub use crate::book::chemistry::Chemistry;
use crate::book::outcome::{Figures, Knowledge};
use crate::fluid::{
    freeze_point,
    freeze_point::{fraction_at_floor, slope_c_per_fraction},
};
use crate::quantity::{FractionByVolume, Temperature, rounding::float};

/// Nineteen times of twenty the truth lies within so many standard deviations.
pub const DEVIATIONS_AT_95: f64 = 1.96;

/// A freeze point with its spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Freeze {
    /// The temperature; where the curve ends, the one that it lies at or below even when the
    /// strength is as low as it may be.
    pub at: Temperature,
    /// The curve's temperature for the mean strength, whatever its spread.
    pub at_mean: Temperature,
    /// So far it may lie to either side, at 95 %, °C.
    pub plus_minus_c: f64,
    /// It lies there or anywhere below: the curve ends.
    pub or_below: bool,
}

/// The strength in percent by volume.
pub fn strength_pct(figures: &Figures) -> f64 {
    float(figures.fraction_millionths) / 1e4
}

/// So far the strength may lie to either side, at 95 %, in points.
pub fn strength_plus_minus(figures: &Figures) -> f64 {
    DEVIATIONS_AT_95 * float(figures.sigma_millionths) / 1e4
}

/// The freeze point; none where nobody knows the strength or there is no curve.
pub fn freeze(figures: &Figures, chemistry: Chemistry) -> Option<Freeze> {
    if figures.knowledge == Knowledge::Assumed {
        return None;
    }
    let glycol = chemistry.glycol()?;
    let strength = i32::try_from(figures.fraction_millionths).ok()?;
    let strength = FractionByVolume::from_millionths(strength).ok()?;
    let point = freeze_point(glycol, strength);
    if point.is_at_or_below() {
        let spread = DEVIATIONS_AT_95 * float(figures.sigma_millionths) / 1e6;
        let lowest = (strength.as_ratio() - spread).max(0.0);
        let at = if lowest >= fraction_at_floor(glycol) {
            point.temperature()
        } else {
            let lowest = FractionByVolume::from_ratio(lowest)?;
            freeze_point(glycol, lowest).temperature()
        };
        return Some(Freeze {
            at,
            at_mean: point.temperature(),
            plus_minus_c: 0.0,
            or_below: true,
        });
    }
    let slope = slope_c_per_fraction(glycol, strength.as_ratio()).abs();
    Some(Freeze {
        at: point.temperature(),
        at_mean: point.temperature(),
        plus_minus_c: DEVIATIONS_AT_95 * slope * float(figures.sigma_millionths) / 1e6,
        or_below: false,
    })
}

/// Degrees Celsius as a plain number.
pub fn degrees_c(temperature: Temperature) -> f64 {
    float(i64::from(temperature.millicelsius())) / 1e3
}

#[cfg(test)]
mod tests {
    use crate::book::component::{Base, Component, InhibitorClass};
    use crate::book::contents::Contents;
    use crate::book::outcome::{Figures, Knowledge};
    use crate::fluid::Glycol;

    use super::{Chemistry, degrees_c, freeze, strength_plus_minus};

    const HALF: Figures = Figures {
        shown_ml: 10_000,
        fraction_millionths: 500_000,
        sigma_millionths: 10_000,
        knowledge: Knowledge::Entered,
    };

    #[test]
    fn a_freeze_point_carries_the_spread_of_the_strength() {
        let point = freeze(&HALF, Chemistry::One(Glycol::Eg)).unwrap();
        assert!((degrees_c(point.at) - -37.088).abs() < 1e-9);
        // 1.96 × 0.01 × 138.8 °C
        assert!((point.plus_minus_c - 2.72).abs() < 0.005, "{point:?}");
        assert!((strength_plus_minus(&HALF) - 1.96).abs() < 1e-9);
    }

    #[test]
    fn where_the_curve_ends_the_spread_tells_how_far_down_it_is_sure_to_lie() {
        // The curve of ethylene glycol ends at 57.35 %.
        for (strength, sigma, at) in [
            (620_000, 10_000, -48.3),
            // 60 % − 1.96 × 2 % = 56.08 %
            (600_000, 20_000, -46.115),
        ] {
            let figures = Figures {
                fraction_millionths: strength,
                sigma_millionths: sigma,
                ..HALF
            };
            let point = freeze(&figures, Chemistry::One(Glycol::Eg)).unwrap();
            assert!(point.or_below);
            assert!((degrees_c(point.at) - at).abs() < 0.1, "{point:?}");
            assert!((degrees_c(point.at_mean) - -48.3).abs() < 1e-9);
        }
    }

    #[test]
    fn an_assumed_strength_two_bases_and_nothing_have_no_freeze_point_and_water_has_its_own() {
        let assumed = Figures {
            knowledge: Knowledge::Assumed,
            ..HALF
        };
        assert_eq!(freeze(&assumed, Chemistry::One(Glycol::Eg)), None);
        let concentrate = |base| Component::Concentrate(base, InhibitorClass::Oat);
        for (contents, chemistry) in [
            (Contents::nothing(), Chemistry::NoCurve),
            (
                Contents::from_iter([(concentrate(Base::Eg), 5), (concentrate(Base::Pg), 5)]),
                Chemistry::NoCurve,
            ),
            (
                Contents::from_iter([(concentrate(Base::Glycerin), 5)]),
                Chemistry::NoCurve,
            ),
            (
                Contents::from_iter([(Component::Water, 5)]),
                Chemistry::Water,
            ),
            (
                Contents::from_iter([(concentrate(Base::Pg), 5), (Component::Water, 5)]),
                Chemistry::One(Glycol::Pg),
            ),
        ] {
            assert_eq!(Chemistry::of(&contents), chemistry, "{contents:?}");
        }
        let water = Figures {
            fraction_millionths: 0,
            ..HALF
        };
        assert_eq!(
            degrees_c(freeze(&water, Chemistry::Water).unwrap().at).to_bits(),
            0
        );
    }
}
