//! What people state about waste beside the book, and what a month of a site comes to.
//!
//! The rules are those of [`crate::rules`]; this joins them with what the book counted. Nothing
//! here is law: local rules and licensed practice come first.

mod container;
mod generation;
mod stated;

pub use container::{Clock, Stated, largest_since, look_due};
pub use generation::{
    Came, Counted, Generation, NoGeneration, Others, Statements, Waste, still_there,
};
pub use stated::{
    AnalyteLine, Basis, Determination, Hazardous, LabSheet, OtherWaste, ProfileChosen, Stream,
    in_force,
};
