//! The first day: everything that is there is put on record, and what each place holds.

use domain::fact::{RulesAdopted, What};

use super::calendar::{At, FIRST_DAY};
use super::floor::named_contents;
use super::floor::{Arrival, Floor};
use super::yards::Yard;
use super::{Made, fluids, instruments};

pub(super) fn record(floor: &mut Floor) -> Made<()> {
    let seed = floor.seed;
    let at = At::local(FIRST_DAY, "05:30")?;
    let mut cards = vec![What::RulesAdopted(RulesAdopted { version: 1 })];
    for yard in Yard::BOTH {
        cards.push(What::Site(yard.site_card(seed)));
        cards.push(What::Shop(yard.shop_card(seed)?));
    }
    for worker in &floor.workers {
        cards.extend(worker.facts(|yard| yard.shop(seed)));
    }
    cards.extend(fluids::cards(seed)?.into_iter().map(What::Fluid));
    cards.extend(instruments::cards(seed)?.into_iter().map(What::Instrument));
    cards.extend(
        floor
            .stores
            .iter()
            .map(|store| What::Vessel(store.card.clone())),
    );
    cards.extend(
        floor
            .vehicles
            .iter()
            .map(|unit| What::Unit(unit.card.clone())),
    );
    for card in cards {
        let by = floor.in_the_office("P13")?;
        floor.record(at, by, Arrival::AtOnce, card);
    }
    openings(floor)
}

fn openings(floor: &mut Floor) -> Made<()> {
    let at = At::local(FIRST_DAY, "05:50")?;
    for vehicle in floor.vehicles.clone() {
        let by = floor.in_the_office(vehicle.yard.lead_hand())?;
        for (place, contents, opening) in vehicle.openings(floor.seed)? {
            floor.set_truth(place, contents);
            floor.record(at, by.clone(), Arrival::AtOnce, opening);
        }
    }
    for store in floor.stores.clone() {
        if let Some((ml, millionths)) = store.opened_with {
            let kind = (store.card.base, store.card.class);
            floor.set_truth(store.card.id, named_contents(kind, millionths, ml));
        }
        if let Some(opening) = store.opening()? {
            let by = floor.in_the_office(store.yard.lead_hand())?;
            floor.record(at, by, Arrival::AtOnce, opening);
        }
    }
    Ok(())
}
