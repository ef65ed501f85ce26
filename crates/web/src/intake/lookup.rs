//! Looks up the names of one job, so that a job does not cost reading a whole fleet.

use chrono_tz::Tz;
use domain::fleet::{Person, Shop, Unit, Vessel};
use domain::ids::ShopId;
use domain::quantity::UnitsOfMeasure;
use storage::{Read, StorageError};

use super::derived::{self, normal_name};
use super::directory::{Directory, KnownLoop, KnownShop, KnownUnit, KnownVessel, splits};
use super::read::read_zone;
use super::text::LONGEST_NAME;
use super::written::WrittenJob;

/// What the record says about the names of a job.
pub(super) struct Found {
    pub(super) names: Directory,
    shops: Vec<Shop>,
}

impl Found {
    /// The units the people of a shop read.
    pub(super) fn units_of_measure(&self, shop: ShopId) -> UnitsOfMeasure {
        self.shops
            .iter()
            .find(|known| known.id == shop)
            .map_or(UnitsOfMeasure::METRIC, |shop| shop.units_of_measure)
    }
}

pub(super) async fn names(read: &mut Read, written: &WrittenJob) -> Result<Found, StorageError> {
    let mut names = Directory::default();
    let shops = read.list_shops().await?;
    for shop in &shops {
        names.add_shop(KnownShop {
            id: shop.id,
            name: shop.name.clone(),
            zone: read_zone(&shop.zone).unwrap_or(Tz::UTC),
        });
    }
    // What is too long for a name is told as such later; nothing is looked up by it.
    let name = |field: &Option<String>| {
        let name = field.as_deref().map(str::trim)?;
        let fits = !name.is_empty() && name.chars().nth(LONGEST_NAME).is_none();
        fits.then(|| name.to_owned())
    };
    if let Some(text) = name(&written.unit) {
        let mut unit = find_unit(read, &shops, &text).await?;
        // "8801 battery" names a loop as well.
        for (number, _) in splits(&text) {
            if unit.is_none() {
                unit = find_unit_as_written(read, number).await?;
            }
        }
        if let Some(unit) = unit {
            names.add_unit(known_unit(unit));
        }
    }
    for end in [name(&written.from), name(&written.to)]
        .into_iter()
        .flatten()
    {
        if let Some(vessel) = find_vessel(read, &shops, &end).await? {
            names.add_vessel(KnownVessel {
                id: vessel.id,
                name: vessel.name,
                shop: Some(vessel.shop),
            });
        } else if let Some(unit) = read.find_unit_by_number(&end).await? {
            names.add_unit(known_unit(unit));
        }
    }
    if let Some(handle) = name(&written.who)
        && let Some(person) = find_person(read, &shops, &handle).await?
    {
        names.add_person(&person.handle, person.id);
    }
    Ok(Found { names, shops })
}

fn known_unit(unit: Unit) -> KnownUnit {
    KnownUnit {
        id: unit.id,
        number: unit.number,
        shop: Some(unit.shop),
        loops: unit
            .loops
            .into_iter()
            .map(|each| KnownLoop {
                id: each.id,
                name: each.name,
            })
            .collect(),
    }
}

/// A unit by its number, in any letter case.
///
/// As it is written; else by the id its name gives, which letter case does not change; else by
/// comparing with all there are.
///
/// # Errors
/// The record cannot be read.
pub async fn find_unit(
    read: &mut Read,
    shops: &[Shop],
    number: &str,
) -> Result<Option<Unit>, StorageError> {
    if let Some(unit) = find_unit_as_written(read, number).await? {
        return Ok(Some(unit));
    }
    let wanted = normal_name(number);
    for shop in shops {
        let units = read.list_units(shop.id).await?;
        let found = units
            .into_iter()
            .find(|unit| normal_name(&unit.number) == wanted);
        if found.is_some() {
            return Ok(found);
        }
    }
    Ok(None)
}

async fn find_unit_as_written(read: &mut Read, number: &str) -> Result<Option<Unit>, StorageError> {
    match read.find_unit_by_number(number).await? {
        Some(unit) => Ok(Some(unit)),
        None => read.find_unit(derived::unit_id(number)).await,
    }
}

/// A vessel by the name on it, in any letter case.
///
/// # Errors
/// The record cannot be read.
pub async fn find_vessel(
    read: &mut Read,
    shops: &[Shop],
    name: &str,
) -> Result<Option<Vessel>, StorageError> {
    if let Some(vessel) = read.find_vessel_by_name(name, None).await? {
        return Ok(Some(vessel));
    }
    if let Some(vessel) = read.find_vessel(derived::vessel_id(name)).await? {
        return Ok(Some(vessel));
    }
    let wanted = normal_name(name);
    for shop in shops {
        let vessels = read.list_vessels(shop.id).await?;
        let found = vessels
            .into_iter()
            .find(|vessel| normal_name(&vessel.name) == wanted);
        if found.is_some() {
            return Ok(found);
        }
    }
    Ok(None)
}

async fn find_person(
    read: &mut Read,
    shops: &[Shop],
    handle: &str,
) -> Result<Option<Person>, StorageError> {
    if let Some(person) = read.find_person_by_handle(handle).await? {
        return Ok(Some(person));
    }
    if let Some(person) = read.find_person(derived::person_id(handle)).await? {
        return Ok(Some(person));
    }
    let wanted = normal_name(handle);
    for shop in shops {
        let people = read.list_people(shop.id).await?;
        let found = people
            .into_iter()
            .find(|person| normal_name(&person.handle) == wanted);
        if found.is_some() {
            return Ok(found);
        }
    }
    Ok(None)
}
