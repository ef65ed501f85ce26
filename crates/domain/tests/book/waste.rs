//! What counts as having become waste, and on which day: each fluid once. The volumes are sums that
//! can be done in the head.

use crate::scene::*;
use domain::book::component::{Base, InhibitorClass};
use domain::book::outcome::Measure;
use domain::fact::{Fitness, Recorded, What};
use domain::fleet::{Holds, VesselKind};
use domain::job::{Account, Fit, JobKind, Movement};

const DAY: i64 = 24 * 60;

/// Units 1 and 2 (54 L, EG OAT) at 48 %, tank 11 for recovered coolant (1,000 L), waste container 13
/// (1,000 L), waste container 14 (208 L).
fn shown_after(more: Vec<Recorded>) -> Shown {
    let large = |number, minute, kind, holds| {
        fact(number, minute, vessel(number + 9, kind, holds, "1000 L"))
    };
    let drum = vessel(14, VesselKind::WasteContainer, Holds::Waste, "208 L");
    let mut facts = vec![
        fact(1, 0, unit(1, Base::Eg, InhibitorClass::Oat, "54 L")),
        large(2, 0, VesselKind::Tank, Holds::Recovered),
        large(4, 0, VesselKind::WasteContainer, Holds::Waste),
        fact(5, 0, drum),
        fact(6, 0, unit(2, Base::Eg, InhibitorClass::Oat, "54 L")),
        fact(7, 1, opening(a_loop(1), None, Some("48 %"))),
        fact(8, 1, opening(a_loop(2), None, Some("48 %"))),
    ];
    facts.extend(more);
    let shown = Shown::with(&facts);
    assert!(shown.sum().is_empty(), "the book does not close");
    shown
}

/// What each fact counts under a measure, mL, in the order of their numbers.
fn counted(shown: &Shown, measure: Measure) -> Vec<(u128, Vec<i64>)> {
    let of = |number| {
        let flows = &shown.outcomes.get(&key(number))?.flows;
        let own = flows.iter().filter(|flow| flow.measure == measure);
        let ml: Vec<i64> = own.map(|flow| flow.shown_ml).collect();
        (!ml.is_empty()).then_some((number, ml))
    };
    (1..60).filter_map(of).collect()
}

fn became_waste(more: Vec<Recorded>) -> Vec<(u128, Vec<i64>)> {
    counted(&shown_after(more), Measure::BecameWaste)
}

fn go(number: u128, day: i64, kind: JobKind, movement: Movement) -> Recorded {
    fact(number, day * DAY, moved(kind, at(movement, "20 °C")))
}

fn drain(number: u128, day: i64, (from, into): (u128, u128), volume: &str) -> Recorded {
    let out = movement(a_loop(from), a_vessel(into), volume);
    go(number, day, JobKind::Recover, out)
}

fn ship(number: u128, day: i64, vessel: u128, volume: &str) -> Recorded {
    let out = movement(a_vessel(vessel), Account::Carrier, volume);
    go(number, day, JobKind::Ship, out)
}

fn decide(number: u128, day: i64, vessel: u128, fitness: Fitness) -> Recorded {
    fact(number, day * DAY, decision(vessel, fitness))
}

#[test]
fn what_clings_to_a_container_shipped_empty_is_not_counted_again() {
    let counts = became_waste(vec![
        drain(20, 1, (1, 13), "50 L"),
        ship(21, 2, 13, "40 L"),
        drain(22, 3, (2, 13), "20 L"),
    ]);
    assert_eq!(counts, [(20, vec![50_000]), (22, vec![20_000])]);
}

#[test]
fn what_a_decision_takes_back_is_not_counted_again() {
    let fluid = || drain(20, 1, (1, 11), "50 L");
    let turned = became_waste(vec![
        fluid(),
        decide(21, 2, 11, Fitness::Waste),
        decide(22, 3, 11, Fitness::Reuse),
        decide(23, 4, 11, Fitness::Waste),
    ]);
    assert_eq!(turned, [(21, vec![50_000])]);
    let more_in_between = became_waste(vec![
        fluid(),
        decide(21, 2, 11, Fitness::Waste),
        decide(22, 3, 11, Fitness::Reuse),
        drain(23, 4, (2, 11), "10 L"),
        decide(24, 5, 11, Fitness::Waste),
    ]);
    assert_eq!(more_in_between, [(21, vec![50_000]), (24, vec![10_000])]);
    let reclaimed = became_waste(vec![
        drain(20, 1, (1, 13), "50 L"),
        decide(21, 2, 13, Fitness::Reclaim),
        drain(22, 3, (2, 13), "5 L"),
    ]);
    assert_eq!(reclaimed, [(20, vec![50_000]), (22, vec![5_000])]);
    let shipped = became_waste(vec![
        drain(20, 1, (1, 13), "50 L"),
        decide(21, 2, 13, Fitness::Reclaim),
        ship(22, 3, 13, "50 L"),
    ]);
    assert_eq!(shipped, [(20, vec![50_000])]);
}

