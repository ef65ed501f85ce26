//! A job as it is written down, and what can be wrong with a field of it.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A job as it was written, nothing read yet. The first twelve fields are the columns of a week
/// file; the rest only programs send.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct WrittenJob {
    /// When it was done, in the shop's own time: "2026-10-05 07:40", or the day alone.
    pub when: Option<String>,
    /// What kind of job: "recover", "fill", "top up", …
    pub kind: Option<String>,
    /// The number of the unit.
    pub unit: Option<String>,
    /// The vessel the fluid came from.
    pub from: Option<String>,
    /// The vessel the fluid went to.
    pub to: Option<String>,
    /// How much: "46.5 L", "2 qt".
    pub volume: Option<String>,
    /// The temperature of the fluid where it was measured: "38 °C".
    pub temperature: Option<String>,
    /// What it is, when it came from outside: "premix EG 50 % OAT".
    pub fluid: Option<String>,
    /// Whether a top-up reached the mark: "yes" or "no".
    pub at_mark: Option<String>,
    /// What the unit's meters show: "121,400 km", "8,210 h".
    pub meter: Option<String>,
    /// The handle of the person who did it.
    pub who: Option<String>,
    /// A note.
    pub note: Option<String>,
    /// The loop of the unit, where it has several.
    #[serde(rename = "loop")]
    pub unit_loop: Option<String>,
    /// The job's key, a UUID made when its form was opened.
    pub key: Option<String>,
    /// When its form was opened; worked out from `when` if not given.
    pub made_at: Option<String>,
    /// The name of the shop it was done in.
    pub shop: Option<String>,
    /// The time zone of a shop that is not on record yet.
    pub zone: Option<String>,
    /// The temperature entered before the system was opened.
    pub gate_temperature: Option<String>,
    /// Whether the loop has been through a heat cycle since its last fill.
    pub after_heat_cycle: Option<bool>,
    /// Whether recovered fluid may be used again: "yes", "no", "undecided".
    pub fit: Option<String>,
    /// What it is meant for: "reuse", "reclaim", "waste", "undecided".
    pub intent: Option<String>,
    /// The key of the job this one takes the place of.
    pub replaces: Option<String>,
    /// Why.
    pub replace_reason: Option<String>,
    /// What was read at the place: "-34 °F", "-48 °C or below", "50 %".
    pub reading: Option<String>,
    /// What it was read with: "refractometer" if not given.
    pub tool: Option<String>,
    /// The glycol its scale is for: "EG" or "PG".
    pub scale: Option<String>,
    /// The tag of the instrument it was read with, as it stands on the shop's list.
    pub instrument: Option<String>,
    /// Of an answer: the code of the question about the job in `replaces`.
    pub question: Option<String>,
    /// Of an answer: the line the question is about, counted from 0.
    pub line: Option<u16>,
    /// Of an answer: "accept" or "reject".
    pub decision: Option<String>,
    /// The offset from UTC that `when` is meant in, minutes.
    pub utc_offset_min: Option<i16>,
}

impl WrittenJob {
    /// What was sent, in one form however it was laid out: keys in order, without what is not
    /// given. The key stands beside it, since a header may carry it instead.
    ///
    /// # Errors
    /// It does not become JSON, which no text is known to cause.
    pub fn as_sent(&self) -> Result<Vec<u8>, String> {
        let told = |error: &dyn std::fmt::Display| error.to_string();
        let mut sent = serde_json::to_value(self).map_err(|error| told(&error))?;
        if let Value::Object(fields) = &mut sent {
            fields.retain(|name, value| name != "key" && !value.is_null());
        }
        let text = storage::canonical(&sent).map_err(|error| told(&error))?;
        Ok(text.into_bytes())
    }
}

/// What is wrong with one field, with what was found in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FieldProblem {
    /// The column or field.
    pub column: &'static str,
    /// What was found, cut short when long.
    pub found: String,
    /// What is wrong with it.
    pub problem: String,
}

/// Every problem of one job, gathered on the way.
#[derive(Debug, Default)]
pub struct Problems(Vec<FieldProblem>);

/// So much of a field is repeated in a problem.
const SHOWN: usize = 60;

impl Problems {
    /// Notes a problem.
    pub fn note(&mut self, column: &'static str, found: &str, problem: impl Into<String>) {
        self.0.push(FieldProblem {
            column,
            found: cut_short(found),
            problem: problem.into(),
        });
    }

    /// What was read; nothing, and a problem noted, where it could not be.
    pub fn take<T>(
        &mut self,
        column: &'static str,
        found: &str,
        read: Result<T, impl ToString>,
    ) -> Option<T> {
        match read {
            Ok(read) => Some(read),
            Err(problem) => {
                self.note(column, found, problem.to_string());
                None
            }
        }
    }

    /// Whether something is wrong with one of these fields.
    pub fn concern(&self, columns: &[&str]) -> bool {
        self.0
            .iter()
            .any(|problem| columns.contains(&problem.column))
    }

    /// Whether nothing was wrong.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// All of them, in the order they were met.
    pub fn into_vec(self) -> Vec<FieldProblem> {
        self.0
    }
}

/// The first characters of a text, on one line, with the mark of damage for what does not print.
fn cut_short(text: &str) -> String {
    let printed = |letter: char| {
        if letter.is_control() {
            '\u{FFFD}'
        } else {
            letter
        }
    };
    let mut short: String = text.trim().chars().take(SHOWN).map(printed).collect();
    if text.trim().chars().nth(SHOWN).is_some() {
        short.push('\u{2026}');
    }
    short
}

#[cfg(test)]
mod tests {
    use super::{Problems, WrittenJob};

    #[test]
    fn a_field_nobody_knows_and_a_field_given_twice_are_refused_with_their_place() {
        for (json, part) in [
            (r#"{"kind": "fill", "colour": "red"}"#, "colour"),
            (
                r#"{"kind": "fill", "kind": "ship"}"#,
                "duplicate field `kind`",
            ),
            (r#"{"volume": 12}"#, "expected a string"),
        ] {
            let problem = serde_json::from_str::<WrittenJob>(json).unwrap_err();
            assert!(problem.to_string().contains(part), "{problem}");
            assert_eq!(problem.line(), 1);
        }
        let job: WrittenJob = serde_json::from_str(r#"{"loop": "battery", "to": null}"#).unwrap();
        assert_eq!((job.unit_loop.as_deref(), job.to), (Some("battery"), None));
    }

    #[test]
    fn a_job_laid_out_in_another_way_is_sent_as_the_same() {
        let sent = |json: &str| {
            let job: WrittenJob = serde_json::from_str(json).unwrap();
            String::from_utf8(job.as_sent().unwrap()).unwrap()
        };
        let one = sent(r#"{"unit": "3304", "loop": "battery", "kind": "fill", "to": null}"#);
        assert_eq!(one, r#"{"kind":"fill","loop":"battery","unit":"3304"}"#);
        assert_eq!(
            sent(r#"{"key":"k","kind":"fill","unit":"3304","loop":"battery"}"#),
            one
        );
        assert_ne!(
            sent(r#"{"kind":"fill","unit":"3305","loop":"battery"}"#),
            one
        );
    }

    #[test]
    fn only_the_beginning_of_a_long_text_is_repeated() {
        let mut problems = Problems::default();
        problems.note("note", &"x".repeat(1_000_000), "too long");
        problems.note("note", "a\0b", "damaged");
        let problems = problems.into_vec();
        assert_eq!(problems[0].found.chars().count(), 61);
        assert_eq!(problems[1].found, "a\u{FFFD}b");
    }
}
