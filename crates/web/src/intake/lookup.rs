//! Looks up the names of one job, so that a job does not cost reading a whole fleet.

use chrono_tz::Tz;
use domain::fleet::{Person, Shop, Unit, Vessel};
use domain::ids::ShopId;
use domain::quantity::UnitsOfMeasure;
use storage::{Read, StorageError};

use super::derived::{self, normal_name};
use super::directory::{
    Directory, KnownLoop, KnownPerson, KnownShop, KnownUnit, KnownVessel, splits,
};
use super::read::{likely_shop, read_zone};
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
        let mut unit = find_unit_as_written(read, &text).await?;
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
    let ends = [name(&written.from), name(&written.to)];
    for end in ends.iter().flatten() {
        let mut found = false;
        for shop in &shops {
            if let Some(vessel) = find_vessel_as_written(read, shop, end).await? {
                names.add_vessel(known_vessel(vessel));
                found = true;
            }
        }
        if !found && let Some(unit) = read.find_unit_by_number(end).await? {
            names.add_unit(known_unit(unit));
        }
    }
    let own = likely_shop(written, &names).map(|shop| shop.id);
    let Some(own) = shops.iter().find(|shop| Some(shop.id) == own) else {
        return Ok(Found { names, shops });
    };
    // The vessels and people of one shop are few enough to compare with; its units may not be.
    let not_own = |end: &&String| {
        let found = names.vessel(end, Some(own.id));
        !matches!(found, Ok(Some(vessel)) if vessel.shop == Some(own.id))
    };
    let unknown: Vec<String> = ends.iter().flatten().filter(not_own).cloned().collect();
    if !unknown.is_empty() {
        let unknown: Vec<String> = unknown.iter().map(|end| normal_name(end)).collect();
        for vessel in read.list_vessels(own.id).await? {
            if unknown.contains(&normal_name(&vessel.name)) {
                names.add_vessel(known_vessel(vessel));
            }
        }
    }
    if let Some(handle) = name(&written.who)
        && let Some(person) = find_person(read, own, &handle).await?
    {
        names.add_person(KnownPerson {
            id: person.id,
            handle: person.handle,
            shop: person.shop,
        });
    }
    Ok(Found { names, shops })
}

fn known_vessel(vessel: Vessel) -> KnownVessel {
    KnownVessel {
        id: vessel.id,
        name: vessel.name,
        shop: Some(vessel.shop),
    }
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

/// The vessels of a name in any letter case, one a shop at the most.
///
/// # Errors
/// The record cannot be read.
pub async fn find_vessels(
    read: &mut Read,
    shops: &[Shop],
    name: &str,
) -> Result<Vec<Vessel>, StorageError> {
    let wanted = normal_name(name);
    let mut found = Vec::new();
    for shop in shops {
        let mut vessel = find_vessel_as_written(read, shop, name).await?;
        if vessel.is_none() {
            let vessels = read.list_vessels(shop.id).await?;
            vessel = vessels
                .into_iter()
                .find(|vessel| normal_name(&vessel.name) == wanted);
        }
        found.extend(vessel);
    }
    Ok(found)
}

/// A shop's vessel as its name is written, or by the id that its name gives.
async fn find_vessel_as_written(
    read: &mut Read,
    shop: &Shop,
    name: &str,
) -> Result<Option<Vessel>, StorageError> {
    if let Some(vessel) = read.find_vessel_by_name(name, Some(shop.id)).await? {
        return Ok(Some(vessel));
    }
    let vessel = read
        .find_vessel(derived::vessel_id(&shop.name, name))
        .await?;
    Ok(vessel.filter(|vessel| vessel.shop == shop.id))
}

/// A person of a shop, or one who belongs to all.
pub(super) async fn find_person(
    read: &mut Read,
    shop: &Shop,
    handle: &str,
) -> Result<Option<Person>, StorageError> {
    let own = read
        .find_person(derived::person_id(&shop.name, handle))
        .await?;
    if own.as_ref().is_some_and(|own| own.shop == Some(shop.id)) {
        return Ok(own);
    }
    let wanted = normal_name(handle);
    let people = read.list_people(shop.id).await?;
    let same = people
        .into_iter()
        .find(|person| normal_name(&person.handle) == wanted);
    if same.is_some() {
        return Ok(same);
    }
    let anywhere = read.find_person_by_handle(handle).await?;
    Ok(anywhere.filter(|person| person.shop.is_none()))
}
