//! Whether the coolant of a loop is ready for the lowest temperature its shop must expect.

use super::figures::degrees_c;
use super::probability::probability_at_or_below;
use crate::book::contents::{MILLION, share};
use crate::book::outcome::{Figures, Knowledge};
use crate::condition::figures::{Chemistry, DEVIATIONS_AT_95, Freeze, freeze};
use crate::fluid::freeze_point;
use crate::fluid::freeze_point::floor;
use crate::moment::{DAY_MS, Moment};
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{FractionByVolume, Temperature, TemperatureDifference};

/// What is known of the coolant in a place at the moment of asking.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Known {
    /// Its figures; the standard deviation with the drift up to now, see
    /// [`drifted`](crate::book::drifted).
    pub figures: Figures,
    /// What the freeze curve needs to know of it.
    pub chemistry: Chemistry,
    /// When a reading last counted.
    pub last_reading_at: Option<Moment>,
}

/// Where the lines are drawn; their figures are rows of the [policy](super::policy).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct FreezePolicy {
    /// A margin below this wants a look soon.
    pub margin_watch: TemperatureDifference,
    /// A test older than so many days is not recent.
    pub test_older_than_days: i64,
    /// A loop that holds less of its capacity is not ready, however strong: millionths.
    pub least_level_millionths: i64,
}

impl FreezePolicy {
    /// Whether a loop counts as tested within the window. The age is in whole days, as pages show it, so
    /// that nobody reads "180 days" beside "older than 180 days".
    ///
    /// ```
    /// use domain::condition::policy::Policies;
    /// let policy = Policies::on("2026-10-05".parse()?)?.freeze;
    /// assert_eq!(policy.test_older_than_days, 180);
    /// assert!(policy.is_tested(Some(180)));
    /// assert!(!policy.is_tested(Some(181)) && !policy.is_tested(None));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn is_tested(&self, test_age_days: Option<i64>) -> bool {
        test_age_days.is_some_and(|days| days <= self.test_older_than_days)
    }
}

/// Whole days since a reading last counted. One that lies ahead of a clock that was put back is new.
pub fn test_age_days(last_reading_at: Option<Moment>, now: Moment) -> Option<i64> {
    now.ms_since(last_reading_at?).max(0).checked_div(DAY_MS)
}

/// The loop that the coolant is in, as far as its readiness depends on it.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Setting {
    /// Lowest temperature to be ready for.
    pub winter_low: Option<Temperature>,
    /// Its nominal capacity, mL.
    pub capacity_ml: Option<i64>,
    /// A question about a job that changed it is open.
    pub has_open_question: bool,
}

/// The verdict on a loop's freeze point, as a board shows it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum FreezeVerdict {
    /// It freezes, or nothing is in it.
    DoNotRelease,
    /// Somebody has to look at it before it can be called ready.
    CheckSoon,
    /// It was strong enough when it was last tested, and that is too long ago.
    NoRecentTest,
    /// No reading ever counted.
    NoTestYet,
    /// Tested not long ago, and strong enough even on the warm side of what is known.
    Ready,
}

impl FreezeVerdict {
    /// All verdicts, the gravest first.
    pub const ALL: [Self; 5] = [
        Self::DoNotRelease,
        Self::CheckSoon,
        Self::NoRecentTest,
        Self::NoTestYet,
        Self::Ready,
    ];

    /// The words on a page.
    pub fn words(self) -> &'static str {
        match self {
            Self::DoNotRelease => "Do not release",
            Self::CheckSoon => "Check soon",
            Self::NoRecentTest => "No recent test",
            Self::NoTestYet => "No test yet",
            Self::Ready => "Ready",
        }
    }

    /// The code in an address.
    pub fn code(self) -> &'static str {
        match self {
            Self::DoNotRelease => "do_not_release",
            Self::CheckSoon => "check_soon",
            Self::NoRecentTest => "no_recent_test",
            Self::NoTestYet => "no_test_yet",
            Self::Ready => "ready",
        }
    }

    /// The verdict a code names.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|verdict| verdict.code() == code)
    }
}

