//! How long `calc NAME --rows -` takes for a million rows, start and end of the program included.
//!
//! `CALC_ROWS=10000` asks for another number.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark prints its figures and stops when its rows are wrong"
)]

use std::fmt::Write as _;
use std::fs::File;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

const PROGRAM: &str = env!("CARGO_BIN_EXE_coolant-ledger");

/// A calculation, the columns that go in, and a row of it for each of the numbers 0 to 999.
struct Case {
    name: &'static str,
    head: &'static str,
    row: fn(u32) -> String,
}

/// From `least` up to `most`.
fn spread(number: u32, least: f64, most: f64) -> f64 {
    least + f64::from(number) / 999.0 * (most - least)
}

const CASES: [Case; 3] = [
    Case {
        name: "freeze",
        head: "id,glycol,vol_fraction",
        row: |n| format!("{n},EG,{:.4}", spread(n, 0.0, 0.57)),
    },
    Case {
        name: "boiling",
        head: "id,glycol,vol_fraction,cap_psig,altitude_m",
        row: |n| {
            format!(
                "{n},PG,{:.4},15,{:.0}",
                spread(n, 0.0, 0.6),
                spread(n, 0.0, 3_000.0)
            )
        },
    },
    Case {
        name: "vacuum-draw",
        head: "id,tank_l,liquid_l,vacuum_inhg,lift_m,altitude_m,glycol,vol_fraction,t_c",
        row: |n| format!("{n},100,{:.1},18,0.8,1600,EG,0.5,20", spread(n, 0.0, 60.0)),
    },
];

fn input(case: &Case, rows: u32, folder: &Path) -> File {
    let path = folder.join(case.name);
    let mut text = format!("{}\n", case.head);
    for number in 0..rows {
        writeln!(text, "{}", (case.row)(number % 1_000)).unwrap();
    }
    File::create(&path)
        .unwrap()
        .write_all(text.as_bytes())
        .unwrap();
    File::open(&path).unwrap()
}

fn main() {
    let asked = std::env::var("CALC_ROWS").ok();
    let rows: u32 = asked.map_or(1_000_000, |rows| rows.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    for case in &CASES {
        let given = input(case, rows, folder.path());
        let answer = folder.path().join("answer");
        let began = Instant::now();
        let done = Command::new(PROGRAM)
            .args(["calc", case.name, "--rows", "-"])
            .stdin(given)
            .stdout(File::create(&answer).unwrap())
            .stderr(Stdio::inherit())
            .status()
            .unwrap();
        let took = began.elapsed();
        assert!(done.success());
        let answer = std::fs::read_to_string(&answer).unwrap();
        let lines = answer.lines().count();
        assert_eq!(
            lines,
            usize::try_from(rows).unwrap() + 1,
            "a line for each, and the head"
        );
        // The last column is the problem, of which these rows have none.
        assert!(answer.lines().skip(1).all(|line| line.ends_with(',')));
        println!(
            "calc {}: {rows} rows in {took:.2?}, {:.2} µs a row",
            case.name,
            took.as_secs_f64() * 1e6 / f64::from(rows)
        );
    }
}
