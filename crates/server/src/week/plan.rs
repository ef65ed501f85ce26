//! Turns a week into facts: what is on record already is left alone, the rest is put in order.

use std::collections::{BTreeMap, HashMap, HashSet};

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use domain::book::Order;
use domain::fact::{By, Fact, Opening, Proved, Void, What};
use domain::fleet::{Loop, Paper, Person, Shop, Site, Unit, Vessel};
use domain::ids::{FactKey, PersonId, PlaceId, ShopId};
use domain::job::Account;
use domain::moment::{Moment, When};
use domain::quantity::UnitsOfMeasure;
use domain::words::Text;
use serde::Serialize;
use web::intake::{
    Directory, KnownLoop, KnownPerson, KnownShop, KnownUnit, KnownVessel, ReadJob,
    derived::{self, fact_key, normal_name},
    read_zone,
    time::{LocalMoment, in_zone, start_of_day},
};

use super::cards::{LoopRow, UnitRows, VesselRow};

/// Cards, people and openings are made this long before the jobs they are for.
const BEFORE_MS: i64 = -1_000;

/// What the record says about the names in a week.
#[derive(Debug, Default)]
pub(crate) struct OnRecord {
    pub(crate) shops: Vec<Shop>,
    /// By the number as it is compared.
    pub(crate) units: HashMap<String, Unit>,
    /// By the shop and the name as it is compared.
    pub(crate) vessels: HashMap<(ShopId, String), Vessel>,
    pub(crate) people: Vec<Person>,
    /// The opening that counts for a place.
    pub(crate) openings: HashMap<PlaceId, Order>,
}

/// The cards of a week, and the zone of shops that nobody knows yet.
#[derive(Debug)]
pub(crate) struct Week<'a> {
    pub(crate) units: &'a [UnitRows],
    pub(crate) vessels: &'a [VesselRow],
    /// Shops that only jobs name.
    pub(crate) job_shops: Vec<String>,
    pub(crate) zone: Tz,
}

/// A fact that is to be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Planned {
    pub(crate) key: FactKey,
    pub(crate) fact: Fact,
}

/// Everything a week comes to, in the order it is written.
#[derive(Debug, Default)]
pub(crate) struct Plan {
    /// Sites, shops, people, units, vessels and openings.
    pub(crate) before: Vec<Planned>,
    /// The jobs, oldest first.
    pub(crate) jobs: Vec<Planned>,
    /// What is left out, in words, with the line it stands in.
    pub(crate) left_out: Vec<String>,
    /// Shops that are opened by this, for the remark about their time zone.
    pub(crate) new_shops: Vec<String>,
}

/// The names jobs may use: those on record, and those of this week's own cards.
pub(crate) fn known_names(week: &Week<'_>, on_record: &OnRecord) -> Directory {
    let mut names = Directory::default();
    for shop in shops(week, on_record) {
        let zone = read_zone(&shop.zone).unwrap_or(Tz::UTC);
        names.add_shop(KnownShop {
            id: shop.id,
            name: shop.name,
            zone,
        });
    }
    for unit in on_record.units.values() {
        names.add_unit(known_unit(unit));
    }
    for vessel in on_record.vessels.values() {
        names.add_vessel(known_vessel(vessel));
    }
    for rows in week.units {
        names.add_unit(known_unit(&unit_card(rows, on_record)));
    }
    for row in week.vessels {
        names.add_vessel(known_vessel(&vessel_card(row, on_record)));
    }
    for person in &on_record.people {
        names.add_person(KnownPerson {
            id: person.id,
            handle: person.handle.clone(),
            shop: person.shop,
        });
    }
    names
}

fn known_unit(unit: &Unit) -> KnownUnit {
    let known_loop = |each: &Loop| KnownLoop {
        id: each.id,
        name: each.name.clone(),
    };
    KnownUnit {
        id: unit.id,
        number: unit.number.clone(),
        shop: Some(unit.shop),
        loops: unit.loops.iter().map(known_loop).collect(),
    }
}

fn known_vessel(vessel: &Vessel) -> KnownVessel {
    KnownVessel {
        id: vessel.id,
        name: vessel.name.clone(),
        shop: Some(vessel.shop),
    }
}

