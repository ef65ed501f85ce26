//! The demonstration record: an invented fleet, 18 months of invented work, invented people.
//!
//! Everything in it follows from one number. The facts are what people would have typed; what was
//! really in every loop and vessel is kept beside them only while they are made, so that readings
//! and dips fit it. The sixteen stories of the fleet stand in `stories`.

mod calendar;
mod closing;
mod counted;
mod dice;
mod exchange;
mod fleet;
mod floor;
mod fluids;
mod instruments;
mod opening;
mod people;
mod plan;
mod record;
mod rhythm;
mod sheet;
mod sign_on;
mod signing;
mod stories;
mod supply;
#[cfg(test)]
mod tests;
mod typing;
mod vessels;
mod work;
mod yards;

use domain::fact::Recorded;
use domain::quantity::OutOfBounds;
use domain::quantity::entry::EntryProblem;

pub(crate) use calendar::{DAY_0, START_OF_WORK, start_of_work};
pub(crate) use record::put;
pub(crate) use sign_on::let_in;

/// The number the shipped demonstration is made from.
pub(crate) const SEED: u64 = 20_261_005;

/// The fleet's name.
pub(crate) const FLEET: &str = "Orrowick Regional Fleet Services";

/// What every page and the program say about this record.
pub(crate) const MARK: &str = "Demonstration, invented";

/// Why the demonstration could not be made; only a fault in its own lists can be.
#[derive(Debug)]
pub(crate) enum Unmade {
    /// A text of ours is not read as a quantity.
    Entry(EntryProblem),
    /// A number of ours lies outside its quantity.
    Bounds(OutOfBounds),
    /// A date of ours is not on the calendar.
    Calendar(String),
    /// Something a story names is not there.
    Missing(String),
}

impl std::fmt::Display for Unmade {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Entry(problem) => problem.fmt(f),
            Self::Bounds(bounds) => bounds.fmt(f),
            Self::Calendar(date) => write!(f, "{date} is not on the calendar"),
            Self::Missing(what) => write!(f, "{what} is missing"),
        }
    }
}

impl From<EntryProblem> for Unmade {
    fn from(problem: EntryProblem) -> Self {
        Self::Entry(problem)
    }
}

impl From<OutOfBounds> for Unmade {
    fn from(bounds: OutOfBounds) -> Self {
        Self::Bounds(bounds)
    }
}

type Made<T> = Result<T, Unmade>;

/// All facts of the demonstration, in the order they reached the server.
///
/// A closed month names the head it knew by its sequence number; the head's hash is known only to
/// the record itself and has to be put in there.
pub(crate) fn facts(seed: u64) -> Made<Vec<Recorded>> {
    let mut floor = floor::Floor::new(seed)?;
    opening::record(&mut floor)?;
    let mut plan = plan::Plan::default();
    rhythm::plan(&floor, &mut plan)?;
    stories::plan(&mut plan)?;
    for (at, task) in plan.in_order() {
        floor.perform(at, task)?;
    }
    signing::sign_shipments(&mut floor)?;
    let arrived = floor.in_arrival_order()?;
    let office = closing::Office {
        seed,
        officer: floor.person("P12")?,
        stores: &floor.stores,
    };
    closing::close_months(arrived, office)
}
