//! Figures of the book in the words and units of a shop: volumes, strengths, freeze points, times.
//!
//! What is not sure carries its ±, which holds in 95 of 100 cases.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use domain::book::outcome::Figures;
use domain::condition::{DEVIATIONS_AT_95, Freeze, figures};
use domain::moment::{DAY_MS, MINUTE_MS, Moment};
use domain::quantity::format::DecimalMark;
use domain::quantity::{
    FractionByVolume, Temperature, TemperatureDifference, UnitsOfMeasure, Volume,
    rounding::{float, nearest},
};

/// The true minus.
const MINUS: char = '\u{2212}';

/// A volume, which may lie below zero: "−0.4 L".
pub(crate) fn volume(units: UnitsOfMeasure, ml: i64) -> String {
    let Ok(volume) = Volume::from_ml(ml.saturating_abs()) else {
        return "more than can be shown".to_owned();
    };
    let shown = units.volume(volume);
    if ml < 0 && shown.contains(|digit: char| ('1'..='9').contains(&digit)) {
        format!("{MINUS}{shown}")
    } else {
        shown
    }
}

/// A change of volume with its sign: "+2.5 L".
pub(crate) fn volume_change(units: UnitsOfMeasure, ml: i64) -> String {
    let shown = volume(units, ml);
    if ml > 0 && shown.contains(|digit: char| ('1'..='9').contains(&digit)) {
        format!("+{shown}")
    } else {
        shown
    }
}

/// So far a volume may lie to either side, of one standard deviation: "± 0.6 L".
pub(crate) fn volume_spread(units: UnitsOfMeasure, sigma_ml: i64) -> String {
    let spread = nearest(DEVIATIONS_AT_95 * float(sigma_ml)).unwrap_or(i64::MAX);
    format!("± {}", volume(units, spread))
}

/// A share of a volume in percent with one decimal; none of nothing.
pub(crate) fn percent_of(units: UnitsOfMeasure, part_ml: i64, whole_ml: i64) -> Option<String> {
    if whole_ml == 0 {
        return None;
    }
    let thousandths = nearest(float(part_ml) * 1e3 / float(whole_ml))?;
    let (whole, tenth) = (
        thousandths.saturating_abs().checked_div(10)?,
        thousandths.saturating_abs().checked_rem(10)?,
    );
    let sign = if thousandths < 0 {
        MINUS.to_string()
    } else {
        String::new()
    };
    Some(format!("{sign}{whole}{}{tenth} %", mark(units)))
}

/// A strength: "48.2 %".
pub(crate) fn strength(units: UnitsOfMeasure, millionths: i64) -> String {
    i32::try_from(millionths)
        .ok()
        .and_then(|raw| FractionByVolume::from_millionths(raw).ok())
        .map_or_else(
            || "no figure".to_owned(),
            |strength| units.strength(strength),
        )
}

/// So far the strength may lie to either side: "± 2.0 points".
pub(crate) fn strength_spread(units: UnitsOfMeasure, of: &Figures) -> String {
    format!(
        "± {} points",
        one_decimal(units, figures::strength_plus_minus(of))
    )
}

/// A freeze point: "−37.1 °C", "at or below −48.3 °C".
pub(crate) fn freeze(units: UnitsOfMeasure, freeze: &Freeze) -> String {
    let at = units.temperature(freeze.at);
    if freeze.or_below {
        format!("at or below {at}")
    } else {
        at
    }
}

/// So far the freeze point may lie to either side: "± 2.7 °C"; empty where the curve ends.
pub(crate) fn freeze_spread(units: UnitsOfMeasure, freeze: &Freeze) -> String {
    if freeze.or_below {
        return String::new();
    }
    let spread = nearest(freeze.plus_minus_c * 1e3)
        .and_then(|millikelvin| i32::try_from(millikelvin).ok())
        .and_then(|millikelvin| TemperatureDifference::from_millikelvin(millikelvin).ok());
    spread.map_or_else(String::new, |spread| {
        format!("± {}", units.temperature_difference(spread))
    })
}

/// Both together: "−37.1 °C ± 2.7 °C".
pub(crate) fn freeze_with_spread(units: UnitsOfMeasure, point: &Freeze) -> String {
    let spread = freeze_spread(units, point);
    format!("{} {spread}", freeze(units, point))
        .trim_end()
        .to_owned()
}

/// Strength with its spread: "48.2 % ± 2.0 points".
pub(crate) fn strength_with_spread(units: UnitsOfMeasure, of: &Figures) -> String {
    format!(
        "{} {}",
        strength(units, of.fraction_millionths),
        strength_spread(units, of)
    )
}

/// The lowest temperature to be ready for.
pub(crate) fn temperature(units: UnitsOfMeasure, temperature: Temperature) -> String {
    units.temperature(temperature)
}

fn one_decimal(units: UnitsOfMeasure, number: f64) -> String {
    decimal(units, number, 1)
}

/// A bare number with so many decimals.
pub(crate) fn decimal(units: UnitsOfMeasure, number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    let text = match text.strip_prefix('-') {
        Some(digits) if digits.contains(|digit: char| ('1'..='9').contains(&digit)) => {
            format!("{MINUS}{digits}")
        }
        // Less than nothing by less than is shown.
        Some(digits) => digits.to_owned(),
        None => text,
    };
    if units.decimal_mark == DecimalMark::Comma {
        text.replace('.', ",")
    } else {
        text
    }
}

