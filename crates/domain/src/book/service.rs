//! Jobs as a whole, decisions on contents, places given up.

use super::filed::{FiledJob, FiledLine, Inspection, PlaceNumber, Spot};
use super::month::Month;
use super::outcome::Why;
use super::posting::Poster;
use super::question::QuestionKind;
use super::state::NextIn;
use crate::fact::Fitness;
use crate::job::Account;
use crate::moment::MINUTE_MS;

/// Within so long the same job is taken for logged twice.
const TWICE_MS: i64 = 10 * MINUTE_MS;

impl Poster<'_> {
    pub(super) fn post_job(&mut self, job: &FiledJob) {
        self.ask_about_places(job);
        for (at, line) in job.lines.iter().enumerate() {
            let at = u16::try_from(at).unwrap_or(u16::MAX);
            match line {
                FiledLine::Movement(movement) => self.post_movement(at, job, movement),
                FiledLine::Reading(reading) => self.post_reading(at, *reading),
                FiledLine::Dip(dip) => self.post_dip(at, dip),
            }
        }
        self.after_job(job);
    }

    fn ask_about_places(&mut self, job: &FiledJob) {
        let date = self.filed.date;
        for at in 0..self.touched.len() {
            let Some(number) = self.touched.get(at).copied() else {
                return;
            };
            let Some((_, place)) = self.ground.place(number) else {
                continue;
            };
            let retired = self.place_state(number).is_some_and(|state| state.retired);
            let inspected = self
                .place_state(number)
                .and_then(|state| state.in_date_until);
            if place.cards.is_empty() {
                self.ask_about(0, QuestionKind::PlaceUnknown, number);
            }
            if retired {
                self.ask_about(0, QuestionKind::PlaceRetired, number);
            }
            let due = place.card(&self.filed.order).and_then(|card| card.next_due);
            if let Some(due) = inspected.or(due)
                && date >= due
                && !job.lines.is_empty()
            {
                let days = date.signed_duration_since(due).num_days();
                self.ask(0, QuestionKind::OutOfDate, Some(number), (days, 0));
            }
        }
        if job
            .replaces
            .is_some_and(|old| !self.ground.orders.contains_key(&old))
        {
            self.ask(0, QuestionKind::ReplacedUnknown, None, (0, 0));
        }
        let closed = self
            .filed
            .shop
            .and_then(|shop| self.ground.closed.get(&(shop, Month::of(date))));
        if closed.is_some_and(|closed| self.filed.received_at > *closed) {
            self.ask(0, QuestionKind::MonthClosed, None, (0, 0));
        }
    }

    fn after_job(&mut self, job: &FiledJob) {
        let Some(number) = job
            .place
            .and_then(|number| self.ground.place(number))
            .map(|(n, _)| n)
        else {
            return;
        };
        let (at, date) = (self.filed.order.happened, self.filed.date);
        let typed_ml: i64 = job
            .lines
            .iter()
            .map(|line| match line {
                FiledLine::Movement(movement) => movement.volume_ml,
                _ => 0,
            })
            .sum();
        let twice = self
            .place_state(number)
            .and_then(|state| state.last_logged)
            .is_some_and(|(kind, ml, earlier)| {
                typed_ml > 0
                    && kind == job.kind
                    && ml == typed_ml
                    && at.ms_since(earlier) <= TWICE_MS
            });
        if twice {
            self.ask_about(0, QuestionKind::LoggedTwice, number);
        }
        if let Some(state) = self.place_mut(number) {
            state.last_logged = Some((job.kind, typed_ml, at));
            if job.after_heat_cycle
                && let Some(fill) = &mut state.last_fill
            {
                fill.heat_cycle_at.get_or_insert(at);
            }
            if let Some(dedicated) = job.dedicated {
                state.dedicated = Some(dedicated);
                state.unfit_since = None;
                state.generation_date = None;
                state.end_batch();
            }
            match job.inspected {
                Some(Inspection::Passed { next_due }) => state.in_date_until = Some(next_due),
                // Out of date from that day.
                Some(Inspection::Failed) => state.in_date_until = Some(date),
                None => {}
            }
        }
    }

    pub(super) fn decide(&mut self, number: PlaceNumber, fitness: Fitness) {
        let Some((number, _)) = self.ground.place(number) else {
            return;
        };
        self.touch(number);
        self.count_decision(number, fitness);
        let (date, key) = (self.filed.date, self.filed.order.key);
        if let Some(state) = self.place_mut(number) {
            state.batch = Some(key);
            state.fitness = Some(fitness);
            state.next_in = NextIn::SameBatch;
            match fitness {
                Fitness::Reuse | Fitness::Reclaim => {
                    state.unfit_since = None;
                    state.generation_date = None;
                }
                // Unfit fluid was waste from the day it was drained; fit fluid from this day on.
                Fitness::Waste => {
                    state.generation_date.get_or_insert(date);
                    state.unfit_since.get_or_insert(date);
                }
            }
        }
    }

    pub(super) fn retire(&mut self, places: &[PlaceNumber]) {
        for number in places {
            let Some((number, _)) = self.ground.place(*number) else {
                continue;
            };
            self.touch(number);
            let Some(contents) = self.place_state(number).map(|state| state.contents.clone())
            else {
                continue;
            };
            let to = if self.is_loop(number) {
                Account::GoneWithUnit
            } else {
                Account::NotAccountedFor
            };
            self.transfer(
                0,
                Why::Retired,
                (Spot::Place(number), Spot::Outside(to)),
                &contents,
            );
            if let Some(state) = self.place_mut(number) {
                state.retired = true;
            }
        }
    }
}
