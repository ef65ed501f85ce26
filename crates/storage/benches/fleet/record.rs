//! The record of the invented fleet: it goes on for longer the more facts it has, at 100,000 facts a year.
//!
//! One fact in ten is a condition test; the others are top-ups to the mark and coolant drawn from a
//! unit, one time in five as waste, and filled in again while at most a hundred units stand drained, one
//! time in fifty too much of it, which raises a question that nobody answers. One draw in fifty has nobody saying what may become of it, and one
//! fact in five hundred ships all that is in the fullest of the waste tanks.

use crate::fleet::shop::{self, HOUR, START, fact, movement};
use crate::fleet::{
    Numbers, UNITS, VESSELS, WASTE_AT_OPENING_L, WASTE_VESSELS, a_loop, a_vessel, cards, id, job,
    opened, put_all,
};
use domain::book::month::Month;
use domain::fact::{ContainerChange, ContainerEvent, What};
use domain::fleet::Tool;
use domain::ids::UnitId;
use domain::job::{
    Account, Details, Fit, Intent, Job, JobKind, Line, Mark, Measured, Movement, Reading,
};
use domain::moment::Moment;
use domain::quantity::entry::read;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::time::Instant;
use storage::{Command, Via};

const FACTS_A_YEAR: i64 = 100_000;
/// Facts of cards and openings.
const CARDS: i64 = 20_400;

pub(crate) fn a_test(numbers: &mut Numbers, at: i64) -> Command {
    let n = numbers.below(UNITS);
    let reading = Line::Reading(Reading::of(
        a_loop(n),
        Measured::Strength(read(&format!("{} %", 47 + numbers.below(6))).unwrap()),
        Tool::Refractometer,
    ));
    let what = What::Job(Job {
        unit: Some(UnitId(id(3, n))),
        place: Some(a_loop(n)),
        ..shop::job(JobKind::ConditionTest, 0, vec![reading])
    });
    Command::plain(numbers.key(), fact(at, what), Via::Form)
}

/// Where fluid waits, in tenths of a litre.
struct Waiting {
    /// What was drawn from units that are to be filled again.
    drawn: VecDeque<(u64, u64)>,
    /// What is in each waste tank.
    waste: Vec<u64>,
}

impl Waiting {
    fn new() -> Self {
        Self {
            drawn: VecDeque::new(),
            waste: (0..WASTE_VESSELS)
                .map(|_| WASTE_AT_OPENING_L * 10)
                .collect(),
        }
    }
}

/// So many units stand drained at most.
const MOST_DRAINED: usize = 100;

fn of_use(line: Line, fit: Fit, intent: Intent) -> Line {
    let Line::Movement(line) = line else {
        panic!("a movement is a movement")
    };
    Line::Movement(Movement {
        fit,
        intent,
        ..line
    })
}

/// What comes out of a unit: one draw in five as waste, one in fifty undecided.
fn drawn_from(
    (numbers, waiting): (&mut Numbers, &mut Waiting),
    (n, vessel): (u64, Account),
    tenths: u64,
) -> Line {
    let litres = &litres(tenths);
    match numbers.below(50) {
        0..10 => {
            let tank = numbers.below(WASTE_VESSELS);
            waiting.waste[usize::try_from(tank).unwrap()] += tenths;
            of_use(
                movement(a_loop(n), a_vessel(tank), litres),
                Fit::No,
                Intent::Waste,
            )
        }
        10 => {
            let line = movement(a_loop(n), vessel, litres);
            of_use(line, Fit::Undecided, Intent::Undecided)
        }
        _ => movement(a_loop(n), vessel, litres),
    }
}

fn litres(tenths: u64) -> String {
    format!("{}.{} L", tenths / 10, tenths % 10)
}

/// All that is in the fullest of the waste tanks leaves the site, and the day is written on it from which
/// it is filled again.
fn a_shipment(numbers: &mut Numbers, waiting: &mut Waiting, at: i64) -> Vec<Command> {
    let (tank, held) = (0..)
        .zip(waiting.waste.iter_mut())
        .max_by_key(|(_, held)| **held)
        .unwrap();
    let drum = a_vessel(tank);
    let line = movement(drum, Account::Carrier, &litres(*held));
    *held = 0;
    let what = What::Job(Job {
        unit: None,
        place: Some(drum),
        details: Some(Details::Ship {
            carrier: format!("carrier {} (invented)", numbers.below(3)),
            document: format!("{at}"),
            destination: Some(format!("facility {} (invented)", numbers.below(2))),
            treatment: None,
        }),
        ..shop::job(JobKind::Ship, 0, vec![line])
    });
    let begun = What::ContainerEvent(ContainerEvent {
        vessel: drum.place().unwrap(),
        event: ContainerChange::StartDate(Moment(at).date_at_offset(-360).unwrap()),
    });
    [(at, what), (at + 1, begun)]
        .map(|(at, what)| Command::plain(numbers.key(), fact(at, what), Via::Form))
        .into()
}

