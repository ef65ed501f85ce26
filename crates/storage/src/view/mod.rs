//! The views: tables worked out from the record alone, one projector for each noun.

mod closed_month;
mod container;
mod fluid;
mod instrument;
mod job;
mod membership;
mod merge;
pub(crate) mod outcome;
mod person;
mod photo;
pub(crate) mod place_state;
mod retirement;
mod role;
mod said;
mod shop;
mod site;
mod subject;

mod unit;
mod vessel;
mod vessel_month;
mod zero_check;

pub(crate) use subject::subjects;
pub(crate) use unit::searched;

use crate::error::StorageError;
use domain::book::Order;
use domain::fact::{Recorded, What};
use sqlx::{AssertSqlSafe, SqliteConnection};

/// All views, in an order in which they can be emptied: what points before what is pointed at.
pub const VIEWS: [&str; 30] = [
    "facts_about",
    "sites",
    "shops",
    "memberships",
    "loops",
    "units",
    "vessels",
    "fluids",
    "people",
    "roles",
    "instruments",
    "retirements",
    "merges",
    "closed_months",
    "jobs",
    "photos",
    "photo_removals",
    "said",
    "container_events",
    "zero_checks",
    "outcomes",
    "place_changes",
    "questions",
    "open_questions",
    "month_totals",
    "waste_lines",
    "vessel_month_contents",
    "vessel_month_masses",
    "place_states",
    "outside_balances",
];

/// The views that lag behind while a late fact's effects are being worked out.
pub const LAGGING_VIEWS: [&str; 9] = [
    "outcomes",
    "place_changes",
    "questions",
    "open_questions",
    "month_totals",
    "waste_lines",
    "vessel_month_contents",
    "vessel_month_masses",
    "place_states",
];

/// A fact on its way into the views.
#[derive(Debug)]
pub(crate) struct Entry {
    pub(crate) seq: i64,
    pub(crate) order: Order,
    pub(crate) recorded: Recorded,
}

impl Entry {
    pub(crate) fn new(seq: i64, recorded: Recorded) -> Self {
        Self {
            seq,
            order: Order {
                happened: recorded.fact.when.replayed_at(recorded.received_at),
                made: recorded.fact.when.made(),
                key: recorded.key,
            },
            recorded,
        }
    }
}

/// The columns that tell which of two cards is the later one.
#[derive(Clone, Copy, Debug)]
struct Place {
    happened_at: i64,
    made_at: i64,
    key: uuid::Uuid,
}

impl Entry {
    fn place(&self) -> Place {
        Place {
            happened_at: self.order.happened.0,
            made_at: self.order.made.0,
            key: self.order.key.0,
        }
    }
}

/// Puts what facts state as such into the views. What follows from them is the book's to work
/// out: see [`outcome`] and [`place_state`].
pub(crate) async fn take(
    connection: &mut SqliteConnection,
    entries: &[Entry],
) -> Result<(), StorageError> {
    subject::take(connection, entries).await?;
    job::take(connection, entries).await?;
    for entry in entries {
        match &entry.recorded.fact.what {
            What::Site(site) => site::take(connection, entry, site).await?,
            What::Shop(shop) => shop::take(connection, entry, shop).await?,
            What::Unit(unit) => unit::take(connection, entry, unit).await?,
            What::Vessel(vessel) => vessel::take(connection, entry, vessel).await?,
            What::Fluid(fluid) => fluid::take(connection, entry, fluid).await?,
            What::Person(person) => person::take(connection, entry, person).await?,
            What::Roles(roles) => role::take(connection, entry, roles).await?,
            What::Instrument(tool) => instrument::take(connection, entry, tool).await?,
            What::MovedToShop(moved) => membership::take(connection, entry, moved).await?,
            What::Retired(retired) => retirement::take(connection, entry, retired).await?,
            What::Merged(merged) => merge::take(connection, entry, merged).await?,
            What::MonthClosed(closed) => closed_month::take(connection, entry, closed).await?,
            What::Photo(photo) => photo::take(connection, entry, photo).await?,
            What::PhotoRemoved(removed) => photo::take_out(connection, entry, removed).await?,
            What::ContainerEvent(stated) => container::take(connection, entry, stated).await?,
            What::Said(said) => said::take(connection, entry, said).await?,
            What::ZeroCheck(checked) => zero_check::take(connection, entry, checked).await?,
            What::Opening(_)
            | What::Job(_)
            | What::Void(_)
            | What::Answer(_)
            | What::FitnessDecision(_)
            | What::LaboratoryResult(_)
            | What::TextRemoved(_)
            | What::RulesAdopted(_)
            | What::Signed(_)
            | What::ProfileChosen(_)
            | What::Determination(_)
            | What::OtherWaste(_)
            | What::PutOff(_)
            | What::NothingFound(_) => {}
        }
    }
    Ok(())
}

/// Empties every view.
pub(crate) async fn empty(connection: &mut SqliteConnection) -> Result<(), StorageError> {
    for view in VIEWS.into_iter().chain(["stale_places"]) {
        sqlx::query(AssertSqlSafe(format!("delete from {view}")))
            .execute(&mut *connection)
            .await?;
    }
    Ok(())
}

/// A word an enum is written as in JSON: the same code in the record and in the views.
pub(crate) fn code<T: serde::Serialize>(value: &T) -> Result<String, StorageError> {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(code)) => Ok(code),
        other => Err(StorageError::NotCanonical(format!(
            "{other:?} is not a word"
        ))),
    }
}
