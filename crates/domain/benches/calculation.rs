//! How long each calculation takes, over its worked rows in turn.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::panic,
    reason = "a benchmark prints its figures and stops when its rows are wrong"
)]

#[path = "../tests/table/mod.rs"]
#[expect(dead_code, reason = "the tests read more columns than go in")]
mod table;
#[path = "../tests/worked/mod.rs"]
mod worked;

use domain::calculation::{Entered, find};
use std::hint::black_box;
use std::time::Instant;
use table::rows;
use worked::{WORKED, entered};

/// Rows of one round.
const ROWS: u32 = 200_000;
/// The best of so many rounds is told: the others were disturbed.
const ROUNDS: usize = 5;

fn main() {
    println!("best of {ROUNDS} rounds of {ROWS} rows");
    for (name, table) in WORKED {
        let calculation = find(name).unwrap();
        let rows: Vec<Vec<Entered>> = rows(table)
            .iter()
            .map(|row| entered(calculation, row))
            .collect();
        let mut best = f64::MAX;
        for _ in 0..ROUNDS {
            let mut row = rows.iter().cycle();
            let began = Instant::now();
            for _ in 0..ROWS {
                let figures = black_box(row.next().unwrap());
                black_box(calculation.work_out(figures).unwrap());
            }
            best = best.min(began.elapsed().as_secs_f64());
        }
        println!("{name:22} {:7.0} ns", best * 1e9 / f64::from(ROWS));
    }
}