fn a_job(numbers: &mut Numbers, waiting: &mut Waiting, at: i64) -> Command {
    let any = numbers.below(UNITS);
    let drawn = &mut waiting.drawn;
    let waits = if drawn.len() >= MOST_DRAINED {
        drawn.pop_front()
    } else {
        let at = drawn.iter().position(|(n, _)| *n == any);
        at.and_then(|at| drawn.remove(at))
    };
    let n = waits.map_or(any, |(n, _)| n);
    let vessel = a_vessel(WASTE_VESSELS + numbers.below(VESSELS - WASTE_VESSELS));
    let (kind, line, mark) = match (waits, numbers.below(2)) {
        (Some((_, tenths)), _) => {
            let more = if numbers.below(50) == 0 { 90 } else { 0 };
            let line = movement(vessel, a_loop(n), &litres(tenths + more));
            (JobKind::Fill, line, None)
        }
        (None, 0) => {
            let tenths = 20 + numbers.below(100);
            drawn.push_back((n, tenths));
            let line = drawn_from((numbers, waiting), (n, vessel), tenths);
            (JobKind::Recover, line, None)
        }
        (None, _) => {
            let line = movement(Account::Supplier, a_loop(n), &litres(1 + numbers.below(9)));
            (JobKind::TopUp, line, Some(Mark::At))
        }
    };
    Command::plain(numbers.key(), fact(at, job(kind, n, line, mark)), Via::Form)
}

/// Jobs follow one another by so much.
const APART_MS: i64 = 365 * 24 * HOUR / FACTS_A_YEAR;

/// When the first job of a record of so many facts happened.
fn first_job(facts: i64) -> i64 {
    START - (facts - CARDS) * APART_MS
}

/// The month its record begins in.
pub(crate) fn first_month(facts: i64) -> Month {
    let day = Moment(first_job(facts)).date_at_offset(-360);
    Month::of(day.unwrap())
}

/// The folder of a record of so many facts, which is made if it is not there yet.
pub(crate) async fn made(facts: i64) -> PathBuf {
    assert!(facts > CARDS, "cards and openings alone are {CARDS} facts");
    let folder = place_for(facts);
    let done = folder.join("done");
    if done.exists() {
        return folder;
    }
    if folder.exists() {
        std::fs::remove_dir_all(&folder).unwrap();
    }
    std::fs::create_dir_all(&folder).unwrap();
    let began = Instant::now();
    let store = opened(&folder).await;
    let (mut numbers, mut waiting) = (Numbers(1), Waiting::new());
    let jobs = facts - CARDS;
    let first = first_job(facts);
    put_all(&store, cards(&mut numbers, first - HOUR)).await;
    let mut at = 0;
    while at < jobs {
        let some = (at..jobs.min(at + 20_000))
            .flat_map(|n| match numbers.below(500) {
                0 => a_shipment(&mut numbers, &mut waiting, first + n * APART_MS),
                1..50 => vec![a_test(&mut numbers, first + n * APART_MS)],
                _ => vec![a_job(&mut numbers, &mut waiting, first + n * APART_MS)],
            })
            .collect();
        put_all(&store, some).await;
        at += 20_000;
    }
    store.settled().await;
    store.close().await.unwrap();
    let took = began.elapsed().as_secs_f64();
    let rate = f64::from(u32::try_from(facts).unwrap()) / took;
    println!("made {facts} facts in {took:.0} s, {rate:.0} a second");
    std::fs::write(done, "").unwrap();
    folder
}

fn place_for(facts: i64) -> PathBuf {
    let schema = include_str!("../../SCHEMA.sql");
    // Another schema makes another record.
    let mark = schema.bytes().fold(0_u32, |mark, byte| {
        mark.wrapping_mul(31).wrapping_add(u32::from(byte))
    });
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("pages-{facts}-{mark:08x}"))
}