#[test]
fn waste_that_goes_back_into_a_unit_is_waste_anew_when_it_is_drained() {
    let back = movement(a_vessel(11), a_loop(1), "20 L");
    let counts = became_waste(vec![
        drain(20, 1, (1, 11), "20 L"),
        decide(21, 2, 11, Fitness::Waste),
        decide(22, 3, 11, Fitness::Reuse),
        go(23, 4, JobKind::Fill, back),
        drain(24, 5, (1, 13), "20 L"),
    ]);
    assert_eq!(counts, [(21, vec![20_000]), (24, vec![20_000])]);
}

#[test]
fn reclaiming_decided_once_more_reclaims_nothing_more() {
    let shown = shown_after(vec![
        drain(20, 1, (1, 11), "50 L"),
        decide(21, 2, 11, Fitness::Reclaim),
        decide(22, 3, 11, Fitness::Reclaim),
    ]);
    let counts = counted(&shown, Measure::Reclaimed);
    assert_eq!(counts, [(21, vec![50_000])]);
}

/// 40 CFR 262.13(d)(3) and case G16: however often it goes round in a month, it is counted once.
#[test]
fn what_is_reclaimed_and_used_again_counts_once_in_a_calendar_month() {
    let back = |number, day| {
        let into = movement(a_vessel(11), a_loop(1), "54 L");
        go(number, day, JobKind::Fill, into)
    };
    let shown = shown_after(vec![
        drain(20, 1, (1, 11), "54 L"),
        decide(21, 2, 11, Fitness::Reclaim),
        back(22, 3),
        drain(23, 4, (1, 11), "54 L"),
        decide(24, 5, 11, Fitness::Reclaim),
        back(25, 6),
        drain(26, 7, (1, 11), "54 L"),
        // What comes out of another unit beside it was not counted yet.
        drain(27, 7, (2, 11), "10 L"),
        decide(28, 8, 11, Fitness::Reclaim),
        // To discard what was counted so counts nothing more.
        decide(29, 9, 11, Fitness::Waste),
    ]);
    assert_eq!(
        counted(&shown, Measure::Reclaimed),
        [(21, vec![54_000]), (28, vec![10_000])]
    );
    assert_eq!(
        counted(&shown, Measure::ReclaimedAgain),
        [(24, vec![54_000]), (28, vec![54_000])]
    );
    assert_eq!(counted(&shown, Measure::BecameWaste), []);
    // In another month it counts anew, once.
    let shown = shown_after(vec![
        drain(20, 1, (1, 11), "54 L"),
        decide(21, 2, 11, Fitness::Reclaim),
        back(22, 3),
        drain(23, 4, (1, 11), "54 L"),
        decide(24, 40, 11, Fitness::Reclaim),
        back(25, 41),
        drain(26, 42, (1, 11), "54 L"),
        decide(27, 43, 11, Fitness::Reclaim),
    ]);
    assert_eq!(
        counted(&shown, Measure::Reclaimed),
        [(21, vec![54_000]), (24, vec![54_000])]
    );
    assert_eq!(
        counted(&shown, Measure::ReclaimedAgain),
        [(27, vec![54_000])]
    );
}

#[test]
fn waste_that_stood_there_when_the_book_began_counts_in_no_month() {
    let opened = || fact(20, DAY, opening(a_vessel(13), Some("150 L"), Some("50 %")));
    let dipped = || fact(20, DAY, dip(a_vessel(13), "150 L"));
    for first in [opened(), dipped()] {
        let counts = became_waste(vec![first.clone(), drain(21, 4, (1, 13), "5 L")]);
        assert_eq!(counts, [(21, vec![5_000])]);
        let shown = shown_after(vec![first]);
        let drum = shown.book.place(place(13)).unwrap();
        assert_eq!(drum.generation_date, Some("2026-10-06".parse().unwrap()));
    }
    // In a vessel that is not for waste it is no waste until somebody decides so.
    let stated = opening(a_vessel(11), Some("150 L"), Some("50 %"));
    let counts = became_waste(vec![
        fact(20, DAY, stated),
        decide(21, 2, 11, Fitness::Waste),
    ]);
    assert_eq!(counts, [(21, vec![150_000])]);
}

