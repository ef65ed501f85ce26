//! `show contents`: every vessel and loop, then the accounts outside.

use std::collections::BTreeMap;

use domain::book::component::Component;
use domain::book::contents::Contents;
use domain::book::outcome::{Figures, Knowledge};
use domain::job::{Account, OUTSIDE};
use domain::quantity::{Mass, UnitsOfMeasure, Volume, rounding::float};
use storage::{PlaceContents, Read, StorageError};
use web::intake::figures::{self, Chemistry, Freeze};

use super::names::Names;
use super::print::{self, Align, Cell, Form, fixed};

const HEAD: [&str; 7] = [
    "place",
    "component",
    "ml_before_mixing",
    "strength_pct",
    "freeze_c",
    "shown_litres_20c",
    "mass_kg",
];

/// A place with what it is called.
pub(super) struct Held {
    pub(super) name: String,
    pub(super) contents: Contents,
    pub(super) figures: Figures,
    measures: UnitsOfMeasure,
}

pub(super) async fn show(
    read: &mut Read,
    names: &Names,
    form: Form,
) -> Result<String, StorageError> {
    let places = held(read.list_contents().await?, names);
    let outside = outside(read).await?;
    Ok(match form {
        Form::Csv => csv(&places, &outside),
        Form::People if places.is_empty() => print::NO_FACTS.to_owned(),
        Form::People => people(&places, &outside, names),
    })
}

/// Vessels by name, then loops by the number of their unit.
pub(super) fn held(rows: Vec<PlaceContents>, names: &Names) -> Vec<Held> {
    let mut held: Vec<(bool, Held)> = rows
        .into_iter()
        .map(|row| {
            let is_loop = row.account == Account::Loop(row.place).word();
            (is_loop, held_in(row, names))
        })
        .collect();
    held.sort_by(|(one_loop, one), (other_loop, other)| {
        (one_loop, &one.name).cmp(&(other_loop, &other.name))
    });
    held.into_iter().map(|(_, held)| held).collect()
}

pub(super) fn held_in(row: PlaceContents, names: &Names) -> Held {
    Held {
        name: names.place(row.place),
        measures: names.measures(names.shop_of(row.place)),
        figures: Figures {
            shown_ml: row.shown_ml,
            fraction_millionths: row.fraction_millionths,
            sigma_millionths: row.sigma_millionths,
            knowledge: knowledge(&row.knowledge),
        },
        contents: row.contents,
    }
}

pub(super) fn knowledge(code: &str) -> Knowledge {
    [Knowledge::Entered, Knowledge::Tested]
        .into_iter()
        .find(|known| known.code() == code)
        .unwrap_or_default()
}

/// What came to each account outside, in the order of the statements.
async fn outside(read: &mut Read) -> Result<Vec<(Account, Contents)>, StorageError> {
    let mut found: BTreeMap<String, Contents> = BTreeMap::new();
    for balance in read.list_outside_balances().await? {
        let component = Component::from_name(&balance.component).ok_or_else(|| {
            StorageError::Check(format!("no component is called {}", balance.component))
        })?;
        found
            .entry(balance.account)
            .or_default()
            .add_part(component, balance.ml);
    }
    Ok(OUTSIDE
        .into_iter()
        .map(|account| (account, found.remove(account.word()).unwrap_or_default()))
        .collect())
}

fn csv(places: &[Held], outside: &[(Account, Contents)]) -> String {
    let mut rows = Vec::new();
    for held in places {
        let freeze = figures::freeze(&held.figures, Chemistry::of(&held.contents));
        let freeze = freeze.map_or_else(Cell::blank, |point| {
            Cell::number(fixed(figures::degrees_c(point.at_mean), 2))
        });
        let mass = held.contents.mass_g();
        for part in held.contents.parts() {
            rows.push(vec![
                Cell::text(&held.name),
                Cell::text(part.component.name()),
                Cell::number(part.ml),
                Cell::number(fixed(figures::strength_pct(&held.figures), 2)),
                freeze.clone(),
                Cell::number(fixed(float(held.figures.shown_ml) / 1e3, 3)),
                mass.map_or_else(Cell::blank, |g| Cell::number(fixed(float(g) / 1e3, 3))),
            ]);
        }
    }
    // What was there when the book began is no movement; the print for people states it.
    let moved = outside
        .iter()
        .filter(|(account, _)| *account != Account::Opening);
    for (account, contents) in moved {
        for part in contents.parts() {
            let mut row = vec![
                Cell::text(account.word()),
                Cell::text(part.component.name()),
                Cell::number(part.ml),
            ];
            row.extend([Cell::blank(), Cell::blank(), Cell::blank(), Cell::blank()]);
            rows.push(row);
        }
    }
    print::csv(&HEAD, &rows)
}

