//! One row of the winter strip: a bar from the winter low to where the unit freezes.

use domain::condition::readiness::WinterState;
use domain::quantity::TemperatureDifference;
use domain::quantity::rounding::float;

use super::fleet::Each;
use super::step;
use crate::component::{Shape, Status};
use crate::figure;
use crate::unit::row::unbroken;
use crate::unit::standing::Told;

/// The drawing's own units.
const LEFT: f64 = 6.0;
const WIDE: f64 = 228.0;
/// The ends of the axis lie at least and at most so far from the winter low, kelvin.
const LEAST: f64 = 5.0;
const MOST: f64 = 40.0;

/// How a state is drawn.
pub(super) fn status(state: WinterState) -> Status {
    let shape = match state {
        WinterState::Freezes => Shape::Stop,
        WinterState::NotSure
        | WinterState::LowLevel
        | WinterState::InQuestion
        | WinterState::OldTest => Shape::Watch,
        WinterState::NoTest | WinterState::NoFreezePoint | WinterState::NoWinterLow => {
            Shape::Nothing
        }
        WinterState::Ready => Shape::Good,
    };
    Status::new(shape, state.words())
}

/// A bar, placed.
#[derive(Clone, Debug)]
pub(super) struct Bar {
    pub(super) low: String,
    pub(super) from: String,
    pub(super) width: String,
    /// Over all it may be: from and to.
    pub(super) spread: (String, String),
    /// Its test is old or missing: it proves nothing today.
    pub(super) hatched: bool,
}

/// A row.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) address: String,
    pub(super) number: String,
    pub(super) kind: String,
    pub(super) status: Status,
    pub(super) freeze: String,
    /// "4.1 °C to spare", "2.0 °C too warm".
    pub(super) margin: String,
    pub(super) bar: Option<Bar>,
    /// "97 %".
    pub(super) sure: String,
    pub(super) last_test: String,
    pub(super) step: String,
    /// Where that is planned on the unit; none where nothing is corrected.
    pub(super) plan: Option<String>,
    pub(super) being_worked_out_again: bool,
}

/// How far the axis reaches to both sides of the winter low, kelvin.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    warm: f64,
    cold: f64,
}

impl Scale {
    pub(super) fn over(units: &[&Each]) -> Self {
        let margins = || units.iter().filter_map(|unit| unit.margin()).map(kelvin);
        Self {
            warm: margins()
                .map(|margin| -margin)
                .fold(LEAST, f64::max)
                .min(MOST),
            cold: margins().fold(LEAST, f64::max).min(MOST),
        }
    }

    fn x(self, margin: f64) -> f64 {
        let margin = margin.clamp(-self.warm, self.cold);
        LEFT + WIDE * (margin + self.warm) / (self.warm + self.cold)
    }
}

fn kelvin(difference: TemperatureDifference) -> f64 {
    float(i64::from(difference.millikelvin())) / 1e3
}

fn bar(unit: &Each, scale: Scale) -> Option<Bar> {
    let margin = kelvin(unit.margin()?);
    let spread = unit.freeze?.plus_minus_c;
    let (low, end) = (scale.x(0.0), scale.x(margin));
    let at = |x: f64| format!("{x:.1}");
    Some(Bar {
        low: at(low),
        from: at(low.min(end)),
        width: at((low - end).abs().max(1.0)),
        spread: (at(scale.x(margin - spread)), at(scale.x(margin + spread))),
        hatched: matches!(unit.state, WinterState::OldTest | WinterState::NoTest),
    })
}

/// A margin in words.
pub(super) fn margin(unit: &Each, told: Told) -> String {
    let Some(margin) = unit.margin() else {
        return "not known".to_owned();
    };
    let size = TemperatureDifference::from_millikelvin(margin.millikelvin().saturating_abs());
    let shown = size.map_or_else(
        |_| "more than can be shown".to_owned(),
        |size| told.units.temperature_difference(size),
    );
    if margin.millikelvin() < 0 {
        format!("{shown} too warm")
    } else {
        format!("{shown} to spare")
    }
}

/// A chance in whole percent, cut off: nothing is promised that is not there.
pub(crate) fn percent(chance: f64) -> String {
    format!("{} %", (chance * 100.0).clamp(0.0, 100.0).floor())
}

impl Row {
    pub(super) fn of(
        unit: &Each,
        scale: Scale,
        (told, policy): (Told, &domain::condition::policy::Policy),
    ) -> Self {
        let in_loop = |text: String| match unit.worst_name.as_str() {
            "" => text,
            name => format!("{name}: {text}"),
        };
        Self {
            address: format!("/units/{}", unit.winter.unit),
            number: unit.number.clone(),
            kind: unit.kind.clone(),
            status: status(unit.state),
            freeze: unbroken(&unit.freeze.map_or_else(
                || in_loop("not known".to_owned()),
                |point| in_loop(figure::freeze_with_spread(told.units, &point)),
            )),
            margin: unbroken(&margin(unit, told)),
            bar: bar(unit, scale),
            sure: unit
                .worst_readiness
                .probability
                .map_or_else(|| "not known".to_owned(), percent),
            last_test: unit.last_reading_at.map_or_else(
                || "none yet".to_owned(),
                |at| figure::ago(at, told.now, told.zone),
            ),
            step: if unit.state == WinterState::Ready {
                String::new()
            } else {
                step::of_loop(&unit.worst, (told, policy))
            },
            plan: step::planned(unit, policy),
            being_worked_out_again: unit.being_worked_out_again,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::percent;

    #[test]
    fn a_chance_is_never_rounded_up() {
        assert_eq!(percent(0.9499), "94 %");
        assert_eq!(percent(1.0), "100 %");
    }
}
