//! The demonstration with its book worked out, and ways to look things up in both.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use chrono::NaiveDate;
use domain::book::outcome::Outcome;
use domain::book::question::{Question, QuestionKind};
use domain::book::{Book, Kept, PlaceState};
use domain::fact::{Recorded, What};
use domain::fleet::{Unit, Vessel};
use domain::ids::{FactKey, PlaceId};
use domain::job::{Account, Job, JobKind, Line};

use super::super::{SEED, facts};

pub(super) struct Replayed {
    pub(super) facts: Vec<Recorded>,
    pub(super) book: Book,
    pub(super) outcomes: BTreeMap<FactKey, Outcome>,
}

/// A job with when it was.
pub(super) struct Done<'a> {
    pub(super) date: NaiveDate,
    pub(super) recorded: &'a Recorded,
    pub(super) job: &'a Job,
    pub(super) outcome: &'a Outcome,
}

impl Replayed {
    /// The one that ships, worked out once for all tests.
    pub(super) fn shipped() -> &'static Self {
        static SHIPPED: LazyLock<Replayed> = LazyLock::new(|| Replayed::of(facts(SEED).unwrap()));
        &SHIPPED
    }

    pub(super) fn of(facts: Vec<Recorded>) -> Self {
        let mut book = Book::new();
        for fact in &facts {
            book.enter(fact);
        }
        let mut outcomes = BTreeMap::new();
        book.work_out(&mut |worked| {
            outcomes.insert(worked.key, worked.outcome.clone());
            Kept::Stored
        });
        Self {
            facts,
            book,
            outcomes,
        }
    }

    pub(super) fn jobs(&self) -> impl Iterator<Item = Done<'_>> {
        self.facts
            .iter()
            .filter_map(|recorded| match &recorded.fact.what {
                What::Job(job) => Some(Done {
                    date: recorded.fact.when.local_date,
                    recorded,
                    job,
                    outcome: self.outcomes.get(&recorded.key).unwrap(),
                }),
                _ => None,
            })
    }

    pub(super) fn jobs_of(&self, kind: JobKind) -> impl Iterator<Item = Done<'_>> {
        self.jobs().filter(move |done| done.job.kind == kind)
    }

    /// The jobs of one kind on a unit, in the order they happened.
    pub(super) fn on_unit(&self, number: &str, kind: JobKind) -> Vec<Done<'_>> {
        let id = self.unit(number).id;
        let mut jobs: Vec<_> = self
            .jobs_of(kind)
            .filter(|done| done.job.unit == Some(id))
            .collect();
        jobs.sort_by_key(|done| done.recorded.fact.when.happened());
        jobs
    }

    /// The unit's card, as it is by now.
    pub(super) fn unit(&self, number: &str) -> &Unit {
        self.units()
            .filter(|unit| unit.number == number)
            .last()
            .unwrap()
    }

    pub(super) fn units(&self) -> impl Iterator<Item = &Unit> {
        self.facts
            .iter()
            .filter_map(|recorded| match &recorded.fact.what {
                What::Unit(unit) => Some(unit),
                _ => None,
            })
    }

    pub(super) fn loop_of(&self, number: &str, name: &str) -> PlaceId {
        let unit = self.unit(number);
        unit.loops.iter().find(|each| each.name == name).unwrap().id
    }

    pub(super) fn vessel(&self, name: &str) -> &Vessel {
        self.facts
            .iter()
            .find_map(|recorded| match &recorded.fact.what {
                What::Vessel(vessel) if vessel.name.starts_with(name) => Some(vessel),
                _ => None,
            })
            .unwrap()
    }

    pub(super) fn state(&self, place: PlaceId) -> &PlaceState {
        self.book.place(place).unwrap()
    }

    /// The state of a place at the end of a day.
    pub(super) fn state_after(&self, place: PlaceId, date: &str) -> PlaceState {
        let next = super::super::calendar::day(date).unwrap().succ_opt();
        self.book
            .replay_until(next, &mut |_| {})
            .into_iter()
            .find(|(account, _)| account.place() == Some(place))
            .unwrap()
            .1
    }

    /// The questions nobody meant and nobody answered, and all others, by kind.
    pub(super) fn questions(&self) -> Vec<(&FactKey, &Question)> {
        self.outcomes
            .iter()
            .flat_map(|(key, outcome)| outcome.questions.iter().map(move |asked| (key, asked)))
            .collect()
    }

    pub(super) fn asked(&self, kind: QuestionKind) -> Vec<(&FactKey, &Question)> {
        let mut asked = self.questions();
        asked.retain(|(_, question)| question.kind == kind);
        asked
    }
}

impl Done<'_> {
    /// Volumes of its movements from one place to another, mL as typed.
    pub(super) fn moved(&self, from: Account, to: Account) -> i64 {
        self.job
            .lines
            .iter()
            .filter_map(|line| match line {
                Line::Movement(movement) if movement.from == from && movement.to == to => {
                    Some(movement.volume.value.ml())
                }
                _ => None,
            })
            .sum()
    }
}
