//! How many movements a second the book replays in memory.
//!
//! An invented year of 10,000 units and 200 vessels: one movement a job, of which 45 % top-ups
//! (a third of them to the mark), 20 % recoveries, 20 % fills, 10 % moves and 5 % readings.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    clippy::wildcard_imports,
    reason = "a benchmark prints its figures and stops when its scene is wrong"
)]

#[path = "../tests/book/scene.rs"]
#[expect(dead_code, reason = "the scene serves the tests too")]
mod scene;

use domain::book::component::{Base, InhibitorClass};
use domain::book::{Book, Kept};
use domain::fact::{Recorded, What};
use domain::fleet::{Holds, Tool, VesselKind};
use domain::job::{Account, JobKind, Mark, Measured};
use domain::quantity::Volume;
use domain::quantity::entry::Typed;
use scene::*;
use std::time::Instant;

const UNITS: u128 = 10_000;
const VESSELS: u128 = 200;
const JOBS: u128 = 1_000_000;

/// Splitmix64: the same numbers in every run.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % end
    }
}

fn litres(numbers: &mut Numbers, from: u64, to: u64) -> Typed<Volume> {
    let ml = 100 * (from * 10 + numbers.below((to - from) * 10));
    Typed {
        typed: format!("{ml} mL"),
        value: Volume::from_ml(i64::try_from(ml).unwrap()).unwrap(),
    }
}

fn what(numbers: &mut Numbers) -> What {
    let unit = a_loop(u128::from(numbers.below(UNITS.try_into().unwrap())));
    let vessel = |numbers: &mut Numbers| {
        a_vessel(UNITS + u128::from(numbers.below(VESSELS.try_into().unwrap())))
    };
    let bare = |from, to, volume| {
        let mut movement = movement(from, to, "1 L");
        movement.volume = volume;
        movement
    };
    match numbers.below(100) {
        0..45 => {
            let volume = litres(numbers, 1, 3);
            let mark = if numbers.below(3) == 0 {
                Mark::At
            } else {
                Mark::NotAt
            };
            top_up(
                of(
                    bare(Account::Supplier, unit, volume),
                    named(Base::Eg, InhibitorClass::Oat, "50 %"),
                ),
                mark,
            )
        }
        45..65 => {
            let volume = litres(numbers, 2, 4);
            let to = vessel(numbers);
            moved(JobKind::Recover, at(bare(unit, to, volume), "38 °C"))
        }
        65..85 => {
            let volume = litres(numbers, 2, 4);
            let from = vessel(numbers);
            moved(JobKind::Fill, at(bare(from, unit, volume), "21 °C"))
        }
        85..95 => {
            let (from, to) = (vessel(numbers), vessel(numbers));
            let volume = litres(numbers, 5, 9);
            if from == to {
                moved(JobKind::Ship, bare(from, Account::Carrier, volume))
            } else {
                moved(JobKind::Move, bare(from, to, volume))
            }
        }
        _ => reading(
            unit,
            Measured::FreezePoint(typed("-37 °C")),
            Tool::Refractometer,
            Some(Base::Eg),
        ),
    }
}

fn facts() -> Vec<Recorded> {
    let mut numbers = Numbers(1);
    let classes = [
        InhibitorClass::Oat,
        InhibitorClass::Noat,
        InhibitorClass::Iat,
    ];
    let mut facts = Vec::new();
    for number in 0..UNITS {
        let class = classes[usize::try_from(number % 3).unwrap()];
        facts.push(fact(
            10_000_000 + number,
            -20,
            unit(number, Base::Eg, class, "50 L"),
        ));
        facts.push(fact(
            20_000_000 + number,
            -10,
            opening(a_loop(number), None, Some("50 %")),
        ));
    }
    for number in UNITS..UNITS + VESSELS {
        let card = vessel(number, VesselKind::Tank, Holds::Recovered, "900000 L");
        facts.push(fact(10_000_000 + number, -20, card));
        facts.push(fact(
            20_000_000 + number,
            -10,
            opening(a_vessel(number), Some("500000 L"), Some("50 %")),
        ));
    }
    for number in 0..JOBS {
        let minute = i64::try_from(number / 2).unwrap();
        facts.push(fact(30_000_000 + number, minute, what(&mut numbers)));
    }
    facts
}

fn main() {
    let facts = facts();
    let mut book = Book::new();
    let began = Instant::now();
    for fact in &facts {
        book.enter(fact);
    }
    println!("entered {} facts in {:.2?}", facts.len(), began.elapsed());
    let began = Instant::now();
    let mut postings = 0;
    book.work_out(&mut |worked| {
        postings += worked.outcome.postings.len();
        Kept::Stored
    });
    let first = began.elapsed();
    println!(
        "first replay, with snapshots and prints: {first:.2?}, {:.2} million jobs a second, \
         {postings} postings",
        1e-6 * 1_000_000.0 / first.as_secs_f64()
    );
    let mut best = f64::MAX;
    for _ in 0..5 {
        let began = Instant::now();
        let mut seen = 0;
        book.replay_until(None, &mut |worked| seen += worked.outcome.postings.len());
        assert_eq!(seen, postings, "a replay comes to the same");
        best = best.min(began.elapsed().as_secs_f64());
    }
    println!(
        "replay alone, best of 5: {best:.3} s, {:.2} million jobs, {:.2} million postings a second",
        1.0 / best,
        1e-6 * f64::from(u32::try_from(postings).unwrap()) / best
    );
    let days = 30 * 24 * 60;
    let late = fact(
        99_000_000,
        i64::try_from(JOBS / 2).unwrap() - days,
        what(&mut Numbers(7)),
    );
    let began = Instant::now();
    book.enter(&late);
    let (mut replayed, mut changed) = (0_u64, 0_u64);
    book.work_out(&mut |worked| {
        replayed += 1;
        changed += u64::from(worked.changed);
        Kept::Stored
    });
    println!(
        "a fact 30 days late: {replayed} facts replayed, {changed} outcomes changed, {:.2?}",
        began.elapsed()
    );
}
