//! The names a job may use, as far as they are on record.

use std::collections::HashMap;

use chrono_tz::Tz;
use domain::ids::{PersonId, PlaceId, ShopId, UnitId};

use super::derived::{self, normal_name};

/// A shop on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownShop {
    /// Its id.
    pub id: ShopId,
    /// Its name.
    pub name: String,
    /// Its time zone.
    pub zone: Tz,
}

/// A loop of a unit on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownLoop {
    /// Its id.
    pub id: PlaceId,
    /// Its name.
    pub name: String,
}

/// A unit on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownUnit {
    /// Its id.
    pub id: UnitId,
    /// Its number.
    pub number: String,
    /// The shop it belongs to.
    pub shop: Option<ShopId>,
    /// Its loops.
    pub loops: Vec<KnownLoop>,
}

/// A vessel on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownVessel {
    /// Its id.
    pub id: PlaceId,
    /// Its name.
    pub name: String,
    /// The shop it belongs to.
    pub shop: Option<ShopId>,
}

/// A person on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownPerson {
    /// Their id.
    pub id: PersonId,
    /// Their handle.
    pub handle: String,
    /// The shop they belong to; nothing for one who belongs to all.
    pub shop: Option<ShopId>,
}

/// What is known of the names in a job. A name that is not in here still gets a place: the one
/// that [`derived`] works out.
#[derive(Clone, Debug, Default)]
pub struct Directory {
    shops: Vec<KnownShop>,
    units: HashMap<String, KnownUnit>,
    vessels: HashMap<String, Vec<KnownVessel>>,
    people: HashMap<String, Vec<KnownPerson>>,
}

impl Directory {
    /// Adds a shop.
    pub fn add_shop(&mut self, shop: KnownShop) {
        if self.shop_by_id(shop.id).is_none() {
            self.shops.push(shop);
        }
    }

    /// Adds a unit; one of the same number gives way.
    pub fn add_unit(&mut self, unit: KnownUnit) {
        self.units.insert(normal_name(&unit.number), unit);
    }

    /// Adds a vessel; one of the same name in the same shop gives way.
    pub fn add_vessel(&mut self, vessel: KnownVessel) {
        let same_name = self.vessels.entry(normal_name(&vessel.name)).or_default();
        same_name.retain(|known| known.shop != vessel.shop);
        same_name.push(vessel);
    }

    /// Adds a person; one of the same handle in the same shop gives way.
    pub fn add_person(&mut self, person: KnownPerson) {
        let same_handle = self.people.entry(normal_name(&person.handle)).or_default();
        same_handle.retain(|known| known.shop != person.shop);
        same_handle.push(person);
    }

    /// The shop of a name.
    pub fn shop(&self, name: &str) -> Option<&KnownShop> {
        let name = normal_name(name);
        self.shops
            .iter()
            .find(|shop| normal_name(&shop.name) == name)
    }

    /// The shop of an id.
    pub fn shop_by_id(&self, id: ShopId) -> Option<&KnownShop> {
        self.shops.iter().find(|shop| shop.id == id)
    }

    /// The shop, when there is but one.
    pub fn only_shop(&self) -> Option<&KnownShop> {
        match self.shops.as_slice() {
            [only] => Some(only),
            _ => None,
        }
    }

    /// The names of all shops, for messages.
    pub fn shop_names(&self) -> String {
        let names: Vec<&str> = self.shops.iter().map(|shop| shop.name.as_str()).collect();
        if names.is_empty() {
            "none is on record".to_owned()
        } else {
            names.join(", ")
        }
    }

    /// The unit of a number, on record or not.
    pub fn unit(&self, number: &str) -> KnownUnit {
        self.known_unit(number)
            .cloned()
            .unwrap_or_else(|| KnownUnit {
                id: derived::unit_id(number),
                number: number.to_owned(),
                shop: None,
                loops: Vec::new(),
            })
    }

    /// The unit of a number, if it is on record.
    pub fn known_unit(&self, number: &str) -> Option<&KnownUnit> {
        self.units.get(&normal_name(number))
    }

    /// The unit and the name of the loop that a text like "8801 battery" means: how a place of a
    /// unit with several loops is written wherever it is shown.
    pub fn unit_with_loop<'a>(&self, text: &'a str) -> Option<(&KnownUnit, &'a str)> {
        splits(text).find_map(|(number, name)| {
            let unit = self.known_unit(number)?;
            let name_as_compared = normal_name(name);
            let has = |each: &KnownLoop| normal_name(&each.name) == name_as_compared;
            unit.loops.iter().any(has).then_some((unit, name))
        })
    }

    /// The vessel on record that a name means in a job of a shop: that shop's own, else the only
    /// one anywhere.
    ///
    /// # Errors
    /// Several other shops have one, and nothing tells which is meant.
    pub fn vessel(&self, name: &str, shop: Option<ShopId>) -> Result<Option<&KnownVessel>, String> {
        let same_name = self.vessels.get(&normal_name(name)).map(Vec::as_slice);
        let same_name = same_name.unwrap_or_default();
        let own = shop.and_then(|shop| same_name.iter().find(|each| each.shop == Some(shop)));
        match (own, same_name) {
            (Some(own), _) => Ok(Some(own)),
            (None, []) => Ok(None),
            (None, [only]) => Ok(Some(only)),
            (None, several) => {
                let mut shops: Vec<&str> = several
                    .iter()
                    .filter_map(|each| Some(self.shop_by_id(each.shop?)?.name.as_str()))
                    .collect();
                shops.sort_unstable();
                Err(format!(
                    "several shops have a vessel of this name ({}); say in shop which one is meant",
                    shops.join(", ")
                ))
            }
        }
    }

    /// The person of a handle in a shop, if they are on record.
    pub fn person(&self, handle: &str, shop: Option<ShopId>) -> Option<PersonId> {
        let same_handle = self.people.get(&normal_name(handle))?;
        let of = |wanted: Option<ShopId>| same_handle.iter().find(|each| each.shop == wanted);
        shop.and_then(|shop| of(Some(shop)))
            .or_else(|| of(None))
            .map(|person| person.id)
    }
}

/// A text parted in two at its last blanks and slashes; a loop's name has no more than two words.
pub(super) fn splits(text: &str) -> impl Iterator<Item = (&str, &str)> {
    let marks = text.rmatch_indices([' ', '/']).take(2);
    marks.filter_map(|(at, mark)| {
        let (number, name) = text.split_at_checked(at)?;
        Some((number.trim(), name.strip_prefix(mark)?.trim()))
    })
}

impl KnownUnit {
    /// The loop a job is about: the one named, or the only one, or the one called "engine".
    ///
    /// # Errors
    /// It has several and none of them can be meant.
    pub fn loop_named(&self, name: Option<&str>) -> Result<PlaceId, String> {
        let find = |name: &str| {
            let name = normal_name(name);
            self.loops
                .iter()
                .find(|each| normal_name(&each.name) == name)
        };
        match (name, self.loops.as_slice()) {
            (Some(name), _) => {
                Ok(find(name)
                    .map_or_else(|| derived::loop_id(&self.number, name), |found| found.id))
            }
            (None, []) => Ok(derived::loop_id(&self.number, derived::USUAL_LOOP)),
            (None, [only]) => Ok(only.id),
            (None, several) => find(derived::USUAL_LOOP)
                .map(|found| found.id)
                .ok_or_else(|| {
                    let names: Vec<&str> = several.iter().map(|each| each.name.as_str()).collect();
                    format!(
                        "unit {} has several loops, say which one: {}",
                        self.number,
                        names.join(", ")
                    )
                }),
        }
    }
}
