//! What a pressure test proved: tight, leaks, or nothing at all, and what it could not have seen.
//!
//! The fall is corrected for temperature ([`super::decay`]) and held against its own uncertainty,
//! worked out by the first-order rule of the Guide to the Expression of Uncertainty in Measurement
//! (JCGM 100): the steps of the gauge, the temperatures, the volume of the gas. What the weather does
//! to the atmosphere meanwhile is left out.

use super::decay::{Decay, Decayed, FINER, OpenTank, ZERO_CELSIUS_K};
use super::line::{Line, fit};
use super::{Absolute, Gauge, NotPossible};

/// A temperature is right within so many °C: our own default, no source.
pub const TEMPERATURE_WITHIN_C: f64 = 0.5;
/// So far may a temperature nobody read have moved during a test: our own default, no source.
pub const UNREAD_CHANGE_C: f64 = 5.0;
/// A gauge whose step nobody wrote down has steps as coarse as 1 psi: our own default, no source.
pub const UNREAD_STEP: Gauge = Gauge(super::PA_PER_PSI);
/// The standard uncertainty of an air space that somebody stated, as a share of it: our own
/// default, no source.
pub const AIR_SPACE_SHARE: f64 = 0.2;
/// What is within so many standard uncertainties is not told from nothing: about 95 %.
pub const COVERAGE: f64 = 2.0;

/// One look at the gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// When, seconds from any one moment.
    pub at_s: f64,
    /// What the gauge showed.
    pub pressure: Gauge,
    /// How warm the system was, °C.
    pub t_c: Option<f64>,
}

/// Gas under pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasVolume {
    /// How much, L.
    pub l: f64,
    /// Its standard uncertainty, L.
    pub u_l: f64,
}

impl GasVolume {
    /// As somebody stated it: right within [`AIR_SPACE_SHARE`].
    pub fn stated(l: f64) -> Self {
        Self {
            l,
            u_l: AIR_SPACE_SHARE * l,
        }
    }
}

/// The air of a cart's tank during a test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tank {
    /// Shut off from the system.
    Shut,
    /// Left open to it; how much air, L, where somebody knows it.
    Open(Option<f64>),
}

/// A pressure test as it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Test {
    /// From the first to the last.
    pub looks: Vec<Look>,
    /// The gas in the system.
    pub gas: Option<GasVolume>,
    /// The smallest step of the gauge.
    pub step: Option<Gauge>,
    /// The atmosphere at this height.
    pub atmosphere: Absolute,
    /// Whether the air of a tank took part.
    pub tank: Tank,
}

/// What a test proved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verdict {
    /// No leak as large as it could have seen.
    Tight,
    /// It fell by more than everything else explains.
    Leaks,
    /// Nothing.
    NotEvaluable(Reason),
}

/// Why a test proved nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reason {
    /// The gauge was not read at two moments.
    NoTime,
    /// The air of a tank was left open: a leak looks so many times smaller.
    TankOpen {
        /// How many times, where both volumes are known.
        dilution: Option<f64>,
    },
    /// A temperature is missing, and cooling alone could have done it.
    NoTemperature {
        /// How much cooler it must have got for that, °C; below zero for warmer.
        cooling_c: f64,
    },
    /// It rose by more than its error.
    Rose,
    /// What the change of temperature did outweighs what is left of the fall.
    TemperatureOutweighs {
        /// How far it changed, °C.
        change_c: f64,
    },
    /// Nobody wrote down the step of the gauge, and it did not fall far.
    StepUnknown,
    /// The gauge cannot show a fall of a tenth of the pressure.
    StepTooCoarse,
    /// It fell at first and then stood: hoses stretched, the air cooled.
    Settling {
        /// Since when it stood, seconds from the first look.
        since_s: f64,
    },
}

/// A figure and its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sure {
    /// The figure.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

impl Sure {
    /// Half of the interval it lies in with about 95 %.
    pub fn within(self) -> f64 {
        COVERAGE * self.u
    }
}

/// How much leaks, mL/min.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates {
    /// Gas, standard mL/min.
    pub standard: Sure,
    /// Coolant instead, if the leak is below its level.
    pub coolant: Sure,
    /// The smallest leak that is told from none: gas, standard mL/min.
    pub smallest: f64,
    /// The same as coolant.
    pub smallest_coolant: f64,
    /// The leak that moves the gauge by ten of its steps (the ten-times rule of ASTM E2930).
    pub ten_steps: f64,
}

