//! What a laboratory's figures are read as and hint at.

use domain::book::component::InhibitorClass as Class;
use domain::condition::course::{Course, Done, Event};
use domain::condition::laboratory::{Analyte, Found, Hint, hints};
use domain::ids::FactKey;
use domain::job::Job;
use domain::moment::{DAY_MS, Moment};
use domain::quantity::Volume;
use uuid::Uuid;

fn codes(now: &Found, before: Option<&Found>, class: Class) -> Vec<&'static str> {
    let told = hints(now, before, class).unwrap();
    told.into_iter().map(|hinted| hinted.hint.code).collect()
}

/// Trade press on what laboratories see: combustion gas, pH usually below 7 and sulphate up; air, pH low but
/// not below 7.5 and nitrite slowly down; stray current, nitrite collapses and nitrate rises.
/// SAE J814: make-up water of less than 170 ppm hardness. The other lines are from memory.
#[test]
fn each_pattern_of_the_trade_is_told_and_its_neighbour_is_not() {
    let sound: Found = [
        ("pH", 8_600),
        ("nitrite", 1_600_000),
        ("nitrate", 400_000),
        ("sulphate", 90_000),
        ("hardness", 40_000),
    ]
    .into();
    let with = |changed: &[(&'static str, i64)]| {
        let mut found = sound.clone();
        found.extend(changed.iter().copied());
        found
    };
    let before = Some(&sound);
    for (changed, before, class, told) in [
        (vec![], None, Class::IatSca, vec![]),
        (vec![], before, Class::IatSca, vec![]),
        (
            vec![("pH", 6_800), ("sulphate", 240_000)],
            before,
            Class::Noat,
            vec!["combustion_gas"],
        ),
        // The same figures without a sample before: nothing says that the sulphate rose.
        (
            vec![("pH", 6_800), ("sulphate", 240_000)],
            None,
            Class::Noat,
            vec![],
        ),
        (
            vec![("pH", 6_999), ("sulphate", 500_000)],
            None,
            Class::Noat,
            vec!["combustion_gas"],
        ),
        (
            vec![("pH", 7_000), ("sulphate", 500_000)],
            None,
            Class::Noat,
            vec![],
        ),
        (
            vec![("pH", 6_900), ("sulphate", 112_499)],
            before,
            Class::Noat,
            vec![],
        ),
        (
            vec![("pH", 6_900), ("sulphate", 112_500)],
            before,
            Class::Noat,
            vec!["combustion_gas"],
        ),
        (
            vec![("pH", 8_000), ("nitrite", 1_300_000)],
            before,
            Class::IatSca,
            vec!["air"],
        ),
        (
            vec![("pH", 8_000), ("nitrite", 1_300_000)],
            before,
            Class::Oat,
            vec!["mixed_chemistry"],
        ),
        (
            vec![("nitrite", 500_000), ("nitrate", 900_000)],
            before,
            Class::Noat,
            vec!["stray_current"],
        ),
        (
            vec![("nitrite", 299_999)],
            None,
            Class::Noat,
            vec!["inhibitor_low"],
        ),
        (vec![("nitrite", 300_000)], None, Class::Noat, vec![]),
        (vec![("hardness", 169_999)], None, Class::Noat, vec![]),
        (
            vec![("hardness", 170_000)],
            None,
            Class::Noat,
            vec!["hard_water"],
        ),
        (
            vec![("iron", 20_000), ("aluminium", 9_999)],
            None,
            Class::Noat,
            vec!["iron"],
        ),
        (
            vec![("reserve alkalinity", 2_900), ("nitrite", 0)],
            None,
            Class::Iat,
            vec!["inhibitor_low"],
        ),
    ] {
        assert_eq!(codes(&with(&changed), before, class), told, "{changed:?}");
    }
}

/// Nothing is hinted at without its evidence: every row of the table holds for some figures, with one
/// piece of evidence a line.
#[test]
fn every_row_of_the_table_can_hold_and_shows_all_its_evidence() {
    for hint in Hint::all().unwrap() {
        assert!(
            !hint.section.is_empty() && !hint.next.is_empty(),
            "{hint:?}"
        );
        assert!(
            hint.says.contains("may"),
            "worded as a finding: {}",
            hint.says
        );
    }
    let now: Found = [("pH", 6_500), ("sulphate", 600_000)].into();
    let told = hints(&now, None, Class::Oat).unwrap();
    let evidence: Vec<(&str, i64)> = told[0]
        .evidence
        .iter()
        .map(|each| (each.analyte.word, each.now))
        .collect();
    assert_eq!(evidence, [("pH", 6_500), ("sulphate", 600_000)]);
}

#[test]
fn less_than_a_figure_counts_on_the_cautious_side() {
    for (word, printed, thousandths) in [
        ("pH", "6,8", Some(6_800)),
        ("nitrite", "<20", Some(0)),
        ("Sulphate", "< 5", Some(5_000)),
        ("iron", "0.125", Some(125)),
        ("pH", "14.001", None),
        ("iron", "1.2345", None),
        ("iron", "-1", None),
        ("iron", "1e3", None),
        ("iron", "=1+1", None),
        ("iron", ">5", None),
        ("iron", "", None),
        ("iron", "<", None),
    ] {
        let read = Analyte::named(word).unwrap().read(printed).ok();
        assert_eq!(
            read.map(|read| read.thousandths),
            thousandths,
            "{word} {printed}"
        );
    }
    assert_eq!(Analyte::named("molybdenum"), None);
}

/// Figures of the filling before say nothing of the one after.
#[test]
fn results_are_those_of_the_filling_that_was_in_it() {
    let event = |day: i64, key: u128, done| Event {
        at: Moment(day * DAY_MS),
        key: FactKey(Uuid::from_u128(key)),
        done,
    };
    let result = |sulphate: i64| Done::Tested {
        laboratory: true,
        ph_thousandths: None,
        proofs: Vec::new(),
        found: [("sulphate", sulphate)].into(),
    };
    let litres = Volume::from_ml(40_000).unwrap();
    let filled = Done::Filled {
        put_in: litres,
        fresh: litres,
    };
    let course = Course {
        events: vec![
            event(1, 1, result(80_000)),
            event(5, 2, filled),
            event(9, 3, result(90_000)),
            event(20, 4, result(95_000)),
        ],
        ..Course::default()
    };
    let keys = |until: i64| -> Vec<u128> {
        let found = course.laboratory_results((Some(45_000), 0.7), Moment(until * DAY_MS));
        found.into_iter().map(|(key, _)| key.0.as_u128()).collect()
    };
    assert_eq!(keys(4), [1]);
    assert_eq!(keys(10), [3]);
    assert_eq!(keys(30), [3, 4]);
}

/// What later versions have to read: a result as this version writes it.
#[test]
fn a_result_is_written_as_it_is_kept() {
    let id = Uuid::from_u128(7);
    let written = format!(
        r#"{{"kind":"condition_test","shop":"{id}","unit":"{id}","place":{{"loop":"{id}"}},"lines":[{{"reading":{{"place":{{"loop":"{id}"}},"measured":{{"other":{{"what":"iron","typed":"<5","unit":"ppm","thousandths":5000}}}},"tool":"laboratory"}}}}],"after_heat_cycle":false,"details":{{"laboratory":{{"report":"L-7","reported_on":"2026-10-01"}}}},"follows":"{id}"}}"#
    );
    let job: Job = serde_json::from_str(&written).unwrap();
    assert_eq!(serde_json::to_string(&job).unwrap(), written);
}
