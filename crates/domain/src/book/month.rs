//! A month's statement: what a shop's vessels held, took in and gave out.

use super::contents::Contents;
use super::outcome::Measure;
use crate::ids::{PlaceId, ShopId};
use chrono::{Datelike, Months, NaiveDate};
use serde::{Deserialize, Serialize};

/// A calendar month in a shop's own dates.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Month {
    year: i32,
    month: u32,
}

impl Month {
    /// The month a date lies in.
    pub fn of(date: NaiveDate) -> Self {
        Self {
            year: date.year(),
            month: date.month(),
        }
    }

    /// Its first day.
    pub fn first_day(self) -> NaiveDate {
        NaiveDate::from_ymd_opt(self.year, self.month, 1).unwrap_or_default()
    }

    /// Its last day.
    pub fn last_day(self) -> NaiveDate {
        let first = self.first_day();
        first
            .checked_add_months(Months::new(1))
            .and_then(|next| next.pred_opt())
            .unwrap_or(first)
    }

    /// The month before; itself at the beginning of the calendar.
    #[must_use]
    pub fn before(self) -> Self {
        let before = self.first_day().checked_sub_months(Months::new(1));
        before.map_or(self, Self::of)
    }

    /// The month after; itself at the end of the calendar.
    #[must_use]
    pub fn after(self) -> Self {
        let after = self.first_day().checked_add_months(Months::new(1));
        after.map_or(self, Self::of)
    }

    /// The calendar year it lies in.
    pub fn year(self) -> i32 {
        self.year
    }
}

impl std::fmt::Display for Month {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-{:02}", self.year, self.month)
    }
}

impl From<Month> for String {
    fn from(month: Month) -> Self {
        month.to_string()
    }
}

impl TryFrom<String> for Month {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        format!("{text}-01")
            .parse::<NaiveDate>()
            .map(Self::of)
            .map_err(|_| format!("\"{text}\" is not a month written as 2026-10"))
    }
}

/// One line of a statement's flows.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FlowTotal {
    /// What it counts as.
    pub measure: Measure,
    /// As typed, mL.
    pub typed_ml: i64,
    /// At 20 °C, mixed, mL.
    pub shown_ml: i64,
    /// Its mass, grams, where every line had a density.
    pub mass_g: i64,
    /// Lines that count under it.
    pub lines: i64,
    /// Lines whose base has no density curve, so that their mass is missing above.
    pub lines_without_mass: i64,
}

impl FlowTotal {
    /// Two sums of one measure together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            measure: self.measure,
            typed_ml: self.typed_ml.saturating_add(other.typed_ml),
            shown_ml: self.shown_ml.saturating_add(other.shown_ml),
            mass_g: self.mass_g.saturating_add(other.mass_g),
            lines: self.lines.saturating_add(other.lines),
            lines_without_mass: self
                .lines_without_mass
                .saturating_add(other.lines_without_mass),
        }
    }
}

/// One vessel in a statement: opening + taken in − given out = closing, in each component.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VesselStatement {
    /// The vessel.
    pub vessel: PlaceId,
    /// What it held when the month began.
    pub opening: Contents,
    /// What came in.
    pub taken_in: Contents,
    /// What went out.
    pub given_out: Contents,
    /// What it held when the month ended.
    pub closing: Contents,
    /// Shown volume at the end less shown volume at the start less what moved, each mixed:
    /// fluids of different strength take up less room together.
    pub shrink_on_mixing_ml: i64,
}

/// What moved in and out of a vessel over a span, g: each line by its own density.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct VesselMasses {
    /// Came in.
    pub came_in_g: i64,
    /// Went into units.
    pub into_units_g: i64,
    /// Went off the site.
    pub shipped_g: i64,
    /// Went anywhere else.
    pub other_out_g: i64,
    /// Added by dips and readings, less what they took away.
    pub corrected_g: i64,
    /// Lines whose mass is not known, and so is in none of these.
    pub without_mass: i64,
}

impl VesselMasses {
    /// Two of them together.
    #[must_use]
    pub const fn plus(&self, other: &Self) -> Self {
        Self {
            came_in_g: self.came_in_g.saturating_add(other.came_in_g),
            into_units_g: self.into_units_g.saturating_add(other.into_units_g),
            shipped_g: self.shipped_g.saturating_add(other.shipped_g),
            other_out_g: self.other_out_g.saturating_add(other.other_out_g),
            corrected_g: self.corrected_g.saturating_add(other.corrected_g),
            without_mass: self.without_mass.saturating_add(other.without_mass),
        }
    }

    /// What a vessel that held `opening_g` would hold after all of this.
    pub const fn after(&self, opening_g: i64) -> i64 {
        opening_g
            .saturating_add(self.came_in_g)
            .saturating_sub(self.into_units_g)
            .saturating_sub(self.shipped_g)
            .saturating_sub(self.other_out_g)
            .saturating_add(self.corrected_g)
    }
}

impl VesselStatement {
    /// Whether opening + taken in − given out comes to the closing, in every component.
    pub fn closes(&self) -> bool {
        let mut worked = self.opening.clone();
        worked.add(&self.taken_in);
        worked.subtract(&self.given_out);
        worked == self.closing
    }

    /// What mixing makes of the shown volumes, mL, where all that came in and all that went out are
    /// each shown as one fluid: opening + in − out + this = closing.
    pub fn mixing_ml(&self) -> i64 {
        self.closing
            .shown_ml()
            .saturating_sub(self.opening.shown_ml())
            .saturating_sub(self.taken_in.shown_ml())
            .saturating_add(self.given_out.shown_ml())
    }
}

/// A month's statement for a shop, as it stood when it was drawn up.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Statement {
    /// The shop.
    pub shop: ShopId,
    /// The month.
    pub month: Month,
    /// Volumes by measure.
    pub flows: Vec<FlowTotal>,
    /// The shop's vessels.
    pub vessels: Vec<VesselStatement>,
    /// Sequence number of the last fact it knew of.
    pub head_seq: i64,
    /// Hash of that fact, lower-case hexadecimal.
    pub head_hash: String,
}

impl Statement {
    /// What the same month comes to by now, less what it came to then: adjustments to a closed
    /// month. Measures that did not change are left out.
    pub fn adjustments(&self, now: &[FlowTotal]) -> Vec<FlowTotal> {
        super::outcome::MEASURES
            .into_iter()
            .filter_map(|measure| {
                let line = |flows: &[FlowTotal]| {
                    flows.iter().copied().find(|flow| flow.measure == measure)
                };
                let then = line(&self.flows);
                let now = line(now);
                let difference = |figure: fn(FlowTotal) -> i64| {
                    now.map_or(0, figure).saturating_sub(then.map_or(0, figure))
                };
                let adjustment = FlowTotal {
                    measure,
                    typed_ml: difference(|flow| flow.typed_ml),
                    shown_ml: difference(|flow| flow.shown_ml),
                    mass_g: difference(|flow| flow.mass_g),
                    lines: difference(|flow| flow.lines),
                    lines_without_mass: difference(|flow| flow.lines_without_mass),
                };
                let changed = adjustment.typed_ml != 0
                    || adjustment.shown_ml != 0
                    || adjustment.mass_g != 0
                    || adjustment.lines != 0
                    || adjustment.lines_without_mass != 0;
                changed.then_some(adjustment)
            })
            .collect()
    }
}
