//! A shop with a week to take in, for the tests of `import`, `show` and the JSON interface.

use std::{fmt::Write, fs, path::Path, process::Output};

use tempfile::TempDir;

use crate::server::run;

pub(crate) const UNITS: &str = include_str!("data/week/units.csv");
pub(crate) const VESSELS: &str = include_str!("data/week/vessels.csv");
pub(crate) const JOBS: &str = include_str!("data/week/jobs.csv");

pub(crate) const ZONE: &str = "America/Denver";

/// A data folder, and the files of a week beside it.
pub(crate) struct Shop {
    folder: TempDir,
}

/// What must not depend on the order in which facts arrived.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Book {
    contents: String,
    totals: String,
    questions: String,
}

impl Shop {
    /// A shop without a single fact.
    pub(crate) fn empty() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    /// A shop that has taken in the whole week.
    pub(crate) fn of_the_week() -> Self {
        Self::with_jobs(JOBS)
    }

    pub(crate) fn with_jobs(jobs: &str) -> Self {
        let shop = Self::empty();
        shop.takes_in(UNITS, VESSELS, jobs);
        shop
    }

    pub(crate) fn data(&self) -> std::path::PathBuf {
        self.folder.path().join("data")
    }

    /// Imports files with these contents.
    pub(crate) fn import(&self, units: &str, vessels: &str, jobs: &[u8]) -> Output {
        let words = self.import_words(units, vessels, jobs);
        run(&words.iter().map(String::as_str).collect::<Vec<_>>())
    }

    pub(crate) fn import_words(&self, units: &str, vessels: &str, jobs: &[u8]) -> Vec<String> {
        let mut words = vec!["import".to_owned(), "--zone".to_owned(), ZONE.to_owned()];
        words.extend(["--data".to_owned(), text(&self.data())]);
        for (name, contents) in [
            ("units", units.as_bytes()),
            ("vessels", vessels.as_bytes()),
            ("jobs", jobs),
        ] {
            let file = self.folder.path().join(format!("{name}.csv"));
            fs::write(&file, contents).unwrap();
            words.extend([format!("--{name}"), text(&file)]);
        }
        words
    }

    /// Imports, and it must go well; tells what was printed.
    pub(crate) fn takes_in(&self, units: &str, vessels: &str, jobs: &str) -> String {
        let output = self.import(units, vessels, jobs.as_bytes());
        assert!(output.status.success(), "{}", complaint(&output));
        String::from_utf8(output.stdout).unwrap()
    }

    /// What `show` prints; it must go well.
    pub(crate) fn show(&self, words: &[&str]) -> String {
        let output = self.try_show(words);
        assert!(output.status.success(), "{}", complaint(&output));
        String::from_utf8(output.stdout).unwrap()
    }

    pub(crate) fn try_show(&self, words: &[&str]) -> Output {
        let data = text(&self.data());
        let mut all = vec!["show"];
        all.extend(words);
        all.extend(["--data", &data]);
        run(&all)
    }

    pub(crate) fn book(&self) -> Book {
        Book {
            contents: self.show(&["contents", "--csv"]),
            totals: self.show(&["totals", "--csv"]),
            questions: self.show(&["questions", "--csv"]),
        }
    }

    /// How many facts are on record.
    pub(crate) fn facts(&self) -> usize {
        self.show(&["record", "--csv"]).lines().count() - 1
    }

    /// Every test ends with this: the record and all that is worked out from it hold together.
    pub(crate) fn verify(&self) {
        let runtime = tokio::runtime::Runtime::new().unwrap();
        let report = runtime.block_on(storage::verify(&self.data())).unwrap();
        assert!(report.is_good(), "{report:?}");
        if self.facts() > 0 {
            let contents = self.show(&["contents"]);
            assert!(
                contents.contains("together sum to 0 in each component"),
                "{contents}"
            );
        }
    }
}

pub(crate) fn complaint(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn text(path: &Path) -> String {
    path.to_str().unwrap().to_owned()
}

/// The week's rows without the head.
pub(crate) fn job_rows() -> Vec<&'static str> {
    JOBS.lines().skip(1).collect()
}

/// A file of jobs with these rows.
pub(crate) fn jobs_of<'a>(rows: impl IntoIterator<Item = &'a str>) -> String {
    let mut text = JOBS.lines().next().unwrap().to_owned();
    for row in rows {
        write!(text, "\n{row}").unwrap();
    }
    text.push('\n');
    text
}
