//! `/units/{unit}/jobs/{kind}` and `/vessels/{vessel}/jobs/{kind}`: one sheet a kind of job.
//!
//! A [`Sheet`](sheet::Sheet) knows its own fields; [`write`] knows what all of them share: the key
//! made when the form opens, the time, the meters, the note, how it is taken in and answered.

mod before_after;
mod common;
mod condition_test;
pub(crate) mod correct;
mod dip;
mod drained;
pub(crate) mod entered;
mod exchange;
mod fill;
mod fit_coupling;
mod gate;
mod ground;
mod hold;
pub(crate) mod kinds;
mod leak;
mod looks;
mod mark;
pub(crate) mod plan;
mod planned;
mod pressure_test;
mod recover;
mod sheet;
pub(crate) mod show;
mod source;
mod take_back;
mod taken_out;
mod told;
mod top_up;
mod transfer;
mod vessel_choice;
pub(crate) mod void;
mod when;
pub(crate) mod write;

use domain::job::JobKind;

pub(crate) use common::sentence_case;
pub(crate) use correct::can_be_corrected;
pub(crate) use told::{Told, now};

use sheet::Sheet;

/// Every kind of job that has a sheet.
static SHEETS: &[&dyn Sheet] = &[
    &top_up::TopUp,
    &recover::Recover,
    &fill::Fill,
    &exchange::EXCHANGE,
    &exchange::CORRECT,
    &condition_test::ConditionTest,
    &pressure_test::PressureTest,
    &fit_coupling::FitCoupling,
    &transfer::Transfer,
    &dip::Dip,
];

/// The sheet of a kind, by the code in the address.
fn find_sheet(code: &str) -> Option<&'static dyn Sheet> {
    let kind = JobKind::from_code(code)?;
    SHEETS.iter().copied().find(|sheet| sheet.kind() == kind)
}