/// What a verdict rests on.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum FreezeReason {
    /// It may freeze before the winter low is reached.
    FreezesAboveWinterLow,
    /// By the book it holds nothing.
    Empty,
    /// It holds two bases, or one without a curve: there is no freeze point to work out.
    NoCurve,
    /// The curve ends above the winter low, so how much deeper it protects is not known.
    CurveEndsAboveWinterLow,
    /// It holds too little for its capacity.
    LowLevel,
    /// The margin is small.
    SmallMargin,
    /// A question about a job that changed it is open.
    OpenQuestion,
    /// The shop has no winter low on its card.
    NoWinterLow,
    /// The last test is too old.
    OldTest,
    /// Nobody stated the strength and nobody tested it.
    StrengthUnknown,
    /// The strength was stated, and no reading ever counted.
    NeverTested,
    /// Nothing speaks against it.
    WideMargin,
}

/// A verdict with the values it rests on.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct FreezeJudged {
    /// The verdict.
    pub verdict: FreezeVerdict,
    /// Why.
    pub reason: FreezeReason,
    /// The freeze point, where one is known.
    pub freeze: Option<Freeze>,
    /// The warmest it may be, at 95 %.
    pub warm_side: Option<Temperature>,
    /// Lowest temperature to be ready for.
    pub winter_low: Option<Temperature>,
    /// Winter low − warm side; below zero it may freeze.
    pub margin: Option<TemperatureDifference>,
    /// How sure it is not to freeze at the winter low, 0 to 1, from the mean and its spread.
    pub probability: Option<f64>,
    /// How much of its capacity it holds, millionths.
    pub level_millionths: Option<i64>,
    /// Whole days since a reading last counted.
    pub test_age_days: Option<i64>,
}

/// Judges the freeze point of a loop at the moment `now`.
///
/// It is held against the warm side of what is known: the mean and 1.96 standard deviations. What
/// may freeze comes before everything else, however old the test is; without a recent test nothing
/// reads as ready, and neither does a loop that holds too little or whose book is in question.
///
/// ```
/// use domain::book::outcome::{Figures, Knowledge};
/// use domain::condition::policy::Policies;
/// use domain::condition::{Chemistry, FreezeVerdict, Known, Setting, judge};
/// use domain::fluid::Glycol;
/// use domain::moment::{DAY_MS, Moment};
/// use domain::quantity::Temperature;
///
/// let known = Known {
///     figures: Figures {
///         shown_ml: 40_000,
///         fraction_millionths: 500_000, // freezes at −37.1 °C
///         sigma_millionths: 5_000,      // ± 1.4 °C at 95 %
///         knowledge: Knowledge::Tested,
///     },
///     chemistry: Chemistry::One(Glycol::Eg),
///     last_reading_at: Some(Moment(0)),
/// };
/// let here = Setting {
///     winter_low: Some(Temperature::from_millicelsius(-31_000)?),
///     capacity_ml: Some(41_000),
///     has_open_question: false,
/// };
/// let policy = Policies::on("2026-10-05".parse()?)?.freeze;
/// let judged = judge(&known, here, Moment(DAY_MS), policy);
/// assert_eq!(judged.verdict, FreezeVerdict::Ready);
/// let later = judge(&known, here, Moment(181 * DAY_MS), policy);
/// assert_eq!(later.verdict, FreezeVerdict::NoRecentTest);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn judge(known: &Known, setting: Setting, now: Moment, policy: FreezePolicy) -> FreezeJudged {
    let freeze = freeze(&known.figures, known.chemistry).filter(|_| known.figures.shown_ml > 0);
    let warm_side = freeze.map(|freeze| warm_side(known, &freeze));
    let margin = setting
        .winter_low
        .zip(warm_side)
        .map(|(low, warm)| low.difference_from(warm));
    let mut judged = FreezeJudged {
        verdict: FreezeVerdict::Ready,
        reason: FreezeReason::WideMargin,
        freeze,
        warm_side,
        winter_low: setting.winter_low,
        margin,
        probability: freeze.and(setting.winter_low).and_then(|low| {
            probability_at_or_below(&known.figures, known.chemistry, degrees_c(low))
        }),
        level_millionths: setting
            .capacity_ml
            .filter(|capacity| *capacity > 0)
            .map(|capacity| share(MILLION, known.figures.shown_ml, capacity)),
        test_age_days: test_age_days(known.last_reading_at, now),
    };
    let is_low = judged
        .level_millionths
        .is_some_and(|level| level < policy.least_level_millionths);
    (judged.verdict, judged.reason) = verdict(known, &judged, policy);
    if judged.verdict != FreezeVerdict::DoNotRelease && is_low {
        (judged.verdict, judged.reason) = (FreezeVerdict::CheckSoon, FreezeReason::LowLevel);
    } else if judged.verdict == FreezeVerdict::Ready && setting.has_open_question {
        (judged.verdict, judged.reason) = (FreezeVerdict::CheckSoon, FreezeReason::OpenQuestion);
    }
    judged
}

