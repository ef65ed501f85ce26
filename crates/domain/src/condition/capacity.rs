//! What a loop really takes and how much stays in it after a drain, learned from its jobs; how much a
//! drain will bring; and whether a fill is complete.

use std::collections::BTreeMap;

use super::balance::{self, FillBalance};
use crate::quantity::Volume;
use crate::quantity::rounding::{float, nearest};

/// How a loop is drained. What stays in it differs.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum DrainMethod {
    /// Let out at its drain.
    Gravity,
    /// Drawn out under vacuum at the filler.
    Vacuum,
    /// Drawn out under vacuum through a fitted coupling, at its lowest port.
    Coupling,
}

impl DrainMethod {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Gravity, Self::Vacuum, Self::Coupling];

    /// The word of the policy's table.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gravity => "gravity",
            Self::Vacuum => "vacuum",
            Self::Coupling => "coupling",
        }
    }
}

/// What is taken for likely before a loop has been worked on. Shares of its nominal capacity.
#[derive(Clone, PartialEq, Debug)]
pub struct CapacityPolicy {
    /// One standard deviation of a capacity on a card.
    pub capacity_spread: f64,
    /// What stays in a loop, by method.
    pub residual: BTreeMap<DrainMethod, f64>,
    /// One standard deviation of it within a class of units.
    pub residual_spread: f64,
    /// One standard deviation of what one job brings against another on the same loop.
    pub job_scatter: f64,
    /// A drain that brought less than this share was one of a part.
    pub whole_drain: f64,
    /// One standard deviation of a gauge, L.
    pub gauge_l: f64,
}

/// Something that tells of a loop's capacity.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Evidence {
    /// It was drained: what came out, and what was missing to the mark before.
    Drained {
        /// How.
        method: DrainMethod,
        /// What came out, at 20 °C.
        recovered: Volume,
        /// What was missing before.
        missing: Volume,
    },
    /// It was filled to the mark while wholly empty: new, taken apart, or drained and measured in full.
    FilledDry(Volume),
}

/// A volume with one standard deviation, litres.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Estimate {
    /// The volume.
    pub litres: f64,
    /// One standard deviation of it.
    pub sigma_l: f64,
}

/// A part of a capacity with one standard deviation, 0 to 1.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Share {
    /// The part.
    pub part: f64,
    /// One standard deviation of it.
    pub sigma: f64,
}

/// Capacity first, then what stays in by each method.
const UNKNOWNS: usize = 4;
type Row = [f64; UNKNOWNS];

/// What is known of a loop's capacity and of what stays in it.
#[derive(Clone, PartialEq, Debug)]
pub struct Learned {
    mean: Row,
    covariance: [Row; UNKNOWNS],
    job_scatter_l: f64,
    gauge_l: f64,
    jobs: usize,
}

impl Learned {
    /// What is likely for a nominal capacity.
    pub fn nominal(capacity: Volume, policy: &CapacityPolicy) -> Self {
        let nominal_l = float(capacity.ml()) / 1e3;
        let variance = |share: f64| (share * nominal_l) * (share * nominal_l);
        let mut learned = Self {
            mean: [nominal_l; UNKNOWNS],
            covariance: [[0.0; UNKNOWNS]; UNKNOWNS],
            job_scatter_l: policy.job_scatter * nominal_l,
            gauge_l: policy.gauge_l,
            jobs: 0,
        };
        let residuals = DrainMethod::ALL
            .into_iter()
            .map(|method| policy.residual.get(&method).copied().unwrap_or_default());
        for (mean, residual) in learned.mean.iter_mut().skip(1).zip(residuals) {
            *mean = residual * nominal_l;
        }
        for (at, row) in learned.covariance.iter_mut().enumerate() {
            let spread = if at == 0 {
                policy.capacity_spread
            } else {
                policy.residual_spread
            };
            if let Some(cell) = row.get_mut(at) {
                *cell = variance(spread);
            }
        }
        learned
    }

    /// Takes in what a job told. The order plays no part: this is least squares, one row at a time,
    /// with what was likely before as rows of its own.
    #[must_use]
    pub fn with(mut self, evidence: Evidence) -> Self {
        let litres = |volume: Volume| float(volume.ml()) / 1e3;
        let (row, found_l, sigma_l) = match evidence {
            Evidence::Drained {
                method,
                recovered,
                missing,
            } => (
                brought(method),
                litres(recovered) + litres(missing),
                self.job_scatter_l,
            ),
            Evidence::FilledDry(volume) => (CAPACITY, litres(volume), self.gauge_l * TWO_READINGS),
        };
        let spread = self.covariance.map(|each| dot(&each, &row));
        let variance = dot(&spread, &row) + sigma_l * sigma_l;
        if variance > 0.0 {
            let off = found_l - dot(&self.mean, &row);
            for (mean, part) in self.mean.iter_mut().zip(spread) {
                *mean += part / variance * off;
            }
            for (line, part) in self.covariance.iter_mut().zip(spread) {
                for (cell, other) in line.iter_mut().zip(spread) {
                    *cell -= part * other / variance;
                }
            }
            self.jobs = self.jobs.saturating_add(1);
        }
        self
    }

