//! Jobs logged in the browser: each kind, its gates, its questions, sent twice, not allowed.

mod bad_input;
mod condition_test;
mod correct;
mod dip;
mod exchange;
mod fill;
mod fit_coupling;
mod paper;
mod plan;
mod pressure_test;
mod recover;
mod top_up;
mod transfer;
mod who;
