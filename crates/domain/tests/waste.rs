//! What a month of a site comes to: the day of the event decides the rules, grams decide the class.

#![expect(
    clippy::unwrap_used,
    reason = "a figure that is not there has failed the test"
)]

use chrono::NaiveDate;
use domain::book::month::Month;
use domain::fact::What;
use domain::ids::{PlaceId, SiteId};
use domain::quantity::Mass;
use domain::quantity::entry::read;
use domain::rules::counting::Counts;
use domain::rules::{Class, Profiles};
use domain::waste::{
    Basis, Came, Determination, Generation, Hazardous, OtherWaste, Others, ProfileChosen,
    Statements, Stream, Waste,
};
use domain::words::Text;
use uuid::Uuid;

const SITE: SiteId = SiteId(Uuid::from_u128(1));
const DRUM: PlaceId = PlaceId(Uuid::from_u128(2));

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn month(text: &str) -> Month {
    text.to_owned().try_into().unwrap()
}

fn profiles() -> &'static Profiles {
    Profiles::built_in().unwrap()
}

fn chosen(jurisdiction: &str, from: &str) -> ProfileChosen {
    ProfileChosen {
        site: SITE,
        jurisdiction: jurisdiction.to_owned(),
        from: day(from),
    }
}

fn determined(vessel: Option<PlaceId>, from: &str, hazardous: Hazardous) -> Determination {
    Determination {
        site: SITE,
        vessel,
        covers_from: day(from),
        hazardous,
        codes: Vec::new(),
        basis: Basis::Knowledge(Text::plain("invented").unwrap()),
    }
}

fn waste(on: &str, came: Came, g: i64) -> Waste {
    Waste {
        day: day(on),
        vessel: Some(DRUM),
        came,
        mass: Some(Mass::from_g(g).unwrap()),
    }
}

fn federal() -> Statements {
    Statements {
        chosen: vec![chosen("us-fed", "2026-01-01")],
        determinations: vec![determined(None, "2026-01-01", Hazardous::Yes)],
    }
}

fn of(lines: &[Waste], others: &[OtherWaste], stated: &Statements) -> Generation<'static> {
    Generation::of(month("2026-09"), lines, others, (stated, profiles())).unwrap()
}

fn other(name: &str, mass: &str) -> OtherWaste {
    OtherWaste {
        site: SITE,
        month: month("2026-09"),
        stream: Some(Stream {
            name: name.to_owned(),
            mass: read(mass).unwrap(),
            acute: false,
        }),
    }
}

#[test]
fn the_class_turns_on_a_gram_and_counts_other_waste_too() {
    // 40 CFR 260.10: up to 100 kg in a month is the smallest class, 1,000 kg the largest.
    for (g, class, left) in [
        (100_000, Class::Smallest, Some(0)),
        (100_001, Class::Middle, Some(899_999)),
        (999_999, Class::Middle, Some(1)),
        (1_000_000, Class::Largest, None),
    ] {
        let found = of(&[waste("2026-09-10", Came::AsWaste, g)], &[], &federal());
        let standing = found.standing.unwrap();
        assert_eq!(standing.class, class, "{g} g");
        assert_eq!(standing.to_next.map(Mass::g), left, "{g} g");
        assert_eq!(found.others, Others::NotStated);
    }
    let lines = [waste("2026-09-10", Came::AsWaste, 60_000)];
    let found = of(
        &lines,
        &[other("parts washer solvent", "40.001 kg")],
        &federal(),
    );
    assert_eq!(found.standing.unwrap().class, Class::Middle);
    assert_eq!(found.firm().unwrap().g(), 100_001);
    assert_eq!(found.others, Others::Streams(1));
    let none = OtherWaste {
        stream: None,
        ..other("x", "1 kg")
    };
    assert_eq!(of(&lines, &[none], &federal()).others, Others::None);
}

#[test]
fn no_class_until_rules_were_chosen_for_the_day() {
    let none = Statements::default();
    let lines = [waste("2026-09-10", Came::AsWaste, 5_000)];
    let found = of(&lines, &[], &none);
    assert!(found.profile.is_none() && found.standing.is_none() && found.worst.is_none());
    assert_eq!(found.coolant_not_judged.g(), 5_000);
    let later = Statements {
        chosen: vec![chosen("us-fed", "2026-09-11")],
        ..federal()
    };
    assert_eq!(
        of(&lines, &[], &later).coolant_not_judged.g(),
        5_000,
        "a choice never reaches back"
    );
}

