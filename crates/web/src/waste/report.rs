//! The reports as files: R1, what became waste in a month, line by line; R2 and R9, the months of a
//! year with what each counts as and where the coolant went.

use axum::extract::RawQuery;
use axum::response::Response;
use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::waste::{Came, Generation, Others, SiteFigure, SiteMass};
use storage::Read;

use super::closed::word_of_figure;
use super::export::{Csv, kg, litres};
use super::head::{Check, Period, ReportHead};
use super::lines::{in_words, names, tenths_of_density};
use super::only_moved::ONLY_MOVED;
use super::year::{Counted, YearMonth, months_of, span_asked};
use super::{GENERATED, Listed, OnSite, only_moved, profiles};
use crate::WebError;
use crate::desk::Desk;
use crate::form::Form;

/// GET /waste/lines.csv
pub(crate) async fn monthly(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let month = site.month_asked(&desk, &mut form);
    let mut list = site
        .list(&mut read, (month.first_day(), month.last_day()))
        .await?;
    list.extend(only_moved::of_month(&mut read, &site, month).await?);
    let names = names(&mut read, &list).await?;
    let mut csv = Csv::default();
    let report = ("R1 monthly generation log", Period::of_month(month));
    ReportHead::of((&desk, &site), report, vec![("lines", list.len())])?.above(&mut csv);
    csv.row(&[
        "day",
        "event",
        "kind",
        "vessel",
        "stream",
        "volume at 20 °C L",
        "density at 20 °C kg/m³",
        "mass kg",
        "counted kg",
        "not counted kg",
        "perhaps counted kg",
        "outside any class kg",
        "only moved kg",
        "reason and section",
        "determination event",
    ]);
    for listed in &list {
        let line = &listed.line;
        let stands = Stands::of(&site, listed)?;
        let mut cells = vec![
            line.day.to_string(),
            line.seq.to_string(),
            line.kind.replace('_', " "),
            Csv::text(&line.vessel.map(|id| names.place(id)).unwrap_or_default()),
            only_moved::word(listed.waste.came).to_owned(),
            litres(line.shown_ml),
            tenths_of_density(line)
                .map(|tenths| format!("{}.{}", tenths.div_euclid(10), tenths.rem_euclid(10)))
                .unwrap_or_default(),
            line.mass_g.map(kg).unwrap_or_default(),
        ];
        cells.extend(Stands::COLUMNS.map(|column| {
            let mass = line.mass_g.filter(|_| column == stands);
            mass.map(kg).unwrap_or_default()
        }));
        cells.push(in_words(&site, &listed.waste)?);
        cells.push(
            site.event_of(line)
                .map(|seq| seq.to_string())
                .unwrap_or_default(),
        );
        csv.row(&cells);
    }
    Check::write_all(&mut csv, &checks(&mut read, (&site, month), &list).await?);
    csv.answer(&format!("waste-{month}"))
}

/// The column that a line's mass stands in.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stands {
    /// It is part of this figure of the month.
    In(SiteFigure),
    /// It was in one of them before, or never was waste: in no figure.
    OnlyMoved,
}

impl Stands {
    /// In their order.
    const COLUMNS: [Self; 5] = [
        Self::In(SiteFigure::CoolantFirm),
        Self::In(SiteFigure::CoolantNotCounted),
        Self::In(SiteFigure::CoolantPerhaps),
        Self::In(SiteFigure::CoolantNotJudged),
        Self::OnlyMoved,
    ];

    fn of(site: &OnSite, listed: &Listed) -> Result<Self, WebError> {
        if !listed.waste.came.is_generated() {
            return Ok(Self::OnlyMoved);
        }
        let counted = Generation::line(&listed.waste, &site.stated, profiles()?);
        let figure = SiteFigure::of_coolant(counted.map(|it| it.counts));
        Ok(Self::In(figure))
    }
}

