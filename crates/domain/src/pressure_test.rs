//! A pressure test as it was read, and what it proved.

use crate::book::chemistry::Chemistry;
use crate::book::outcome::Figures;
use crate::gas::verdict::{GasVolume, Judged, Look, Tank, Test, Verdict};
use crate::gas::warmth::Coolant;
use crate::gas::{Absolute, Gauge, NotPossible};
use crate::job::LeakClass;
use crate::quantity::rounding::float;
use crate::quantity::{GaugePressure, Temperature, Volume, entry::Typed};
use serde::{Deserialize, Serialize};

/// A reading between the start and the end.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Between {
    /// Seconds from the start.
    pub after_s: i64,
    /// What the gauge showed.
    pub pressure: Typed<GaugePressure>,
    /// How warm the system was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<Typed<Temperature>>,
}

/// A loop held under pressure to find leaks.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PressureTest {
    /// Pressure at the start.
    pub pressure_start: Typed<GaugePressure>,
    /// Pressure at the end.
    pub pressure_end: Typed<GaugePressure>,
    /// System temperature at the start.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_start: Option<Typed<Temperature>>,
    /// System temperature at the end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_end: Option<Typed<Temperature>>,
    /// How long it was held, seconds.
    pub hold_s: i64,
    /// The gauge's smallest step.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge_step: Option<Typed<GaugePressure>>,
    /// Readings between start and end, in the order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Between>,
    /// Air in the loop, above the coolant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gas_volume: Option<Typed<Volume>>,
    /// The air of a cart's tank was left open to the loop.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub tank_open: bool,
    /// How much air that tank held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank_air: Option<Typed<Volume>>,
    /// Leak seen outside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leak_class: Option<LeakClass>,
    /// Where it was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leak_place: Option<String>,
}

/// What card and book know of the loop that was tested, as it was then.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tested {
    /// The air outside.
    pub atmosphere: Absolute,
    /// Its lowest rated part.
    pub rating: Option<GaugePressure>,
    /// The coolant in it by the book.
    pub held: Option<(Figures, Chemistry)>,
}

impl Tested {
    /// Where nothing is known of the loop.
    pub fn unknown(atmosphere: Absolute) -> Self {
        Self {
            atmosphere,
            rating: None,
            held: None,
        }
    }

    /// None where the coolant has no curve.
    pub(crate) fn coolant(&self) -> Option<Coolant> {
        let (figures, chemistry) = self.held?;
        Some(Coolant {
            l: float(figures.shown_ml) / 1e3,
            glycol: chemistry.glycol()?,
            fraction: float(figures.fraction_millionths) / 1e6,
        })
    }
}

/// What speaks for a leak, or against one.
#[derive(Clone, Debug, PartialEq)]
pub struct Proved {
    /// What the gauge says.
    pub gauge: Judged,
    /// What eyes say: a leak of this class.
    pub seen: Option<LeakClass>,
}

impl Proved {
    /// A leak that was seen is one, whatever the gauge says.
    pub fn verdict(&self) -> Verdict {
        if self.seen.is_some() {
            Verdict::Leaks
        } else {
            self.gauge.verdict
        }
    }
}

impl PressureTest {
    /// Judges it.
    ///
    /// ```
    /// use domain::gas::atmosphere::SEA_LEVEL;
    /// use domain::gas::verdict::Verdict;
    /// use domain::pressure_test::{PressureTest, Tested};
    /// let kept = r#"{
    ///     "pressure_start": {"typed": "108 kPa", "pa": 108000},
    ///     "pressure_end": {"typed": "99 kPa", "pa": 99000},
    ///     "temperature_start": {"typed": "22 °C", "millicelsius": 22000},
    ///     "temperature_end": {"typed": "22 °C", "millicelsius": 22000},
    ///     "hold_s": 300, "gauge_step": {"typed": "1 kPa", "pa": 1000}
    /// }"#;
    /// let test: PressureTest = serde_json::from_str(kept)?;
    /// assert_eq!(test.judge(&Tested::unknown(SEA_LEVEL))?.verdict(), Verdict::Leaks);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn judge(&self, of: &Tested) -> Result<Proved, NotPossible> {
        let gauge = Test {
            looks: self.looks(),
            gas: self
                .gas_volume
                .as_ref()
                .map(|gas| GasVolume::stated(litres(gas.value))),
            step: self.gauge_step.as_ref().map(|step| gauge(step.value)),
            coolant: of.coolant(),
            rating: of.rating.map(gauge),
            atmosphere: of.atmosphere,
            tank: if self.tank_open {
                Tank::Open(self.tank_air.as_ref().map(|air| litres(air.value)))
            } else {
                Tank::Shut
            },
        }
        .judge()?;
        Ok(Proved {
            gauge,
            seen: self.leak_class.filter(|class| u8::from(*class) > 0),
        })
    }

    fn looks(&self) -> Vec<Look> {
        let look = |at_s: i64, pressure: GaugePressure, t: Option<&Typed<Temperature>>| Look {
            at_s: float(at_s),
            pressure: gauge(pressure),
            t_c: t.map(|t| float(i64::from(t.value.millicelsius())) / 1e3),
        };
        let mut looks = vec![look(
            0,
            self.pressure_start.value,
            self.temperature_start.as_ref(),
        )];
        looks.extend(self.readings.iter().map(|between| {
            look(
                between.after_s,
                between.pressure.value,
                between.temperature.as_ref(),
            )
        }));
        looks.push(look(
            self.hold_s,
            self.pressure_end.value,
            self.temperature_end.as_ref(),
        ));
        looks
    }
}

fn gauge(pressure: GaugePressure) -> Gauge {
    Gauge(float(pressure.pa()))
}

fn litres(volume: Volume) -> f64 {
    float(volume.ml()) / 1e3
}
