//! Whether a loop quietly loses coolant: what was topped up against what the unit drove or ran.
//!
//! A loop consumes a little; a leak is more. The rule is a cumulative sum of the litres above a
//! reference, and beside it the plain count of top-ups in a month, which is faster on a big leak. What
//! only completes a fill is no consumption and is kept out. Screens show litres, never the sum.

pub mod case;
pub mod control_chart;
pub mod exposure;
pub mod peer;

use crate::book::outcome::TopUpClass;
use crate::moment::{DAY_MS, Moment};
use crate::quantity::Volume;
use crate::quantity::rounding::{float, nearest};
use control_chart::{Cusum, Ewma};
use exposure::{MeterLine, Per};

/// Where the lines are drawn for one kind of meter, in litres per [`Per::unit`].
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct RatePolicy {
    /// What a sound loop uses.
    pub normal: f64,
    /// More than this wants a look.
    pub watch: f64,
    /// More than this wants work.
    pub act: f64,
    /// What the cumulative sum lets pass.
    pub reference: f64,
    /// What a day comes to where no meter was ever read: km or hours.
    pub usual_per_day: f64,
    /// A suspicion goes quiet over so many [`Per::unit`]s with no more than the reference.
    pub quiet_over: f64,
}

/// Where the lines are drawn.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct LeakPolicy {
    /// By distance.
    pub distance: RatePolicy,
    /// By hours.
    pub hours: RatePolicy,
    /// The cumulative sum above which a loop is suspected, L.
    pub decision_l: f64,
    /// So many top-ups within [`Self::count_days`] are suspicious whatever their litres.
    pub count: usize,
    /// Within so many days.
    pub count_days: i64,
    /// The weight of the newest rate in the moving average, 0 to 1.
    pub average_weight: f64,
    /// So many of the robust standard deviations of its sisters above their median stands out.
    pub peer_deviations: f64,
    /// Fewer sisters than this are no comparison.
    pub least_peers: usize,
}

impl LeakPolicy {
    /// The lines for one kind of meter.
    pub const fn rates(&self, per: Per) -> &RatePolicy {
        match per {
            Per::Distance => &self.distance,
            Per::Hours => &self.hours,
        }
    }
}

/// What the rule was measured to do, in the simulation of `tests/leak/fleet.rs` with a leak of
/// 2 L/10,000 km from month 3 of 18, at 4,500 km a month.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct StatedRates {
    /// The share of top-ups that are recorded, percent.
    pub recorded_percent: f64,
    /// Sound loops suspected in 18 months, of 100.
    pub false_alarms_per_100: f64,
    /// Leaks found, percent.
    pub found_percent: f64,
    /// Half of those found were found within so many days.
    pub median_days: f64,
}

/// At 100, 80 and 60 % recorded, with three fills a year, which hide what was used up before them, their
/// completions, one in ten of which comes too late to be told, and half of all meters missing. Without
/// those it finds 100, 94 and 55 % in 145, 208 and 275 days, at 1.1, 0.3 and 0.1 false alarms.
pub const STATED: [StatedRates; 3] = [
    StatedRates {
        recorded_percent: 100.0,
        false_alarms_per_100: 1.7,
        found_percent: 99.5,
        median_days: 170.0,
    },
    StatedRates {
        recorded_percent: 80.0,
        false_alarms_per_100: 1.7,
        found_percent: 84.7,
        median_days: 233.0,
    },
    StatedRates {
        recorded_percent: 60.0,
        false_alarms_per_100: 1.1,
        found_percent: 46.0,
        median_days: 280.0,
    },
];

/// What going quiet was measured to do, in the same simulation by the end of its 18 months.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct StatedQuiet {
    /// The share of top-ups that are recorded, percent.
    pub recorded_percent: f64,
    /// Of the sound loops that were suspected so many went quiet, percent.
    pub sound_percent: f64,
    /// Half of those within so many days of the suspicion.
    pub median_days: f64,
    /// Of the leaks that were found so many went quiet, percent: they have to be found again.
    pub leaking_percent: f64,
}

/// With fills, completions and half of all meters missing, as [`STATED`].
pub const QUIET: [StatedQuiet; 3] = [
    StatedQuiet {
        recorded_percent: 100.0,
        sound_percent: 58.3,
        median_days: 133.0,
        leaking_percent: 5.6,
    },
    StatedQuiet {
        recorded_percent: 80.0,
        sound_percent: 67.3,
        median_days: 133.0,
        leaking_percent: 26.1,
    },
    StatedQuiet {
        recorded_percent: 60.0,
        sound_percent: 66.7,
        median_days: 134.0,
        leaking_percent: 37.1,
    },
];

/// One top-up of a loop.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct TopUp {
    /// When.
    pub at: Moment,
    /// How much, at 20 °C.
    pub volume: Volume,
    /// What it counts as in the book.
    pub class: TopUpClass,
}

/// Since when a loop is looked at: it was full then, by a fill, an opening or a repair.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Watched<'a> {
    /// The start.
    pub since: Moment,
    /// The moment of asking.
    pub now: Moment,
    /// Its top-ups in the order of time; those before the start are passed over.
    pub top_ups: &'a [TopUp],
}

/// Which rule it is suspected by.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Rule {
    /// Too much for what it drove or ran, added up.
    Sum,
    /// Too many top-ups in a month.
    Count,
}

/// When a rule first spoke.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Tripped {
    /// The rule.
    pub rule: Rule,
    /// The top-up it spoke at.
    pub at: Moment,
}

/// The level of consumption, by the moving average.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Level {
    /// As a sound loop.
    Normal,
    /// Above the first line.
    Watch,
    /// Above the second.
    Act,
}

