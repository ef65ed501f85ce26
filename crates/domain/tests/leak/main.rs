//! Leak suspicion: the charts against published examples, the rule against a simulated fleet.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a table of a test holds only values that are in range"
)]

mod case;
mod fleet;
#[path = "../numbers/mod.rs"]
mod numbers;
mod rule;

use domain::condition::leak::control_chart::{Cusum, Ewma};

/// NIST/SEMATECH e-Handbook 6.3.2.3 (from memory): 20 means of 4, target 325, k = 0.3175,
/// h = 4.1959. Columns: mean, sum above, sum below, to two decimals; the page prints the means
/// rounded too, so a sum may differ by a hundredth for each mean it holds.
const CUSUM: [(f64, f64, f64); 20] = [
    (324.925, 0.00, 0.00),
    (324.675, 0.00, 0.01),
    (324.725, 0.00, 0.00),
    (324.350, 0.00, 0.33),
    (325.350, 0.03, 0.00),
    (325.225, 0.00, 0.00),
    (324.125, 0.00, 0.56),
    (324.525, 0.00, 0.72),
    (325.225, 0.00, 0.17),
    (324.600, 0.00, 0.25),
    (324.625, 0.00, 0.31),
    (325.150, 0.00, 0.00),
    (328.325, 3.01, 0.00),
    (327.250, 4.94, 0.00),
    (327.825, 7.45, 0.00),
    (328.500, 10.63, 0.00),
    (326.675, 11.99, 0.00),
    (327.775, 14.44, 0.00),
    (326.875, 16.00, 0.00),
    (328.350, 19.04, 0.00),
];

#[test]
fn the_cumulative_sum_is_that_of_the_handbook() {
    const DECISION: f64 = 4.1959;
    let mut chart = Cusum::new(325.0, 0.3175);
    let mut first_above = None;
    for (n, (mean, above, below)) in (1..).zip(CUSUM) {
        let (high, low) = chart.add(mean);
        assert!((high - above).abs() <= 0.011, "{n}: {high}");
        assert!((low - below).abs() <= 0.011, "{n}: {low}");
        if high > DECISION {
            first_above = first_above.or(Some(n));
        }
    }
    assert_eq!(first_above, Some(14));
}

/// NIST/SEMATECH e-Handbook 6.3.2.4 (figures as quoted by a program of others that checks itself
/// against that page, and from memory): λ = 0.3, start 50, s = 2.0539, limits 52.5884 and 47.4115.
#[test]
fn the_moving_average_is_that_of_the_handbook() {
    let values = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
        51.2, 52.6, 52.4, 53.6, 52.1,
    ];
    let averages = [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
        50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    let mut chart = Ewma::new(50.0, 0.3);
    // The page cuts √(0.3 ÷ 1.7) off at 0.4201.
    let (low, high) = chart.limits(2.0539, 3.0);
    assert!((high - 52.5884).abs() < 1e-3 && (low - 47.4115).abs() < 1e-3);
    for (value, printed) in values.into_iter().zip(averages) {
        let average = chart.add(value);
        assert!((average - printed).abs() <= 0.005 + 1e-9, "{average}");
        assert!((low..=high).contains(&average));
    }
}
