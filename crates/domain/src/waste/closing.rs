//! A month of a site that is closed: what it counted as on that day, kept as it was signed.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::generation::{Generation, Statements, Waste};
use super::stated::OtherWaste;
use crate::book::month::Month;
use crate::book::question::QuestionId;
use crate::ids::{PlaceId, SiteId};
use crate::rules::counting::Counts;

/// Why a month cannot be closed. Nothing else stands in the way: what is open is named in the
/// statement.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
pub enum CannotClose {
    /// Its last day is not over in every shop of the site.
    #[error("its last day, {0}, is not over yet")]
    NotEnded(NaiveDate),
    /// It is before the first month of the record.
    #[error("the record of this site begins with {0}")]
    BeforeRecord(Month),
    /// It was closed before; a closed month is never opened again.
    #[error("it is closed already, and a closed month is never changed")]
    AlreadyClosed,
}

/// Whether a month can be closed: `first` is that the record of the site begins with, `today` the
/// earliest date in any of its shops.
///
/// ```
/// use domain::book::month::Month;
/// use domain::waste::{CannotClose, may_close};
/// let day = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
/// let month = Month::of(day("2028-02-01"));
/// let first = Month::of(day("2027-05-01"));
/// assert_eq!(may_close((month, first), day("2028-02-29"), false), Err(CannotClose::NotEnded(day("2028-02-29"))));
/// assert_eq!(may_close((month, first), day("2028-03-01"), false), Ok(()));
/// ```
///
/// # Errors
/// [`CannotClose`] names what cannot be true.
pub fn may_close(
    (month, first): (Month, Month),
    today: NaiveDate,
    is_closed: bool,
) -> Result<(), CannotClose> {
    if is_closed {
        return Err(CannotClose::AlreadyClosed);
    }
    if month < first {
        return Err(CannotClose::BeforeRecord(first));
    }
    if today <= month.last_day() {
        return Err(CannotClose::NotEnded(month.last_day()));
    }
    Ok(())
}

/// What a figure of a site's month is of.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SiteFigure {
    /// Coolant that counts for certain.
    CoolantFirm,
    /// Coolant undecided, or not determined.
    CoolantPerhaps,
    /// Coolant that does not count.
    CoolantNotCounted,
    /// Coolant outside any class: no rules were chosen for its day, or they have no classes.
    CoolantNotJudged,
    /// Other hazardous waste that is not acute.
    OtherNonAcute,
    /// Other acute hazardous waste.
    OtherAcute,
}

impl SiteFigure {
    /// Every figure, in the order they are told.
    pub const ALL: [Self; 6] = [
        Self::CoolantFirm,
        Self::CoolantPerhaps,
        Self::CoolantNotCounted,
        Self::CoolantNotJudged,
        Self::OtherNonAcute,
        Self::OtherAcute,
    ];

    /// The figure a line of coolant is part of, by how it counts; none: it is outside
    /// any class.
    pub const fn of_coolant(counts: Option<Counts>) -> Self {
        match counts {
            Some(Counts::Yes) => Self::CoolantFirm,
            Some(Counts::Perhaps) => Self::CoolantPerhaps,
            Some(Counts::No) => Self::CoolantNotCounted,
            None => Self::CoolantNotJudged,
        }
    }

    /// Whether it is made of lines of coolant.
    pub const fn is_coolant(self) -> bool {
        !matches!(self, Self::OtherNonAcute | Self::OtherAcute)
    }

    /// The code used in addresses; the same as in statements.
    pub const fn code(self) -> &'static str {
        match self {
            Self::CoolantFirm => "coolant_firm",
            Self::CoolantPerhaps => "coolant_perhaps",
            Self::CoolantNotCounted => "coolant_not_counted",
            Self::CoolantNotJudged => "coolant_not_judged",
            Self::OtherNonAcute => "other_non_acute",
            Self::OtherAcute => "other_acute",
        }
    }

    /// What a code stands for.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|figure| figure.code() == code)
    }
}

