//! The lists behind the key figures. A figure counts the rows of one, or adds them up: it has no other
//! source.

use domain::condition::course::whole_days;
use domain::quantity::{Distance, UnitsOfMeasure};
use storage::{Done, Logged, LoopFigures};

use super::sums::{Fleet, Sums};
use crate::component::Counted;
use crate::desk::Desk;
use crate::figure;

/// What is asked for a span, and of the fleet as it stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Of<'a> {
    pub(super) desk: &'a Desk,
    pub(super) sums: &'a Sums,
    pub(super) fleet: &'a Fleet,
}

/// What a row is about.
#[derive(Clone, Debug)]
pub(super) enum Subject {
    /// A job, by its place in the record.
    Job(i64),
    /// Something else: address, words, day.
    At(String, String, String),
}

/// A row: what it counts for, in the unit of its list, and as it is shown.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    pub(super) subject: Subject,
    pub(super) value: i64,
    pub(super) shown: String,
}

/// A list.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum List {
    Fills,
    FillsThatLasted,
    Repairs,
    RepairsAgain,
    Paid,
    Bought,
    Dips,
    Jobs,
    TakenBack,
    Unaccounted,
    Lost,
    UnitJobs,
    UnitJobsWithMeter,
    TopUps,
    TopUpsWithFluid,
    TopUpsWithLevel,
    Driven,
    DrivenTopUps,
    Flagged,
    Samples,
    SamplesBack,
    CameDue,
    DoneOnTime,
    Capacity,
    Units,
    Tested,
    Untested,
    UnknownChemistry,
}

/// Code, name, what its rows are, what the last column says.
type Words = (&'static str, &'static str, &'static str, &'static str);

const LISTS: [(List, Words); 28] = [
    (
        List::Fills,
        ("fills", "Fills", "Fills and exchanges", "Came out"),
    ),
    (
        List::FillsThatLasted,
        (
            "fills-right",
            "Fills right the first time",
            "Fills and exchanges that did not come back within 30 days",
            "Came out",
        ),
    ),
    (
        List::Repairs,
        ("repairs", "Leak repairs", "Leak repairs", "Came out"),
    ),
    (
        List::RepairsAgain,
        (
            "repairs-again",
            "Repeat leaks",
            "Leak repairs after which the same loop was mended again within 30 days",
            "Came out",
        ),
    ),
    (
        List::Paid,
        (
            "paid",
            "Paid for coolant",
            "Jobs in which coolant with a price was bought; plain water left out",
            "Price",
        ),
    ),
    (
        List::Bought,
        (
            "bought-lines",
            "Coolant bought, by job",
            "Jobs in which coolant was bought; plain water left out",
            "Lines with a price",
        ),
    ),
    (
        List::Dips,
        (
            "dips",
            "Dips of stock",
            "Jobs that dipped vessels without waste; below zero, more was there than the book held",
            "Missing",
        ),
    ),
    (
        List::Jobs,
        ("jobs", "Jobs", "All jobs of these months", "Counts"),
    ),
    (
        List::TakenBack,
        (
            "taken-back",
            "Jobs taken back",
            "Jobs of these months that do not count any more",
            "Why",
        ),
    ),
    (
        List::Unaccounted,
        (
            "unaccounted",
            "Not accounted for",
            "Jobs after which the book had more than was seen; below zero, less",
            "Not accounted for",
        ),
    ),
    (
        List::Lost,
        (
            "lost",
            "Lost",
            "What left loops and vessels and went nowhere it is kept",
            "Volume",
        ),
    ),
    (
        List::UnitJobs,
        (
            "unit-jobs",
            "Jobs on units",
            "Jobs on units that count",
            "Meter",
        ),
    ),
    (
        List::UnitJobsWithMeter,
        (
            "unit-jobs-with-meter",
            "Jobs on units with a meter",
            "Jobs on units that count and tell a meter",
            "Meter",
        ),
    ),
    (
        List::TopUps,
        ("top-ups", "Top-ups", "Top-ups that count", "Fluid, level"),
    ),
    (
        List::TopUpsWithFluid,
        (
            "top-ups-with-fluid",
            "Top-ups that say what went in",
            "Top-ups that count and say what went in",
            "Fluid, level",
        ),
    ),
    (
        List::TopUpsWithLevel,
        (
            "top-ups-with-level",
            "Top-ups that say the level",
            "Top-ups that count and say where the level stood at the end",
            "Fluid, level",
        ),
    ),
    (
        List::Driven,
        (
            "driven",
            "Distance driven",
            "Units in use today, as far as their odometers were read",
            "Driven",
        ),
    ),
    (
        List::DrivenTopUps,
        (
            "driven-top-ups",
            "Topped up over that distance",
            "Units in use today whose odometers were read; what completes a fill left out",
            "Topped up",
        ),
    ),
    (
        List::Flagged,
        (
            "flagged",
            "Leaks from flagged to repaired",
            "Leaks that were suspected or seen and then mended; a repair nobody suspected \
                 anything before is none",
            "Days",
        ),
    ),
    (
        List::Samples,
        ("samples", "Samples taken", "Samples that count", "Result"),
    ),
    (
        List::SamplesBack,
        (
            "samples-back",
            "Laboratory turnaround",
            "Samples with a result, from the day they were taken to that of the report; where \
                 it has none, to the day it came in",
            "Days",
        ),
    ),
    (
        List::CameDue,
        (
            "came-due",
            "Work kept up or overdue",
            "Tests and changes of loops that were done, or were past their window at the end; each kind \
                 counts once a loop, the check before winter is left out",
            "Done",
        ),
    ),
    (
        List::DoneOnTime,
        (
            "done-on-time",
            "Work done on time",
            "Tests and changes of loops whose window never closed before they were done",
            "Done",
        ),
    ),
    (
        List::Capacity,
        (
            "capacity",
            "What the loops hold when full",
            "Loops of units in use today with a capacity on their card",
            "Capacity",
        ),
    ),
    (
        List::Units,
        (
            "units",
            "Units in use",
            "Units in use, and their loop tested longest ago",
            "Kind",
        ),
    ),
    (
        List::Tested,
        (
            "tested",
            "Tested in the window",
            "Units with every loop tested in the window, and the oldest of these tests",
            "Kind",
        ),
    ),
    (
        List::Untested,
        (
            "untested",
            "Not tested in the window",
            "Units with a loop not tested in the window, and its last test",
            "Kind",
        ),
    ),
    (
        List::UnknownChemistry,
        (
            "unknown-chemistry",
            "Unknown chemistry",
            "Units with a loop of which nobody knows what inhibitors are in it",
            "Kind",
        ),
    ),
];

