//! What jobs did to a loop: which filling starts the clock, and which test tells of its inhibitors.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::book::component::{Base, InhibitorClass as Class};
use domain::condition::corrosion::{CorrosionVerdict, Proof, judge};
use domain::condition::course::{Beside, Course, Done, Event};
use domain::condition::policy::Policies;
use domain::condition::task::{About, Task, tasks};
use domain::gas::atmosphere::SEA_LEVEL;
use domain::ids::{FactKey, PlaceId, ShopId};
use domain::job::{Account, Details, Fit, FluidNamed, Intent, Job, JobKind, Line, Movement};
use domain::moment::{DAY_MS, Moment};
use domain::pressure_test::Tested;
use domain::quantity::entry::{Typed, read};
use domain::quantity::{FractionByVolume, Typeable, Volume};
use uuid::Uuid;

const fn place(number: u128) -> PlaceId {
    PlaceId(Uuid::from_u128(number))
}

const LOOP: Account = Account::Loop(place(1));
const FRESH: Account = Account::Vessel(place(2));
const RECOVERED: Account = Account::Vessel(place(3));

fn typed<Q: Typeable>(text: &str) -> Typed<Q> {
    read(text).unwrap()
}

fn moved(from: Account, to: Account, volume: &str, strength: Option<&str>) -> Line {
    Line::Movement(Movement {
        from,
        to,
        volume: typed(volume),
        temperature: None,
        gauge: None,
        gauge_error: None,
        fluid: strength.map(|strength| FluidNamed {
            typed: "out of a can".into(),
            base: Base::Eg,
            class: Class::Oat,
            strength: typed::<FractionByVolume>(strength).value,
            fluid: None,
            lot: None,
            price_hundredths: None,
        }),
        fit: Fit::Undecided,
        intent: Intent::Undecided,
    })
}

fn into(from: Account, volume: &str, strength: Option<&str>) -> Line {
    moved(from, LOOP, volume, strength)
}

fn out(volume: &str) -> Line {
    moved(LOOP, RECOVERED, volume, None)
}

fn event(number: i64, kind: JobKind, lines: Vec<Line>) -> Event {
    let details = (kind == JobKind::Flush).then_some(Details::Flush {
        agent: None,
        rinses: 3,
    });
    let job = Job {
        kind,
        shop: ShopId(Uuid::from_u128(9)),
        unit: None,
        place: Some(LOOP),
        typed: None,
        lines,
        mark: None,
        after_heat_cycle: false,
        gate_temperature: None,
        gate_pressure: None,
        looks: Vec::new(),
        meters: Vec::new(),
        details,
        planned: None,
        cautions: Vec::new(),
        note: None,
        replaces: None,
        follows: None,
    };
    let when = (day(number), FactKey(Uuid::from_u128(8)));
    let is_fresh = |vessel| Some(vessel) == FRESH.place();
    let beside = Beside {
        class: None,
        is_fresh: &is_fresh,
        tested: &|_| Tested::unknown(SEA_LEVEL),
    };
    Event::of_job(&job, place(1), when, &beside).unwrap()
}

fn day(number: i64) -> Moment {
    Moment(number * DAY_MS)
}

fn course(events: Vec<Event>) -> Course {
    Course {
        events,
        ..Course::default()
    }
}

/// A 40 L loop: 28 L of fresh coolant are the 70 % that change it.
fn changed_by(kind: JobKind, lines: Vec<Line>) -> bool {
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let least = policy.corrosion.whole_change;
    assert!((least - 0.7).abs() < 1e-9);
    let changed = course(vec![event(5, kind, lines)]).changed_at(Some(40_000), least);
    changed.is_some()
}

#[test]
fn only_fresh_coolant_that_stays_in_changes_a_loop() {
    let half = Some("50 %");
    let water = Some("0 %");
    for (what, wanted, lines) in [
        ("bought", true, vec![into(Account::Supplier, "36 L", half)]),
        ("fresh vessel", true, vec![into(FRESH, "36 L", None)]),
        (
            "premix and some water",
            true,
            vec![
                into(FRESH, "30 L", None),
                into(Account::Supplier, "6 L", water),
            ],
        ),
        ("water", false, vec![into(Account::Supplier, "36 L", water)]),
        (
            "water with a little coolant",
            false,
            vec![
                into(Account::Supplier, "5 L", half),
                into(Account::Supplier, "31 L", water),
            ],
        ),
        (
            "nobody knows",
            false,
            vec![into(Account::Supplier, "36 L", None)],
        ),
        (
            "a part nobody knows",
            false,
            vec![
                into(Account::Supplier, "30 L", half),
                into(Account::Supplier, "6 L", None),
            ],
        ),
        ("recovered", false, vec![into(RECOVERED, "36 L", None)]),
        (
            "out, then in",
            true,
            vec![out("36 L"), into(FRESH, "36 L", None)],
        ),
        (
            "in, then out",
            false,
            vec![into(FRESH, "36 L", None), out("9 L")],
        ),
        ("nothing", false, Vec::new()),
    ] {
        for kind in [JobKind::Fill, JobKind::Exchange] {
            assert_eq!(changed_by(kind, lines.clone()), wanted, "{what}");
        }
    }
}

