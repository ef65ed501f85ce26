//! Whether a stated interval holds what is true: loops that live by a process of their own, what
//! people would have recorded of it, and the product's own book made of that record.
//!
//! The truth is fluid in litres of concentrate and water, mixed as it is poured (`truth`); the record
//! is what somebody types: rounded, without a fluid now and then, or not at all (`shop`). Three habits
//! are fixed here. The book's spreads were chosen looking at the first one alone.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::arithmetic_side_effects,
    reason = "a simulation holds only values that are in range, and stops when it does not"
)]

#[path = "../numbers/mod.rs"]
mod numbers;
#[path = "../book/scene.rs"]
#[expect(dead_code, reason = "the scene serves the tests of the book too")]
mod scene;
mod shop;
mod truth;

use domain::quantity::rounding::float;
use shop::{Habit, Judged, live};
use std::io::Write;

/// Two-sided 90 % of a normal distribution: 1.645 (any table of it; from memory).
const NINETY: f64 = 1.645;
/// Loops a shop, which share one cart and one refractometer.
const LOOPS: u128 = 25;

/// Topped up with water mostly.
const WATER: Habit = Habit {
    water: 0.8,
    concentrate: 0.0,
    exchanges_a_year: 0.0,
};
/// Topped up with what is sold ready mixed.
const PREMIX: Habit = Habit {
    water: 0.05,
    concentrate: 0.0,
    exchanges_a_year: 0.0,
};
/// All of it, and exchanges through a cart that the shop's loops share.
const MIXED: Habit = Habit {
    water: 0.3,
    concentrate: 0.1,
    exchanges_a_year: 0.75,
};

fn loops() -> u128 {
    if std::env::var_os("LONG_RUNS").is_some() {
        10_000
    } else {
        2_000
    }
}

/// What intervals came to: how many, how many of them held the truth, how wide they were.
struct Held {
    judged: usize,
    percent: f64,
    mean_sigma_points: f64,
    /// By how much σ would have to be multiplied for exactly 90 of 100 to hold.
    exact: f64,
}

fn held<'a>(judged: impl Iterator<Item = &'a Judged>) -> Held {
    let mut off = Vec::new();
    let mut sigmas = 0.0;
    for one in judged {
        off.push((one.truth - one.mean).abs() / one.sigma);
        sigmas += one.sigma * 100.0;
    }
    off.sort_by(f64::total_cmp);
    let count = |count: usize| float(i64::try_from(count).unwrap());
    let held = off.iter().filter(|off| **off <= NINETY).count();
    Held {
        judged: off.len(),
        percent: 100.0 * count(held) / count(off.len()),
        mean_sigma_points: sigmas / count(off.len()),
        exact: off.get(off.len() * 9 / 10).copied().unwrap_or(0.0) / NINETY,
    }
}

fn say(name: &str, held: &Held) {
    let line = format!(
        "{name}: {} judged, {:.1} % held, mean σ {:.2} points, exact at σ × {:.2}\n",
        held.judged, held.percent, held.mean_sigma_points, held.exact
    );
    std::io::stderr().write_all(line.as_bytes()).unwrap();
}

fn run(habit: Habit, seed: u64) -> Vec<Judged> {
    (0..loops() / LOOPS)
        .flat_map(|shop| {
            let seed = seed.wrapping_mul(1_000_003) ^ u64::try_from(shop).unwrap();
            live(habit, LOOPS, seed)
        })
        .collect()
}

type OfAge = fn(&Judged) -> bool;
const AGES: [(&str, OfAge); 5] = [
    ("never read", |it| it.age_days.is_none()),
    ("read within 30 d", |it| {
        it.age_days.is_some_and(|age| age < 30)
    }),
    ("read 30 to 90 d ago", |it| {
        it.age_days.is_some_and(|age| (30..90).contains(&age))
    }),
    ("read 90 to 180 d ago", |it| {
        it.age_days.is_some_and(|age| (90..180).contains(&age))
    }),
    ("read longer ago", |it| {
        it.age_days.is_some_and(|age| age >= 180)
    }),
];

fn judge(name: &str, habit: Habit, seed: u64) {
    let judged = run(habit, seed);
    let all = held(judged.iter());
    say(name, &all);
    let mut bad = Vec::new();
    let mut stratum = |of: String, it: Held| {
        say(&of, &it);
        assert!(it.judged >= 50, "too few to judge: {of}");
        if it.percent < 85.0 {
            bad.push((of, it.percent));
        }
    };
    for (age, is) in AGES {
        let of = format!("{name}, {age}");
        stratum(of, held(judged.iter().filter(|it| is(it))));
    }
    for litres in shop::SIZES_L {
        let of = format!("{name}, {litres} L");
        let here = judged.iter().filter(|it| it.nominal_l == litres);
        stratum(of, held(here));
    }
    for (age, is) in AGES {
        for litres in shop::SIZES_L {
            let here = held(judged.iter().filter(|it| is(it) && it.nominal_l == litres));
            // Of fewer, chance alone takes several of 100.
            if here.judged >= 200 {
                stratum(format!("{name}, {age}, {litres} L"), here);
            }
        }
    }
    assert!(all.percent >= 87.0, "{name}: {:.1} %", all.percent);
    assert!(bad.is_empty(), "{bad:?}");
}

/// The habit the spreads were chosen on.
#[test]
fn intervals_hold_where_water_is_the_habit() {
    judge("water", WATER, 1);
}

#[test]
fn intervals_hold_where_premix_is_the_habit() {
    judge("premix", PREMIX, 2);
}

#[test]
fn intervals_hold_where_a_cart_is_shared() {
    judge("mixed", MIXED, 3);
}
