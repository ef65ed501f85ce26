//! How fast facts go in one after another, next to bare statements; what a late fact costs; how
//! fast the record is proved and its views are made again.
//!
//! An invented fleet of 10,000 units and 200 tanks and carts, one movement a job: 30 % top-ups,
//! 30 % recoveries, 30 % fills and 10 % moves, all within 30 days.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a benchmark prints its figures and stops when its scene is wrong"
)]

mod fleet;

use domain::job::{Account, JobKind, Line, Mark};
use domain::quantity::FractionByVolume;
use fleet::shop::{HOUR, START, fact, movement};
use fleet::{AT_ONCE, Numbers, UNITS, VESSELS, a_loop, a_vessel, cards, job, opened, put_all};
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};
use sqlx::{ConnectOptions, SqliteConnection};
use std::path::Path;
use std::time::{Duration, Instant};
use storage::{Command, DATABASE, Store, Via, verify};
use tempfile::TempDir;

/// Jobs of the last 30 days.
const JOBS: u32 = 80_000;
/// Facts put in one after another.
const SINGLE: u32 = 3_000;
const DAYS: i64 = 30;
/// Between two appends while views are worked out again.
const PAUSE: Duration = Duration::from_millis(10);

fn a_job(numbers: &mut Numbers, at: i64) -> Command {
    let n = numbers.below(UNITS);
    let vessel = a_vessel(numbers.below(VESSELS));
    let volume = format!("{}.{} L", 2 + numbers.below(3), numbers.below(10));
    let (kind, from, to) = match numbers.below(10) {
        0..3 => (JobKind::TopUp, Account::Supplier, a_loop(n)),
        3..6 => (JobKind::Recover, a_loop(n), vessel),
        6..9 => (JobKind::Fill, vessel, a_loop(n)),
        _ => (JobKind::Receive, Account::Supplier, vessel),
    };
    let mark = (kind == JobKind::TopUp).then_some(Mark::NotAt);
    let line = movement(from, to, &volume);
    let what = job(kind, n, line, mark);
    Command::plain(numbers.key(), fact(at, what), Via::Form)
}

/// A connection with the writer's settings.
async fn bare(file: &Path) -> SqliteConnection {
    SqliteConnectOptions::new()
        .filename(file)
        .create_if_missing(true)
        .foreign_keys(true)
        .statement_cache_capacity(256)
        .pragma("trusted_schema", "off")
        .pragma("cell_size_check", "on")
        .pragma("temp_store", "memory")
        .pragma("cache_size", "-65536")
        .pragma("secure_delete", "on")
        .pragma("wal_autocheckpoint", "0")
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .connect()
        .await
        .unwrap()
}

async fn run(connection: &mut SqliteConnection, statement: &'static str) {
    sqlx::query(statement).execute(connection).await.unwrap();
}

/// As the writer does: looks at the log once in 16 facts, carries it over beyond 1,000 pages.
async fn tend_log(connection: &mut SqliteConnection, n: usize) {
    if !n.is_multiple_of(16) {
        return;
    }
    let (_, log, carried): (i64, i64, i64) = sqlx::query_as("pragma wal_checkpoint(noop)")
        .fetch_one(&mut *connection)
        .await
        .unwrap();
    if log - carried > 1_000 {
        run(connection, "pragma wal_checkpoint(passive)").await;
    }
}

/// Facts a second, when each transaction is one insert of one row.
async fn one_row_each(folder: &Path) -> f64 {
    let mut connection = bare(&folder.join("one.db")).await;
    run(
        &mut connection,
        "create table one (n integer primary key, body text) strict",
    )
    .await;
    let body = "x".repeat(700);
    let began = Instant::now();
    for n in 0..usize::try_from(SINGLE).unwrap() {
        run(&mut connection, "begin immediate").await;
        sqlx::query("insert into one (body) values (?1)")
            .bind(&body)
            .execute(&mut connection)
            .await
            .unwrap();
        run(&mut connection, "commit").await;
        tend_log(&mut connection, n).await;
    }
    f64::from(SINGLE) / began.elapsed().as_secs_f64()
}

