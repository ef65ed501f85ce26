//! What the book's figures say about the coolant in a place: strength and freeze point with their
//! spread, and whether a unit is ready for its winter.
//!
//! Corrosion protection is not judged here: a verdict on the freeze point says nothing about it.

pub mod balance;
pub mod cap;
pub mod figures;
pub mod freeze;
pub mod vessel;

pub use figures::{Chemistry, DEVIATIONS_AT_95, Freeze};
pub use freeze::{FreezeJudged, FreezePolicy, FreezeReason, FreezeVerdict, Known, judge};
pub use vessel::{HeldNow, VesselRemark};
