//! The stories of single loops (1 to 7, 13), and whether each unit is ready for the winter.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use domain::book::component::{Base, Component, InhibitorClass};
use domain::book::outcome::TopUpClass;
use domain::book::question::QuestionKind;
use domain::condition::policy::Policies;
use domain::condition::zero::{self, ZeroChecked};
use domain::fact::What;
use domain::fluid::{Glycol, freeze_point::fraction_at_freeze};
use domain::ids::PlaceId;
use domain::job::{Account, Details, JobKind, Line, Measured};
use domain::quantity::rounding;

use super::super::SEED;
use super::super::calendar::{DAY_0, day, month_of_record};
use super::super::fleet::{WEAK_HARBOUR, WEAK_UPPER};
use super::super::yards::Yard;
use super::replayed::{Done, Replayed};

/// Kilometres a unit runs in a day.
const KM_A_DAY: i64 = 150;

/// The month in which a sum of what is used up, less 1.2 L in 10,000 km, passes 2.5 L.
fn leak_found(demo: &Replayed, number: &str) -> Option<i64> {
    let mut sum = 0;
    let mut last: Option<NaiveDate> = None;
    for done in demo.on_unit(number, JobKind::TopUp) {
        if done.outcome.top_up != Some(TopUpClass::Consumption) {
            continue;
        }
        let days = last.map_or(30, |last| (done.date - last).num_days());
        let ml: i64 = done.outcome.flows.first().map_or(0, |flow| flow.shown_ml);
        sum = (sum + ml - days * KM_A_DAY * 1_200 / 10_000).max(0);
        last = Some(done.date);
        if sum > 2_500 {
            return Some(month_of_record(done.date));
        }
    }
    None
}

/// kPa lost in seconds, and the leak class seen.
fn held(done: &Done<'_>) -> (i64, i64, u8) {
    let Some(Details::PressureTest(test)) = &done.job.details else {
        panic!("a pressure test without its figures")
    };
    (
        (test.pressure_start.value.pa() - test.pressure_end.value.pa()) / 1_000,
        test.hold_s,
        u8::from(test.leak_class.unwrap()),
    )
}

#[test]
fn story_1_the_slow_leaker() {
    let demo = Replayed::shipped();
    let from = day("2026-03-01").unwrap();
    let tops: Vec<_> = demo
        .on_unit("3307", JobKind::TopUp)
        .into_iter()
        .filter(|done| done.date >= from)
        .collect();
    let mended = demo.on_unit("3307", JobKind::LeakRepair);
    assert_eq!(mended.len(), 1);
    assert_eq!(month_of_record(mended[0].date), 16);
    let before: Vec<_> = tops
        .iter()
        .filter(|done| done.date < mended[0].date)
        .collect();
    assert_eq!(before.len(), 6);
    let people: std::collections::BTreeSet<_> = before
        .iter()
        .map(|done| done.recorded.fact.by.person)
        .collect();
    assert_eq!(people.len(), 4);
    assert!(matches!(leak_found(demo, "3307"), Some(13..=15)));
    let tests = demo.on_unit("3307", JobKind::PressureTest);
    assert!(tests.iter().any(|test| held(test) == (9, 300, 0)));
    let sheets = demo.on_unit("3307", JobKind::ConditionTest);
    let sheets: Vec<_> = sheets
        .iter()
        .filter(|done| matches!(done.job.details, Some(Details::Laboratory { .. })))
        .collect();
    assert!(sheets.iter().all(|sheet| sheet.job.follows.is_some()));
    let analyte = |name: &str| -> Vec<&str> {
        sheets
            .iter()
            .flat_map(|sheet| &sheet.job.lines)
            .filter_map(|line| match line {
                Line::Reading(reading) => Some(&reading.measured),
                _ => None,
            })
            .filter_map(|measured| match measured {
                Measured::Other { what, typed, .. } => (what == name).then_some(typed.as_str()),
                _ => None,
            })
            .collect()
    };
    assert_eq!(analyte("pH"), ["8.2", "6.8"]);
    assert_eq!(analyte("sulphate"), ["140", "620"]);
    let watch_ends = mended[0].date + chrono::Days::new(30);
    assert!(
        tops.iter()
            .all(|done| done.date < mended[0].date || done.date > watch_ends)
    );
}

