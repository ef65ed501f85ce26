//! What the book works out from one fact: postings, figures before and after, questions, flows.

use super::chemistry::Chemistry;
use super::contents::Contents;
use super::question::Question;
use crate::fact::Fitness;
use crate::ids::{FactKey, PlaceId};
use crate::job::Account;
use serde::{Deserialize, Serialize};

/// Why a posting was made.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// What was there when the book began.
    Opening,
    /// Fluid moved, as entered.
    Moved,
    /// A top-up to the mark proved that as much had been used up.
    UsedUp,
    /// More was taken out than the book held.
    OverDrawn,
    /// More was put in than fits.
    OverFilled,
    /// A reading shifted the strength.
    Reading,
    /// A dip set the volume.
    Dip,
    /// The place was retired.
    Retired,
}

impl Why {
    /// The code used in the views.
    pub fn code(self) -> &'static str {
        match self {
            Self::Opening => "opening",
            Self::Moved => "moved",
            Self::UsedUp => "used_up",
            Self::OverDrawn => "over_drawn",
            Self::OverFilled => "over_filled",
            Self::Reading => "reading",
            Self::Dip => "dip",
            Self::Retired => "retired",
        }
    }
}

/// One posting, always from one account to another, so that nothing is made or lost.
///
/// A shift by a reading carries a positive and a negative part.
#[derive(Clone, PartialEq, Eq, Hash, Debug)]
pub struct Posting {
    /// The line it comes from, counted from 0.
    pub line: u16,
    /// Why it was made.
    pub why: Why,
    /// Where it comes from.
    pub from: Account,
    /// Where it goes.
    pub to: Account,
    /// What, in mL before mixing at 20 °C.
    pub contents: Contents,
    /// The same mixed, at 20 °C, in mL.
    pub shown_ml: i64,
}

/// How the strength of a place is known.
#[derive(
    Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default, Serialize, Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum Knowledge {
    /// Nobody said and nobody tested: never shown as a freeze point.
    #[default]
    Assumed,
    /// Worked out from what was entered.
    Entered,
    /// A reading has counted.
    Tested,
}

impl Knowledge {
    /// The code used in the views.
    pub fn code(self) -> &'static str {
        match self {
            Self::Assumed => "assumed",
            Self::Entered => "entered",
            Self::Tested => "tested",
        }
    }

    /// What a code stands for.
    pub fn from_code(code: &str) -> Option<Self> {
        [Self::Assumed, Self::Entered, Self::Tested]
            .into_iter()
            .find(|knowledge| knowledge.code() == code)
    }
}

/// The figures of a place at one moment.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Figures {
    /// What it holds, mixed, at 20 °C, mL.
    pub shown_ml: i64,
    /// Concentrate by volume before mixing, millionths.
    pub fraction_millionths: i64,
    /// Its standard deviation, millionths.
    pub sigma_millionths: i64,
    /// How it is known.
    pub knowledge: Knowledge,
}

/// A place before and after a fact.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct PlaceChange {
    /// The loop or vessel.
    pub account: Account,
    /// Its figures before.
    pub before: Figures,
    /// Its figures after.
    pub after: Figures,
    /// What it held before, as far as a freeze point depends on it.
    pub chemistry_before: Chemistry,
    /// The same after.
    pub chemistry_after: Chemistry,
}

impl PlaceChange {
    /// The id of the place.
    pub fn place(&self) -> Option<PlaceId> {
        self.account.place()
    }
}

/// What a movement counts as in the totals. One movement can count under several.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Measure {
    /// Drawn out of a loop.
    Recovered,
    /// Filled into a loop from a vessel.
    FilledFromVessel,
    /// Put into a waste container from a loop or another vessel.
    ToWaste,
    /// Shipped off the site.
    Shipped,
    /// Bought.
    Bought,
    /// Topped up.
    ToppedUp,
    /// Spilled.
    Spilled,
    /// Used up (worked out from top-ups to the mark).
    UsedUp,
    /// Put into a loop out of a vessel that holds recovered fluid.
    Reused,
    /// Decided to be reclaimed, and not counted before: from this day it counts as generated.
    Reclaimed,
    /// Decided to be reclaimed once more in the month in which it was counted so, after it was put
    /// back into service.
    ReclaimedAgain,
    /// Became waste: from this day it counts as generated.
    BecameWaste,
    /// Drawn out of a loop with nobody saying whether it may be used again, into a vessel not kept
    /// for waste.
    Undecided,
    /// Plain water taken in from outside: bought too, but no coolant.
    Water,
    /// Drawn out of a loop by a flush: recovered too, but water that was put in to rinse.
    Rinsed,
}

