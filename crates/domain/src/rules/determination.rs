//! Whether coolant is hazardous: by a test, by a jurisdiction's own criterion, or by knowledge.

use chrono::NaiveDate;

use super::exact::Exact;
use super::measure::strength_mg_per_l;
use super::profile::{Antifreeze, Profile, TestRules, WasteList};

/// What a laboratory says of one analyte, mg/L.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Found {
    /// So much.
    Measured(Exact),
    /// Less than this, its reporting limit.
    Below(Exact),
    /// Not detected, and no reporting limit is given.
    NotDetected,
}

/// Words of laboratories for what was not found, without blanks and marks.
const NOT_DETECTED: [&str; 4] = ["nd", "notdetected", "nondetect", "bdl"];
/// What they call the least they can report.
const REPORTING_LIMIT: [&str; 5] = ["mrl", "rl", "pql", "loq", "mdl"];

impl Found {
    /// A result as laboratories print it: a number, `<0.5`, ND with its reporting limit or without,
    /// a unit behind it or else the one that is given. `limit` is the reporting limit that stands
    /// elsewhere.
    ///
    /// ```
    /// use domain::rules::determination::Found;
    /// let read = |printed| Found::read(printed, "mg/L", None).unwrap();
    /// assert_eq!(read("6800 ug/L"), read("6.8"));
    /// assert_eq!(read("ND (RL 0.05)"), read("<0.05"));
    /// assert_eq!(read("ND <50 ug/L"), read("<0.05"));
    /// assert_eq!(read("ND"), Found::NotDetected);
    /// assert!(Found::read("trace", "mg/L", None).is_err());
    /// ```
    ///
    /// # Errors
    /// In words, when it is none of these.
    pub fn read(printed: &str, unit: &str, limit: Option<Exact>) -> Result<Self, String> {
        let text = printed.trim();
        if let Some(below) = text.strip_prefix(['<', '\u{2264}']) {
            return in_mg_per_l(below, unit).map(Self::Below);
        }
        let is_figure = |letter: char| letter.is_ascii_digit() || matches!(letter, '(' | '<');
        let (word, rest) = text.split_at(text.find(is_figure).unwrap_or(text.len()));
        let word = word.to_lowercase().replace([' ', '.', '-', '_'], "");
        let own = REPORTING_LIMIT.iter().find_map(|name| {
            let own = word.strip_suffix(name)?;
            NOT_DETECTED.contains(&own).then_some(own)
        });
        if !NOT_DETECTED.contains(&own.unwrap_or(&word)) {
            return in_mg_per_l(text, unit).map(Self::Measured);
        }
        let is_beside = |letter: char| letter.is_alphabetic() || "(<= :".contains(letter);
        let reported = rest
            .trim_start_matches(is_beside)
            .trim_end_matches([')', ' ']);
        if !reported.is_empty() {
            return in_mg_per_l(reported, unit).map(Self::Below);
        }
        Ok(limit.map_or(Self::NotDetected, Self::Below))
    }
}

fn in_mg_per_l(text: &str, unit: &str) -> Result<Exact, String> {
    let text = text.trim();
    let (number, unit) = text.split_once(' ').unwrap_or((text, unit));
    let unit = match unit.trim() {
        "µg/L" | "μg/L" | "µg/l" | "μg/l" | "ug/l" | "ppb" => "ug/L",
        "mg/l" | "ppm" => "mg/L",
        unit => unit,
    };
    strength_mg_per_l(&format!("{number} {unit}"))
}

/// What was analysed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Basis {
    /// The extract, or liquid of which nobody said otherwise.
    Extract,
    /// The whole waste, which has this share of filterable solids.
    Total {
        /// The share.
        solids: Exact,
    },
}

/// One line of a laboratory's sheet.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Analysed {
    /// Of what.
    pub analyte: String,
    /// How much.
    pub found: Found,
    /// In what.
    pub basis: Basis,
}

/// A sheet, as far as it decides anything.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Sheet {
    /// Its lines.
    pub lines: Vec<Analysed>,
    /// pH.
    pub ph: Option<Exact>,
    /// Glycol, as a share by mass.
    pub glycol_share: Option<Exact>,
    /// Whether another property makes it hazardous; none: nobody said.
    pub other_hazards: Option<bool>,
}

/// What a sheet comes to. What it does not mention, it does not decide.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Outcome {
    /// The codes it carries, each once.
    pub codes: Vec<String>,
    /// The section of a rule of the jurisdiction's own that makes it hazardous.
    pub own_rule: Option<String>,
    /// The entry in the list of waste.
    pub list_entry: Option<String>,
    /// What proves nothing, in words.
    pub undecided: Vec<String>,
    /// What the rules ask for and nobody gave, in words.
    pub missing: Vec<String>,
    /// The sections it was held against.
    pub sections: Vec<String>,
}

impl Outcome {
    /// Whether it is hazardous; none when a line of it proves nothing, or something is missing, and
    /// no other line settles it.
    pub fn is_hazardous(&self) -> Option<bool> {
        if !self.codes.is_empty() || self.own_rule.is_some() {
            Some(true)
        } else if self.undecided.is_empty() && self.missing.is_empty() {
            Some(false)
        } else {
            None
        }
    }

    fn carries(&mut self, code: &str, section: &str) {
        if !self.codes.iter().any(|known| known == code) {
            self.codes.push(code.to_owned());
        }
        self.cites(section);
    }

    fn cites(&mut self, section: &str) {
        if !self.sections.iter().any(|known| known == section) {
            self.sections.push(section.to_owned());
        }
    }
}

enum Judged {
    Carries,
    Clear,
    ProvesNothing(String),
}

