//! A unit's card on paper: the fields people fill in, and the card that comes of them.

mod check;
mod compare;
mod draft;
mod fields;
mod page;
mod read;
mod refill;
mod write;

pub(super) use check::{note_in_use, note_openings, with_another_loop};
pub(super) use compare::differences;
pub(super) use draft::Draft;
pub(super) use page::{Around, Changed, draw};
pub(super) use read::{Ground, read};
pub(super) use refill::refill;
pub(super) use write::{UnitSaving, card_with_ids, save};

/// More loops than any truck or bus has.
pub(super) const MOST_LOOPS: usize = 6;

/// The name of a field of the loop in row `row`, counted from 1.
fn field(row: usize, name: &str) -> String {
    format!("loop{row}_{name}")
}

const NUMBER: (&str, &str) = ("number", "Unit number");
const KIND: (&str, &str) = ("kind", "Kind of unit");
const FAMILY: (&str, &str) = ("engine_family", "Engine family (optional)");
const REASON: (&str, &str) = ("reason", "Why is it changed?");
