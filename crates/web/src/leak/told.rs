//! Consumption and cases in words and units.

use domain::condition::leak::case::{Case, CaseState, Ended};
use domain::condition::leak::exposure::Per;
use domain::condition::leak::{Rule, as_volume};
use domain::quantity::UnitsOfMeasure;
use domain::quantity::format::{DistanceUnit, VolumeUnit};

use crate::component::{Shape, Status};
use crate::figure;
use crate::unit::standing::Told;

/// Kilometres in a mile and litres in a US gallon, both exact by definition.
const KM_A_MILE: f64 = 1.609_344;
const L_A_GALLON: f64 = 3.785_411_784;

/// A rate given in litres per 10,000 km or 100 h, in the shop's units, as a bare number.
pub(crate) fn rate_number(units: UnitsOfMeasure, per: Per, rate: f64) -> f64 {
    let volume = match units.volume {
        VolumeUnit::UsGallon => rate / L_A_GALLON,
        VolumeUnit::Litre => rate,
    };
    match (per, units.distance) {
        (Per::Distance, DistanceUnit::Mile) => volume * KM_A_MILE,
        _ => volume,
    }
}

/// "L/10,000 km", "US gal/100 h".
pub(crate) fn rate_unit(units: UnitsOfMeasure, per: Per) -> String {
    let volume = match units.volume {
        VolumeUnit::UsGallon => "US gal",
        VolumeUnit::Litre => "L",
    };
    match (per, units.distance) {
        (Per::Distance, DistanceUnit::Mile) => format!("{volume}/10,000 mi"),
        _ => format!("{volume}/{}", per.words()),
    }
}

/// "2.4 L/10,000 km".
pub(crate) fn rate(units: UnitsOfMeasure, per: Per, rate: f64) -> String {
    let number = figure::decimal(units, rate_number(units, per, rate), 2);
    format!("{number} {}", rate_unit(units, per))
}

pub(crate) fn litres(units: UnitsOfMeasure, litres: f64) -> String {
    units.volume(as_volume(litres))
}

pub(crate) fn status(state: CaseState) -> Status {
    let shape = match state {
        CaseState::Seen => Shape::Stop,
        CaseState::Suspected | CaseState::Unproven => Shape::Watch,
        CaseState::Watched => Shape::Wait,
        CaseState::Quiet | CaseState::NothingFound | CaseState::Closed => Shape::Good,
    };
    Status::new(shape, state.words())
}

/// How it ended without a repair: "went quiet on 2026-09-01".
pub(crate) fn without_repair(case: &Case, told: Told) -> Option<String> {
    let (at, ended) = case.ended.as_ref()?;
    let day = figure::day(*at, told.zone);
    Some(match ended {
        Ended::Quiet => format!("went quiet on {day}"),
        Ended::NothingFound(_) => format!("looked at on {day}, no leak found"),
    })
}

/// Why it is a case, lower case, without a full stop.
pub(crate) fn why(case: &Case, told: Told) -> String {
    let mut parts = Vec::new();
    if let Some(seen) = &case.seen {
        let at = seen
            .place
            .as_ref()
            .map_or_else(String::new, |place| format!(" at {place}"));
        parts.push(format!(
            "class {} seen{at}, first on {}",
            class_words(u8::from(seen.class)),
            figure::day(seen.first_at, told.zone)
        ));
    }
    if let Some(tripped) = case.consumption.tripped {
        let day = figure::day(tripped.at, told.zone);
        parts.push(match tripped.rule {
            Rule::Sum => format!("too much was topped up for what it ran, since {day}"),
            Rule::Count => format!("too many top-ups in a month, on {day}"),
        });
    }
    if parts.is_empty() {
        parts.push("nothing was suspected before it was mended".to_owned());
    }
    parts.join("; ")
}

/// The classes of the leak scale (TM 9-2320-280-10).
pub(crate) fn class_words(class: u8) -> &'static str {
    match class {
        0 => "0, dry",
        1 => "I, wet",
        2 => "II, drops form",
        _ => "III, drops fall",
    }
}

#[cfg(test)]
mod tests {
    use domain::condition::leak::exposure::Per;
    use domain::quantity::UnitsOfMeasure;

    use super::rate;

    #[test]
    fn a_rate_is_told_in_the_units_of_the_shop() {
        assert_eq!(
            rate(UnitsOfMeasure::METRIC, Per::Distance, 2.4),
            "2.40 L/10,000 km"
        );
        assert_eq!(
            rate(UnitsOfMeasure::METRIC, Per::Hours, 0.3),
            "0.30 L/100 h"
        );
        // 2.4 L are 0.634 gal; 10,000 mi are 16,093 km: 1.02 gal.
        assert_eq!(
            rate(UnitsOfMeasure::US, Per::Distance, 2.4),
            "1.02 US gal/10,000 mi"
        );
        assert_eq!(
            rate(UnitsOfMeasure::US, Per::Hours, 0.3),
            "0.08 US gal/100 h"
        );
    }
}