/// All measures, in the order of the statements.
pub const MEASURES: [Measure; 15] = [
    Measure::Recovered,
    Measure::FilledFromVessel,
    Measure::ToWaste,
    Measure::Shipped,
    Measure::Bought,
    Measure::ToppedUp,
    Measure::Spilled,
    Measure::UsedUp,
    Measure::Reused,
    Measure::Reclaimed,
    Measure::ReclaimedAgain,
    Measure::BecameWaste,
    Measure::Undecided,
    Measure::Water,
    Measure::Rinsed,
];

impl Measure {
    /// The code used in the views and in files.
    pub fn code(self) -> &'static str {
        match self {
            Self::Recovered => "recovered",
            Self::FilledFromVessel => "filled_from_vessel",
            Self::ToWaste => "to_waste",
            Self::Shipped => "shipped",
            Self::Bought => "bought",
            Self::ToppedUp => "topped_up",
            Self::Spilled => "spilled",
            Self::UsedUp => "used_up",
            Self::Reused => "reused",
            Self::Reclaimed => "reclaimed",
            Self::ReclaimedAgain => "reclaimed_again",
            Self::BecameWaste => "became_waste",
            Self::Undecided => "undecided",
            Self::Water => "water",
            Self::Rinsed => "rinsed",
        }
    }

    /// What counts under it and is no coolant: left out where a shop's key figures tell of coolant.
    /// Each line that counts under the other counts under this one too.
    pub fn leaves_out(self) -> Option<Self> {
        match self {
            Self::Bought => Some(Self::Water),
            Self::Recovered => Some(Self::Rinsed),
            _ => None,
        }
    }

    /// The measure a code names.
    pub fn from_code(code: &str) -> Option<Self> {
        MEASURES.into_iter().find(|measure| measure.code() == code)
    }
}

/// A volume that counts under a measure.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Flow {
    /// The line, counted from 0.
    pub line: u16,
    /// What it counts as.
    pub measure: Measure,
    /// The vessel it is counted at: the one it went into, else the one it came out of.
    pub vessel: Option<PlaceId>,
    /// As typed, mL.
    pub typed_ml: i64,
    /// The same at 20 °C, mixed, mL.
    pub shown_ml: i64,
    /// Its mass, grams; none where the base has no density curve.
    pub mass_g: Option<i64>,
    /// Of what went into a unit again: what had been decided on the batch it was part of.
    pub batch: Option<Fitness>,
}

/// What a top-up counts as.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TopUpClass {
    /// Air purged after a fill: no sign of a leak.
    Completion,
    /// Used up since.
    Consumption,
}

impl TopUpClass {
    /// The code used in the views.
    pub fn code(self) -> &'static str {
        match self {
            Self::Completion => "completion",
            Self::Consumption => "consumption",
        }
    }
}

/// How a fact stands in the book.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It counts.
    #[default]
    Posted,
    /// It was voided or another job takes its place.
    Voided,
    /// Dated before an opening, or a second opening: kept, not posted.
    NotPosted,
}

impl Standing {
    /// The code used in the views.
    pub fn code(self) -> &'static str {
        match self {
            Self::Posted => "posted",
            Self::Voided => "voided",
            Self::NotPosted => "not_posted",
        }
    }
}

/// All that follows from one fact, given everything before it in replay order.
#[derive(Clone, PartialEq, Eq, Hash, Debug, Default)]
pub struct Outcome {
    /// How it stands.
    pub standing: Standing,
    /// The void, or the job that takes its place, when it was voided.
    pub voided_by: Option<FactKey>,
    /// Its postings, in the order they were worked out.
    pub postings: Vec<Posting>,
    /// The places it touched, in the order they were first touched; of a fact that does not count,
    /// the places it names, unchanged.
    pub changes: Vec<PlaceChange>,
    /// Its questions, answered ones too.
    pub questions: Vec<Question>,
    /// What it counts as.
    pub flows: Vec<Flow>,
    /// Of a top-up: what it counts as.
    pub top_up: Option<TopUpClass>,
}
