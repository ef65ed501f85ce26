//! The verdict on corrosion, row by row, and the table it is held against.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::book::component::{Base, InhibitorClass as Class};
use domain::book::contents::Contents;
use domain::condition::corrosion::{
    Clock, CorrosionJudged, CorrosionReason as Why, CorrosionVerdict as Verdict, Inhibited, Proof,
    ReadBefore, Service, judge,
};
use domain::condition::freeze;
use domain::condition::policy::{Policies, Policy};
use domain::quantity::{Distance, RunningTime};
use domain::rules::Mark;

const TABLE: &str = include_str!("../tables/condition_policy.csv");

fn policy() -> &'static Policy {
    let day = "2026-10-05".parse().unwrap();
    Policies::built_in().unwrap().in_force(day).unwrap()
}

struct Case {
    class: Class,
    foreign_ml: i64,
    service: Option<(i64, Option<i64>, Option<i64>)>,
    proof: Option<(Proof, i64, i64)>,
    laboratory_days: Option<i64>,
    ph: Option<i64>,
}

const FRESH: Case = Case {
    class: Class::Oat,
    foreign_ml: 0,
    service: Some((100, None, None)),
    proof: None,
    laboratory_days: None,
    ph: None,
};

fn judged(case: &Case) -> CorrosionJudged {
    let mut held = Contents::of(Base::Eg, case.class, 40_000 - case.foreign_ml, 500_000);
    held.add(&Contents::of(
        Base::Eg,
        Class::Hoat,
        case.foreign_ml,
        500_000,
    ));
    let proofs: Vec<(Proof, ReadBefore)> = case
        .proof
        .map(|(proof, thousandths, days)| (proof, ReadBefore { thousandths, days }))
        .into_iter()
        .collect();
    let inhibited = Inhibited {
        contents: &held,
        meant: (Base::Eg, case.class),
        in_service: case.service.map(|(days, km, hours)| Service {
            days,
            distance: km.map(|km| Distance::from_m(km * 1_000).unwrap()),
            hours: hours.map(|hours| RunningTime::from_s(hours * 3_600).unwrap()),
        }),
        proofs: &proofs,
        laboratory_days: case.laboratory_days,
        ph: case.ph.map(|thousandths| ReadBefore {
            thousandths,
            days: 1,
        }),
    };
    judge(inhibited, &policy().corrosion, &policy().foreign)
}

