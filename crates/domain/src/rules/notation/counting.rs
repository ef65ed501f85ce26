//! Rows about counting: what counts, the class it makes, the month it belongs to.

use super::super::counting::{
    Counts, Fate, Fitness, Generated, Hazard, Source, count, counted, event_shipped_in_time,
    generated_on,
};
use super::super::measure::whole_grams;
use super::super::profile::{GeneratorRules, Profile};
use super::inputs::Inputs;
use super::{Answer, acute, determination, generator, standing, sum, weighed};
use crate::book::month::Month;
use crate::quantity::Mass;

pub(super) fn answer(inputs: &Inputs<'_>, profile: &Profile) -> Result<Answer, String> {
    let rules = generator(profile)?;
    let months = inputs.keys_like("month_", "_g");
    if !months.is_empty() {
        return of_months(inputs, &months, rules);
    }
    if inputs.has("drained") {
        return of_date(inputs, rules);
    }
    let lines = lines(inputs, profile, rules)?;
    if lines.is_empty() {
        if inputs.has("eg_mass_fraction") {
            return of_share(inputs, profile, rules);
        }
        return Err("no mass is given".to_owned());
    }
    of_lines(inputs, &lines, profile, rules)
}

/// By its share of glycol, without a mass: whether it is hazardous, and beside it whether it counts.
fn of_share(
    inputs: &Inputs<'_>,
    profile: &Profile,
    rules: &GeneratorRules,
) -> Result<Answer, String> {
    let coolant = Source::Coolant(hazard(inputs, profile)?, fate(inputs)?);
    let verdict = counted(coolant, profile, rules);
    let says = said(verdict.counts);
    let answer = determination::answer(inputs, profile)?;
    Ok(answer.because(format!("{says}: {}", verdict.section)))
}

const fn said(counts: Counts) -> &'static str {
    match counts {
        Counts::Yes => "counted",
        Counts::No => "not counted",
        Counts::Perhaps => "counted if hazardous",
    }
}

/// Each month by itself: nothing is averaged.
fn of_months(
    inputs: &Inputs<'_>,
    months: &[&str],
    rules: &GeneratorRules,
) -> Result<Answer, String> {
    let mut classes = Vec::with_capacity(months.len());
    for key in months {
        let mass = inputs.mass(key.trim_end_matches("_g"))?;
        let mass = mass.ok_or_else(|| format!("{key} is empty"))?;
        let found = standing(mass, (None, None), rules)?;
        classes.push(rules.class(found.class).code.as_str());
    }
    Ok(Answer::new(classes.join(",")).because(&*rules.thresholds.small_max.section))
}

fn of_date(inputs: &Inputs<'_>, rules: &GeneratorRules) -> Result<Answer, String> {
    let drained = inputs.day(&["drained"])?;
    let drained = drained.ok_or("the day it was drained is not given")?;
    let decided = inputs.day(&["decided", "decided_discard"])?;
    if decided.is_some_and(|decided| decided < drained) {
        return Err("it was decided before it was drained".to_owned());
    }
    let fitness = match inputs.text_of(&["fit_test", "fit_for_use_test"]) {
        Some("pass") => Fitness::Fit,
        Some("fail") => Fitness::Unfit,
        None | Some("pending" | "undecided" | "none") => Fitness::Undecided,
        Some(other) => return Err(format!("\"{other}\" is no outcome of a test for fitness")),
    };
    let is_hazardous = inputs.truth(&["hazardous"])?;
    let grams = inputs.parsed("g")?;
    let rule = match fitness {
        Fitness::Fit => &rules.counting.dated_fit,
        Fitness::Unfit | Fitness::Undecided => &rules.counting.dated_unfit,
    };
    let got = match generated_on(drained, fitness, decided, &rules.counting) {
        Generated::On(day) => format!("month={}", Month::of(day)),
        Generated::NotYet => "month=none".to_owned(),
        Generated::Perhaps(day) => format!("month=pending;worst_case_month={}", Month::of(day)),
    };
    let answer = Answer::new(got).because(&*rule.section);
    let answer = match grams.map(whole_grams).transpose()? {
        Some(mass) => answer.because(format!("{} g", mass.g())),
        None => answer,
    };
    Ok(if is_hazardous == Some(false) {
        answer.because("not hazardous: in the total of its stream, not in the class")
    } else {
        answer
    })
}

fn hazard(inputs: &Inputs<'_>, profile: &Profile) -> Result<Hazard, String> {
    if inputs.has("eg_mass_fraction") || inputs.has("tclp") {
        let found = determination::outcome(inputs, profile)?;
        return Ok(match found.is_hazardous() {
            Some(true) => Hazard::Hazardous,
            Some(false) => Hazard::NonHazardous,
            None => Hazard::Pending,
        });
    }
    match inputs.text("determination") {
        Some("hazardous") => Ok(Hazard::Hazardous),
        Some("non_hazardous" | "nonhazardous" | "not_hazardous") => Ok(Hazard::NonHazardous),
        Some("pending" | "none" | "undecided") => Ok(Hazard::Pending),
        Some(other) => Err(format!("\"{other}\" is no determination")),
        // Where the row does not say, it counts: the safe side.
        None => Ok(match inputs.truth(&["hazardous"])? {
            Some(false) => Hazard::NonHazardous,
            Some(true) | None => Hazard::Hazardous,
        }),
    }
}