/// The shops on record and those that the week's cards name, once each.
fn shops(week: &Week<'_>, on_record: &OnRecord) -> Vec<Shop> {
    let mut all = on_record.shops.clone();
    let mut known: HashSet<String> = all.iter().map(|shop| normal_name(&shop.name)).collect();
    let units = week.units.iter().map(|rows| &rows.shop);
    let vessels = week.vessels.iter().map(|row| &row.shop);
    for name in units.chain(vessels).chain(&week.job_shops) {
        if known.insert(normal_name(name)) {
            all.push(new_shop(name, week.zone));
        }
    }
    all
}

fn new_shop(name: &str, zone: Tz) -> Shop {
    Shop {
        id: derived::shop_id(name),
        site: derived::site_id(name),
        name: name.to_owned(),
        zone: zone.name().to_owned(),
        altitude_m: 0,
        winter_low: None,
        first_frost: None,
        units_of_measure: UnitsOfMeasure::METRIC,
        paper: Paper::A4,
    }
}

fn shop_of(name: &str, on_record: &OnRecord) -> ShopId {
    let known = normal_name(name);
    on_record
        .shops
        .iter()
        .find(|shop| normal_name(&shop.name) == known)
        .map_or_else(|| derived::shop_id(name), |shop| shop.id)
}

/// The card on record with what the rows say put over it; what no column says stays as it is.
fn unit_card(rows: &UnitRows, on_record: &OnRecord) -> Unit {
    let known = on_record.units.get(&normal_name(&rows.number));
    let mut unit = known.cloned().unwrap_or_else(|| Unit {
        id: derived::unit_id(&rows.number),
        number: rows.number.clone(),
        kind: String::new(),
        shop: ShopId(uuid::Uuid::nil()),
        engine_family: None,
        loops: Vec::new(),
        reason: None,
    });
    unit.kind.clone_from(&rows.kind);
    unit.shop = shop_of(&rows.shop, on_record);
    for row in &rows.loops {
        let name = normal_name(&row.name);
        match unit
            .loops
            .iter_mut()
            .find(|each| normal_name(&each.name) == name)
        {
            Some(known) => put_over(known, row),
            None => unit.loops.push(new_loop(&rows.number, row)),
        }
    }
    unit
}

fn new_loop(number: &str, row: &LoopRow) -> Loop {
    Loop {
        id: derived::loop_id(number, &row.name),
        name: row.name.clone(),
        base: row.base,
        class: row.class,
        capacity: row.capacity.clone(),
        target_strength: None,
        cap_rating: row.cap_rating.clone(),
        lowest_part_rating: None,
        air_space: row.air_space.clone(),
        high_voltage: false,
        coupling_fitted: None,
    }
}

fn put_over(known: &mut Loop, row: &LoopRow) {
    known.base = row.base;
    known.class = row.class;
    if row.capacity.is_some() {
        known.capacity.clone_from(&row.capacity);
    }
    if row.cap_rating.is_some() {
        known.cap_rating.clone_from(&row.cap_rating);
    }
    if row.air_space.is_some() {
        known.air_space.clone_from(&row.air_space);
    }
}

fn vessel_card(row: &VesselRow, on_record: &OnRecord) -> Vessel {
    let shop = shop_of(&row.shop, on_record);
    let known = on_record.vessels.get(&(shop, normal_name(&row.name)));
    Vessel {
        id: known.map_or_else(
            || derived::vessel_id(&row.shop, &row.name),
            |vessel| vessel.id,
        ),
        name: known.map_or_else(|| row.name.clone(), |vessel| vessel.name.clone()),
        kind: row.kind,
        shop,
        capacity: row
            .capacity
            .clone()
            .or_else(|| known.and_then(|vessel| vessel.capacity.clone())),
        fill_limit: row
            .fill_limit
            .clone()
            .or_else(|| known.and_then(|vessel| vessel.fill_limit.clone())),
        holds: row.holds,
        base: row.base,
        class: row.class,
        start_date: known.and_then(|vessel| vessel.start_date),
        pressure_vessel: known.and_then(|vessel| vessel.pressure_vessel.clone()),
    }
}

