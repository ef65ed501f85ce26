//! Whether a fleet is ready for its winter: how sure each loop is, how many units of a shop are
//! covered, and the cheapest set of corrections that covers as many as are wanted.

use std::collections::BTreeMap;

use super::figures::{self, Chemistry, degrees_c};
use super::policy::Policy;
use super::probability::{
    normal, probability_at_or_below, probability_between, strengths_at_or_below,
};
use crate::book::contents::{MILLION, share};
use crate::book::outcome::{Figures, Knowledge};
use crate::ids::{PlaceId, ShopId, UnitId};
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{Temperature, TemperatureDifference, Volume};

/// What being ready means, and what it costs to make a loop so.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct WinterPolicy {
    /// It has to freeze so much below the winter low.
    pub margin: TemperatureDifference,
    /// It counts as ready when it is at least so sure to, 0 to 1.
    pub probability: f64,
    /// The share of a shop's units that is wanted ready, 0 to 1.
    pub coverage: f64,
    /// Minutes for a test.
    pub test_minutes: i64,
    /// Minutes for a correction.
    pub correct_minutes: i64,
    /// What a minute costs, hundredths of the shop's currency.
    pub minute_hundredths: i64,
    /// What a test uses up, hundredths.
    pub test_hundredths: i64,
    /// What a litre of concentrate costs, hundredths.
    pub litre_hundredths: i64,
    /// The strength of concentrate, 0 to 1.
    pub concentrate: f64,
    /// One standard deviation of it.
    pub concentrate_sigma: f64,
    /// One standard deviation of a strength as it is read.
    pub reading_sigma: f64,
}

/// One loop of a unit before the winter.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct WinterLoop {
    /// The loop.
    pub place: PlaceId,
    /// Its figures, the drift up to now in them.
    pub figures: Figures,
    /// What its glycol is.
    pub chemistry: Chemistry,
    /// Its capacity, mL.
    pub capacity_ml: Option<i64>,
    /// The lowest temperature it has to stand: its shop's, or that of its route.
    pub winter_low: Option<Temperature>,
    /// Whole days since a reading last counted; none when none ever did.
    pub test_age_days: Option<i64>,
    /// A question about it is open: its figures may still move.
    pub in_question: bool,
}

/// One unit before the winter.
#[derive(Clone, PartialEq, Debug)]
pub struct WinterUnit {
    /// The unit.
    pub unit: UnitId,
    /// Its shop.
    pub shop: ShopId,
    /// All its loops.
    pub loops: Vec<WinterLoop>,
}

/// What is drained and put in to make a loop ready.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Dose {
    /// Drained first.
    pub drain: Volume,
    /// Concentrate put in.
    pub concentrate: Volume,
    /// Water put in, where there is room for more than the concentrate.
    pub water: Volume,
}

/// What makes a loop ready at the least cost.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Action {
    /// Correct it at once.
    Correct(Dose),
    /// Test it first: at this chance the test alone shows it ready, else it is corrected.
    TestFirst {
        /// The chance, 0 to 1.
        chance: f64,
        /// The correction where the test does not show it ready.
        otherwise: Dose,
    },
}

/// What is missing to plan for a loop that is not ready.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum NoPlan {
    /// No winter low.
    NoWinterLow,
    /// Two bases, one without a curve, or nothing in it: a laboratory's look or a fill comes first.
    NoCurve,
    /// Its capacity is not on record.
    NoCapacity,
    /// No strength of this glycol is sure enough for that cold.
    BeyondTheCurve,
    /// A question about it is open: it is answered first.
    InQuestion,
}

impl NoPlan {
    /// What comes first, as a page says it: lower case, no full stop.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoWinterLow => "the winter low of its shop is not set",
            Self::NoCurve => {
                "empty, two bases in it or one without a freeze curve: fill it, or have a laboratory look"
            }
            Self::NoCapacity => "its capacity is not on its card",
            Self::BeyondTheCurve => "no strength of its glycol is sure enough for that cold",
            Self::InQuestion => "a question about it is open: answer it first",
        }
    }
}

