//! `/waste`: a month of the site, how much of what, and what it counts as.

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::book::month::{FlowTotal, Month};
use domain::book::outcome::Measure;
use domain::quantity::{Mass, UnitsOfMeasure};
use domain::rules::category::Standing;
use domain::rules::{Class, GeneratorRules};
use domain::waste::{Generation, Others, SiteFigure, SiteMass, Waste, in_force};
use storage::Read;

use super::attention::{Attention, Of};
use super::closed::{Closed, word_of_figure};
use super::head::{Period, ReportHead};
use super::only_moved::{ONLY_MOVED, came};
use super::{OnSite, STATE, kilograms};
use crate::WebError;
use crate::component::Bars;
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::job::sentence_case;
use crate::page;
use crate::record::number;

/// Months shown beside the one the page is about, that one among them.
const MONTHS: usize = 12;

/// The totals at the top, with the words for them.
pub(super) const TOTALS: [(Measure, &str); 6] = [
    (Measure::Recovered, "Recovered from units"),
    (Measure::Reused, "Reused"),
    (Measure::Reclaimed, "To be reclaimed"),
    (Measure::BecameWaste, "Became waste"),
    (Measure::Shipped, "Shipped"),
    (Measure::Bought, "Bought"),
];

/// What the chart shows, in its order.
const DRAWN: [Measure; 4] = [
    Measure::Recovered,
    Measure::Reused,
    Measure::BecameWaste,
    Measure::Shipped,
];

/// The word for a measure that has a list, by its code.
pub(super) fn word_of(measure: Measure) -> Option<&'static str> {
    TOTALS
        .iter()
        .chain(&ONLY_MOVED)
        .find(|(known, _)| *known == measure)
        .map(|(_, word)| *word)
}

#[derive(Template)]
#[template(path = "waste/month.html")]
struct MonthPage {
    frame: Frame,
    month: Month,
    before: Option<Month>,
    after: Option<Month>,
    totals: Vec<Total>,
    attention: Attention,
    class: ClassCard,
    bars: Bars,
    months: Vec<Row>,
    /// What was said about other waste.
    others: Vec<(String, String)>,
    /// It ended, and nobody closed it yet.
    is_over: bool,
    /// Its statement, where it was closed.
    closed: Option<Closed>,
    /// Closed months of the table that late facts changed; told on the page of the present month.
    adjusted: Vec<Closed>,
    may_state: bool,
    head: ReportHead,
}

struct Total {
    word: &'static str,
    volume: String,
    mass: String,
    address: String,
    lines: String,
}

