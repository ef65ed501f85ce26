//! Product tests: the built program, spoken to over its socket and its command line.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "what cannot be set up has failed the test"
)]
#![expect(clippy::too_many_lines, reason = "a story is told in one piece")]

mod calc;
mod certificate;
mod client;
mod command_line;
mod demonstration;
mod faults;
mod health;
mod keep;
mod limits;
mod pages;
mod server;
mod stop;
mod week;
mod week_api;
mod week_shop;
