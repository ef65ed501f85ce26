//! The shop floor: what is really in every place, and what people wrote down about it.
//!
//! Each job moves the true fluid first; what is typed is then read off that truth.

use std::collections::BTreeMap;

use domain::book::component::{Base, InhibitorClass};
use domain::book::contents::Contents;
use domain::fact::{By, Fact, Proved, Recorded, What};
use domain::fluid::{composition, density, freeze_point};
use domain::ids::{FactKey, PersonId, PlaceId};
use domain::job::Account;
use domain::moment::{DAY_MS, MINUTE_MS, Moment, Precision, When};
use domain::quantity::rounding;

use super::calendar::{At, DAY_0};
use super::dice::Dice;
use super::fleet::Vehicle;
use super::people::Worker;
use super::vessels::Store;
use super::yards::Yard;
use super::{Made, Unmade, fleet, people, vessels};

/// How long a fact took to reach the server.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Arrival {
    /// As the yard's wireless network would have it.
    AsItCame,
    /// Within a minute or two.
    AtOnce,
    /// So many minutes after it was written down.
    AfterMinutes(i64),
}

/// Sums the exchanges are steered by.
#[derive(Clone, Copy, Default, Debug)]
pub(super) struct Tally {
    pub(super) reuse_wanted_ml: i64,
    pub(super) reused_ml: i64,
    pub(super) fills: i64,
    pub(super) clean_wanted_hundredths: i64,
    pub(super) clean: i64,
}

#[derive(Debug)]
pub(super) struct Floor {
    pub(super) seed: u64,
    pub(super) dice: Dice,
    pub(super) vehicles: Vec<Vehicle>,
    pub(super) stores: Vec<Store>,
    pub(super) workers: Vec<Worker>,
    truth: BTreeMap<PlaceId, Contents>,
    /// Jobs that later ones refer to.
    pub(super) kept: BTreeMap<&'static str, FactKey>,
    pub(super) tally: Tally,
    /// Waste containers whose start date is written on them.
    pub(super) dated: Vec<&'static str>,
    pub(super) facts: Vec<Recorded>,
}

impl Floor {
    pub(super) fn new(seed: u64) -> Made<Self> {
        Ok(Self {
            seed,
            dice: Dice::new(seed),
            vehicles: fleet::vehicles(seed)?,
            stores: vessels::stores(seed)?,
            workers: people::workers(seed),
            truth: BTreeMap::new(),
            kept: BTreeMap::new(),
            tally: Tally::default(),
            dated: Vec::new(),
            facts: Vec::new(),
        })
    }

    // --- looking up ---

    pub(super) fn vehicle(&self, number: u32) -> Made<&Vehicle> {
        self.vehicles
            .iter()
            .find(|vehicle| vehicle.number == number)
            .ok_or_else(|| Unmade::Missing(format!("unit {number}")))
    }

    /// A loop of a unit as an account: the engine loop, or the one that is named.
    pub(super) fn loop_of(&self, number: u32, name: Option<&str>) -> Made<Account> {
        let loops = &self.vehicle(number)?.card.loops;
        loops
            .iter()
            .find(|each| name.is_none_or(|name| each.name == name))
            .map(|each| Account::Loop(each.id))
            .ok_or_else(|| Unmade::Missing(format!("loop of {number}")))
    }

    pub(super) fn vessel(&self, name: &str) -> Account {
        Account::Vessel(vessels::id(self.seed, name))
    }

    pub(super) fn store(&self, name: &str) -> Made<&Store> {
        let id = vessels::id(self.seed, name);
        self.stores
            .iter()
            .find(|store| store.card.id == id)
            .ok_or_else(|| Unmade::Missing(format!("vessel {name}")))
    }

    pub(super) fn person(&self, handle: &str) -> Made<PersonId> {
        self.workers
            .iter()
            .find(|worker| worker.handle == handle)
            .map(|worker| worker.id)
            .ok_or_else(|| Unmade::Missing(format!("person {handle}")))
    }

    /// Somebody who works in a yard.
    pub(super) fn somebody(&mut self, yard: Yard) -> Made<PersonId> {
        let there: Vec<PersonId> = self
            .workers
            .iter()
            .filter(|worker| worker.wrenches_in(yard))
            .map(|worker| worker.id)
            .collect();
        self.dice
            .one_of(&there)
            .copied()
            .ok_or_else(|| Unmade::Missing(format!("somebody in {}", yard.name())))
    }

    pub(super) fn job_kept(&self, name: &'static str) -> Made<FactKey> {
        self.kept
            .get(name)
            .copied()
            .ok_or_else(|| Unmade::Missing(format!("the job {name}")))
    }

    /// Does a step with dice of its own, so that all that comes after it is what it was without it.
    pub(super) fn apart<T>(
        &mut self,
        name: &str,
        step: impl FnOnce(&mut Self) -> Made<T>,
    ) -> Made<T> {
        let own = Dice::named(self.seed, name);
        let kept = std::mem::replace(&mut self.dice, own);
        let done = step(self);
        self.dice = kept;
        done
    }

    // --- what is really there ---

    pub(super) fn set_truth(&mut self, place: PlaceId, contents: Contents) {
        self.truth.insert(place, contents);
    }

    pub(super) fn truth(&self, account: Account) -> Contents {
        account
            .place()
            .and_then(|place| self.truth.get(&place))
            .cloned()
            .unwrap_or_default()
    }

    /// What a place really holds, mixed, at 20 °C.
    pub(super) fn level_ml(&self, account: Account) -> i64 {
        self.truth(account).shown_ml()
    }