    /// How many jobs it was learned from.
    pub const fn jobs(&self) -> usize {
        self.jobs
    }

    /// Its capacity.
    pub fn capacity(&self) -> Estimate {
        self.of(&CAPACITY)
    }

    /// What stays in it after a drain.
    pub fn residual(&self, method: DrainMethod) -> Estimate {
        let mut row = brought(method).map(|part| -part);
        if let Some(capacity) = row.first_mut() {
            *capacity = 0.0;
        }
        self.of(&row)
    }

    /// The part of its capacity that stays in it after a drain; none where that comes to no part of it.
    ///
    /// Both are learned from the same jobs and so hang together: r = R ÷ C moves by (dR − r dC) ÷ C.
    pub fn residual_share(&self, method: DrainMethod) -> Option<Share> {
        let capacity_l = self.capacity().litres;
        let part = self.residual(method).litres / capacity_l;
        let mut row = brought(method).map(|part| -part / capacity_l);
        if let Some(of_capacity) = row.first_mut() {
            *of_capacity = -part / capacity_l;
        }
        let sigma = self.of(&row).sigma_l;
        let is_part = (0.0..1.0).contains(&part) && sigma.is_finite();
        is_part.then_some(Share { part, sigma })
    }

    /// What the next drain will bring, when so much is missing to the mark: with the scatter from job
    /// to job in its standard deviation.
    pub fn predict(&self, method: DrainMethod, missing: Volume) -> Estimate {
        let known = self.of(&brought(method));
        Estimate {
            litres: (known.litres - float(missing.ml()) / 1e3).max(0.0),
            sigma_l: known.sigma_l.hypot(self.job_scatter_l),
        }
    }

    fn of(&self, row: &Row) -> Estimate {
        let spread = self.covariance.map(|each| dot(&each, row));
        Estimate {
            litres: dot(&self.mean, row),
            sigma_l: dot(&spread, row).max(0.0).sqrt(),
        }
    }

    /// Judges a fill by what it should have taken after a drain by this method; for where what came
    /// out was not measured, else [`balance::fill`] tells far more.
    fn by_capacity(&self, method: DrainMethod, filled: Volume) -> FillFlag {
        let wanted = self.of(&brought(method));
        let sigma_l = wanted.sigma_l.hypot(self.gauge_l * TWO_READINGS);
        let limit_ml = nearest(ONE_IN_TWENTY * sigma_l * 1e3).unwrap_or(i64::MAX);
        let missing_ml = nearest(wanted.litres * 1e3)
            .unwrap_or(i64::MAX)
            .saturating_sub(filled.ml());
        FillFlag {
            rests_on: RestsOn::Capacity,
            limit_ml,
            balance: if missing_ml > limit_ml {
                FillBalance::Missing(missing_ml)
            } else if missing_ml < limit_ml.saturating_neg() {
                FillBalance::TooMuch(missing_ml.saturating_neg())
            } else {
                FillBalance::Even
            },
        }
    }
}

/// Two readings of one gauge: √2.
const TWO_READINGS: f64 = std::f64::consts::SQRT_2;
/// A chance of 1 in 20 to be above it.
const ONE_IN_TWENTY: f64 = 1.645;
const CAPACITY: Row = [1.0, 0.0, 0.0, 0.0];

/// What a drain brings is the capacity less what stays in.
const fn brought(method: DrainMethod) -> Row {
    match method {
        DrainMethod::Gravity => [1.0, -1.0, 0.0, 0.0],
        DrainMethod::Vacuum => [1.0, 0.0, -1.0, 0.0],
        DrainMethod::Coupling => [1.0, 0.0, 0.0, -1.0],
    }
}

fn dot(one: &Row, other: &Row) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

/// What a fill is held against.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum RestsOn {
    /// What came out before: the sharper of the two.
    Balance,
    /// The capacity and what stays in.
    Capacity,
}

/// Whether a fill is complete.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct FillFlag {
    /// What it came to.
    pub balance: FillBalance,
    /// Held against what.
    pub rests_on: RestsOn,
    /// Less than so much off is told by nothing, mL.
    pub limit_ml: i64,
}

impl FillFlag {
    /// Judges a fill by what was recovered and spilled before it.
    pub fn by_balance(taken_out: Volume, filled: Volume) -> Self {
        Self {
            balance: balance::fill(taken_out.ml(), filled.ml()),
            rests_on: RestsOn::Balance,
            limit_ml: balance::LIMIT_ML,
        }
    }
}

/// Judges a fill to the mark: by what came out before it where that was measured, else by what is
/// known of the loop. `taken_out` is what was recovered and spilled.
pub fn fill(
    taken_out: Option<Volume>,
    filled: Volume,
    (learned, method): (&Learned, DrainMethod),
) -> FillFlag {
    taken_out.map_or_else(
        || learned.by_capacity(method, filled),
        |taken_out| FillFlag::by_balance(taken_out, filled),
    )
}
