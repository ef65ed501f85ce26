//! Whether the level stands at the mark.

use domain::job::Mark;

use crate::component::{Choice, ChoiceField, ChoiceLook};
use crate::form::{Form, Presence};

const MARKS: [(&str, Mark); 2] = [("at", Mark::At), ("not", Mark::NotAt)];

pub(super) fn field(form: &Form, named: (&str, &str), hint: &str) -> ChoiceField {
    let choices = Choice::list(&[("at", "Yes, at the mark"), ("not", "No")]);
    form.choice_field(named, hint, choices, ChoiceLook::OneOf)
}

pub(super) fn read(form: &mut Form, named: (&str, &str), presence: Presence) -> Option<Mark> {
    form.choice(named, &MARKS, presence)
}

/// Puts it back, where somebody said.
pub(super) fn refill(form: &mut Form, named: (&str, &str), mark: Option<Mark>) {
    let said = MARKS.iter().find(|(_, known)| Some(*known) == mark);
    if let Some((code, _)) = said {
        form.set(named.0, *code);
    }
}