/// The statements an append writes with, in their order, and which rows of a fact each takes.
const WRITES: [(&str, &str, &str); 8] = [
    ("insert into record", "record", "seq = ?1"),
    ("insert into facts_about", "about_new_facts", "seq = ?1"),
    ("insert into jobs", "jobs", "seq = ?1"),
    ("insert into outcomes", "outcomes", "seq = ?1"),
    (
        "insert into place_changes",
        "place_changes",
        "(place, happened_at, made_at) in
           (select unhex(value ->> 'place', '-'), happened_at, made_at
            from outcomes, json_each(changes) where outcomes.seq = ?1)",
    ),
    (
        "insert or replace into place_states",
        "place_states",
        "place in (select unhex(value ->> 'place', '-')
                   from outcomes, json_each(changes) where seq = ?1)",
    ),
    (
        "insert into outside_balances",
        "outside_balances",
        "account in (select value ->> 'from_account'
                     from outcomes, json_each(postings) where seq = ?1)",
    ),
    ("insert into stored_answers", "stored_answers", "seq = ?1"),
];

fn statement(begins: &str) -> &'static str {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../.sqlx");
    let found = std::fs::read_dir(folder).unwrap().find_map(|entry| {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        let described: serde_json::Value = serde_json::from_str(&text).unwrap();
        let query = described["query"].as_str().unwrap().to_owned();
        query
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .starts_with(begins)
            .then_some(query)
    });
    found
        .unwrap_or_else(|| panic!("no statement begins with {begins}"))
        .leak()
}