/// What there is to say of a loop's consumption.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Consumption {
    /// What it is counted against.
    pub per: Per,
    /// Topped up as consumption since the start.
    pub litres: f64,
    /// Of it above what a sound loop uses; never below 0. What a screen shows of a suspicion.
    pub above_normal_l: f64,
    /// Kept out: it completed a fill.
    pub completion_l: f64,
    /// Exposure since the start, in [`Per::unit`]s.
    pub exposure: f64,
    /// Litres per [`Per::unit`] over the whole time; none without exposure.
    pub rate: Option<f64>,
    /// The same, the newest weighing most.
    pub recent_rate: f64,
    /// Where that lies.
    pub level: Level,
    /// The first rule that spoke.
    pub tripped: Option<Tripped>,
    /// The sum now, L.
    pub sum_l: f64,
}

/// Judges a loop's consumption.
///
/// The sum gets each top-up's litres less what the reference allows for the exposure since the one
/// before. What is recorded late or with no meter takes its place by its date: exposure is then worked
/// out from the readings around it. Start again after a repair, with the day of the repair as the start.
pub fn judge(watched: Watched<'_>, meter: &MeterLine, policy: &LeakPolicy) -> Consumption {
    let per = meter.per();
    let rates = policy.rates(per);
    let since = watched
        .top_ups
        .iter()
        .filter(|top_up| top_up.at >= watched.since && top_up.at <= watched.now);
    let (mut sum, mut average) = (
        Cusum::new(0.0, 0.0),
        Ewma::new(rates.normal, policy.average_weight),
    );
    let mut counted: Vec<Moment> = Vec::new();
    let (mut before, mut sum_l) = (watched.since, 0.0);
    let (mut litres, mut completion_l, mut tripped) = (0.0, 0.0, None);
    for top_up in since {
        let volume_l = float(top_up.volume.ml()) / 1e3;
        if top_up.class == TopUpClass::Completion {
            completion_l += volume_l;
            continue;
        }
        litres += volume_l;
        let exposure = meter.between(before, top_up.at);
        before = top_up.at;
        (sum_l, _) = sum.add(volume_l - rates.reference * exposure);
        // Two top-ups on one day are one event: no rate follows from no distance.
        average.add(volume_l / exposure.max(LEAST_EXPOSURE));
        counted.push(top_up.at);
        let spoke = if sum_l > policy.decision_l {
            Some(Rule::Sum)
        } else {
            is_too_many(&counted, policy).then_some(Rule::Count)
        };
        tripped = tripped.or(spoke.map(|rule| Tripped {
            rule,
            at: top_up.at,
        }));
    }
    let exposure = meter.between(watched.since, watched.now);
    let recent_rate = average.average();
    Consumption {
        per,
        litres,
        above_normal_l: (litres - rates.normal * exposure).max(0.0),
        completion_l,
        exposure,
        rate: (exposure > 0.0).then(|| litres / exposure),
        recent_rate,
        level: if recent_rate > rates.act {
            Level::Act
        } else if recent_rate > rates.watch {
            Level::Watch
        } else {
            Level::Normal
        },
        tripped,
        sum_l,
    }
}

/// A suspicion that went quiet.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct WentQuiet {
    /// When the quiet stretch was long enough.
    pub at: Moment,
    /// The last top-up until then: the loop was full, and what it uses is counted from there on.
    pub full_at: Moment,
}

/// Whether a suspicion went quiet, of a loop that a rule spoke of at the top-up of `tripped`: a stretch
/// of [`RatePolicy::quiet_over`] that begins at that or a later top-up, in which no more was topped up
/// than the reference allows. What nobody knows proves nothing, so a stretch ends before `known_until`:
/// the last time a meter was read, or where there is none something was done to the loop.
pub fn quiet_after(
    watched: Watched<'_>,
    (tripped, known_until): (Moment, Moment),
    meter: &MeterLine,
    policy: &LeakPolicy,
) -> Option<WentQuiet> {
    let rates = policy.rates(meter.per());
    let until = known_until.min(watched.now);
    let since: Vec<&TopUp> = watched
        .top_ups
        .iter()
        .filter(|it| it.class == TopUpClass::Consumption && it.at >= tripped && it.at <= until)
        .collect();
    since.iter().find_map(|first| {
        let at = meter.reached(first.at, rates.quiet_over, until)?;
        let within = since.iter().filter(|it| it.at > first.at && it.at <= at);
        let (mut litres, mut full_at) = (0.0, first.at);
        for top_up in within {
            litres += float(top_up.volume.ml()) / 1e3;
            full_at = top_up.at;
        }
        let is_quiet = litres <= rates.reference * rates.quiet_over;
        is_quiet.then_some(WentQuiet { at, full_at })
    })
}

/// A rate is worked out over at least so many [`Per::unit`]s: 100 km or 1 h.
pub const LEAST_EXPOSURE: f64 = 0.01;

/// Whether the newest top-ups come too close upon each other.
fn is_too_many(counted: &[Moment], policy: &LeakPolicy) -> bool {
    let within = policy.count_days.saturating_mul(DAY_MS);
    let newest = counted.last();
    let first = counted
        .len()
        .checked_sub(policy.count)
        .and_then(|at| counted.get(at));
    newest
        .zip(first)
        .is_some_and(|(newest, first)| newest.ms_since(*first) <= within)
}

/// Litres as a volume, for a screen; nothing below 0.
pub fn as_volume(litres: f64) -> Volume {
    nearest(litres.max(0.0) * 1e3)
        .and_then(|ml| Volume::from_ml(ml).ok())
        .unwrap_or(Volume::MIN)
}
