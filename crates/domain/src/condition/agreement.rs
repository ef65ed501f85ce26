//! Several readings of one filling: which one governs, whether a second sample is asked for, and when
//! nothing is proven.

use crate::book::{SECOND_SAMPLE_BEYOND, WAITS_BEYOND};
use crate::fleet::Tool;
use crate::quantity::rounding::float;

/// A reading as a strength, with one standard deviation, both in millionths.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct StrengthRead {
    /// What it was read with.
    pub tool: Tool,
    /// The strength.
    pub millionths: i64,
    /// One standard deviation of it.
    pub sigma_millionths: i64,
}

/// What a tool's reading weighs against another's; the least governs.
pub const fn rank(tool: Tool) -> u8 {
    match tool {
        Tool::Laboratory => 1,
        Tool::Refractometer => 2,
        Tool::DensityMeter | Tool::Gauge => 3,
        Tool::Hydrometer => 4,
        Tool::Strip => 5,
    }
}

/// What the readings come to together.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Agreement {
    /// Two tools of the governing weight contradict each other: nothing is proven, and the loop counts
    /// as not ready.
    NotProven,
    /// The governing one lies so far off the book that it waits for an answer.
    Waits,
    /// It lies off the book: a second sample is asked for, from a warm and circulated system.
    SecondSample,
    /// It agrees with the book, or the book knew nothing.
    Agrees,
}

/// The readings weighed.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Weighed {
    /// The reading that governs: of those that weigh most the last. The others are kept.
    pub governs: StrengthRead,
    /// What they come to.
    pub agreement: Agreement,
    /// How many standard deviations, those of both together, it lies off the book.
    pub off: Option<f64>,
}

/// Weighs readings of one filling, in the order they were taken, against what the book forecast before
/// the first of them: mean and standard deviation, millionths. None without a reading.
///
/// ```
/// use domain::condition::agreement::{Agreement, StrengthRead, weigh};
/// use domain::fleet::Tool;
/// let read = |tool, millionths, sigma_millionths| StrengthRead { tool, millionths, sigma_millionths };
/// let strip = read(Tool::Strip, 400_000, 25_000);
/// let refractometer = read(Tool::Refractometer, 495_000, 5_000);
/// let weighed = weigh(&[refractometer, strip], Some((500_000, 5_000))).unwrap();
/// assert_eq!(weighed.governs, refractometer);
/// assert_eq!(weighed.agreement, Agreement::Agrees);
/// ```
pub fn weigh(readings: &[StrengthRead], forecast: Option<(i64, i64)>) -> Option<Weighed> {
    let best = readings.iter().map(|read| rank(read.tool)).min()?;
    let heaviest = || readings.iter().filter(|read| rank(read.tool) == best);
    let governs = *heaviest().next_back()?;
    let off = forecast.and_then(|(mean, sigma)| {
        let book = StrengthRead {
            millionths: mean,
            sigma_millionths: sigma,
            ..governs
        };
        deviations_apart(governs, book)
    });
    let contradicted = heaviest().any(|read| {
        deviations_apart(governs, *read).is_some_and(|off| off > f64::from(SECOND_SAMPLE_BEYOND))
    });
    let agreement = match off {
        _ if contradicted => Agreement::NotProven,
        Some(off) if off > f64::from(WAITS_BEYOND) => Agreement::Waits,
        Some(off) if off > f64::from(SECOND_SAMPLE_BEYOND) => Agreement::SecondSample,
        _ => Agreement::Agrees,
    };
    Some(Weighed {
        governs,
        agreement,
        off,
    })
}

/// How many standard deviations of both together two strengths lie apart.
fn deviations_apart(one: StrengthRead, other: StrengthRead) -> Option<f64> {
    let both = float(one.sigma_millionths).hypot(float(other.sigma_millionths));
    let apart = float(one.millionths.saturating_sub(other.millionths)).abs();
    (both > 0.0).then(|| apart / both)
}
