//! Jobs as people and programs write them down, read into facts.
//!
//! The week files of `import` and the jobs of `POST /api/v1/jobs` have the same fields and go
//! through the same reader, so that what one takes the other takes too.

mod answer;
mod decided;
pub mod derived;
mod directory;
pub mod fluid;
mod instrument;
mod lines;
mod lookup;
mod post;
mod read;
#[cfg(test)]
mod tests;
pub mod text;
pub mod time;
mod written;

pub use answer::{Held, answer};
pub use directory::{Directory, KnownLoop, KnownPerson, KnownShop, KnownUnit, KnownVessel};
pub use domain::condition::figures;
pub use lookup::{find_unit, find_vessels};
pub(crate) use post::{is_json, post, refuse_other_sites};
pub use read::{ReadJob, read, read_base, read_zone};
pub use written::{FieldProblem, Problems, WrittenJob};
