//! Units of the programme, and what was found at those that are done.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use domain::condition::policy::Policy;
use domain::condition::retrofit::next_visit;
use domain::ids::UnitId;
use domain::quantity::rounding::float;
use storage::{Fitting, RetrofitUnit};

use super::{COUNTED_OVER_DAYS, WORK};
use crate::desk::Desk;
use crate::figure;
use crate::waste::export::Csv;

/// A unit as the programme sees it.
#[derive(Clone, Debug)]
pub(super) struct Each {
    unit: UnitId,
    number: String,
    pub(super) kind: String,
    /// By a job or by its card, whichever says the earlier day.
    pub(super) fitted: Option<NaiveDate>,
    job: Option<String>,
    pub(super) next_visit: Option<NaiveDate>,
    visits: i64,
    drains: i64,
    pub(super) payback_months: Option<f64>,
}

/// A unit in the list.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) address: String,
    pub(super) number: String,
    pub(super) kind: String,
    /// "2026-09-04"; empty where it is not done.
    pub(super) fitted: String,
    /// The job it was fitted in.
    pub(super) job: Option<String>,
    pub(super) next_visit: String,
    /// "9 visits in 365 days".
    pub(super) visits: String,
    pub(super) drains: i64,
    pub(super) payback: String,
    /// Where it is logged.
    pub(super) log: Option<String>,
}

/// What has still to be bought for one kind of unit.
#[derive(Clone, Debug)]
pub(super) struct Parts {
    pub(super) kind: String,
    pub(super) left: usize,
    /// "M18×1.5 on 9, 3/8-18 NPT on 2"; empty where none of this kind is done.
    pub(super) threads: String,
}

/// A fitting at which another thread was found than was listed.
#[derive(Clone, Debug)]
pub(super) struct Differs {
    pub(super) number: String,
    pub(super) job: String,
    pub(super) listed: String,
    pub(super) found: String,
}

pub(super) fn each(
    units: Vec<RetrofitUnit>,
    fittings: &[Fitting],
    (desk, policy): (&Desk, &Policy),
) -> Vec<Each> {
    let mut by_unit: BTreeMap<UnitId, &Fitting> = BTreeMap::new();
    for fitting in fittings {
        by_unit.entry(fitting.unit).or_insert(fitting);
    }
    let day = |at: domain::moment::Moment| {
        at.utc()
            .map(|at| at.with_timezone(&desk.zone()).date_naive())
    };
    units
        .into_iter()
        .map(|unit| {
            let fitting = by_unit.get(&unit.unit);
            let by_job = fitting.map(|fitting| fitting.day);
            let counted = (unit.visits, COUNTED_OVER_DAYS);
            Each {
                fitted: by_job.into_iter().chain(unit.on_card).min(),
                job: fitting.map(|fitting| format!("/jobs/{}", fitting.job)),
                next_visit: next_visit(unit.last_job_at.and_then(day), counted, desk.today()),
                payback_months: policy.retrofit.payback_months(float(unit.drains)),
                unit: unit.unit,
                number: unit.number,
                kind: unit.kind,
                visits: unit.visits,
                drains: unit.drains,
            }
        })
        .collect()
}

/// What the columns of the file hold.
pub(super) const HEADS: [&str; 7] = [
    "unit",
    "kind",
    "fitted on",
    "next visit, expected",
    "visits in 365 days",
    "drains in 365 days",
    "months to pay back",
];

impl Each {
    /// Its line of the file. Figures with a point, whatever the shop writes.
    pub(super) fn cells(&self) -> [String; 7] {
        let day = |day: Option<NaiveDate>| day.map_or_else(String::new, |day| day.to_string());
        [
            Csv::text(&self.number),
            Csv::text(&self.kind),
            day(self.fitted),
            day(self.next_visit),
            self.visits.to_string(),
            self.drains.to_string(),
            self.payback_months
                .filter(|_| self.fitted.is_none())
                .map_or_else(String::new, |months| format!("{months:.1}")),
        ]
    }
}

impl Row {
    pub(super) fn of(each: &Each, desk: &Desk) -> Self {
        let address = format!("/units/{}", each.unit);
        let payback = each.payback_months.map_or_else(
            || "not drained in a year".to_owned(),
            |months| format!("{} months", figure::decimal(desk.units(), months, 0)),
        );
        Self {
            log: desk
                .may(WORK)
                .then(|| format!("{address}/jobs/fit_coupling")),
            address,
            number: each.number.clone(),
            kind: each.kind.clone(),
            fitted: each.fitted.map_or_else(String::new, |day| day.to_string()),
            job: each.job.clone(),
            next_visit: each
                .next_visit
                .map_or_else(|| "no job yet".to_owned(), |day| day.to_string()),
            visits: match each.visits {
                1 => "1 visit in 365 days".to_owned(),
                visits => format!("{visits} visits in 365 days"),
            },
            drains: each.drains,
            payback,
        }
    }
}

/// Of the fittings at these units.
fn at<'a>(
    fittings: &'a [Fitting],
    units: &'a [&Each],
) -> impl DoubleEndedIterator<Item = (&'a Fitting, &'a Each)> {
    let by_unit: BTreeMap<UnitId, &Each> = units.iter().map(|each| (each.unit, *each)).collect();
    fittings
        .iter()
        .filter_map(move |fitting| Some((fitting, *by_unit.get(&fitting.unit)?)))
}

pub(super) fn parts(fittings: &[Fitting], units: &[&Each]) -> Vec<Parts> {
    let mut kinds: BTreeMap<&str, (usize, BTreeMap<&str, usize>)> = BTreeMap::new();
    for each in units.iter().filter(|each| each.fitted.is_none()) {
        let left = &mut kinds.entry(each.kind.as_str()).or_default().0;
        *left = left.saturating_add(1);
    }
    for (fitting, each) in at(fittings, units) {
        if let Some((_, threads)) = kinds.get_mut(each.kind.as_str()) {
            let seen = threads.entry(fitting.found.as_str()).or_default();
            *seen = seen.saturating_add(1);
        }
    }
    kinds
        .into_iter()
        .map(|(kind, (left, threads))| {
            let mut threads: Vec<_> = threads.into_iter().collect();
            threads.sort_by_key(|(_, seen)| std::cmp::Reverse(*seen));
            let threads: Vec<String> = threads
                .into_iter()
                .map(|(thread, seen)| format!("{thread} on {seen}"))
                .collect();
            Parts {
                kind: kind.to_owned(),
                left,
                threads: threads.join(", "),
            }
        })
        .collect()
}

pub(super) fn first_and_last(fittings: &[Fitting], units: &[&Each]) -> Option<[(i64, String); 2]> {
    let timed = || {
        at(fittings, units)
            .filter_map(|(fitting, _)| Some((fitting.minutes?, format!("/jobs/{}", fitting.job))))
    };
    Some([timed().next()?, timed().next_back()?])
}

pub(super) fn differing(fittings: &[Fitting], units: &[&Each]) -> Vec<Differs> {
    at(fittings, units)
        .filter_map(|(fitting, each)| {
            let listed = fitting.listed.as_ref()?;
            (*listed != fitting.found).then(|| Differs {
                number: each.number.clone(),
                job: format!("/jobs/{}", fitting.job),
                listed: listed.clone(),
                found: fitting.found.clone(),
            })
        })
        .collect()
}
