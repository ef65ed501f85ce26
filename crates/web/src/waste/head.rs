//! What stands at the head of every page and file of waste: whose figures, of when, by which rules, of
//! how many rows, made when and by whom, up to where in the record.

use std::fmt::Display;

use askama::Template;
use chrono::NaiveDate;
use domain::book::month::Month;

use super::export::{Csv, kg};
use super::{LOCAL_RULES, OnSite, profiles};
use crate::WebError;
use crate::desk::Desk;
use crate::figure;
use crate::record::number;

/// Everything of the site that a list could leave out; most leave out nothing.
pub(super) const ALL_SHOPS: &str = "all shops of the site";

/// Days or months a report is about, from the first to the last.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Period {
    Months(Month, Month),
    Days(NaiveDate, NaiveDate),
}

impl Period {
    pub(super) const fn of_month(month: Month) -> Self {
        Self::Months(month, month)
    }

    pub(super) const fn of_day(day: NaiveDate) -> Self {
        Self::Days(day, day)
    }

    fn days(self) -> (NaiveDate, NaiveDate) {
        match self {
            Self::Months(first, last) => (first.first_day(), last.last_day()),
            Self::Days(first, last) => (first, last),
        }
    }
}

impl Display for Period {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Months(first, last) if first == last => write!(f, "{first}"),
            Self::Months(first, last) => write!(f, "{first} to {last}"),
            Self::Days(first, last) if first == last => write!(f, "{first}"),
            Self::Days(first, last) => write!(f, "{first} to {last}"),
        }
    }
}