/// The limits are those of the trade's list: 1,200 ppm nitrite with supplemental additive, 300 ppm
/// for nitrited OAT, 5 years or 150 000 mi or 12 000 h for extended life, 2 years with additive.
#[test]
#[expect(clippy::too_many_lines, reason = "one table, a verdict a row")]
fn each_verdict_has_its_reason() {
    let sca = |nitrite_ppm: i64, days| Case {
        class: Class::IatSca,
        service: Some((400, None, None)),
        proof: Some((Proof::Nitrite, nitrite_ppm * 1_000, days)),
        ..FRESH
    };
    for (name, case, reason) in [
        ("fresh", FRESH, Why::Protected),
        (
            "a year without a test",
            Case {
                service: Some((366, None, None)),
                ..FRESH
            },
            Why::NeverTested,
        ),
        (
            "laboratory",
            Case {
                service: Some((900, None, None)),
                laboratory_days: Some(300),
                ..FRESH
            },
            Why::Protected,
        ),
        (
            "old laboratory",
            Case {
                service: Some((900, None, None)),
                laboratory_days: Some(400),
                ..FRESH
            },
            Why::OldTest,
        ),
        (
            "nobody knows since when",
            Case {
                service: None,
                ..FRESH
            },
            Why::AgeUnknown,
        ),
        (
            "tested and nobody knows since when",
            Case {
                service: None,
                laboratory_days: Some(1),
                ..FRESH
            },
            Why::AgeUnknown,
        ),
        (
            "5 years",
            Case {
                service: Some((1_826, None, None)),
                ..FRESH
            },
            Why::TooOld(Clock::Days),
        ),
        (
            "150 000 mi",
            Case {
                service: Some((200, Some(241_402), None)),
                ..FRESH
            },
            Why::TooOld(Clock::Distance),
        ),
        (
            "a tenth before 12 000 h",
            Case {
                service: Some((200, Some(10), Some(10_800))),
                ..FRESH
            },
            Why::DueSoon(Clock::Hours),
        ),
        ("nitrite 1,200", sca(1_200, 10), Why::Protected),
        (
            "nitrite 1,199",
            sca(1_199, 10),
            Why::TooLittle(Proof::Nitrite),
        ),
        ("nitrite 2,400", sca(2_400, 10), Why::Protected),
        (
            "nitrite 2,401",
            sca(2_401, 10),
            Why::TooMuch(Proof::Nitrite),
        ),
        ("nitrite half a year ago", sca(1_500, 184), Why::OldTest),
        (
            "nitrited OAT",
            Case {
                class: Class::Noat,
                ..sca(299, 5)
            },
            Why::TooLittle(Proof::Nitrite),
        ),
        (
            "a jug of engine coolant in a battery loop",
            Case {
                class: Class::EvLowConductivity,
                proof: Some((Proof::Conductivity, 120_000, 1)),
                ..FRESH
            },
            Why::TooConductive,
        ),
        (
            "a battery loop at its limit",
            Case {
                class: Class::EvLowConductivity,
                proof: Some((Proof::Conductivity, 100_000, 1)),
                ..FRESH
            },
            Why::Protected,
        ),
        (
            "a battery loop just above its limit",
            Case {
                class: Class::EvLowConductivity,
                proof: Some((Proof::Conductivity, 100_100, 1)),
                ..FRESH
            },
            Why::TooConductive,
        ),
        (
            "a battery loop with a little engine coolant",
            Case {
                class: Class::EvLowConductivity,
                foreign_ml: 1_000,
                ..FRESH
            },
            Why::Mixed,
        ),
        (
            "a battery loop with a jug of engine coolant",
            Case {
                class: Class::EvLowConductivity,
                foreign_ml: 1_001,
                ..FRESH
            },
            Why::Lost,
        ),
        (
            "tainted",
            Case {
                foreign_ml: 3_900,
                ..FRESH
            },
            Why::Protected,
        ),
        (
            "mixed",
            Case {
                foreign_ml: 4_000,
                ..FRESH
            },
            Why::Mixed,
        ),
        (
            "lost",
            Case {
                foreign_ml: 10_001,
                ..FRESH
            },
            Why::Lost,
        ),
        (
            "pH 9.6",
            Case {
                ph: Some(9_600),
                ..FRESH
            },
            Why::PhOutside,
        ),
        (
            "pH 7.9 of conventional coolant",
            Case {
                class: Class::Iat,
                ph: Some(7_900),
                ..FRESH
            },
            Why::PhReplace,
        ),
        (
            "class",
            Case {
                class: Class::Unknown,
                ..FRESH
            },
            Why::ClassUnknown,
        ),
    ] {
        let found = judged(&case);
        assert_eq!(found.reason, reason, "{name}: {found:?}");
    }
}

#[test]
fn a_ph_can_only_ask_for_a_look() {
    for ph in (0..=14_000).step_by(100) {
        let old = Case {
            service: Some((400, None, None)),
            ph: Some(ph),
            ..FRESH
        };
        let without = judged(&Case { ph: None, ..old }).verdict();
        let with = judged(&old).verdict();
        assert_eq!(without, Verdict::NotProven);
        assert!(
            [Verdict::NotProven, Verdict::CheckSoon].contains(&with),
            "{ph}"
        );
    }
}

#[test]
fn everything_is_told_and_nothing_hides_behind_the_gravest() {
    let case = Case {
        foreign_ml: 5_000,
        service: Some((1_900, None, None)),
        ph: Some(6_000),
        ..FRESH
    };
    let found = judged(&case);
    assert_eq!(found.reason, Why::TooOld(Clock::Days));
    assert_eq!(found.also, [Why::Mixed, Why::PhOutside]);
    assert_eq!(found.foreign.unwrap().0.millionths(), 125_000);
}

