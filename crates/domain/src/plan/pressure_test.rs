//! Before a pressure test: how high it may go, and what it could prove at all.

use super::{Against, above, degrees_c, gauge, litres, too_hot};
use crate::gas;
use crate::gas::decay::{Decay, FINER, OpenTank, ZERO_CELSIUS_K};
use crate::quantity::{GaugePressure, Temperature, Volume};

/// A test as it is meant to be done.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct PressureTest {
    /// The pressure; none for as high as may be.
    pub pressure: Option<GaugePressure>,
    /// The lowest rated part of the loop.
    pub loop_rating: Option<GaugePressure>,
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
    /// The air outside.
    pub air: gas::Absolute,
}

/// The plan of a test.
#[derive(Clone, PartialEq, Debug)]
pub struct Planned {
    /// Why not to begin.
    pub against: Vec<Against>,
    /// What it is held at; none where that is not to be planned.
    pub pressure: Option<GaugePressure>,
    /// What one degree of cooling takes off the gauge.
    pub per_degree: Option<GaugePressure>,
    /// What it could see.
    pub sees: Option<Sees>,
    /// A tank that is left open makes every leak look so many times smaller.
    pub dilution: Option<f64>,
}

/// The leaks that a test could see.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Sees {
    /// The smallest that moves the gauge by one step, standard mL of air a minute.
    pub air_ml_min: f64,
    /// The same as coolant, mL a minute.
    pub coolant_ml_min: f64,
}

impl Sees {
    /// The smallest it may be believed about: ten times as large (ASTM E2930).
    #[must_use]
    pub fn believed(self) -> Self {
        Self {
            air_ml_min: FINER * self.air_ml_min,
            coolant_ml_min: FINER * self.coolant_ml_min,
        }
    }
}

impl PressureTest {
    /// Works it out.
    pub fn plan(&self) -> Planned {
        let mut against: Vec<Against> = too_hot(self.temperature).into_iter().collect();
        // Nothing is planned above the rating, and nothing where there is none.
        let pressure = match (self.pressure, self.loop_rating) {
            (Some(wanted), Some(rating)) => (wanted <= rating).then_some(wanted),
            (None, rating) => rating,
            (Some(_), None) => None,
        };
        match (self.pressure, self.loop_rating) {
            (_, None) => against.push(Against::NoLoopRating),
            (Some(wanted), Some(rating)) if wanted > rating => {
                against.push(Against::AboveLoopRating { wanted, rating });
            }
            _ => {}
        }
        let kelvin = degrees_c(self.temperature) + ZERO_CELSIUS_K;
        let per_degree = pressure
            .map(|pressure| gauge(gas::Gauge(above(pressure).absolute(self.air).0 / kelvin)));
        Planned {
            against,
            pressure,
            per_degree,
            sees: pressure.and_then(|pressure| self.sees(pressure)),
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

    /// One step of the gauge, taken as a fall.
    fn sees(&self, pressure: GaugePressure) -> Option<Sees> {
        let gas_l = litres(self.air_space?) + self.tank_air.map_or(0.0, litres);
        let t_c = degrees_c(self.temperature);
        let p1 = above(pressure);
        let found = Decay {
            p1,
            p2: gas::Gauge(p1.0 - above(self.step).0),
            t1_c: t_c,
            t2_c: t_c,
            gas_l,
            minutes: self.minutes,
            atmosphere: self.air,
            step: above(self.step),
        }
        .work_out()
        .ok()?;
        Some(Sees {
            air_ml_min: found.standard_ml_min,
            coolant_ml_min: found.coolant_ml_min,
        })
    }
}
