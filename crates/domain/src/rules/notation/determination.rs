//! Rows about determination.

use super::super::determination::{Analysed, Basis, Found, Outcome, Sheet, by_test};
use super::super::exact::Exact;
use super::super::profile::Profile;
use super::Answer;
use super::inputs::Inputs;

pub(super) fn answer(inputs: &Inputs<'_>, profile: &Profile) -> Result<Answer, String> {
    if let Some(knowledge) = inputs.text("knowledge") {
        // What a person who knows the process signs is taken as it is.
        let said = inputs.truth(&["hazardous"])?;
        let said = said.ok_or("by knowledge, hazardous has to say true or false")?;
        return Ok(Answer::new(format!("hazardous={said}"))
            .because(format!("by knowledge: {knowledge}"))
            .because(&*profile.antifreeze.section));
    }
    let is_by_share = inputs.has("eg_mass_fraction") || inputs.has("tclp");
    let found = outcome(inputs, profile)?;
    let by_share = || match (&found.own_rule, found.is_hazardous()) {
        (Some(_), _) => "hazardous=true(state)".to_owned(),
        (None, Some(is_hazardous)) => format!("hazardous={is_hazardous}"),
        (None, None) => "indeterminate".to_owned(),
    };
    let got = match &found.list_entry {
        Some(entry) => entry.clone(),
        None if is_by_share => by_share(),
        None if !found.codes.is_empty() => found.codes.join(","),
        None if found.own_rule.is_some() => by_share(),
        // Which codes it carries is asked of limits alone.
        None if found.undecided.is_empty() && profile.test.is_some() => "none".to_owned(),
        None => "indeterminate".to_owned(),
    };
    let mut answer = Answer::new(got);
    for why in found.sections.into_iter().chain(found.undecided) {
        answer = answer.because(why);
    }
    for missing in found.missing {
        answer = answer.because(format!("not given: {missing}"));
    }
    Ok(answer)
}

/// What the row's sheet comes to under the profile.
pub(super) fn outcome(inputs: &Inputs<'_>, profile: &Profile) -> Result<Outcome, String> {
    let other_hazards = inputs
        .text("other_hazards")
        .map(|text| !matches!(text, "none" | "false" | "no"));
    let sheet = Sheet {
        lines: lines(inputs, profile)?,
        ph: inputs.parsed("ph")?,
        glycol_share: inputs.share("eg_mass_fraction")?,
        other_hazards,
    };
    let metals = inputs.text("tclp");
    if sheet == Sheet::default() && metals.is_none() {
        return Err("the row gives nothing to determine it by".to_owned());
    }
    let mut found = by_test(&sheet, profile);
    match metals {
        Some("all_below") => {}
        Some("pending" | "none") => found
            .undecided
            .push("the metals are not tested yet".to_owned()),
        Some("exceeds" | "above" | "exceeded" | "fail") => {
            found.codes.push("the limits of the test".to_owned());
        }
        Some(other) => {
            let codes = other.split(',').map(str::trim);
            for code in codes {
                let known = profile.test.as_ref().is_some_and(|rules| {
                    rules.limits.iter().any(|limit| limit.code == code)
                        || rules.ph_code.value == code
                });
                if !known {
                    return Err(format!("\"{code}\" is no code of this profile"));
                }
                found.codes.push(code.to_owned());
            }
        }
        // The share alone, below the criterion, says nothing about the metals.
        None if profile.test.is_some()
            && sheet.lines.is_empty()
            && sheet.ph.is_none()
            && profile.waste_list.is_none() =>
        {
            found.undecided.push("the metals are not tested".to_owned());
        }
        None => {}
    }
    Ok(found)
}

fn lines(inputs: &Inputs<'_>, profile: &Profile) -> Result<Vec<Analysed>, String> {
    let mut lines = Vec::new();
    let limit = inputs.strength("reporting_limit")?;
    let solids = inputs.share("filterable_solids")?;
    if let Some(analyte) = inputs.text("analyte") {
        let result = inputs.text_of(&["result_mg_l", "result"]);
        let in_micrograms = inputs.text("result_ug_l");
        let total = inputs.text_of(&["total_mg_l", "total"]);
        let (found, basis) = match (result, in_micrograms, total) {
            (Some(result), None, None) => (Found::read(result, "mg/L", limit)?, Basis::Extract),
            (None, Some(result), None) => (Found::read(result, "ug/L", limit)?, Basis::Extract),
            (None, None, Some(total)) => {
                // Nobody said how much is solid: then it may be all of it.
                let solids = solids.unwrap_or(Exact::ONE);
                (Found::read(total, "mg/L", limit)?, Basis::Total { solids })
            }
            (None, None, None) if limit.is_some() => {
                (Found::read("not_detected", "mg/L", limit)?, Basis::Extract)
            }
            (None, None, None) => return Err(format!("{analyte} has no result")),
            _ => return Err(format!("{analyte} has more than one result")),
        };
        lines.push(Analysed {
            analyte: analyte.to_owned(),
            found,
            basis,
        });
    }
    // Several on one row: lead_mg_l=5.1;cadmium_mg_l=<0.01.
    for known in profile.test.iter().flat_map(|rules| &rules.limits) {
        if let Some(result) = inputs.text(&format!("{}_mg_l", known.analyte)) {
            lines.push(Analysed {
                analyte: known.analyte.clone(),
                found: Found::read(result, "mg/L", None)?,
                basis: Basis::Extract,
            });
        }
    }
    Ok(lines)
}
