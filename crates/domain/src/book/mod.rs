//! The book: what every loop and vessel holds, worked out from the facts by replay.
//!
//! Pure and deterministic: no clock, no database. The order in which facts arrive plays no part;
//! they are replayed in the order of [`Order`].

pub mod chemistry;
pub mod component;
pub mod contents;
mod dip;
mod engine;
mod filed;
mod generation;
mod mixture;
pub mod month;
mod movement;
mod opened;
pub mod outcome;
mod posting;
mod preview;
pub mod question;
mod reading;
mod service;
mod state;
mod taking_in;
mod top_up;

pub use engine::{Book, Cursor, Kept, Order, Worked};
pub use reading::{SECOND_SAMPLE_BEYOND, WAITS_BEYOND, strength_read};
pub use state::{PlaceState, drifted};
pub use top_up::{COMPLETION_ALLOWANCE_ML, COMPLETION_MS};