/// The rows of a table, with what they are: "lines".
pub(super) type Rows = (&'static str, usize);

/// The head of a report.
#[derive(Template)]
#[template(path = "waste/head.html")]
pub(super) struct ReportHead {
    /// "R1 monthly generation log".
    report: &'static str,
    site: String,
    /// What the site is known by to whoever oversees its waste; of several in the period each with its
    /// days.
    number: Option<String>,
    period: String,
    /// Every row of a profile that is in force in the period.
    rules: Vec<String>,
    rows: Vec<Rows>,
    filter: String,
    made_at: String,
    made_by: String,
    local_rules: &'static str,
    /// Place and hash of the last event, as a page says them and as a file does.
    pub(super) record: String,
    record_in_file: String,
}

impl askama::filters::HtmlSafe for ReportHead {}

impl ReportHead {
    pub(super) fn of(
        (desk, site): (&Desk, &OnSite),
        (report, period): (&'static str, Period),
        rows: Vec<Rows>,
    ) -> Result<Self, WebError> {
        let over = site.stated.profiles_over(period.days(), profiles()?);
        let rules = over.into_iter().map(|(from, profile)| match profile {
            Some(profile) => format!("{} from {from}: {}", profile.id, profile.about),
            None => format!("none chosen from {from}"),
        });
        Ok(Self {
            report,
            site: site.name.clone(),
            number: site.numbers_over(period.days()),
            period: period.to_string(),
            rules: rules.collect(),
            rows,
            filter: ALL_SHOPS.to_owned(),
            made_at: figure::time(desk.now_ms(), desk.zone()),
            made_by: desk.person.handle.clone(),
            local_rules: LOCAL_RULES,
            record: site.made(desk),
            record_in_file: format!("{} {}", site.head.seq, site.head.hash_hex()),
        })
    }

    /// The same of a list that leaves something out.
    pub(super) fn filtered(self, by: impl Display) -> Self {
        Self {
            filter: format!("{ALL_SHOPS}; {by}"),
            ..self
        }
    }

    /// "12 months, 3 facilities".
    fn counted(&self) -> String {
        let rows = self
            .rows
            .iter()
            .map(|(what, rows)| format!("{what}: {rows}"));
        rows.collect::<Vec<_>>().join(", ")
    }

    /// What stands above the tables of a file. The rows of its main table have no word of their own.
    pub(super) fn above(&self, csv: &mut Csv) {
        let mut about = vec![
            ("report".to_owned(), self.report.to_owned()),
            ("site".to_owned(), Csv::text(&self.site)),
            (
                "site identity number".to_owned(),
                self.number
                    .as_deref()
                    .map_or_else(|| "not stated".to_owned(), Csv::text),
            ),
            ("period".to_owned(), self.period.clone()),
            ("rules".to_owned(), self.rules.join("; ")),
            ("made at".to_owned(), self.made_at.clone()),
            ("made by".to_owned(), Csv::text(&self.made_by)),
        ];
        for (n, (what, rows)) in self.rows.iter().enumerate() {
            let word = if n == 0 {
                "rows".to_owned()
            } else {
                format!("rows of {what}")
            };
            about.push((word, rows.to_string()));
        }
        about.extend([
            ("filter".to_owned(), self.filter.clone()),
            ("record head".to_owned(), self.record_in_file.clone()),
            ("note".to_owned(), self.local_rules.to_owned()),
        ]);
        for (what, value) in about {
            csv.row(&[what, value]);
        }
        csv.row::<&str>(&[]);
    }
}

/// What the two sides of a check are measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Measured {
    Grams,
    Number,
}

/// What is reckoned in two ways, from tables of their own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Check {
    what: String,
    /// By what, and what it comes to.
    sides: [(&'static str, i64); 2],
    measured: Measured,
}

impl Check {
    /// A mass by the rows of a table and by the book, g.
    pub(super) fn of(what: impl Into<String>, rows_g: i64, book_g: i64) -> Self {
        Self::of_sides(what, [("its lines", rows_g), ("the book", book_g)])
    }

    /// A mass by two ways, g.
    pub(super) fn of_sides(what: impl Into<String>, sides: [(&'static str, i64); 2]) -> Self {
        Self {
            what: what.into(),
            sides,
            measured: Measured::Grams,
        }
    }

    /// How many there are, and how many of them pass.
    pub(super) fn of_all(what: impl Into<String>, sides: [(&'static str, usize); 2]) -> Self {
        let number = |(word, number)| (word, i64::try_from(number).unwrap_or(i64::MAX));
        Self {
            what: what.into(),
            sides: sides.map(number),
            measured: Measured::Number,
        }
    }

    const fn agrees(&self) -> bool {
        let [(_, one), (_, other)] = self.sides;
        one == other
    }

    /// Look and sentence of it.
    pub(super) fn said(&self, kilograms: impl Fn(i64) -> String) -> (&'static str, String) {
        let figure = |of: i64| match self.measured {
            Measured::Grams => kilograms(of),
            Measured::Number => of.to_string(),
        };
        let [(one, one_is), (other, other_is)] = self.sides;
        let (what, one_is) = (&self.what, figure(one_is));
        if self.agrees() {
            let exact = match self.measured {
                Measured::Grams => ", to the gram",
                Measured::Number => "",
            };
            return (
                "ok",
                format!("Check: {what} is {one_is} by {one} and by {other}{exact}."),
            );
        }
        let other_is = figure(other_is);
        let said =
            format!("Check: {what} is {one_is} by {one} and {other_is} by {other}. {WORKED_OUT}");
        ("stop", said)
    }

    /// The block of checks of a file, below its tables.
    pub(super) fn write_all(csv: &mut Csv, checks: &[Self]) {
        csv.row::<&str>(&[]);
        csv.row(&[
            "check",
            "by",
            "kg or number",
            "and by",
            "kg or number there",
            "agrees",
        ]);
        for check in checks {
            let figure = |of: i64| match check.measured {
                Measured::Grams => kg(of),
                Measured::Number => of.to_string(),
            };
            let [(one, one_is), (other, other_is)] = check.sides;
            let agrees = if check.agrees() { "yes" } else { "no" };
            csv.row(&[
                check.what.clone(),
                one.to_owned(),
                figure(one_is),
                other.to_owned(),
                figure(other_is),
                agrees.to_owned(),
            ]);
        }
    }
}

pub(super) const WORKED_OUT: &str =
    "Figures are being worked out again, or the book is to be checked.";

impl OnSite {
    /// What stands under a page: up to where it goes, when it was made and by whom, for paper.
    pub(super) fn made(&self, desk: &Desk) -> String {
        format!(
            "event {}, {}. Made {} by {}",
            number(desk.units(), self.head.seq),
            self.head.hash_hex(),
            figure::time(desk.now_ms(), desk.zone()),
            desk.person.handle
        )
    }
}

#[cfg(test)]
mod tests {
    use super::{Check, Csv, Period};

    #[test]
    fn a_check_that_does_not_agree_says_so_on_the_page_and_in_the_file() {
        let kilograms = |g: i64| format!("{g} g");
        let agrees = Check::of("what was shipped", 500, 500);
        assert_eq!(agrees.said(kilograms).0, "ok");
        let (look, said) = Check::of("what was shipped", 500, 501).said(kilograms);
        assert_eq!(look, "stop");
        assert!(
            said.contains("500 g by its lines and 501 g by the book"),
            "{said}"
        );
        let close = Check::of_all(
            "vessels that close",
            [("all of them", 4), ("their lines", 3)],
        );
        assert_eq!(close.said(kilograms).0, "stop");
        let mut csv = Csv::default();
        Check::write_all(&mut csv, &[agrees, Check::of("the rest", 1, 2)]);
        let text = csv.text_so_far();
        assert!(
            text.contains("what was shipped,its lines,0.500,the book,0.500,yes\r\n"),
            "{text}"
        );
        assert!(
            text.contains("the rest,its lines,0.001,the book,0.002,no\r\n"),
            "{text}"
        );
    }

    #[test]
    fn a_period_of_one_month_or_day_is_said_once() {
        let day = |text: &str| text.parse().unwrap();
        let days = Period::Days(day("2026-10-01"), day("2026-10-05"));
        assert_eq!(days.to_string(), "2026-10-01 to 2026-10-05");
        assert_eq!(Period::of_day(day("2026-10-05")).to_string(), "2026-10-05");
    }
}
