//! The book: worked examples with their arithmetic, and what must always hold.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers of tests stop the test when the scene itself is wrong"
)]

mod container;
mod examples;
mod preview;
mod properties;
mod scene;
mod waste;
