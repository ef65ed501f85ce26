//! The stories of carts, drums and the tank (8 to 10, 12, 14).

use chrono::NaiveDate;
use domain::book::component::{Base, InhibitorClass};
use domain::book::question::QuestionKind;
use domain::fact::{ContainerChange, What};
use domain::fluid::{Glycol, freeze_point::fraction_at_freeze};
use domain::job::{Account, JobKind, Line};
use domain::quantity::rounding;

use super::super::calendar::{DAY_0, day};
use super::replayed::Replayed;

#[test]
fn story_8_oil_in_cart_b() {
    let demo = Replayed::shipped();
    let account = |name: &str| Account::Vessel(demo.vessel(name).id);
    let (cart, quarantine, drum) = (account("Cart B"), account("Cart C"), account("D-7"));
    let moved = |from, to| -> Vec<(NaiveDate, i64)> {
        demo.jobs_of(JobKind::Move)
            .map(|done| (done.date, done.moved(from, to)))
            .filter(|(_, ml)| *ml > 0)
            .collect()
    };
    assert_eq!(
        moved(cart, quarantine),
        [(day("2026-08-11").unwrap(), 96_000)]
    );
    assert_eq!(
        moved(quarantine, drum),
        [(day("2026-08-14").unwrap(), 96_000)]
    );
    let cart = cart.place().unwrap();
    let after = |date: &str| demo.state_after(cart, date);
    assert!(after("2026-08-11").unfit_since.is_some());
    assert!(after("2026-08-16").unfit_since.is_some());
    let back = after("2026-08-17");
    assert_eq!(back.unfit_since, None);
    assert_eq!(back.dedicated, Some((Base::Eg, InhibitorClass::Noat)));
    let out = day("2026-08-17").unwrap() - day("2026-08-11").unwrap();
    assert_eq!(out.num_days(), 6);
    assert_eq!(demo.asked(QuestionKind::UnfitIntoReuse).len(), 1);
}

#[test]
fn story_9_the_drums() {
    let demo = Replayed::shipped();
    let drum = demo.vessel("D-5");
    let shown = demo.state(drum.id).contents.shown_ml();
    let per_mille = shown * 1_000 / drum.capacity.as_ref().unwrap().value.ml();
    assert!((925..935).contains(&per_mille), "{per_mille}");
    let starts = |name: &str| -> Vec<NaiveDate> {
        let id = demo.vessel(name).id;
        demo.facts
            .iter()
            .filter_map(|recorded| match &recorded.fact.what {
                What::ContainerEvent(event) if event.vessel == id => match event.event {
                    ContainerChange::StartDate(date) => Some(date),
                    _ => None,
                },
                _ => None,
            })
            .collect()
    };
    let start = *starts("D-5").last().unwrap();
    assert_eq!((day(DAY_0).unwrap() - start).num_days(), 171);
    assert_eq!(demo.state(drum.id).generation_date, Some(start));
    assert_eq!(starts("D-8"), []);
    assert!(demo.state(demo.vessel("D-8").id).contents.shown_ml() > 20_000);
}

#[test]
fn story_10_cart_c_out_of_date() {
    let demo = Replayed::shipped();
    let due = demo
        .vessel("Cart C")
        .pressure_vessel
        .as_ref()
        .and_then(|data| data.next_due)
        .unwrap();
    assert_eq!((day(DAY_0).unwrap() - due).num_days(), 12);
    let asked = demo.asked(QuestionKind::OutOfDate);
    assert_eq!(asked.len(), 1);
    assert_eq!(asked[0].1.found, 5);
    let job = demo
        .facts
        .iter()
        .find(|fact| fact.key == *asked[0].0)
        .unwrap();
    let late = job.received_at.ms_since(job.fact.when.made());
    assert!(late > 2 * domain::moment::DAY_MS, "it came off line");
}

#[test]
fn story_12_litres_on_no_job() {
    let demo = Replayed::shipped();
    let asked = demo.asked(QuestionKind::DipDiffers);
    let missing: i64 = asked
        .iter()
        .map(|(_, asked)| asked.expected - asked.found)
        .sum();
    assert!((59_000..63_000).contains(&missing), "{missing}");
    let drum = demo.vessel("D-2").id;
    assert!(asked.iter().all(|(_, asked)| asked.place == Some(drum)));
    assert!(asked.iter().all(|(_, asked)| asked.answer.is_some()));
}

#[test]
fn story_14_the_weak_tank_values_eleven_fills_anew() {
    let demo = Replayed::shipped();
    let tank = Account::Vessel(demo.vessel("T-1").id);
    let test = demo
        .jobs_of(JobKind::ConditionTest)
        .find(|done| done.job.place == Some(tank))
        .unwrap();
    let (from, to) = (
        test.recorded.fact.when.happened(),
        test.recorded.received_at,
    );
    let fills =
        demo.jobs_of(JobKind::Exchange)
            .filter(|done| {
                (from..to).contains(&done.recorded.fact.when.happened())
                    && done.job.lines.iter().any(
                        |line| matches!(line, Line::Movement(movement) if movement.from == tank),
                    )
            })
            .count();
    assert_eq!(fills, 11);
    let without: Vec<_> = demo
        .facts
        .iter()
        .filter(|fact| fact.key != test.recorded.key)
        .cloned()
        .collect();
    let believed = Replayed::of(without);
    let engine = demo.loop_of("2119", "engine");
    let enough = rounding::nearest(fraction_at_freeze(Glycol::Eg, -36.0).unwrap() * 1e6).unwrap();
    let strength = |book: &Replayed| {
        book.state_after(engine, "2026-06-09")
            .contents
            .fraction_millionths()
    };
    assert!(strength(&believed) >= enough, "{}", strength(&believed));
    assert!(strength(demo) < enough, "{}", strength(demo));
    let held = demo.state_after(tank.place().unwrap(), "2026-06-08");
    assert!((482_000 - held.contents.fraction_millionths()).abs() < 4_000);
}
