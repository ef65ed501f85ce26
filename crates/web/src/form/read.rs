//! Reads the fields of a form into typed values.

use chrono::NaiveDate;
use domain::condition::laboratory::plain_thousandths;
use domain::quantity::entry::{Typed, read_with_default_unit};
use domain::quantity::{Typeable, Unit};
use uuid::Uuid;

use super::Form;
use crate::intake::text::{self, Kind};

/// Whether a field must be filled in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Presence {
    Needed,
    Optional,
}

/// So much of what was typed is repeated in a sentence.
const SHOWN: usize = 60;

/// What was typed, as a sentence may repeat it: short, on one line, nothing unseen.
pub(crate) fn printable(typed: &str) -> String {
    let mut shown: String = typed
        .chars()
        .take(SHOWN)
        .map(|letter| {
            if letter.is_control() {
                '\u{FFFD}'
            } else {
                letter
            }
        })
        .collect();
    if typed.chars().nth(SHOWN).is_some() {
        shown.push_str(" …");
    }
    shown
}

fn in_thousandths(whole: i64) -> i64 {
    whole.saturating_mul(1_000)
}

impl Form {
    /// Reads a field as it was typed; the form knows from now on that it has such a field.
    pub(crate) fn ask(&mut self, name: &str) -> String {
        self.asked.insert(name.to_owned());
        self.typed(name).to_owned()
    }

    /// A quantity, in the unit chosen beside it or typed behind it.
    pub(crate) fn quantity<Q: Typeable>(
        &mut self,
        (name, label): (&str, &str),
        preset: Unit<Q>,
        presence: Presence,
    ) -> Option<Typed<Q>> {
        let typed = self.ask(name);
        let unit_typed = self.ask(&format!("{name}_unit"));
        let sign = self.ask(&format!("{name}_sign"));
        if !matches!(sign.as_str(), "" | "below" | "above") {
            let found = printable(&sign);
            self.note(
                name,
                label,
                format!("\"{found}\" is neither below nor above zero; choose one of the two"),
            );
            return None;
        }
        let unit = if unit_typed.is_empty() {
            preset
        } else if let Some(unit) = Unit::<Q>::named(&unit_typed) {
            unit
        } else {
            let found = printable(&unit_typed);
            self.note(
                name,
                label,
                format!("\"{found}\" is no unit of this field; choose one of those beside it"),
            );
            return None;
        };
        if typed.trim().is_empty() && presence == Presence::Optional {
            return None;
        }
        let text = match sign.as_str() {
            "below" if !typed.trim_start().starts_with(['-', '\u{2212}', '+']) => {
                format!("-{}", typed.trim())
            }
            _ => typed,
        };
        match read_with_default_unit(&text, unit) {
            Ok(read) => Some(read),
            Err(problem) => {
                self.note(name, label, problem.to_string());
                None
            }
        }
    }

    /// One line: a name, a number, a word.
    pub(crate) fn line(
        &mut self,
        (name, label): (&str, &str),
        presence: Presence,
    ) -> Option<String> {
        let typed = self.ask(name);
        match text::read(&typed, Kind::Name) {
            Ok(Some(read)) => Some(read.to_owned()),
            Ok(None) => {
                if presence == Presence::Needed {
                    self.note(name, label, "nothing was typed here, and it is needed");
                }
                None
            }
            Err(problem) => {
                self.note(name, label, problem);
                None
            }
        }
    }

    /// A note of several lines.
    pub(crate) fn lines(
        &mut self,
        (name, label): (&str, &str),
        presence: Presence,
    ) -> Option<String> {
        let typed = self.ask(name);
        match text::note(&typed) {
            Ok(Some(read)) => Some(read),
            Ok(None) => {
                if presence == Presence::Needed {
                    self.note(name, label, "nothing was typed here, and it is needed");
                }
                None
            }
            Err(problem) => {
                self.note(name, label, problem);
                None
            }
        }
    }

    /// One of a few words that the page offered.
    pub(crate) fn choice<T: Clone>(
        &mut self,
        (name, label): (&str, &str),
        offered: &[(&str, T)],
        presence: Presence,
    ) -> Option<T> {
        let typed = self.ask(name);
        if typed.is_empty() {
            if presence == Presence::Needed {
                self.note(name, label, "nothing was chosen here, and it is needed");
            }
            return None;
        }
        let found = offered.iter().find(|(code, _)| *code == typed);
        if found.is_none() {
            let found = printable(&typed);
            self.note(
                name,
                label,
                format!("\"{found}\" is not one of the answers offered; choose one of them"),
            );
        }
        found.map(|(_, value)| value.clone())
    }