/// One look, brought to the temperature of the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corrected {
    /// Seconds from the first look.
    pub at_s: f64,
    /// What the gauge showed.
    pub read: Gauge,
    /// What it would have shown at the temperature of the first look; none without temperatures.
    pub corrected: Option<Gauge>,
    /// How sure the point is, one standard uncertainty.
    pub u: Gauge,
}

/// A test with what it comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// What it proved.
    pub verdict: Verdict,
    /// How far it really fell, Pa: corrected where temperatures were read.
    pub fall: Sure,
    /// The largest fall that is not told from none, Pa.
    pub told_from: f64,
    /// How long it was held, s.
    pub seconds: f64,
    /// What the change of temperature did, Pa; none without temperatures.
    pub by_temperature: Option<f64>,
    /// What leaks, where the volume of the gas is known.
    pub rates: Option<Rates>,
    /// The line through three and more looks, Pa/s; below zero when it falls.
    pub slope: Option<Sure>,
    /// Every look.
    pub points: Vec<Corrected>,
}

impl Test {
    /// Judges it.
    ///
    /// ```
    /// use domain::gas::verdict::{GasVolume, Look, Tank, Test, Verdict};
    /// use domain::gas::{Gauge, atmosphere::SEA_LEVEL};
    /// let look = |at_s, psi| Look { at_s, pressure: Gauge::from_psi(psi), t_c: Some(20.0) };
    /// let judged = Test {
    ///     looks: vec![look(0.0, 15.0), look(600.0, 14.5)],
    ///     gas: Some(GasVolume::stated(2.0)),
    ///     step: Some(Gauge::from_psi(0.1)),
    ///     atmosphere: SEA_LEVEL,
    ///     tank: Tank::Shut,
    /// }
    /// .judge()?;
    /// assert_eq!(judged.verdict, Verdict::Leaks);
    /// let rates = judged.rates.unwrap();
    /// assert!((rates.coolant.value - 3.425).abs() < 1e-3);
    /// # Ok::<(), domain::gas::NotPossible>(())
    /// ```
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn judge(&self) -> Result<Judged, NotPossible> {
        let ends = Ends::of(self)?;
        let points = self.points(&ends);
        let whole = (points.len() >= 3).then(|| line(&points)).flatten();
        Ok(Judged {
            verdict: self.verdict(&ends, &points),
            fall: ends.fall,
            told_from: ends.told_from(),
            seconds: ends.seconds,
            by_temperature: ends.by_temperature,
            rates: self.rates(&ends)?,
            slope: whole.map(|line| Sure {
                value: line.slope,
                u: line.u_slope,
            }),
            points,
        })
    }

    /// The first reason against a verdict, else the verdict.
    fn verdict(&self, ends: &Ends, points: &[Corrected]) -> Verdict {
        let fall = ends.fall;
        let is_fall = fall.value > ends.told_from();
        let not = Verdict::NotEvaluable;
        if ends.seconds <= 0.0 {
            return not(Reason::NoTime);
        }
        if let Tank::Open(air) = self.tank {
            return not(Reason::TankOpen {
                dilution: self.dilution(air, ends.seconds),
            });
        }
        let Some(by_temperature) = ends.by_temperature else {
            let could = UNREAD_CHANGE_C * ends.per_degree + ends.told_from();
            if fall.value <= could {
                return not(Reason::NoTemperature {
                    cooling_c: fall.value / ends.per_degree,
                });
            }
            return fell(points);
        };
        if fall.value < -ends.told_from() {
            return not(Reason::Rose);
        }
        let outweighs = if is_fall {
            by_temperature.abs() + COVERAGE * ends.u_temperature > fall.value
        } else {
            by_temperature.abs() > ends.told_from()
        };
        if outweighs {
            return not(Reason::TemperatureOutweighs {
                change_c: ends.change_c,
            });
        }
        match self.step {
            _ if is_fall => fell(points),
            None => not(Reason::StepUnknown),
            Some(step) if FINER * step.0 > ends.first.0 => not(Reason::StepTooCoarse),
            Some(_) => Verdict::Tight,
        }
    }

