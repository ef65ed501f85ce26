//! What ids are called.

use std::collections::HashMap;

use chrono::TimeDelta;
use domain::fact::What;
use domain::fleet::{Shop, Unit, Vessel};
use domain::ids::{PersonId, PlaceId, ShopId, UnitId};
use domain::job::Job;
use domain::moment::{Moment, Precision, When};
use domain::quantity::UnitsOfMeasure;
use storage::{Read, StorageError};
use web::intake::{derived::normal_name, read_zone};

/// Of so many facts the newest that is a job tells what a place without a card is called.
const TYPED_IN_LAST: i64 = 20;
const MOST_QUESTIONS: i64 = 100_000;

/// Every name on record, read once.
#[derive(Debug, Default)]
pub(super) struct Names {
    pub(super) shops: Vec<Shop>,
    pub(super) units: HashMap<UnitId, Unit>,
    places: HashMap<PlaceId, (String, ShopId)>,
    people: HashMap<PersonId, String>,
    measures: Option<UnitsOfMeasure>,
}

impl Names {
    pub(super) async fn read(
        read: &mut Read,
        measures: Option<UnitsOfMeasure>,
    ) -> Result<Self, StorageError> {
        let mut names = Self {
            shops: read.list_shops().await?,
            measures,
            ..Self::default()
        };
        for shop in names.shops.clone() {
            for unit in read.list_units(shop.id).await? {
                names.add_unit(unit);
            }
            for Vessel { id, name, shop, .. } in read.list_vessels(shop.id).await? {
                names.places.insert(id, (name, shop));
            }
            for person in read.list_people(shop.id).await? {
                names.people.insert(person.id, person.handle);
            }
        }
        names.tell_apart();
        names.take_typed(read).await?;
        Ok(names)
    }

    /// A place without a card is called what the newest job about it was typed with.
    async fn take_typed(&mut self, read: &mut Read) -> Result<(), StorageError> {
        let contents = read.list_contents().await?;
        let asked = read.list_open_questions(None, MOST_QUESTIONS).await?;
        let places: Vec<PlaceId> = contents
            .into_iter()
            .map(|row| row.place)
            .chain(asked.into_iter().filter_map(|asked| asked.place))
            .collect();
        for place in places {
            if self.places.contains_key(&place) {
                continue;
            }
            for row in read.list_facts_about(place.0, None, TYPED_IN_LAST).await? {
                if let What::Job(job) = row.fact()?.what
                    && let Some(name) = job.name_typed_for(place)
                {
                    self.places.insert(place, (without_card(&name), job.shop));
                    break;
                }
            }
        }
        Ok(())
    }

    /// Where several shops have a vessel of one name, the shop is said with it.
    fn tell_apart(&mut self) {
        let mut count: HashMap<String, usize> = HashMap::new();
        for (name, _) in self.places.values() {
            let count = count.entry(normal_name(name)).or_default();
            *count = count.saturating_add(1);
        }
        let shops = &self.shops;
        for (name, shop) in self.places.values_mut() {
            let of = shops.iter().find(|known| known.id == *shop);
            if count
                .get(&normal_name(name))
                .is_some_and(|count| *count > 1)
                && let Some(of) = of
            {
                *name = format!("{name} ({})", of.name);
            }
        }
    }

    fn add_unit(&mut self, unit: Unit) {
        for circuit in &unit.loops {
            let name = match unit.loops.as_slice() {
                [_] => unit.number.clone(),
                _ => format!("{} {}", unit.number, circuit.name),
            };
            self.places.insert(circuit.id, (name, unit.shop));
        }
        self.units.insert(unit.id, unit);
    }

    /// The same in a job, which may itself tell what a place without a card is called.
    pub(super) fn place_in(&self, job: &Job, place: PlaceId) -> String {
        match job.name_typed_for(place) {
            Some(name) if !self.places.contains_key(&place) => without_card(&name),
            _ => self.place(place),
        }
    }

    /// The name of a vessel, or the number of a unit, with the loop where it has several.
    pub(super) fn place(&self, place: PlaceId) -> String {
        self.places.get(&place).map_or_else(
            || format!("no card {}", short(&place.to_string())),
            |(name, _)| name.clone(),
        )
    }

    pub(super) fn shop_of(&self, place: PlaceId) -> Option<ShopId> {
        self.places.get(&place).map(|(_, shop)| *shop)
    }

    pub(super) fn person(&self, person: PersonId) -> String {
        let handle = self.people.get(&person).cloned();
        handle.unwrap_or_else(|| format!("no card {}", short(&person.to_string())))
    }

    pub(super) fn shop(&self, name: &str) -> Option<ShopId> {
        let name = normal_name(name);
        let found = self
            .shops
            .iter()
            .find(|shop| normal_name(&shop.name) == name);
        found.map(|shop| shop.id)
    }

    /// A moment by a shop's clock; by UTC, and said so, where the shop is not known.
    pub(super) fn time_in(&self, shop: Option<ShopId>, at: Moment) -> String {
        let Some(utc) = at.utc() else {
            return String::new();
        };
        let zone = shop
            .and_then(|id| self.shops.iter().find(|shop| shop.id == id))
            .and_then(|shop| read_zone(&shop.zone).ok());
        match zone {
            Some(zone) => utc
                .with_timezone(&zone)
                .format("%Y-%m-%d %H:%M")
                .to_string(),
            None => utc.format("%Y-%m-%d %H:%M UTC").to_string(),
        }
    }

    /// The units somebody asked for, or else those of the shop, or else of the only shop.
    pub(super) fn measures(&self, shop: Option<ShopId>) -> UnitsOfMeasure {
        let of_shop = shop.and_then(|id| self.shops.iter().find(|shop| shop.id == id));
        let shop = of_shop.or(match self.shops.as_slice() {
            [only] => Some(only),
            _ => None,
        });
        self.measures
            .or_else(|| shop.map(|shop| shop.units_of_measure))
            .unwrap_or(UnitsOfMeasure::METRIC)
    }
}

fn without_card(name: &str) -> String {
    format!("{name} (no card)")
}

/// The beginning of an id: enough to tell a few apart.
pub(super) fn short(id: &str) -> String {
    id.chars().take(8).collect()
}

/// A time as the shop's clock showed it, as finely as it was given.
pub(super) fn local_time(when: &When) -> String {
    let minutes = TimeDelta::minutes(i64::from(when.utc_offset_min));
    let local = when
        .happened()
        .utc()
        .and_then(|at| at.checked_add_signed(minutes));
    match (local, when.precision) {
        (Some(local), Precision::Minute) => local.format("%Y-%m-%d %H:%M").to_string(),
        (Some(local), Precision::Hour) => local.format("%Y-%m-%d %H h").to_string(),
        (Some(_) | None, _) => when.local_date.to_string(),
    }
}
