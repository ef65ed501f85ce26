//! Rules about waste coolant: what a jurisdiction says, as data, and what follows from it.
//!
//! A [`Profile`] holds every figure that comes from law, each with its section and how it was
//! read; the tables are `tables/rules_profiles.csv` and `tables/rules_analyte_limits.csv`. What
//! follows is pure functions over integers and dates, and no figure from law stands in any of
//! them. Whoever asks about an event takes the profile in force **on the event's date**
//! ([`Profiles::in_force`]).
//!
//! Local rules and licensed practice come first: this works figures out, it gives no legal advice.

pub mod accumulation;
pub mod category;
pub mod counting;
pub mod determination;
mod exact;
mod measure;
pub mod notation;
mod profile;
mod span;
pub(crate) mod table;

pub use exact::{Exact, NotExact};
pub use measure::read_way;
pub use profile::{
    AnalyteLimit, Antifreeze, Beyond, Class, ClassRules, CountingRules, DatedFrom, EmptyRules,
    GeneratorRules, LeavesCount, Profile, Profiles, SatelliteRules, StartDay, TestRules,
    Thresholds, WasteList,
};
pub use span::{Span, days_left};
pub use table::{Cited, Mark, Unusable};
