//! `/records`: every fact as it was recorded, in order; nothing here can be changed.

mod card;
mod complete;
mod fields;
pub(crate) mod list;
mod names;
mod scope;
pub(crate) mod show;
mod words;

pub(crate) use names::{Names, Wanted};
pub(crate) use scope::may_see;
pub(crate) use words::{kind_word, number, proved_word, via_word};
