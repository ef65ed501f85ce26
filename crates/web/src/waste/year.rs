//! `/waste/year`: what each month of a year counts as, and where the coolant of the year went.

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::month::{FlowTotal, Month};
use domain::quantity::UnitsOfMeasure;
use domain::waste::{Came, Generation, SiteFigure, SiteMass, SiteStatement, Waste};
use storage::Read;

use super::closed::{Kept, adjustments, word_of_figure};
use super::head::{Period, ReportHead};
use super::month::list_of;
use super::stream::{self, Streams};
use super::{OnSite, kilograms};
use crate::WebError;
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::page;

/// Months in one year.
const MONTHS: usize = 12;

/// A month with what it counts as.
pub(super) struct YearMonth {
    pub(super) month: Month,
    pub(super) totals: Vec<FlowTotal>,
    pub(super) found: Generation<'static>,
    /// Code of the class that is told of the month before: as signed where it is.
    told_before: Option<String>,
    /// What the lines of what became waste come to, g.
    pub(super) listed_g: i64,
    /// Its closings.
    pub(super) kept: Vec<Kept>,
}

impl YearMonth {
    /// What was signed of it; none while it is open, or where each shop was closed for itself.
    pub(super) fn signed(&self) -> Option<&SiteStatement> {
        signed(&self.kept)
    }

    /// The class of the month before as the table tells it, where the one it tells of this month is larger.
    pub(super) fn rose(&self) -> Option<String> {
        let (before, now) = self.told_before.clone().zip(Counted::of(self).class)?;
        (self.found.class_of(&now)? > self.found.class_of(&before)?).then_some(before)
    }
}

fn signed(kept: &[Kept]) -> Option<&SiteStatement> {
    kept.iter().find_map(|kept| kept.closed.site.as_ref())
}

/// The months, twelve at the most, that a page or file is about, the earliest first: a calendar year or
/// those up to a month, as far as the record of the site reaches.
pub(super) fn span_asked(desk: &Desk, site: &OnSite, form: &mut Form) -> Vec<Month> {
    let (begins, now) = (site.begins(desk), Month::of(desk.today()));
    let year = form.ask("year").parse::<i32>().ok();
    let until = site.month_asked(desk, form);
    let last = match year.map(|year| year.clamp(begins.year(), now.year())) {
        Some(year) => NaiveDate::from_ymd_opt(year, 12, 1).map_or(until, Month::of),
        None => until,
    };
    let back = std::iter::successors(Some(last), |month| Some(month.before()));
    let mut span: Vec<Month> = back
        .take(MONTHS)
        .filter(|month| (begins..=now).contains(month))
        .collect();
    span.reverse();
    span
}

/// What the months come to, the earliest first.
pub(super) async fn months_of(
    read: &mut Read,
    (site, span): (&OnSite, &[Month]),
) -> Result<Vec<YearMonth>, WebError> {
    let (Some(first), Some(last)) = (span.first(), span.last()) else {
        return Ok(Vec::new());
    };
    let sums = site.sums(read, (first.before(), *last)).await?;
    let of = |month| site.generation(month, sums.iter().copied());
    let before = of(first.before())?;
    let kept_before = Kept::all(read, site, first.before()).await?;
    let mut told_before = match signed(&kept_before) {
        Some(signed) => signed.class.clone(),
        None => before.code(before.standing),
    };
    let mut all = Vec::new();
    for month in span {
        let found = of(*month)?;
        let each = YearMonth {
            month: *month,
            totals: site.totals(read, (*month, *month)).await?,
            listed_g: became_waste(&sums, *month),
            kept: Kept::all(read, site, *month).await?,
            told_before,
            found,
        };
        told_before = Counted::of(&each).class;
        all.push(each);
    }
    Ok(all)
}

fn became_waste(sums: &[Waste], month: Month) -> i64 {
    sums.iter()
        .filter(|it| Month::of(it.day) == month && it.came == Came::AsWaste)
        .filter_map(|it| Some(it.mass?.g()))
        .sum()
}

