//! What a month of a site comes to: the day of the event decides the rules, grams decide the class.

#![expect(
    clippy::unwrap_used,
    reason = "a figure that is not there has failed the test"
)]

use chrono::NaiveDate;
use domain::book::component::{Base, InhibitorClass};
use domain::book::contents::Contents;
use domain::book::month::{Month, VesselMasses, VesselStatement};
use domain::fact::{Area, ContainerChange, What};
use domain::ids::{PlaceId, SiteId};
use domain::moment::Moment;
use domain::quantity::Mass;
use domain::quantity::entry::read;
use domain::rules::counting::Counts;
use domain::rules::{Class, Profile, Profiles};
use domain::waste::{
    Basis, Came, CannotClose, Clock, Conditions, Determination, Generation, Hazardous, Holding,
    NextLook, OtherWaste, Others, ProfileChosen, Recycled, SiteFigure, SiteMass, SiteStatement,
    Stated, Statements, Stream, StreamBalance, Waste, area_key, may_close, next_look_at,
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
        way: None,
        on_hold: false,
        number: None,
    }
}

fn determined(vessel: Option<PlaceId>, from: &str, hazardous: Hazardous) -> Determination {
    Determination {
        site: SITE,
        vessel,
        covers_from: day(from),
        hazardous,
        codes: Vec::new(),
        recycled: None,
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

/// What sums are made over: whatever changes within the months, lines that are summed by span, vessel
/// and how they came come to what the lines come to one by one.
#[test]
fn sums_by_span_come_to_what_the_lines_come_to() {
    let mut stated = federal();
    stated.chosen.push(chosen("us-fed", "2026-02-11"));
    stated.chosen.push(chosen("eu", "2026-03-20"));
    stated
        .determinations
        .push(determined(Some(DRUM), "2026-01-15", Hazardous::No));
    stated
        .determinations
        .push(determined(None, "2026-02-28", Hazardous::No));
    let months = (month("2025-12"), month("2026-04"));
    let spans = stated.spans(months, profiles());
    // Spans follow one another and fill the months to the day.
    assert_eq!(spans.first().unwrap().0, day("2025-12-01"));
    assert_eq!(spans.last().unwrap().1, day("2026-04-30"));
    for pair in spans.windows(2) {
        assert_eq!(pair[0].1.succ_opt(), Some(pair[1].0));
    }
    let first_day = day("2025-12-01");
    let lines: Vec<Waste> = (0..151_u64)
        .flat_map(|n| [(n, None), (n, Some(DRUM))])
        .map(|(n, vessel)| Waste {
            day: first_day + chrono::Days::new(n),
            vessel,
            came: Came::AsWaste,
            mass: (n % 7 != 3).then(|| Mass::from_g(i64::try_from(n * n + 1).unwrap()).unwrap()),
        })
        .collect();
    let mut sums = Vec::new();
    for (first, last) in &spans {
        for vessel in [None, Some(DRUM)] {
            let own = lines
                .iter()
                .filter(|it| it.vessel == vessel && (*first..=*last).contains(&it.day));
            let g = own.clone().filter_map(|it| Some(it.mass?.g())).sum();
            let of = |mass| Waste {
                day: *first,
                vessel,
                came: Came::AsWaste,
                mass,
            };
            sums.push(of(Some(Mass::from_g(g).unwrap())));
            sums.extend(own.filter(|it| it.mass.is_none()).map(|_| of(None)));
        }
    }
    let come_to = |all: &[Waste], of: &str| {
        let of = month(of);
        let own: Vec<Waste> = all
            .iter()
            .filter(|it| Month::of(it.day) == of)
            .copied()
            .collect();
        Generation::of(of, &own, &[], (&stated, profiles())).unwrap()
    };
    let mut figures = std::collections::BTreeSet::new();
    for of in ["2025-12", "2026-01", "2026-02", "2026-03", "2026-04"] {
        let found = come_to(&sums, of);
        assert_eq!(found, come_to(&lines, of), "{of}");
        figures.extend(
            SiteMass::all(&found)
                .iter()
                .filter(|it| it.g > 0)
                .map(|it| it.figure.code()),
        );
    }
    assert!(
        figures.len() >= 3,
        "the months must differ in what they count: {figures:?}"
    );
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
            r#"{{"month_closed":{{"statement":{{"shop":"{id}","month":"2026-09","flows":[],"vessels":[],"head_seq":7,"head_hash":"ab"}}}}}}"#
        ),
        format!(
            r#"{{"month_closed":{{"statement":{{"shop":"{id}","month":"2026-09","flows":[{{"measure":"became_waste","typed_ml":1000,"shown_ml":1000,"mass_g":1066,"lines":1,"lines_without_mass":0}}],"vessels":[],"head_seq":7,"head_hash":"ab"}},"other_shops":[{{"shop":"{id}","month":"2026-09","flows":[],"vessels":[],"head_seq":7,"head_hash":"ab"}}],"site":{{"site":"{id}","profile":"us-fed-2026","class":"VSQG","worst":"SQG","masses":[{{"figure":"coolant_firm","g":1066}}],"others":[{{"site":"{id}","month":"2026-09"}}],"open":{{"questions":[{{"job":"{id}","line":0,"kind":"over_drawn"}}],"not_determined":["{id}"],"lines_without_mass":0}},"containers":[{{"vessel":"{id}","start":"2026-09-01","held_ml":1000,"mass_g":1066}}]}}}}}}"#
        ),
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

/// 29 February is the last day of a month in leap years alone: every fourth year, not 2100, but 2000
/// (the Gregorian calendar).
#[test]
fn a_month_can_be_closed_from_the_day_after_its_last_one_on() {
    for (name, last, first_after) in [
        ("2028-02", "2028-02-29", "2028-03-01"),
        ("2027-02", "2027-02-28", "2027-03-01"),
        ("2100-02", "2100-02-28", "2100-03-01"),
        ("2000-02", "2000-02-29", "2000-03-01"),
        ("2026-12", "2026-12-31", "2027-01-01"),
    ] {
        let first = month("1999-12");
        let ends = Err(CannotClose::NotEnded(day(last)));
        assert_eq!(
            may_close((month(name), first), day(last), false),
            ends,
            "{name}"
        );
        assert_eq!(
            may_close((month(name), first), day(first_after), false),
            Ok(())
        );
        let again = may_close((month(name), first), day(first_after), true);
        assert_eq!(again, Err(CannotClose::AlreadyClosed));
        let too_early = may_close((first.before(), first), day(first_after), false);
        assert_eq!(too_early, Err(CannotClose::BeforeRecord(first)));
        assert_eq!(may_close((first, first), day(first_after), false), Ok(()));
    }
}

fn closed(lines: &[Waste], others: Vec<OtherWaste>, stated: &Statements) -> SiteStatement {
    let found = of(lines, &others, stated);
    let about = (lines, stated, others);
    SiteStatement::of(SITE, &found, about, (Vec::new(), Vec::new()))
}

/// Water at 20 °C has 998.2 kg/m³ (IAPWS-95): 4 L are 3,993 g, which the curve of the book meets to
/// one part in a thousand.
#[test]
fn a_stream_closes_to_the_gram_and_tells_what_rounding_left() {
    let water = |ml| Contents::of(Base::Eg, InhibitorClass::Oat, ml, 0);
    let statement = |opening, taken_in, given_out, closing| VesselStatement {
        vessel: DRUM,
        opening: water(opening),
        taken_in: water(taken_in),
        given_out: water(given_out),
        closing: water(closing),
        shrink_on_mixing_ml: 0,
    };
    let masses = VesselMasses {
        came_in_g: 999,
        shipped_g: 998 + 998,
        ..VesselMasses::default()
    };
    let drum = (statement(3_000, 1_000, 2_000, 2_000), masses);
    let other = (statement(1_000, 0, 0, 1_000), VesselMasses::default());
    let sum = StreamBalance::of(&[drum.clone(), other]);
    assert!(sum.closes);
    assert!((sum.opening_g - 3_993).abs() <= 4, "{sum:?}");
    assert_eq!((sum.opening_g, sum.closing_g), (3_991, 2_993));
    // 3,991 + 999 − 1,996 is a gram more than what is there: each line was rounded by itself.
    assert_eq!(sum.mixing_g, -1);
    let gone = (statement(3_000, 1_000, 2_000, 1_999), masses);
    assert!(!StreamBalance::of(&[drum, gone]).closes);
}

#[test]
fn a_class_rose_where_it_is_larger_than_the_month_before() {
    let with = |g| of(&[waste("2026-09-10", Came::AsWaste, g)], &[], &federal());
    let (small, middle, large) = (with(1), with(100_001), with(1_000_000));
    assert_eq!(middle.rose_from(&small), Some(Class::Smallest));
    assert_eq!(large.rose_from(&middle), Some(Class::Middle));
    assert_eq!(small.rose_from(&large), None);
    assert_eq!(middle.rose_from(&middle), None);
    let no_rules = of(&[], &[], &Statements::default());
    assert_eq!(
        large.rose_from(&no_rules),
        None,
        "no class is no smaller one"
    );
}

/// 100 kg is the most of the smallest class: 40 CFR 260.10 by way of `tables/rules_profiles.csv`.
#[test]
fn rules_chosen_later_leave_a_closed_month_as_it_was_signed() {
    let lines = [waste("2026-09-10", Came::AsWaste, 100_001)];
    let none = vec![OtherWaste {
        site: SITE,
        month: month("2026-09"),
        stream: None,
    }];
    let signed = closed(&lines, none.clone(), &federal());
    assert_eq!(signed.class.as_deref(), Some("SQG"));
    assert_eq!(signed.g(SiteFigure::CoolantFirm), 100_001);
    let stored = serde_json::to_string(&signed).unwrap();

    // In the middle of the year after, the site comes under the rules of a state.
    let mut later = federal();
    later
        .chosen
        .push(chosen("us-state-universal-waste", "2027-07-01"));
    let now = of(&lines, &none, &later);
    assert_eq!(signed.adjustments(&SiteMass::all(&now)), []);
    assert_eq!(now.code(now.standing), signed.class);
    // Determined otherwise for the month itself it is an adjustment, and the statement says what it
    // said.
    let otherwise = determined(None, "2026-09-01", Hazardous::No);
    later.determinations.push(otherwise);
    let now = of(&lines, &none, &later);
    let moved = |figure, g| SiteMass { figure, g };
    assert_eq!(
        signed.adjustments(&SiteMass::all(&now)),
        [
            moved(SiteFigure::CoolantFirm, -100_001),
            moved(SiteFigure::CoolantNotCounted, 100_001)
        ]
    );
    assert_eq!(now.code(now.standing).as_deref(), Some("VSQG"));
    assert_eq!(serde_json::to_string(&signed).unwrap(), stored);
}

#[test]
fn a_late_line_is_an_adjustment_and_what_nobody_determined_is_named() {
    let stated = Statements {
        determinations: Vec::new(),
        ..federal()
    };
    let mut lines = vec![waste("2026-09-30", Came::AsWaste, 40_000)];
    let signed = closed(&lines, Vec::new(), &stated);
    assert_eq!(signed.open.not_determined, [DRUM].into());
    assert_eq!(signed.g(SiteFigure::CoolantPerhaps), 40_000);
    assert!(signed.others.is_empty(), "nobody said anything");
    let signed_firm = closed(&lines, Vec::new(), &federal());
    lines.push(waste("2026-09-02", Came::AsWaste, 7));
    let now = of(&lines, &[], &federal());
    let expected = SiteMass {
        figure: SiteFigure::CoolantFirm,
        g: 7,
    };
    assert_eq!(signed_firm.adjustments(&SiteMass::all(&now)), [expected]);
    // What is undecided becomes less as it is used, which is no late entry; a late one shows in what
    // became waste.
    let now = of(&lines, &[], &stated);
    assert_eq!(signed.adjustments(&SiteMass::all(&now)), []);
}

fn at(day_text: &str) -> Moment {
    Moment(
        day(day_text)
            .and_hms_opt(12, 0, 0)
            .unwrap()
            .and_utc()
            .timestamp_millis(),
    )
}

fn federal_rules() -> Option<&'static Profile> {
    profiles().in_force("us-fed", day("2026-10-05"))
}

#[test]
fn what_was_written_on_a_container_before_it_was_emptied_is_not_of_what_it_holds() {
    let start = ContainerChange::StartDate(day("2026-03-01"));
    let words = ContainerChange::Labelled("hazardous waste".to_owned());
    let place = ContainerChange::Placed(Area::Central);
    let look = ContainerChange::Inspected(None);
    let events = || {
        let on = |date: &str, event| (at(date), day(date), event);
        [
            on("2026-03-01", &start),
            on("2026-03-02", &words),
            on("2026-03-03", &place),
            on("2026-03-04", &look),
        ]
    };
    let emptied = |date: &str| Some((at(date), day(date)));
    let kept = Stated::of((None, None), events());
    assert_eq!(kept.start, Some(day("2026-03-01")));
    assert_eq!(kept.words.as_deref(), Some("hazardous waste"));
    // At the same moment the event is of the batch before.
    let gone = Stated::of((Some(day("2026-02-01")), emptied("2026-03-02")), events());
    assert_eq!((gone.start, gone.words), (None, None));
    assert_eq!(gone.area, Some(Area::Central));
    assert_eq!(gone.look, Some((day("2026-03-04"), None)));
    let later = Stated::of((Some(day("2026-02-02")), emptied("2026-02-01")), events());
    assert_eq!(later.start, Some(day("2026-03-01")));
    let by_card = |date| Stated::of((Some(day(date)), emptied("2026-05-01")), []).start;
    assert_eq!(by_card("2026-05-01"), None);
    assert_eq!(by_card("2026-05-02"), Some(day("2026-05-02")));
    let closed = ContainerChange::Closed;
    let replaced = [(at("2026-03-05"), day("2026-03-05"), &closed)];
    let anew = Stated::of((Some(day("2026-03-01")), None), replaced);
    assert_eq!(anew.start, None);
    assert!(anew.lacks_start_date() && !later.lacks_start_date());
    let satellite = ContainerChange::Placed(Area::Satellite("bay 4".to_owned()));
    let moved = [(at("2026-03-05"), day("2026-03-05"), &satellite)];
    assert!(!Stated::of((None, None), moved).lacks_start_date());
}

/// 40 CFR 262.16(b)(2)(iv), from memory: a small generator looks at its containers every week; a
/// very small one is not asked to.
#[test]
fn a_container_without_any_date_is_to_be_looked_at_all_the_same() {
    let small = (federal_rules(), Some(Class::Middle));
    let of = |stated: &Stated, became: Option<&str>| next_look_at((stated, became.map(day)), small);
    let nothing = Stated::default();
    assert_eq!(of(&nothing, None), NextLook::AtOnce);
    let week_after = NextLook::By(day("2026-03-08"));
    assert_eq!(of(&nothing, Some("2026-03-01")), week_after);
    let dated = Stated {
        start: Some(day("2026-03-01")),
        ..Stated::default()
    };
    assert_eq!(of(&dated, Some("2026-02-01")), week_after);
    let looked = Stated {
        look: Some((day("2026-03-08"), None)),
        ..dated
    };
    assert_eq!(of(&looked, None), NextLook::By(day("2026-03-15")));
    let smallest = (federal_rules(), Some(Class::Smallest));
    for stated in [&nothing, &looked] {
        assert_eq!(next_look_at((stated, None), smallest), NextLook::NotAsked);
        assert_eq!(
            next_look_at((stated, None), (None, None)),
            NextLook::NotAsked
        );
    }
}

/// 40 CFR 262.14(a)(4), 262.16(b), from memory: a very small generator has no clock below 1,000 kg on
/// the site; from there on, and as a small one, 180 days.
#[test]
fn a_clock_runs_by_the_class_on_site_and_not_for_what_is_not_hazardous() {
    let stated = Stated {
        start: Some(day("2026-04-01")),
        ..Stated::default()
    };
    let under = |class| Conditions {
        class,
        passed: None,
    };
    let of = |holding, today: &str, class| {
        let by = (federal_rules(), under(class));
        Clock::of(&stated, (holding, day(today)), by, (None, None))
    };
    let small = Some(Class::Middle);
    assert_eq!(of(Holding::Nothing, "2026-10-05", small), Clock::Empty);
    assert_eq!(
        of(Holding::NotHazardous, "2026-10-05", small),
        Clock::NotHazardous
    );
    let left = |clock| match clock {
        Clock::Until { days_left, .. } => Some(days_left),
        _ => None,
    };
    // 1 April and 180 days is 28 September.
    assert_eq!(left(of(Holding::Waste, "2026-09-28", small)), Some(0));
    assert_eq!(left(of(Holding::Waste, "2026-10-05", small)), Some(-7));
    let very_small = Some(Class::Smallest);
    assert!(matches!(
        of(Holding::Waste, "2026-10-05", very_small),
        Clock::None(_)
    ));
    let on_site = |kg: &str| {
        Conditions::on_site(
            (very_small, very_small),
            read(kg).unwrap().value,
            federal_rules(),
        )
    };
    assert_eq!(on_site("999.999 kg"), under(very_small));
    assert_eq!(on_site("1000 kg").class, small);
    assert_eq!(
        Conditions::on_site((small, very_small), Mass::MIN, federal_rules()),
        under(small)
    );
    assert_eq!(
        Conditions::on_site((None, None), Mass::MIN, None),
        Conditions::default()
    );
    let undated = Stated::default();
    let clock = Clock::of(
        &undated,
        (Holding::Waste, day("2026-10-05")),
        (federal_rules(), under(small)),
        (None, None),
    );
    assert_eq!(clock, Clock::NoStartDate);
    let satellite = Stated {
        area: Some(Area::Satellite("bay 4".to_owned())),
        ..stated.clone()
    };
    let clock = Clock::of(
        &satellite,
        (Holding::Waste, day("2026-10-05")),
        (federal_rules(), under(small)),
        (None, None),
    );
    assert_eq!(clock, Clock::Satellite);
    assert_eq!(area_key(" Bay 4 "), area_key("bay 4"));
    assert_ne!(area_key("bay 4"), area_key("bay 5"));
}

/// Case A02, 40 CFR 262.16(c): over 200 miles, not at, and 270 days for 180.
#[test]
fn a_long_way_to_the_facility_gives_more_days() {
    let dated = Stated {
        start: Some(day("2026-01-15")),
        ..Stated::default()
    };
    let until = |way: &str| {
        let way = domain::rules::read_way(way).ok();
        let conditions = Conditions {
            class: Some(Class::Middle),
            passed: None,
        };
        let rules = (federal_rules(), conditions);
        let of = (Holding::Waste, day("2026-02-01"));
        match Clock::of(&dated, of, rules, (None, way)) {
            Clock::Until { on, .. } => on,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(until("200 mi"), day("2026-07-14"));
    assert_eq!(until("200.1 mi"), day("2026-10-12"));
}

/// Case A08, 40 CFR 262.14(a)(4), second-hand: a very small generator with 1,000 kg on the site is under
/// the conditions of a small one from the day that was reached, and no container of its before that.
#[test]
fn conditions_by_mass_alone_count_from_the_day_it_was_reached() {
    let very_small = Some(Class::Smallest);
    let kg = |kg: &str| read(kg).unwrap().value;
    let rules = federal_rules();
    let by_mass = Conditions::on_site((very_small, very_small), kg("1000 kg"), rules);
    assert_eq!(by_mass.class, Some(Class::Middle));
    assert_eq!(by_mass.passed, Some(kg("999.999 kg")));
    let until = |start: &str, conditions, reached: Option<&str>| {
        let stated = Stated {
            start: Some(day(start)),
            ..Stated::default()
        };
        let of = (Holding::Waste, day("2026-03-06"));
        match Clock::of(&stated, of, (rules, conditions), (reached.map(day), None)) {
            Clock::Until { on, days_left, .. } => (on.to_string(), days_left),
            other => panic!("{other:?}"),
        }
    };
    let reached = Some("2026-03-05");
    assert_eq!(
        until("2025-01-02", by_mass, reached),
        ("2026-09-01".to_owned(), 179)
    );
    // Begun after it was reached: its own start date. Nobody knows the day: the stricter one.
    assert_eq!(until("2026-03-06", by_mass, reached).0, "2026-09-02");
    assert_eq!(until("2025-01-02", by_mass, None).0, "2025-07-01");
    // A site that has been a small generator since it was begun has its limit whatever lies there.
    let by_months = Conditions::on_site((Some(Class::Middle), very_small), kg("1000 kg"), rules);
    assert_eq!(by_months.passed, None);
    assert_eq!(until("2025-01-02", by_months, reached).0, "2025-07-01");
}

#[test]
fn a_container_is_not_hazardous_only_if_all_of_its_time_is_covered() {
    let of = |determinations: Vec<Determination>| {
        let stated = Statements {
            determinations,
            ..Statements::default()
        };
        stated.is_not_hazardous(Some(DRUM), (day("2026-04-01"), day("2026-10-05")))
    };
    let no = |from| determined(Some(DRUM), from, Hazardous::No);
    assert!(!of(vec![]));
    assert!(of(vec![no("2026-04-01")]));
    assert!(!of(vec![no("2026-04-02")]), "a day was not covered");
    let turned = determined(Some(DRUM), "2026-06-01", Hazardous::Yes);
    assert!(!of(vec![no("2026-01-01"), turned.clone()]));
    assert!(!of(vec![no("2026-01-01"), turned, no("2026-07-01")]));
    let of_site = determined(None, "2026-01-01", Hazardous::No);
    assert!(of(vec![of_site]));
}

#[test]
fn a_stream_taken_back_says_nothing_about_other_waste() {
    let stream = |kg: &str| OtherWaste {
        site: SITE,
        month: month("2026-10"),
        stream: Some(Stream {
            name: "solvent".to_owned(),
            mass: read(kg).unwrap(),
            acute: false,
        }),
    };
    let none = OtherWaste {
        stream: None,
        ..stream("1 kg")
    };
    let of = |stated: &[OtherWaste]| domain::waste::in_force(month("2026-10"), stated);
    assert_eq!(of(&[stream("5 kg")]).len(), 1);
    assert_eq!(of(&[stream("5 kg"), stream("0 kg")]), []);
    let taken_back = [stream("5 kg"), none.clone()];
    assert_eq!(of(&taken_back), std::slice::from_ref(&none));
    assert_eq!(of(&[none, stream("5 kg"), stream("0 kg")]), []);
}

/// Cases G15, G16, G18 and G19: what is put back, reclaimed once more or shipped stands on the list
/// and in no sum; what is to be reclaimed counts, unless the rules leave it out.
#[test]
fn what_was_only_moved_is_in_no_sum_and_what_is_reclaimed_counts_once() {
    let lines = [
        waste("2026-09-02", Came::ToBeReclaimed, 60_000),
        waste("2026-09-03", Came::BackReclaimed, 60_000),
        waste("2026-09-04", Came::ReclaimedAgain, 60_000),
        waste("2026-09-05", Came::ReclaimedAgain, 60_000),
        waste("2026-09-06", Came::PutBack, 120_000),
        waste("2026-09-07", Came::Shipped, 150_000),
    ];
    let found = of(&lines, &[], &federal());
    assert_eq!(found.coolant_firm.g(), 60_000);
    assert_eq!(found.coolant_not_counted.g(), 0);
    assert_eq!(found.standing.unwrap().class, Class::Smallest);
    let said = |stated: &Statements| -> Vec<(Counts, String)> {
        let verdicts = lines
            .iter()
            .map(|line| Generation::line(line, stated, profiles()).unwrap());
        verdicts
            .map(|it| (it.counts, it.section.to_owned()))
            .collect()
    };
    let federal_says = said(&federal());
    let not = |section: &str| (Counts::No, section.to_owned());
    assert_eq!(federal_says[0].0, Counts::Yes);
    assert_eq!(federal_says[1], not("262.13(d)(3)"));
    assert_eq!(federal_says[2], not("262.13(d)(3)"));
    assert_eq!(federal_says[4], not("261.1(c)(1); 261.2"));
    assert_eq!(federal_says[5], not("262.13(d)(1)"));
    assert_eq!(found.section_of(Came::Shipped), Some("262.13(d)(1)"));

    let with = |jurisdiction: &str, recycled: Option<Recycled>| Statements {
        chosen: vec![chosen(jurisdiction, "2026-01-01")],
        determinations: vec![Determination {
            recycled,
            ..determined(None, "2026-01-01", Hazardous::Yes)
        }],
    };
    let unfit = [waste("2026-09-02", Came::AsWaste, 400_000)];
    let firm = |stated: &Statements, lines: &[Waste]| of(lines, &[], stated).coolant_firm.g();
    let universal = "us-state-universal-waste";
    assert_eq!(firm(&with(universal, None), &lines[..1]), 0);
    assert_eq!(firm(&with(universal, None), &unfit), 400_000);
    let recycled = with(universal, Some(Recycled::Otherwise));
    let found = of(&unfit, &[], &recycled);
    assert_eq!(
        (found.coolant_firm.g(), found.coolant_not_counted.g()),
        (0, 400_000)
    );
    let line = Generation::line(&unfit[0], &recycled, profiles()).unwrap();
    assert_eq!(line.section, "262.13(c)(6) + state rule");
    let listed = "us-state-best-practice";
    assert_eq!(
        firm(&with(listed, Some(Recycled::Otherwise)), &unfit),
        400_000
    );
    assert_eq!(firm(&with(listed, Some(Recycled::BestPractice)), &unfit), 0);
    assert_eq!(
        firm(&with("us-fed", Some(Recycled::BestPractice)), &unfit),
        400_000
    );
}

#[test]
fn every_profile_of_a_span_is_named_with_the_day_it_begins() {
    let stated = Statements {
        chosen: vec![chosen("us-fed", "2024-06-01"), chosen("eu", "2026-07-01")],
        ..Statements::default()
    };
    let over = |first: &str, last: &str| -> Vec<(String, String)> {
        let profiles = Profiles::built_in().unwrap();
        let found = stated.profiles_over((day(first), day(last)), profiles);
        found
            .into_iter()
            .map(|(from, profile)| {
                let id = profile.map_or("none", |profile| profile.id.as_str());
                (from.to_string(), id.to_owned())
            })
            .collect()
    };
    let named = |all: &[(&str, &str)]| -> Vec<(String, String)> {
        all.iter()
            .map(|(from, id)| ((*from).to_owned(), (*id).to_owned()))
            .collect()
    };
    assert_eq!(
        over("2024-01-01", "2026-12-31"),
        named(&[
            ("2024-01-01", "none"),
            ("2024-06-01", "us-fed-2024"),
            ("2025-01-22", "us-fed-2026"),
            ("2026-07-01", "eu"),
        ])
    );
    assert_eq!(
        over("2026-02-01", "2026-02-28"),
        named(&[("2026-02-01", "us-fed-2026")])
    );
}