fn verdict(
    known: &Known,
    judged: &FreezeJudged,
    policy: FreezePolicy,
) -> (FreezeVerdict, FreezeReason) {
    use FreezeReason as Why;
    use FreezeVerdict::{CheckSoon, DoNotRelease, NoRecentTest, NoTestYet, Ready};
    if known.figures.shown_ml <= 0 {
        return (DoNotRelease, Why::Empty);
    }
    if known.figures.knowledge == Knowledge::Assumed {
        return (NoTestYet, Why::StrengthUnknown);
    }
    let Some(freeze) = judged.freeze else {
        return (CheckSoon, Why::NoCurve);
    };
    let below_zero = judged.margin.is_some_and(|margin| margin.millikelvin() < 0);
    let at_the_floor = freeze.or_below && judged.warm_side <= known.chemistry.glycol().map(floor);
    if below_zero && !at_the_floor {
        return (DoNotRelease, Why::FreezesAboveWinterLow);
    }
    match judged.margin {
        _ if judged.test_age_days.is_none() => (NoTestYet, Why::NeverTested),
        _ if !policy.is_tested(judged.test_age_days) => (NoRecentTest, Why::OldTest),
        None => (CheckSoon, Why::NoWinterLow),
        Some(_) if below_zero => (CheckSoon, Why::CurveEndsAboveWinterLow),
        Some(margin) if margin < policy.margin_watch => (CheckSoon, Why::SmallMargin),
        Some(_) => (Ready, Why::WideMargin),
    }
}

/// The warmest freeze point within the spread: what the slope at the mean gives, and the curve
/// itself at both ends, since beyond its floor it rises again.
fn warm_side(known: &Known, freeze: &Freeze) -> Temperature {
    let Figures {
        fraction_millionths,
        sigma_millionths,
        ..
    } = known.figures;
    let spread = nearest(DEVIATIONS_AT_95 * float(sigma_millionths)).unwrap_or(i64::MAX);
    let at_end = |millionths: i64| {
        let millionths = i32::try_from(millionths.clamp(0, MILLION)).ok()?;
        let strength = FractionByVolume::from_millionths(millionths).ok()?;
        Some(freeze_point(known.chemistry.glycol()?, strength).temperature())
    };
    let by_slope = nearest(freeze.plus_minus_c * 1e3)
        .and_then(|millikelvin| i32::try_from(millikelvin).ok())
        .and_then(|millikelvin| TemperatureDifference::from_millikelvin(millikelvin).ok())
        .and_then(|up| freeze.at.checked_add(up).ok());
    [
        Some(freeze.at),
        by_slope,
        at_end(fraction_millionths.saturating_sub(spread)),
        at_end(fraction_millionths.saturating_add(spread)),
    ]
    .into_iter()
    .flatten()
    .max()
    .map_or(Temperature::WATER_FREEZES, |warmest| {
        warmest.min(Temperature::WATER_FREEZES)
    })
}
