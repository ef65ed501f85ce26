//! Jobs logged in the browser: each kind, its gates, its questions, sent twice, not allowed.

mod bad_input;
mod cap_test;
mod clean_out;
mod comeback;
mod condition_test;
mod correct;
mod dip;
mod exchange;
mod fill;
mod filter_change;
mod fit_coupling;
mod flush;
mod inspect;
mod leak_repair;
pub(in crate::pages) mod paper;
mod photo;
mod photo_hostile;
mod plan;
mod pressure_test;
mod receive;
mod recover;
mod sample;
mod ship;
mod spill;
mod top_up;
mod transfer;
mod who;
