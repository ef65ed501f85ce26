//! The invented fleet of the benchmarks.

#[path = "../../tests/store/shop.rs"]
#[expect(dead_code, reason = "the shop serves the tests too")]
pub(crate) mod shop;

use domain::fact::{Opening, What};
use domain::fleet::{Holds, Unit, Vessel};
use domain::ids::{FactKey, PlaceId, UnitId};
use domain::job::{Account, Job, JobKind, Line, Mark};
use domain::quantity::FractionByVolume;
use domain::quantity::entry::read;
use shop::{SHOP, START, fact, litres, options, unit_card, vessel_card};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicI64;
use std::time::Instant;
use storage::{Command, Store, Via};
use uuid::Uuid;

pub(crate) const UNITS: u64 = 10_000;
pub(crate) const VESSELS: u64 = 200;
/// The first of the vessels are kept for waste.
pub(crate) const WASTE_VESSELS: u64 = 20;
pub(crate) const WASTE_AT_OPENING_L: u64 = 100;
pub(crate) const AT_ONCE: usize = 1_000;

/// Splitmix64: the same numbers in every run, and ids that lie anywhere.
pub(crate) struct Numbers(pub(crate) u64);

impl Numbers {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub(crate) fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    pub(crate) fn key(&mut self) -> FactKey {
        FactKey(Uuid::from_u64_pair(self.next(), self.next()))
    }
}

pub(crate) fn id(kind: u64, n: u64) -> Uuid {
    let mut numbers = Numbers(kind.wrapping_mul(1_000_003).wrapping_add(n));
    Uuid::from_u64_pair(numbers.next(), n)
}

pub(crate) fn a_loop(n: u64) -> Account {
    Account::Loop(PlaceId(id(1, n)))
}

pub(crate) fn a_vessel(n: u64) -> Account {
    Account::Vessel(PlaceId(id(2, n)))
}

/// Cards and openings, from `at` on.
pub(crate) fn cards(numbers: &mut Numbers, at: i64) -> Vec<Command> {
    let mut whats = Vec::new();
    for n in 0..UNITS {
        let What::Unit(Unit { mut loops, .. }) = unit_card(0) else {
            panic!("a unit is a unit")
        };
        loops[0].id = PlaceId(id(1, n));
        whats.push(What::Unit(Unit {
            id: UnitId(id(3, n)),
            number: format!("{n}"),
            kind: "transit bus".to_owned(),
            shop: SHOP,
            engine_family: None,
            loops,
            reason: None,
        }));
    }
    for n in 0..VESSELS {
        let What::Vessel(card) = vessel_card(0) else {
            panic!("a vessel is a vessel")
        };
        whats.push(What::Vessel(Vessel {
            id: PlaceId(id(2, n)),
            name: format!("tank {n}"),
            capacity: Some(litres("900000 L")),
            holds: if n < WASTE_VESSELS {
                Holds::Waste
            } else {
                card.holds
            },
            start_date: (n < WASTE_VESSELS).then(|| "2016-01-01".parse().unwrap()),
            ..card
        }));
    }
    for (place, volume) in (0..UNITS)
        .map(|n| (a_loop(n), None))
        .chain((0..VESSELS).map(|n| {
            // Waste leaves again; what units are filled from has to last for all the years.
            let held = if n < WASTE_VESSELS {
                WASTE_AT_OPENING_L
            } else {
                400_000
            };
            (a_vessel(n), Some(litres(&format!("{held} L"))))
        }))
    {
        whats.push(What::Opening(Opening {
            place,
            volume,
            strength: Some(read::<FractionByVolume>("50 %").unwrap()),
            fluid: None,
        }));
    }
    whats
        .into_iter()
        .zip(at..)
        .map(|(what, at)| Command::plain(numbers.key(), fact(at, what), Via::Import))
        .collect()
}

pub(crate) fn job(kind: JobKind, n: u64, line: Line, mark: Option<Mark>) -> What {
    What::Job(Job {
        unit: Some(UnitId(id(3, n))),
        place: Some(a_loop(n)),
        mark,
        ..shop::job(kind, 0, vec![line])
    })
}

pub(crate) async fn put_all(store: &Store, commands: Vec<Command>) -> f64 {
    let count = f64::from(u32::try_from(commands.len()).unwrap());
    let began = Instant::now();
    let mut waiting = commands.into_iter().peekable();
    while waiting.peek().is_some() {
        let some = waiting.by_ref().take(AT_ONCE).collect();
        for answer in store.append_many(some).await.unwrap() {
            answer.unwrap();
        }
    }
    count / began.elapsed().as_secs_f64()
}

pub(crate) async fn opened(folder: &Path) -> Store {
    let (now, fatal) = (Arc::new(AtomicI64::new(START)), Arc::default());
    Store::open(options(folder, &now, &fatal)).await.unwrap()
}
