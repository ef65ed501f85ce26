//! Whether coolant is hazardous: by a test, by a jurisdiction's own criterion, or by knowledge.

use chrono::NaiveDate;

use super::exact::Exact;
use super::profile::{Antifreeze, Profile, TestRules};

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
    /// The sections it was held against.
    pub sections: Vec<String>,
}

impl Outcome {
    /// Whether it is hazardous; none when a line of it proves nothing and no other settles it.
    pub fn is_hazardous(&self) -> Option<bool> {
        if !self.codes.is_empty() || self.own_rule.is_some() {
            Some(true)
        } else if self.undecided.is_empty() {
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

/// Holds a sheet against a jurisdiction's figures.
pub fn by_test(sheet: &Sheet, profile: &Profile) -> Outcome {
    let mut outcome = Outcome::default();
    match &profile.test {
        Some(rules) => hold_against_limits(sheet, rules, &mut outcome),
        None if sheet.lines.is_empty() && sheet.ph.is_none() => {}
        None => outcome
            .undecided
            .push("this profile has no limits for analytes or pH".to_owned()),
    }
    if let (Some(share), Some(criterion)) = (sheet.glycol_share, &profile.glycol_criterion) {
        outcome.cites(&criterion.section);
        if share >= criterion.value {
            outcome.own_rule = Some(criterion.section.clone());
        }
    }
    if profile.antifreeze.value == Antifreeze::AlwaysHazardous {
        outcome.own_rule = Some(profile.antifreeze.section.clone());
        outcome.cites(&profile.antifreeze.section);
    }
    if let Some(list) = &profile.waste_list {
        let by_share = sheet
            .glycol_share
            .map(|share| share >= list.glycol_share.value);
        let is_hazardous = match (by_share, sheet.other_hazards) {
            (Some(true), _) | (_, Some(true)) => Some(true),
            (Some(false), _) => Some(false),
            (None, _) => None,
        };
        if let Some(is_hazardous) = is_hazardous {
            let entry = if is_hazardous {
                outcome.own_rule = Some(list.glycol_share.section.clone());
                &list.hazardous
            } else {
                &list.other
            };
            outcome.list_entry = Some(entry.value.clone());
            outcome.cites(&list.glycol_share.section);
            outcome.cites(&entry.section);
        } else {
            let problem = "the share of glycol by mass is not given";
            outcome.undecided.push(problem.to_owned());
        }
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
