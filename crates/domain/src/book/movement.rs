//! A movement: how much really moved, what it brings along, what is odd about it.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "volumes are bounded as in `contents`; what could grow further saturates"
)]

use super::component::{Base, InhibitorClass};
use super::contents::{Contents, share};
use super::filed::{Card, FiledJob, FiledMovement, Named, PlaceNumber, Spot};
use super::mixture::{Mixture, before_mixing_ml, mass_of};
use super::month::Month;
use super::opened::kind_of;
use super::outcome::{Flow, Measure, Why};
use super::posting::Poster;
use super::question::QuestionKind;
use super::state::{Incoming, MEAN_UNKNOWN, NextIn, SIGMA_ENTERED, SIGMA_UNKNOWN, Shares};
use crate::fleet::Holds;
use crate::job::{Account, Fit, JobKind, Mark};
use crate::quantity::rounding;

/// Temperature of a volume whose temperature nobody gave, thousandths of a °C.
pub(super) const DEFAULT_MILLICELSIUS: i32 = 20_000;
/// Error of such a volume, thousandths: 15 °C × 0.6 ‰ per °C (50 % EG swells 4.51 % from 20 to
/// 95 °C, ASHRAE 2001 densities).
pub(super) const DEFAULT_ERROR_PER_MILLE: i64 = 9;
/// A loop's capacity is an estimate: 6 % standard deviation from one unit of a kind to the next.
/// Our own default from a simulation with stated inputs, to be learned per unit.
pub(super) const LOOP_CAPACITY_SIGMA_PER_CENT: i64 = 6;
/// Twice that still fits.
const LOOP_CAPACITY_SLACK_PER_CENT: i64 = 2 * LOOP_CAPACITY_SIGMA_PER_CENT;

/// A vessel emptied down to so much of its capacity counts as empty. Our own default.
const HEEL_PER_CENT: i64 = 1;

/// A volume of mixed fluid brought to 20 °C.
#[derive(Clone, Copy)]
pub(super) struct At20 {
    /// Mixed, as a gauge at 20 °C would show it.
    pub(super) shown: i64,
    /// Before mixing.
    total: i64,
    /// One standard deviation, before mixing.
    error: i64,
}

