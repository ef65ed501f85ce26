//! `show totals`: what moved, as typed and at 20 °C.

use chrono::NaiveDate;
use domain::book::month::{FlowTotal, Month};
use domain::book::outcome::{MEASURES, Measure};
use domain::ids::ShopId;
use domain::quantity::{Mass, UnitsOfMeasure};
use storage::{Read, StorageError};

use super::contents::volume;
use super::names::Names;
use super::print::{self, Align, Cell, Form};

/// The measures programs are told, in this order.
const TOLD: [Measure; 6] = [
    Measure::Recovered,
    Measure::FilledFromVessel,
    Measure::ToWaste,
    Measure::Shipped,
    Measure::Bought,
    Measure::ToppedUp,
];

pub(super) async fn show(
    read: &mut Read,
    names: &Names,
    (month, shop): (Option<Month>, Option<ShopId>),
    form: Form,
) -> Result<String, StorageError> {
    let day = |year| NaiveDate::from_ymd_opt(year, 12, 31).unwrap_or_default();
    let all = (Month::of(day(0)), Month::of(day(9_999)));
    let months = month.map_or(all, |month| (month, month));
    let totals = read.list_month_totals(shop, months).await?;
    let of = |measure| {
        totals
            .iter()
            .find(|total| total.measure == measure)
            .copied()
    };
    Ok(match form {
        Form::Csv => {
            let row = |measure: Measure| {
                vec![
                    Cell::text(format!("{}_ml", measure.code())),
                    Cell::number(of(measure).map_or(0, |total| total.typed_ml)),
                ]
            };
            print::csv(&["total", "as_typed_ml"], &TOLD.map(row))
        }
        Form::People if totals.is_empty() => match month {
            Some(month) => format!("Nothing moved in {month}."),
            None => print::NO_FACTS.to_owned(),
        },
        Form::People => people(&of, names.measures(shop)),
    })
}

fn people(of: &dyn Fn(Measure) -> Option<FlowTotal>, units: UnitsOfMeasure) -> String {
    let rows: Vec<Vec<String>> = MEASURES
        .into_iter()
        .map(|measure| {
            let total = of(measure);
            let mass = total.and_then(|total| Mass::from_g(total.mass_g).ok());
            let lines = total.map_or(0, |total| total.lines);
            let without = total.map_or(0, |total| total.lines_without_mass);
            vec![
                word(measure).to_owned(),
                volume(units, total.map_or(0, |total| total.typed_ml)),
                volume(units, total.map_or(0, |total| total.shown_ml)),
                mass_so_far(mass, (lines, without), units),
                lines.to_string(),
                if without > 0 {
                    format!("mass of {without} not known: two bases or one without a density curve")
                } else {
                    String::new()
                },
            ]
        })
        .collect();
    let head = [
        ("Total", Align::Left),
        ("As typed", Align::Right),
        ("At 20 °C", Align::Right),
        ("Mass", Align::Right),
        ("Lines", Align::Right),
        ("", Align::Left),
    ];
    print::table(&head, &rows)
}

/// A mass that leaves lines out is a least mass, and never looks like the whole.
fn mass_so_far(mass: Option<Mass>, (lines, without): (i64, i64), units: UnitsOfMeasure) -> String {
    let mass = mass.unwrap_or(Mass::MIN);
    match (lines, without) {
        (_, 0) => units.mass(mass),
        (lines, without) if without >= lines => "not known".to_owned(),
        _ => format!("at least {}", units.mass(mass)),
    }
}

fn word(measure: Measure) -> &'static str {
    match measure {
        Measure::Recovered => "Recovered from units",
        Measure::FilledFromVessel => "Filled from vessels (reused or fresh)",
        Measure::ToWaste => "To waste",
        Measure::Shipped => "Shipped",
        Measure::Bought => "Bought",
        Measure::ToppedUp => "Topped up",
        Measure::Spilled => "Spilled",
        Measure::UsedUp => "Used up",
        Measure::Reused => "Put into units out of recovered fluid",
        Measure::Reclaimed => "Decided to be reclaimed",
        Measure::ReclaimedAgain => "Reclaimed once more in its month",
        Measure::BecameWaste => "Became waste",
        Measure::Undecided => "Drained, fitness undecided",
        Measure::Water => "Water, of what was bought",
        Measure::Rinsed => "Rinsed by flushes, of what was recovered",
    }
}