#[test]
fn what_is_moved_on_brings_along_how_much_of_it_was_counted() {
    // 30 L were waste and are taken back, 30 L are new: half of each litre is counted.
    let half = |more: Vec<Recorded>| {
        let mut facts = vec![
            drain(20, 1, (1, 11), "30 L"),
            decide(21, 2, 11, Fitness::Waste),
            decide(22, 3, 11, Fitness::Reuse),
            drain(23, 4, (2, 11), "30 L"),
        ];
        facts.extend(more);
        let mut counts = became_waste(facts);
        // The strengths of the two differ, so the half is rounded once more when it is mixed.
        for (_, volumes) in &mut counts {
            for ml in volumes {
                *ml = (*ml + 5) / 10 * 10;
            }
        }
        counts
    };
    let on = |number, volume| {
        let on = movement(a_vessel(11), a_vessel(13), volume);
        go(number, 5, JobKind::Move, on)
    };
    assert_eq!(
        half(vec![on(24, "20 L")]),
        [(21, vec![30_000]), (24, vec![10_000])]
    );
    let rest = half(vec![on(24, "20 L"), decide(25, 6, 11, Fitness::Waste)]);
    assert_eq!(
        rest,
        [(21, vec![30_000]), (24, vec![10_000]), (25, vec![20_000])]
    );
    let shipped = half(vec![ship(24, 5, 11, "20 L")]);
    assert_eq!(shipped, [(21, vec![30_000]), (24, vec![10_000])]);
}

#[test]
fn a_dip_into_waste_that_was_counted_generates_nothing() {
    let counts = became_waste(vec![
        drain(20, 1, (1, 13), "40 L"),
        fact(21, 2 * DAY, dip(a_vessel(13), "43 L")),
        drain(22, 3, (2, 13), "5 L"),
    ]);
    assert_eq!(counts, [(20, vec![40_000]), (22, vec![5_000])]);
}

#[test]
fn unfit_fluid_makes_what_it_falls_among_waste_and_leaves_with_the_batch() {
    let unfit = |number, day, unit| {
        let mut oily = movement(a_loop(unit), a_vessel(11), "20 L");
        oily.fit = Fit::No;
        go(number, day, JobKind::Recover, oily)
    };
    let counts = became_waste(vec![drain(20, 1, (1, 11), "30 L"), unfit(21, 2, 2)]);
    assert_eq!(counts, [(21, vec![30_000, 20_000])]);
    let left = |last: Recorded| {
        let shown = shown_after(vec![unfit(20, 1, 1), last]);
        let tank = shown.book.place(place(11)).unwrap();
        (tank.unfit_since.is_some(), tank.generation_date.is_some())
    };
    let on = |volume| {
        let on = movement(a_vessel(11), a_vessel(13), volume);
        go(21, 2, JobKind::Move, on)
    };
    assert_eq!(left(ship(21, 2, 11, "20 L")), (false, false));
    // 1 % of 1,000 L is 10 L: with more than that left it is still the same batch.
    assert_eq!(left(ship(21, 2, 11, "9 L")), (true, true));
    // Moved on, it has left its oil on the walls: the tank is unfit until it is cleaned out.
    assert_eq!(left(on("20 L")), (true, true));
    let retired = fact(21, 2 * DAY, retired(vec![a_vessel(11)]));
    assert_eq!(
        counted(
            &shown_after(vec![unfit(20, 1, 1), retired]),
            Measure::BecameWaste
        )
        .len(),
        1
    );
}

#[test]
fn fit_fluid_becomes_waste_when_it_is_shipped_and_fresh_fluid_does_not() {
    let undecided = || drain(20, 1, (1, 11), "30 L");
    let shipped = became_waste(vec![undecided(), ship(21, 2, 11, "10 L")]);
    assert_eq!(shipped, [(21, vec![10_000])]);
    let fresh = What::Opening(domain::fact::Opening {
        place: a_vessel(12),
        volume: Some(typed("100 L")),
        strength: Some(typed("50 %")),
        fluid: None,
    });
    let drum = vessel(12, VesselKind::Drum, Holds::Fresh, "208 L");
    let back = vec![
        fact(20, 1, drum),
        fact(21, 2, fresh),
        ship(22, 2, 12, "100 L"),
    ];
    assert_eq!(became_waste(back), []);
}

#[test]
fn a_waste_container_moved_on_empty_begins_anew_as_a_shipped_one_does() {
    let day_after = |volume| {
        let on = movement(a_vessel(13), a_vessel(14), volume);
        let shown = shown_after(vec![
            drain(20, 1, (1, 13), "20 L"),
            go(21, 2, JobKind::Move, on),
            drain(22, 4, (2, 13), "20 L"),
        ]);
        let counts = counted(&shown, Measure::BecameWaste);
        assert_eq!(counts, [(20, vec![20_000]), (22, vec![20_000])]);
        shown.book.place(place(13)).unwrap().generation_date
    };
    assert_eq!(day_after("19 L"), Some("2026-10-09".parse().unwrap()));
    assert_eq!(day_after("9 L"), Some("2026-10-06".parse().unwrap()));
}