#[derive(Template)]
#[template(path = "waste/year.html")]
struct YearPage {
    frame: Frame,
    /// "2025-11 to 2026-10".
    span: String,
    /// What the file is asked for with: "year=2026".
    asked: String,
    before: Option<i32>,
    after: Option<i32>,
    words: [&'static str; 4],
    rows: Vec<Row>,
    sums: [(&'static str, String); 4],
    rises: String,
    /// What changed in closed months since, by month.
    changed: Vec<(Month, Vec<String>)>,
    streams: stream::Table,
    head: ReportHead,
}

struct Row {
    month: Month,
    /// What and where the list behind it is.
    figures: [(&'static str, String, String); 4],
    class: String,
    worst: String,
    rules: String,
    closed: &'static str,
    /// Where its statement is shown.
    statement: Option<String>,
    has_changed: bool,
}

/// What a month counts as: as it was signed, else as it stands.
pub(super) struct Counted {
    /// Every figure, in the order of [`SiteFigure::ALL`].
    pub(super) g: [i64; SiteFigure::ALL.len()],
    /// Lines without a known mass are in none of the figures of coolant.
    without_mass: bool,
    pub(super) class: Option<String>,
    pub(super) worst: Option<String>,
    pub(super) rules: Option<String>,
}

impl Counted {
    /// As a page tells it.
    pub(super) fn of(of: &YearMonth) -> Self {
        match of.signed() {
            Some(signed) => Self {
                g: SiteFigure::ALL.map(|figure| signed.g(figure)),
                without_mass: signed.open.lines_without_mass > 0,
                class: signed.class.clone(),
                worst: signed.worst.clone(),
                rules: signed.profile.clone(),
            },
            None => Self::now(of),
        }
    }

    /// By the entries of now, whatever was signed.
    pub(super) fn now(of: &YearMonth) -> Self {
        Self {
            g: SiteFigure::ALL.map(|figure| g_of(&of.found, figure)),
            without_mass: of.found.lines_without_mass > 0,
            class: of.found.code(of.found.standing),
            worst: of.found.code(of.found.worst),
            rules: of.found.profile.map(|profile| profile.id.clone()),
        }
    }

    fn g(&self, figure: SiteFigure) -> i64 {
        let mut all = SiteFigure::ALL.iter().zip(self.g);
        let found = all.find(|(own, _)| **own == figure);
        found.map_or(0, |(_, g)| g)
    }
}

/// The figures of the table, in its order.
const SHOWN: [SiteFigure; 4] = [
    SiteFigure::CoolantFirm,
    SiteFigure::CoolantPerhaps,
    SiteFigure::OtherNonAcute,
    SiteFigure::OtherAcute,
];

fn g_of(found: &Generation<'_>, figure: SiteFigure) -> i64 {
    let masses = SiteMass::all(found);
    let mass = masses.iter().find(|mass| mass.figure == figure);
    mass.map_or(0, |mass| mass.g)
}

/// GET /waste/year
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let span = span_asked(&desk, &site, &mut form);
    let (Some(first), Some(last)) = (span.first().copied(), span.last().copied()) else {
        return Err(WebError::NotFound);
    };
    let months = months_of(&mut read, (&site, &span)).await?;
    let units = desk.units();
    let (mut rows, mut changed) = (Vec::new(), Vec::new());
    for of in months.iter().rev() {
        let since = adjustments(&desk, &mut read, &of.found, &of.kept).await?;
        rows.push(row(units, of, !since.is_empty()));
        changed.push((of.month, since));
    }
    changed.retain(|(_, since)| !since.is_empty());
    let streams = Streams::of(&mut read, (&site, (first, last))).await?;
    let year = last.year();
    Ok(page::shown(&YearPage {
        frame: desk.frame(format!("Waste, {first} to {last}")),
        span: format!("{first} to {last}"),
        asked: asked(&form, last),
        before: (year > site.begins(&desk).year()).then(|| year.saturating_sub(1)),
        after: (year < Month::of(desk.today()).year()).then(|| year.saturating_add(1)),
        words: SHOWN.map(word_of_figure),
        sums: sums(units, &months),
        rises: rises(&months),
        rows,
        changed,
        streams: streams.table(units),
        head: ReportHead::of(
            (&desk, &site),
            ("R2 and R9 months of a year", Period::Months(first, last)),
            [vec![("months", span.len())], streams.counted()].concat(),
        )?,
    }))
}

fn asked(form: &Form, last: Month) -> String {
    match form.typed("year").parse::<i32>() {
        Ok(year) => format!("year={year}"),
        Err(_) => format!("month={last}"),
    }
}

/// The sums of what the table shows.
fn sums(units: UnitsOfMeasure, months: &[YearMonth]) -> [(&'static str, String); SHOWN.len()] {
    let all: Vec<Counted> = months.iter().map(Counted::of).collect();
    std::array::from_fn(|n| {
        SHOWN.get(n).map_or(("", String::new()), |figure| {
            let g = all.iter().map(|counted| counted.g(*figure)).sum();
            (word_of_figure(*figure), kilograms(units, g))
        })
    })
}

fn row(units: UnitsOfMeasure, of: &YearMonth, has_changed: bool) -> Row {
    let counted = Counted::of(of);
    let without_class = match counted.rules {
        Some(_) => "these rules have none",
        None => "none",
    };
    let or_none = |class: Option<String>| class.unwrap_or_else(|| without_class.to_owned());
    let class = or_none(counted.class.clone());
    Row {
        month: of.month,
        figures: SHOWN.map(|figure| {
            let said = kilograms(units, counted.g(figure));
            let is_least = figure.is_coolant() && counted.without_mass;
            let said = if is_least {
                format!("at least {said}")
            } else {
                said
            };
            (word_of_figure(figure), said, list_of(of.month, figure))
        }),
        class: match of.rose() {
            Some(from) => format!("{class}, rose from {from}"),
            None => class,
        },
        worst: or_none(counted.worst),
        rules: counted.rules.unwrap_or_else(|| "none chosen".to_owned()),
        closed: match (of.kept.is_empty(), of.signed()) {
            (true, _) => "no",
            (false, Some(_)) => "as signed",
            (false, None) => "shop by shop, figures of now",
        },
        statement: (!of.kept.is_empty()).then(|| format!("/waste/close?month={}", of.month)),
        has_changed,
    }
}

/// "The class rose in 2026-03 and 2026-09."
fn rises(months: &[YearMonth]) -> String {
    let rose = months.iter().filter(|of| of.rose().is_some());
    let rose: Vec<String> = rose.map(|of| of.month.to_string()).collect();
    match rose.as_slice() {
        [] => "The class rose in none of these months.".to_owned(),
        [only] => format!("The class rose in {only}."),
        [first @ .., last] => format!("The class rose in {} and {last}.", first.join(", ")),
    }
}
