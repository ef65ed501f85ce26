//! The words a vessel's card is made of.

use domain::fleet::{Holds, VesselKind};

pub(super) const KINDS: [VesselKind; 4] = [
    VesselKind::Cart,
    VesselKind::Tank,
    VesselKind::Drum,
    VesselKind::WasteContainer,
];
pub(super) const USES: [Holds; 4] = [
    Holds::Fresh,
    Holds::Recovered,
    Holds::Quarantine,
    Holds::Waste,
];
