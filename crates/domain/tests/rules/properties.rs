//! What no row may break.

use chrono::{Datelike as _, Days, NaiveDate};
use domain::quantity::Mass;
use domain::rules::category::{Monthly, category};
use domain::rules::counting::{Fate, Hazard, Source, count};
use domain::rules::determination::{KeptUntil, keep_until};
use domain::rules::{Class, Exact, Span, days_left};
use proptest::prelude::*;

use crate::{asked, federal, generator, profile};

fn mass(g: i64) -> Mass {
    Mass::from_g(g).unwrap()
}

fn class(non_acute: i64, acute: i64, acute_spill: i64) -> Class {
    let month = Monthly {
        non_acute: mass(non_acute),
        acute: mass(acute),
        acute_spill: mass(acute_spill),
    };
    category(&month, generator()).unwrap().class
}

fn any_day() -> impl Strategy<Value = NaiveDate> {
    let first = NaiveDate::from_ymd_opt(2000, 1, 1).unwrap();
    (0_u64..40_000).prop_map(move |days| first.checked_add_days(Days::new(days)).unwrap())
}

fn any_source() -> impl Strategy<Value = Source> {
    let hazard = prop_oneof![
        Just(Hazard::Hazardous),
        Just(Hazard::NonHazardous),
        Just(Hazard::Pending)
    ];
    let fate = prop_oneof![
        Just(Fate::Waste),
        Just(Fate::PutBack),
        any::<bool>().prop_map(|best_practice| Fate::Recycled { best_practice }),
        Just(Fate::StraightToRecycler)
    ];
    prop_oneof![
        (hazard, fate).prop_map(|(hazard, fate)| Source::Coolant(hazard, fate)),
        Just(Source::OtherHazardous),
        Just(Source::ReclaimedAgain),
        Just(Source::Residue),
        Just(Source::FromStorage),
        Just(Source::UsedOil),
        Just(Source::Universal),
        any::<bool>().prop_map(|conditions_met| Source::Episodic { conditions_met }),
    ]
}

const IDS: [&str; 7] = [
    "us-fed-2026",
    "us-fed-2024",
    "us-state-universal-waste",
    "us-state-eg-criterion",
    "us-state-best-practice",
    "us-state-presumed-hazardous",
    "us-state-mqg-45-60",
];

proptest! {
    /// The thresholds are written here a second time, from the citation of the cases.
    #[test]
    fn the_class_is_that_of_the_table(
        near in prop_oneof![0_i64..3_000_000, 99_990_i64..100_010, 999_990_i64..1_000_010],
        acute in prop_oneof![Just(0_i64), 990_i64..1_010],
        spill in prop_oneof![Just(0_i64), 99_990_i64..100_010],
    ) {
        let expected = if near >= 1_000_000 || acute > 1_000 || spill > 100_000 {
            Class::Largest
        } else if near > 100_000 {
            Class::Middle
        } else {
            Class::Smallest
        };
        prop_assert_eq!(class(near, acute, spill), expected);
        prop_assert!(class(near + 1, acute, spill) >= expected);
    }

    #[test]
    fn every_gram_of_a_list_is_counted_or_not_and_in_no_order(
        lines in prop::collection::vec((any_source(), 0_i64..500_000), 0..12),
        id in prop::sample::select(&IDS[..]),
    ) {
        let rules = profile(id).generator.as_ref().unwrap();
        let mut lines: Vec<(Source, Mass)> = lines.into_iter().map(|(it, g)| (it, mass(g))).collect();
        let found = count(&lines, profile(id), rules).unwrap();
        let total: i64 = lines.iter().map(|(_, mass)| mass.g()).sum();
        prop_assert_eq!(found.firm.g() + found.pending.g() + found.not_counted.g(), total);
        prop_assert_eq!(found.worst_case().unwrap().g(), found.firm.g() + found.pending.g());
        lines.reverse();
        prop_assert_eq!(count(&lines, profile(id), rules).unwrap(), found);
    }

    #[test]
    fn a_clock_of_days_counts_every_day_once(start in any_day(), left in -400_i64..400) {
        let row = format!("category=SQG;start={start}");
        let due = start.checked_add_days(Days::new(180)).unwrap();
        let today = due - chrono::TimeDelta::days(left);
        let found = asked("accumulation", "us-fed-2026", &format!("{row};as_of={today}")).unwrap();
        prop_assert_eq!(found.got, format!("deadline={due};days_left={left}"));
        prop_assert_eq!(days_left(due, today), left);
    }

    #[test]
    fn years_end_on_the_same_date_or_the_first_of_march(start in any_day(), years in 1_u8..12) {
        let end = Span::Years(years).after(start).unwrap();
        prop_assert_eq!(end.year(), start.year() + i32::from(years));
        if start.month() == 2 && start.day() == 29 && !end.leap_year() {
            prop_assert_eq!((end.month(), end.day()), (3, 1));
        } else {
            prop_assert_eq!((end.month(), end.day()), (start.month(), start.day()));
        }
        let kept = keep_until(Some(start), federal(), false);
        prop_assert_eq!(kept, KeptUntil::Day(Span::Years(3).after(start).unwrap()));
        prop_assert_eq!(keep_until(Some(start), federal(), true), KeptUntil::NoEnd);
        prop_assert_eq!(keep_until(None, federal(), false), KeptUntil::NoEnd);
    }

    #[test]
    fn figures_are_read_and_written_without_loss(billionths in any::<u64>()) {
        let figure = Exact::from_billionths(billionths);
        prop_assert_eq!(figure.to_string().parse::<Exact>().unwrap(), figure);
    }

    /// Nothing that is typed makes it fall over.
    #[test]
    fn no_row_breaks_it(topic in prop::sample::select(&domain::rules::notation::TOPICS[..]), inputs in "\\PC{0,60}") {
        let _answered = asked(topic, "us-fed-2026", &inputs);
        let _answered = asked(topic, "eu", &inputs);
    }
}