    /// Takes away a shown volume at 20 °C without anybody writing it down.
    pub(super) fn lose(&mut self, account: Account, shown_ml: i64) -> Contents {
        let mut held = self.truth(account);
        let wanted = before_mixing(shown_ml, held.contraction_percent());
        let taken = held.in_proportion(wanted.min(held.total_ml()));
        held.subtract(&taken);
        if let Some(place) = account.place() {
            self.truth.insert(place, held);
        }
        taken
    }

    pub(super) fn gain(&mut self, account: Account, contents: &Contents) {
        let mut held = self.truth(account);
        held.add(contents);
        if let Some(place) = account.place() {
            self.truth.insert(place, held);
        }
    }

    /// The true freeze point, thousandths of a °C.
    pub(super) fn freeze_point(&self, account: Account) -> i64 {
        let held = self.truth(account);
        let strength = rounding::float(held.fraction_millionths()) / 1e6;
        let glycol = held
            .main_base()
            .and_then(Base::glycol)
            .unwrap_or(domain::fluid::Glycol::Eg);
        rounding::nearest(freeze_point::freeze_c(glycol, strength) * 1e3).unwrap_or(0)
    }

    // --- writing down ---

    pub(super) fn record(&mut self, at: At, by: By, arrival: Arrival, what: What) -> FactKey {
        let key = FactKey(self.dice.id());
        let opened_after = self.dice.between(0, 4) * MINUTE_MS + self.dice.between(1, 59) * 1_000;
        let made = at.moment.plus_ms(opened_after);
        let offset = self.clock_offset();
        let received_at = made.plus_ms(self.delay(at, arrival));
        self.facts.push(Recorded {
            key,
            received_at,
            fact: Fact {
                when: When {
                    happened_at: at.moment.plus_ms(-offset),
                    precision: Precision::Minute,
                    local_date: at.date,
                    utc_offset_min: at.offset_min,
                    made_at: made.plus_ms(-offset),
                    clock_offset_ms: offset,
                },
                by,
                what,
            },
        });
        key
    }

    /// One tablet runs four minutes behind, one 50 seconds ahead; the others keep time.
    fn clock_offset(&mut self) -> i64 {
        match self.dice.below(20) {
            0 | 1 => 4 * MINUTE_MS + self.dice.between(0, 2_000),
            2 => -50_000,
            _ => 0,
        }
    }

    fn delay(&mut self, at: At, arrival: Arrival) -> i64 {
        use chrono::Datelike;
        let seconds = self.dice.between(20, 170) * 1_000;
        match arrival {
            Arrival::AtOnce => seconds,
            Arrival::AfterMinutes(minutes) => minutes * MINUTE_MS + seconds,
            Arrival::AsItCame => match self.dice.below(100) {
                0..=88 => seconds + self.dice.below(6) * MINUTE_MS,
                89..=97 => seconds + self.dice.between(60, 420) * MINUTE_MS,
                // Not over the end of the month: the statement is drawn up a few days later.
                _ if at.date.day() < 26 => self.dice.between(1, 4) * DAY_MS + seconds,
                _ => seconds,
            },
        }
    }

    /// Most by number on a tablet, some by badge.
    pub(super) fn on_a_tablet(&mut self, person: PersonId) -> By {
        let proved = match self.dice.below(20) {
            0..=15 => Proved::Pin,
            _ => Proved::Badge,
        };
        By {
            person: Some(person),
            proved,
        }
    }

    pub(super) fn in_the_office(&self, handle: &str) -> Made<By> {
        Ok(By {
            person: Some(self.person(handle)?),
            proved: Proved::Password,
        })
    }

    /// The facts in the order they reached the server, the last of them before work on day 0.
    pub(super) fn in_arrival_order(&mut self) -> Made<Vec<Recorded>> {
        let last = At::local(DAY_0, "06:40")?.moment;
        let mut facts = std::mem::take(&mut self.facts);
        for recorded in &mut facts {
            recorded.received_at = recorded.received_at.min(last);
        }
        facts.sort_by_key(|recorded| recorded.received_at);
        // Two that came in the same millisecond keep the order they were written in.
        let mut before = Moment(i64::MIN);
        for recorded in &mut facts {
            if recorded.received_at <= before {
                recorded.received_at = before.plus_ms(1);
            }
            before = recorded.received_at;
        }
        Ok(facts)
    }
}

pub(super) fn before_mixing(shown_ml: i64, contraction_percent: f64) -> i64 {
    let total = rounding::float(shown_ml) / (1.0 + contraction_percent / 100.0);
    rounding::nearest(total).unwrap_or(shown_ml)
}

/// A volume measured warm or cold, at 20 °C.
pub(super) fn at_20(measured_ml: i64, celsius: i64, millionths: i64) -> i64 {
    let strength = rounding::float(millionths) / 1e6;
    let glycol = domain::fluid::Glycol::Eg;
    let ratio = density::expansion_at_or_beyond(glycol, rounding::float(celsius), strength).ratio;
    rounding::nearest(rounding::float(measured_ml) / ratio).unwrap_or(measured_ml)
}

/// The volume before mixing of bought fluid that shows so much.
pub(super) fn named_contents(
    kind: (Base, InhibitorClass),
    millionths: i64,
    shown_ml: i64,
) -> Contents {
    let strength = rounding::float(millionths) / 1e6;
    let contraction = kind.0.glycol().map_or(0.0, |glycol| {
        composition::contraction_percent(glycol, strength)
    });
    Contents::of(
        kind.0,
        kind.1,
        before_mixing(shown_ml, contraction),
        millionths,
    )
}