/// One month of the table under the chart.
struct Row {
    month: Month,
    cells: Vec<(&'static str, String)>,
}

/// A figure with the list behind it.
struct ClassFigure {
    what: &'static str,
    said: String,
    address: String,
}

/// The list behind a figure of what a month counts as.
pub(super) fn list_of(month: Month, figure: SiteFigure) -> String {
    if figure.is_coolant() {
        format!("/waste/lines?month={month}&figure={}", figure.code())
    } else {
        format!("/waste?month={month}#other-waste")
    }
}

/// What the month counts as.
struct ClassCard {
    /// None until rules are chosen.
    rules: Option<String>,
    figures: Vec<ClassFigure>,
    /// What was only moved, with the section by which it does not count.
    only_moved: Vec<ClassFigure>,
    /// What the figures come to.
    sums: Vec<(&'static str, String)>,
    /// "Very small quantity generator (VSQG), so far".
    class: Option<String>,
    incomplete: bool,
    worst: Option<String>,
    notes: Vec<String>,
}

/// GET /waste
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let month = site.month_asked(&desk, &mut form);
    let own = site.totals(&mut read, (month, month)).await?;
    let mut span = vec![month];
    while span.len() < MONTHS {
        let before = span.last().map_or(month, |last| last.before());
        span.push(before);
    }
    span.reverse();
    let now = Month::of(desk.today());
    // The page of the present month tells what late facts changed in closed ones.
    let first = span.first().filter(|_| month == now).unwrap_or(&month);
    let sums = site.sums(&mut read, (*first, month)).await?;
    let generation = site.generation(month, sums.iter().copied())?;
    let closed = Closed::find(&desk, &mut read, (&site, month, &sums)).await?;
    let mut by_month = Vec::new();
    for each in &span {
        by_month.push((*each, site.totals(&mut read, (*each, *each)).await?));
    }
    let attention = Attention::of(
        &desk,
        &mut read,
        Of {
            site: &site,
            month,
            totals: &own,
            found: &generation,
            since: span.first().copied().unwrap_or(month),
        },
    )
    .await?;
    let units = desk.units();
    Ok(page::shown(&MonthPage {
        frame: desk.frame(format!("Waste, {month}")),
        month,
        before: (month > site.begins(&desk)).then(|| month.before()),
        after: (month < now).then(|| month.after()),
        totals: totals(units, month, &own),
        attention,
        class: ClassCard::of(units, &generation, (month, month == now), &own)?,
        bars: bars(&by_month),
        months: by_month
            .iter()
            .rev()
            .map(|(month, totals)| row(units, *month, totals))
            .collect(),
        others: others(units, &site, month),
        is_over: month < now && closed.is_none(),
        closed,
        adjusted: if month == now {
            adjusted(&desk, &mut read, (&site, &span, &sums)).await?
        } else {
            Vec::new()
        },
        may_state: desk.may(STATE),
        head: ReportHead::of(
            (&desk, &site),
            ("Waste of a month", Period::of_month(month)),
            vec![("months in the table", by_month.len())],
        )?,
    }))
}

async fn adjusted(
    desk: &Desk,
    read: &mut Read,
    (site, span, sums): (&OnSite, &[Month], &[Waste]),
) -> Result<Vec<Closed>, WebError> {
    let mut all = Vec::new();
    for month in span {
        let closed = Closed::find(desk, read, (site, *month, sums)).await?;
        all.extend(closed.filter(|closed| !closed.adjustments.is_empty()));
    }
    Ok(all)
}

fn of(totals: &[FlowTotal], measure: Measure) -> Option<&FlowTotal> {
    totals.iter().find(|total| total.measure == measure)
}

pub(super) fn mass_of(units: UnitsOfMeasure, total: Option<&FlowTotal>) -> String {
    total.map_or_else(
        || kilograms(units, 0),
        |total| {
            let known = kilograms(units, total.mass_g);
            match total.lines_without_mass {
                0 => known,
                without if without >= total.lines => "mass not known".to_owned(),
                without => format!("at least {known}, {without} lines without a mass"),
            }
        },
    )
}

fn totals(units: UnitsOfMeasure, month: Month, own: &[FlowTotal]) -> Vec<Total> {
    TOTALS
        .into_iter()
        .map(|(measure, word)| {
            let total = of(own, measure);
            let lines = total.map_or(0, |total| total.lines);
            Total {
                word,
                volume: figure::volume(units, total.map_or(0, |total| total.shown_ml)),
                mass: mass_of(units, total),
                address: format!("/waste/lines?month={month}&total={}", measure.code()),
                lines: match lines {
                    1 => "1 line".to_owned(),
                    lines => format!("{} lines", number(units, lines)),
                },
            }
        })
        .collect()
}

fn row(units: UnitsOfMeasure, month: Month, totals: &[FlowTotal]) -> Row {
    let cells = DRAWN.into_iter().filter_map(|measure| {
        let total = of(totals, measure);
        let volume = figure::volume(units, total.map_or(0, |total| total.shown_ml));
        Some((
            word_of(measure)?,
            format!("{volume}, {}", mass_of(units, total)),
        ))
    });
    Row {
        month,
        cells: cells.collect(),
    }
}

fn bars(by_month: &[(Month, Vec<FlowTotal>)]) -> Bars {
    let columns = by_month.iter().map(|(month, totals)| {
        let ml = DRAWN.map(|measure| of(totals, measure).map_or(0, |total| total.shown_ml));
        (month.to_string(), ml)
    });
    Bars::of(&columns.collect::<Vec<_>>())
}

fn others(units: UnitsOfMeasure, site: &OnSite, month: Month) -> Vec<(String, String)> {
    let stated = in_force(month, &site.others);
    let streams = stated.into_iter().filter_map(|other| other.stream);
    streams
        .map(|stream| {
            let acute = if stream.acute { ", acute" } else { "" };
            let mass = kilograms(units, stream.mass.value.g());
            (stream.name, format!("{mass}{acute}"))
        })
        .collect()
}

impl ClassCard {
    fn of(
        units: UnitsOfMeasure,
        found: &Generation<'_>,
        (month, is_running): (Month, bool),
        own: &[FlowTotal],
    ) -> Result<Self, WebError> {
        // What is seldom there is left out where it is not.
        let is_usual = |figure| {
            !matches!(
                figure,
                SiteFigure::CoolantNotJudged | SiteFigure::OtherAcute
            )
        };
        let figures = SiteMass::all(found)
            .into_iter()
            .filter(|mass| mass.g != 0 || is_usual(mass.figure))
            .map(|mass| ClassFigure {
                what: word_of_figure(mass.figure),
                said: kilograms(units, mass.g),
                address: list_of(month, mass.figure),
            })
            .collect();
        let mut card = Self {
            rules: found
                .profile
                .map(|profile| format!("{}: {}", profile.id, profile.about)),
            figures,
            only_moved: Vec::new(),
            sums: Vec::new(),
            class: None,
            incomplete: found.others == Others::NotStated,
            worst: None,
            notes: Vec::new(),
        };
        if found.lines_without_mass > 0 {
            let lines = found.lines_without_mass;
            card.notes.push(format!(
                "{lines} lines have no mass, as their base has no density curve: they are in none of these sums."
            ));
        }
        let Some(profile) = found.profile else {
            return Ok(card);
        };
        let (Some(rules), Some(standing), Some(worst)) =
            (&profile.generator, found.standing, found.worst)
        else {
            card.notes
                .push("These rules have no classes of generators.".to_owned());
            return Ok(card);
        };
        card.only_moved = only_moved(units, month, (own, found));
        let firm = found.firm().map_err(WebError::fault)?;
        figures_of_class(&mut card, (units, firm), (rules, standing, is_running));
        if worst.class != standing.class || found.coolant_perhaps > Mass::MIN {
            let class = name(rules, worst.class);
            let all = firm.checked_add(found.coolant_perhaps);
            let all = kilograms(units, all.map_err(WebError::fault)?.g());
            card.worst = Some(format!(
                "Worst case: {class} with {all}, if all that is undecided or not determined turns out to count."
            ));
        }
        Ok(card)
    }
}

/// What was only moved in a month, as far as there was any.
fn only_moved(
    units: UnitsOfMeasure,
    month: Month,
    (own, found): (&[FlowTotal], &Generation<'_>),
) -> Vec<ClassFigure> {
    let of_measure = |(measure, what): (Measure, &'static str)| {
        let total = of(own, measure).filter(|total| total.lines > 0)?;
        let section = found.section_of(came(measure)?)?;
        Some(ClassFigure {
            what,
            said: format!("{} ({section})", mass_of(units, Some(total))),
            address: format!("/waste/lines?month={month}&total={}", measure.code()),
        })
    };
    ONLY_MOVED.into_iter().filter_map(of_measure).collect()
}

fn name(rules: &GeneratorRules, class: Class) -> String {
    let of_class = rules.class(class);
    format!("{} ({})", of_class.name, of_class.code)
}

fn figures_of_class(
    card: &mut ClassCard,
    (units, firm): (UnitsOfMeasure, Mass),
    (rules, standing, is_running): (&GeneratorRules, Standing, bool),
) {
    card.sums.push((
        "Counts for certain, all together",
        kilograms(units, firm.g()),
    ));
    if let Some(left) = standing.to_next {
        let label = match standing.class {
            Class::Smallest => "Left before more than the smallest class may have",
            Class::Middle | Class::Largest => "Left until the next class begins",
        };
        card.sums.push((label, kilograms(units, left.g())));
    }
    let so_far = if is_running { ", so far" } else { "" };
    card.class = Some(sentence_case(&format!(
        "{}{so_far}",
        name(rules, standing.class)
    )));
    let at = &rules.thresholds;
    card.notes.push(format!(
        "Limits: {} and {} in a calendar month, by {} ({}).",
        kilograms(units, at.small_max.value.g()),
        kilograms(units, at.large_min.value.g()),
        at.small_max.section,
        at.small_max.mark.words()
    ));
}