#[test]
fn the_policy_names_for_every_line_where_it_comes_from() {
    let policy = policy();
    // Our own defaults, as they are written down among the decisions.
    assert_eq!(
        policy.freeze,
        freeze::FreezePolicy {
            margin_watch: domain::quantity::TemperatureDifference::from_millikelvin(3_000).unwrap(),
            test_older_than_days: 180,
            least_level_millionths: 850_000,
        }
    );
    assert!(policy.rows.len() > 80);
    for row in &policy.rows {
        let figure = &row.figure;
        assert!(
            figure.mark == Mark::Choice || !figure.section.is_empty(),
            "{row:?}"
        );
        if figure.mark == Mark::Memory {
            assert_eq!(
                row.standing(),
                "trade default, confirm with the engine maker"
            );
        }
    }
}

#[test]
fn a_new_version_judges_from_its_day_on_and_the_old_one_stays() {
    let stricter = format!(
        "{TABLE}trade-2027,like,trade-2026,,choice\n\
         trade-2027,effective_from,2027-01-01,,choice\n\
         trade-2027,freeze_margin_watch,5 °C,shop order,choice\n"
    );
    let policies = Policies::read(&stricter).unwrap();
    let margin = |day: &str| {
        let policy = policies.in_force(day.parse().unwrap());
        policy.map(|policy| policy.freeze.margin_watch.millikelvin())
    };
    assert_eq!(margin("2025-12-31"), None);
    assert_eq!(margin("2026-12-31"), Some(3_000));
    assert_eq!(margin("2027-01-01"), Some(5_000));
    for (from, to, says) in [
        (
            "freeze_margin_watch,3 °C",
            "freeze_margin_watch,3",
            "no number in °C",
        ),
        ("freeze_margin_watch", "freeze_margin", "is not stated"),
        ("proof.NOAT,nitrite", "proof.NOAT,nitrat", "is no proof"),
        (
            "foreign_tainted_from,5 %",
            "foreign_tainted_from,50 %",
            "lies below",
        ),
        ("ph.OAT,7.0 to 9.5", "ph.OAT,9.5 to 7.0", "is no range"),
    ] {
        assert!(TABLE.contains(from), "{from}");
        let problem = Policies::read(&TABLE.replacen(from, to, 1)).unwrap_err();
        assert!(problem.to_string().contains(says), "{problem}");
    }
    let twice = stricter.replace("2027-01-01", "2026-01-01");
    let problem = Policies::read(&twice).unwrap_err().to_string();
    assert!(problem.contains("is that of trade-2026"), "{problem}");
}

/// A third of its capacity or a question that is open: neither reads as ready, each for a reason of
/// its own.
#[test]
fn a_loop_that_holds_a_third_or_whose_book_is_in_question_is_not_ready() {
    use domain::book::outcome::{Figures, Knowledge};
    use domain::condition::{Chemistry, FreezeReason, FreezeVerdict, Known, Setting};
    use domain::moment::Moment;
    let known = |shown_ml| Known {
        figures: Figures {
            shown_ml,
            fraction_millionths: 540_000,
            sigma_millionths: 5_000,
            knowledge: Knowledge::Tested,
        },
        chemistry: Chemistry::One(domain::fluid::Glycol::Eg),
        last_reading_at: Some(Moment(0)),
    };
    let setting = Setting {
        winter_low: Some(domain::quantity::Temperature::from_millicelsius(-31_000).unwrap()),
        capacity_ml: Some(40_000),
        has_open_question: false,
    };
    let verdict = |shown_ml, setting| {
        let found = freeze::judge(&known(shown_ml), setting, Moment(0), policy().freeze);
        (found.verdict, found.reason)
    };
    let ready = (FreezeVerdict::Ready, FreezeReason::WideMargin);
    let low = (FreezeVerdict::CheckSoon, FreezeReason::LowLevel);
    assert_eq!(verdict(40_000, setting), ready);
    assert_eq!(verdict(34_000, setting), ready);
    assert_eq!(verdict(33_999, setting), low);
    assert_eq!(verdict(13_333, setting), low);
    let asked = Setting {
        has_open_question: true,
        ..setting
    };
    let question = (FreezeVerdict::CheckSoon, FreezeReason::OpenQuestion);
    assert_eq!(verdict(40_000, asked), question);
    assert_eq!(verdict(13_333, asked), low);
}