/// How a loop or a unit stands before the winter, the gravest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum WinterState {
    /// By the mean of what is known it freezes before the winter low is reached.
    Freezes,
    /// It is not sure enough to stand the winter low with its margin.
    NotSure,
    /// It holds too little.
    LowLevel,
    /// A question about it is open.
    InQuestion,
    /// Its last test is too old, whatever it said.
    OldTest,
    /// No reading ever counted, or nobody knows its strength.
    NoTest,
    /// There is no freeze point to work out: empty, two bases, or one without a curve.
    NoFreezePoint,
    /// The winter low is not set.
    NoWinterLow,
    /// Sure enough, tested not long ago, full enough.
    Ready,
}

impl WinterState {
    /// All of them, the gravest first.
    pub const ALL: [Self; 9] = [
        Self::Freezes,
        Self::NotSure,
        Self::LowLevel,
        Self::InQuestion,
        Self::OldTest,
        Self::NoTest,
        Self::NoFreezePoint,
        Self::NoWinterLow,
        Self::Ready,
    ];

    /// The words on a page.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Freezes => "Freezes",
            Self::NotSure => "Not sure enough",
            Self::LowLevel => "Too little in it",
            Self::InQuestion => "In question",
            Self::OldTest => "Test too old",
            Self::NoTest => "No test yet",
            Self::NoFreezePoint => "No freeze point",
            Self::NoWinterLow => "Winter low not set",
            Self::Ready => "Ready",
        }
    }

    /// The code in an address.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Freezes => "freezes",
            Self::NotSure => "not-sure",
            Self::LowLevel => "low-level",
            Self::InQuestion => "in-question",
            Self::OldTest => "old-test",
            Self::NoTest => "no-test",
            Self::NoFreezePoint => "no-freeze-point",
            Self::NoWinterLow => "no-winter-low",
            Self::Ready => "ready",
        }
    }

    /// The state a code names.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.code() == code)
    }
}

/// How ready one loop is.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct LoopReadiness {
    /// The loop.
    pub place: PlaceId,
    /// How sure it freezes the margin below its winter low; none where that is unknown.
    pub probability: Option<f64>,
    /// How it stands.
    pub state: WinterState,
}

impl LoopReadiness {
    /// Whether it is ready.
    pub fn is_ready(&self) -> bool {
        self.state == WinterState::Ready
    }
}

/// What to do on one loop, and what it is expected to take.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Step {
    /// The loop.
    pub place: PlaceId,
    /// What to do.
    pub action: Action,
    /// Expected cost, hundredths of the shop's currency.
    pub cost_hundredths: i64,
    /// Expected minutes.
    pub minutes: f64,
    /// Expected concentrate, litres.
    pub concentrate_l: f64,
}

/// How many of some units are ready.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Coverage {
    /// Units all of whose loops are ready.
    pub ready: usize,
    /// All units.
    pub units: usize,
}

impl Coverage {
    /// How many more have to be ready for the wanted share of them, 0 to 1.
    pub fn missing_for(&self, wanted: f64) -> usize {
        let units = i64::try_from(self.units).unwrap_or(i64::MAX);
        // 95 % of 20 are 19, whatever the last digit of the product is.
        let wanted = nearest((wanted * float(units) - 1e-9).ceil()).unwrap_or(units);
        usize::try_from(wanted)
            .unwrap_or(0)
            .min(self.units)
            .saturating_sub(self.ready)
    }
}

/// The cheapest set of corrections that reaches a wanted coverage.
#[derive(Clone, PartialEq, Debug)]
pub struct WinterPlan {
    /// Before it.
    pub before: Coverage,
    /// After it.
    pub after: Coverage,
    /// The units to see to, the cheapest first, each with the steps on its loops.
    pub units: Vec<(UnitId, Vec<Step>)>,
    /// Units that are not ready and cannot be planned for, with what is missing.
    pub not_planned: Vec<(UnitId, PlaceId, NoPlan)>,
    /// Expected cost, hundredths.
    pub cost_hundredths: i64,
    /// Expected minutes.
    pub minutes: f64,
    /// Expected concentrate, litres.
    pub concentrate_l: f64,
    /// Whether the wanted coverage is reached.
    pub reached: bool,
}

