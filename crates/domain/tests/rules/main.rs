//! The rules: worked cases, their neighbours, and what no case may break.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers fail their test where they stand"
)]

mod cases;
mod neighbours;
mod profile;
mod properties;

use domain::rules::notation::{Answer, answer};
use domain::rules::{GeneratorRules, Profile, Profiles};

fn profile(id: &str) -> &'static Profile {
    let known = Profiles::built_in().unwrap();
    known.named(id).unwrap_or_else(|| panic!("no profile {id}"))
}

fn federal() -> &'static Profile {
    profile("us-fed-2026")
}

fn generator() -> &'static GeneratorRules {
    federal().generator.as_ref().unwrap()
}

fn asked(topic: &str, id: &str, inputs: &str) -> Result<Answer, String> {
    answer(topic, profile(id), inputs)
}

/// What a row comes to, every input of it used.
fn got(topic: &str, id: &str, inputs: &str) -> String {
    let found = asked(topic, id, inputs).unwrap_or_else(|problem| panic!("{inputs}: {problem}"));
    assert!(
        found.unused.is_empty(),
        "{inputs}: not used: {:?}",
        found.unused
    );
    found.got
}