/// Three rinses of 15 L are 45 L through a loop of 40 L, and none of it is there afterwards.
#[test]
fn a_flush_changes_nothing_and_what_is_then_filled_goes_on_ageing() {
    let rinse = || [into(Account::Supplier, "15 L", Some("0 %")), out("15 L")];
    let flushed = event(900, JobKind::Flush, (0..3).flat_map(|_| rinse()).collect());
    assert_eq!(flushed.done, Done::Other(JobKind::Flush));
    let agent = [into(Account::Supplier, "40 L", Some("5 %")), out("1 L")];
    assert!(!changed_by(JobKind::Flush, agent.to_vec()));
    let known = course(vec![
        event(0, JobKind::Fill, vec![into(FRESH, "36 L", None)]),
        flushed,
        event(901, JobKind::Fill, vec![into(RECOVERED, "36 L", None)]),
    ]);
    assert_eq!(known.changed_at(Some(40_000), 0.7), Some(day(0)));
}

#[test]
fn a_filling_keeps_what_went_in_apart_from_what_is_fresh() {
    let filled = event(
        0,
        JobKind::Exchange,
        vec![
            out("30 L"),
            into(FRESH, "30 L", None),
            into(Account::Supplier, "6 L", Some("0 %")),
        ],
    );
    let litres = |litres: i64| Volume::from_ml(litres * 1_000).unwrap();
    assert_eq!(
        filled.done,
        Done::Filled {
            put_in: litres(36),
            fresh: litres(30)
        }
    );
}

fn tested(number: i64, laboratory: bool, proof: Option<Proof>) -> Event {
    Event {
        at: day(number),
        key: FactKey(Uuid::from_u128(8)),
        done: Done::Tested {
            laboratory,
            strength: false,
            ph_thousandths: None,
            // Within the bounds of every class that is proved by nitrite or reserve alkalinity.
            proofs: proof.map(|proof| (proof, 2_000_000)).into_iter().collect(),
            found: [].into(),
        },
    }
}

/// A loop filled on day 0, its class, what was read of it, and the day of the last test that tells.
fn tests_of_inhibitors() -> Vec<(&'static str, Class, Vec<Event>, i64)> {
    let own = Some(Proof::Nitrite);
    let other = Some(Proof::Conductivity);
    vec![
        (
            "its own proof",
            Class::Noat,
            vec![tested(200, false, own)],
            200,
        ),
        (
            "another's proof",
            Class::Noat,
            vec![tested(200, false, other)],
            0,
        ),
        (
            "no proof of its class",
            Class::Oat,
            vec![tested(200, false, own)],
            0,
        ),
        (
            "a laboratory",
            Class::Oat,
            vec![tested(200, true, None)],
            200,
        ),
        (
            "a laboratory, no strip",
            Class::Noat,
            vec![tested(200, true, None)],
            200,
        ),
        (
            "a strip before a laboratory",
            Class::Noat,
            vec![tested(150, false, own), tested(200, true, None)],
            150,
        ),
        (
            "before its change",
            Class::Noat,
            vec![tested(-5, false, own)],
            0,
        ),
        (
            "before its change, and a laboratory since",
            Class::Noat,
            vec![tested(-5, false, own), tested(200, true, None)],
            200,
        ),
    ]
}

/// The verdict stays in order until as many days after the last test that tells as its class is tested
/// at least, and due work names the day of that very test.
#[test]
fn due_work_and_the_corrosion_verdict_count_the_same_tests() {
    let today = "2026-10-05".parse().unwrap();
    let policy = Policies::on(today).unwrap();
    for (what, class, events, last) in tests_of_inhibitors() {
        let mut known = course(events);
        known
            .events
            .push(event(0, JobKind::Fill, vec![into(FRESH, "36 L", None)]));
        known.events.sort_by_key(|event| event.at);
        let about = About {
            capacity_ml: Some(40_000),
            class: Some(class),
            last_reading_at: None,
            first_frost: None,
        };
        let limits = &policy.corrosion.classes[&class];
        let held = domain::book::contents::Contents::of(Base::Eg, class, 40_000, 500_000);
        for now in [last + limits.test_days, last + limits.test_days + 1] {
            let found = tasks(&known, about, (day(now), today), policy);
            let test = found
                .iter()
                .find(|it| it.task == Task::InhibitorTest)
                .unwrap();
            assert_eq!(test.last_at, Some(day(last)), "{what}");
            let read = known.inhibitors((Some(40_000), 0.7), day(now));
            let judged = judge(
                read.with(&held, (Base::Eg, class)),
                &policy.corrosion,
                &policy.foreign,
            );
            let is_proved = judged.verdict() == CorrosionVerdict::InOrder;
            assert_eq!(is_proved, now - last <= limits.test_days, "{what} {now}");
        }
    }
}

/// Read 100 km apart over ten days: half of them lie in the five days of the span. What lies beyond the
/// last reading was not read, and a meter that ran backwards counts nothing.
#[test]
fn what_was_driven_is_what_the_meter_says() {
    let course = Course {
        distance_m: vec![
            (day(10), 1_000),
            (day(20), 101_000),
            (day(30), 500),
            (day(31), 700),
        ],
        ..Course::default()
    };
    for ((from, to), driven) in [
        ((15, 20), 50_000),
        ((0, 15), 50_000),
        ((0, 400), 100_200),
        ((20, 30), 0),
        ((31, 90), 0),
    ] {
        assert_eq!(
            course.driven_m((day(from), day(to))),
            driven,
            "{from} to {to}"
        );
    }
    assert_eq!(Course::default().driven_m((day(0), day(9))), 0);
}
