//! `/waste/lines`: the list behind a total of a month.

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::quantity::{Density, UnitsOfMeasure};
use domain::rules::counting::Counts;
use domain::waste::{Generation, SiteFigure, SiteMass, Waste, density_tenths};
use storage::{FlowLine, Read};

use super::closed::word_of_figure;
use super::head::{Period, ReportHead, WORKED_OUT};
use super::month::word_of;
use super::{Listed, OnSite, kilograms, only_moved, profiles, wastes};
use crate::WebError;
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::page;
use crate::record::{Names, Wanted, number};

/// Lines on one page.
const ON_A_PAGE: i64 = 200;

#[derive(Template)]
#[template(path = "waste/lines.html")]
struct LinesPage {
    frame: Frame,
    month: Month,
    word: &'static str,
    /// Whether each line says how it counts.
    judged: bool,
    rows: Vec<Row>,
    sum: Sum,
    more: Option<String>,
    /// Look and sentence of the comparison with the month's total.
    check: Option<(&'static str, String)>,
    head: ReportHead,
}

struct Row {
    entry: String,
    address: String,
    vessel: String,
    volume: String,
    mass: String,
    density: String,
    counts: String,
    /// The determination that covers it: its event and where it is shown.
    determined: Option<(String, String)>,
}

struct Sum {
    count: String,
    volume: String,
    mass: String,
}

/// A list as it was asked for.
struct Found {
    word: &'static str,
    /// Whether each line says how it counts.
    judged: bool,
    list: Vec<Listed>,
    more: Option<String>,
    check: Option<Check>,
}

/// Look and sentence of a comparison.
type Check = (&'static str, String);

/// GET /waste/lines
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let figure = SiteFigure::from_code(&form.ask("figure")).filter(|it| it.is_coolant());
    let measure = Measure::from_code(&form.ask("total")).unwrap_or(Measure::BecameWaste);
    let after = read_after(&form.ask("after"));
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let month = site.month_asked(&desk, &mut form);
    let found = match figure {
        Some(figure) => of_figure(&desk, &mut read, (&site, month, figure)).await?,
        None => of_total(&desk, &mut read, (&site, month, measure), after).await?,
    };
    let units = desk.units();
    let names = names(&mut read, &found.list).await?;
    let report = ("R1 list behind a total", Period::of_month(month));
    let rows_shown = vec![("lines", found.list.len())];
    let head = ReportHead::of((&desk, &site), report, rows_shown)?;
    let part = match (after, &found.more) {
        (None, None) => "",
        _ => ", a page of the lines",
    };
    let head = head.filtered(format!("{}{part}", found.word));
    let rows = found
        .list
        .iter()
        .map(|listed| row(units, (listed, &names), (&site, found.judged)))
        .collect::<Result<_, _>>()?;
    Ok(page::shown(&LinesPage {
        frame: desk.frame(format!("{} in {month}", found.word)),
        month,
        word: found.word,
        judged: found.judged,
        rows,
        sum: sum(units, &found.list),
        more: found.more,
        check: found.check,
        head,
    }))
}

/// The lines behind a figure of what the month counts as, and whether they come to it.
async fn of_figure(
    desk: &Desk,
    read: &mut Read,
    (site, month, figure): (&OnSite, Month, SiteFigure),
) -> Result<Found, WebError> {
    let days = (month.first_day(), month.last_day());
    let all = site.list(read, days).await?;
    let found = site.generation(month, wastes(&all))?;
    let mut list = Vec::new();
    for listed in all {
        let counted = Generation::line(&listed.waste, &site.stated, profiles()?);
        if SiteFigure::of_coolant(counted.map(|it| it.counts)) == figure {
            list.push(listed);
        }
    }
    let masses = SiteMass::all(&found);
    let g = masses.iter().find(|mass| mass.figure == figure);
    let sum: i64 = list.iter().filter_map(|listed| listed.line.mass_g).sum();
    let check = compared(
        desk.units(),
        sum,
        ("the figure of the month", g.map_or(0, |mass| mass.g)),
    );
    Ok(Found {
        word: word_of_figure(figure),
        judged: true,
        list,
        more: None,
        check: Some(check),
    })
}

/// The lines behind a total of the month.
async fn of_total(
    desk: &Desk,
    read: &mut Read,
    (site, month, measure): (&OnSite, Month, Measure),
    after: Option<(i64, i64)>,
) -> Result<Found, WebError> {
    let word = word_of(measure).ok_or(WebError::NotFound)?;
    let is_whole = measure == Measure::BecameWaste;
    let (lines, more) = if is_whole {
        let days = (month.first_day(), month.last_day());
        let became = read.list_waste_lines(&site.shop_ids(), measure, days).await;
        (became.map_err(WebError::fault)?, false)
    } else {
        behind(read, site, (month, measure), after.unwrap_or((0, -1))).await?
    };
    let list = only_moved::as_listed(measure, lines);
    // A part of the lines does not come to the total.
    let is_part = !is_whole && (more || after.is_some());
    let check = if is_part {
        None
    } else {
        Some(check(desk, read, (site, month, measure), &list).await?)
    };
    let more = list.last().filter(|_| more).map(|last| {
        format!(
            "/waste/lines?month={month}&total={}&after={}-{}",
            measure.code(),
            last.line.seq,
            last.line.n
        )
    });
    Ok(Found {
        word,
        judged: only_moved::came(measure).is_some(),
        list,
        more,
        check,
    })
}

/// The last line of the page before: place in the record and in the fact, "412-0".
fn read_after(asked: &str) -> Option<(i64, i64)> {
    let (seq, n) = asked.split_once('-')?;
    Some((seq.parse().ok()?, n.parse().ok()?))
}

/// The lines of all shops of the site behind a total, a page of them, and whether more follow.
async fn behind(
    read: &mut Read,
    site: &OnSite,
    (month, measure): (Month, Measure),
    after: (i64, i64),
) -> Result<(Vec<FlowLine>, bool), WebError> {
    let mut all: Vec<FlowLine> = Vec::new();
    for shop in site.shop_ids() {
        let own = read
            .list_month_lines((shop, month, measure), after, ON_A_PAGE.saturating_add(1))
            .await
            .map_err(WebError::fault)?;
        all.extend(own);
    }
    all.sort_by_key(|line| (line.seq, line.n));
    let most = usize::try_from(ON_A_PAGE).unwrap_or_default();
    let more = all.len() > most;
    all.truncate(most);
    Ok((all, more))
}

/// Whether the lines come to the month's total, to the gram.
async fn check(
    desk: &Desk,
    read: &mut Read,
    (site, month, measure): (&OnSite, Month, Measure),
    list: &[Listed],
) -> Result<Check, WebError> {
    let totals = site.totals(read, (month, month)).await?;
    let total = totals.iter().find(|total| total.measure == measure);
    let (lines, grams) = total.map_or((0, 0), |total| (total.lines, total.mass_g));
    let shown = i64::try_from(list.len()).unwrap_or(i64::MAX);
    let sum: i64 = list.iter().filter_map(|listed| listed.line.mass_g).sum();
    let total = "the book's total of the month";
    let (look, said) = compared(desk.units(), sum, (total, grams));
    Ok(if shown == lines {
        (look, said)
    } else {
        let lines = format!("Check: these are {shown} lines, {total} is of {lines}.");
        ("stop", format!("{lines} {WORKED_OUT}"))
    })
}

/// What lines come to beside what they should, g.
fn compared(units: UnitsOfMeasure, sum: i64, (total, grams): (&str, i64)) -> Check {
    let grams_said = kilograms(units, grams);
    if sum == grams {
        let said = format!("Check: these lines come to {total} to the gram, {grams_said}.");
        return ("ok", said);
    }
    let sum = kilograms(units, sum);
    (
        "stop",
        format!("Check: these lines come to {sum}, {total} is {grams_said}. {WORKED_OUT}"),
    )
}

pub(super) async fn names(read: &mut Read, list: &[Listed]) -> Result<Names, WebError> {
    let mut wanted = Wanted::default();
    wanted
        .places
        .extend(list.iter().filter_map(|listed| listed.line.vessel));
    Names::of(read, wanted).await
}

fn row(
    units: UnitsOfMeasure,
    (listed, names): (&Listed, &Names),
    (site, judged): (&OnSite, bool),
) -> Result<Row, WebError> {
    let line = &listed.line;
    let event = number(units, line.seq);
    let is_job = line.kind == "job";
    Ok(Row {
        entry: format!(
            "{}, {} {event}",
            line.day,
            if is_job { "job" } else { "event" }
        ),
        address: if is_job {
            format!("/jobs/{}", line.fact)
        } else {
            format!("/records/{}", line.seq)
        },
        vessel: line
            .vessel
            .map_or_else(|| "none".to_owned(), |vessel| names.place(vessel)),
        volume: figure::volume(units, line.shown_ml),
        mass: line
            .mass_g
            .map_or_else(|| "not known".to_owned(), |g| kilograms(units, g)),
        density: line
            .mass_g
            .and_then(|g| density(units, (g, line.shown_ml)))
            .unwrap_or_else(|| "not known".to_owned()),
        counts: if judged {
            in_words(site, &listed.waste)?
        } else {
            String::new()
        },
        determined: site
            .event_of(line)
            .filter(|_| judged)
            .map(|seq| (number(units, seq), format!("/records/{seq}"))),
    })
}

/// Mass by volume at 20 °C, tenths of a kg/m³.
pub(super) fn tenths_of_density(line: &FlowLine) -> Option<i64> {
    density_tenths(line.mass_g?, line.shown_ml)
}

/// Mass by volume at 20 °C: "1,066.3 kg/m³"; none of nothing.
pub(crate) fn density(units: UnitsOfMeasure, (g, ml): (i64, i64)) -> Option<String> {
    let raw = density_tenths(g, ml)?.checked_mul(100)?;
    let density = Density::from_g_per_m3(raw).ok()?;
    Some(units.density(density))
}

/// How a line counts, with the section that says so; where its rules have no classes, what their list
/// calls it.
pub(super) fn in_words(site: &OnSite, waste: &Waste) -> Result<String, WebError> {
    if let Some(counted) = Generation::line(waste, &site.stated, profiles()?) {
        let said = match counted.counts {
            Counts::Yes => "counts",
            Counts::No => "does not count",
            Counts::Perhaps => "not determined yet",
        };
        return Ok(format!("{said}, {}", counted.section));
    }
    let Some(profile) = site.stated.profile_on(waste.day, profiles()?) else {
        return Ok("no rules were chosen for that day".to_owned());
    };
    let entry = site.stated.list_entry(profile, (waste.vessel, waste.day));
    let entry = match (&profile.waste_list, entry) {
        (Some(_), Some(entry)) => format!(": {}, {}", entry.value, entry.section),
        (Some(_), None) => ": not determined yet".to_owned(),
        (None, _) => String::new(),
    };
    Ok(format!("no classes under {}{entry}", profile.id))
}

fn sum(units: UnitsOfMeasure, list: &[Listed]) -> Sum {
    let ml: i64 = list.iter().map(|listed| listed.line.shown_ml).sum();
    let g: i64 = list.iter().filter_map(|listed| listed.line.mass_g).sum();
    let without = list.iter().filter(|it| it.line.mass_g.is_none()).count();
    let mass = kilograms(units, g);
    Sum {
        count: format!("{} lines", list.len()),
        volume: figure::volume(units, ml),
        mass: if without > 0 {
            format!("at least {mass}")
        } else {
            mass
        },
    }
}