impl Plan {
    /// The plan of a week whose jobs were read; `now` dates the cards of a week without jobs.
    ///
    /// # Errors
    /// A date beyond the calendar.
    pub(crate) fn of(
        week: &Week<'_>,
        jobs: Vec<(FactKey, ReadJob)>,
        on_record: &OnRecord,
        now: DateTime<Utc>,
    ) -> Result<Self, String> {
        let opened = Opened::before(&jobs, week.zone, now)?;
        let mut plan = Self::default();
        plan.take_shops(week, on_record, &opened)?;
        plan.take_people(&jobs, &opened)?;
        plan.take_cards(week, on_record, &opened)?;
        plan.take_openings(week, on_record, &opened)?;
        plan.jobs = jobs
            .into_iter()
            .map(|(key, read)| Planned {
                key,
                fact: read.fact,
            })
            .collect();
        // A time ahead of the server's clock counts as at its arrival: arrival in the order of
        // the work keeps even that in order.
        plan.jobs.sort_by_key(|planned| {
            let when = &planned.fact.when;
            (when.happened(), when.made(), planned.key)
        });
        Ok(plan)
    }

    fn add(&mut self, key: FactKey, when: When, what: What) {
        let by = By {
            person: None,
            proved: Proved::Import,
        };
        let fact = Fact { when, by, what };
        self.before.push(Planned { key, fact });
    }

    fn take_shops(
        &mut self,
        week: &Week<'_>,
        on_record: &OnRecord,
        opened: &Opened,
    ) -> Result<(), String> {
        let known = on_record.shops.len();
        for shop in shops(week, on_record).into_iter().skip(known) {
            let when = opened.when(week.zone)?;
            let name = normal_name(&shop.name);
            let site = Site {
                id: shop.site,
                name: shop.name.clone(),
            };
            self.add(fact_key("site", &[&name]), when, What::Site(site));
            self.new_shops.push(shop.name.clone());
            self.add(fact_key("shop", &[&name]), when, What::Shop(shop));
        }
        Ok(())
    }

    /// Everybody the jobs name who is not on record in the shop of the job, as they were written
    /// the first time.
    fn take_people(&mut self, jobs: &[(FactKey, ReadJob)], opened: &Opened) -> Result<(), String> {
        let mut first: BTreeMap<PersonId, ((Moment, FactKey), &Person, Tz)> = BTreeMap::new();
        for (key, read) in jobs {
            let Some(person) = &read.new_person else {
                continue;
            };
            let order = (read.fact.when.happened(), *key);
            let earliest = first
                .entry(person.id)
                .or_insert((order, person, read.shop.zone));
            if order < earliest.0 {
                *earliest = (order, person, read.shop.zone);
            }
        }
        for (id, (_, person, zone)) in first {
            let when = opened.when(zone)?;
            self.add(
                fact_key("person", &[&id.to_string()]),
                when,
                What::Person(person.clone()),
            );
        }
        Ok(())
    }

    /// A card that says the same as the one on record is left alone. One that says something else
    /// counts from the start of the day of this week's first job.
    fn take_cards(
        &mut self,
        week: &Week<'_>,
        on_record: &OnRecord,
        opened: &Opened,
    ) -> Result<(), String> {
        for rows in week.units {
            let unit = unit_card(rows, on_record);
            if on_record.units.get(&normal_name(&rows.number)) != Some(&unit) {
                // The reason of the card before is none of this one's.
                let unit = Unit {
                    reason: None,
                    ..unit
                };
                let when = opened.when(zone_of(unit.shop, week, on_record))?;
                let key = card_key(&unit.id.to_string(), &unit, when)?;
                self.add(key, when, What::Unit(unit));
            }
        }
        for row in week.vessels {
            let vessel = vessel_card(row, on_record);
            let known = (vessel.shop, normal_name(&row.name));
            if on_record.vessels.get(&known) != Some(&vessel) {
                let when = opened.when(zone_of(vessel.shop, week, on_record))?;
                let key = card_key(&vessel.id.to_string(), &vessel, when)?;
                self.add(key, when, What::Vessel(vessel));
            }
        }
        Ok(())
    }

