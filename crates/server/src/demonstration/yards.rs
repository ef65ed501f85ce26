//! Two yards: one on a hill with hard winters, one on the coast.

use domain::fleet::{Paper, Shop, Site};
use domain::ids::{ShopId, SiteId};
use domain::quantity::{Temperature, UnitsOfMeasure};
use domain::season::YearDay;

use super::Made;
use super::calendar::ZONE;
use super::dice::Dice;

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) enum Yard {
    Upper,
    Harbour,
}

impl Yard {
    pub(super) const BOTH: [Self; 2] = [Self::Upper, Self::Harbour];

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Upper => "Upper Yard",
            Self::Harbour => "Harbour Yard",
        }
    }

    /// The lead hand's handle.
    pub(super) const fn lead_hand(self) -> &'static str {
        match self {
            Self::Upper => "P8",
            Self::Harbour => "P9",
        }
    }

    /// The manager's handle.
    pub(super) const fn manager(self) -> &'static str {
        match self {
            Self::Upper => "P10",
            Self::Harbour => "P11",
        }
    }

    /// What the site is known by to whoever oversees its waste: invented, and says so.
    pub(super) const fn identity_number(self) -> &'static str {
        match self {
            Self::Upper => "INVENTED-000-0001",
            Self::Harbour => "INVENTED-000-0002",
        }
    }

    pub(super) fn site(self, seed: u64) -> SiteId {
        SiteId(Dice::named(seed, &format!("site {}", self.name())).id())
    }

    pub(super) fn shop(self, seed: u64) -> ShopId {
        ShopId(Dice::named(seed, &format!("shop {}", self.name())).id())
    }

    pub(super) fn site_card(self, seed: u64) -> Site {
        Site {
            id: self.site(seed),
            name: format!("{}, {} ({})", super::FLEET, self.name(), super::MARK),
        }
    }

    pub(super) fn shop_card(self, seed: u64) -> Made<Shop> {
        let (altitude_m, winter_low, first_frost) = match self {
            Self::Upper => (1_420, -31_000, "11-15"),
            Self::Harbour => (12, -17_000, "12-05"),
        };
        Ok(Shop {
            id: self.shop(seed),
            site: self.site(seed),
            name: format!("{} (invented)", self.name()),
            zone: ZONE.name().to_owned(),
            altitude_m,
            winter_low: Some(Temperature::from_millicelsius(winter_low)?),
            first_frost: YearDay::try_from(first_frost.to_owned()).ok(),
            units_of_measure: UnitsOfMeasure::METRIC,
            paper: Paper::Letter,
        })
    }
}
