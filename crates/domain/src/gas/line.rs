//! A straight line through readings, by least squares.

use crate::quantity::rounding::float;

/// A line and how sure its slope is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// At 0.
    pub intercept: f64,
    /// What it rises by for each 1.
    pub slope: f64,
    /// The standard uncertainty of the slope: by what the readings scatter about the line, and never
    /// less than what their own uncertainty makes of it.
    pub u_slope: f64,
}

/// The line y = a + b x through (x, y), each y with the standard uncertainty `u`: b = Sxy ÷ Sxx,
/// and its standard error √(Σr² ÷ (n − 2) ÷ Sxx) from three readings on. None when all lie at one x.
///
/// ```
/// use domain::gas::line::fit;
/// let line = fit(&[(0.0, 1.0), (1.0, 3.0), (2.0, 5.0)], 0.0).unwrap();
/// assert!((line.slope - 2.0).abs() < 1e-12 && (line.intercept - 1.0).abs() < 1e-12);
/// assert!(fit(&[(1.0, 1.0), (1.0, 2.0)], 0.0).is_none());
/// ```
pub fn fit(places: &[(f64, f64)], u: f64) -> Option<Line> {
    let count = float(i64::try_from(places.len()).ok()?);
    let mean = |of: fn(&(f64, f64)) -> f64| places.iter().map(of).sum::<f64>() / count;
    let (mean_x, mean_y) = (mean(|place| place.0), mean(|place| place.1));
    let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
        places.iter().map(|(x, y)| of(x - mean_x, y - mean_y)).sum()
    };
    let spread = sum(&|x, _| x * x);
    if spread.is_nan() || spread <= 0.0 {
        return None;
    }
    let slope = sum(&|x, y| x * y) / spread;
    let left = sum(&|x, y| (y - slope * x) * (y - slope * x));
    let scatter = if count > 2.0 {
        left / (count - 2.0)
    } else {
        0.0
    };
    Some(Line {
        intercept: mean_y - slope * mean_x,
        slope,
        u_slope: (scatter.max(u * u) / spread).sqrt(),
    })
}