fn fate(inputs: &Inputs<'_>) -> Result<Fate, String> {
    let best_practice = inputs.truth(&["best_practice", "recycled_bmp"])?;
    let recycled = Fate::Recycled {
        best_practice: best_practice == Some(true),
    };
    let is_fit = inputs.text_of(&["fit_for_use_test", "fit_test"]) == Some("pass");
    let is_recycled = inputs.truth(&["recycled"])?.or(best_practice) == Some(true);
    let is_straight = inputs.truth(&["prior_storage", "stored"])? == Some(false);
    match inputs.text("disposition") {
        // Put back without a test that it is still fit, nothing says that it is no waste.
        Some("returned_to_service_without_reclamation" | "reused" | "reuse") => {
            Ok(if is_fit { Fate::PutBack } else { Fate::Waste })
        }
        Some("onsite_recycler_without_storage" | "straight_to_recycler") => {
            Ok(Fate::StraightToRecycler)
        }
        Some("recycled" | "reclaimed" | "returned_to_service_after_reclamation") => Ok(recycled),
        Some("waste" | "disposed" | "shipped" | "stored") => Ok(Fate::Waste),
        Some(other) => Err(format!(
            "\"{other}\" is nothing that becomes of coolant here"
        )),
        None if is_straight => Ok(Fate::StraightToRecycler),
        None if is_recycled => Ok(recycled),
        None => Ok(Fate::Waste),
    }
}

fn lines(
    inputs: &Inputs<'_>,
    profile: &Profile,
    rules: &GeneratorRules,
) -> Result<Vec<(Source, Mass)>, String> {
    let mut lines = Vec::new();
    let mut add = |source, mass: Option<Mass>| lines.extend(mass.map(|mass| (source, mass)));
    let drained = sum([inputs.mass("recovered")?, weighed(inputs)?])?;
    if drained.is_some() {
        let coolant = Source::Coolant(hazard(inputs, profile)?, fate(inputs)?);
        add(coolant, drained);
    }
    if let Some(spent) = inputs.mass("spent_hazardous")? {
        let cycles = inputs.parsed::<u16>("onsite_reclaim_cycles_in_month")?;
        let cycles = cycles.unwrap_or(0);
        let fate = match fate(inputs)? {
            Fate::Waste if cycles > 0 => Fate::Recycled {
                best_practice: false,
            },
            fate => fate,
        };
        add(Source::Coolant(Hazard::Hazardous, fate), Some(spent));
        for _ in 1..cycles {
            add(Source::ReclaimedAgain, Some(spent));
        }
    }
    for name in [
        "generated_this_month",
        "normal",
        "other_hw",
        "coolant_hw",
        "nonacute",
    ] {
        add(Source::OtherHazardous, inputs.mass(name)?);
    }
    for (name, source) in [
        ("reclaim_residue", Source::Residue),
        ("moved_from_storage_to_truck", Source::FromStorage),
        ("moved_from_storage", Source::FromStorage),
        ("used_oil", Source::UsedOil),
        ("universal_waste", Source::Universal),
    ] {
        add(source, inputs.mass(name)?);
    }
    if let Some(event) = inputs.mass("episodic_event")? {
        let shipped = inputs.day(&["event_shipped", "shipped"])?;
        let started = inputs.day(&["event_start", "started"])?;
        let in_time =
            started.map(|started| event_shipped_in_time(started, shipped, &rules.counting));
        let met = inputs.truth(&["event_conditions_met"])?;
        let conditions_met = met.or(in_time) == Some(true) && in_time != Some(false);
        add(Source::Episodic { conditions_met }, Some(event));
    }
    Ok(lines)
}

fn of_lines(
    inputs: &Inputs<'_>,
    lines: &[(Source, Mass)],
    profile: &Profile,
    rules: &GeneratorRules,
) -> Result<Answer, String> {
    let acute = acute(inputs)?;
    let found = count(lines, profile, rules).map_err(|problem| problem.to_string())?;
    let class_of = |mass: Mass| {
        standing(mass, acute, rules).map(|found| rules.class(found.class).code.as_str())
    };
    let mut got = format!(
        "counted_g={};category={}",
        found.firm.g(),
        class_of(found.firm)?
    );
    if found.pending > Mass::MIN {
        let worst = found.worst_case().map_err(|problem| problem.to_string())?;
        let class = class_of(worst)?;
        got = format!(
            "{got};worst_case_g={};worst_case_category={class}",
            worst.g()
        );
    }
    let mut answer = Answer::new(got);
    for (source, mass) in lines {
        let verdict = counted(*source, profile, rules);
        let says = said(verdict.counts);
        answer = answer.because(format!("{} g {says}: {}", mass.g(), verdict.section));
    }
    Ok(answer)
}
