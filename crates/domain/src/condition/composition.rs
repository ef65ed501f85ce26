//! What a loop or vessel holds by base and inhibitor class, how much of it is foreign, and how many
//! exchanges make it clean.

use std::collections::BTreeMap;

use crate::book::component::{Base, Component, InhibitorClass};
use crate::book::contents::{Contents, MILLION, share};
use crate::quantity::{FractionByVolume, rounding::float};

/// One kind of concentrate and its part in all concentrate.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ClassShare {
    /// Its base.
    pub base: Base,
    /// Its inhibitor class.
    pub class: InhibitorClass,
    /// How much there is, mL before mixing at 20 °C.
    pub ml: i64,
    /// Its part in all concentrate.
    pub share: FractionByVolume,
}

/// Where the lines between the states of a loop are drawn: shares of all concentrate.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ForeignPolicy {
    /// From here on it is tainted; below it is pure, and an exchange has made it clean.
    pub tainted_from: FractionByVolume,
    /// From here on it is mixed.
    pub mixed_from: FractionByVolume,
    /// Above this it is lost: to be flushed, or taken for another class.
    pub lost_above: FractionByVolume,
}

/// The lines of every class: a class that must not conduct has its own, because of it far less is too much.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ForeignPolicies {
    /// Of any class that has none of its own.
    pub usual: ForeignPolicy,
    /// Of the classes that take nothing but their own coolant.
    pub dedicated: BTreeMap<InhibitorClass, ForeignPolicy>,
}

impl ForeignPolicies {
    /// The lines for a loop that is meant to hold this class.
    pub fn of(&self, class: InhibitorClass) -> &ForeignPolicy {
        self.dedicated.get(&class).unwrap_or(&self.usual)
    }
}

/// How far a loop is from holding only what it is meant to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum ForeignState {
    /// A trace at most.
    Pure,
    /// Tolerated, and worth knowing.
    Tainted,
    /// The class is no longer sure to protect as it should.
    Mixed,
    /// It has to be flushed or taken for another class.
    Lost,
}

impl ForeignState {
    /// The word on a page.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pure => "Pure",
            Self::Tainted => "Tainted",
            Self::Mixed => "Mixed",
            Self::Lost => "Lost",
        }
    }
}

impl ForeignPolicy {
    /// The state that a foreign share means.
    pub fn state(&self, foreign: FractionByVolume) -> ForeignState {
        if foreign > self.lost_above {
            ForeignState::Lost
        } else if foreign >= self.mixed_from {
            ForeignState::Mixed
        } else if foreign >= self.tainted_from {
            ForeignState::Tainted
        } else {
            ForeignState::Pure
        }
    }
}

/// Every kind of concentrate in it, the most first; nothing for water alone.
///
/// ```
/// use domain::book::component::{Base, Component, InhibitorClass};
/// use domain::book::contents::Contents;
/// use domain::condition::composition::by_class;
/// let held = Contents::from_iter([
///     (Component::Concentrate(Base::Eg, InhibitorClass::Oat), 4_500),
///     (Component::Concentrate(Base::Eg, InhibitorClass::IatSca), 14_500),
///     (Component::Water, 19_000),
/// ]);
/// let shares = by_class(&held);
/// assert_eq!(shares[0].class, InhibitorClass::IatSca);
/// assert_eq!(shares[1].share.millionths(), 236_842);
/// ```
pub fn by_class(contents: &Contents) -> Vec<ClassShare> {
    let all = contents.concentrate_ml();
    let kinds = contents.parts().iter().filter_map(|part| {
        let Component::Concentrate(base, class) = part.component else {
            return None;
        };
        Some(ClassShare {
            base,
            class,
            ml: part.ml,
            share: of_all(part.ml, all),
        })
    });
    let mut kinds: Vec<ClassShare> = kinds.collect();
    kinds.sort_by_key(|kind| std::cmp::Reverse(kind.ml));
    kinds
}

/// What a place is meant to hold, or where its card does not say, what most of its concentrate is.
pub fn own_kind(
    contents: &Contents,
    meant: (Base, InhibitorClass),
) -> Option<(Base, InhibitorClass)> {
    if meant.0 != Base::Unknown && meant.1 != InhibitorClass::Unknown {
        Some(meant)
    } else {
        contents.main_concentrate()
    }
}

/// The part of its concentrate that is of another base or class than its own; what nobody knows
/// counts as foreign. None where there is no concentrate or nothing is its own.
pub fn foreign_share(
    contents: &Contents,
    meant: (Base, InhibitorClass),
) -> Option<FractionByVolume> {
    let all = contents.concentrate_ml();
    let (base, class) = own_kind(contents, meant).filter(|_| all > 0)?;
    let own = contents.ml_of(Component::Concentrate(base, class));
    Some(of_all(all.saturating_sub(own), all))
}

fn of_all(part: i64, all: i64) -> FractionByVolume {
    i32::try_from(share(MILLION, part, all))
        .ok()
        .and_then(|millionths| FractionByVolume::from_millionths(millionths).ok())
        .unwrap_or(FractionByVolume::MAX)
}

/// More than so many exchanges are no plan: it is flushed instead.
pub const MOST_EXCHANGES: u32 = 20;

/// How many exchanges bring the foreign share below `clean_below`, when each leaves the part
/// `residual` of the old coolant in the loop and fills it with coolant whose own foreign share is
/// `of_refill`. None where no number up to [`MOST_EXCHANGES`] does.
///
/// After n exchanges the share is `refill + (foreign − refill) × residualⁿ`.
pub fn exchanges_needed(
    foreign: FractionByVolume,
    residual: FractionByVolume,
    of_refill: FractionByVolume,
    clean_below: FractionByVolume,
) -> Option<u32> {
    let mut after = foreign;
    for exchanges in 0..=MOST_EXCHANGES {
        if after < clean_below {
            return Some(exchanges);
        }
        after = after_exchange(after, residual, of_refill);
    }
    None
}

/// The foreign share after one exchange that leaves the part `residual` of the old coolant.
pub fn after_exchange(
    foreign: FractionByVolume,
    residual: FractionByVolume,
    of_refill: FractionByVolume,
) -> FractionByVolume {
    let share = |f: FractionByVolume| float(i64::from(f.millionths())) / 1e6;
    let kept = share(residual);
    let after = kept * share(foreign) + (1.0 - kept) * share(of_refill);
    FractionByVolume::from_ratio(after).unwrap_or(FractionByVolume::MAX)
}