/// How ready a loop is.
pub fn readiness(each: &WinterLoop, policy: &Policy) -> LoopReadiness {
    let known = (&each.figures, each.chemistry);
    let probability = chance(known, each.winter_low, &policy.winter);
    LoopReadiness {
        place: each.place,
        probability,
        state: state(each, probability, policy),
    }
}

/// How sure coolant known so well is to freeze the wanted margin below a winter low, 0 to 1; none where
/// that is unknown.
pub fn chance(
    (figures, chemistry): (&Figures, Chemistry),
    winter_low: Option<Temperature>,
    policy: &WinterPolicy,
) -> Option<f64> {
    let target_c = target_c(winter_low, policy).filter(|_| figures.shown_ml > 0)?;
    probability_at_or_below(figures, chemistry, target_c)
}

/// What speaks against it most; a test that is too old is no proof, however strong it found the loop.
fn state(each: &WinterLoop, probability: Option<f64>, policy: &Policy) -> WinterState {
    let Some(low) = each.winter_low else {
        return WinterState::NoWinterLow;
    };
    if each.figures.knowledge == Knowledge::Assumed {
        return WinterState::NoTest;
    }
    let point = figures::freeze(&each.figures, each.chemistry);
    let Some(point) = point.filter(|_| each.figures.shown_ml > 0) else {
        return WinterState::NoFreezePoint;
    };
    if point.at_mean > low {
        WinterState::Freezes
    } else if !probability.is_some_and(|sure| sure >= policy.winter.probability) {
        WinterState::NotSure
    } else if !holds_enough(each, policy) {
        WinterState::LowLevel
    } else if each.in_question {
        WinterState::InQuestion
    } else if each.test_age_days.is_none() {
        WinterState::NoTest
    } else if !policy.freeze.is_tested(each.test_age_days) {
        WinterState::OldTest
    } else {
        WinterState::Ready
    }
}

/// How a unit stands: as the gravest of its loops; one without loops has nothing to freeze.
pub fn unit_state(unit: &WinterUnit, policy: &Policy) -> Option<WinterState> {
    let states = unit.loops.iter().map(|each| readiness(each, policy).state);
    states.min()
}

fn holds_enough(each: &WinterLoop, policy: &Policy) -> bool {
    each.capacity_ml.is_none_or(|capacity| {
        let least = share(policy.freeze.least_level_millionths, capacity, MILLION);
        each.figures.shown_ml >= least
    })
}

/// The temperature it has to stand without freezing, °C.
fn target_c(winter_low: Option<Temperature>, winter: &WinterPolicy) -> Option<f64> {
    let margin = float(i64::from(winter.margin.millikelvin())) / 1e3;
    Some(degrees_c(winter_low?) - margin)
}

/// How many units are ready, by shop.
pub fn coverage_by_shop(units: &[WinterUnit], policy: &Policy) -> BTreeMap<ShopId, Coverage> {
    let mut shops: BTreeMap<ShopId, Coverage> = BTreeMap::new();
    for unit in units {
        let shop = shops.entry(unit.shop).or_default();
        shop.units = shop.units.saturating_add(1);
        if is_ready(unit, policy) {
            shop.ready = shop.ready.saturating_add(1);
        }
    }
    shops
}

fn is_ready(unit: &WinterUnit, policy: &Policy) -> bool {
    unit_state(unit, policy) == Some(WinterState::Ready)
}

