//! `/book-check`: the named checks of the book, when they last ran and what they found.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use askama::Template;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fleet::Role;
use domain::moment::Moment;
use storage::{CheckRun, NamedCheck, Store};

use crate::component::{Shape, Status};
use crate::desk::{Desk, Frame};
use crate::record::number;
use crate::{WebError, figure, page};

/// Those who may see and start the checks.
pub(crate) const ROLES: &[Role] = &[
    Role::Manager,
    Role::ComplianceOfficer,
    Role::Administrator,
    Role::Reader,
];

pub(crate) fn may_see(desk: &Desk) -> bool {
    desk.may(ROLES)
}

/// Whether the checks run at this moment, and since when.
#[derive(Clone, Debug, Default)]
pub struct Checking(Arc<Marks>);

/// Moments; 0 for none.
#[derive(Debug, Default)]
struct Marks {
    running_since: AtomicI64,
    failed_at: AtomicI64,
}

impl Checking {
    /// Since when they run; none when they do not.
    fn since(&self) -> Option<Moment> {
        noted(&self.0.running_since)
    }

    /// When they could not be run at all, if that was the last try.
    fn failed_at(&self) -> Option<Moment> {
        noted(&self.0.failed_at)
    }

    /// Runs every check once, unless they run already. What they find is in the log afterwards.
    pub async fn run(&self, store: &Store, now: Moment) {
        let marks = &*self.0;
        let started = marks.running_since.compare_exchange(
            0,
            now.0.max(1),
            Ordering::AcqRel,
            Ordering::Acquire,
        );
        if started.is_err() {
            return;
        }
        let mut failed_at = 0;
        match store.check_now(now).await {
            Ok(runs) => {
                let bad: Vec<&str> = runs
                    .iter()
                    .filter(|run| !run.good)
                    .map(|run| run.check.code())
                    .collect();
                tracing::info!(
                    checks = runs.len(),
                    bad = bad.join(" "),
                    "the book was checked"
                );
            }
            Err(error) => {
                tracing::error!(%error, "the book could not be checked");
                failed_at = now.0.max(1);
            }
        }
        marks.failed_at.store(failed_at, Ordering::Release);
        marks.running_since.store(0, Ordering::Release);
    }
}

fn noted(mark: &AtomicI64) -> Option<Moment> {
    let moment = mark.load(Ordering::Acquire);
    (moment != 0).then_some(Moment(moment))
}

#[derive(Template)]
#[template(path = "book_check/show.html")]
struct CheckPage {
    frame: Frame,
    /// Where the record ends: number and hash.
    head: (String, String),
    checks: Vec<CheckLine>,
    running_since: Option<String>,
    failed_at: Option<String>,
    /// What the checks that do not hold found, the first of it.
    broken: Vec<String>,
    may_run: bool,
}

struct CheckLine {
    what: &'static str,
    means: &'static str,
    status: Status,
    /// "2026-10-05 07:12, up to event 1,997"; empty before the first run.
    when: String,
    detail: String,
}

/// GET /book-check
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let runs = read.list_check_runs().await.map_err(WebError::fault)?;
    let checks: Vec<CheckLine> = NamedCheck::ALL
        .into_iter()
        .map(|check| line(&desk, check, runs.iter().find(|run| run.check == check)))
        .collect();
    let head = read.head().await.map_err(WebError::fault)?;
    let at = |moment| figure::time(moment, desk.zone());
    let is_broken = |run: &&CheckRun| !run.good && run.check != NamedCheck::DipIsFresh;
    let broken = runs.iter().filter(is_broken);
    Ok(page::shown(&CheckPage {
        frame: desk.frame("Book check"),
        checks,
        head: (number(desk.units(), head.seq), head.hash_hex()),
        running_since: desk.state.checking.since().map(at),
        failed_at: desk.state.checking.failed_at().map(at),
        broken: broken.map(|run| page::sentence(&run.detail)).collect(),
        may_run: desk.may(&[Role::Manager, Role::ComplianceOfficer, Role::Administrator]),
    }))
}

/// POST /book-check: runs them beside everything else.
pub(crate) async fn run(desk: Desk) -> Response {
    let state = desk.state.clone();
    let now = desk.now_ms();
    tokio::spawn(async move { state.checking.run(&state.store, now).await });
    // The page then says that they run, if they still do.
    tokio::task::yield_now().await;
    Redirect::to("/book-check").into_response()
}

fn line(desk: &Desk, check: NamedCheck, run: Option<&CheckRun>) -> CheckLine {
    let (what, means) = words(check);
    let status = match run {
        None => Status::new(Shape::Nothing, "Not run yet"),
        Some(run) if run.good => Status::new(Shape::Good, "Holds"),
        Some(_) if check == NamedCheck::DipIsFresh => Status::new(Shape::Watch, "Look again"),
        Some(_) => Status::new(Shape::Stop, "Does not hold"),
    };
    CheckLine {
        what,
        means,
        status,
        when: run.map_or_else(String::new, |run| {
            let event = number(desk.units(), run.head_seq);
            format!("{}, up to event {event}", figure::time(run.at, desk.zone()))
        }),
        detail: run.map_or_else(String::new, |run| page::sentence(&run.detail)),
    }
}

const fn words(check: NamedCheck) -> (&'static str, &'static str) {
    match check {
        NamedCheck::Closes => (
            "The book closes",
            "For each component, all units, vessels and outside accounts together come to 0 mL, exactly.",
        ),
        NamedCheck::NoVesselBelowZero => (
            "Nothing holds less than nothing",
            "No unit and no vessel holds less than 0 mL of any component.",
        ),
        NamedCheck::ReplayAgrees => (
            "Working it out again agrees",
            "The record is whole, link by link, and working everything out from it again gives every figure that is shown.",
        ),
        NamedCheck::DipIsFresh => (
            "Vessels were dipped lately",
            "Every vessel in use was dipped not long ago. Where one was not, nothing is broken: dip it.",
        ),
    }
}