    fn dilution(&self, tank_l: Option<f64>, seconds: f64) -> Option<f64> {
        let open = OpenTank {
            system_l: self.gas?.l,
            tank_l: tank_l?,
            minutes: seconds / 60.0,
        };
        open.dilution().ok()
    }

    /// The gas that takes part: with the tank's, where that was left open.
    fn taking_part(&self) -> Option<GasVolume> {
        let gas = self.gas?;
        match self.tank {
            Tank::Shut => Some(gas),
            Tank::Open(tank_l) => Some(GasVolume {
                l: gas.l + tank_l?,
                u_l: gas.u_l,
            }),
        }
    }

    fn rates(&self, ends: &Ends) -> Result<Option<Rates>, NotPossible> {
        let Some(gas) = self.taking_part().filter(|_| ends.seconds > 0.0) else {
            return Ok(None);
        };
        let at = |fall: f64| ends.decay(self, gas, fall).work_out();
        let found = at(ends.fall.value)?;
        let told = ends.told_from();
        let all_there_is = ends.first.absolute(self.atmosphere).0;
        if told >= all_there_is {
            return Ok(None);
        }
        let smallest = at(told)?;
        let u = |value: f64, per_pa: f64| (per_pa * ends.fall.u).hypot(value * gas.u_l / gas.l);
        let per_pa = |of: fn(&Decayed) -> f64| of(&smallest) / told;
        let standard = |decayed: &Decayed| decayed.standard_ml_min;
        let coolant = |decayed: &Decayed| decayed.coolant_ml_min;
        Ok(Some(Rates {
            standard: Sure {
                value: found.standard_ml_min,
                u: u(found.standard_ml_min, per_pa(standard)),
            },
            coolant: Sure {
                value: found.coolant_ml_min,
                u: u(found.coolant_ml_min, per_pa(coolant)),
            },
            smallest: smallest.standard_ml_min,
            smallest_coolant: smallest.coolant_ml_min,
            ten_steps: found.smallest_believed_ml_min(),
        }))
    }

    /// Every look at the temperature of the first. Between two temperatures that were read, those
    /// that were not are taken as on a straight line.
    fn points(&self, ends: &Ends) -> Vec<Corrected> {
        let Some(first) = self.looks.first() else {
            return Vec::new();
        };
        let known: Vec<(f64, f64)> = self
            .looks
            .iter()
            .filter_map(|look| Some((look.at_s, look.t_c?)))
            .collect();
        let u = Gauge(
            ends.u_step
                .hypot(ends.u_temperature / std::f64::consts::SQRT_2),
        );
        self.looks
            .iter()
            .map(|look| Corrected {
                at_s: look.at_s - first.at_s,
                read: look.pressure,
                corrected: ends.t1_k.and_then(|t1_k| {
                    let t_k = between(&known, look.at_s)? + ZERO_CELSIUS_K;
                    let p = look.pressure.absolute(self.atmosphere).0;
                    Some(Absolute(p * t1_k / t_k).gauge(self.atmosphere))
                }),
                u,
            })
            .collect()
    }
}

/// The temperature at a moment, on the straight line between the two read around it.
fn between(known: &[(f64, f64)], at_s: f64) -> Option<f64> {
    let after = known.iter().find(|(when, _)| *when >= at_s)?;
    let before = known.iter().rfind(|(when, _)| *when <= at_s)?;
    let span = after.0 - before.0;
    if span <= 0.0 {
        return Some(before.1);
    }
    Some(before.1 + (after.1 - before.1) * (at_s - before.0) / span)
}

/// The two ends of a test, and how sure the fall between them is.
struct Ends {
    first: Gauge,
    /// Kelvin at the first look; none unless both ends were read.
    t1_k: Option<f64>,
    change_c: f64,
    seconds: f64,
    step: Gauge,
    fall: Sure,
    by_temperature: Option<f64>,
    /// What one °C does, Pa.
    per_degree: f64,
    /// Of one reading of the gauge, Pa.
    u_step: f64,
    /// Of the correction, Pa; 0 without one.
    u_temperature: f64,
}

