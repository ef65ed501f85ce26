//! When fluid becomes waste, and how much of it: each fluid is counted once, on its own day.
//!
//! Unfit fluid is waste from the day it was drained; fit fluid from the day it is put into a
//! container for waste, is shipped, or is decided to be waste. What falls in among waste is waste,
//! and what lies in a vessel that waste falls into becomes waste with it.

use super::contents::Contents;
use super::filed::{FiledMovement, PlaceNumber, Spot};
use super::mixture::mass_of;
use super::outcome::{Flow, Measure};
use super::posting::Poster;
use crate::fact::Fitness;
use crate::fleet::Holds;
use crate::job::{Account, Fit};

/// What is to be known of both ends before fluid is moved.
pub(super) struct BeforeMove {
    from_waste: bool,
    to_waste: bool,
    held: Contents,
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

    pub(super) fn before_move(&self, (from, to): (Spot, Spot)) -> BeforeMove {
        let held = match to {
            Spot::Place(number) => self
                .place_state(number)
                .map(|state| state.contents.clone())
                .unwrap_or_default(),
            Spot::Outside(_) => Contents::default(),
        };
        BeforeMove {
            from_waste: self.is_waste(from),
            to_waste: self.is_waste(to),
            held,
        }
    }

    /// Counts what a movement made waste, or left undecided.
    pub(super) fn count_generation(
        &mut self,
        line: u16,
        movement: &FiledMovement,
        (from, to): (Spot, Spot),
        (moved, before): (&Contents, &BeforeMove),
    ) {
        let vessel = match (from, to) {
            (_, Spot::Place(number)) if !self.is_loop(number) => number,
            (Spot::Place(number), Spot::Outside(Account::Carrier)) => {
                let is_fresh = self
                    .card(number)
                    .is_some_and(|card| card.holds == Some(Holds::Fresh));
                if !before.from_waste && !is_fresh {
                    self.count(line, Measure::BecameWaste, (number, moved));
                }
                return;
            }
            _ => return,
        };
        if self.is_waste(to) {
            if !before.to_waste {
                self.count(line, Measure::BecameWaste, (vessel, &before.held));
            }
            if !before.from_waste {
                self.count(line, Measure::BecameWaste, (vessel, moved));
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
        let contents = state.contents.clone();
        let measure = match fitness {
            Fitness::Waste if state.generation_date.is_none() => Measure::BecameWaste,
            Fitness::Reclaim => Measure::Reclaimed,
            Fitness::Waste | Fitness::Reuse => return,
        };
        self.count(0, measure, (number, &contents));
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
        });
    }
}
