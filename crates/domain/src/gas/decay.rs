//! What a falling pressure proves: how much leaked, and what this set-up could not have seen.
//!
//! The amount of gas is p V ÷ T, with absolute pressures and kelvin (the method of ASTM E2930, and of
//! 40 CFR 1065.644 for a vacuum). A standard volume is one at 20 °C and 101.325 kPa.

use super::atmosphere::SEA_LEVEL;
use super::{Absolute, Gauge, NotPossible, above_0, not_below_0};

/// 0 °C in kelvin.
pub(crate) const ZERO_CELSIUS_K: f64 = 273.15;
/// 20 °C in kelvin.
const STANDARD_K: f64 = 293.15;
const ML_PER_L: f64 = 1_000.0;
/// Molar gas constant, J/(mol K): exact since the SI of 2019, cut to 10 digits.
const GAS_CONSTANT: f64 = 8.314_462_618;
/// The gauge should be so many times finer than the leak that is looked for (ASTM E2930).
pub const FINER: f64 = 10.0;

/// A pressure test as it was read.
///
/// ```
/// use domain::gas::{Gauge, atmosphere::SEA_LEVEL, decay::Decay};
/// let test = Decay {
///     p1: Gauge::from_psi(15.0),
///     p2: Gauge::from_psi(14.5),
///     t1_c: 20.0,
///     t2_c: 20.0,
///     gas_l: 2.0,
///     minutes: 10.0,
///     atmosphere: SEA_LEVEL,
///     step: Gauge::from_psi(0.1),
/// };
/// let found = test.work_out().unwrap();
/// assert!((found.standard_ml_min - 6.805).abs() < 1e-3);
/// assert!((found.gas_ml_min - 3.396).abs() < 1e-3);
/// assert!((found.coolant_ml_min - 3.425).abs() < 1e-3);
/// assert!((found.smallest_ml_min - 1.361).abs() < 1e-3);
/// assert!((found.smallest_believed_ml_min() - 13.61).abs() < 1e-2);
/// // 2 °C cooler at the end explains most of the same fall.
/// let cooled = Decay { t2_c: 18.0, ..test }.work_out().unwrap();
/// assert!((cooled.fall.psi() - 0.299).abs() < 1e-3);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Decay {
    /// At the start.
    pub p1: Gauge,
    /// At the end.
    pub p2: Gauge,
    /// At the start, °C.
    pub t1_c: f64,
    /// At the end, °C.
    pub t2_c: f64,
    /// Gas in what is tested, L.
    pub gas_l: f64,
    /// How long it was held, min.
    pub minutes: f64,
    /// The atmosphere at this height.
    pub atmosphere: Absolute,
    /// The smallest step of the gauge.
    pub step: Gauge,
}

/// What a pressure test comes to. A rise is a fall below zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Decayed {
    /// What the end would have been at the temperature of the start.
    pub p2_corrected: Gauge,
    /// How far it really fell.
    pub fall: Gauge,
    /// Gas that leaked, standard mL/min.
    pub standard_ml_min: f64,
    /// The same at the pressure of the test, mL/min.
    pub gas_ml_min: f64,
    /// Coolant that leaked instead, if the leak is below its level, mL/min.
    pub coolant_ml_min: f64,
    /// The smallest leak that moves the gauge by one step, standard mL/min.
    pub smallest_ml_min: f64,
    /// The fall, % of the absolute pressure at the start.
    pub fall_percent: f64,
}

impl Decayed {
    /// The smallest leak that this set-up may be believed about, standard mL/min.
    pub fn smallest_believed_ml_min(&self) -> f64 {
        FINER * self.smallest_ml_min
    }
}

