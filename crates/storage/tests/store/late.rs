//! Facts that arrive late, voids and merges: the views end as a rebuild would make them.

use crate::shop::{
    HOUR, Numbers, SHOP, START, Shop, UNITS, command, fact, fill, job, movement, place, recover,
    rows, the_loop, unit_card, vessel, void,
};
use domain::fact::{Answer, Decision, FitnessDecision, Merged, Retired, What};
use domain::fact::{Fact, Fitness, QuestionId};
use domain::fleet::Tool;
use domain::ids::FactKey;
use domain::job::{Account, DipRead, JobKind, Line, Mark, Measured, Reading};
use domain::quantity::FractionByVolume;
use domain::quantity::entry::read;
use storage::{Read, verify};
use tempfile::TempDir;

fn strength(unit: u128, percent: u64) -> What {
    What::Job(job(
        JobKind::ConditionTest,
        unit,
        vec![Line::Reading(Reading {
            warm: Some(true),
            ..Reading::of(
                the_loop(unit),
                Measured::Strength(read(&format!("{percent} %")).unwrap()),
                Tool::Refractometer,
            )
        })],
    ))
}

fn dip(cart: u128, litres: u64) -> What {
    What::Job(job(
        JobKind::Dip,
        0,
        vec![Line::Dip(DipRead {
            place: vessel(cart),
            volume: read(&format!("{litres} L")).unwrap(),
            temperature: None,
            gauge: None,
            gauge_error: None,
            fluid: None,
        })],
    ))
}

/// A fact of any kind that moves the book.
pub(crate) fn anything(numbers: &mut Numbers, jobs: &[FactKey]) -> Fact {
    let unit = u128::from(numbers.below(u64::try_from(UNITS).unwrap()));
    let cart = u128::from(numbers.below(3));
    let amount = 1 + numbers.below(35);
    let volume = format!("{amount} L");
    let some_job = |numbers: &mut Numbers| {
        let at = numbers.below(u64::try_from(jobs.len()).unwrap());
        jobs[usize::try_from(at).unwrap()]
    };
    let what = match numbers.below(20) {
        0..=4 => recover(unit, &volume),
        5..=8 => fill(unit, &volume),
        9 | 10 => {
            let line = movement(Account::Supplier, the_loop(unit), &volume);
            let mut top_up = job(JobKind::TopUp, unit, vec![line]);
            top_up.mark = Some(Mark::At);
            What::Job(top_up)
        }
        11 => strength(unit, 30 + numbers.below(40)),
        12 => dip(cart, 50 + numbers.below(500)),
        13 => What::Job(job(
            JobKind::Move,
            unit,
            vec![movement(vessel(cart), vessel((cart + 1) % 3), &volume)],
        )),
        14 => What::Job(job(
            JobKind::Receive,
            unit,
            vec![movement(Account::Supplier, vessel(cart), &volume)],
        )),
        15 if !jobs.is_empty() => void(some_job(numbers)),
        16 if !jobs.is_empty() => What::Answer(Answer {
            question: QuestionId {
                job: some_job(numbers),
                line: 0,
                kind: domain::fact::QuestionKind::ReadingFarOff,
            },
            decision: Decision::Accept,
            reason: None,
        }),
        17 => What::FitnessDecision(FitnessDecision {
            shop: None,
            vessel: place(vessel(cart)),
            fitness: Fitness::Waste,
            reason: None,
        }),
        18 if numbers.below(8) == 0 => What::Merged(Merged {
            from: place(the_loop(unit)),
            into: place(the_loop((unit + 1) % UNITS)),
        }),
        18 if numbers.below(8) == 0 => What::Retired(Retired {
            unit: None,
            places: vec![the_loop(unit)],
            reason: None,
        }),
        _ => What::Job(job(
            JobKind::Spill,
            unit,
            vec![movement(vessel(cart), Account::Spilled, "2 L")],
        )),
    };
    // Hours, so that many happen at once; some are far in the past, some before every opening.
    let hours = i64::try_from(numbers.below(2_400)).unwrap();
    fact(START - hours * HOUR, what)
}

#[tokio::test]
async fn facts_in_any_order_leave_the_views_of_a_rebuild() {
    let shop = Shop::fitted_out().await;
    let mut numbers = Numbers(2_026);
    let mut jobs = Vec::new();
    for round in 0..25 {
        let commands: Vec<_> = (0..8)
            .map(|_| {
                let fact = anything(&mut numbers, &jobs);
                let key = shop.key();
                if matches!(fact.what, What::Job(_)) {
                    jobs.push(key);
                }
                command(key, fact)
            })
            .collect();
        if round % 2 == 0 {
            for answer in shop.store.append_many(commands).await.unwrap() {
                answer.unwrap();
            }
        } else {
            for command in commands {
                shop.store.append(command).await.unwrap();
            }
        }
        if round % 5 == 4 {
            shop.assert_views_are_those_of_a_rebuild().await;
        }
    }
    let views = shop.views().await;
    for view in ["questions", "month_totals", "outside_balances"] {
        assert!(!views[view].is_empty(), "{view} was never written");
    }
    for part in [r#""why":"#, r#""measure":"#, r#""before":"#] {
        assert!(
            views["outcomes"].iter().any(|row| row.contains(part)),
            "no outcome holds {part}"
        );
    }
    let open_again = shop.opened_again().await;
    assert_eq!(views, open_again.views().await);
}

