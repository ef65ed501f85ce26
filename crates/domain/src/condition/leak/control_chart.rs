//! Control charts: cumulative sums and the exponentially weighted moving average, as in the
//! NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 and 6.3.2.4.

/// An individuals chart: single values about their mean, with limits three standard deviations off,
/// as the mean moving range of two tells them (÷ 1.128).
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Individuals {
    /// The mean.
    pub mean: f64,
    /// The lower limit; may lie below 0.
    pub low: f64,
    /// The upper limit.
    pub high: f64,
}

/// Works out the chart of some values in their order; none of fewer than two.
///
/// ```
/// use domain::condition::leak::control_chart::individuals;
/// // NIST/SEMATECH e-Handbook 6.3.2.2 (from memory): ten flow rates, mean 50.81, limits 45.8159 and
/// // 55.8041.
/// let rates = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
/// let chart = individuals(&rates).unwrap();
/// assert!((chart.mean - 50.81).abs() < 1e-9);
/// assert!((chart.low - 45.8159).abs() < 1e-3 && (chart.high - 55.8041).abs() < 1e-3);
/// ```
pub fn individuals(values: &[f64]) -> Option<Individuals> {
    let count = |n: usize| i64::try_from(n).ok().map(crate::quantity::rounding::float);
    let moves: Vec<f64> = values
        .windows(2)
        .filter_map(|two| Some((two.first()? - two.last()?).abs()))
        .collect();
    if moves.is_empty() {
        return None;
    }
    let mean = values.iter().sum::<f64>() / count(values.len())?;
    let reach = 3.0 / 1.128 * moves.iter().sum::<f64>() / count(moves.len())?;
    Some(Individuals {
        mean,
        low: mean - reach,
        high: mean + reach,
    })
}

/// A tabular cumulative sum to both sides of a target.
///
/// ```
/// use domain::condition::leak::control_chart::Cusum;
/// let mut chart = Cusum::new(325.0, 0.3175);
/// assert_eq!(chart.add(324.925), (0.0, 0.0));
/// let (high, _) = chart.add(328.325);
/// assert!((high - 3.0075).abs() < 1e-9);
/// ```
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Cusum {
    target: f64,
    slack: f64,
    high: f64,
    low: f64,
}

impl Cusum {
    /// A chart about a target; the slack k is what one value may lie off without adding up.
    pub const fn new(target: f64, slack: f64) -> Self {
        Self {
            target,
            slack,
            high: 0.0,
            low: 0.0,
        }
    }

    /// Adds a value; the sums above and below the target after it.
    pub fn add(&mut self, value: f64) -> (f64, f64) {
        self.high = (self.high + value - self.target - self.slack).max(0.0);
        self.low = (self.low + self.target - self.slack - value).max(0.0);
        (self.high, self.low)
    }
}

/// An exponentially weighted moving average with its limits.
///
/// ```
/// use domain::condition::leak::control_chart::Ewma;
/// let mut chart = Ewma::new(50.0, 0.3);
/// assert!((chart.add(52.0) - 50.6).abs() < 1e-12);
/// ```
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Ewma {
    start: f64,
    weight: f64,
    average: f64,
}

impl Ewma {
    /// A chart that starts at `start`; each value weighs `weight`, above 0 and at most 1.
    pub const fn new(start: f64, weight: f64) -> Self {
        Self {
            start,
            weight,
            average: start,
        }
    }

    /// Adds a value; the average after it.
    pub fn add(&mut self, value: f64) -> f64 {
        self.average = self.weight * value + (1.0 - self.weight) * self.average;
        self.average
    }

    /// The average now.
    pub const fn average(&self) -> f64 {
        self.average
    }

    /// The lower and the upper limit, `widths` standard deviations of the average from its start, for
    /// values with the standard deviation `sigma`: σ √(λ ÷ (2 − λ)).
    pub fn limits(&self, sigma: f64, widths: f64) -> (f64, f64) {
        let reach = widths * sigma * (self.weight / (2.0 - self.weight)).sqrt();
        (self.start - reach, self.start + reach)
    }
}