impl Ends {
    fn of(test: &Test) -> Result<Self, NotPossible> {
        /// Without a temperature the gas is taken to be as warm as this to say what one °C does.
        const USUAL_C: f64 = 20.0;
        let nothing = Look {
            at_s: 0.0,
            pressure: Gauge(0.0),
            t_c: None,
        };
        let first = test.looks.first().copied().unwrap_or(nothing);
        let last = test.looks.last().copied().unwrap_or(first);
        let both = first.t_c.zip(last.t_c);
        let (t1_c, t2_c) = both.unwrap_or((USUAL_C, USUAL_C));
        let step = test.step.unwrap_or(UNREAD_STEP);
        let seconds = last.at_s - first.at_s;
        // The volume and the time play no part in the fall; any will do to work it out.
        let found = Decay {
            p1: first.pressure,
            p2: last.pressure,
            t1_c,
            t2_c,
            gas_l: 1.0,
            minutes: 1.0,
            atmosphere: test.atmosphere,
            step,
        }
        .work_out()?;
        let p2 = last.pressure.absolute(test.atmosphere).0;
        let (t1_k, t2_k) = (t1_c + ZERO_CELSIUS_K, t2_c + ZERO_CELSIUS_K);
        // A rectangle has its half-width divided by √3 as standard uncertainty.
        let u_step = step.0 / 12.0_f64.sqrt();
        let u_one_c = TEMPERATURE_WITHIN_C / 3.0_f64.sqrt();
        let u_temperature = if both.is_some() {
            (p2 / t2_k * u_one_c).hypot(p2 * t1_k / (t2_k * t2_k) * u_one_c)
        } else {
            0.0
        };
        let of_steps = u_step * std::f64::consts::SQRT_2;
        Ok(Self {
            first: first.pressure,
            t1_k: both.map(|_| t1_k),
            change_c: t2_c - t1_c,
            seconds,
            step,
            fall: Sure {
                value: found.fall.0,
                u: of_steps.hypot(u_temperature),
            },
            by_temperature: both.map(|_| found.p2_corrected.0 - last.pressure.0),
            per_degree: p2 / t2_k,
            u_step,
            u_temperature,
        })
    }

    /// A fall up to this is none: what the uncertainties leave open, and never less than one step of
    /// the gauge, which a needle between two marks alone explains.
    fn told_from(&self) -> f64 {
        // So much a step may have been rounded by.
        const ROUNDING: f64 = 1e-9;
        self.fall.within().max(self.step.0 * (1.0 + ROUNDING))
    }

    /// A test of this length in which the pressure really fell by so much.
    fn decay(&self, test: &Test, gas: GasVolume, fall: f64) -> Decay {
        let t_c = self.t1_k.map_or(20.0, |t1_k| t1_k - ZERO_CELSIUS_K);
        Decay {
            p1: self.first,
            p2: Gauge(self.first.0 - fall),
            t1_c: t_c,
            t2_c: t_c,
            gas_l: gas.l,
            minutes: self.seconds / 60.0,
            atmosphere: test.atmosphere,
            step: self.step,
        }
    }
}

/// The line through looks.
fn line(points: &[Corrected]) -> Option<Line> {
    let u = points.first()?.u.0;
    let places: Vec<(f64, f64)> = points
        .iter()
        .map(|point| (point.at_s, point.corrected.unwrap_or(point.read).0))
        .collect();
    fit(&places, u)
}

/// A real fall is a leak, unless it only happened at first.
fn fell(points: &[Corrected]) -> Verdict {
    match settled(points) {
        Some(since_s) => Verdict::NotEvaluable(Reason::Settling { since_s }),
        None => Verdict::Leaks,
    }
}

/// Since when it stood, if it only fell at first: the early line is steeper than the late one, the
/// late one is flat, and the late looks would have shown a leak that went on like the whole.
fn settled(points: &[Corrected]) -> Option<f64> {
    if points.len() < 3 {
        return None;
    }
    let middle = points.len() / 2;
    let (early, late) = (points.get(..=middle)?, points.get(middle..)?);
    let since_s = late.first()?.at_s;
    let (whole, early, late) = (line(points)?, line(early)?, line(late)?);
    let told = COVERAGE * early.u_slope.hypot(late.u_slope);
    let is_steeper = late.slope - early.slope > told;
    let is_flat = -late.slope <= COVERAGE * late.u_slope;
    let would_show = late.slope - whole.slope > COVERAGE * late.u_slope;
    (is_steeper && is_flat && would_show).then_some(since_s)
}
