//! What the pages of a unit and of a vessel have in common: the history of a place, its balance, what
//! is asked about it, and how its figures came about.

pub(crate) mod balance;
pub(crate) mod composition;
pub(crate) mod governing;
pub(crate) mod history;
mod question;
pub(crate) mod worked_out;

pub(crate) use question::{QuestionLine, open_questions};

/// The balance looks back so far.
pub(crate) const BALANCE_DAYS: i64 = 90;
