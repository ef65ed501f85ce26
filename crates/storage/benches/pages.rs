//! How long the reads behind pages take, at 10,000 units and as many facts as are asked for.
//!
//! `PAGES_FACTS=100000,1000000` says how many; the made records are kept, so that a second run only
//! reads. What the whole program takes for its pages is measured by the benchmark `served` of the server.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a benchmark prints its figures and stops when its scene is wrong"
)]

mod fleet;
#[path = "fleet/record.rs"]
#[expect(dead_code, reason = "it serves the benchmark of the server too")]
mod record;

use domain::condition::leak::case::cases;
use domain::condition::policy::Policies;
use domain::condition::{FreezeVerdict, Setting, judge};
use domain::ids::{FactKey, PlaceId, UnitId};
use domain::moment::{DAY_MS, Moment};
use domain::quantity::Temperature;
use fleet::shop::{PERSON, SHOP, START};
use fleet::{Numbers, UNITS, VESSELS, a_vessel, id, opened};
use record::{a_test, made};
use rustix::time::{ClockId, clock_gettime};
use std::time::{Duration, Instant};
use storage::{DATABASE, Store, TrailFilter, UnitSearch};
use uuid::Uuid;

const ROUNDS: usize = 300;
const PAGE: i64 = 50;

fn part(sorted: &[Duration], percent: usize) -> f64 {
    let at = (sorted.len() * percent / 100).min(sorted.len() - 1);
    1e3 * sorted[at].as_secs_f64()
}

/// What the whole program has worked so far: told apart from the time it stood waiting for its
/// turn on a machine that is busy with other things.
fn worked() -> Duration {
    let clock = clock_gettime(ClockId::ProcessCPUTime);
    let nanoseconds = u32::try_from(clock.tv_nsec).unwrap();
    Duration::new(u64::try_from(clock.tv_sec).unwrap(), nanoseconds)
}

/// Runs a page's reads for one subject after another and prints how long they took.
async fn timed<F: Future<Output = usize>>(name: &'static str, mut page: impl FnMut(u64) -> F) {
    let mut numbers = Numbers(7);
    let (mut took, mut work) = (Vec::new(), Vec::new());
    let mut rows = 0;
    for _ in 0..ROUNDS {
        let n = numbers.next();
        let (began, before) = (Instant::now(), worked());
        rows = page(n).await;
        took.push(began.elapsed());
        work.push(worked().saturating_sub(before));
    }
    took.sort_unstable();
    work.sort_unstable();
    println!(
        "  {name:<26} p50 {:6.2} ms  p99 {:6.2} ms   work p50 {:6.2} ms  p99 {:6.2} ms  {rows} rows",
        part(&took, 50),
        part(&took, 99),
        part(&work, 50),
        part(&work, 99)
    );
}

/// With the time the fact itself takes.
async fn after_a_fact(store: &Store, n: u64) -> usize {
    let mut numbers = Numbers(n);
    let mut fact = a_test(&mut numbers, START);
    // Another run on the same record must not send the same fact again.
    fact.key = FactKey(Uuid::new_v4());
    store.append(fact).await.unwrap();
    board(store).await
}

async fn board(store: &Store) -> usize {
    let now = Moment(START);
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap().freeze;
    let setting = Setting {
        winter_low: Some(Temperature::from_millicelsius(-31_000).unwrap()),
        ..Setting::default()
    };
    let mut read = store.read().await.unwrap();
    let loops = read.list_loop_figures(SHOP).await.unwrap();
    let ready = loops
        .iter()
        .filter_map(|row| row.state)
        .filter(|state| {
            let judged = judge(&state.known(now), setting, now, policy);
            judged.verdict == FreezeVerdict::Ready
        })
        .count();
    assert!(ready > 0 && ready < loops.len());
    let loops = read.list_loop_figures(SHOP).await.unwrap();
    let courses = read.list_courses_of_loops(&loops).await.unwrap();
    assert_eq!(courses.len(), usize::try_from(UNITS).unwrap());
    read.count_open_questions(Some(SHOP)).await.unwrap();
    read.list_open_questions(Some(SHOP), 10).await.unwrap();
    let today = now.plus_ms(-DAY_MS);
    read.list_jobs_of_shop_since(SHOP, today, PAGE)
        .await
        .unwrap();
    read.list_check_runs().await.unwrap();
    loops.len()
}

async fn unit(store: &Store, n: u64) -> usize {
    let id = UnitId(id(3, n % UNITS));
    let mut read = store.read().await.unwrap();
    read.find_unit(id).await.unwrap().unwrap();
    let mut rows = 0;
    for held in read.list_places_of_unit(id).await.unwrap() {
        let history = read
            .list_place_history(held.place, None, PAGE)
            .await
            .unwrap();
        let places: Vec<PlaceId> = history
            .iter()
            .flat_map(|row| row.moved.iter())
            .flat_map(|moved| [moved.from_place, moved.to_place])
            .flatten()
            .collect();
        read.list_place_names(&places).await.unwrap();
        let from = Moment(START - 90 * DAY_MS);
        let balance = read.balance_of_place(held.place, from).await.unwrap();
        assert!(balance.unwrap().agrees);
        read.list_open_questions_of_place(held.place, 10)
            .await
            .unwrap();
        rows += history.len();
    }
    read.list_jobs_of_unit(id, None, PAGE).await.unwrap();
    rows
}

