//! Why something is taken back: one of a list, with words of one's own where none of them says it.

use crate::component::{Choice, ChoiceField, ChoiceLook, TextArea};
use crate::form::{Form, Presence};

const FIELD: &str = "reason";
const WORDS: (&str, &str) = ("words", "In words");
const OTHER: &str = "Other";

/// A question with its answers. What the form sends is what is kept.
#[derive(Clone, Copy, Debug)]
pub(super) struct Why {
    pub(super) question: &'static str,
    /// Besides "Other", which is always among them.
    pub(super) reasons: &'static [&'static str],
}

impl Why {
    fn offered(&self) -> impl Iterator<Item = &'static str> {
        self.reasons.iter().copied().chain([OTHER])
    }

    pub(super) fn read(&self, form: &mut Form) -> Option<String> {
        let offered: Vec<_> = self.offered().map(|reason| (reason, reason)).collect();
        let reason = form.choice((FIELD, self.question), &offered, Presence::Needed);
        let presence = if reason == Some(OTHER) {
            Presence::Needed
        } else {
            Presence::Optional
        };
        let words = form.lines(WORDS, presence);
        match (reason?, words) {
            (OTHER, None) => None,
            (OTHER, Some(words)) => Some(words),
            (reason, None) => Some(reason.to_owned()),
            (reason, Some(words)) => Some(format!("{reason}: {words}")),
        }
    }

    pub(super) fn fields(&self, form: &Form) -> (ChoiceField, TextArea) {
        let choices = self.offered().map(|reason| Choice {
            value: reason.to_owned(),
            label: reason.to_owned(),
            ..Choice::default()
        });
        (
            form.choice_field(
                (FIELD, self.question),
                "",
                choices.collect(),
                ChoiceLook::OneOf,
            ),
            form.text_area(WORDS, "Needed for \"Other\", helpful for the rest."),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::Why;
    use crate::form::Form;

    const WHY: Why = Why {
        question: "Why?",
        reasons: &["Wrong unit", "Wrong volume"],
    };

    #[test]
    fn a_reason_is_one_of_the_list_and_other_needs_words() {
        for (reason, words, kept) in [
            ("Wrong unit", "", Some("Wrong unit")),
            (
                "Wrong volume",
                "it was 2 L",
                Some("Wrong volume: it was 2 L"),
            ),
            ("Other", "the can leaked", Some("the can leaked")),
            ("Other", " ", None),
            ("", "words alone", None),
            ("Because", "", None),
        ] {
            let mut form = Form::with([("reason", reason), ("words", words)]);
            assert_eq!(WHY.read(&mut form).as_deref(), kept, "{reason} {words}");
            assert_eq!(form.is_good(), kept.is_some());
        }
    }
}
