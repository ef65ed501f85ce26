//! Months: what is kept by month is what a full replay comes to.

use crate::late::anything;
use crate::shop::{
    HOUR, Numbers, SHOP, START, Shop, command, fact, movement, recover, vessel, void,
};
use chrono::NaiveDate;
use domain::book::contents::Contents;
use domain::book::month::{Month, VesselMasses};
use domain::book::outcome::Standing;
use domain::book::{Book, Kept};
use domain::fact::{Answer, Decision, Recorded, What};
use domain::ids::{FactKey, PlaceId};
use domain::job::{Account, JobKind};
use domain::moment::Moment;
use std::collections::BTreeMap;
use storage::{Read, verify};

/// The record, entered into a book of its own.
async fn replayed(read: &mut Read) -> Book {
    let mut book = Book::new();
    for row in read.list_record_after(0, 100_000).await.unwrap() {
        book.enter(&Recorded {
            key: FactKey(row.key),
            received_at: Moment(row.at),
            fact: row.fact().unwrap(),
        });
    }
    book.work_out(&mut |_| Kept::Later);
    book
}

#[derive(Default)]
struct Turnover {
    taken_in: Contents,
    given_out: Contents,
    shown_ml: i64,
    masses: VesselMasses,
}

/// What each vessel held before a day.
fn held(book: &Book, before: NaiveDate) -> BTreeMap<PlaceId, Contents> {
    let states = book.replay_until(Some(before), &mut |_| {}).into_iter();
    states
        .filter_map(|(account, state)| Some((account.place()?, state.contents)))
        .collect()
}

/// What moved in and out of each vessel in a span of days, posting by posting.
fn turnovers(book: &Book, (first, last): (NaiveDate, NaiveDate)) -> BTreeMap<PlaceId, Turnover> {
    let mut all: BTreeMap<PlaceId, Turnover> = BTreeMap::new();
    book.replay_until(None, &mut |worked| {
        if worked.outcome.standing != Standing::Posted || !(first..=last).contains(&worked.date) {
            return;
        }
        for posting in &worked.outcome.postings {
            let g = posting.contents.mass_g();
            if let Account::Vessel(vessel) = posting.to {
                let of = all.entry(vessel).or_default();
                of.taken_in.add(&posting.contents);
                of.shown_ml += posting.shown_ml;
                of.masses.without_mass += i64::from(g.is_none());
                match posting.from {
                    Account::NotAccountedFor | Account::Opening => {
                        of.masses.corrected_g += g.unwrap_or(0);
                    }
                    _ => of.masses.came_in_g += g.unwrap_or(0),
                }
            }
            if let Account::Vessel(vessel) = posting.from {
                let of = all.entry(vessel).or_default();
                of.given_out.add(&posting.contents);
                of.shown_ml -= posting.shown_ml;
                of.masses.without_mass += i64::from(g.is_none());
                match posting.to {
                    Account::NotAccountedFor | Account::Opening => {
                        of.masses.corrected_g -= g.unwrap_or(0);
                    }
                    Account::Carrier => of.masses.shipped_g += g.unwrap_or(0),
                    Account::Loop(_) => of.masses.into_units_g += g.unwrap_or(0),
                    _ => of.masses.other_out_g += g.unwrap_or(0),
                }
            }
        }
    });
    all
}

/// Compares the statements of a span with the replay; gives how many vessels moved anything.
async fn compare(read: &mut Read, book: &Book, (first, last): (Month, Month)) -> usize {
    let (opening, closing) = (
        held(book, first.first_day()),
        held(book, last.after().first_day()),
    );
    let mut moved = turnovers(book, (first.first_day(), last.last_day()));
    let found = read.list_vessel_statements(SHOP, (first, last)).await;
    let mut with_any = 0;
    for (card, statement, masses) in found.unwrap() {
        let about = format!("{} from {first} to {last}", card.name);
        let replayed = moved.remove(&card.id).unwrap_or_default();
        with_any += usize::from(replayed.masses != VesselMasses::default());
        let at = |states: &BTreeMap<PlaceId, Contents>| {
            states.get(&card.id).cloned().unwrap_or_default()
        };
        assert_eq!(statement.opening, at(&opening), "{about}");
        assert_eq!(statement.closing, at(&closing), "{about}");
        assert_eq!(statement.taken_in, replayed.taken_in, "{about}");
        assert_eq!(statement.given_out, replayed.given_out, "{about}");
        assert_eq!(masses, replayed.masses, "{about}");
        let grew = at(&closing).shown_ml() - at(&opening).shown_ml();
        assert_eq!(statement.shrink_on_mixing_ml, grew - replayed.shown_ml);
        assert!(statement.closes(), "{about}");
    }
    assert!(moved.is_empty(), "a vessel that moved something is missing");
    with_any
}

fn month(text: &str) -> Month {
    Month::try_from(text.to_owned()).unwrap()
}

