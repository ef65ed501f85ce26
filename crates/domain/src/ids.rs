//! One type for each kind of id, so that a unit's id cannot stand where a vessel's is wanted.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }
    )*};
}

ids! {
    /// The key of a fact: made when the form opens, unique in the server, never reused.
    FactKey
    /// A place that holds fluid: one loop of a unit, or one vessel.
    PlaceId
    /// A truck, bus or other unit.
    UnitId
    /// A site: one waste identity, one address.
    SiteId
    /// A shop on a site.
    ShopId
    /// A person who works in a shop.
    PersonId
    /// A measuring instrument or gauge.
    InstrumentId
    /// A fluid as it is bought.
    FluidId
}
