//! Before a pressure test: how high it may go, and what it could prove at all.
//!
//! What it could see is asked of the judgement itself, with a gauge that stands still: a plan never
//! promises what the verdict would not give.

use super::{Against, above, degrees_c, gauge, litres, too_hot};
use crate::gas;
use crate::gas::decay::OpenTank;
use crate::gas::verdict::{GasVolume, Judged, Look, Reason, Tank, Test, Verdict};
use crate::pressure_test::Tested;
use crate::quantity::{GaugePressure, Temperature, Volume};

/// The cooling that a plan tells of: 5 °C, which is 9 °F and shows on a gauge.
pub const COOLING_C: f64 = 5.0;

/// A test as it is meant to be done.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct PressureTest {
    /// The pressure; none for as high as may be.
    pub pressure: Option<GaugePressure>,
    /// What card and book know of the loop.
    pub of: Tested,
    /// Air in the loop.
    pub air_space: Option<Volume>,
    /// Air of a tank that is left open to it.
    pub tank_air: Option<Volume>,
    /// How long it is held, min.
    pub minutes: f64,
    /// The smallest step of the gauge.
    pub step: GaugePressure,
    /// How warm it is.
    pub temperature: Temperature,
}

/// The plan of a test.
#[derive(Clone, PartialEq, Debug)]
pub struct Planned {
    /// Why not to begin.
    pub against: Vec<Against>,
    /// What it is held at; none where that is not to be planned.
    pub pressure: Option<GaugePressure>,
    /// What cooling by [`COOLING_C`] takes off the gauge.
    pub cooling: Option<GaugePressure>,
    /// What it could see.
    pub sees: Option<Sees>,
    /// Why even a gauge that stands still would prove nothing.
    pub falls_short: Option<Reason>,
    /// A tank that is left open makes every leak look so many times smaller.
    pub dilution: Option<f64>,
}

/// The leaks that a test could see.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Sees {
    /// The smallest that is told from none, standard mL of air a minute.
    pub air_ml_min: f64,
    /// The same as coolant, mL a minute.
    pub coolant_ml_min: f64,
    /// The leak that moves the gauge by ten of its steps (the ten-times rule of ASTM E2930), standard
    /// mL of air a minute.
    pub ten_steps_ml_min: f64,
}

impl PressureTest {
    /// Works it out.
    pub fn plan(&self) -> Planned {
        let mut against: Vec<Against> = too_hot(self.temperature).into_iter().collect();
        // Nothing is planned above the rating, and nothing where there is none.
        let pressure = match (self.pressure, self.of.rating) {
            (Some(wanted), Some(rating)) => (wanted <= rating).then_some(wanted),
            (None, rating) => rating,
            (Some(_), None) => None,
        };
        match (self.pressure, self.of.rating) {
            (_, None) => against.push(Against::NoLoopRating),
            (Some(wanted), Some(rating)) if wanted > rating => {
                against.push(Against::AboveLoopRating { wanted, rating });
            }
            _ => {}
        }
        let still = pressure.and_then(|pressure| self.judged(pressure, 0.0));
        let cooled = pressure.and_then(|pressure| self.judged(pressure, COOLING_C));
        Planned {
            against,
            pressure,
            cooling: cooled
                .and_then(|judged| judged.by_temperature)
                .map(|pa| gauge(gas::Gauge(pa.abs()))),
            sees: still.as_ref().and_then(Sees::of),
            falls_short: still.and_then(|judged| match judged.verdict {
                Verdict::NotEvaluable(reason) => Some(reason),
                Verdict::Tight | Verdict::Leaks => None,
            }),
            dilution: self.open().and_then(|open| open.dilution().ok()),
        }
    }

    fn open(&self) -> Option<OpenTank> {
        Some(OpenTank {
            system_l: litres(self.air_space?),
            tank_l: litres(self.tank_air?),
            minutes: self.minutes,
        })
    }

    /// The test with a gauge that stands still while the loop cools.
    fn judged(&self, pressure: GaugePressure, cooling_c: f64) -> Option<Judged> {
        let t_c = degrees_c(self.temperature);
        let look = |at_s, t_c| Look {
            at_s,
            pressure: above(pressure),
            t_c: Some(t_c),
        };
        let test = Test {
            looks: vec![look(0.0, t_c), look(60.0 * self.minutes, t_c - cooling_c)],
            gas: self.air_space.map(|air| GasVolume::stated(litres(air))),
            coolant: self.of.coolant(),
            rating: self.of.rating.map(above),
            step: Some(above(self.step)),
            atmosphere: self.of.atmosphere,
            tank: Tank::Shut,
        };
        test.judge().ok()
    }
}

impl Sees {
    fn of(judged: &Judged) -> Option<Self> {
        let rates = judged.rates?;
        Some(Self {
            air_ml_min: rates.smallest,
            coolant_ml_min: rates.smallest_coolant,
            ten_steps_ml_min: rates.ten_steps,
        })
    }
}