#[tokio::test]
async fn statements_of_any_month_are_those_of_a_full_replay() {
    let shop = Shop::fitted_out().await;
    let mut numbers = Numbers(2_031);
    let mut jobs = Vec::new();
    let mut with_any = 0;
    for round in 0..6 {
        for _ in 0..40 {
            let key = shop.key();
            let fact = anything(&mut numbers, &jobs);
            if matches!(fact.what, What::Job(_)) {
                jobs.push(key);
            }
            shop.store.append(command(key, fact)).await.unwrap();
        }
        if round == 3 {
            let shipment = crate::shop::job(
                JobKind::Ship,
                0,
                vec![movement(vessel(0), Account::Carrier, "11 L")],
            );
            shop.put(fact(START - 40 * 24 * HOUR, What::Job(shipment)))
                .await
                .unwrap();
        }
        shop.store.settled().await;
        let mut read = shop.store.read().await.unwrap();
        let book = replayed(&mut read).await;
        for n in 6..=11 {
            let one = month(&format!("2026-{n:02}"));
            with_any += compare(&mut read, &book, (one, one)).await;
        }
        with_any += compare(&mut read, &book, (month("2026-07"), month("2026-09"))).await;
    }
    assert!(with_any > 60, "only {with_any} vessels moved anything");
    shop.assert_views_are_those_of_a_rebuild().await;
    let found = verify(shop.folder.path()).await.unwrap();
    assert!(found.findings.is_empty(), "{:?}", found.findings);
}

/// What a vessel held is walked back to nothing by what moved, and each step is what its history says.
#[tokio::test]
async fn levels_walk_back_to_nothing_and_are_those_of_the_history() {
    let shop = Shop::fitted_out().await;
    let mut numbers = Numbers(771);
    let mut jobs = Vec::new();
    for _ in 0..160 {
        let key = shop.key();
        let fact = anything(&mut numbers, &jobs);
        if matches!(fact.what, What::Job(_)) {
            jobs.push(key);
        }
        shop.store.append(command(key, fact)).await.unwrap();
    }
    shop.store.settled().await;
    let mut read = shop.store.read().await.unwrap();
    let mut steps = 0;
    for card in read.list_vessels(SHOP).await.unwrap() {
        let Some(now) = read.find_place(card.id).await.unwrap() else {
            continue;
        };
        let levels = read.list_levels(&now, 10_000).await.unwrap();
        let history = read
            .list_place_history(card.id, None, 10_000)
            .await
            .unwrap();
        let posted = history.iter().filter(|row| row.standing == "posted");
        let told: Vec<_> = posted
            .map(|row| (row.order, row.shown_before_ml, row.shown_after_ml))
            .collect();
        let walked: Vec<_> = levels
            .iter()
            .map(|step| (step.order, step.before.shown_ml(), step.after.shown_ml()))
            .collect();
        assert_eq!(walked, told, "{}", card.name);
        if let Some(first) = levels.last() {
            assert_eq!(first.before, Contents::default(), "{}", card.name);
        }
        let latest = read.list_levels(&now, 2).await.unwrap();
        assert_eq!(latest, levels[..levels.len().min(2)]);
        steps += levels.len();
    }
    assert!(steps > 60, "only {steps} steps");
}

/// Over-drawing asks a question. One of another month, of another shop or that was answered is none of
/// the month's; how many newer ones there are plays no part.
#[tokio::test]
async fn open_questions_are_found_by_the_month_of_their_fact() {
    let shop = Shop::fitted_out().await;
    let september = START - 20 * 24 * HOUR;
    let mut keys = Vec::new();
    for (n, at) in [september, september + HOUR, START, START + HOUR]
        .into_iter()
        .enumerate()
    {
        let key = shop.key();
        let unit = u128::try_from(n).unwrap();
        let over_drawn = command(key, fact(at, recover(unit, "60 L")));
        shop.store.append(over_drawn).await.unwrap();
        keys.push(key);
    }
    let of = async |text: &str| {
        let mut read = shop.store.read().await.unwrap();
        let open = read.list_open_questions_of_month(SHOP, month(text)).await;
        let mut jobs: Vec<FactKey> = open.unwrap().iter().map(|asked| asked.id.job).collect();
        jobs.sort();
        jobs.dedup();
        jobs
    };
    let sorted = |mut keys: Vec<FactKey>| {
        keys.sort();
        keys
    };
    assert_eq!(of("2026-09").await, sorted(keys[..2].to_vec()));
    assert_eq!(of("2026-10").await, sorted(keys[2..].to_vec()));
    let mut read = shop.store.read().await.unwrap();
    let open = read
        .list_open_questions_of_month(SHOP, month("2026-09"))
        .await;
    let of_first: Vec<_> = open
        .unwrap()
        .into_iter()
        .map(|asked| asked.id)
        .filter(|asked| asked.job == keys[0])
        .collect();
    drop(read);
    assert!(!of_first.is_empty());
    for question in of_first {
        let answer = What::Answer(Answer {
            question,
            decision: Decision::Accept,
            reason: None,
        });
        shop.put(fact(START + 2 * HOUR, answer)).await.unwrap();
    }
    assert_eq!(of("2026-09").await, keys[1..2]);
    shop.put(fact(START + 3 * HOUR, void(keys[1])))
        .await
        .unwrap();
    assert_eq!(of("2026-09").await, []);
}