impl Poster<'_> {
    pub(super) fn post_movement(&mut self, line: u16, job: &FiledJob, movement: &FiledMovement) {
        let from = self.settled(movement.from);
        let to = self.settled(movement.to);
        if from == to {
            self.ask(line, QuestionKind::SamePlace, None, (0, 0));
            return;
        }
        let unnamed = matches!(from, Spot::Outside(_)) && movement.fluid.is_none();
        let named = movement.fluid.unwrap_or_else(|| self.meant_for(to));
        if unnamed {
            self.ask(line, QuestionKind::FluidNotNamed, None, (0, 0));
        }
        let measured = self.measure(job, movement, (from, named));
        let Some(measured) = measured else {
            return;
        };
        if job.kind == JobKind::TopUp
            && let Spot::Place(number) = to
            && self.is_loop(number)
        {
            self.class_top_up(job, number, measured);
            if job.mark == Some(Mark::At) {
                self.post_used_up(line, number, measured);
            }
        }
        let incoming = match from {
            Spot::Place(number) => self.take_out(line, number, measured),
            Spot::Outside(_) => from_outside((named, unnamed), measured),
        };
        let before = self.before_move(to);
        self.count_flows(
            line,
            job,
            (from, to),
            (movement.volume_ml, measured, &incoming.contents),
        );
        self.put_in(line, (from, to), &incoming);
        self.follow_fluid(line, movement, (from, to));
        let moved = (&incoming, &before);
        self.count_generation(line, movement, (from, to), moved);
        if let Spot::Place(number) = to {
            self.ask_about_chemistry(line, number, &incoming.contents);
            self.hold_to_capacity(line, number);
        }
        if let Spot::Place(number) = from {
            if to == Spot::Outside(Account::Carrier)
                || self.card(number).is_some_and(Card::is_for_waste)
            {
                self.begin_batch_when_emptied(number);
            }
            if !self.is_loop(number) {
                self.end_batch_when_emptied(number);
            }
        }
        self.note_service(job, (from, to), measured.shown);
    }

    /// The volume at 20 °C. A temperature that nobody gave for what comes out of the loop the job is
    /// about is the one that was read before it was opened; another loop may be as warm as it likes.
    fn measure(
        &self,
        job: &FiledJob,
        movement: &FiledMovement,
        (from, named): (Spot, Named),
    ) -> Option<At20> {
        let Spot::Place(number) = from else {
            return Some(at_20(
                movement,
                movement.millicelsius,
                &Mixture::named(named),
            ));
        };
        let state = self.place_state(number)?;
        // Out of a place the book has as empty comes what will be lent to it.
        let mixture = if state.contents.is_empty() {
            Mixture::named(self.meant_for(from))
        } else {
            Mixture::of(&state.contents)
        };
        let about = job.place == Some(number);
        let gate = job
            .gate_millicelsius
            .filter(|_| about && self.is_loop(number));
        Some(at_20(movement, movement.millicelsius.or(gate), &mixture))
    }

    /// The fluid a place is meant to hold, of unknown strength.
    fn meant_for(&self, spot: Spot) -> Named {
        let card = match spot {
            Spot::Place(number) => self.card(number),
            Spot::Outside(_) => None,
        };
        let (base, class) = kind_of(None, card);
        Named {
            base,
            class,
            millionths: MEAN_UNKNOWN,
        }
    }

    /// What is put into a vessel after it was shipped empty is another batch, with a day of its own
    /// on which it became waste; so is what is put into a container for waste after all of it was
    /// moved on. Any other vessel that held unfit fluid and was moved empty stays unfit until it is
    /// cleaned out. What clings to a vessel stays counted.
    fn begin_batch_when_emptied(&mut self, number: PlaceNumber) {
        let heel = self.heel_ml(number);
        let emptied = (self.filed.order.happened, self.filed.date);
        if let Some(state) = self.place_mut(number)
            && state.contents.shown_ml() <= heel
        {
            state.emptied = Some(emptied);
            state.unfit_since = None;
            state.generation_date = None;
        }
    }

    /// What was decided on the contents of a vessel says nothing of what is put into it once they are
    /// gone; what still clings to it goes by the decision until then. Whether it is unfit is another
    /// matter, and stays.
    fn end_batch_when_emptied(&mut self, number: PlaceNumber) {
        let heel = self.heel_ml(number);
        if let Some(state) = self.place_mut(number)
            && state.contents.shown_ml() <= heel
        {
            if state.contents.is_empty() {
                state.end_batch();
            } else {
                state.next_in = NextIn::AnotherBatch;
            }
        }
    }

    /// Something is about to be put into a vessel: where all but the heel was taken out, another batch
    /// begins.
    fn end_batch_of_heel(&mut self, number: PlaceNumber) {
        let heel = self.heel_ml(number);
        if let Some(state) = self.place_mut(number)
            && std::mem::take(&mut state.next_in) == NextIn::AnotherBatch
            && state.contents.shown_ml() <= heel
        {
            state.end_batch();
        }
    }

    /// What clings to a vessel that is as good as empty, mL.
    fn heel_ml(&self, number: PlaceNumber) -> i64 {
        let capacity = self.card(number).and_then(|card| card.capacity_ml);
        capacity.map_or(0, |capacity| share(capacity, HEEL_PER_CENT, 100))
    }

    /// Takes a measured volume out of a place. What the book lacks comes from *not accounted
    /// for*, so that the volume that was really measured arrives.
    fn take_out(&mut self, line: u16, number: PlaceNumber, measured: At20) -> Incoming {
        self.touch(number);
        let held_ml = self
            .place_state(number)
            .map_or(0, |state| state.contents.total_ml());
        if measured.total > held_ml {
            self.lend_what_lacks(line, number, measured, measured.total - held_ml);
        }
        let month = Month::of(self.filed.date);
        let Some(state) = self.place_mut(number) else {
            return Incoming::default();
        };
        let contents = state.contents.in_proportion(measured.total);
        let counted_ml = share(
            contents.total_ml(),
            state.counted_ml,
            state.contents.total_ml().max(1),
        );
        let (reclaimed_ml, again_ml) = state.reclaimed_part((month, contents.total_ml()));
        state.volume_sigma_ml = state.volume_sigma_ml.saturating_add(measured.error);
        Incoming {
            contents,
            sigma: state.sigma_millionths,
            shares: state.shares,
            counted_ml,
            reclaimed_ml,
            again_ml,
            error_ml: measured.error,
        }
    }

    fn lend_what_lacks(&mut self, line: u16, number: PlaceNumber, measured: At20, short: i64) {
        let held = self
            .place_state(number)
            .map(|state| state.contents.clone())
            .unwrap_or_default();
        let lacking = if held.is_empty() {
            let (base, class) = kind_of(None, self.card(number));
            if let Some(state) = self.place_mut(number) {
                state.sigma_millionths = SIGMA_UNKNOWN;
                state.set_shares(Shares::UNKNOWN);
            }
            Contents::of(base, class, short, MEAN_UNKNOWN)
        } else {
            held.in_proportion(short)
        };
        let spots = (Spot::Outside(Account::NotAccountedFor), Spot::Place(number));
        self.transfer(line, Why::OverDrawn, spots, &lacking);
        let figures = (measured.shown, held.shown_ml());
        self.ask(line, QuestionKind::OverDrawn, Some(number), figures);
    }

    fn put_in(&mut self, line: u16, (from, to): (Spot, Spot), incoming: &Incoming) {
        if let Spot::Place(number) = to {
            self.touch(number);
            self.end_batch_of_heel(number);
            if let Some(state) = self.place_mut(number) {
                state.blend_figures(incoming);
            }
        }
        self.transfer(line, Why::Moved, (from, to), &incoming.contents);
        let Spot::Place(number) = to else {
            return;
        };
        let (month, is_loop) = (Month::of(self.filed.date), self.is_loop(number));
        let Some(state) = self.place_mut(number) else {
            return;
        };
        // What goes back into a loop is in use again, and waste anew when it is drained; only what
        // was counted to be reclaimed is remembered as such, until the month is over.
        if is_loop {
            let back = incoming.again_ml.saturating_add(incoming.reclaimed_ml);
            state.again.add(month, back);
        } else {
            state.counted_ml = state.counted_ml.saturating_add(incoming.counted_ml);
            state.reclaimed.add(month, incoming.reclaimed_ml);
            state.again.add(month, incoming.again_ml);
        }
    }

    pub(super) fn hold_to_capacity(&mut self, line: u16, number: PlaceNumber) {
        let Some(card) = self.card(number) else {
            return;
        };
        let slack = if self.is_loop(number) {
            LOOP_CAPACITY_SLACK_PER_CENT
        } else {
            0
        };
        let fits = card
            .capacity_ml
            .map(|capacity| capacity + share(capacity, slack, 100));
        if fits.is_none() && card.fill_limit_ml.is_none() {
            return;
        }
        let Some(state) = self.place_state(number) else {
            return;
        };
        let shown = state.contents.shown_ml();
        if let Some(fits) = fits
            && shown > fits
        {
            let excess = before_mixing_ml(shown - fits, state.contents.contraction_percent());
            let excess = state.contents.in_proportion(excess);
            let spots = (Spot::Place(number), Spot::Outside(Account::NotAccountedFor));
            self.transfer(line, Why::OverFilled, spots, &excess);
            self.ask(line, QuestionKind::OverFilled, Some(number), (shown, fits));
        } else if let Some(limit) = card.fill_limit_ml
            && shown > limit
        {
            let figures = (shown, limit);
            self.ask(line, QuestionKind::OverFillLimit, Some(number), figures);
        }
    }

    fn ask_about_chemistry(&mut self, line: u16, number: PlaceNumber, incoming: &Contents) {
        let Some(card) = self.card(number) else {
            return;
        };
        if card.is_for_waste() || card.holds == Some(Holds::Quarantine) {
            return;
        }
        let meant = self
            .place_state(number)
            .and_then(|state| state.dedicated)
            .unwrap_or((card.base, card.class));
        let Some((base, class)) = incoming.main_concentrate() else {
            return;
        };
        let other_base = meant.0 != Base::Unknown && base != meant.0;
        let other_class = meant.1 != InhibitorClass::Unknown && class != meant.1;
        if other_base || other_class {
            self.ask_about(line, QuestionKind::WrongChemistry, number);
        }
    }

    /// Unfit fluid makes a vessel kept for reuse unfit as a whole; waste has a day it began.
    fn follow_fluid(&mut self, line: u16, movement: &FiledMovement, (from, to): (Spot, Spot)) {
        let Spot::Place(number) = to else {
            return;
        };
        let date = self.filed.date;
        // Waste that is moved on keeps the day it began.
        let (unfit_before, waste_before) = match from {
            Spot::Place(number) if !self.is_loop(number) => {
                self.place_state(number).map_or((None, None), |state| {
                    (state.unfit_since, state.generation_date)
                })
            }
            _ => (None, None),
        };
        let order = self.filed.order;
        let Some((_, place)) = self.ground.place(number) else {
            return;
        };
        let card = place.card(&order);
        let for_waste = card.is_some_and(Card::is_for_waste);
        let for_reuse = card.is_some_and(Card::is_for_reuse) || self.is_loop(number);
        let emptied = self.place_state(number).and_then(|state| state.emptied);
        if for_waste && place.lacks_start_date(&order, emptied) {
            self.ask_about(line, QuestionKind::NoStartDate, number);
        }
        let unfit = movement.fit == Fit::No || unfit_before.is_some();
        if unfit && for_reuse {
            self.ask_about(line, QuestionKind::UnfitIntoReuse, number);
        }
        let is_loop = self.is_loop(number);
        if let Some(state) = self.place_mut(number) {
            if unfit && !is_loop {
                let since = unfit_before.unwrap_or(date);
                let kept = state.unfit_since.get_or_insert(since);
                *kept = (*kept).min(since);
            }
            if for_waste || (unfit && !is_loop) {
                let since = waste_before.or(unfit_before).unwrap_or(date).min(date);
                let kept = state.generation_date.get_or_insert(since);
                *kept = (*kept).min(since);
            }
        }
    }

    fn count_flows(
        &mut self,
        line: u16,
        job: &FiledJob,
        (from, to): (Spot, Spot),
        (typed_ml, measured, contents): (i64, At20, &Contents),
    ) {
        let is_loop = |spot| matches!(spot, Spot::Place(number) if self.is_loop(number));
        let is_vessel = |spot| matches!(spot, Spot::Place(number) if !self.is_loop(number));
        let into_waste = matches!(to, Spot::Place(number)
            if self.card(number).is_some_and(Card::is_for_waste));
        let out_of_recovered = matches!(from, Spot::Place(number)
            if self.card(number).is_some_and(|card| card.holds == Some(Holds::Recovered)));
        let counts = [
            (Measure::Recovered, is_loop(from) && is_vessel(to)),
            (
                Measure::FilledFromVessel,
                is_vessel(from) && is_loop(to) && job.kind != JobKind::TopUp,
            ),
            (
                Measure::ToWaste,
                matches!(from, Spot::Place(_)) && into_waste,
            ),
            (Measure::Shipped, to == Spot::Outside(Account::Carrier)),
            (Measure::Bought, from == Spot::Outside(Account::Supplier)),
            (Measure::ToppedUp, job.kind == JobKind::TopUp),
            (Measure::Spilled, to == Spot::Outside(Account::Spilled)),
            (Measure::Reused, out_of_recovered && is_loop(to)),
            (
                Measure::Water,
                from == Spot::Outside(Account::Supplier) && contents.main_concentrate().is_none(),
            ),
            (
                Measure::Rinsed,
                job.kind == JobKind::Flush && is_loop(from) && is_vessel(to),
            ),
        ];
        if counts.iter().all(|(_, counted)| !counted) {
            return;
        }
        let mass_g = mass_of(contents);
        let vessel = [to, from].into_iter().find(|spot| is_vessel(*spot));
        let vessel = vessel.and_then(|spot| self.account_of(spot).place());
        let decided = match from {
            Spot::Place(number) => self.place_state(number).and_then(|state| state.fitness),
            Spot::Outside(_) => None,
        };
        for (measure, counted) in counts {
            if counted {
                self.outcome.flows.push(Flow {
                    line,
                    measure,
                    vessel,
                    typed_ml,
                    shown_ml: measured.shown,
                    mass_g,
                    batch: decided.filter(|_| measure == Measure::Reused),
                });
            }
        }
    }
}

