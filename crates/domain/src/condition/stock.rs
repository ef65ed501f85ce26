//! How long the fresh fluid of a shop lasts at what went out of it lately.

use std::collections::BTreeMap;

use crate::book::component::{Base, InhibitorClass};
use crate::book::contents::{MILLION, share};
use crate::quantity::rounding::{float, nearest};

/// Where the lines are drawn.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct StockPolicy {
    /// What lasts no longer than so many days has to be ordered.
    pub runs_out_within_days: i64,
    /// Its use is learned over at least so many days back.
    pub learned_over_days: i64,
    /// A use of fewer days than this says nothing.
    pub least_days: i64,
}

/// How a fluid is kept.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Kept {
    /// As it goes into a unit.
    Ready,
    /// To be mixed with water.
    Concentrate,
}

/// From this strength on it is concentrate, millionths: beyond it no coolant is run. Our own default.
const CONCENTRATE_FROM: i64 = 700_000;

impl Kept {
    /// How coolant of a strength in millionths is kept.
    pub const fn of(fraction_millionths: i64) -> Self {
        if fraction_millionths >= CONCENTRATE_FROM {
            Self::Concentrate
        } else {
            Self::Ready
        }
    }

    /// How coolant was kept of which so much was concentrate, mL of each before mixing; none of no coolant.
    pub fn of_parts(concentrate_ml: i64, all_ml: i64) -> Option<Self> {
        (all_ml > 0).then(|| Self::of(share(MILLION, concentrate_ml, all_ml)))
    }

    /// The words on a page.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Ready => "ready mixed",
            Self::Concentrate => "concentrate",
        }
    }
}

/// A fluid a shop keeps: base, inhibitor class, and how.
pub type Fluid = (Base, InhibitorClass, Kept);

/// What one vessel of fresh fluid holds, and what went out of it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Source {
    /// What is in it.
    pub fluid: Fluid,
    /// How much it holds, mL at 20 °C.
    pub held_ml: i64,
    /// What went out of it into units, less what came from there, mL at 20 °C.
    pub to_units_ml: i64,
    /// What went out of it into other vessels, less what came from there, mL at 20 °C.
    pub to_vessels_ml: i64,
    /// For so many days back that is known.
    pub known_days: i64,
}

/// All of one fluid in a shop.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Stocked {
    /// What is left, mL at 20 °C.
    pub held_ml: i64,
    /// What was used, mL at 20 °C.
    pub used_ml: i64,
    /// Within so many days.
    pub days: i64,
}

impl Stocked {
    /// What goes out in a day, mL; none where fewer days are known than the policy asks for, or nothing
    /// went out.
    pub fn a_day_ml(&self, policy: &StockPolicy) -> Option<f64> {
        let is_known = self.days >= policy.least_days && self.days > 0 && self.used_ml > 0;
        is_known.then(|| float(self.used_ml) / float(self.days))
    }

    /// Whole days it lasts at that.
    ///
    /// ```
    /// use domain::condition::stock::{StockPolicy, Stocked};
    /// let policy = StockPolicy { runs_out_within_days: 14, learned_over_days: 60, least_days: 14 };
    /// let stock = Stocked { held_ml: 42_000, used_ml: 180_000, days: 60 };
    /// assert_eq!(stock.days_left(&policy), Some(14));
    /// assert!(stock.runs_out(&policy));
    /// ```
    pub fn days_left(&self, policy: &StockPolicy) -> Option<i64> {
        let a_day = self.a_day_ml(policy)?;
        nearest((float(self.held_ml.max(0)) / a_day).floor())
    }

    /// Whether it lasts no longer than the policy wants.
    pub fn runs_out(&self, policy: &StockPolicy) -> bool {
        self.days_left(policy)
            .is_some_and(|left| left <= policy.runs_out_within_days)
    }
}

/// The fluids of a shop, each with what all its vessels hold and gave. What moved between two of them counts
/// as nothing, and what a delivery out of another vessel brought is no use taken back. Concentrate that went
/// into vessels became ready mixed coolant of its kind there: it was used as the one and is no addition to
/// the other, so that a tank mixed in the shop tells of all that went out of it.
pub fn by_fluid(sources: &[Source]) -> BTreeMap<Fluid, Stocked> {
    let mut to_vessels: BTreeMap<Fluid, i64> = BTreeMap::new();
    let mut all: BTreeMap<Fluid, Stocked> = BTreeMap::new();
    for source in sources {
        let stocked = all.entry(source.fluid).or_default();
        stocked.held_ml = stocked.held_ml.saturating_add(source.held_ml);
        stocked.used_ml = stocked.used_ml.saturating_add(source.to_units_ml);
        stocked.days = stocked.days.max(source.known_days);
        let moved = to_vessels.entry(source.fluid).or_default();
        *moved = moved.saturating_add(source.to_vessels_ml);
    }
    for ((base, class, kept), stocked) in &mut all {
        let net = |kept| to_vessels.get(&(*base, *class, kept)).copied().unwrap_or(0);
        let mixed = match kept {
            Kept::Ready => net(Kept::Concentrate).max(0),
            Kept::Concentrate => 0,
        };
        let moved = net(*kept).saturating_add(mixed).max(0);
        stocked.used_ml = stocked.used_ml.saturating_add(moved);
    }
    all
}
