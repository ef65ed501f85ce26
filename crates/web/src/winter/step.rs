//! What makes a loop ready, in words.

use domain::condition::policy::Policy;
use domain::condition::readiness::{Action, Dose, Step, WinterLoop, WinterState, step};
use domain::ids::PlaceId;

use super::fleet::Each;
use super::strip::percent;
use crate::page::sentence;
use crate::unit::standing::Told;

/// Where a correction of a loop is planned on its unit.
pub(super) fn plan_address(unit: &Each, place: PlaceId) -> String {
    let of_loop = if unit.names.len() > 1 {
        format!("?loop={place}")
    } else {
        String::new()
    };
    format!("/units/{}/plans/correction{of_loop}", unit.winter.unit)
}

/// The same of the loop that stands worst, where a step would make it ready.
pub(super) fn planned(unit: &Each, policy: &Policy) -> Option<String> {
    let is_asked = unit.state != WinterState::Ready && step(&unit.worst, policy).is_ok();
    is_asked.then(|| plan_address(unit, unit.worst.place))
}

/// The cheapest step on a loop, or what has to come before one.
pub(super) fn of_loop(each: &WinterLoop, (told, policy): (Told, &Policy)) -> String {
    match step(each, policy) {
        Ok(step) => words(&step, told),
        Err(first) => sentence(first.words()),
    }
}

/// "Test it: at 83 % that shows it ready; otherwise drain 6.2 L, put in 6.2 L of concentrate."
pub(super) fn words(step: &Step, told: Told) -> String {
    let text = match step.action {
        Action::Correct(dose) => correct(dose, told),
        Action::TestFirst { chance, otherwise } => {
            let tested = format!("test it: at {} that shows it ready", percent(chance));
            if otherwise.concentrate.ml() == 0 {
                tested
            } else {
                format!("{tested}; otherwise {}", correct(otherwise, told))
            }
        }
    };
    sentence(&text)
}

fn correct(dose: Dose, told: Told) -> String {
    let volume = |of| told.units.volume(of);
    let mut parts = Vec::new();
    if dose.drain.ml() > 0 {
        parts.push(format!("drain {}", volume(dose.drain)));
    }
    if dose.concentrate.ml() > 0 {
        parts.push(format!(
            "put in {} of concentrate",
            volume(dose.concentrate)
        ));
    }
    if dose.water.ml() > 0 {
        parts.push(format!("and {} of water", volume(dose.water)));
    }
    if parts.is_empty() {
        return "test it".to_owned();
    }
    parts.join(", ").replace(", and ", " and ")
}
