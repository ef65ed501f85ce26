//! What the demonstration must hold: its counts, its book and each of its stories.

mod counts;
mod loops;
mod paper;
mod recorded;
mod replayed;
mod trend;
mod vessels;
mod weep;
