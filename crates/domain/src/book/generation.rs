//! When fluid becomes waste, and how much of it: each fluid is counted once, on its own day.
//!
//! Unfit fluid is waste from the day it was drained; fit fluid from the day it is put into a
//! container for waste, is shipped, or is decided to be waste. What falls in among waste is waste,
//! and what lies in a vessel that waste falls into becomes waste with it. How much of a vessel's
//! contents was counted is kept apart from the day it became waste, which a decision or an emptied
//! vessel takes back. What is decided to be reclaimed is counted by that decision, once in a month.

use super::contents::Contents;
use super::filed::{Card, FiledMovement, PlaceNumber, Spot};
use super::mixture::mass_of;
use super::month::Month;
use super::outcome::{Flow, Measure};
use super::posting::Poster;
use super::state::{Incoming, PlaceState};
use crate::fact::Fitness;
use crate::fleet::Holds;
use crate::job::{Account, Fit};

/// What is to be known of where fluid goes before it is moved.
pub(super) struct BeforeMove {
    /// Held there, and not counted as waste yet.
    not_counted: Contents,
}

impl Poster<'_> {
    fn is_waste(&self, spot: Spot) -> bool {
        match spot {
            Spot::Place(number) if !self.is_loop(number) => self
                .place_state(number)
                .is_some_and(|state| state.generation_date.is_some()),
            _ => false,
        }
    }

    pub(super) fn before_move(&self, to: Spot) -> BeforeMove {
        let not_counted = match to {
            Spot::Place(number) => self
                .place_state(number)
                .map(PlaceState::not_counted)
                .unwrap_or_default(),
            Spot::Outside(_) => Contents::default(),
        };
        BeforeMove { not_counted }
    }

    /// Counts what a movement made waste, or left undecided.
    pub(super) fn count_generation(
        &mut self,
        line: u16,
        movement: &FiledMovement,
        (from, to): (Spot, Spot),
        (incoming, before): (&Incoming, &BeforeMove),
    ) {
        let moved = &incoming.contents;
        let new = moved.in_proportion(moved.total_ml().saturating_sub(incoming.counted_ml));
        let vessel = match (from, to) {
            (_, Spot::Place(number)) if !self.is_loop(number) => number,
            (Spot::Place(number), Spot::Outside(Account::Carrier)) => {
                let is_fresh = self
                    .card(number)
                    .is_some_and(|card| card.holds == Some(Holds::Fresh));
                if !is_fresh {
                    self.count(line, Measure::BecameWaste, (number, &new));
                }
                return;
            }
            _ => return,
        };
        if self.is_waste(to) {
            self.count(line, Measure::BecameWaste, (vessel, &before.not_counted));
            self.count(line, Measure::BecameWaste, (vessel, &new));
            if let Some(state) = self.place_mut(vessel) {
                state.count_all();
            }
        } else if movement.fit == Fit::Undecided
            && matches!(from, Spot::Place(number) if self.is_loop(number))
        {
            self.count(line, Measure::Undecided, (vessel, moved));
        }
    }

    /// Counts what a decision on the contents of a vessel comes to.
    pub(super) fn count_decision(&mut self, number: PlaceNumber, fitness: Fitness) {
        let Some(state) = self.place_state(number) else {
            return;
        };
        match fitness {
            Fitness::Waste => {
                let new = state.not_counted();
                self.count(0, Measure::BecameWaste, (number, &new));
                if let Some(state) = self.place_mut(number) {
                    state.count_all();
                }
            }
            Fitness::Reclaim => self.count_to_reclaim(number),
            Fitness::Reuse => {}
        }
    }

    /// What is decided to be reclaimed is counted by that, unless it was counted before: as waste, by
    /// the same decision, or in the same month before it went back into service.
    fn count_to_reclaim(&mut self, number: PlaceNumber) {
        let month = Month::of(self.filed.date);
        let Some(state) = self.place_state(number) else {
            return;
        };
        let (contents, counted_ml) = (state.contents.clone(), state.counted_ml);
        let not_counted_ml = contents.total_ml().saturating_sub(counted_ml).max(0);
        let again_ml = state.again.ml_in(month).min(not_counted_ml);
        let new_ml = not_counted_ml.saturating_sub(again_ml);
        let part = |ml| contents.in_proportion(ml);
        self.count(0, Measure::Reclaimed, (number, &part(new_ml)));
        self.count(0, Measure::ReclaimedAgain, (number, &part(again_ml)));
        if let Some(state) = self.place_mut(number) {
            state.count_all_to_reclaim((month, not_counted_ml));
        }
    }

    /// What stood in a container for waste when the book began was waste before: it has the day of
    /// the opening for want of a better one, and counts in no month.
    pub(super) fn opens_as_waste(&mut self, number: PlaceNumber) {
        let for_waste = self.card(number).is_some_and(Card::is_for_waste);
        let date = self.filed.date;
        if let Some(state) = self.place_mut(number)
            && for_waste
            && !state.contents.is_empty()
        {
            state.generation_date.get_or_insert(date);
            state.count_all();
        }
    }

    fn count(&mut self, line: u16, measure: Measure, (number, contents): (PlaceNumber, &Contents)) {
        if contents.is_empty() {
            return;
        }
        let shown_ml = contents.shown_ml();
        self.outcome.flows.push(Flow {
            line,
            measure,
            vessel: self.account_of(Spot::Place(number)).place(),
            typed_ml: shown_ml,
            shown_ml,
            mass_g: mass_of(contents),
            batch: None,
        });
    }
}