impl List {
    pub(super) fn words(self) -> Words {
        let known = LISTS.iter().find(|(list, _)| *list == self);
        known.map_or(("", "", "", ""), |(_, words)| *words)
    }

    pub(super) fn from_code(code: &str) -> Option<Self> {
        let known = LISTS.iter().find(|(_, words)| words.0 == code);
        known.map(|(list, _)| *list)
    }

    /// It is of today, whatever months are asked for.
    pub(super) const fn is_of_today(self) -> bool {
        matches!(
            self,
            Self::Capacity | Self::Units | Self::Tested | Self::Untested | Self::UnknownChemistry
        )
    }

    pub(super) fn address(self, of: Of<'_>) -> String {
        let code = self.words().0;
        if self.is_of_today() {
            format!("/figures/{code}")
        } else {
            format!("/figures/{code}?{}", of.sums.span.query())
        }
    }

    /// How many rows it has, with the way to them.
    pub(super) fn count(self, of: Of<'_>) -> (usize, Counted) {
        let count = self.len(of);
        (count, Counted::rows(count, self.address(of)))
    }

    /// How many entries it has. Where that may be every job of a large shop none is drawn up.
    fn len(self, of: Of<'_>) -> usize {
        if self.is_of_jobs() {
            of.sums.jobs.iter().filter(|job| self.takes(job)).count()
        } else {
            self.entries(of).len()
        }
    }

    /// It goes through all jobs.
    const fn is_of_jobs(self) -> bool {
        matches!(
            self,
            Self::Jobs
                | Self::TakenBack
                | Self::UnitJobs
                | Self::UnitJobsWithMeter
                | Self::TopUps
                | Self::TopUpsWithFluid
                | Self::TopUpsWithLevel
        )
    }

    /// What its rows add up to, with the way to them.
    pub(super) fn sum(self, of: Of<'_>, shown: impl Fn(i64) -> String) -> (i64, Counted) {
        let entries = self.entries(of);
        let values = entries.iter().map(|entry| entry.value);
        let sum = values.fold(0, i64::saturating_add);
        (sum, Counted::sum((shown(sum), sum), self.address(of)))
    }

