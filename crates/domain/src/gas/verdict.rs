//! What a pressure test proved: tight, leaks, or nothing at all, and what it could not have seen.
//!
//! The fall is corrected for temperature ([`super::warmth`]) and held against its own uncertainty,
//! worked out by the first-order rule of the Guide to the Expression of Uncertainty in Measurement
//! (JCGM 100): the steps of the gauge, the temperatures, the volume of the gas, the swelling of the
//! coolant. What the weather does to the atmosphere meanwhile is left out.

use super::decay::{Decay, Decayed, FINER, OpenTank, ZERO_CELSIUS_K};
use super::line::{Line, fit};
use super::warmth::{Coolant, VAPOUR_FROM_C, Warmth};
use super::{Absolute, Gauge, NotPossible, above_0, not_below_0};

/// A temperature is right within so many °C: our own default, no source.
pub const TEMPERATURE_WITHIN_C: f64 = 0.5;
/// So far may a temperature nobody read have moved during a test: our own default, no source.
pub const UNREAD_CHANGE_C: f64 = 5.0;
/// A gauge whose step nobody wrote down has steps as coarse as 1 psi: our own default, no source.
pub const UNREAD_STEP: Gauge = Gauge(super::PA_PER_PSI);
/// The standard uncertainty of an air space that somebody stated, as a share of it: our own
/// default, no source.
pub const AIR_SPACE_SHARE: f64 = 0.2;
/// A test is held for so long before it is called tight: public manuals hold it for 5 minutes.
pub const LEAST_HOLD_S: f64 = 300.0;
/// It is pressed to this share of the lowest rated part before it is called tight: our own default,
/// no source.
pub const LEAST_SHARE_OF_RATING: f64 = 0.5;
/// The same where no rating is on record: our own default, no source.
pub const LEAST_PRESSURE: Gauge = Gauge(30_000.0);
/// A fall of more than this share of the absolute pressure at the start is no settling (ASTM E2930
/// limits the total change of a test so).
pub const SETTLES_WITHIN: f64 = 0.1;
/// What has settled still stands at this share of the gauge pressure at the start: our own default,
/// no source.
pub const SETTLED_ABOVE: f64 = 0.5;
/// So many times what a read change of temperature usually does, no loop does: our own default, no
/// source. It tells a gross leak where the volumes are not known.
pub const FOR_SURE: f64 = 5.0;
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
    /// The coolant under it, where it is known how much of what.
    pub coolant: Option<Coolant>,
    /// The lowest rated part of the system.
    pub rating: Option<Gauge>,
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
    /// Too warm to leave the vapour out, and what vapour nobody knows.
    TooWarm {
        /// The warmest it was, °C.
        t_c: f64,
    },
    /// It rose by more than its error.
    Rose,
    /// The temperature changed, and nobody knows how much coolant swells under how much gas.
    VolumesUnknown {
        /// How far it changed, °C.
        change_c: f64,
    },
    /// What the change of temperature did outweighs what is left of the fall.
    TemperatureOutweighs {
        /// How far it changed, °C.
        change_c: f64,
    },
    /// The looks between the ends do not stand where the ends do: gas was let in meanwhile.
    PressedUp,
    /// It was held for less than [`LEAST_HOLD_S`].
    TooShort,
    /// It was not pressed high enough.
    TooLow {
        /// The least it should have been.
        least: Gauge,
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
    /// use domain::fluid::Glycol;
    /// use domain::gas::{Gauge, atmosphere::SEA_LEVEL, warmth::Coolant};
    /// let look = |at_s, psi| Look { at_s, pressure: Gauge::from_psi(psi), t_c: Some(20.0) };
    /// let judged = Test {
    ///     looks: vec![look(0.0, 15.0), look(600.0, 14.5)],
    ///     gas: Some(GasVolume::stated(2.0)),
    ///     coolant: Some(Coolant { l: 38.0, glycol: Glycol::Eg, fraction: 0.5 }),
    ///     rating: Some(Gauge::from_psi(16.0)),
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
        let is_fall = ends.fall.value > ends.told_from();
        match self.against(ends) {
            Some(reason) => Verdict::NotEvaluable(reason),
            None if is_fall => ends.fell(points),
            None => match self.against_tight(ends, points) {
                Some(reason) => Verdict::NotEvaluable(reason),
                None => Verdict::Tight,
            },
        }
    }

    /// Why nothing is proved at all.
    fn against(&self, ends: &Ends) -> Option<Reason> {
        let (fall, told) = (ends.fall.value, ends.told_from());
        if ends.seconds <= 0.0 {
            return Some(Reason::NoTime);
        }
        if let Tank::Open(air) = self.tank {
            return Some(Reason::TankOpen {
                dilution: self.dilution(air, ends.seconds),
            });
        }
        // Vapour takes off no more than all of itself.
        if let Some(t_c) = self
            .too_warm()
            .filter(|t_c| fall <= told + ends.warmth.vapour_pa(*t_c))
        {
            return Some(Reason::TooWarm { t_c });
        }
        let Some(by_temperature) = ends.by_temperature else {
            return (fall <= told).then_some(Reason::NoTemperature {
                cooling_c: fall / ends.per_degree,
            });
        };
        if fall < -told {
            return Some(Reason::Rose);
        }
        let change_c = ends.change_c;
        if !ends.warmth.is_known && change_c.abs() > TEMPERATURE_WITHIN_C {
            let is_gross = fall > SETTLES_WITHIN * ends.first_pa
                && fall > told
                && fall > FOR_SURE * ends.most_by_temperature;
            return (!is_gross).then_some(Reason::VolumesUnknown { change_c });
        }
        let outweighs = if fall > told {
            by_temperature.abs() + COVERAGE * ends.u_warmth > fall
        } else {
            ends.most_by_temperature > told
        };
        outweighs.then_some(Reason::TemperatureOutweighs { change_c })
    }

    /// The warmest look, where the vapour counts and nobody knows of what.
    fn too_warm(&self) -> Option<f64> {
        let warmest = self.looks.iter().filter_map(|look| look.t_c);
        let warmest = warmest.reduce(f64::max)?;
        (self.coolant.is_none() && warmest > VAPOUR_FROM_C).then_some(warmest)
    }

    /// Why what did not fall is not tight all the same.
    fn against_tight(&self, ends: &Ends, points: &[Corrected]) -> Option<Reason> {
        if is_pressed_up(points, ends.told_from()) {
            return Some(Reason::PressedUp);
        }
        if ends.seconds < LEAST_HOLD_S {
            return Some(Reason::TooShort);
        }
        let least = self.rating.map_or(LEAST_PRESSURE, |rating| {
            Gauge(LEAST_SHARE_OF_RATING * rating.0)
        });
        if ends.first.0 < least.0 {
            return Some(Reason::TooLow { least });
        }
        match self.step {
            None => Some(Reason::StepUnknown),
            Some(step) if FINER * step.0 > ends.first.0 => Some(Reason::StepTooCoarse),
            Some(_) => None,
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
        if told >= ends.first_pa - ends.vapour_pa {
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
        let u = Gauge(ends.u_step.hypot(ends.u_warmth / std::f64::consts::SQRT_2));
        self.looks
            .iter()
            .map(|look| Corrected {
                at_s: look.at_s - first.at_s,
                read: look.pressure,
                corrected: ends.t1_c.and_then(|t1_c| {
                    let t_c = between(&known, look.at_s)?;
                    let p = look.pressure.absolute(self.atmosphere).0;
                    let brought = ends.warmth.brought((p, t_c), t1_c);
                    Some(Absolute(brought).gauge(self.atmosphere))
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
    warmth: Warmth,
    first: Gauge,
    /// The same, absolute, Pa.
    first_pa: f64,
    last_corrected: Gauge,
    /// At the first look, °C; none unless both ends were read.
    t1_c: Option<f64>,
    change_c: f64,
    seconds: f64,
    step: Gauge,
    fall: Sure,
    by_temperature: Option<f64>,
    /// What the change of temperature did at most, Pa.
    most_by_temperature: f64,
    /// What cooling by one °C takes off at most, Pa.
    per_degree: f64,
    /// What a temperature nobody read may have done, Pa; 0 where it was read.
    unread: f64,
    /// The vapour in it at the start, Pa.
    vapour_pa: f64,
    /// Of one reading of the gauge, Pa.
    u_step: f64,
    /// Of the correction, Pa; 0 without one.
    u_warmth: f64,
}

impl Ends {
    fn of(test: &Test) -> Result<Self, NotPossible> {
        let nothing = Look {
            at_s: 0.0,
            pressure: Gauge(0.0),
            t_c: None,
        };
        let first = test.looks.first().copied().unwrap_or(nothing);
        let last = test.looks.last().copied().unwrap_or(first);
        let both = first.t_c.zip(last.t_c);
        // The warmest at which vapour is left out: there one °C does the most.
        let taken = first.t_c.or(last.t_c).unwrap_or(VAPOUR_FROM_C);
        let (t1_c, t2_c) = both.unwrap_or((taken, taken));
        let step = test.step.unwrap_or(UNREAD_STEP);
        above_0("the temperature at the start, K,", t1_c + ZERO_CELSIUS_K)?;
        above_0("the temperature at the end, K,", t2_c + ZERO_CELSIUS_K)?;
        not_below_0("the step of the gauge, psi,", step.psi())?;
        let p1 = first.pressure.absolute(test.atmosphere).0;
        let p2 = last.pressure.absolute(test.atmosphere).0;
        above_0("the absolute pressure at the start, Pa,", p1)?;
        above_0("the absolute pressure at the end, Pa,", p2)?;
        let warmth = Warmth::of(test);
        let end = (p2, t2_c);
        let corrected = warmth.brought(end, t1_c);
        let most = warmth.brought_at_most(end, t1_c) - p2;
        let per_degree = warmth.taken_off(end, 1.0);
        let (u_warmth, unread) = if both.is_some() {
            // A rectangle has its half-width divided by √3 as standard uncertainty; two are read.
            let u_read = TEMPERATURE_WITHIN_C * (2.0_f64 / 3.0).sqrt();
            let u_warmth = (per_degree * u_read).hypot(warmth.u_of_swelling(end, t1_c));
            (u_warmth, 0.0)
        } else {
            (0.0, warmth.taken_off(end, UNREAD_CHANGE_C))
        };
        let u_step = step.0 / 12.0_f64.sqrt();
        let of_steps = u_step * std::f64::consts::SQRT_2;
        Ok(Self {
            warmth,
            first: first.pressure,
            first_pa: p1,
            last_corrected: Absolute(corrected).gauge(test.atmosphere),
            t1_c: both.map(|_| t1_c),
            change_c: t2_c - t1_c,
            seconds: last.at_s - first.at_s,
            step,
            fall: Sure {
                value: p1 - corrected,
                u: of_steps.hypot(u_warmth).hypot(unread / 3.0_f64.sqrt()),
            },
            by_temperature: both.map(|_| corrected - p2),
            most_by_temperature: most.abs().max((corrected - p2).abs()),
            per_degree,
            unread,
            vapour_pa: warmth.vapour_pa(t1_c),
            u_step,
            u_warmth,
        })
    }

    /// A fall up to this is none: what the uncertainties leave open, and never less than one step of
    /// the gauge, which a needle between two marks alone explains, on top of what a temperature that
    /// nobody read may have done.
    fn told_from(&self) -> f64 {
        // So much a step may have been rounded by.
        const ROUNDING: f64 = 1e-9;
        let by_step = self.step.0 * (1.0 + ROUNDING);
        self.fall.within().max(by_step + self.unread)
    }

    /// A test of this length in which the pressure really fell by so much. Vapour does not leak away,
    /// so it is left out like the atmosphere's own pressure.
    fn decay(&self, test: &Test, gas: GasVolume, fall: f64) -> Decay {
        let t_c = self.t1_c.unwrap_or(20.0);
        Decay {
            p1: self.first,
            p2: Gauge(self.first.0 - fall),
            t1_c: t_c,
            t2_c: t_c,
            gas_l: gas.l,
            minutes: self.seconds / 60.0,
            atmosphere: Absolute(test.atmosphere.0 - self.vapour_pa),
            step: self.step,
        }
    }

    /// A real fall is a leak, unless it was small, only happened at first and left it under pressure.
    fn fell(&self, points: &[Corrected]) -> Verdict {
        let is_small = self.fall.value <= SETTLES_WITHIN * self.first_pa;
        let stands = self.last_corrected.0 >= SETTLED_ABOVE * self.first.0;
        match settled(points).filter(|_| is_small && stands) {
            Some(since_s) => Verdict::NotEvaluable(Reason::Settling { since_s }),
            None => Verdict::Leaks,
        }
    }
}

/// Some look stands further from the first, or from the one before it, than is told from nothing.
fn is_pressed_up(points: &[Corrected], told_from: f64) -> bool {
    let at = |point: &Corrected| point.corrected.unwrap_or(point.read).0;
    let first = points.first().map(at);
    let befores = std::iter::once(first).chain(points.iter().map(|point| Some(at(point))));
    points.iter().zip(befores).any(|(point, before)| {
        [first, before]
            .into_iter()
            .flatten()
            .any(|other| (at(point) - other).abs() > told_from)
    })
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
