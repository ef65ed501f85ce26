//! How long the fresh fluid of a shop lasts.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::book::component::{Base, InhibitorClass};
use domain::condition::policy::Policies;
use domain::condition::stock::{Kept, Source, StockPolicy, Stocked, by_fluid};

fn policy() -> StockPolicy {
    let day = "2026-10-05".parse().unwrap();
    Policies::on(day).unwrap().stock
}

const READY: (Base, InhibitorClass, Kept) = (Base::Eg, InhibitorClass::Oat, Kept::Ready);

const CONCENTRATE: (Base, InhibitorClass, Kept) =
    (Base::Eg, InhibitorClass::Oat, Kept::Concentrate);

/// One that gave only to units.
fn source(held_ml: i64, to_units_ml: i64, known_days: i64) -> Source {
    Source {
        fluid: READY,
        held_ml,
        to_units_ml,
        to_vessels_ml: 0,
        known_days,
    }
}

/// What units got out of a fluid, as the forecast counts it.
fn used(sources: &[Source], fluid: (Base, InhibitorClass, Kept)) -> i64 {
    by_fluid(sources).get(&fluid).unwrap().used_ml
}

/// 100 L of concentrate and as much water are mixed in a tank, and all of it goes into units: 200 L of ready
/// mixed coolant were used, and 100 L of concentrate.
#[test]
fn a_tank_mixed_in_the_shop_tells_of_all_that_went_out_of_it() {
    let drum = Source {
        fluid: CONCENTRATE,
        to_vessels_ml: 100_000,
        ..source(0, 0, 60)
    };
    let tank = Source {
        to_vessels_ml: -100_000,
        ..source(0, 200_000, 60)
    };
    assert_eq!(used(&[drum, tank], READY), 200_000);
    assert_eq!(used(&[drum, tank], CONCENTRATE), 100_000);
}

/// What came from another shop's vessel or was reclaimed is a delivery: no use goes down by it. What a cart
/// took to the units was used.
#[test]
fn a_delivery_is_no_use_taken_back_and_a_cart_takes_what_is_used() {
    let brought = Source {
        to_vessels_ml: -100_000,
        ..source(40_000, 60_000, 60)
    };
    assert_eq!(used(&[brought], READY), 60_000);
    let taken = Source {
        to_vessels_ml: 30_000,
        ..source(40_000, 60_000, 60)
    };
    assert_eq!(used(&[taken], READY), 90_000);
}

/// 3 L a day: 42 L last 14 days and are told, a decilitre above 45 L lasts 15 and is not.
#[test]
fn what_lasts_14_days_runs_out_and_what_lasts_15_does_not() {
    let lasts = |held_ml| Stocked {
        held_ml,
        used_ml: 180_000,
        days: 60,
    };
    for (held_ml, days, runs_out) in [
        (0, 0, true),
        (2_999, 0, true),
        (42_000, 14, true),
        (44_999, 14, true),
        (45_000, 15, false),
        (-500, 0, true),
    ] {
        let stock = lasts(held_ml);
        assert_eq!(stock.days_left(&policy()), Some(days), "{held_ml}");
        assert_eq!(stock.runs_out(&policy()), runs_out, "{held_ml}");
    }
}

#[test]
fn what_nobody_used_or_what_is_known_too_short_runs_out_of_nothing() {
    for (used_ml, days) in [(0, 60), (-4_000, 60), (90_000, 13), (90_000, 0)] {
        let stock = Stocked {
            held_ml: 0,
            used_ml,
            days,
        };
        assert_eq!(stock.days_left(&policy()), None, "{used_ml} in {days}");
        assert!(!stock.runs_out(&policy()));
    }
}

/// What one drum gave to the next is used by neither; an empty drum that is gone still tells of the use.
#[test]
fn the_vessels_of_a_fluid_count_together_and_others_apart() {
    let mut sources = vec![
        source(30_000, 50_000, 65),
        Source {
            to_vessels_ml: 20_000,
            ..source(0, 100_000, 40)
        },
        Source {
            to_vessels_ml: -20_000,
            ..source(20_000, 0, 5)
        },
    ];
    sources.push(Source {
        fluid: (Base::Eg, InhibitorClass::Oat, Kept::of(950_000)),
        ..source(46_000, 0, 65)
    });
    let all = by_fluid(&sources);
    assert_eq!(all.len(), 2);
    let ready = all[&READY];
    assert_eq!(
        (ready.held_ml, ready.used_ml, ready.days),
        (50_000, 150_000, 65)
    );
    assert_eq!(ready.days_left(&policy()), Some(21));
    assert_eq!(Kept::of(699_999), Kept::Ready);
    assert_eq!(Kept::of(700_000), Kept::Concentrate);
    assert_eq!(Kept::of_parts(19, 20), Some(Kept::Concentrate));
    assert_eq!(Kept::of_parts(0, 0), None);
}
