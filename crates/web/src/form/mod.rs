//! A form as it was typed: every field keeps its text, and a problem hangs on the field it is about.
//!
//! Reading never stops at the first problem. Fields that no form asked for are refused, so that
//! nothing can be slipped in beside them.

mod field;
mod read;

use std::collections::BTreeSet;

use axum::http::{HeaderMap, header};

use crate::WebError;

pub(crate) use field::Offered;
pub(crate) use read::{Presence, printable};

/// The most characters of one field that are put back on the page.
const MOST_PUT_BACK: usize = 4_200;

/// What is wrong with one field, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct FormProblem {
    /// The field's name, and so the id to go to.
    pub(crate) field: String,
    /// The field's label, where the problem is listed away from it.
    pub(crate) label: String,
    /// Lower case, no full stop: what was found, then what is allowed.
    pub(crate) text: String,
}

impl FormProblem {
    /// As it stands at the field.
    pub(crate) fn sentence(&self) -> String {
        crate::page::sentence(&self.text)
    }

    /// As it stands in the summary, away from its field.
    pub(crate) fn listed(&self) -> String {
        let between = if self.label.ends_with('?') { " " } else { ": " };
        format!("{}{between}{}", self.label, self.sentence())
    }
}

/// A form on its way in or out.
#[derive(Clone, Debug, Default)]
pub(crate) struct Form {
    values: Vec<(String, String)>,
    asked: BTreeSet<String>,
    problems: Vec<FormProblem>,
}

impl Form {
    /// A form with these values in it.
    pub(crate) fn with<N: Into<String>, V: Into<String>>(
        values: impl IntoIterator<Item = (N, V)>,
    ) -> Self {
        let values = values.into_iter();
        Self {
            values: values
                .map(|(name, value)| (name.into(), value.into()))
                .collect(),
            ..Self::default()
        }
    }

    /// A form as a browser sends it. Bytes that are no UTF-8 become replacement marks, which the
    /// readers of the fields then name.
    pub(crate) fn from_body(headers: &HeaderMap, body: &[u8]) -> Result<Self, WebError> {
        let is_form = headers
            .get(header::CONTENT_TYPE)
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.split(';').next())
            .is_some_and(|kind| {
                kind.trim()
                    .eq_ignore_ascii_case("application/x-www-form-urlencoded")
            });
        if !is_form && !body.is_empty() {
            return Err(WebError::NotAForm);
        }
        Ok(Self::with(form_urlencoded::parse(body)))
    }

    /// What stands behind the question mark of an address.
    pub(crate) fn from_query(query: Option<&str>) -> Self {
        Self::with(form_urlencoded::parse(query.unwrap_or_default().as_bytes()))
    }

    /// The values in an order of their own, as one text: the same form sent again is known by it.
    pub(crate) fn as_sent(&self) -> Vec<u8> {
        let mut values = self.values.clone();
        values.sort();
        let mut text = form_urlencoded::Serializer::new(String::new());
        text.extend_pairs(values);
        text.finish().into_bytes()
    }

    /// What was typed in a field; empty when it was not sent.
    pub(crate) fn typed(&self, name: &str) -> &str {
        self.values
            .iter()
            .find(|(known, _)| known == name)
            .map_or("", |(_, value)| value)
    }

    /// The text of a field, held to a length that a page can carry, with a mark for what no page can.
    pub(crate) fn put_back(&self, name: &str) -> String {
        let letters = self.typed(name).chars().take(MOST_PUT_BACK);
        letters
            .map(|letter| if letter == '\0' { '\u{FFFD}' } else { letter })
            .collect()
    }

    /// Every value of a field that may be chosen more than once.
    pub(crate) fn all(&self, name: &str) -> Vec<&str> {
        let values = self.values.iter();
        let own = values.filter(|(known, _)| known == name);
        own.map(|(_, value)| value.as_str()).collect()
    }

    /// All values, for a page that sends them again.
    pub(crate) fn values(&self) -> &[(String, String)] {
        &self.values
    }

    /// Puts a value in place of whatever was there.
    pub(crate) fn set(&mut self, name: &str, value: impl Into<String>) {
        self.values.retain(|(known, _)| known != name);
        self.values.push((name.to_owned(), value.into()));
    }

    /// Puts one more value into a field that may be chosen more than once.
    pub(crate) fn add(&mut self, name: &str, value: impl Into<String>) {
        self.values.push((name.to_owned(), value.into()));
    }

    /// Puts a value in where nothing was typed.
    pub(crate) fn preset(&mut self, name: &str, value: impl Into<String>) {
        if self.typed(name).is_empty() {
            self.set(name, value);
        }
    }

    /// Hangs a problem on a field.
    pub(crate) fn note(&mut self, field: &str, label: &str, text: impl Into<String>) {
        self.problems.push(FormProblem {
            field: field.to_owned(),
            label: label.to_owned(),
            text: text.into(),
        });
    }

    /// The problem of a field; empty when there is none.
    pub(crate) fn problem_of(&self, field: &str) -> String {
        let problem = self.problems.iter().find(|problem| problem.field == field);
        problem.map_or_else(String::new, FormProblem::sentence)
    }

    pub(crate) fn problems(&self) -> &[FormProblem] {
        &self.problems
    }

    pub(crate) fn is_good(&self) -> bool {
        self.problems.is_empty()
    }

    /// Of a form that was only opened: what nobody has typed yet is nothing to put right.
    pub(crate) fn forgive_what_is_empty(&mut self) {
        let problems = std::mem::take(&mut self.problems);
        let stands = |problem: &FormProblem| !self.typed(&problem.field).is_empty();
        self.problems = problems.into_iter().filter(stands).collect();
    }

    /// "Not saved yet: 2 things to put right".
    pub(crate) fn summary(&self) -> String {
        self.summary_after("Not saved yet")
    }

    /// The same of what was not done otherwise.
    pub(crate) fn summary_after(&self, not_done: &str) -> String {
        match self.problems.len() {
            1 => format!("{not_done}: 1 thing to put right"),
            count => format!("{not_done}: {count} things to put right"),
        }
    }

    /// For a button without fields: whatever came with it is refused.
    pub(crate) fn is_a_button(&mut self) -> Result<(), WebError> {
        self.refuse_what_was_not_asked();
        if self.is_good() {
            return Ok(());
        }
        Err(WebError::Refused {
            detail: "more came with this button than it has on its page; open the page anew"
                .to_owned(),
            problems: Vec::new(),
        })
    }

    /// Notes every field that was sent and that nothing asked for. Called once all fields are read.
    pub(crate) fn refuse_what_was_not_asked(&mut self) {
        let sent: BTreeSet<String> = self.values.iter().map(|(name, _)| name.clone()).collect();
        for name in sent.difference(&self.asked.clone()) {
            let shown: String = name.chars().take(60).collect();
            self.note(
                "",
                "Form",
                format!("the form has no field \"{shown}\"; open the page anew"),
            );
        }
        let twice: BTreeSet<String> = sent
            .iter()
            .filter(|name| self.all(name).len() > 1 && !name.ends_with("[]"))
            .cloned()
            .collect();
        for name in twice {
            self.note(
                &name,
                "Form",
                format!("\"{name}\" was sent more than once; open the page anew"),
            );
        }
    }
}
