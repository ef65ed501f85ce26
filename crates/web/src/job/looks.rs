//! How fluid looks and smells.

use domain::job::Looks;

use crate::component::{Choice, ChoiceField, ChoiceLook};
use crate::form::Form;

pub(super) const LOOKS: (&str, &str) = ("looks[]", "How does it look and smell? (optional)");

pub(super) fn field(form: &Form, hint: &str) -> ChoiceField {
    let entries: Vec<(&str, String)> = Looks::ALL
        .iter()
        .map(|look| (look.code(), super::common::sentence_case(look.word())))
        .collect();
    let entries: Vec<(&str, &str)> = entries
        .iter()
        .map(|(code, word)| (*code, word.as_str()))
        .collect();
    form.choice_field(LOOKS, hint, Choice::list(&entries), ChoiceLook::AnyOf)
}

/// What was ticked. Clear fluid has nothing else in it.
pub(super) fn read(form: &mut Form) -> Vec<Looks> {
    let offered: Vec<(&str, Looks)> = Looks::ALL.iter().map(|look| (look.code(), *look)).collect();
    let mut looks = form.choices(LOOKS, &offered);
    looks.sort_unstable();
    looks.dedup();
    if let [Looks::Clear, other, ..] = looks.as_slice() {
        let word = other.word();
        form.note(
            LOOKS.0,
            LOOKS.1,
            format!("both clear and {word} were ticked; take one of them back"),
        );
    }
    looks
}

/// What makes it unfit to be used again: "oil in it".
pub(super) fn unfit_word(looks: &[Looks]) -> Option<&'static str> {
    looks
        .iter()
        .find(|look| look.is_unfit())
        .map(|look| look.word())
}

pub(super) fn refill(form: &mut Form, looks: &[Looks]) {
    for look in looks {
        form.add(LOOKS.0, look.code());
    }
}
