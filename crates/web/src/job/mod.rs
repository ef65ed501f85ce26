//! `/units/{unit}/jobs/{kind}` and `/vessels/{vessel}/jobs/{kind}`: one sheet a kind of job.
//!
//! A [`Sheet`](sheet::Sheet) knows its own fields; [`write`] knows what all of them share: the key
//! made when the form opens, the time, the meters, the note, how it is taken in and answered.

mod before_after;
mod cap_test;
mod clean_out;
mod common;
mod condition_test;
pub(crate) mod correct;
mod dip;
pub(crate) mod doubt;
mod drained;
pub(crate) mod entered;
mod exchange;
mod fill;
mod filter_change;
mod fit_coupling;
mod flush;
mod gate;
mod ground;
mod hold;
mod inspect;
pub(crate) mod kinds;
mod leak;
pub(crate) mod leak_repair;
mod looks;
mod mark;
pub(crate) mod photo;
mod plain;
pub(crate) mod plan;
mod planned;
mod pressure_test;
mod reason;
mod receive;
mod recover;
pub(crate) mod sample;
mod sheet;
mod ship;
pub(crate) mod show;
pub(crate) mod sign;
mod source;
mod spill;
mod take;
mod take_back;
mod taken_out;
mod told;
mod top_up;
mod transfer;
mod vessel_choice;
pub(crate) mod void;
pub(crate) mod waited;
mod when;
pub(crate) mod write;

use domain::job::JobKind;

pub(crate) use common::sentence_case;
pub(crate) use correct::can_be_corrected;
pub(crate) use told::{Told, now};

pub(crate) use sheet::DoneOn;
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
    &cap_test::CapTest,
    &leak_repair::LeakRepair,
    &filter_change::FilterChange,
    &fit_coupling::FitCoupling,
    &flush::Flush,
    &transfer::Transfer,
    &dip::Dip,
    &receive::Receive,
    &clean_out::CleanOut,
    &inspect::Inspect,
    &sample::Sample,
    &spill::Spill,
    &ship::Ship,
];

/// Code and word of every kind that is done on units, in the order they are offered.
pub(crate) fn kinds_on_units() -> impl Iterator<Item = (&'static str, String)> {
    let sheets = SHEETS.iter();
    let on_units = sheets.filter(|sheet| sheet.done_on().takes(DoneOn::Unit));
    on_units.map(|sheet| (sheet.kind().code(), sentence_case(sheet.kind().word())))
}

/// What a kind of job is called, by its code.
pub(crate) fn kind_in_words(code: &str) -> Option<&'static str> {
    find_sheet(code).map(|sheet| sheet.kind().word())
}

/// The sheet of a kind, by the code in the address.
fn find_sheet(code: &str) -> Option<&'static dyn Sheet> {
    let kind = JobKind::from_code(code)?;
    SHEETS.iter().copied().find(|sheet| sheet.kind() == kind)
}