    /// Whether a box was ticked.
    pub(crate) fn ticked(&mut self, name: &str) -> bool {
        let sent = self.ask(name);
        let is_box = sent.is_empty() || sent == "yes";
        if !is_box && self.problem_of(name).is_empty() {
            let found = printable(&sent);
            self.note(
                name,
                "Box to tick",
                format!("\"{found}\" is not what the box sends; tick it or leave it"),
            );
        }
        sent == "yes"
    }

    /// Any number of words that the page offered; the field's name ends in "[]".
    pub(crate) fn choices<T: Clone>(
        &mut self,
        (name, label): (&str, &str),
        offered: &[(&str, T)],
    ) -> Vec<T> {
        self.ask(name);
        let typed: Vec<String> = self.all(name).into_iter().map(str::to_owned).collect();
        let mut chosen = Vec::new();
        for code in typed.iter().filter(|code| !code.is_empty()) {
            if let Some((_, value)) = offered.iter().find(|(known, _)| known == code) {
                chosen.push(value.clone());
            } else {
                let found = printable(code);
                self.note(
                    name,
                    label,
                    format!("\"{found}\" is not one of the answers offered; choose among them"),
                );
            }
        }
        chosen
    }

    /// A number without a unit, at most three digits behind the mark: as typed, and in thousandths.
    pub(crate) fn thousandths(
        &mut self,
        (name, label): (&str, &str),
        (least, most): (i64, i64),
    ) -> Option<(String, i64)> {
        let typed = self.ask(name);
        let text = typed.trim();
        if text.is_empty() {
            return None;
        }
        let (from, to) = (in_thousandths(least), in_thousandths(most));
        let read = plain_thousandths(text).filter(|read| (from..=to).contains(read));
        if read.is_none() {
            let found = printable(text);
            self.note(
                name,
                label,
                format!("\"{found}\" is not a number from {least} to {most} with at most 3 digits behind the mark"),
            );
        }
        read.map(|read| (text.to_owned(), read))
    }

    /// An id that the page put in.
    pub(crate) fn id(&mut self, (name, label): (&str, &str), presence: Presence) -> Option<Uuid> {
        let typed = self.ask(name);
        if typed.is_empty() {
            if presence == Presence::Needed {
                self.note(name, label, "nothing was chosen here, and it is needed");
            }
            return None;
        }
        let read = Uuid::try_parse(&typed).ok();
        if read.is_none() {
            self.note(
                name,
                label,
                "what was sent is none of the entries offered; choose one of them",
            );
        }
        read
    }

    /// A whole number.
    pub(crate) fn whole(
        &mut self,
        (name, label): (&str, &str),
        (least, most): (i64, i64),
        presence: Presence,
    ) -> Option<i64> {
        let typed = self.ask(name);
        let text = typed.trim();
        if text.is_empty() {
            if presence == Presence::Needed {
                self.note(
                    name,
                    label,
                    format!("nothing was typed here; {least} to {most} is taken"),
                );
            }
            return None;
        }
        let read = text.replace('\u{2212}', "-").parse::<i64>().ok();
        let inside = read.filter(|number| (least..=most).contains(number));
        if inside.is_none() {
            let found = printable(text);
            self.note(
                name,
                label,
                format!("\"{found}\" is not a whole number from {least} to {most}"),
            );
        }
        inside
    }

    /// A day, like 2026-10-05.
    pub(crate) fn day(
        &mut self,
        (name, label): (&str, &str),
        presence: Presence,
    ) -> Option<NaiveDate> {
        let typed = self.ask(name);
        let text = typed.trim();
        if text.is_empty() {
            if presence == Presence::Needed {
                self.note(name, label, "no day was typed, write it like 2026-10-05");
            }
            return None;
        }
        let read = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok();
        let inside = read.filter(|day| {
            NaiveDate::from_ymd_opt(1990, 1, 1).is_some_and(|first| *day >= first)
                && NaiveDate::from_ymd_opt(2201, 1, 1).is_some_and(|end| *day < end)
        });
        if inside.is_none() {
            let found = printable(text);
            self.note(
                name,
                label,
                format!("\"{found}\" is not a day from 1990 to 2200, write it like 2026-10-05"),
            );
        }
        inside
    }
}

#[cfg(test)]
mod tests {
    use domain::quantity::{Temperature, Unit, Volume};

