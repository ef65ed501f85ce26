//! A laboratory's sheet about waste: its lines as they were printed, and what they come to by the
//! rules of a jurisdiction.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::rules::determination::{Analysed, Basis, Found, Outcome, Sheet, by_test};
use crate::rules::{Exact, Profile};

/// One line of a laboratory's sheet, as printed.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AnalyteLine {
    /// What was measured: "lead".
    pub analyte: String,
    /// As printed, mg/L where it names no unit: "6.8", "<0.2", "ND (RL 50 ug/L)".
    pub printed: String,
    /// The method it was analysed by: "EPA 6010D".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
}

impl AnalyteLine {
    /// Reads a line: the analyte, what was found, and the method behind "by".
    ///
    /// ```
    /// use domain::waste::AnalyteLine;
    /// let line = AnalyteLine::read("benzene ND (RL 0.05) by EPA 8260D").unwrap();
    /// assert_eq!(line.analyte, "benzene");
    /// assert_eq!(line.printed, "ND (RL 0.05)");
    /// assert_eq!(line.method.as_deref(), Some("EPA 8260D"));
    /// assert!(AnalyteLine::read("lead some").is_none());
    /// ```
    pub fn read(line: &str) -> Option<Self> {
        let (line, method) = match line.split_once(" by ") {
            Some((line, method)) if !method.trim().is_empty() => (line, Some(method.trim())),
            _ => (line, None),
        };
        let blanks = line.trim().match_indices(' ');
        let mut parts = blanks.map(|(at, _)| line.trim().split_at(at));
        let (analyte, printed) = parts.find(|(_, printed)| found(printed).is_some())?;
        Some(Self {
            analyte: analyte.trim().to_owned(),
            printed: printed.trim().to_owned(),
            method: method.map(str::to_owned),
        })
    }

    /// What was found, with its unit and method: "6.8 mg/L by EPA 6010D".
    pub fn told(&self) -> String {
        let has_unit = ["/l", "pp"]
            .iter()
            .any(|unit| self.printed.to_lowercase().contains(unit));
        let is_figure = self
            .printed
            .contains(|letter: char| letter.is_ascii_digit());
        let unit = if is_figure && !has_unit { " mg/L" } else { "" };
        let method = self.method.as_ref().map(|method| format!(" by {method}"));
        format!("{}{unit}{}", self.printed, method.unwrap_or_default())
    }
}

fn found(printed: &str) -> Option<Found> {
    Found::read(printed, "mg/L", None).ok()
}

/// What the laboratory analysed.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Portion {
    /// The extract, or liquid of which nobody said otherwise.
    #[default]
    Extract,
    /// The whole waste; its filterable solids, % by mass as printed, where they are known.
    Total(Option<String>),
}

impl Portion {
    const fn is_extract(&self) -> bool {
        matches!(self, Self::Extract)
    }
}

/// A laboratory's sheet, as far as it decides anything.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LabSheet {
    /// The laboratory and its number of the sheet.
    pub number: String,
    /// The mark on the sample.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample: Option<String>,
    /// When the sample was taken.
    pub sampled_on: NaiveDate,
    /// Its lines.
    pub lines: Vec<AnalyteLine>,
    /// What was analysed.
    #[serde(default, skip_serializing_if = "Portion::is_extract")]
    pub portion: Portion,
    /// pH as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph: Option<String>,
    /// Glycol, % by mass as printed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub glycol: Option<String>,
    /// Whether another property makes it hazardous, where somebody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other_hazards: Option<bool>,
}

/// A share of 1 from a number in percent; none where it is no number from 0 to 100.
///
/// ```
/// use domain::waste::share_of_percent;
/// assert_eq!(share_of_percent("50"), "0.5".parse().ok());
/// assert_eq!(share_of_percent("100.1"), None);
/// ```
pub fn share_of_percent(printed: &str) -> Option<Exact> {
    let percent: Exact = printed.trim().parse().ok()?;
    percent.percent().filter(|share| share.is_share())
}

impl LabSheet {
    /// What it says beside its lines: what, and the figure as it was printed.
    pub fn figures(&self) -> impl Iterator<Item = (&'static str, String)> {
        let analysed = match &self.portion {
            Portion::Extract => None,
            Portion::Total(None) => Some("total, solids not stated".to_owned()),
            Portion::Total(Some(solids)) => Some(format!("total, solids {solids} %")),
        };
        let other = self
            .other_hazards
            .map(|is_so| if is_so { "yes" } else { "no" });
        [
            ("Analysed", analysed),
            ("pH", self.ph.clone()),
            (
                "Glycol by mass",
                self.glycol.as_ref().map(|it| format!("{it} %")),
            ),
            ("Other hazards", other.map(str::to_owned)),
        ]
        .into_iter()
        .filter_map(|(what, said)| Some((what, said?)))
    }

    /// What it comes to by the rules of a jurisdiction. A sheet without an analyte proves nothing
    /// where there are limits for them.
    pub fn held_against(&self, profile: &Profile) -> Outcome {
        let basis = match &self.portion {
            Portion::Extract => Basis::Extract,
            // Nobody said how much is solid: then it may be all of it.
            Portion::Total(solids) => Basis::Total {
                solids: solids
                    .as_deref()
                    .and_then(share_of_percent)
                    .unwrap_or(Exact::ONE),
            },
        };
        let lines = self.lines.iter().filter_map(|line| {
            Some(Analysed {
                analyte: line.analyte.clone(),
                found: found(&line.printed)?,
                basis,
            })
        });
        let sheet = Sheet {
            lines: lines.collect(),
            ph: self.ph.as_ref().and_then(|ph| ph.parse().ok()),
            glycol_share: self.glycol.as_deref().and_then(share_of_percent),
            other_hazards: self.other_hazards,
        };
        let mut outcome = by_test(&sheet, profile);
        if profile.test.is_some() && sheet.lines.is_empty() {
            outcome
                .missing
                .push("a result for any of the analytes that have limits".to_owned());
        }
        outcome
    }
}