#[test]
fn what_nobody_decided_or_determined_stands_in_the_worst_case_only() {
    let undecided = [
        waste("2026-09-03", Came::AsWaste, 60_000),
        waste("2026-09-04", Came::Undecided, 50_000),
    ];
    let found = of(&undecided, &[], &federal());
    assert_eq!(found.standing.unwrap().class, Class::Smallest);
    assert_eq!(found.worst.unwrap().class, Class::Middle);
    assert_eq!(found.coolant_perhaps.g(), 50_000);
    let pending = Statements {
        determinations: Vec::new(),
        ..federal()
    };
    let found = of(&undecided, &[], &pending);
    assert_eq!(found.coolant_firm.g(), 0);
    assert_eq!(found.coolant_perhaps.g(), 110_000);
}

#[test]
fn a_containers_own_determination_goes_before_that_of_the_site() {
    let mut stated = federal();
    stated
        .determinations
        .push(determined(Some(DRUM), "2026-09-05", Hazardous::No));
    let line = |on: &str| {
        let waste = waste(on, Came::AsWaste, 1);
        Generation::line(&waste, &stated, profiles()).unwrap()
    };
    assert_eq!(line("2026-09-04").counts, Counts::Yes);
    let not = line("2026-09-05");
    assert_eq!((not.counts, not.section), (Counts::No, "262.11; 262.13"));
}

#[test]
fn a_change_of_rules_within_a_month_judges_each_line_by_its_own_day() {
    let mut stated = federal();
    stated
        .chosen
        .push(chosen("us-state-universal-waste", "2026-09-16"));
    let counts = |on: &str| {
        let waste = waste(on, Came::AsWaste, 1);
        Generation::line(&waste, &stated, profiles()).map(|it| it.counts)
    };
    assert_eq!(counts("2026-09-15"), Some(Counts::Yes));
    assert!(stated.profile_on(day("2026-09-15"), profiles()).unwrap().id == "us-fed-2026");
    let after = stated.profile_on(day("2026-09-16"), profiles()).unwrap();
    assert_eq!(after.jurisdiction, "us-state-universal-waste");
}

#[test]
fn a_line_without_a_mass_is_counted_apart() {
    let line = Waste {
        mass: None,
        ..waste("2026-09-10", Came::AsWaste, 1)
    };
    let found = of(&[line], &[], &federal());
    assert_eq!(found.lines_without_mass, 1);
    assert_eq!(found.firm().unwrap(), Mass::MIN);
}

#[test]
fn months_end_on_their_own_last_day() {
    for (text, last) in [
        ("2028-02", "2028-02-29"),
        ("2100-02", "2100-02-28"),
        ("2026-12", "2026-12-31"),
    ] {
        assert_eq!(month(text).last_day(), day(last));
    }
    assert_eq!(month("2026-01").before(), month("2025-12"));
    assert_eq!(month("2026-12").after(), month("2027-01"));
}

/// The shape of each fact as records hold it: it must go on being read.
#[test]
fn the_facts_are_read_as_they_were_written() {
    let id = Uuid::from_u128(7);
    for written in [
        format!(r#"{{"signed":{{"fact":"{id}"}}}}"#),
        format!(
            r#"{{"profile_chosen":{{"site":"{id}","jurisdiction":"us-fed","from":"2026-01-01"}}}}"#
        ),
        format!(
            r#"{{"determination":{{"site":"{id}","vessel":"{id}","covers_from":"2026-09-01","hazardous":"yes","codes":["D008"],"basis":{{"test":{{"number":"LAB 7","sampled_on":"2026-09-02","lines":[{{"analyte":"lead","printed":"6.8"}}],"ph":"8.1"}}}}}}}}"#
        ),
        format!(
            r#"{{"determination":{{"site":"{id}","covers_from":"2026-09-01","hazardous":"no","basis":{{"knowledge":{{"digest":"ab"}}}}}}}}"#
        ),
        format!(r#"{{"other_waste":{{"site":"{id}","month":"2026-09"}}}}"#),
        format!(
            r#"{{"container_event":{{"vessel":"{id}","event":{{"placed":{{"satellite":"bay 4"}}}}}}}}"#
        ),
    ] {
        let what: What =
            serde_json::from_str(&written).unwrap_or_else(|it| panic!("{written}: {it}"));
        assert_eq!(serde_json::to_string(&what).unwrap(), written);
        assert!(What::KINDS.contains(&what.kind()));
    }
}