    use super::{Form, Presence, printable};

    const LITRE: Unit<Volume> = Unit::<Volume>::LITRE;

    #[test]
    fn a_quantity_takes_the_unit_beside_it_and_one_typed_behind_it_wins() {
        for (typed, unit, ml) in [
            ("2.5", "L", 2_500),
            ("1", "US gal", 3_785),
            ("2,5 L", "US gal", 2_500),
        ] {
            let mut form = Form::with([("volume", typed), ("volume_unit", unit)]);
            let read = form.quantity(("volume", "Volume"), LITRE, Presence::Needed);
            assert_eq!(read.unwrap().value.ml(), ml);
            assert!(form.is_good());
        }
    }

    #[test]
    fn below_zero_is_said_with_a_word_or_a_minus() {
        for (typed, sign) in [
            ("37", "below"),
            ("-37", "below"),
            ("-37", "above"),
            ("\u{2212}37", ""),
        ] {
            let mut form = Form::with([("t", typed), ("t_sign", sign)]);
            let read = form.quantity(("t", "T"), Unit::<Temperature>::CELSIUS, Presence::Needed);
            assert_eq!(
                read.unwrap().value.millicelsius(),
                -37_000,
                "{typed} {sign}"
            );
        }
    }

    #[test]
    fn what_cannot_be_read_stays_as_typed_with_its_problem() {
        for typed in [
            "",
            "words",
            "NaN",
            "inf",
            "1e400",
            "1000000000000000000",
            "0.0000000000000000000000000000000000000001",
            "5 \0 L",
            "5 \u{FFFD}",
        ] {
            let mut form = Form::with([("volume", typed)]);
            assert_eq!(
                form.quantity(("volume", "Volume"), LITRE, Presence::Needed),
                None,
                "{typed}"
            );
            assert_eq!(form.typed("volume"), typed);
            assert!(!form.problem_of("volume").is_empty());
        }
    }

    #[test]
    fn fields_that_nobody_asked_for_are_refused() {
        let mut form = Form::with([("note", "x"), ("role", "manager")]);
        form.lines(("note", "Note"), Presence::Optional);
        form.refuse_what_was_not_asked();
        assert_eq!(form.problems().len(), 1);
        assert!(form.problems()[0].text.contains("\"role\""));
    }

    #[test]
    fn a_choice_must_be_one_of_those_offered() {
        let mut form = Form::with([("fit", "maybe")]);
        assert_eq!(
            form.choice(("fit", "Fit"), &[("yes", 1), ("no", 2)], Presence::Optional),
            None
        );
        assert!(form.problem_of("fit").contains("\"maybe\""));
    }

    #[test]
    fn a_plain_number_is_read_in_thousandths() {
        for (typed, thousandths) in [
            ("6.8", 6_800),
            ("6,85", 6_850),
            ("7", 7_000),
            ("14", 14_000),
            ("0", 0),
        ] {
            let mut form = Form::with([("ph", typed)]);
            let read = form.thousandths(("ph", "pH"), (0, 14));
            assert_eq!(read, Some((typed.to_owned(), thousandths)), "{typed}");
        }
        for typed in [
            "14.001",
            "-1",
            "6.",
            ".8",
            "6.8000",
            "NaN",
            "1e3",
            "٧",
            "6 8",
            "1000000000000000000",
        ] {
            let mut form = Form::with([("ph", typed)]);
            assert_eq!(form.thousandths(("ph", "pH"), (0, 14)), None, "{typed}");
            assert!(form.problem_of("ph").contains("from 0 to 14"), "{typed}");
        }
    }

    #[test]
    fn a_box_sends_yes_or_nothing_and_boxes_of_one_question_are_read_together() {
        let mut form = Form::with([
            ("a", "yes"),
            ("b", "perhaps"),
            ("looks[]", "oil"),
            ("looks[]", "gel"),
            ("looks[]", "x"),
        ]);
        assert!(form.ticked("a") && !form.ticked("b") && !form.ticked("c"));
        assert!(form.problem_of("b").contains("\"perhaps\""));
        assert_eq!(
            form.choices(("looks[]", "Looks"), &[("oil", 1), ("gel", 2)]),
            [1, 2]
        );
        assert_eq!(form.problems().len(), 2);
    }

    #[test]
    fn what_is_repeated_is_short_and_printable() {
        assert_eq!(printable("a\0b"), "a\u{FFFD}b");
        assert_eq!(printable(&"x".repeat(100)).chars().count(), 62);
    }
}
