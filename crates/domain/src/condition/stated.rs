//! What people state of a loop beside its jobs: work that was put off, a leak that nobody found.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::task::Task;
use crate::ids::{FactKey, PersonId, PlaceId};
use crate::moment::Moment;
use crate::words::Text;

/// Due work that is put off. What is stated later of the same task takes its place, so it is ended by
/// stating an earlier day.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PutOff {
    /// The loop.
    pub place: PlaceId,
    /// The work.
    pub task: Task,
    /// The last day on which it may stay undone.
    pub until: NaiveDate,
    /// Why.
    pub reason: Text,
}

/// The same as it stands in the record.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct WasPutOff {
    /// When.
    pub at: Moment,
    /// The fact.
    pub key: FactKey,
    /// By whom.
    pub by: Option<PersonId>,
    /// What.
    pub what: PutOff,
}

/// Somebody looked for the leak a loop is suspected of, or that was seen, and found none. It ends the
/// case that is open then; what is topped up later is counted anew.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NothingFound {
    /// The loop.
    pub place: PlaceId,
    /// What was looked at, and what explains the suspicion.
    pub reason: Text,
}
