//! Rows that ask what the rules say: a topic, a profile, and `key=value` inputs with `;` between.
//!
//! The answer is a word, or again a list of `key=value`. The named profile is used whatever the
//! dates in the row. Inputs that no part of the answer rests on are named beside it.

mod counting;
mod determination;
mod inputs;
mod time;

use super::category::{Monthly, Standing, category};
use super::measure::whole_grams;
use super::profile::{GeneratorRules, Profile};
use crate::quantity::Mass;
use inputs::Inputs;

/// What a row comes to.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Answer {
    /// In the notation of the rows.
    pub got: String,
    /// The sections it rests on, and what else is to be said.
    pub why: Vec<String>,
    /// Inputs that were not used.
    pub unused: Vec<String>,
}

impl Answer {
    fn new(got: impl Into<String>) -> Self {
        Self {
            got: got.into(),
            ..Self::default()
        }
    }

    fn because(mut self, why: impl Into<String>) -> Self {
        let why = why.into();
        if !why.is_empty() && !self.why.contains(&why) {
            self.why.push(why);
        }
        self
    }
}

/// The topics that are worked out.
pub const TOPICS: [&str; 7] = [
    "category",
    "counting",
    "determination",
    "accumulation",
    "satellite",
    "inspection",
    "empty",
];

/// What a row comes to.
///
/// # Errors
/// In words, when the row cannot be read or its profile does not say.
pub fn answer(topic: &str, profile: &Profile, inputs: &str) -> Result<Answer, String> {
    let inputs = Inputs::read(inputs)?;
    let found = match topic {
        "category" => of_category(&inputs, profile),
        "counting" => counting::answer(&inputs, profile),
        "determination" => determination::answer(&inputs, profile),
        "accumulation" => time::accumulation(&inputs, profile),
        "satellite" => time::satellite(&inputs, profile),
        "inspection" => time::inspection(&inputs, profile),
        "empty" => time::empty(&inputs, profile),
        _ => Err(format!(
            "\"{topic}\" is none of the topics that are worked out: {}",
            TOPICS.join(", ")
        )),
    };
    let unused = inputs.unused();
    found.map(|found| Answer { unused, ..found })
}

fn generator(profile: &Profile) -> Result<&GeneratorRules, String> {
    profile
        .generator
        .as_ref()
        .ok_or_else(|| format!("profile {} has no classes of generators", profile.id))
}

fn sum(masses: impl IntoIterator<Item = Option<Mass>>) -> Result<Option<Mass>, String> {
    let mut sum = None;
    for mass in masses.into_iter().flatten() {
        let so_far = sum.unwrap_or(Mass::MIN);
        sum = Some(
            so_far
                .checked_add(mass)
                .map_err(|problem| problem.to_string())?,
        );
    }
    Ok(sum)
}

/// Acute waste and the residue of its spills; nothing where the row does not mention them.
fn acute(inputs: &Inputs<'_>) -> Result<(Option<Mass>, Option<Mass>), String> {
    let spills = ["acute_spill", "acute_spill_residue", "spill"];
    let spills: Result<Vec<_>, String> = spills.iter().map(|name| inputs.mass(name)).collect();
    Ok((inputs.mass("acute")?, sum(spills?)?))
}

fn standing(
    non_acute: Mass,
    acute: (Option<Mass>, Option<Mass>),
    rules: &GeneratorRules,
) -> Result<Standing, String> {
    let month = Monthly {
        non_acute,
        acute: acute.0.unwrap_or(Mass::MIN),
        acute_spill: acute.1.unwrap_or(Mass::MIN),
    };
    category(&month, rules).map_err(|problem| problem.to_string())
}

/// Litres of hazardous coolant as grams; a part of a gram counts as a whole one.
fn weighed(inputs: &Inputs<'_>) -> Result<Option<Mass>, String> {
    let Some(volume_ml) = inputs.volume_ml("volume")? else {
        return Ok(None);
    };
    let density = inputs.parsed("density_g_per_ml")?;
    let density = density.ok_or("a volume needs density_g_per_ml")?;
    let grams = volume_ml
        .times(density, true)
        .ok_or("the volume is too much")?;
    let grams = grams
        .to_string()
        .parse()
        .map_err(|problem| format!("{problem}"))?;
    let is_hazardous = inputs.truth(&["hazardous"])?.unwrap_or(true);
    Ok(Some(if is_hazardous {
        whole_grams(grams)?
    } else {
        Mass::MIN
    }))
}

fn of_category(inputs: &Inputs<'_>, profile: &Profile) -> Result<Answer, String> {
    let rules = generator(profile)?;
    let acute = acute(inputs)?;
    let non_acute = sum([
        inputs.mass("nonacute")?,
        inputs.mass("coolant_hw")?,
        inputs.mass("other_hw")?,
        weighed(inputs)?,
    ])?;
    if non_acute.is_none() && acute == (None, None) {
        return Err("no mass is given".to_owned());
    }
    let found = standing(non_acute.unwrap_or(Mass::MIN), acute, rules)?;
    let answer = Answer::new(rules.class(found.class).code.as_str())
        .because(&*rules.thresholds.small_max.section);
    Ok(match found.to_next {
        Some(left) => answer.because(format!("{} g to the next class", left.g())),
        None => answer,
    })
}