    fn take_openings(
        &mut self,
        week: &Week<'_>,
        on_record: &OnRecord,
        opened: &Opened,
    ) -> Result<(), String> {
        for rows in week.units {
            let unit = unit_card(rows, on_record);
            let when = opened.when(zone_of(unit.shop, week, on_record))?;
            for row in &rows.loops {
                let name = normal_name(&row.name);
                let found = unit
                    .loops
                    .iter()
                    .find(|each| normal_name(&each.name) == name);
                let Some(circuit) = found else { continue };
                let opening = Opening {
                    place: Account::Loop(circuit.id),
                    volume: None,
                    strength: row.opening_strength.clone(),
                    fluid: None,
                };
                self.open((circuit.id, &row.line), opening, when, on_record);
            }
        }
        for row in week.vessels {
            let vessel = vessel_card(row, on_record);
            let when = opened.when(zone_of(vessel.shop, week, on_record))?;
            let opening = Opening {
                place: Account::Vessel(vessel.id),
                volume: row.opening_volume.clone(),
                strength: row.opening_strength.clone(),
                fluid: None,
            };
            self.open((vessel.id, &row.line), opening, when, on_record);
        }
        Ok(())
    }

    /// Opens a place that is not open yet. A week that begins before the one that opened a place
    /// takes its opening back and states it again before its own first job, so that it does not
    /// matter which of the two came first.
    fn open(
        &mut self,
        (place, line): (PlaceId, &str),
        opening: Opening,
        when: When,
        on_record: &OnRecord,
    ) {
        let key = opening_key(place, &opening, when.happened());
        if let Some(order) = on_record.openings.get(&place) {
            let says_the_same = order.key == opening_key(place, &opening, order.happened);
            let says_something = opening.volume.is_some() || opening.strength.is_some();
            if order.happened <= when.happened() {
                if says_something && !says_the_same {
                    self.left_out.push(format!(
                        "{line}: what it held at the beginning, because another opening is on record already"
                    ));
                }
                return;
            }
            if says_the_same {
                let void = Void {
                    job: order.key,
                    reason: Text::Plain(
                        "an earlier week was imported, which opens the place before its own first job"
                            .to_owned(),
                    ),
                };
                let old = order.key.to_string();
                let key = fact_key("opening taken back", &[&old, &key.to_string()]);
                self.add(key, when, What::Void(void));
            }
        }
        self.add(key, when, What::Opening(opening));
    }
}

fn opening_key(place: PlaceId, opening: &Opening, at: Moment) -> FactKey {
    let typed = |text: Option<&str>| text.unwrap_or_default().to_owned();
    let volume = typed(opening.volume.as_ref().map(|volume| volume.typed.as_str()));
    let strength = typed(opening.strength.as_ref().map(|it| it.typed.as_str()));
    let at = at.0.to_string();
    fact_key("opening", &[&place.to_string(), &at, &volume, &strength])
}

/// The same card at the same time is the same fact.
fn card_key(id: &str, card: &impl Serialize, when: When) -> Result<FactKey, String> {
    let card = storage::canonical(card).map_err(|error| error.to_string())?;
    let at = when.happened_at.0.to_string();
    Ok(fact_key("card", &[id, &at, &card]))
}

fn zone_of(shop: ShopId, week: &Week<'_>, on_record: &OnRecord) -> Tz {
    on_record
        .shops
        .iter()
        .find(|known| known.id == shop)
        .and_then(|known| read_zone(&known.zone).ok())
        .unwrap_or(week.zone)
}

/// When cards and openings of a week are dated: the day of its first job begins.
struct Opened(LocalMoment);

impl Opened {
    fn before(jobs: &[(FactKey, ReadJob)], zone: Tz, now: DateTime<Utc>) -> Result<Self, String> {
        let first = jobs
            .iter()
            .min_by_key(|(key, read)| (read.fact.when.happened(), *key));
        let start = match first {
            Some((_, read)) => start_of_day(read.fact.when.local_date, read.shop.zone)?,
            None => start_of_day(now.with_timezone(&zone).date_naive(), zone)?,
        };
        Ok(Self(start))
    }

    fn when(&self, zone: Tz) -> Result<When, String> {
        let at = self.0.at.utc().ok_or("a date lies beyond the calendar")?;
        let local = in_zone(at, zone, self.0.precision)?;
        Ok(When {
            happened_at: local.at,
            precision: local.precision,
            local_date: local.local_date,
            utc_offset_min: local.utc_offset_min,
            made_at: local.at.plus_ms(BEFORE_MS),
            clock_offset_ms: 0,
        })
    }
}