/// The cheapest set of corrections on some units, those of a shop as a rule, that makes the share
/// `wanted` of them ready.
///
/// Every unit counts one, so taking the cheapest first is the cheapest set there is.
pub fn plan(units: &[WinterUnit], wanted: f64, policy: &Policy) -> WinterPlan {
    let mut before = Coverage::default();
    let mut possible: Vec<(i64, UnitId, Vec<Step>)> = Vec::new();
    let mut not_planned = Vec::new();
    for unit in units {
        before.units = before.units.saturating_add(1);
        if is_ready(unit, policy) {
            before.ready = before.ready.saturating_add(1);
            continue;
        }
        let open = unit
            .loops
            .iter()
            .filter(|each| !readiness(each, policy).is_ready());
        let steps: Result<Vec<Step>, (PlaceId, NoPlan)> = open
            .map(|each| step(each, policy).map_err(|problem| (each.place, problem)))
            .collect();
        match steps {
            Ok(steps) if !steps.is_empty() => {
                let cost = steps.iter().map(|step| step.cost_hundredths).sum();
                possible.push((cost, unit.unit, steps));
            }
            Ok(_) => {}
            Err((place, problem)) => not_planned.push((unit.unit, place, problem)),
        }
    }
    possible.sort_by_key(|(cost, unit, _)| (*cost, *unit));
    let missing = before.missing_for(wanted);
    possible.truncate(missing);
    let steps = || possible.iter().flat_map(|(_, _, steps)| steps);
    WinterPlan {
        before,
        after: Coverage {
            ready: before.ready.saturating_add(possible.len()),
            ..before
        },
        not_planned,
        cost_hundredths: steps().map(|step| step.cost_hundredths).sum(),
        minutes: steps().map(|step| step.minutes).sum(),
        concentrate_l: steps().map(|step| step.concentrate_l).sum(),
        reached: possible.len() == missing,
        units: possible
            .into_iter()
            .map(|(_, unit, steps)| (unit, steps))
            .collect(),
    }
}

/// The cheaper of correcting a loop at once and testing it first.
///
/// # Errors
/// [`NoPlan`], what is missing to plan for it.
pub fn step(each: &WinterLoop, policy: &Policy) -> Result<Step, NoPlan> {
    let winter = &policy.winter;
    if each.in_question {
        return Err(NoPlan::InQuestion);
    }
    let t_c = target_c(each.winter_low, winter).ok_or(NoPlan::NoWinterLow)?;
    let glycol = each.chemistry.glycol().ok_or(NoPlan::NoCurve)?;
    let capacity_ml = each
        .capacity_ml
        .filter(|capacity| *capacity > 0)
        .ok_or(NoPlan::NoCapacity)?;
    let wanted = strengths_at_or_below(glycol, t_c).ok_or(NoPlan::BeyondTheCurve)?;
    let loop_ = Held {
        mean: float(each.figures.fraction_millionths) / 1e6,
        sigma: float(each.figures.sigma_millionths) / 1e6,
        present_l: float(each.figures.shown_ml).max(0.0) / 1e3,
        capacity_l: float(capacity_ml) / 1e3,
    };
    let concentrate_l = loop_
        .concentrate_needed(wanted, winter)
        .ok_or(NoPlan::BeyondTheCurve)?;
    let dose = loop_.dose(concentrate_l);
    let correct = Cost {
        minutes: float(winter.correct_minutes),
        concentrate_l,
        other: 0.0,
    };
    let at_once = |action, cost: Cost| Step {
        place: each.place,
        action,
        cost_hundredths: nearest(cost.hundredths(winter)).unwrap_or(i64::MAX),
        minutes: cost.minutes,
        concentrate_l: cost.concentrate_l,
    };
    let now = at_once(Action::Correct(dose), correct);
    if !holds_enough(each, policy) {
        return Ok(now);
    }
    let chance = loop_.chance_that_a_test_shows_it(wanted.0, winter);
    let tested = at_once(
        Action::TestFirst {
            chance,
            otherwise: dose,
        },
        Cost {
            minutes: float(winter.test_minutes) + (1.0 - chance) * correct.minutes,
            concentrate_l: (1.0 - chance) * concentrate_l,
            other: float(winter.test_hundredths),
        },
    );
    // What is strong enough by the book lacks its test alone; a correction would prove nothing.
    let lacks_its_test = concentrate_l <= 0.0 && !policy.freeze.is_tested(each.test_age_days);
    Ok(
        if lacks_its_test || tested.cost_hundredths < now.cost_hundredths {
            tested
        } else {
            now
        },
    )
}