fn mark(units: UnitsOfMeasure) -> char {
    match units.decimal_mark {
        DecimalMark::Point => '.',
        DecimalMark::Comma => ',',
    }
}

/// A moment in the shop: "2026-10-05 07:40".
pub(crate) fn time(at: Moment, zone: Tz) -> String {
    shown(at, zone, "%Y-%m-%d %H:%M")
}

/// A moment at an offset from UTC that was kept with it.
pub(crate) fn time_at_offset(at: Moment, utc_offset_min: i64) -> String {
    let moved = at.plus_ms(utc_offset_min.saturating_mul(MINUTE_MS));
    time(moved, Tz::UTC)
}

/// Its time of day: "07:40".
pub(crate) fn clock(at: Moment, zone: Tz) -> String {
    shown(at, zone, "%H:%M")
}

/// Its day: "2026-10-05".
pub(crate) fn day(at: Moment, zone: Tz) -> String {
    shown(at, zone, "%Y-%m-%d")
}

fn shown(at: Moment, zone: Tz, pattern: &str) -> String {
    let at: Option<DateTime<Utc>> = at.utc();
    at.map_or_else(
        || "beyond the calendar".to_owned(),
        |at| at.with_timezone(&zone).format(pattern).to_string(),
    )
}

/// How long ago: "today", "1 day ago", "12 days ago". Counted in whole days of the shop.
pub(crate) fn ago(at: Moment, now: Moment, zone: Tz) -> String {
    let date = |at: Moment| at.utc().map(|at| at.with_timezone(&zone).date_naive());
    let days = match (date(at), date(now)) {
        (Some(then), Some(today)) => today.signed_duration_since(then).num_days(),
        _ => now.ms_since(at).checked_div(DAY_MS).unwrap_or(0),
    };
    match days {
        ..=0 => "today".to_owned(),
        1 => "1 day ago".to_owned(),
        days => format!("{days} days ago"),
    }
}

#[cfg(test)]
mod tests {
    use chrono_tz::America::Denver;
    use domain::book::outcome::{Figures, Knowledge};
    use domain::condition::{Chemistry, figures};
    use domain::fluid::Glycol;
    use domain::moment::Moment;
    use domain::quantity::UnitsOfMeasure;
    use domain::quantity::format::DecimalMark;

    use super::{
        ago, day, freeze_with_spread, percent_of, strength_with_spread, time, volume, volume_change,
    };

    const METRIC: UnitsOfMeasure = UnitsOfMeasure::METRIC;

    #[test]
    fn a_volume_below_zero_has_a_true_minus_and_nothing_has_no_sign() {
        for (ml, shown, change) in [
            (12_500, "12.5 L", "+12.5 L"),
            (-400, "\u{2212}0.4 L", "\u{2212}0.4 L"),
            (0, "0.0 L", "0.0 L"),
            // Less than half of the last digit shown is nothing.
            (-40, "0.0 L", "0.0 L"),
            (40, "0.0 L", "0.0 L"),
            (i64::MIN, "more than can be shown", "more than can be shown"),
        ] {
            assert_eq!(volume(METRIC, ml), shown);
            assert_eq!(volume_change(METRIC, ml), change);
        }
    }

    #[test]
    fn strength_and_freeze_point_carry_their_spread() {
        let half = Figures {
            shown_ml: 10_000,
            fraction_millionths: 500_000,
            sigma_millionths: 10_000,
            knowledge: Knowledge::Tested,
        };
        assert_eq!(strength_with_spread(METRIC, &half), "50.0 % ± 2.0 points");
        let point = figures::freeze(&half, Chemistry::One(Glycol::Eg)).unwrap();
        assert_eq!(
            freeze_with_spread(METRIC, &point),
            "\u{2212}37.1 °C ± 2.7 °C"
        );
        // 2.72 K are 4.9 °F.
        assert_eq!(
            freeze_with_spread(UnitsOfMeasure::US, &point),
            "\u{2212}35 °F ± 4.9 °F"
        );
        let strong = Figures {
            fraction_millionths: 620_000,
            ..half
        };
        let point = figures::freeze(&strong, Chemistry::One(Glycol::Eg)).unwrap();
        assert_eq!(
            freeze_with_spread(METRIC, &point),
            "at or below \u{2212}48.3 °C"
        );
        let comma = UnitsOfMeasure {
            decimal_mark: DecimalMark::Comma,
            ..METRIC
        };
        assert_eq!(strength_with_spread(comma, &half), "50,0 % ± 2,0 points");
        assert_eq!(
            percent_of(comma, -1_234, 10_000),
            Some("\u{2212}12,3 %".to_owned())
        );
        assert_eq!(percent_of(comma, 1, 0), None);
    }

    #[test]
    fn times_and_days_are_those_of_the_shop() {
        let late: Moment = "2026-10-06T03:30:00Z"
            .parse::<chrono::DateTime<chrono::Utc>>()
            .unwrap()
            .into();
        assert_eq!(time(late, Denver), "2026-10-05 21:30");
        assert_eq!(day(late, Denver), "2026-10-05");
        for (hours, said) in [
            (0, "today"),
            (2, "today"),
            (3, "1 day ago"),
            (27, "2 days ago"),
        ] {
            assert_eq!(
                ago(late, late.plus_ms(hours * 3_600_000), Denver),
                said,
                "{hours}"
            );
        }
    }
}
