//! Kills, repeats and disk errors: what was acknowledged is there, once, and the record is whole.

#![expect(
    clippy::disallowed_methods,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a kill comes at a moment, so a test thread waits for it; what it counted is printed"
)]

use std::{
    collections::BTreeMap,
    path::Path,
    process::{Child, Command, Stdio},
    sync::{
        Mutex,
        atomic::{AtomicU64, Ordering},
    },
    thread,
    time::{Duration, Instant},
};

use rustix::process::Signal;

use crate::{
    client,
    server::{Server, program, run},
};

/// A number of rounds that CI can afford, and the number that was asked of the product.
fn rounds(short: u32, long: u32) -> u32 {
    if std::env::var_os("LONG_RUNS").is_some() {
        long
    } else {
        short
    }
}

fn key(number: u64) -> String {
    format!("00000000-0000-4000-8000-{number:012x}")
}

/// A top-up of a unit that nobody has a card for: it is recorded all the same.
fn top_up(number: u64) -> String {
    let (minute, unit) = (number % 60, number % 7);
    format!(
        r#"{{"key":"{}","when":"2026-10-05 08:{minute:02}","kind":"top_up","unit":"{unit}","shop":"Harbour Yard","zone":"UTC","volume":"{}.5 L","fluid":"premix EG 50 % OAT","at_mark":"no","who":"P1","note":"round {number}"}}"#,
        key(number),
        number % 5
    )
}

fn post(address: std::net::SocketAddr, body: &str) -> Option<client::Answer> {
    let request = client::request(
        "POST",
        "/api/v1/jobs",
        &[("Content-Type", "application/json")],
        body,
    );
    client::try_send_raw(address, &request)
}