async fn busy_shop(pairs: u64) -> Shop {
    let shop = Shop::fitted_out().await;
    let mut commands = Vec::new();
    for n in 0..pairs {
        let unit = u128::from(n) % UNITS;
        let at = START + i64::try_from(n).unwrap() * HOUR / 10;
        commands.push(command(shop.key(), fact(at, recover(unit, "5 L"))));
        commands.push(command(shop.key(), fact(at + 1, fill(unit, "5 L"))));
        if commands.len() >= 900 || n + 1 == pairs {
            for answer in shop
                .store
                .append_many(std::mem::take(&mut commands))
                .await
                .unwrap()
            {
                answer.unwrap();
            }
        }
    }
    shop
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_late_fact_that_changes_very_many_is_finished_in_the_background() {
    let shop = busy_shop(700).await;
    // Another strength in the cart from the very start: every later outcome is another one.
    let late = shop
        .put(fact(
            START - HOUR,
            What::Job(job(
                JobKind::Receive,
                0,
                vec![movement(Account::Supplier, vessel(0), "100 L")],
            )),
        ))
        .await
        .unwrap();
    assert!(!late.repeated);
    // Meanwhile another job at the head, and another late one, go in at once.
    shop.put(fact(START + 200 * HOUR, recover(0, "7 L")))
        .await
        .unwrap();
    shop.put(fact(START + HOUR, recover(1, "1 L")))
        .await
        .unwrap();
    shop.store.settled().await;
    assert!(rows(&mut shop.raw().await, "stale_places").await.is_empty());
    shop.assert_views_are_those_of_a_rebuild().await;
}

/// One unit more than are named one by one, each filled once from the cart.
#[tokio::test]
async fn a_late_fact_that_reaches_very_many_places_marks_all_of_them() {
    const LOOPS: u128 = 1_001;
    let shop = Shop::fitted_out().await;
    let mut facts = Vec::new();
    for n in 0..LOOPS {
        let unit = 0x100_000 + n;
        let at = START - 90 * HOUR + i64::try_from(n).unwrap();
        facts.push(fact(at, unit_card(unit)));
        facts.push(fact(at + HOUR, recover(unit, "5 L")));
        facts.push(fact(at + 2 * HOUR, fill(unit, "5 L")));
    }
    for some in facts.chunks(1_000) {
        let commands = some.iter().map(|fact| command(shop.key(), fact.clone()));
        for answer in shop.store.append_many(commands.collect()).await.unwrap() {
            answer.unwrap();
        }
    }
    let line = movement(Account::Supplier, vessel(0), "100 L");
    let Line::Movement(mut strong) = line else {
        panic!("a movement is a movement")
    };
    if let Some(fluid) = &mut strong.fluid {
        fluid.strength = FractionByVolume::from_millionths(950_000).unwrap();
    }
    let late = job(JobKind::Receive, 0, vec![Line::Movement(strong)]);
    shop.put(fact(START - 95 * HOUR, What::Job(late)))
        .await
        .unwrap();
    // On one thread the background has had no turn yet.
    let copy = copy_of(&shop);
    let mut read = Read::beside(copy.path()).await.unwrap();
    assert_eq!(read.count_stale_places().await.unwrap(), 1);
    let board = read.list_loop_figures(SHOP).await.unwrap();
    let states: Vec<_> = board.iter().filter_map(|row| row.state).collect();
    assert!(states.len() >= 1_001);
    assert!(states.iter().all(|state| state.being_worked_out_again));
    let of_loop = place(the_loop(0x100_000));
    let held = read.find_place(of_loop).await.unwrap().unwrap();
    assert!(held.being_worked_out_again);
    drop(read);
    // What lags is left out, and the sums are those of the book.
    let report = verify(copy.path()).await.unwrap();
    assert!(report.is_good() && report.views_lag, "{report:?}");

    shop.store.settled().await;
    let mut read = shop.store.read().await.unwrap();
    let after = read.find_place(of_loop).await.unwrap().unwrap();
    assert!(!after.being_worked_out_again);
    assert_ne!(after.contents, held.contents);
    drop(read);
    let report = verify(shop.folder.path()).await.unwrap();
    assert!(report.is_good() && !report.views_lag, "{report:?}");
}

/// The files as a crash would leave them.
fn copy_of(shop: &Shop) -> TempDir {
    let copy = TempDir::new().unwrap();
    for name in ["coolant.db", "coolant.db-wal"] {
        std::fs::copy(shop.folder.path().join(name), copy.path().join(name)).unwrap();
    }
    copy
}

#[tokio::test]
async fn re_work_cut_off_by_a_crash_goes_on_at_the_next_start() {
    let shop = busy_shop(700).await;
    shop.put(fact(
        START - HOUR,
        What::Job(job(
            JobKind::Receive,
            0,
            vec![movement(Account::Supplier, vessel(0), "100 L")],
        )),
    ))
    .await
    .unwrap();
    // On one thread the background has had no turn yet: what a crash would leave.
    assert!(!rows(&mut shop.raw().await, "stale_places").await.is_empty());
    let after_crash = Shop::in_folder(copy_of(&shop)).await;
    after_crash.store.settled().await;
    after_crash.assert_views_are_those_of_a_rebuild().await;
    shop.store.settled().await;
    assert_eq!(shop.views().await, after_crash.views().await);
}

#[tokio::test]
async fn a_place_whose_only_job_is_voided_leaves_the_book() {
    let shop = Shop::fitted_out().await;
    let before = rows(&mut shop.raw().await, "place_states").await;
    let key = shop.key();
    shop.store
        .append(command(key, fact(START, recover(5, "3 L"))))
        .await
        .unwrap();
    let with_job = rows(&mut shop.raw().await, "place_states").await;
    assert!(with_job.len() > before.len());
    shop.put(fact(START + HOUR, void(key))).await.unwrap();
    shop.assert_views_are_those_of_a_rebuild().await;
    assert_eq!(before, rows(&mut shop.raw().await, "place_states").await);
}
