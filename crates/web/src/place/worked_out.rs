//! How each figure of a loop came about, in plain sentences with its source.

use domain::condition::{Chemistry, Freeze, Known, figures};
use domain::fluid::Glycol;
use domain::quantity::{TemperatureDifference, UnitsOfMeasure, rounding::nearest};
use storage::PlaceContents;

use crate::desk::Desk;
use crate::figure;

/// The curve and how well it fits what it was made from.
fn curve(chemistry: Chemistry) -> &'static str {
    match chemistry {
        Chemistry::One(Glycol::Eg) => {
            "The curve is that of inhibited ethylene glycol by volume, fitted to the tables of ASHRAE 2001; \
             it lies within 0.3 °C of them."
        }
        Chemistry::One(Glycol::Pg) => {
            "The curve is that of inhibited propylene glycol by volume, fitted to the tables of ASHRAE 2001; \
             it lies within 0.15 °C of them."
        }
        Chemistry::Water => "It is water, which freezes at 0 °C.",
        Chemistry::NoCurve => "There is no curve for what it holds.",
    }
}

pub(crate) fn freeze_point(
    units: UnitsOfMeasure,
    (known, point): (&Known, &Freeze),
) -> Vec<String> {
    let strength = figure::strength(units, known.figures.fraction_millionths);
    let mut said = vec![
        format!(
            "At {strength} the freeze curve gives {}.",
            units.temperature(point.at_mean)
        ),
        curve(known.chemistry).to_owned(),
    ];
    if point.or_below {
        said.push(format!(
            "The curve ends at {}: it freezes there or below. Where the strength may be lower, the warmer end is shown.",
            units.temperature(point.at_mean)
        ));
    } else if let Some(slope) = slope(units, (known, point)) {
        said.push(format!(
            "There the freeze point moves by {slope} for each point of strength, so {} of strength make {}.",
            figure::strength_spread(units, &known.figures),
            figure::freeze_spread(units, point)
        ));
    }
    said.push(
        "± holds in 95 of 100 cases (1.96 standard deviations). A test narrows it.".to_owned(),
    );
    said
}

/// How far the freeze point moves for a point of strength.
fn slope(units: UnitsOfMeasure, (known, point): (&Known, &Freeze)) -> Option<String> {
    let points = figures::strength_plus_minus(&known.figures);
    if points <= 0.0 {
        return None;
    }
    let millikelvin = nearest(point.plus_minus_c * 1e3 / points)?;
    let slope = TemperatureDifference::from_millikelvin(i32::try_from(millikelvin).ok()?).ok()?;
    Some(units.temperature_difference(slope))
}

pub(crate) fn no_freeze_point(held: Option<&PlaceContents>) -> Vec<String> {
    match held {
        Some(held) if held.shown_ml <= 0 => vec!["By the book it holds nothing.".to_owned()],
        Some(held) if held.knowledge != "assumed" => vec![
            "It holds two bases, or one without a freeze curve. Nothing can be worked out for such a mixture; \
             a reading of it would be of no scale."
                .to_owned(),
        ],
        _ => vec![
            "Nobody stated its strength and nobody tested it. A strength that is only taken for granted is never \
             turned into a freeze point."
                .to_owned(),
        ],
    }
}

pub(crate) fn no_strength(units: UnitsOfMeasure, held: Option<&PlaceContents>) -> Vec<String> {
    match held {
        Some(held) if held.shown_ml <= 0 => vec!["By the book it holds nothing.".to_owned()],
        Some(held) => vec![format!(
            "Until a test counts, it is taken as {} so that volumes can be worked out. That is no finding.",
            figure::strength(units, held.fraction_millionths)
        )],
        None => vec!["No job has touched it yet.".to_owned()],
    }
}

pub(crate) fn strength(desk: &Desk, (held, known): (&PlaceContents, &Known)) -> Vec<String> {
    let units = desk.units();
    let total = held.contents.total_ml();
    let concentrate = held.contents.concentrate_ml();
    let mut said = vec![format!(
        "{} of concentrate in {}, both before mixing at 20 °C: what went in less what came out, by kind.",
        figure::volume(units, concentrate),
        figure::volume(units, total)
    )];
    let parts: Vec<String> = held
        .contents
        .parts()
        .iter()
        .map(|part| {
            format!(
                "{} {}",
                figure::volume(units, part.ml),
                part.component.name()
            )
        })
        .collect();
    said.push(format!("In it: {}.", parts.join(", ")));
    said.push(match held.last_reading_at {
        Some(at) => format!(
            "A test on {} counted: the book's figure and the reading were each weighed by how sure they are.",
            figure::day(at, desk.zone())
        ),
        None => "No test has counted; it rests on the strengths that were stated.".to_owned(),
    });
    said.push(format!(
        "{} holds in 95 of 100 cases (1.96 standard deviations). Whatever is added brings its own ± by its share; \
         a loop in service gains 0.1 point in 30 days (our own default); only a test narrows it.",
        figure::strength_spread(units, &known.figures)
    ));
    said
}

pub(crate) fn contents(desk: &Desk, held: &PlaceContents) -> Vec<String> {
    let units = desk.units();
    let shrink = held.contents.total_ml().saturating_sub(held.shown_ml);
    let mut said = vec![
        "What went in less what came out, as measured, each brought to 20 °C.".to_owned(),
        format!(
            "Concentrate and water shrink as they mix, here by {}; the figure is the mixed volume.",
            figure::volume(units, shrink)
        ),
        format!(
            "{} comes from the gauges, the temperatures and a capacity that is itself an estimate (1.96 standard deviations).",
            figure::volume_spread(units, held.volume_sigma_ml)
        ),
    ];
    if let Some(at) = held.last_full_at {
        said.push(format!(
            "Last proved full on {}, by a top up to the mark.",
            figure::day(at, desk.zone())
        ));
    }
    said
}