/// What counts as generated and what was only moved, by the lines and by the book's totals of the
/// month; and the lines in each column beside the figure of that name on the page of the month.
async fn checks(
    read: &mut Read,
    (site, month): (&OnSite, Month),
    list: &[Listed],
) -> Result<Vec<Check>, WebError> {
    let totals = site.totals(read, (month, month)).await?;
    let total = |measure: Measure| {
        let total = totals.iter().find(|total| total.measure == measure);
        total.map_or(0, |total| total.mass_g)
    };
    let of_came = |came: &dyn Fn(Came) -> bool| {
        let own = list.iter().filter(|it| came(it.waste.came));
        own.filter_map(|it| it.line.mass_g).sum()
    };
    let mut all: Vec<Check> = GENERATED
        .iter()
        .map(|(measure, came)| {
            let what = match came {
                Came::ToBeReclaimed => "what is to be reclaimed",
                _ => "what became waste",
            };
            Check::of(what, of_came(&|it| it == *came), total(*measure))
        })
        .collect();
    let sums = site.sums(read, (month, month)).await?;
    for of_month in SiteMass::all(&site.generation(month, sums)?) {
        let mut lines_g: i64 = 0;
        for listed in list {
            if Stands::of(site, listed)? == Stands::In(of_month.figure) {
                lines_g = lines_g.saturating_add(listed.line.mass_g.unwrap_or(0));
            }
        }
        if of_month.figure.is_coolant() {
            let what = format!("\u{201C}{}\u{201D}", word_of_figure(of_month.figure));
            let sides = [("its lines", lines_g), ("the month", of_month.g)];
            all.push(Check::of_sides(what, sides));
        }
    }
    for (measure, word) in ONLY_MOVED {
        let is_own = |came| only_moved::measure(came) == Some(measure);
        let what = format!("only moved: \u{201C}{word}\u{201D}");
        all.push(Check::of(what, of_came(&is_own), total(measure)));
    }
    Ok(all)
}

/// GET /waste/months.csv
pub(crate) async fn months(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let span = span_asked(&desk, &site, &mut form);
    let (Some(first), Some(until)) = (span.first().copied(), span.last().copied()) else {
        return Err(WebError::NotFound);
    };
    let months = months_of(&mut read, (&site, &span)).await?;
    let mut csv = Csv::default();
    let report = ("R2 and R9 months of a year", Period::Months(first, until));
    ReportHead::of((&desk, &site), report, vec![("months", span.len())])?.above(&mut csv);
    csv.row(&[
        "month",
        "recovered L",
        "recovered kg",
        "reused L",
        "reused kg",
        "to be reclaimed kg",
        "became waste L",
        "became waste kg",
        "shipped L",
        "shipped kg",
        "counted coolant kg",
        "perhaps counted coolant kg",
        "not counted coolant kg",
        "coolant outside any class kg",
        "other hazardous waste kg",
        "other acute kg",
        "class",
        "class in the worst case",
        "rose from",
        "rules",
        "closed",
        "lines without a known mass (the masses are at least so much)",
        "other waste stated",
        "lines come to the total",
        "as it stands now: counted coolant kg",
        "as it stands now: perhaps counted coolant kg",
        "as it stands now: not counted coolant kg",
        "as it stands now: coolant outside any class kg",
        "as it stands now: other hazardous waste kg",
        "as it stands now: other acute kg",
        "as it stands now: class",
        "as it stands now: class in the worst case",
    ]);
    for month in &months {
        csv.row(&cells(month));
    }
    csv.answer(&format!("waste-months-{first}-{until}"))
}

/// A month as the page of the year tells it: what was signed of a closed one, and beside it what it comes
/// to by the entries of now.
fn cells(of: &YearMonth) -> Vec<String> {
    let total = |measure| {
        let mut totals = of.totals.iter();
        totals.find(|total| total.measure == measure)
    };
    let ml = |measure| litres(total(measure).map_or(0, |total| total.shown_ml));
    let mass = |measure| kg(total(measure).map_or(0, |total| total.mass_g));
    let became = total(Measure::BecameWaste).map_or(0, |total| total.mass_g);
    let mut cells = vec![
        of.month.to_string(),
        ml(Measure::Recovered),
        mass(Measure::Recovered),
        ml(Measure::Reused),
        mass(Measure::Reused),
        mass(Measure::Reclaimed),
        ml(Measure::BecameWaste),
        mass(Measure::BecameWaste),
        ml(Measure::Shipped),
        mass(Measure::Shipped),
    ];
    let told = Counted::of(of);
    cells.extend(told.g.map(kg));
    cells.extend([told.class, told.worst, of.rose(), told.rules].map(Option::unwrap_or_default));
    let found = &of.found;
    cells.extend([
        if of.kept.is_empty() { "no" } else { "yes" }.to_owned(),
        found.lines_without_mass.to_string(),
        match found.others {
            Others::NotStated => "coolant only, incomplete".to_owned(),
            Others::None => "none".to_owned(),
            Others::Streams(streams) => format!("{streams} streams"),
        },
        if of.listed_g == became {
            "yes".to_owned()
        } else {
            format!("no, they come to {} kg", kg(of.listed_g))
        },
    ]);
    let now = Counted::now(of);
    cells.extend(now.g.map(kg));
    cells.extend([now.class, now.worst].map(Option::unwrap_or_default));
    cells
}