type Write = (&'static str, String);

/// What an append handed to its statements, worked out from the rows it left.
async fn writes_of(file: &Path, after: i64) -> Vec<Vec<Write>> {
    let mut connection = bare(file).await;
    // By subject, as the table lies, they would be looked for one by one.
    sqlx::query("create temp table about_new_facts as select * from facts_about where seq > ?1")
        .bind(after)
        .execute(&mut connection)
        .await
        .unwrap();
    run(
        &mut connection,
        "create index temp.about_by_fact on about_new_facts (seq)",
    )
    .await;
    let mut questions: Vec<(&'static str, &'static str)> = Vec::new();
    for (begins, table, of_fact) in WRITES {
        let columns: Vec<String> = sqlx::query_scalar(
            "select quote(name) || ', ' ||
                    case when type in ('BLOB', '') then 'lower(hex(' || name || '))' else name end
             from pragma_table_info(?1)",
        )
        .bind(table)
        .fetch_all(&mut connection)
        .await
        .unwrap();
        let question = format!(
            "select json_group_array(json_object({})) from {table} where {of_fact}",
            columns.join(", ")
        );
        questions.push((statement(begins), question.leak()));
    }
    let mut all = Vec::new();
    for seq in (after + 1)..=(after + i64::from(SINGLE)) {
        let mut writes = Vec::new();
        for (statement, question) in &questions {
            let rows: String = sqlx::query_scalar(*question)
                .bind(seq)
                .fetch_one(&mut connection)
                .await
                .unwrap();
            if rows != "[]" {
                writes.push((*statement, rows));
            }
        }
        all.push(writes);
    }
    all
}

/// Facts a second, when each transaction is the statements of an append and nothing else.
async fn same_statements(file: &Path, facts: &[Vec<Write>]) -> f64 {
    let mut connection = bare(file).await;
    let began = Instant::now();
    for (n, writes) in facts.iter().enumerate() {
        run(&mut connection, "begin immediate").await;
        for (statement, rows) in writes {
            sqlx::query(*statement)
                .bind(rows)
                .execute(&mut connection)
                .await
                .unwrap();
        }
        run(&mut connection, "commit").await;
        tend_log(&mut connection, n).await;
    }
    f64::from(SINGLE) / began.elapsed().as_secs_f64()
}

async fn head(store: &Store) -> i64 {
    store.read().await.unwrap().head().await.unwrap().seq
}

/// Part one: appends one after another, next to bare statements.
async fn single(folder: &Path, numbers: &mut Numbers) {
    let beside = TempDir::new().unwrap();
    let copy = beside.path().join(DATABASE);
    std::fs::copy(folder.join(DATABASE), &copy).unwrap();
    let store = opened(folder).await;
    let before = head(&store).await;
    let jobs: Vec<Command> = (0..i64::from(SINGLE))
        .map(|n| a_job(numbers, START + n))
        .collect();
    let began = Instant::now();
    for job in jobs {
        store.append(job).await.unwrap();
    }
    let appended = f64::from(SINGLE) / began.elapsed().as_secs_f64();
    store.close().await.unwrap();
    let facts = writes_of(&folder.join(DATABASE), before).await;
    let statements: usize = facts.iter().map(|writes| writes.len() + 2).sum();
    let statements = f64::from(u32::try_from(statements).unwrap()) / f64::from(SINGLE);
    let same = same_statements(&copy, &facts).await;
    let one = one_row_each(beside.path()).await;
    println!(
        "durable facts a second, one after another ({SINGLE} jobs, {before} facts on record):"
    );
    println!("  one row a transaction          {one:.0}");
    println!(
        "  the statements of an append    {same:.0} ({statements:.1} statements, with begin and commit)"
    );
    println!(
        "  Store::append                  {appended:.0}, {:.0} % of its statements alone",
        100.0 * appended / same
    );
}

fn part(sorted: &[Duration], percent: usize) -> f64 {
    let at = (sorted.len() * percent / 100).min(sorted.len() - 1);
    1e3 * sorted[at].as_secs_f64()
}

/// Part two: a fact 30 days late, and what others notice of it.
async fn late(folder: &Path, numbers: &mut Numbers) {
    let store = opened(folder).await;
    let at = START - DAYS * 24 * HOUR - HOUR;
    // Concentrate into a tank that serves the whole fleet: its strength is passed on.
    let line = movement(Account::Supplier, a_vessel(0), "20000 L");
    let Line::Movement(mut concentrate) = line else {
        panic!("a movement is a movement")
    };
    if let Some(fluid) = &mut concentrate.fluid {
        fluid.strength = FractionByVolume::from_millionths(950_000).unwrap();
    }
    let what = job(JobKind::Receive, 0, Line::Movement(concentrate), None);
    let command = Command::plain(numbers.key(), fact(at, what), Via::Form);
    let began = Instant::now();
    store.append(command).await.unwrap();
    let answered = began.elapsed();
    let mut waits = Vec::new();
    for n in 0.. {
        let job = a_job(numbers, START + HOUR + n);
        let asked = Instant::now();
        store.append(job).await.unwrap();
        waits.push(asked.elapsed());
        let stale = store.read().await.unwrap().count_stale_places().await;
        if stale.unwrap() == 0 {
            break;
        }
        tokio::time::sleep(PAUSE).await;
    }
    store.settled().await;
    let took = began.elapsed();
    waits.sort_unstable();
    println!(
        "a fact {DAYS} days late, {UNITS} units, {} facts on record:",
        head(&store).await
    );
    println!("  answered in {:.0} ms", 1e3 * answered.as_secs_f64());
    println!("  worked out again in {:.2} s", took.as_secs_f64());
    println!(
        "  {} appends meanwhile: p50 {:.1} ms, p99 {:.1} ms, longest {:.1} ms",
        waits.len(),
        part(&waits, 50),
        part(&waits, 99),
        part(&waits, 100)
    );
    let began = Instant::now();
    let report = verify(folder).await.unwrap();
    assert!(report.is_good() && !report.views_lag, "{report:?}");
    let facts = f64::from(u32::try_from(report.facts).unwrap());
    let took = began.elapsed().as_secs_f64();
    println!(
        "verify, which finds every view as a full replay gives it: {took:.2} s, {:.0} facts a second",
        facts / took
    );
    let began = Instant::now();
    store.rebuild().await.unwrap();
    let took = began.elapsed().as_secs_f64();
    println!("rebuild: {took:.2} s, {:.0} facts a second", facts / took);
    store.close().await.unwrap();
}

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() {
    let folder = TempDir::new().unwrap();
    let mut numbers = Numbers(1);
    let store = opened(folder.path()).await;
    let rate = put_all(&store, cards(&mut numbers, START - 40 * 24 * HOUR)).await;
    println!("cards and openings, {AT_ONCE} at once: {rate:.0} facts a second");
    let apart = DAYS * 24 * HOUR / i64::from(JOBS);
    let jobs = (0..i64::from(JOBS))
        .map(|n| a_job(&mut numbers, START - DAYS * 24 * HOUR + n * apart))
        .collect();
    let rate = put_all(&store, jobs).await;
    println!("jobs, {AT_ONCE} at once: {rate:.0} facts a second");
    store.close().await.unwrap();
    single(folder.path(), &mut numbers).await;
    late(folder.path(), &mut numbers).await;
}
