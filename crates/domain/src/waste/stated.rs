//! The facts: which rules a site is under, what its coolant was determined to be, what other
//! hazardous waste it had in a month.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::lab_sheet::LabSheet;
use crate::book::month::Month;
use crate::ids::{PlaceId, SiteId};
use crate::quantity::Mass;
use crate::quantity::entry::Typed;
use crate::rules::{Exact, read_way};
use crate::words::Text;

/// The rules a site is under from a day on.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProfileChosen {
    /// The site.
    pub site: SiteId,
    /// The jurisdiction of the profiles; which of its rows holds hangs on the date of an event.
    pub jurisdiction: String,
    /// The first day.
    pub from: NaiveDate,
    /// The way to the facility that takes the waste, as typed: "250 mi".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub way: Option<String>,
    /// Whether all papers are on hold, because a dispute or an inspection is open.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub on_hold: bool,
    /// The number the site is known by to whoever oversees its waste, as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
}

impl ProfileChosen {
    /// The way to the facility, m.
    pub fn way_m(&self) -> Option<Exact> {
        self.way.as_deref().and_then(|way| read_way(way).ok())
    }
}

/// What a determination says.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hazardous {
    /// It is hazardous.
    Yes,
    /// It is not.
    No,
}

/// What a determination stands on.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// A laboratory's sheet.
    Test(LabSheet),
    /// What is known of the fluid, in words.
    Knowledge(Text),
}

/// How coolant is recycled; some rules leave it out of the month's count then.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Recycled {
    /// By the practice that the rules list.
    BestPractice,
    /// In any other way.
    Otherwise,
}

/// Whether a site's waste coolant is hazardous, signed by whoever records it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Determination {
    /// The site.
    pub site: SiteId,
    /// The container it is of; none: all coolant of the site that has none of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vessel: Option<PlaceId>,
    /// It covers what became waste from this day on.
    pub covers_from: NaiveDate,
    /// What it says.
    pub hazardous: Hazardous,
    /// The codes the waste carries.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub codes: Vec<String>,
    /// How it is recycled, on the site or off it; none: it is not, or nobody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recycled: Option<Recycled>,
    /// What it stands on.
    pub basis: Basis,
}

/// Other hazardous waste of a month. What is stated later under the same name takes its place.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OtherWaste {
    /// The site.
    pub site: SiteId,
    /// The month.
    pub month: Month,
    /// What and how much; none: there was none in that month.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stream: Option<Stream>,
}

/// A stream of waste that is not coolant.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stream {
    /// What it is: "parts washer solvent".
    pub name: String,
    /// How much; 0 takes back what was stated under the name.
    pub mass: Typed<Mass>,
    /// Whether it is acute hazardous waste.
    #[serde(default)]
    pub acute: bool,
}

/// What counts for a month of all that was stated, the last one last: a stream takes the place of
/// an earlier one of its name, and "there was none" that of everything before it. A stream of 0 takes
/// back what was stated under its name and says nothing itself: if nothing else is left, nobody has
/// said anything.
pub fn in_force(month: Month, stated: &[OtherWaste]) -> Vec<OtherWaste> {
    let mut counts: Vec<OtherWaste> = Vec::new();
    for next in stated.iter().filter(|it| it.month == month) {
        let name = |of: &OtherWaste| of.stream.as_ref().map(|stream| stream.name.to_lowercase());
        if next.stream.is_some() {
            let own = name(next);
            counts.retain(|it| it.stream.is_some() && name(it) != own);
        } else {
            counts.clear();
        }
        let takes_back = next
            .stream
            .as_ref()
            .is_some_and(|it| it.mass.value == Mass::MIN);
        if !takes_back {
            counts.push(next.clone());
        }
    }
    counts
}