#[test]
fn story_2_the_weeping_pump() {
    let demo = Replayed::shipped();
    let classes: Vec<u8> = demo
        .on_unit("2114", JobKind::PressureTest)
        .iter()
        .map(|done| held(done).2)
        .filter(|class| *class > 0)
        .collect();
    assert_eq!(classes, [1, 1, 2, 2, 3]);
    assert!(matches!(leak_found(demo, "2114"), Some(14..=17)));
    let dates: Vec<_> = demo
        .on_unit("2114", JobKind::TopUp)
        .iter()
        .map(|done| done.date)
        .collect();
    // Never three in 30 days: the simple rule stays silent.
    assert!(
        dates
            .windows(3)
            .all(|three| (three[2] - three[0]).num_days() > 30)
    );
}

#[test]
fn story_3_another_class_in_4506() {
    let demo = Replayed::shipped();
    let engine = demo.loop_of("4506", "engine");
    let foreign = |date: &str| {
        let held = demo.state_after(engine, date).contents;
        held.ml_of(Component::Concentrate(Base::Eg, InhibitorClass::Oat)) * 1_000
            / held.concentrate_ml()
    };
    for (date, wanted) in [
        ("2025-10-13", 0),
        ("2025-10-14", 240),
        ("2025-11-10", 60),
        ("2025-11-24", 15),
        (DAY_0, 15),
    ] {
        assert!(
            (foreign(date) - wanted).abs() <= 10,
            "{date}: {}",
            foreign(date)
        );
    }
    assert_eq!(month_of_record(day("2025-10-14").unwrap()), 7);
    let nitrite = others(demo, "4506", "nitrite");
    assert!(
        nitrite
            .windows(3)
            .any(|three| three == ["1450", "1080", "820"])
    );
}

/// What else was read on a unit, as typed, in order.
fn others(demo: &Replayed, number: &str, name: &str) -> Vec<String> {
    demo.on_unit(number, JobKind::ConditionTest)
        .iter()
        .flat_map(|done| &done.job.lines)
        .filter_map(|line| match line {
            Line::Reading(reading) => match &reading.measured {
                Measured::Other { what, typed, .. } if what == name => Some(typed.clone()),
                _ => None,
            },
            _ => None,
        })
        .collect()
}

/// Whether a loop is ready with 95 of 100: its mean less 1.645 standard deviations is enough.
fn is_ready(demo: &Replayed, place: PlaceId, (glycol, celsius): (Glycol, f64)) -> bool {
    let state = demo.state(place);
    let now = super::super::calendar::At::local(DAY_0, "07:00").unwrap();
    let sigma = state.sigma_at(Account::Loop(place), now.moment);
    let wanted = rounding::nearest(fraction_at_freeze(glycol, celsius).unwrap() * 1e6).unwrap();
    state.contents.fraction_millionths() - sigma * 1_645 / 1_000 >= wanted
}

#[test]
fn story_4_and_the_coverage_of_both_yards() {
    let demo = Replayed::shipped();
    let units: BTreeMap<_, _> = demo
        .units()
        .map(|unit| (unit.number.clone(), unit))
        .collect();
    for (yard, celsius, weak) in [
        (Yard::Upper, -36.0, &WEAK_UPPER[..]),
        (Yard::Harbour, -22.0, &WEAK_HARBOUR[..]),
    ] {
        let not_ready: Vec<u32> = units
            .values()
            .filter(|unit| unit.shop == yard.shop(SEED))
            .filter(|unit| {
                unit.loops.iter().any(|each| {
                    let glycol = each.base.glycol().unwrap();
                    !is_ready(demo, each.id, (glycol, celsius))
                })
            })
            .map(|unit| unit.number.parse().unwrap())
            .collect();
        assert_eq!(not_ready, weak, "{}", yard.name());
    }
    for number in ["3311", "3312", "3315"] {
        let water = demo
            .on_unit(number, JobKind::TopUp)
            .into_iter()
            .filter(|done| {
                done.job.lines.iter().any(|line| {
                    matches!(line, Line::Movement(movement) if movement
                        .fluid
                        .as_ref()
                        .is_some_and(|fluid| fluid.strength.millionths() == 0))
                })
            })
            .count();
        assert_eq!(water, 5, "{number}");
    }
}

