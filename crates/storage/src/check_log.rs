//! When the named checks of the book last ran, and how they came out.
//!
//! The log lies beside the record: no replay gives it and no rebuild touches it.

use crate::error::StorageError;
use crate::read::Read;
use crate::record::json;
use crate::store::Store;
use crate::verify::{self, Class, Report};
use domain::moment::Moment;
use serde::Serialize;
use sqlx::SqliteConnection;
use std::path::PathBuf;
use tokio::sync::oneshot;

/// A named check of the book.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum NamedCheck {
    /// For each component, all places and outside accounts together are 0, exactly.
    Closes,
    /// No place holds less than 0 of a component.
    NoVesselBelowZero,
    /// The record is whole, and all that is kept besides is what a full replay gives.
    ReplayAgrees,
    /// Every vessel in use was dipped lately. Where one was not, nothing is broken.
    DipIsFresh,
}

impl NamedCheck {
    /// All of them, in the order of the pages.
    pub const ALL: [Self; 4] = [
        Self::Closes,
        Self::NoVesselBelowZero,
        Self::ReplayAgrees,
        Self::DipIsFresh,
    ];

    /// The name.
    pub fn code(self) -> &'static str {
        match self {
            Self::Closes => "closes",
            Self::NoVesselBelowZero => "no_vessel_below_zero",
            Self::ReplayAgrees => "replay_agrees",
            Self::DipIsFresh => "dip_is_fresh",
        }
    }

    /// The check a name stands for.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|check| check.code() == code)
    }
}

/// One run of one check.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct CheckRun {
    /// Which check.
    pub check: NamedCheck,
    /// When it ran.
    pub at: Moment,
    /// The last fact it knew.
    pub head_seq: i64,
    /// Whether it held.
    pub good: bool,
    /// What was found, in words.
    pub detail: String,
}

/// How far below everything else the checks run, on the scale of the system from 0 to 19.
const NICE: i32 = 15;

impl Store {
    /// Runs every named check over the record as it stands now and notes how they came out.
    ///
    /// It reads a snapshot in a thread of its own that gives way to everything else; the writer is
    /// held only while the results are noted.
    pub async fn check_now(&self, now: Moment) -> Result<Vec<CheckRun>, StorageError> {
        let report = verify_aside(self.data().to_owned()).await?;
        let runs: Vec<CheckRun> = NamedCheck::ALL
            .into_iter()
            .map(|check| run_of(check, now, &report))
            .collect();
        self.note_checks(&runs).await?;
        Ok(runs)
    }
}

impl Read {
    /// The last run of each named check; one that never ran is left out.
    pub async fn list_check_runs(&mut self) -> Result<Vec<CheckRun>, StorageError> {
        let rows = sqlx::query!(
            r#"select name, at, head_seq, good as "good: bool", detail from check_runs
               where id in (select max(id) from check_runs group by name)"#
        )
        .fetch_all(self.connection())
        .await?;
        let mut runs: Vec<CheckRun> = rows
            .into_iter()
            .filter_map(|row| {
                // A check of a later program is not ours to show.
                let check = NamedCheck::from_code(&row.name)?;
                Some(CheckRun {
                    check,
                    at: Moment(row.at),
                    head_seq: row.head_seq,
                    good: row.good,
                    detail: row.detail,
                })
            })
            .collect();
        runs.sort_by_key(|run| run.check);
        Ok(runs)
    }
}

/// Verifies in a thread that gives way to everything else; what it starts inherits that.
async fn verify_aside(data: PathBuf) -> Result<Report, StorageError> {
    let (send, receive) = oneshot::channel();
    let work = move || {
        if let Err(error) = rustix::process::nice(NICE) {
            tracing::debug!(%error, "the check runs no lower than everything else");
        }
        let report = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|error| StorageError::Check(error.to_string()))
            .and_then(|runtime| runtime.block_on(verify::verify(&data)));
        // Nobody waits any more when the server is stopping.
        drop(send.send(report));
    };
    std::thread::Builder::new()
        .name("storage-check".to_owned())
        .spawn(work)
        .map_err(|error| StorageError::Check(error.to_string()))?;
    receive
        .await
        .map_err(|_| StorageError::Check("the check ended without a result".to_owned()))?
}

fn run_of(check: NamedCheck, at: Moment, report: &Report) -> CheckRun {
    let (good, detail) = match check {
        NamedCheck::Closes | NamedCheck::NoVesselBelowZero => balance(check, report),
        NamedCheck::ReplayAgrees => replay(report),
        NamedCheck::DipIsFresh => dips(report),
    };
    CheckRun {
        check,
        at,
        head_seq: report.head.seq,
        good,
        detail,
    }
}

fn balance(check: NamedCheck, report: &Report) -> (bool, String) {
    let begins = format!("{}: ", check.code());
    let found: Vec<&str> = report
        .findings
        .iter()
        .filter_map(|finding| finding.what.strip_prefix(&begins))
        .collect();
    if !found.is_empty() {
        return (false, found.join("; "));
    }
    if !report.balances_checked {
        return (
            false,
            "It could not be run: the record could not be read.".to_owned(),
        );
    }
    let held = match check {
        NamedCheck::Closes => "Every component comes to 0 mL over all places and accounts.",
        _ => "No place holds less than 0 mL of anything.",
    };
    (true, held.to_owned())
}

fn replay(report: &Report) -> (bool, String) {
    let mut found = report
        .findings
        .iter()
        .filter(|finding| finding.class != Class::Check);
    let facts = report.facts;
    if let Some(first) = found.next() {
        let more = match found.count() {
            0 => String::new(),
            more => format!(" (and {more} more)"),
        };
        let fact = first
            .seq
            .map(|seq| format!("Fact {seq}: "))
            .unwrap_or_default();
        return (false, format!("{fact}{}{more}", first.what));
    }
    let held = format!("{facts} facts worked out again give what is kept.");
    if report.views_lag {
        let lags = "A late fact was still being worked out again; its histories were left out.";
        return (true, format!("{held} {lags}"));
    }
    (true, held)
}

fn dips(report: &Report) -> (bool, String) {
    if !report.balances_checked {
        return (
            false,
            "It could not be run: the record could not be read.".to_owned(),
        );
    }
    match report.stale_dips.len() {
        0 => (
            true,
            "Every vessel in use was dipped in the last 31 days.".to_owned(),
        ),
        1 => (
            false,
            "1 vessel in use was not dipped in the last 31 days.".to_owned(),
        ),
        more => (
            false,
            format!("{more} vessels in use were not dipped in the last 31 days."),
        ),
    }
}

#[derive(Serialize)]
struct RunRow<'a> {
    name: &'static str,
    at: i64,
    head_seq: i64,
    good: i64,
    detail: &'a str,
}

/// Notes runs in the log.
pub(crate) async fn insert(
    connection: &mut SqliteConnection,
    runs: &[CheckRun],
) -> Result<(), StorageError> {
    let rows: Vec<RunRow<'_>> = runs
        .iter()
        .map(|run| RunRow {
            name: run.check.code(),
            at: run.at.0,
            head_seq: run.head_seq,
            good: i64::from(run.good),
            detail: &run.detail,
        })
        .collect();
    let rows = json(&rows)?;
    sqlx::query!(
        "insert into check_runs (name, at, head_seq, good, detail)
         select value ->> 'name', value ->> 'at', value ->> 'head_seq', value ->> 'good',
                value ->> 'detail'
         from jsonb_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}
