//! `calc rules --rows FILE.csv`: what the rules say of rows in their own notation.

use domain::rules::Profiles;
use domain::rules::notation::{TOPICS, answer};

use super::rows::{self, Asked};
use crate::exit::Failure;
use crate::out;

/// Its name beside those of the calculations.
pub(super) const NAME: &str = "rules";
/// What it answers.
pub(super) const ABOUT: &str = "Waste rules: class, counting, determination, clocks; rows only.";

const INPUTS: [&str; 3] = ["topic", "profile", "inputs"];
const OUTPUTS: [&str; 2] = ["got", "why"];

pub(super) fn parser() -> clap::Command {
    clap::Command::new(NAME)
        .bin_name(format!("coolant-ledger calc {NAME}"))
        .no_binary_name(true)
        .about(ABOUT)
        .after_help(help())
        .arg(super::rows_option().required(true))
}

fn help() -> String {
    let profiles: Vec<&str> = Profiles::built_in()
        .map(|known| known.iter().map(|profile| profile.id.as_str()).collect())
        .unwrap_or_default();
    format!(
        "Each row names a topic ({}), a profile ({}) and inputs as key=value with ; between.\n\n\
         The named profile is used whatever the dates. \"why\" names the sections, and inputs that \
         were not used. Local rules and licensed practice come first.",
        TOPICS.join(", "),
        profiles.join(", ")
    )
}

pub(super) fn run(text: &str) -> Result<(), Failure> {
    let known = Profiles::built_in().map_err(|cause| {
        Failure::broken(format!("the built-in profiles cannot be read: {cause}"))
    })?;
    let work_out = |cells: &[&str]| match cells {
        [topic, id, inputs] => row(known, (topic.trim(), id.trim()), inputs),
        _ => Err("a topic, a profile and inputs are needed".to_owned()),
    };
    let asked = Asked {
        name: NAME,
        inputs: &INPUTS,
        outputs: &OUTPUTS,
        work_out: &work_out,
    };
    rows::run(&asked, text)
}

fn row(known: &Profiles, (topic, id): (&str, &str), inputs: &str) -> Result<Vec<String>, String> {
    let profile = known
        .named(id)
        .ok_or_else(|| format!("there is no profile \"{id}\""))?;
    let found = answer(topic, profile, inputs)?;
    let mut why = found.why;
    if !found.unused.is_empty() {
        why.push(format!("not used: {}", found.unused.join(", ")));
    }
    Ok(vec![found.got, why.join(" | ")])
}

/// Says its help, or what is wrong with what was typed.
pub(super) fn asked(figures: &[String]) -> Result<(), Failure> {
    match parser().try_get_matches_from(figures) {
        Ok(given) => {
            let file = given.get_one::<String>(super::ROWS);
            let file = file.map(String::as_str).unwrap_or_default();
            run(&super::read(file)?)
        }
        Err(stop) if stop.use_stderr() => Err(Failure::usage(stop.render().to_string().trim_end())),
        Err(help) => {
            out::say(help.render().to_string().trim_end());
            Ok(())
        }
    }
}