    /// Its rows, the newest first.
    pub(super) fn entries(self, of: Of<'_>) -> Vec<Entry> {
        let Of { sums, .. } = of;
        let units = of.desk.units();
        let mut found: Vec<Entry> = match self {
            Self::Fills => done(&sums.fills, |_| true, FILLS),
            Self::FillsThatLasted => done(&sums.fills, |each| !each.again, FILLS),
            Self::Repairs => done(&sums.repairs, |_| true, REPAIRS),
            Self::RepairsAgain => done(&sums.repairs, |each| each.again, REPAIRS),
            Self::Paid | Self::Bought => paid(self, of),
            Self::Dips => sums
                .dips
                .iter()
                .map(|dip| volume(units, (dip.seq, dip.missing_ml)))
                .collect(),
            Self::Unaccounted => sums
                .unaccounted
                .iter()
                .map(|job| volume(units, (job.seq, job.ml)))
                .collect(),
            Self::Lost => super::figures::lost(of),
            Self::Jobs
            | Self::TakenBack
            | Self::UnitJobs
            | Self::UnitJobsWithMeter
            | Self::TopUps
            | Self::TopUpsWithFluid
            | Self::TopUpsWithLevel => {
                let jobs = sums.jobs.iter().filter(|job| self.takes(job));
                jobs.map(|job| self.logged(job)).collect()
            }
            Self::Driven | Self::DrivenTopUps => driven(self, of),
            Self::Flagged => repaired(of),
            Self::Samples | Self::SamplesBack => samples(self, of),
            Self::CameDue | Self::DoneOnTime => fell(self, of),
            Self::Capacity => capacity(of),
            Self::Units | Self::Tested | Self::Untested => tested(self, of),
            Self::UnknownChemistry => unknown_chemistry(of),
        };
        found.reverse();
        found
    }

    fn takes(self, job: &Logged) -> bool {
        let counts = !job.is_taken_back();
        let top_up = counts && job.kind == domain::job::JobKind::TopUp.code();
        match self {
            Self::Jobs => true,
            Self::TakenBack => job.is_taken_back(),
            Self::UnitJobs => counts && job.unit.is_some(),
            Self::UnitJobsWithMeter => counts && job.unit.is_some() && job.meter,
            Self::TopUps => top_up,
            Self::TopUpsWithFluid => top_up && job.fluid,
            Self::TopUpsWithLevel => top_up && job.mark,
            _ => false,
        }
    }

    fn logged(self, job: &Logged) -> Entry {
        let said = |said, yes: &'static str, no: &'static str| if said { yes } else { no };
        let shown = match self {
            Self::Jobs => said(!job.is_taken_back(), "yes", "taken back").to_owned(),
            Self::TakenBack => "taken back, or another job in its place".to_owned(),
            Self::UnitJobs | Self::UnitJobsWithMeter => {
                said(job.meter, "read", "not read").to_owned()
            }
            _ => format!(
                "{}, {}",
                said(job.fluid, "fluid told", "fluid not told"),
                said(job.mark, "level told", "level not told")
            ),
        };
        Entry {
            subject: Subject::Job(job.seq),
            value: 1,
            shown,
        }
    }
}

const FILLS: (&str, &str) = ("right the first time", "came back within 30 days");
const REPAIRS: (&str, &str) = ("not mended again", "mended again within 30 days");

fn done(done: &[Done], takes: impl Fn(&Done) -> bool, (lasted, again): (&str, &str)) -> Vec<Entry> {
    let each = done.iter().filter(|each| takes(each));
    each.map(|each| Entry {
        subject: Subject::Job(each.seq),
        value: 1,
        shown: if each.again { again } else { lasted }.to_owned(),
    })
    .collect()
}

pub(super) fn volume(units: UnitsOfMeasure, (seq, ml): (i64, i64)) -> Entry {
    Entry {
        subject: Subject::Job(seq),
        value: ml,
        shown: figure::volume(units, ml),
    }
}

/// Money, given in hundredths.
pub(super) fn money(units: UnitsOfMeasure, hundredths: i64) -> String {
    let whole = domain::quantity::rounding::float(hundredths) / 100.0;
    figure::decimal(units, whole, 2)
}

pub(super) fn distance(units: UnitsOfMeasure, m: i64) -> String {
    let distance = Distance::from_m(m);
    distance.map_or_else(
        |_| "more than can be shown".to_owned(),
        |it| units.distance(it),
    )
}

fn paid(list: List, Of { sums, desk, .. }: Of<'_>) -> Vec<Entry> {
    let jobs = sums.paid.iter();
    if list == List::Bought {
        let lines = jobs.map(|job| Entry {
            subject: Subject::Job(job.seq),
            value: job.lines,
            shown: format!("{} of {}", job.with_price, job.lines),
        });
        return lines.collect();
    }
    let priced = jobs.filter(|job| job.with_price > 0);
    priced
        .map(|job| Entry {
            subject: Subject::Job(job.seq),
            value: job.hundredths,
            shown: money(desk.units(), job.hundredths),
        })
        .collect()
}

fn driven(list: List, Of { sums, desk, .. }: Of<'_>) -> Vec<Entry> {
    let units = desk.units();
    let each = sums.driven.iter().map(|unit| {
        let (value, shown) = match list {
            List::Driven => (unit.m, distance(units, unit.m)),
            _ => (unit.topped_up_ml, figure::volume(units, unit.topped_up_ml)),
        };
        Entry {
            subject: Subject::At(unit.address.clone(), unit.name.clone(), String::new()),
            value,
            shown,
        }
    });
    each.rev().collect()
}

