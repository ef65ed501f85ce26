//! `/checking`: what was recorded and looks odd, with both sides and an answer to give.

mod answer;
mod asked;
mod list;
mod said;
mod says;

pub(crate) use answer::submit;
pub(crate) use asked::{Asked, of_job};
pub(crate) use list::show;
pub(crate) use said::{answer_own, ask, count_own, show_own};
