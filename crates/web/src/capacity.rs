//! What a loop really takes and what a drain of it is likely to bring, learned from its jobs, in words.

use std::collections::HashMap;

use chrono::NaiveDate;
use domain::condition::DEVIATIONS_AT_95;
use domain::condition::capacity::{DrainMethod, Estimate};
use domain::condition::policy::Policies;
use domain::condition::work::{Card, Known, LoopWork};
use domain::fleet::{Loop, Unit};
use domain::ids::PlaceId;
use domain::moment::Moment;
use domain::quantity::UnitsOfMeasure;
use domain::quantity::rounding::nearest;
use storage::Read;

use crate::{WebError, figure};

/// All that is on record.
pub(crate) const EVER: (Moment, Moment) = (Moment(i64::MIN), Moment(i64::MAX));

/// What is known of each loop of a unit.
pub(crate) async fn of_unit(
    read: &mut Read,
    unit: &Unit,
    today: NaiveDate,
) -> Result<HashMap<PlaceId, Known>, WebError> {
    let works = read.list_work(&[unit.id], EVER).await;
    let works = works.map_err(WebError::fault)?;
    let policy = Policies::on(today).map_err(WebError::fault)?;
    let known = unit.loops.iter().map(|circuit| {
        let work = works.get(&circuit.id).map_or(&[][..], Vec::as_slice);
        let known = Known::of(work, card_of(Some(circuit)), &policy.capacity);
        (circuit.id, known)
    });
    Ok(known.collect())
}

/// One loop, also one that is on no card.
pub(crate) fn of_loop(
    work: &[LoopWork],
    circuit: Option<&Loop>,
    today: NaiveDate,
) -> Result<Known, WebError> {
    let policy = Policies::on(today).map_err(WebError::fault)?;
    Ok(Known::of(work, card_of(circuit), &policy.capacity))
}

fn card_of(circuit: Option<&Loop>) -> Card {
    circuit.map_or_else(Card::default, |circuit| Card {
        capacity_ml: circuit.capacity.as_ref().map(|typed| typed.value.ml()),
        coupling_fitted: circuit.coupling_fitted,
    })
}

/// "38.4 L ± 1.9 L".
pub(crate) fn estimate(units: UnitsOfMeasure, of: Estimate) -> String {
    format!("{} {}", litres(units, of), spread(units, of))
}

/// "38.4 L".
pub(crate) fn litres(units: UnitsOfMeasure, of: Estimate) -> String {
    figure::volume(units, nearest(of.litres * 1e3).unwrap_or(i64::MAX))
}

/// "± 1.9 L", which holds in 95 of 100 cases.
pub(crate) fn spread(units: UnitsOfMeasure, of: Estimate) -> String {
    figure::volume_spread(units, nearest(of.sigma_l * 1e3).unwrap_or(i64::MAX))
}

/// Whether a figure lies where an estimate had it in 95 of 100 cases.
pub(crate) fn is_within(of: Estimate, found_l: f64) -> bool {
    (found_l - of.litres).abs() <= DEVIATIONS_AT_95 * of.sigma_l
}

/// How a loop is drained, as it stands behind "a drain".
pub(crate) const fn way(method: DrainMethod) -> &'static str {
    match method {
        DrainMethod::Gravity => "at its drain",
        DrainMethod::Vacuum => "under vacuum at the filler",
        DrainMethod::Coupling => "through its coupling",
    }
}

/// "1 job", "4 jobs".
pub(crate) fn jobs(count: usize) -> String {
    if count == 1 {
        "1 job".to_owned()
    } else {
        format!("{count} jobs")
    }
}

/// What the next drain of a loop will bring.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Likely {
    method: DrainMethod,
    found: Estimate,
    /// The jobs it was learned from.
    jobs: usize,
}

impl Likely {
    /// Of a loop that takes so much by its card and holds so much by the book.
    pub(crate) fn of(
        known: &Known,
        else_by: DrainMethod,
        (capacity_ml, held_ml): (i64, i64),
    ) -> Option<Self> {
        let method = known.method(else_by);
        Some(Self {
            method,
            found: known.likely(method, (capacity_ml, held_ml))?,
            jobs: known.lessons.len(),
        })
    }

    /// "A drain through its coupling is likely to bring 38.4 L ± 1.9 L, from 4 jobs."
    pub(crate) fn sentence(self, units: UnitsOfMeasure) -> String {
        let found = estimate(units, self.found);
        let way = way(self.method);
        let from = self.rests_on();
        format!("A drain {way} is likely to bring {found}, {from}.")
    }

    fn rests_on(self) -> String {
        match self.jobs {
            0 => "by its card alone: no whole drain of it is on record".to_owned(),
            count => format!("from {}", jobs(count)),
        }
    }
}