fn repaired(Of { sums, desk, .. }: Of<'_>) -> Vec<Entry> {
    let mut repaired: Vec<_> = sums.repaired.iter().collect();
    repaired.sort_by_key(|each| each.at);
    let each = repaired.into_iter().map(|each| Entry {
        subject: Subject::At(
            format!("/jobs/{}", each.key),
            format!("Leak repair, unit {}", each.name),
            figure::day(each.at, desk.zone()),
        ),
        value: each.days,
        shown: days(each.days),
    });
    each.collect()
}

pub(super) fn days(days: i64) -> String {
    if days == 1 {
        "1 day".to_owned()
    } else {
        format!("{days} days")
    }
}

fn samples(list: List, Of { sums, .. }: Of<'_>) -> Vec<Entry> {
    let out = |taken: &str, back: &str| {
        let day = |text: &str| text.parse::<chrono::NaiveDate>().ok();
        let gone = day(back)?.signed_duration_since(day(taken)?);
        Some(gone.num_days().max(0))
    };
    let each = sums.samples.iter().filter_map(|sample| {
        let back = sample.back.as_deref();
        let out = back.and_then(|back| out(&sample.taken, back));
        if list == List::SamplesBack && out.is_none() {
            return None;
        }
        Some(Entry {
            subject: Subject::Job(sample.seq),
            value: out.unwrap_or(0),
            shown: out.map_or_else(|| "not back yet".to_owned(), days),
        })
    });
    each.collect()
}

fn fell(list: List, Of { sums, desk, .. }: Of<'_>) -> Vec<Entry> {
    let each = sums
        .fell
        .iter()
        .filter(|fell| list == List::CameDue || fell.round.on_time);
    let rows = each.map(|fell| {
        let what = format!("{}, unit {}", fell.round.task.words(), fell.name);
        let (address, day, shown) = match fell.round.done {
            Some((at, key)) => (
                format!("/jobs/{key}"),
                figure::day(at, desk.zone()),
                if fell.round.on_time {
                    "on time"
                } else {
                    "late, or late since"
                },
            ),
            None => (
                fell.unit.clone(),
                String::new(),
                "not done, its window closed",
            ),
        };
        Entry {
            subject: Subject::At(address, what, day),
            value: 1,
            shown: shown.to_owned(),
        }
    });
    rows.collect()
}

fn capacity(Of { fleet, desk, .. }: Of<'_>) -> Vec<Entry> {
    let each = fleet.loops.iter().rev().filter_map(|of| {
        let ml = of.capacity_ml?;
        Some(Entry {
            subject: Subject::At(
                format!("/units/{}", of.unit),
                format!("{}, {}", of.unit_number, of.name),
                String::new(),
            ),
            value: ml,
            shown: figure::volume(desk.units(), ml),
        })
    });
    each.collect()
}

/// Each unit with the loop that was read longest ago.
fn tested(list: List, Of { fleet, desk, .. }: Of<'_>) -> Vec<Entry> {
    let read_at = |each: &LoopFigures| each.state.and_then(|state| state.last_reading_at);
    let age = |each: &LoopFigures| read_at(each).map(|at| whole_days(at, desk.now_ms()));
    let units = fleet.loops.chunk_by(|one, next| one.unit == next.unit);
    let worst = units.filter_map(|unit| unit.iter().min_by_key(|each| read_at(each)));
    let wanted = worst.filter(|worst| match list {
        List::Tested => fleet.policy.freeze.is_tested(age(worst)),
        List::Untested => !fleet.policy.freeze.is_tested(age(worst)),
        _ => true,
    });
    let rows = wanted.map(|each| Entry {
        subject: Subject::At(
            format!("/units/{}", each.unit),
            format!("{}, {}", each.unit_number, each.name),
            read_at(each).map_or_else(
                || "no test yet".to_owned(),
                |at| figure::day(at, desk.zone()),
            ),
        ),
        value: 1,
        shown: each.unit_kind.clone(),
    });
    let mut rows: Vec<Entry> = rows.collect();
    rows.reverse();
    rows
}

fn unknown_chemistry(Of { fleet, .. }: Of<'_>) -> Vec<Entry> {
    let unknown = fleet.units.iter().rev().filter_map(|unit| {
        let mut each = unit.each();
        let (of, _) = each.find(|(_, known)| known.corrosion.limits.is_none())?;
        Some(Entry {
            subject: Subject::At(
                format!("/units/{}", unit.course.unit),
                unit.name(of),
                String::new(),
            ),
            value: 1,
            shown: unit.course.kind.clone(),
        })
    });
    unknown.collect()
}