/// Fluid that comes from outside, as it was named.
fn from_outside((named, unnamed): (Named, bool), measured: At20) -> Incoming {
    Incoming {
        contents: Contents::of(named.base, named.class, measured.total, named.millionths),
        sigma: match (unnamed, named.millionths) {
            (true, _) => SIGMA_UNKNOWN,
            (false, 0) => 0,
            (false, _) => SIGMA_ENTERED,
        },
        shares: if unnamed {
            Shares::UNKNOWN
        } else {
            Shares::STATED
        },
        counted_ml: 0,
        reclaimed_ml: 0,
        again_ml: 0,
        error_ml: measured.error,
    }
}

/// A measured volume at 20 °C. A temperature nobody gave is 20 °C, give or take 15 °C.
fn at_20(movement: &FiledMovement, given: Option<i32>, mixture: &Mixture) -> At20 {
    let volume = rounding::float(movement.volume_ml);
    let ratio = mixture.expansion(given.unwrap_or(DEFAULT_MILLICELSIUS));
    let shown = volume / ratio;
    let total = shown / (1.0 + mixture.contraction / 100.0);
    let from_temperature = match given {
        Some(_) => 0,
        None => share(movement.volume_ml, DEFAULT_ERROR_PER_MILLE, 1_000),
    };
    At20 {
        shown: rounding::nearest(shown).unwrap_or(movement.volume_ml),
        total: rounding::nearest(total).unwrap_or(movement.volume_ml),
        error: movement.gauge_error_ml + from_temperature,
    }
}