async fn vessel(store: &Store, n: u64) -> usize {
    let place = a_vessel(n % VESSELS).place().unwrap();
    let mut read = store.read().await.unwrap();
    read.find_vessel(place).await.unwrap().unwrap();
    read.find_place(place).await.unwrap().unwrap();
    let history = read.list_place_history(place, None, PAGE).await.unwrap();
    let from = Moment(START - 90 * DAY_MS);
    let balance = read.balance_of_place(place, from).await.unwrap();
    assert!(balance.unwrap().agrees);
    read.list_open_questions_of_place(place, 10).await.unwrap();
    history.len()
}

async fn questions(store: &Store) -> usize {
    let mut read = store.read().await.unwrap();
    let count = read.count_open_questions(Some(SHOP)).await.unwrap();
    let page = read.list_open_questions(Some(SHOP), PAGE).await.unwrap();
    assert!(i64::try_from(page.len()).unwrap() <= count);
    page.len()
}

async fn trail(store: &Store, filter: TrailFilter) -> usize {
    let mut read = store.read().await.unwrap();
    let page = read.list_trail(&filter, None, PAGE).await.unwrap();
    read.head().await.unwrap();
    page.len()
}

async fn found(store: &Store, text: String) -> usize {
    let search = UnitSearch {
        shop: Some(SHOP),
        text,
        with_retired: false,
    };
    let mut read = store.read().await.unwrap();
    read.count_units(&search).await.unwrap();
    read.search_units(&search, None, PAGE).await.unwrap().len()
}

/// What a board reads once after a start, and what every unit's cases take to be worked out.
async fn first_look(store: &Store) {
    let (began, before) = (Instant::now(), worked());
    let mut read = store.read().await.unwrap();
    let loops = read.list_loop_figures(SHOP).await.unwrap();
    let courses = read.list_courses_of_loops(&loops).await.unwrap();
    let (took, work) = (began.elapsed(), worked().saturating_sub(before));
    println!(
        "  courses of all units, first  {:.2} s, work {:.2} s",
        took.as_secs_f64(),
        work.as_secs_f64()
    );
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let before = worked();
    let loops = courses.iter().flat_map(|unit| &unit.loops);
    let cases: usize = loops
        .map(|each| cases(&each.course, Moment(START), &policy.leak).len())
        .sum();
    let work = worked().saturating_sub(before);
    println!(
        "  cases of all units           work {:.0} ms, {cases} cases",
        1e3 * work.as_secs_f64()
    );
}

async fn pages(store: &Store) {
    first_look(store).await;
    timed("board, every unit judged", |_| board(store)).await;
    timed("board after another fact", |n| after_a_fact(store, n)).await;
    timed("one unit", |n| unit(store, n)).await;
    timed("one vessel", |n| vessel(store, n)).await;
    timed("all vessels", |_| async {
        let mut read = store.read().await.unwrap();
        let vessels = read.list_vessels_of_shop_with_contents(SHOP).await;
        vessels.unwrap().len()
    })
    .await;
    timed("needs checking", |_| questions(store)).await;
    timed("units found by a number", |n| {
        found(store, format!("{}", n % UNITS))
    })
    .await;
    timed("units, first page", |_| found(store, String::new())).await;
    timed("records", |_| trail(store, TrailFilter::default())).await;
    let of = |kind: &str| TrailFilter {
        kind: Some(kind.to_owned()),
        ..TrailFilter::default()
    };
    timed("records of a rare kind", |_| trail(store, of("opening"))).await;
    timed("records of the commonest", |_| trail(store, of("job"))).await;
    timed("records of a person", |_| {
        let person = Some(PERSON);
        trail(
            store,
            TrailFilter {
                person,
                ..of("unit")
            },
        )
    })
    .await;
}

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() {
    let asked = std::env::var("PAGES_FACTS").unwrap_or_else(|_| "100000".to_owned());
    for facts in asked.split(',') {
        let facts: i64 = facts.trim().parse().unwrap();
        let folder = made(facts).await;
        let size = std::fs::metadata(folder.join(DATABASE)).unwrap().len();
        let began = Instant::now();
        let store = opened(&folder).await;
        println!(
            "{facts} facts, {UNITS} units, {} MB, opened in {:.1} s:",
            size / 1_000_000,
            began.elapsed().as_secs_f64()
        );
        pages(&store).await;
        let began = Instant::now();
        let runs = store.check_now(Moment(START)).await.unwrap();
        let good = runs.iter().filter(|run| run.good).count();
        println!(
            "  checks run in {:.1} s, {good} of {} good",
            began.elapsed().as_secs_f64(),
            runs.len()
        );
        store.close().await.unwrap();
    }
}