/// At or above the limit carries the code; so does nothing that is only known to be below a
/// reporting limit which is itself above the limit.
fn judged(line: &Analysed, limit: Exact, rules: &TestRules) -> Judged {
    let name = &line.analyte;
    match line.found {
        Found::Measured(result) if result < limit => Judged::Clear,
        Found::Measured(_) => match line.basis {
            Basis::Total { solids } if solids >= rules.own_extract_below.value => {
                Judged::ProvesNothing(format!(
                    "{name}: the total is at or above the limit, and with these solids only an extract decides"
                ))
            }
            Basis::Total { .. } | Basis::Extract => Judged::Carries,
        },
        Found::Below(reporting) if reporting <= limit => Judged::Clear,
        Found::Below(reporting) => Judged::ProvesNothing(format!(
            "{name}: not found, but the reporting limit {reporting} mg/L is above the limit {limit} mg/L"
        )),
        Found::NotDetected => Judged::ProvesNothing(format!(
            "{name}: not found, and no reporting limit is given"
        )),
    }
}

fn hold_against_limits(sheet: &Sheet, rules: &TestRules, outcome: &mut Outcome) {
    if let Some(ph) = sheet.ph {
        for (is_corrosive, limit) in [
            (ph <= rules.ph_low.value, &rules.ph_low),
            (ph >= rules.ph_high.value, &rules.ph_high),
        ] {
            if is_corrosive {
                outcome.carries(&rules.ph_code.value, &limit.section);
            } else {
                outcome.cites(&limit.section);
            }
        }
    }
    for line in &sheet.lines {
        let known = rules
            .limits
            .iter()
            .find(|limit| limit.analyte.eq_ignore_ascii_case(&line.analyte));
        let Some(known) = known else {
            let problem = format!("{}: this profile has no limit for it", line.analyte);
            outcome.undecided.push(problem);
            continue;
        };
        let limit = &known.limit_mg_per_l;
        match judged(line, limit.value, rules) {
            Judged::Carries => outcome.carries(&known.code, &limit.section),
            Judged::Clear => outcome.cites(&limit.section),
            Judged::ProvesNothing(why) => {
                outcome.undecided.push(why);
                outcome.cites(&limit.section);
            }
        }
    }
}

fn percent(share: Exact) -> String {
    share
        .scaled((100, 1), true)
        .map_or_else(|| share.to_string(), |percent| format!("{percent} %"))
}

/// A list of waste has an entry for either answer; it is told by what is known, and what is still
/// to be said stands among what is missing.
fn hold_against_list(sheet: &Sheet, list: &WasteList, outcome: &mut Outcome) {
    let limit = &list.glycol_share;
    let by_share = sheet.glycol_share.map(|share| share >= limit.value);
    outcome.cites(&limit.section);
    let is_hazardous = match (by_share, sheet.other_hazards) {
        (Some(true), _) | (_, Some(true)) => true,
        (Some(false), stated) => {
            if stated.is_none() {
                outcome.missing.push(
                    "whether another property makes it hazardous, by its safety data sheet"
                        .to_owned(),
                );
            }
            false
        }
        (None, _) => {
            outcome.missing.push(format!(
                "the share of glycol by mass, as from {} on it is hazardous ({})",
                percent(limit.value),
                limit.section
            ));
            return;
        }
    };
    if is_hazardous {
        outcome.own_rule = Some(limit.section.clone());
    }
    let entry = list.entry(is_hazardous);
    outcome.list_entry = Some(entry.value.clone());
    outcome.cites(&entry.section);
}

/// Holds a sheet against a jurisdiction's figures. Where it has none, nothing is proven.
pub fn by_test(sheet: &Sheet, profile: &Profile) -> Outcome {
    let mut outcome = Outcome::default();
    if !profile.judges_sheets() {
        outcome.undecided.push(format!(
            "{} has no limits, no criterion and no list to hold a sheet against",
            profile.id
        ));
        outcome.cites(&profile.antifreeze.section);
        return outcome;
    }
    if let Some(rules) = &profile.test {
        hold_against_limits(sheet, rules, &mut outcome);
    }
    if let Some(criterion) = &profile.glycol_criterion {
        outcome.cites(&criterion.section);
        match sheet.glycol_share {
            Some(share) if share >= criterion.value => {
                outcome.own_rule = Some(criterion.section.clone());
            }
            Some(_) => {}
            None => outcome.missing.push(format!(
                "the share of ethylene glycol by mass, as from {} on it is hazardous ({})",
                percent(criterion.value),
                criterion.section
            )),
        }
    }
    if profile.antifreeze.value == Antifreeze::AlwaysHazardous {
        outcome.own_rule = Some(profile.antifreeze.section.clone());
        outcome.cites(&profile.antifreeze.section);
    }
    if let Some(list) = &profile.waste_list {
        hold_against_list(sheet, list, &mut outcome);
    }
    outcome
}

/// Until when a paper is kept.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum KeptUntil {
    /// Until this day.
    Day(NaiveDate),
    /// For as long as a dispute is open, or because the profile does not say.
    NoEnd,
}

/// Until when the papers of a determination are kept: counted from the day the waste was last
/// sent away, and not ended by anything while it is held.
pub fn keep_until(last_sent: Option<NaiveDate>, profile: &Profile, on_hold: bool) -> KeptUntil {
    let end = profile
        .retention
        .as_ref()
        .zip(last_sent)
        .and_then(|(span, day)| span.value.after(day));
    match end {
        Some(end) if !on_hold => KeptUntil::Day(end),
        _ => KeptUntil::NoEnd,
    }
}
