//! Rows about clocks and places: how long waste may stay, when somebody has to look.

use chrono::NaiveDate;

use super::super::accumulation::{
    Area, Deadline, InArea, Residue, Stored, antifreeze_deadline, deadline, is_empty, next_look,
    on_site, satellite as area_of,
};
use super::super::exact::Exact;
use super::super::profile::{Class, GeneratorRules, Profile};
use super::super::span::days_left;
use super::inputs::Inputs;
use super::{Answer, generator};

fn class(inputs: &Inputs<'_>, rules: &GeneratorRules) -> Result<Option<Class>, String> {
    let typed = inputs.text("category");
    typed
        .map(|typed| {
            rules
                .class_named(typed)
                .ok_or_else(|| format!("\"{typed}\" is no class of this profile"))
        })
        .transpose()
}

fn day(on: Option<NaiveDate>) -> String {
    on.map_or_else(|| "none".to_owned(), |day| day.to_string())
}

/// A deadline and, where the row says what day it is, the days that are left.
fn told(key: &str, due: Option<NaiveDate>, today: Option<NaiveDate>) -> String {
    let told = format!("{key}={}", day(due));
    match due.zip(today) {
        Some((due, today)) => format!("{told};days_left={}", days_left(due, today)),
        None => told,
    }
}

pub(super) fn accumulation(inputs: &Inputs<'_>, profile: &Profile) -> Result<Answer, String> {
    let rules = generator(profile)?;
    let today = inputs.day(&["as_of", "today"])?;
    let start = inputs.day(&["start", "moved_to_central"])?;
    let class = class(inputs, rules)?;
    let is_antifreeze = inputs.text("stream").is_none_or(|it| it == "antifreeze");
    if let Some(start) = start.filter(|_| is_antifreeze)
        && let Some(found) = antifreeze_deadline(start, profile, rules)
    {
        return Ok(Answer::new(told("deadline", found.on, today)).because(found.section));
    }
    let class = class.ok_or("the category is not given")?;
    let held = inputs
        .mass("onsite")?
        .map(|mass| on_site(mass, class, rules));
    let under = held.map_or(class, |held| held.under);
    let reached = inputs.day(&["reached"])?;
    let stored = |start| -> Result<Stored, String> {
        Ok(Stored {
            start,
            way_m: inputs.length_m("tsdf")?,
            extension_days: inputs.parsed("extension_days")?.unwrap_or(0),
        })
    };
    // Whoever passes a limit is under the next class from that day, not from the first drop.
    let from = if under == class { start } else { reached };
    let found: Option<Deadline<'_>> = from
        .map(|from| {
            let stored = stored(from)?;
            deadline(&stored, under, profile, rules).map_err(|problem| problem.to_string())
        })
        .transpose()?;
    let mut parts = Vec::new();
    if under != class {
        parts.push(format!("conditions={}", rules.class(under).code));
    }
    let has_no_clock = || rules.class(under).accumulation.value.is_none();
    match &found {
        Some(found) => parts.push(told("deadline", found.on, today)),
        None if reached.is_some() && has_no_clock() => parts.push("deadline=none".to_owned()),
        None => {}
    }
    if held.is_some_and(|held| held.is_exceeded) {
        let word = if parts.is_empty() {
            "exceeded"
        } else {
            "onsite=exceeded"
        };
        parts.push(word.to_owned());
    } else if parts.is_empty() && held.is_some() {
        parts.push("ok".to_owned());
    }
    if parts.is_empty() {
        return Err("neither a start date nor a mass on site is given".to_owned());
    }
    let mut answer = Answer::new(parts.join(";"));
    if let Some(found) = found {
        answer = answer.because(found.section);
    }
    if let Some(held) = held {
        answer = answer.because(held.section);
    }
    if under != class && reached.is_none() {
        answer = answer.because("the day the limit was passed is not given");
    }
    Ok(answer)
}

pub(super) fn satellite(inputs: &Inputs<'_>, profile: &Profile) -> Result<Answer, String> {
    if inputs.has("moved_to_central") {
        // From that day on it is in a central area.
        return accumulation(inputs, profile);
    }
    let rules = &generator(profile)?.satellite;
    let volume = inputs.volume_ml("saa_volume")?;
    let acute = inputs.volume_ml("saa_acute")?;
    let solid = inputs.mass("saa_acute")?;
    if volume.is_none() && acute.is_none() && solid.is_none() {
        return Err("how much stands in the area is not given".to_owned());
    }
    let held = InArea {
        non_acute_ml: volume.unwrap_or_default(),
        acute_ml: acute.unwrap_or_default(),
        acute_solid: solid,
    };
    let excess_on = inputs.day(&["excess_date"])?;
    let today = inputs.day(&["as_of", "today"])?;
    Ok(match area_of(&held, excess_on, rules) {
        Area::Within => Answer::new("ok").because(&*rules.max_ml.section),
        Area::MoveBy(None) => Answer::new("exceeded")
            .because(&*rules.max_ml.section)
            .because("the day of the excess is not given"),
        Area::MoveBy(by) => {
            Answer::new(told("move_by", by, today)).because(&*rules.move_within.section)
        }
    })
}

pub(super) fn inspection(inputs: &Inputs<'_>, profile: &Profile) -> Result<Answer, String> {
    let rules = generator(profile)?;
    let last = inputs.day(&["last_inspection"])?;
    let last = last.ok_or("the day of the last inspection is not given")?;
    let found = next_look(last, class(inputs, rules)?, rules);
    let mut got = format!("due={}", day(found.on));
    if let Some((due, today)) = found.on.zip(inputs.day(&["as_of", "today"])?) {
        let overdue = days_left(today, due).max(0);
        got = format!("{got};overdue_days={overdue}");
    }
    Ok(Answer::new(got).because(found.section))
}

pub(super) fn empty(inputs: &Inputs<'_>, profile: &Profile) -> Result<Answer, String> {
    let rules = &generator(profile)?.empty;
    let residue = match (inputs.length_m("residue")?, inputs.share("residue")?) {
        (Some(depth), None) => Residue::Depth(depth),
        (None, Some(share)) => Residue::Share(share),
        (None, None) => return Err("what is left in it is not given".to_owned()),
        (Some(_), Some(_)) => return Err("what is left in it is given twice".to_owned()),
    };
    let capacity: Option<Exact> = inputs.volume_ml("capacity")?;
    let capacity = match (residue, capacity) {
        (_, Some(capacity)) => capacity,
        (Residue::Depth(_), None) => Exact::default(),
        (Residue::Share(_), None) => return Err("how much it holds is not given".to_owned()),
    };
    let word = if is_empty(residue, capacity, rules) {
        "empty"
    } else {
        "not_empty"
    };
    Ok(Answer::new(word).because(&*rules.share_max.section))
}
