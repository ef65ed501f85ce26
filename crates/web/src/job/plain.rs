//! The page of a sheet whose steps are fields one below another, with nothing folded away.

use askama::Template;

use super::common::Common;
use super::gate::{self, GateFields};
use super::ground::Ground;
use super::sheet::Drawn;
use crate::component::{Caution, Choice, ChoiceField, ChoiceLook, Field};
use crate::desk::Frame;
use crate::form::Form;

#[derive(Template)]
#[template(path = "job/plain.html")]
struct Page {
    frame: Frame,
    common: Common,
    steps: Vec<Step>,
}

/// One step: what is known, what to take care of, what is asked.
#[derive(Clone, Debug)]
pub(super) struct Step {
    legend: &'static str,
    /// What it asks keeps the job from being started.
    gate: bool,
    said: Vec<String>,
    caution: Option<Caution>,
    fields: Vec<Field>,
    folded: Option<Folded>,
}

/// Fields below the others that most jobs leave empty.
#[derive(Clone, Debug)]
struct Folded {
    summary: &'static str,
    hint: &'static str,
    open: bool,
    fields: Vec<Field>,
}

impl Step {
    pub(super) fn new(legend: &'static str) -> Self {
        Self {
            legend,
            gate: false,
            said: Vec::new(),
            caution: None,
            fields: Vec::new(),
            folded: None,
        }
    }

    /// The gate before a system is opened.
    pub(super) fn before_opening(form: &Form, ground: &Ground) -> Self {
        let gate = GateFields::of(form, ground.units());
        Self {
            gate: true,
            caution: Some(gate::LET_IT_COOL),
            ..Self::new("Before opening")
        }
        .with(gate.temperature)
        .with(gate.pressure)
    }

    /// Sentences to know before answering.
    pub(super) fn saying(mut self, sentences: impl IntoIterator<Item = String>) -> Self {
        self.said.extend(sentences);
        self
    }

    pub(super) fn caution(self, text: &'static str) -> Self {
        Self {
            caution: Some(Caution { text }),
            ..self
        }
    }

    pub(super) fn with(mut self, field: impl Into<Field>) -> Self {
        self.fields.push(field.into());
        self
    }

    /// Folds fields away below the others, open where something stands in one of them.
    pub(super) fn folding(
        self,
        (summary, hint): (&'static str, &'static str),
        (form, fields): (&Form, Vec<Field>),
    ) -> Self {
        let is_used = |field: &Field| {
            let (name, _) = field.named();
            !form.typed(name).is_empty() || !form.problem_of(name).is_empty()
        };
        let folded = Folded {
            summary,
            hint,
            open: fields.iter().any(is_used),
            fields,
        };
        Self {
            folded: (!folded.fields.is_empty()).then_some(folded),
            ..self
        }
    }
}

pub(super) fn page<const N: usize>(common: Common, steps: [Step; N]) -> Drawn {
    Drawn::from(&Page {
        frame: common.frame.clone(),
        common,
        steps: steps.into(),
    })
}

/// What a question with these two answers is read by.
pub(super) const YES_OR_NO: &[(&str, bool)] = &[("yes", true), ("no", false)];

pub(super) fn yes_or_no(form: &Form, named: (&str, &str), hint: &str) -> ChoiceField {
    let choices = Choice::list(&[("yes", "Yes"), ("no", "No")]);
    form.choice_field(named, hint, choices, ChoiceLook::OneOf)
}

pub(super) fn refill_yes_or_no(form: &mut Form, named: (&str, &str), is: bool) {
    form.set(named.0, if is { "yes" } else { "no" });
}
