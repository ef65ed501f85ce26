//! The months that key figures are of.

use chrono::{Months, NaiveDate};
use domain::book::month::Month;
use storage::Period;

use crate::WebError;
use crate::component::{TextField, Width};
use crate::desk::Desk;
use crate::form::Form;
use crate::intake::time::start_of_day;

const FROM: (&str, &str) = ("from", "First month, like 2026-04");
const TO: (&str, &str) = ("to", "Last month, like 2026-09");
/// So many months where none are asked for.
const USUAL: u32 = 6;
const MOST: u32 = 60;

/// Whole months, both ends in.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Span {
    pub(crate) first: Month,
    pub(crate) last: Month,
}

impl Span {
    /// What the address asks for; the last six whole months without it.
    pub(crate) fn read(form: &mut Form, today: NaiveDate) -> Self {
        let usual = Self::usual(today);
        let first = month(form, FROM).unwrap_or(usual.first);
        let last = month(form, TO).unwrap_or(usual.last);
        let span = Self { first, last };
        let problem = if first > last {
            Some("the first month comes after the last; put an earlier one first".to_owned())
        } else if span.count() > MOST {
            Some(format!("more than {MOST} months; ask for fewer"))
        } else {
            None
        };
        match problem {
            None => span,
            Some(problem) => {
                form.note(FROM.0, FROM.1, problem);
                usual
            }
        }
    }

    fn usual(today: NaiveDate) -> Self {
        let this = Month::of(today).first_day();
        let back = |months| this.checked_sub_months(Months::new(months)).unwrap_or(this);
        Self {
            first: Month::of(back(USUAL)),
            last: Month::of(back(1)),
        }
    }

    /// As many months, right before it.
    pub(crate) fn before(self) -> Self {
        let months = Months::new(self.count());
        let back = |month: Month| {
            let first = month.first_day();
            Month::of(first.checked_sub_months(months).unwrap_or(first))
        };
        Self {
            first: back(self.first),
            last: back(self.last),
        }
    }

    pub(crate) fn months(self) -> Vec<Month> {
        let start = self.first.first_day();
        (0..=MOST)
            .filter_map(|gone| start.checked_add_months(Months::new(gone)))
            .map(Month::of)
            .take_while(|month| *month <= self.last)
            .collect()
    }

    pub(crate) fn count(self) -> u32 {
        u32::try_from(self.months().len()).unwrap_or(MOST)
    }

    fn end(self) -> NaiveDate {
        let last = self.last.first_day();
        last.checked_add_months(Months::new(1)).unwrap_or(last)
    }

    pub(crate) fn days(self) -> i64 {
        self.end()
            .signed_duration_since(self.first.first_day())
            .num_days()
    }

    /// In the time of the shop.
    pub(crate) fn period(self, desk: &Desk) -> Result<Period, WebError> {
        let start = |day| start_of_day(day, desk.zone()).map_err(WebError::fault);
        Ok(Period {
            shop: desk.shop.id,
            from: start(self.first.first_day())?.at,
            to: start(self.end())?.at,
        })
    }

    /// "2026-04 to 2026-09".
    pub(crate) fn words(self) -> String {
        if self.first == self.last {
            self.first.to_string()
        } else {
            format!("{} to {}", self.first, self.last)
        }
    }

    /// "from=2026-04&to=2026-09".
    pub(crate) fn query(self) -> String {
        format!("from={}&to={}", self.first, self.last)
    }

    pub(crate) fn fields(form: &Form, counts: Self) -> (TextField, TextField) {
        let field = |named, month: Month| {
            form.text_field(named, format!("Left empty, {month}."), Width::Ten)
        };
        (field(FROM, counts.first), field(TO, counts.last))
    }
}

fn month(form: &mut Form, (name, label): (&str, &str)) -> Option<Month> {
    let typed = form.ask(name);
    let text = typed.trim();
    if text.is_empty() {
        return None;
    }
    let read = Month::try_from(text.to_owned());
    if read.is_err() {
        form.note(name, label, "this is no month written like 2026-04");
    }
    read.ok()
}

#[cfg(test)]
mod tests {
    use super::Span;
    use crate::form::Form;

    #[test]
    fn the_last_six_whole_months_count_where_none_are_asked_for() {
        let today = "2026-10-05".parse().unwrap();
        let read = |query| {
            let mut form = Form::from_query(Some(query));
            let span = Span::read(&mut form, today);
            (span.words(), span.before().words(), form.is_good())
        };
        let said = |now: &str, before: &str, good| (now.to_owned(), before.to_owned(), good);
        let usual = said("2026-04 to 2026-09", "2025-10 to 2026-03", true);
        assert_eq!(read(""), usual);
        assert_eq!(
            read("from=2026-09&to=2026-09"),
            said("2026-09", "2026-08", true)
        );
        let refused = said("2026-04 to 2026-09", "2025-10 to 2026-03", false);
        assert_eq!(read("from=2026-09&to=2026-01"), refused);
        assert_eq!(read("from=1926-09&to=2026-01"), refused);
        assert!(!read("from=spring").2);
    }

    #[test]
    fn a_span_has_the_days_of_its_months() {
        let today = "2026-10-05".parse().unwrap();
        let mut form = Form::from_query(Some("from=2024-02&to=2024-03"));
        assert_eq!(Span::read(&mut form, today).days(), 29 + 31);
    }
}
