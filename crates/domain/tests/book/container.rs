//! Worked examples of containers for waste: their start dates, and what begins anew.

use crate::examples::{DAY, then};
use crate::scene::*;
use domain::book::component::{Base, InhibitorClass};
use domain::book::question::QuestionKind;
use domain::fact::{Area, ContainerChange, ContainerEvent, What};
use domain::job::{Account, JobKind, Mark};

#[test]
fn a_waste_drum_shipped_empty_begins_anew() {
    let drained = |number, day: i64| {
        fact(
            number,
            day * DAY,
            moved(
                JobKind::Recover,
                at(movement(a_loop(1), a_vessel(13), "20 L"), "20 °C"),
            ),
        )
    };
    let shipped = |litres: &str| {
        then(vec![
            drained(10, 1),
            fact(
                11,
                2 * DAY,
                moved(
                    JobKind::Ship,
                    at(movement(a_vessel(13), Account::Carrier, litres), "20 °C"),
                ),
            ),
            drained(12, 4),
        ])
        .book
        .place(place(13))
        .unwrap()
        .generation_date
    };
    assert_eq!(shipped("19 L"), Some("2026-10-09".parse().unwrap()));
    assert_eq!(shipped("10 L"), Some("2026-10-06".parse().unwrap()));
}

#[test]
fn waste_without_a_start_date_and_foreign_fluid_are_asked_about() {
    let shown = then(vec![
        fact(
            10,
            10,
            moved(JobKind::Recover, movement(a_loop(1), a_vessel(13), "20 L")),
        ),
        fact(
            11,
            20,
            top_up(
                of(
                    movement(Account::Supplier, a_loop(1), "2 L"),
                    named(Base::Eg, InhibitorClass::Iat, "50 %"),
                ),
                Mark::NotAt,
            ),
        ),
        fact(
            12,
            30,
            top_up(movement(Account::Supplier, a_loop(1), "1 L"), Mark::NotAt),
        ),
    ]);
    assert_eq!(shown.asked(10), [QuestionKind::NoStartDate]);
    assert_eq!(shown.asked(11), [QuestionKind::WrongChemistry]);
    assert_eq!(shown.asked(12), [QuestionKind::FluidNotNamed]);
}

/// A container is asked about until its date is stated, again once a new one stands in its place,
/// and never in a satellite area, where 40 CFR 262.15 wants words and no date (second-hand). A look
/// and a label say nothing about it. The order of arrival plays no part.
#[test]
fn a_start_date_answers_for_what_goes_in_until_the_container_is_changed() {
    let drained = |number: u128, minute| {
        let line = movement(a_loop(1), a_vessel(13), "1 L");
        fact(number, minute, moved(JobKind::Recover, line))
    };
    let stated = |number: u128, minute, event: ContainerChange| {
        let vessel = place(13);
        let what = What::ContainerEvent(ContainerEvent { vessel, event });
        fact(number, minute, what)
    };
    let dated = || ContainerChange::StartDate("2026-10-05".parse().unwrap());
    let mut facts = vec![
        drained(10, DAY),
        stated(11, 2 * DAY, ContainerChange::Inspected(None)),
        stated(12, 3 * DAY, ContainerChange::Labelled("waste".to_owned())),
        drained(13, 4 * DAY),
        stated(14, 5 * DAY, dated()),
        drained(15, 6 * DAY),
        stated(16, 7 * DAY, ContainerChange::Closed),
        drained(17, 8 * DAY),
        stated(
            18,
            9 * DAY,
            ContainerChange::Placed(Area::Satellite("bay 4".to_owned())),
        ),
        drained(19, 10 * DAY),
        stated(20, 11 * DAY, ContainerChange::Placed(Area::Central)),
        drained(21, 12 * DAY),
    ];
    for _ in 0..2 {
        let shown = then(facts.clone());
        let asked = |number| shown.asked(number) == [QuestionKind::NoStartDate];
        let found = [10, 13, 15, 17, 19, 21].map(asked);
        assert_eq!(found, [true, true, false, true, false, true]);
        facts.reverse();
    }
}