#[test]
fn story_5_the_wrong_scale_waits_and_the_laboratory_governs() {
    let demo = Replayed::shipped();
    let engine = demo.loop_of("7802", "engine");
    let waiting = demo.asked(QuestionKind::ReadingScale);
    assert_eq!(waiting.len(), 1);
    assert_eq!(waiting[0].1.place, Some(engine));
    assert_eq!(waiting[0].1.answer, None);
    // −30 °C is some 47.5 % propylene glycol.
    let strength = demo.state(engine).contents.fraction_millionths();
    assert!((465_000..485_000).contains(&strength), "{strength}");
}

#[test]
fn story_6_a_fill_with_air_in_it() {
    let demo = Replayed::shipped();
    let recovered = &demo.on_unit("3404", JobKind::Recover)[0];
    let fills = demo.on_unit("3404", JobKind::Fill);
    let typed = |done: &Done<'_>| match &done.job.lines[0] {
        Line::Movement(movement) => movement.volume.value.ml(),
        _ => 0,
    };
    assert_eq!(typed(recovered) - typed(&fills[0]), 3_400);
    assert_eq!(typed(&fills[1]), 3_400);
    assert_eq!((fills[1].date - fills[0].date).num_days(), 1);
    assert_eq!(fills[1].job.follows, Some(fills[0].recorded.key));
}

#[test]
fn story_7_the_cap() {
    let demo = Replayed::shipped();
    let tests = demo.on_unit("5603", JobKind::CapTest);
    let Some(Details::CapTest {
        stamped,
        replaced_by,
        ..
    }) = &tests[0].job.details
    else {
        panic!("a cap test without its figures")
    };
    assert_eq!(stamped.typed, "7 psi");
    assert_eq!(replaced_by.as_ref().unwrap().typed, "15 psi");
    let tops = demo.on_unit("5603", JobKind::TopUp);
    let lost = tops
        .iter()
        .filter(|done| (0..100).contains(&(tests[0].date - done.date).num_days()))
        .count();
    assert_eq!(lost, 3);
    assert!(
        tops.iter()
            .all(|done| (done.date - tests[0].date).num_days() <= 0
                || (done.date - tests[0].date).num_days() > 150)
    );
}

#[test]
fn story_13_the_battery_loop() {
    let demo = Replayed::shipped();
    let read = others(demo, "2203", "conductivity");
    let last: Vec<&str> = read
        .iter()
        .rev()
        .take(3)
        .rev()
        .map(String::as_str)
        .collect();
    assert_eq!(last, ["4.2", "38", "120"]);
    let battery = demo.loop_of("2203", "battery");
    let held = &demo.state(battery).contents;
    assert!(held.ml_of(Component::Concentrate(Base::Eg, InhibitorClass::Noat)) > 0);
}

/// What people wrote down of an instrument is what its card and its zero checks say of that day.
#[test]
fn every_reading_is_believed_as_its_instrument_was_that_day() {
    let demo = Replayed::shipped();
    let mut cards = BTreeMap::new();
    let mut checks = Vec::new();
    for recorded in &demo.facts {
        match &recorded.fact.what {
            What::Instrument(card) => {
                cards.insert(card.id, card.clone());
            }
            What::ZeroCheck(check) => checks.push((
                check.instrument,
                recorded.fact.when.local_date,
                check.reads.value,
            )),
            _ => {}
        }
    }
    assert_eq!(checks.len(), 2);
    let mut read = 0;
    for done in demo.jobs() {
        for line in &done.job.lines {
            let Line::Reading(reading) = line else {
                continue;
            };
            let Some(card) = reading.instrument.map(|id| &cards[&id]) else {
                continue;
            };
            let own = checks
                .iter()
                .filter(|(id, day, _)| *id == card.id && *day <= done.date);
            let last = own
                .max_by_key(|(_, day, _)| *day)
                .map(|(_, day, reads)| ZeroChecked {
                    day: *day,
                    by: None,
                    reads: *reads,
                });
            let policy = Policies::on(done.date).unwrap().zero;
            let told = zero::doubt(card, last.as_ref(), (done.date, &policy));
            assert_eq!(reading.doubt, told, "{} on {}", card.tag, done.date);
            read += 1;
        }
    }
    assert!(read > 500, "{read}");
}
