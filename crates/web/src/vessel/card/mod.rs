//! A vessel's card on paper: the fields people fill in, and the card that comes of them.

mod fields;
mod read;

use domain::fleet::Vessel;
use domain::quantity::Volume;
use domain::quantity::entry::Typed;

pub(super) use fields::{on_record, parts};
pub(super) use read::read;

type Named = (&'static str, &'static str);

const NAME: Named = ("name", "Name on it");
const KIND: Named = ("kind", "What is it?");
const HOLDS: Named = ("holds", "What is it kept for?");
const BASE: Named = ("base", "Base of its coolant");
const CLASS: Named = ("class", "Inhibitor class");
const CAPACITY: Named = ("capacity", "Capacity");
const FILL_LIMIT: Named = ("fill_limit", "Fill limit (optional)");
const START: Named = (
    "start_date",
    "Start date on its label, like 2026-10-05 (waste)",
);
const MAWP: Named = ("mawp", "Highest working pressure on its plate (optional)");
const RELIEF: Named = ("relief_set", "Relief valve set to (optional)");
const VACUUM: Named = ("rated_vacuum", "Rated vacuum, below outside air (optional)");
const INSPECTED: Named = ("inspected_on", "Last inspected, like 2026-10-05 (optional)");
const DUE: Named = ("next_due", "Inspection due, like 2027-10-05 (optional)");
const OPENING: Named = ("opening", "What is in it now (optional)");
const STRENGTH: Named = ("opening_strength", "Strength of that, if known");

/// A card as it was read, with what is in the vessel to begin with.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    pub(super) card: Vessel,
    pub(super) opening: Option<(
        Typed<Volume>,
        Option<Typed<domain::quantity::FractionByVolume>>,
    )>,
}

/// Whether a card is made or changed: only a new vessel is asked what is in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CardOf {
    New,
    OnRecord,
}