/// What went back into units, with what had been decided on the batch it was part of.
fn put_back(shown: &Shown) -> Vec<(u128, Option<Fitness>)> {
    let of = |number| {
        let flows = &shown.outcomes.get(&key(number))?.flows;
        let own = flows.iter().find(|flow| flow.measure == Measure::Reused)?;
        Some((number, own.batch))
    };
    (1..60).filter_map(of).collect()
}

/// A fill goes by the batch it was taken out of, not by what was decided on that vessel later, or earlier
/// on what is not in it any more.
#[test]
fn what_is_put_back_says_what_was_decided_on_its_own_batch() {
    let back = |number, day, volume| {
        let back = movement(a_vessel(11), a_loop(1), volume);
        go(number, day, JobKind::Fill, back)
    };
    let shown = shown_after(vec![
        drain(20, 1, (1, 11), "40 L"),
        back(21, 2, "10 L"),
        decide(22, 3, 11, Fitness::Reclaim),
        back(23, 4, "10 L"),
        decide(24, 5, 11, Fitness::Reuse),
        back(25, 6, "10 L"),
        decide(26, 7, 11, Fitness::Reclaim),
        // All that was decided on is gone, and another batch comes in.
        back(27, 8, "10 L"),
        drain(28, 9, (2, 11), "30 L"),
        back(29, 10, "5 L"),
        decide(30, 11, 11, Fitness::Waste),
        decide(31, 12, 11, Fitness::Reuse),
    ]);
    let reclaimed = Some(Fitness::Reclaim);
    let said = [
        (21, None),
        (23, reclaimed),
        (25, Some(Fitness::Reuse)),
        (27, reclaimed),
        (29, None),
    ];
    assert_eq!(put_back(&shown), said);
}

/// The tank takes 1,000 L, so 10 L and less cling to it: they go by what was decided on them until
/// something else is put in.
#[test]
fn what_clings_to_a_vessel_goes_by_its_decision_until_another_batch_comes_in() {
    let back = |number, day, volume| {
        let back = movement(a_vessel(11), a_loop(1), volume);
        go(number, day, JobKind::Fill, back)
    };
    let reclaimed = Some(Fitness::Reclaim);
    let shown = shown_after(vec![
        drain(20, 1, (1, 11), "40 L"),
        decide(21, 2, 11, Fitness::Reclaim),
        back(22, 3, "32 L"),
        back(23, 4, "4 L"),
        drain(24, 5, (2, 11), "30 L"),
        back(25, 6, "5 L"),
    ]);
    let said = [(22, reclaimed), (23, reclaimed), (25, None)];
    assert_eq!(put_back(&shown), said);
    // The same where a carrier took all but the heel.
    let shown = shown_after(vec![
        drain(20, 1, (1, 11), "40 L"),
        decide(21, 2, 11, Fitness::Reclaim),
        ship(22, 3, 11, "32 L"),
        back(23, 4, "4 L"),
        drain(24, 5, (2, 11), "30 L"),
        back(25, 6, "5 L"),
    ]);
    assert_eq!(put_back(&shown), [(23, reclaimed), (25, None)]);
    // Decided on where it stood, with no draw before: what is added to it is one batch with it.
    let shown = shown_after(vec![
        drain(20, 1, (1, 11), "8 L"),
        decide(21, 2, 11, Fitness::Reclaim),
        drain(22, 3, (2, 11), "30 L"),
        back(23, 4, "5 L"),
    ]);
    assert_eq!(put_back(&shown), [(23, reclaimed)]);
}

/// It is the place in the record's own order that counts: a fill that is told of late is not of a batch
/// that was decided on later the same day.
#[test]
fn a_later_batch_of_the_same_vessel_changes_nothing_of_an_earlier_fill() {
    let at = |number, minute, what| fact(number, DAY + minute, what);
    let back = || {
        let back = movement(a_vessel(11), a_loop(1), "10 L");
        moved(JobKind::Fill, crate::scene::at(back, "20 °C"))
    };
    let shown = shown_after(vec![
        drain(20, 0, (1, 11), "40 L"),
        at(25, 60, decision(11, Fitness::Reclaim)),
        at(30, 30, back()),
        at(31, 90, back()),
    ]);
    assert_eq!(put_back(&shown), [(30, None), (31, Some(Fitness::Reclaim))]);
}