#[derive(Clone, Copy)]
struct Cost {
    minutes: f64,
    concentrate_l: f64,
    other: f64,
}

impl Cost {
    fn hundredths(self, winter: &WinterPolicy) -> f64 {
        self.minutes * float(winter.minute_hundredths)
            + self.concentrate_l * float(winter.litre_hundredths)
            + self.other
    }
}

/// A loop as plain numbers: strength and its standard deviation from 0 to 1, litres.
#[derive(Clone, Copy)]
struct Held {
    mean: f64,
    sigma: f64,
    present_l: f64,
    capacity_l: f64,
}

impl Held {
    /// Mean and standard deviation once it is full with so much concentrate put in: what has to come
    /// out comes out first, and what room is left takes water. Standard deviations add linearly by
    /// share, as in the book.
    fn after(self, concentrate_l: f64, winter: &WinterPolicy) -> (f64, f64) {
        let room_l = (self.capacity_l - self.present_l).max(0.0);
        let kept_l = (self.present_l - (concentrate_l - room_l).max(0.0)).max(0.0);
        let all_l = self.capacity_l.max(kept_l + concentrate_l);
        (
            (kept_l * self.mean + concentrate_l * winter.concentrate) / all_l,
            (kept_l * self.sigma + concentrate_l * winter.concentrate_sigma) / all_l,
        )
    }

    /// The least concentrate that makes it as sure as wanted; none where no amount does.
    fn concentrate_needed(self, wanted: (f64, Option<f64>), winter: &WinterPolicy) -> Option<f64> {
        let strong_enough = |concentrate_l| {
            let (mean, sigma) = self.after(concentrate_l, winter);
            probability_between(mean, sigma, (wanted.0, None)) >= winter.probability
        };
        let (mut too_little, mut enough) = (0.0, self.capacity_l);
        if !strong_enough(enough) {
            return None;
        }
        if strong_enough(too_little) {
            enough = too_little;
        }
        // To a thousandth of a litre in any loop there is.
        for _ in 0..30 {
            let middle = f64::midpoint(too_little, enough);
            if strong_enough(middle) {
                enough = middle;
            } else {
                too_little = middle;
            }
        }
        let (mean, sigma) = self.after(enough, winter);
        (probability_between(mean, sigma, wanted) >= winter.probability).then_some(enough)
    }

    fn dose(self, concentrate_l: f64) -> Dose {
        let room_l = (self.capacity_l - self.present_l).max(0.0);
        let litres = |litres: f64| {
            nearest(litres.max(0.0) * 1e3)
                .and_then(|ml| Volume::from_ml(ml).ok())
                .unwrap_or(Volume::MIN)
        };
        Dose {
            drain: litres(concentrate_l - room_l),
            concentrate: litres(concentrate_l),
            water: litres(room_l - concentrate_l),
        }
    }

    /// The chance that a reading, taken in as the book does, leaves it sure enough.
    ///
    /// After it the standard deviation is σ′ = σ σᵣ ÷ √(σ² + σᵣ²); the mean it will have is normal
    /// about the present one with variance σ² − σ′².
    fn chance_that_a_test_shows_it(self, least: f64, winter: &WinterPolicy) -> f64 {
        let (sigma, read) = (self.sigma, winter.reading_sigma);
        let both = (sigma * sigma + read * read).sqrt();
        if sigma <= 0.0 || both <= 0.0 {
            return 0.0;
        }
        let after = sigma * read / both;
        let moves = sigma * sigma / both;
        let needed = least + deviations_for(winter.probability) * after;
        normal((self.mean - needed) / moves)
    }
}

/// The standard deviations below which a normal number lies at so much chance.
fn deviations_for(probability: f64) -> f64 {
    let (mut low, mut high) = (-8.0, 8.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if normal(middle) < probability {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}
