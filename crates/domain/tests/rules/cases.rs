//! Every worked case comes out as it says.

use std::collections::{HashMap, HashSet};
use std::io::{Write as _, stderr};

use crate::asked;

/// The cases by column name; lines with `#` tell their source.
fn cases() -> Vec<HashMap<String, String>> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(include_bytes!("../../tables/rules_cases.csv").as_slice());
    reader.deserialize().map(Result::unwrap).collect()
}

#[test]
fn every_case_comes_out_as_it_says() {
    let cases = cases();
    let mut wrong = Vec::new();
    let mut from_memory = Vec::new();
    let mut letters = HashSet::new();
    for case in &cases {
        let id = case["id"].as_str();
        letters.insert(id.chars().next());
        let found = asked(
            case["topic"].as_str(),
            case["profile"].as_str(),
            case["inputs"].as_str(),
        );
        match found {
            Ok(found) if found.got == case["expected"].as_str() => {
                if !found.unused.is_empty() {
                    wrong.push(format!("{id}: not used: {:?}", found.unused));
                }
                if found.why.is_empty() {
                    wrong.push(format!("{id}: no section is named"));
                }
            }
            found => wrong.push(format!(
                "{id}: {} instead of {}",
                found.map_or_else(|problem| problem, |found| found.got),
                case["expected"].as_str()
            )),
        }
        if case["seen_or_memory"].as_str() == "from-memory" {
            from_memory.push(format!("{id} ({})", case["citation"].as_str()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(letters, HashSet::from([Some('G'), Some('T'), Some('A')]));
    writeln!(
        stderr(),
        "{} cases; checked against memory only, not against a source: {}",
        cases.len(),
        from_memory.join(", ")
    )
    .unwrap();
}
