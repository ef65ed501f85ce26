//! The curves against every published table at hand.
//!
//! Each bound stands beside its check with what it rests on: the error of the fit, which was taken
//! over the same tables when the curves were made, the rounding of the table, or how far sources lie
//! apart. A table that came from memory says so in its head, and its check in its name.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "helpers read fixed tables, and the worst errors of each are printed"
)]

mod density;
mod dosing;
mod freeze;
mod gas;
mod refractometer;
#[path = "../table/mod.rs"]
mod table;
mod vapour;

/// How far what is found lies from a table, at worst on either side.
struct Apart {
    what: &'static str,
    below: (f64, String),
    above: (f64, String),
    seen: usize,
}

impl Apart {
    fn new(what: &'static str) -> Self {
        Self {
            what,
            below: (0.0, String::new()),
            above: (0.0, String::new()),
            seen: 0,
        }
    }

    /// Takes one difference in; `at` says where.
    fn see(&mut self, found_less_table: f64, at: impl Into<String>) {
        assert!(found_less_table.is_finite(), "{}", self.what);
        self.seen += 1;
        if found_less_table < self.below.0 {
            self.below = (found_less_table, at.into());
        } else if found_less_table > self.above.0 {
            self.above = (found_less_table, at.into());
        }
    }

    /// Asserts that all differences lie between two bounds, and that none was left out.
    #[track_caller]
    fn lies(&self, between: std::ops::RangeInclusive<f64>, rows: usize) {
        let Self {
            what,
            below,
            above,
            seen,
        } = self;
        let told = format!(
            "{what}: {seen} rows, {:+.6} at {}, {:+.6} at {}",
            below.0, below.1, above.0, above.1
        );
        println!("{told}");
        assert_eq!(*seen, rows, "{told}");
        assert!(between.contains(&below.0), "{told}");
        assert!(between.contains(&above.0), "{told}");
    }
}