fn verified(data: &Path) {
    let output = run(&["verify", "--data", data.to_str().unwrap()]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}

/// How often each key stands in the record.
fn recorded(data: &Path) -> BTreeMap<String, u32> {
    let output = run(&["export-record", "--data", data.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0));
    let mut keys = BTreeMap::new();
    for line in String::from_utf8(output.stdout).unwrap().lines() {
        let row: serde_json::Value = serde_json::from_str(line).unwrap();
        *keys
            .entry(row["key"].as_str().unwrap().to_owned())
            .or_default() += 1;
    }
    keys
}

#[test]
fn killed_at_random_moments_under_four_writers_nothing_acknowledged_is_lost_or_doubled() {
    let folder = tempfile::tempdir().unwrap();
    let next = AtomicU64::new(1);
    let acknowledged = Mutex::new(Vec::new());
    let mut unanswered = 0;
    // A fixed seed, so that a failure can be tried again with the same waits.
    let mut seed: u64 = 0x5DEE_CE66;
    for _ in 0..rounds(20, 100) {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let wait = Duration::from_millis(5 + (seed >> 33) % 296);
        let server = Server::start_in(folder.path(), &[]);
        let address = server.address;
        unanswered += thread::scope(|scope| {
            let writers: Vec<_> = (0..4)
                .map(|_| {
                    scope.spawn(|| {
                        loop {
                            let number = next.fetch_add(1, Ordering::SeqCst);
                            match post(address, &top_up(number)) {
                                Some(answer) if matches!(answer.status, 201 | 202) => {
                                    acknowledged.lock().unwrap().push(key(number));
                                }
                                Some(answer) => panic!("{answer:?}"),
                                None => return 1,
                            }
                        }
                    })
                })
                .collect();
            thread::sleep(wait);
            server.signal(Signal::KILL);
            writers
                .into_iter()
                .map(|writer| writer.join().unwrap())
                .sum::<u32>()
        });
    }
    let acknowledged = acknowledged.into_inner().unwrap();
    let recorded = recorded(folder.path());
    assert!(acknowledged.len() > 40, "{}", acknowledged.len());
    let missing: Vec<_> = acknowledged
        .iter()
        .filter(|key| !recorded.contains_key(*key))
        .collect();
    assert!(
        missing.is_empty(),
        "acknowledged and not on record: {missing:?}"
    );
    assert!(recorded.values().all(|count| *count == 1));
    verified(folder.path());
    println!(
        "{} acknowledged, {unanswered} unanswered, {} on record",
        acknowledged.len(),
        recorded.len()
    );
}

#[test]
fn fifty_repeats_of_one_key_at_once_are_one_fact_and_the_same_bytes() {
    let server = Server::start();
    let body = top_up(1);
    let answers: Vec<_> = thread::scope(|scope| {
        let senders: Vec<_> = (0..50)
            .map(|_| scope.spawn(|| post(server.address, &body).unwrap()))
            .collect();
        senders
            .into_iter()
            .map(|sender| sender.join().unwrap())
            .collect()
    });
    for answer in &answers {
        assert_eq!(
            (answer.status, &answer.body),
            (answers[0].status, &answers[0].body)
        );
    }
    assert!(matches!(answers[0].status, 201 | 202));
    let folder = server.data().to_owned();
    server.signal(Signal::TERM);
    assert_eq!(
        server.end_within(Duration::from_secs(12)).unwrap().code(),
        Some(0)
    );
    assert_eq!(recorded(&folder).get(&key(1)), Some(&1));
    verified(&folder);
}

/// Makes system calls of a running server fail.
struct Trouble(Child);

impl Trouble {
    /// Every flush of `file` fails with an input/output error until this is dropped.
    fn with_flushes(server: &Server, file: &str) -> Self {
        let path = server.data().join(file);
        let mut tracer = Command::new("strace")
            .args([
                "-f",
                "-qq",
                "-o",
                "/dev/null",
                "-e",
                "trace=fsync,fdatasync",
            ])
            .args(["-e", "inject=fsync,fdatasync:error=EIO", "-P"])
            .arg(&path)
            .arg("-p")
            .arg(server.pid.as_raw_nonzero().to_string())
            .stderr(Stdio::piped())
            .spawn()
            .expect("strace is installed by tests/run");
        // It has taken hold when the kernel names a tracer for the process.
        let status = format!("/proc/{}/status", server.pid.as_raw_nonzero());
        let waiting = Instant::now();
        while !std::fs::read_to_string(&status)
            .unwrap()
            .lines()
            .any(|line| line.starts_with("TracerPid:") && !line.ends_with("\t0"))
        {
            assert!(
                waiting.elapsed() < Duration::from_secs(10),
                "no tracer took hold"
            );
            assert!(
                tracer.try_wait().unwrap().is_none(),
                "strace could not attach"
            );
            thread::sleep(Duration::from_millis(20));
        }
        // All threads are held a moment after the first.
        thread::sleep(Duration::from_millis(300));
        Self(tracer)
    }
}

impl Drop for Trouble {
    fn drop(&mut self) {
        let tracer = rustix::process::Pid::from_child(&self.0);
        rustix::process::kill_process(tracer, Signal::INT).ok();
        self.0.wait().ok();
    }
}

#[test]
fn a_flush_that_fails_at_a_commit_costs_that_write_only() {
    let server = Server::start();
    assert!(matches!(
        post(server.address, &top_up(1)).unwrap().status,
        201 | 202
    ));
    let trouble = Trouble::with_flushes(&server, "coolant.db-wal");
    let lost = post(server.address, &top_up(2)).unwrap();
    assert_eq!(lost.status, 503, "{lost:?}");
    assert!(
        lost.json()["type"]
            .as_str()
            .unwrap()
            .ends_with("not-confirmed")
    );
    assert_eq!(server.get("/healthz").status, 200);
    drop(trouble);
    for number in [2, 3, 4] {
        let answer = post(server.address, &top_up(number)).unwrap();
        assert!(matches!(answer.status, 201 | 202), "{answer:?}");
    }
    let folder = server.data().to_owned();
    server.signal(Signal::TERM);
    assert_eq!(
        server.end_within(Duration::from_secs(12)).unwrap().code(),
        Some(0)
    );
    let recorded = recorded(&folder);
    for number in 1..=4 {
        assert_eq!(recorded.get(&key(number)), Some(&1), "{number}");
    }
    verified(&folder);
}

#[test]
fn a_flush_that_fails_when_the_log_is_carried_over_stops_the_program_with_70() {
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start_in(folder.path(), &[]);
    let mut acknowledged = Vec::new();
    assert!(matches!(
        post(server.address, &top_up(1)).unwrap().status,
        201 | 202
    ));
    let _trouble = Trouble::with_flushes(&server, "coolant.db");
    for number in 2..4_000 {
        match post(server.address, &top_up(number)) {
            Some(answer) if matches!(answer.status, 201 | 202) => acknowledged.push(key(number)),
            _ => break,
        }
    }
    assert_eq!(
        server.end_within(Duration::from_secs(10)).unwrap().code(),
        Some(70)
    );
    let recorded = recorded(folder.path());
    assert!(acknowledged.iter().all(|key| recorded.get(key) == Some(&1)));
    verified(folder.path());
}

#[test]
fn a_second_server_on_the_same_folder_is_refused() {
    let server = Server::start();
    let second = program()
        .args(["serve", "--listen", "127.0.0.1:0", "--data"])
        .arg(server.data())
        .output()
        .unwrap();
    assert_eq!(second.status.code(), Some(75));
    let said = String::from_utf8(second.stderr).unwrap();
    assert!(said.contains("another"), "{said}");
}