impl Decay {
    /// Works the test out, with absolute pressures and kelvin, Tₛ and pₛ those of a
    /// standard volume:
    ///
    /// - the end as warm as the start, p₂c = p₂ T₁ ÷ T₂; the fall is p₁ − p₂c
    /// - gas in standard mL/min, V (p₁ ÷ T₁ − p₂ ÷ T₂) Tₛ ÷ (pₛ t)
    /// - the same gas at the pressure of the test, V (p₁ − p₂c) ÷ (mean pressure × t)
    /// - coolant instead, out below its level while the gas grows, V (p₁ ÷ p₂c − 1) ÷ t
    /// - the smallest that one step of the gauge shows, V step Tₛ ÷ (pₛ T₁ t)
    ///
    /// It holds for parts that do not give: hoses creep, so they are left under pressure first
    /// (ASTM E2930 leaves such parts out). Warm coolant adds vapour, felt above some 40 °C.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn work_out(&self) -> Result<Decayed, NotPossible> {
        above_0("the gas in the system, L,", self.gas_l)?;
        above_0("the time, min,", self.minutes)?;
        not_below_0("the step of the gauge, psi,", self.step.psi())?;
        let (t1_k, t2_k) = (self.t1_c + ZERO_CELSIUS_K, self.t2_c + ZERO_CELSIUS_K);
        above_0("the temperature at the start, K,", t1_k)?;
        above_0("the temperature at the end, K,", t2_k)?;
        let p1 = self.p1.absolute(self.atmosphere).0;
        let p2 = self.p2.absolute(self.atmosphere).0;
        above_0("the absolute pressure at the start, Pa,", p1)?;
        above_0("the absolute pressure at the end, Pa,", p2)?;
        let corrected = p2 * t1_k / t2_k;
        let fall = p1 - corrected;
        let gas_ml = ML_PER_L * self.gas_l;
        let standard = STANDARD_K / SEA_LEVEL.0;
        Ok(Decayed {
            p2_corrected: Absolute(corrected).gauge(self.atmosphere),
            fall: Gauge(fall),
            standard_ml_min: gas_ml * (p1 / t1_k - p2 / t2_k) * standard / self.minutes,
            gas_ml_min: gas_ml * fall / (f64::midpoint(p1, corrected) * self.minutes),
            coolant_ml_min: gas_ml * (p1 / corrected - 1.0) / self.minutes,
            smallest_ml_min: gas_ml * self.step.0 / t1_k * standard / self.minutes,
            fall_percent: 100.0 * fall / p1,
        })
    }
}

/// A leak looked for while the tank's air was left open to the system, at 20 °C: the leak is the
/// same, and spread over more gas it moves the gauge less.
///
/// ```
/// use domain::gas::{Gauge, decay::OpenTank};
/// let open = OpenTank { system_l: 2.0, tank_l: 40.0, minutes: 10.0 };
/// assert!((open.dilution().unwrap() - 21.0).abs() < 1e-9);
/// // 50 mL/min for 10 min out of 42 L, instead of out of 2 L
/// assert!((open.fall(50.0).unwrap().psi() - 0.175).abs() < 1e-3);
/// let shut = OpenTank { tank_l: 0.0, ..open };
/// assert!((shut.fall(50.0).unwrap().psi() - 3.674).abs() < 1e-3);
/// assert!((open.smallest_ml_min(Gauge::from_psi(0.1)).unwrap() - 28.6).abs() < 0.1);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpenTank {
    /// Gas in the system, L.
    pub system_l: f64,
    /// Gas in the tank that is open to it, L.
    pub tank_l: f64,
    /// How long it is held, min.
    pub minutes: f64,
}

impl OpenTank {
    fn check(&self) -> Result<(), NotPossible> {
        above_0("the gas in the system, L,", self.system_l)?;
        not_below_0("the gas in the tank, L,", self.tank_l)?;
        above_0("the time, min,", self.minutes)
    }

    /// How many times smaller a leak looks: (V system + V tank) ÷ V system.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn dilution(&self) -> Result<f64, NotPossible> {
        self.check()?;
        Ok((self.system_l + self.tank_l) / self.system_l)
    }

    /// How far a leak of so many standard mL/min makes the gauge fall: leak × t × pₛ ÷ V.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn fall(&self, standard_ml_min: f64) -> Result<Gauge, NotPossible> {
        self.check()?;
        not_below_0("the leak, standard mL/min,", standard_ml_min)?;
        let gas_ml = ML_PER_L * (self.system_l + self.tank_l);
        Ok(Gauge(standard_ml_min * self.minutes / gas_ml * SEA_LEVEL.0))
    }

    /// The smallest leak that moves a gauge by one step, standard mL/min: V step ÷ (pₛ t).
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn smallest_ml_min(&self, step: Gauge) -> Result<f64, NotPossible> {
        self.check()?;
        let gas_ml = ML_PER_L * (self.system_l + self.tank_l);
        Ok(gas_ml * step.0 / (SEA_LEVEL.0 * self.minutes))
    }
}

/// How much leaks into a vacuum, mol/s: V ÷ R × (p₂ ÷ T₂ − p₁ ÷ T₁) ÷ t, 40 CFR 1065.644, equation
/// 1065.644-1. Below zero when the pressure fell.
///
/// ```
/// use domain::gas::{Absolute, decay::leak_mol_s};
/// let found = leak_mol_s(2.0, (Absolute(25_300.0), 293.15), (Absolute(50_600.0), 293.15), 70.0);
/// assert!((found - 2.9657e-4).abs() < 1e-8);
/// ```
pub fn leak_mol_s(
    volume_l: f64,
    (p1, t1_k): (Absolute, f64),
    (p2, t2_k): (Absolute, f64),
    seconds: f64,
) -> f64 {
    let volume_m3 = volume_l / ML_PER_L;
    volume_m3 / GAS_CONSTANT * (p2.0 / t2_k - p1.0 / t1_k) / seconds
}
