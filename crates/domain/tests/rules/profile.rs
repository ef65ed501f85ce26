//! Profiles: what can be read, what is refused, which one is in force.

use domain::rules::{Mark, Profiles, StartDay};

use crate::{generator, profile};

const PROFILES: &str = include_str!("../../tables/rules_profiles.csv");
const LIMITS: &str = include_str!("../../tables/rules_analyte_limits.csv");

fn problem(profiles: &str) -> String {
    Profiles::read(profiles, LIMITS).unwrap_err().to_string()
}

#[test]
fn the_profile_in_force_is_that_of_the_day() {
    let known = Profiles::built_in().unwrap();
    let on = |day: &str| {
        known
            .in_force("us-fed", day.parse().unwrap())
            .map(|profile| profile.id.as_str())
    };
    assert_eq!(on("2025-01-21"), Some("us-fed-2024"));
    assert_eq!(on("2025-01-22"), Some("us-fed-2026"));
    assert_eq!(on("2031-05-05"), Some("us-fed-2026"));
    assert_eq!(on("2010-01-01"), None);
    assert_eq!(
        known.in_force("nowhere", "2026-01-01".parse().unwrap()),
        None
    );
}

#[test]
fn every_kind_of_jurisdiction_has_an_example_and_every_figure_its_section() {
    for id in [
        "us-fed-2026",
        "us-fed-2024",
        "us-state-universal-waste",
        "us-state-eg-criterion",
        "us-state-best-practice",
        "us-state-presumed-hazardous",
        "us-state-mqg-45-60",
        "us-state-5y",
        "eu",
        "uk",
        "ca",
    ] {
        let found = profile(id);
        assert_eq!(found.start_day.value, StartDay::Zero, "{id}");
        if let Some(rules) = &found.generator {
            assert!(!rules.thresholds.small_max.section.is_empty(), "{id}");
        }
    }
    assert_eq!(generator().counting.episodic.mark, Mark::Memory);
    assert!(profile("ca").generator.is_none() && profile("ca").retention.is_none());
    // What one is like, it takes over; what it states, it keeps.
    let old = profile("us-fed-2024").generator.as_ref().unwrap();
    let now = generator();
    assert_eq!(old.thresholds, now.thresholds);
    assert_ne!(
        old.class(domain::rules::Class::Largest).exception,
        now.class(domain::rules::Class::Largest).exception
    );
}

#[test]
fn what_is_wrong_in_a_table_cannot_be_read() {
    let changed = |from: &str, to: &str| {
        assert!(PROFILES.contains(from), "{from}");
        problem(&PROFILES.replacen(from, to, 1))
    };
    for (from, to, says) in [
        (
            "small_max,100000 g",
            "small_max,100000",
            "no number with a unit",
        ),
        (
            "small_max,100000 g",
            "small_max,1000000 g",
            "is not above small_max",
        ),
        (
            "us-fed-2026,small_max,",
            "us-fed-2026,smal_max,",
            "small_max: is not stated",
        ),
        ("accumulation.2,180 d", "accumulation.2,180", "no span"),
        (
            "2025-01-22,89 FR 60692",
            "2025-02-30,89 FR 60692",
            "no date",
        ),
        ("antifreeze,universal", "antifreeze,perhaps", "none of"),
        (
            "glycol_criterion,0.10",
            "glycol_criterion,10",
            "no share from 0 to 1",
        ),
        (
            "retention,5 y,state recordkeeping page,",
            "retention,5 y,,",
            "no section",
        ),
        (
            "us-state-5y,like,us-fed-2026",
            "us-state-5y,like,us-fed-1900",
            "there is no profile",
        ),
        (
            "us-state-5y,like,us-fed-2026",
            "us-state-5y,like,us-state-5y",
            "ring",
        ),
        (
            "analyte_limits,us-toxicity",
            "analyte_limits,ours",
            "no limits called",
        ),
        ("ca,about", "ca,jurisdiction", "twice"),
        ("eu,retention,3 y", "eu,retained,3 y", "no field"),
        (
            "effective_from,2017-05-30",
            "effective_from,2025-01-22",
            "of the same jurisdiction",
        ),
        ("262.16(b),seen", "262.16(b),sure", "no mark"),
        (
            "profile,field,value,section,mark",
            "profile,field,value,where,mark",
            "first line",
        ),
    ] {
        let problem = changed(from, to);
        assert!(problem.contains(says), "{to}: {problem}");
    }
}

#[test]
fn the_start_may_be_counted_as_day_one() {
    let stricter = PROFILES.replacen(
        "us-fed-2026,start_date_is_day,0",
        "us-fed-2026,start_date_is_day,1",
        1,
    );
    let known = Profiles::read(&stricter, LIMITS).unwrap();
    let strict = known.named("us-fed-2026").unwrap();
    let row = "category=SQG;start=2026-01-15;as_of=2026-07-01";
    let found = domain::rules::notation::answer("accumulation", strict, row).unwrap();
    assert_eq!(found.got, "deadline=2026-07-13;days_left=12");
}

/// 40 CFR 262.11(f), and a state that asks for five years: a 29 February is followed by a 1 March.
#[test]
fn papers_are_kept_for_years_never_for_less() {
    use domain::rules::determination::{KeptUntil, keep_until};
    let day = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
    let kept = |sent: &str, id: &str| keep_until(Some(day(sent)), profile(id), false);
    assert_eq!(
        kept("2028-02-29", "us-fed-2026"),
        KeptUntil::Day(day("2031-03-01"))
    );
    assert_eq!(
        kept("2028-02-29", "us-state-5y"),
        KeptUntil::Day(day("2033-03-01"))
    );
    assert_eq!(
        kept("2027-02-28", "us-state-5y"),
        KeptUntil::Day(day("2032-02-28"))
    );
    let held = keep_until(Some(day("2028-02-29")), profile("us-state-5y"), true);
    assert_eq!(held, KeptUntil::NoEnd);
    assert_eq!(kept("2028-02-29", "ca"), KeptUntil::NoEnd);
}
