//! What the book's figures say about the coolant in a place: strength and freeze point with their
//! spread, and whether a unit is ready for its winter.
//!
//! There are two verdicts on a loop and they are never merged: [`freeze`] and [`corrosion`]. Where the
//! lines are drawn is data, see [`policy`].

pub mod balance;
pub mod cap;
pub mod capacity;
pub mod comeback;
pub mod composition;
pub mod corrosion;
pub mod course;
pub mod due;
pub mod figures;
pub mod freeze;
pub mod governing;
pub mod key_figure;
pub mod laboratory;
pub mod leak;
pub mod policy;
pub mod probability;
pub mod readiness;
pub mod retrofit;
pub mod stated;
pub mod stock;
pub mod task;
pub mod vessel;
pub mod work;
pub mod zero;

pub use figures::{Chemistry, DEVIATIONS_AT_95, Freeze};
pub use freeze::{
    FreezeJudged, FreezePolicy, FreezeReason, FreezeVerdict, Known, Setting, judge, test_age_days,
};
pub use vessel::{HeldNow, VesselRemark};
