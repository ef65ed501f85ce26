//! What a laboratory's figures are read as and hint at.
#![expect(
    clippy::unwrap_used,
    reason = "a figure that is not there has failed the test"
)]

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

/// A sound filling of a loop.
const SOUND: &str = "pH 8.6; nitrite 1600; nitrate 400; sulphate 90; hardness 40";

/// What else than in a sound one was found, whether a sound sample went before, the class, and the hint.
///
/// Trade press on what laboratories see: combustion gas, pH usually below 7 and sulphate up; air, pH low but
/// not below 7.5 and nitrite slowly down; stray current, nitrite collapses and nitrate rises.
/// SAE J814: make-up water of less than 170 ppm hardness. The other lines are from memory.
const CASES: [(&str, bool, Class, &str); 17] = [
    ("", false, Class::IatSca, ""),
    ("", true, Class::IatSca, ""),
    ("pH 6.8; sulphate 240", true, Class::Noat, "combustion_gas"),
    // The same figures without a sample before: nothing says that the sulphate rose.
    ("pH 6.8; sulphate 240", false, Class::Noat, ""),
    (
        "pH 6.999; sulphate 500",
        false,
        Class::Noat,
        "combustion_gas",
    ),
    ("pH 7; sulphate 500", false, Class::Noat, ""),
    ("pH 6.9; sulphate 112.499", true, Class::Noat, ""),
    (
        "pH 6.9; sulphate 112.5",
        true,
        Class::Noat,
        "combustion_gas",
    ),
    ("pH 8; nitrite 1300", true, Class::IatSca, "air"),
    ("pH 8; nitrite 1300", true, Class::Oat, "mixed_chemistry"),
    (
        "nitrite 500; nitrate 900",
        true,
        Class::Noat,
        "stray_current",
    ),
    ("nitrite 299.999", false, Class::Noat, "inhibitor_low"),
    ("nitrite 300", false, Class::Noat, ""),
    ("hardness 169.999", false, Class::Noat, ""),
    ("hardness 170", false, Class::Noat, "hard_water"),
    ("iron 20; aluminium 9.999", false, Class::Noat, "iron"),
    ("reserve alkalinity 2.9", false, Class::Iat, "inhibitor_low"),
];

fn found(figures: &str) -> Found {
    let figures = figures.split("; ").filter(|figure| !figure.is_empty());
    let read = |figure: &str| {
        let (word, number) = figure.rsplit_once(' ').unwrap();
        let analyte = Analyte::named(word).unwrap();
        (analyte.word, analyte.read(number).unwrap().thousandths)
    };
    figures.map(read).collect()
}

#[test]
fn each_pattern_of_the_trade_is_told_and_its_neighbour_is_not() {
    let sound = found(SOUND);
    for (changed, went_before, class, told) in CASES {
        let mut now = sound.clone();
        now.extend(found(changed));
        let told: Vec<&str> = [told].into_iter().filter(|code| !code.is_empty()).collect();
        let before = went_before.then_some(&sound);
        assert_eq!(codes(&now, before, class), told, "{changed}");
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
        strength: false,
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
