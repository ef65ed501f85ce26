//! Jobs as people and programs write them down, read into facts.
//!
//! The week files of `import` and the jobs of `POST /api/v1/jobs` have the same fields and go
//! through the same reader, so that what one takes the other takes too.

//mod answer;
pub mod derived;
mod directory;
pub mod fluid;
mod lines;
//mod post;
mod read;
pub mod text;
pub mod time;
mod written;

pub use directory::{Directory, KnownLoop, KnownShop, KnownUnit, KnownVessel};
//pub use post::post;
pub use read::{ReadJob, read};
pub use written::{FieldProblem, Problems, WrittenJob};
