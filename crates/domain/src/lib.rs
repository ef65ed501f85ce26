//! What a coolant shop knows: quantities, fluids, facts and the book worked out from them.
//!
//! Pure functions over plain data: no clock, file, socket, database or randomness.
#![warn(missing_docs)]
#![warn(clippy::arithmetic_side_effects)]

pub mod book;
pub mod calculation;
pub mod condition;
pub mod fact;
pub mod fleet;
pub mod fluid;
pub mod gas;
pub mod gate;
pub mod ids;
pub mod job;
pub mod moment;
pub mod plan;
pub mod pressure_test;
pub mod quantity;
pub mod rules;
pub mod season;
pub mod waste;
pub mod words;
