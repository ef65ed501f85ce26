//! The table of jobs.

use std::{
    collections::{BTreeSet, HashMap},
    path::Path,
};

use chrono::NaiveDate;
use domain::ids::FactKey;
use web::intake::{Directory, ReadJob, WrittenJob, derived};

use super::table::{self, Columns, Row, Table, Troubles};
use crate::exit::Failure;

const JOBS: Columns = Columns {
    needed: &[
        "when",
        "kind",
        "unit",
        "from",
        "to",
        "volume",
        "temperature",
        "fluid",
        "at_mark",
        "meter",
        "who",
        "note",
    ],
    allowed: &[
        "loop",
        "shop",
        "gate_temperature",
        "fit",
        "intent",
        "reading",
        "tool",
        "scale",
    ],
};

/// A row as it was written.
#[derive(Debug)]
pub(crate) struct JobRow<'a> {
    row: Row<'a>,
    pub(crate) written: WrittenJob,
    pub(crate) key: FactKey,
}

/// Reads the file; what its rows say is read later, when all names are known.
pub(crate) fn read_jobs(path: &Path, troubles: &mut Troubles) -> Result<Option<Table>, Failure> {
    table::read(path, JOBS, troubles)
}

/// The rows, each with the key of its contents: the same row has the same key wherever it stands,
/// and the second of two identical rows has another one than the first.
pub(crate) fn written_jobs(table: &Table) -> Vec<JobRow<'_>> {
    let mut seen: HashMap<Vec<&str>, u32> = HashMap::new();
    table
        .rows()
        .map(|row| {
            let contents: Vec<&str> = JOBS
                .needed
                .iter()
                .chain(JOBS.allowed)
                .map(|column| row.cell(column).unwrap_or_default())
                .collect();
            let count = seen.entry(contents.clone()).or_default();
            *count = count.saturating_add(1);
            let count = count.to_string();
            let parts: Vec<&str> = contents.iter().copied().chain([count.as_str()]).collect();
            JobRow {
                row,
                written: written(row),
                key: derived::fact_key("row of a week", &parts),
            }
        })
        .collect()
}

fn written(row: Row<'_>) -> WrittenJob {
    let cell = |column| row.cell(column).map(str::to_owned);
    WrittenJob {
        when: cell("when"),
        kind: cell("kind"),
        unit: cell("unit"),
        from: cell("from"),
        to: cell("to"),
        volume: cell("volume"),
        temperature: cell("temperature"),
        fluid: cell("fluid"),
        at_mark: cell("at_mark"),
        meter: cell("meter"),
        who: cell("who"),
        note: cell("note"),
        unit_loop: cell("loop"),
        shop: cell("shop"),
        gate_temperature: cell("gate_temperature"),
        fit: cell("fit"),
        intent: cell("intent"),
        reading: cell("reading"),
        tool: cell("tool"),
        scale: cell("scale"),
        ..WrittenJob::default()
    }
}

/// The farthest that the first or last day of a file may stand from the other days.
const FARTHEST_DAYS: i64 = 366;

/// One mistyped year would date every card and opening of the week by it, so it is refused.
pub(crate) fn see_the_years(jobs: &[(&JobRow<'_>, ReadJob)], troubles: &mut Troubles) {
    let date = |(_, read): &(&JobRow<'_>, ReadJob)| read.fact.when.local_date;
    let days: Vec<NaiveDate> = jobs
        .iter()
        .map(date)
        .collect::<BTreeSet<_>>()
        .into_iter()
        .collect();
    let far = |one: NaiveDate, other: NaiveDate| (other - one).num_days() > FARTHEST_DAYS;
    let first = match days.as_slice() {
        [first, second, ..] if far(*first, *second) => Some((*first, *second)),
        _ => None,
    };
    let last = match days.as_slice() {
        // Of two days alone nobody can tell which is wrong; one is told.
        [_, .., before, last] if far(*before, *last) => Some((*last, *before)),
        _ => None,
    };
    for job in jobs {
        let wrong = [(first, "before the next"), (last, "after the last other")]
            .into_iter()
            .filter_map(|(days, side)| Some((days?, side)))
            .find(|((day, _), _)| *day == date(job));
        if let Some(((day, other), side)) = wrong {
            let problem =
                format!("{day} stands more than a year {side} job, {other}: see the year");
            let found = job.0.written.when.as_deref().unwrap_or_default();
            job.0.row.trouble("when", found, problem, troubles);
        }
    }
}

impl JobRow<'_> {
    /// Reads the row, or notes all that is wrong with it.
    pub(crate) fn read(&self, names: &Directory, troubles: &mut Troubles) -> Option<ReadJob> {
        match web::intake::read(&self.written, names, None) {
            Ok(read) => Some(read),
            Err(problems) => {
                for problem in problems {
                    self.row
                        .trouble(problem.column, &problem.found, problem.problem, troubles);
                }
                None
            }
        }
    }
}