/// A mass of a site's month.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteMass {
    /// Of what.
    pub figure: SiteFigure,
    /// Grams.
    pub g: i64,
}

impl SiteMass {
    /// What a month comes to, one of each figure.
    pub fn all(found: &Generation<'_>) -> Vec<Self> {
        [
            (SiteFigure::CoolantFirm, found.coolant_firm),
            (SiteFigure::CoolantPerhaps, found.coolant_perhaps),
            (SiteFigure::CoolantNotCounted, found.coolant_not_counted),
            (SiteFigure::CoolantNotJudged, found.coolant_not_judged),
            (SiteFigure::OtherNonAcute, found.other_non_acute),
            (SiteFigure::OtherAcute, found.other_acute),
        ]
        .into_iter()
        .map(|(figure, mass)| Self {
            figure,
            g: mass.g(),
        })
        .collect()
    }
}

/// A container as it stood when the month was closed.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ContainerStanding {
    /// Which.
    pub vessel: PlaceId,
    /// The date on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<NaiveDate>,
    /// What it held, mixed, at 20 °C, mL.
    pub held_ml: i64,
    /// Its mass, g; none where it has no density curve.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<i64>,
}

/// What was open when the month was closed: named, and in nobody's way.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftOpen {
    /// Questions about jobs of the month that nobody had answered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub questions: Vec<QuestionId>,
    /// Vessels with waste of the month that no determination covered.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub not_determined: BTreeSet<PlaceId>,
    /// Lines of the month whose mass is not known, and so is in no figure.
    pub lines_without_mass: i64,
}

/// What a month of a whole site counted as when it was closed. It is the body of a fact and is never
/// worked out again: neither new rules nor late facts change it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteStatement {
    /// The site.
    pub site: SiteId,
    /// The row of the rules in force on the last day of the month; none where none were chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub profile: Option<String>,
    /// Code of the class by what counts for certain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class: Option<String>,
    /// Code of the class in the worst case.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worst: Option<String>,
    /// Every mass, one of each figure.
    pub masses: Vec<SiteMass>,
    /// What was said about other waste; empty: nobody had said anything.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<OtherWaste>,
    /// What was open.
    pub open: LeftOpen,
    /// The waste containers, as they stood on the day of the closing.
    pub containers: Vec<ContainerStanding>,
}

impl SiteStatement {
    /// Draws a statement up from what the month comes to.
    pub fn of(
        site: SiteId,
        found: &Generation<'_>,
        (lines, stated, others): (&[Waste], &Statements, Vec<OtherWaste>),
        (questions, containers): (Vec<QuestionId>, Vec<ContainerStanding>),
    ) -> Self {
        let undetermined = lines
            .iter()
            .filter(|line| stated.determination_of(line.vessel, line.day).is_none());
        Self {
            site,
            profile: found.profile.map(|profile| profile.id.clone()),
            class: found.code(found.standing),
            worst: found.code(found.worst),
            masses: SiteMass::all(found),
            others,
            open: LeftOpen {
                questions,
                not_determined: undetermined.filter_map(|line| line.vessel).collect(),
                lines_without_mass: i64::try_from(found.lines_without_mass).unwrap_or(i64::MAX),
            },
            containers,
        }
    }

    /// A mass, g; 0 where the statement has none of it.
    pub fn g(&self, figure: SiteFigure) -> i64 {
        let mass = self.masses.iter().find(|mass| mass.figure == figure);
        mass.map_or(0, |mass| mass.g)
    }

    /// What the same month comes to by now less what it came to then, g: adjustments, without the
    /// figures that did not change. What is undecided becomes less as it is used up or decided on, which
    /// is no late entry; one that comes late shows in the totals of the month.
    pub fn adjustments(&self, now: &[SiteMass]) -> Vec<SiteMass> {
        now.iter()
            .map(|mass| SiteMass {
                figure: mass.figure,
                g: mass.g.saturating_sub(self.g(mass.figure)),
            })
            .filter(|change| change.g != 0 && change.figure != SiteFigure::CoolantPerhaps)
            .collect()
    }
}