fn people(places: &[Held], outside: &[(Account, Contents)], names: &Names) -> String {
    let rows: Vec<Vec<String>> = places
        .iter()
        .map(|held| {
            let units = held.measures;
            let mass = held.contents.mass_g().and_then(|g| Mass::from_g(g).ok());
            vec![
                held.name.clone(),
                volume(units, held.figures.shown_ml),
                strength(&held.figures, units),
                freeze_point(&held.figures, Chemistry::of(&held.contents), units),
                mass.map_or_else(|| "no curve".to_owned(), |mass| units.mass(mass)),
            ]
        })
        .collect();
    let head = [
        ("Place", Align::Left),
        ("Holds", Align::Right),
        ("Strength", Align::Left),
        ("Freezes at", Align::Left),
        ("Mass", Align::Right),
    ];
    let units = names.measures(None);
    let made_of = places
        .iter()
        .map(|held| vec![held.name.clone(), parts(&held.contents, held.measures)]);
    let accounts = outside
        .iter()
        .filter(|(_, contents)| !contents.is_empty())
        .map(|(account, contents)| vec![account.word().to_owned(), parts(contents, units)]);
    let made_of: Vec<Vec<String>> = made_of.chain(accounts).collect();
    let made_of_head = [
        ("Place or account outside", Align::Left),
        ("Made of, before mixing", Align::Left),
    ];
    format!(
        "{}\nVolumes at 20 °C; ± holds in 95 of 100 cases.\n\n{}\n\n{}",
        print::table(&head, &rows),
        print::table(&made_of_head, &made_of),
        closes(places, outside)
    )
}

/// The check `closes`, in words.
fn closes(places: &[Held], outside: &[(Account, Contents)]) -> String {
    let mut sum = Contents::nothing();
    for contents in places.iter().map(|held| &held.contents) {
        sum.add(contents);
    }
    for (_, contents) in outside {
        sum.add(contents);
    }
    if sum.is_empty() {
        "All places and outside accounts together sum to 0 in each component.".to_owned()
    } else {
        format!(
            "THE BOOK DOES NOT CLOSE: all places and outside accounts together sum to {}; run coolant-ledger verify",
            parts(&sum, UnitsOfMeasure::METRIC)
        )
    }
}

/// "EG OAT 0.5 L, water 0.6 L".
fn parts(contents: &Contents, units: UnitsOfMeasure) -> String {
    let parts: Vec<String> = contents
        .parts()
        .iter()
        .map(|part| format!("{} {}", part.component.name(), fine_volume(units, part.ml)))
        .collect();
    if parts.is_empty() {
        "nothing".to_owned()
    } else {
        parts.join(", ")
    }
}

pub(super) fn volume(units: UnitsOfMeasure, ml: i64) -> String {
    signed(ml, |volume| units.volume(volume))
}

/// What is less than a litre would be shown as next to nothing otherwise.
fn fine_volume(units: UnitsOfMeasure, ml: i64) -> String {
    if ml.saturating_abs() < 1_000 {
        signed(ml, |volume| units.volume_fine(volume))
    } else {
        volume(units, ml)
    }
}

fn signed(ml: i64, tell: impl Fn(Volume) -> String) -> String {
    let sign = if ml < 0 { "\u{2212}" } else { "" };
    Volume::from_ml(ml.saturating_abs()).map_or_else(
        |_| format!("{ml} mL"),
        |volume| format!("{sign}{}", tell(volume)),
    )
}

/// "48.0 % ± 2.0", or that nobody knows.
pub(super) fn strength(figures: &Figures, units: UnitsOfMeasure) -> String {
    if figures.shown_ml == 0 {
        return "empty".to_owned();
    }
    if figures.knowledge == Knowledge::Assumed {
        return "No test yet".to_owned();
    }
    let strength = i32::try_from(figures.fraction_millionths)
        .ok()
        .and_then(|raw| domain::quantity::FractionByVolume::from_millionths(raw).ok());
    strength.map_or_else(String::new, |strength| {
        format!(
            "{} ± {}",
            units.strength(strength),
            fixed(figures::strength_plus_minus(figures), 1)
        )
    })
}

/// "−34.4 °C ± 2.7", or why there is none.
pub(super) fn freeze_point(
    figures: &Figures,
    chemistry: Chemistry,
    units: UnitsOfMeasure,
) -> String {
    if figures.shown_ml == 0 {
        return String::new();
    }
    if figures.knowledge == Knowledge::Assumed {
        return "No test yet".to_owned();
    }
    match figures::freeze(figures, chemistry) {
        Some(point) => frozen(point, units),
        None => "no curve".to_owned(),
    }
}

fn frozen(point: Freeze, units: UnitsOfMeasure) -> String {
    let shown = units.temperature(point.at);
    if point.or_below {
        return format!("{shown} or below");
    }
    let spread = point.plus_minus_c * per_celsius(units);
    format!("{shown} ± {}", fixed(spread, 1))
}

/// Steps of the shown unit in one step of a °C.
fn per_celsius(units: UnitsOfMeasure) -> f64 {
    match units.temperature {
        domain::quantity::format::TemperatureUnit::Celsius => 1.0,
        domain::quantity::format::TemperatureUnit::Fahrenheit => 1.8,
    }
}
