//! A week of jobs as a shop writes it down: three tables, read whole before anything is written.

mod cards;
mod jobs;
pub(crate) mod open;
mod plan;
mod table;

pub(crate) use cards::{UnitRows, VesselRow, read_units, read_vessels};
pub(crate) use jobs::{read_jobs, see_the_years, written_jobs};
pub(crate) use plan::{OnRecord, Plan, Planned, Week, known_names};
pub(crate) use table::Troubles;
