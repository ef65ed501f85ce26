//! What people state about waste beside the book, and what a month of a site comes to.
//!
//! The rules are those of [`crate::rules`]; this joins them with what the book counted. Nothing
//! here is law: local rules and licensed practice come first.

mod closing;
mod container;
mod generation;
mod lab_sheet;
mod passed;
mod stated;
mod stream;

pub use closing::{
    CannotClose, ContainerStanding, LeftOpen, SiteFigure, SiteMass, SiteStatement, may_close,
};
pub use container::{
    Clock, Conditions, Emptied, Holding, NextLook, Stated, area_key, first_good, largest_since,
    next_look_at,
};
pub use generation::{
    Came, Counted, Generation, NoGeneration, Others, Statements, Waste, density_tenths,
    still_there, volume_of_part,
};
pub use lab_sheet::{AnalyteLine, LabSheet, Portion, share_of_percent};
pub use passed::{Change, Held, Turn, passed_on};
pub use stated::{
    Basis, Determination, Hazardous, OtherWaste, ProfileChosen, Recycled, Stream, in_force,
};
pub use stream::StreamBalance;
