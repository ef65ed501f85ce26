//! A loop beside its sisters: the same loop in units of one engine family.

use super::LeakPolicy;

/// How a rate of consumption stands among those of its sisters.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct AmongPeers {
    /// Sisters it is compared with, itself left out.
    pub peers: usize,
    /// Their median, litres per unit of exposure.
    pub median: f64,
    /// 1.4826 × the median distance from it: a standard deviation that one leaker does not widen.
    pub deviation: f64,
    /// How many deviations it lies above the median; below 0 when it uses less.
    pub deviations_above: f64,
    /// Whether that stands out.
    pub stands_out: bool,
}

/// Compares a rate with those of its sisters; none with too few of them.
///
/// Median and median absolute deviation: half the sisters may leak, and the others still tell.
/// Their deviation counts as at least a fifth of the median, so that sisters that are much alike do
/// not make a drop stand out.
///
/// ```
/// use domain::condition::leak::peer::compare;
/// use domain::condition::policy::Policies;
/// let policies = Policies::built_in().unwrap();
/// let policy = policies.in_force("2026-10-05".parse()?).unwrap().leak;
/// // Median 0.6; distances 0.2, 0.1, 0, 0.1, 2.4: median 0.1.
/// let found = compare(2.6, &[0.4, 0.5, 0.6, 0.7, 3.0], &policy).unwrap();
/// assert!((found.median - 0.6).abs() < 1e-12);
/// assert!((found.deviation - 1.4826 * 0.1).abs() < 1e-12);
/// assert!(found.stands_out);
/// assert_eq!(compare(2.6, &[0.4, 0.5], &policy), None);
/// # Ok::<(), chrono::ParseError>(())
/// ```
pub fn compare(rate: f64, sisters: &[f64], policy: &LeakPolicy) -> Option<AmongPeers> {
    if sisters.len() < policy.least_peers {
        return None;
    }
    let middle = median(sisters)?;
    let distances: Vec<f64> = sisters.iter().map(|other| (other - middle).abs()).collect();
    let deviation = (1.4826 * median(&distances)?).max(middle / 5.0);
    let deviations_above = if deviation > 0.0 {
        (rate - middle) / deviation
    } else {
        0.0
    };
    Some(AmongPeers {
        peers: sisters.len(),
        median: middle,
        deviation,
        deviations_above,
        stands_out: deviations_above > policy.peer_deviations,
    })
}

/// The middle value, or between the two in the middle.
fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len().checked_div(2)?;
    let upper = sorted.get(half)?;
    if sorted.len().is_multiple_of(2) {
        let lower = sorted.get(half.checked_sub(1)?)?;
        Some(f64::midpoint(*lower, *upper))
    } else {
        Some(*upper)
    }
}
