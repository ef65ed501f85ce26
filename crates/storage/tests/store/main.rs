//! The store on real files, opened the way the server opens them.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "helpers of tests stop the test where something is wrong"
)]

mod append;
mod check_log;
mod course;
mod late;
mod months;
mod page;
mod period;
mod pressure_test;
mod proof;
mod read;
mod shop;
mod start;
mod statements;
mod trail;
