//! Works out one fact: what it moves, what that leaves in each place, what is odd about it.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "volumes are bounded as in `contents`; what could grow further saturates"
)]

use super::component::{Base, InhibitorClass};
use super::contents::{Contents, MILLION, share};
use super::engine::Ground;
use super::mixture::{Mixture, before_mixing_ml, mass_of};
use super::filed::{
    Card, Filed, FiledBody, FiledDip, FiledJob, FiledLine, FiledMovement, FiledOpening, Named,
    PlaceNumber, Spot,
};
use super::month::Month;
use super::outcome::{
    Flow, Knowledge, Measure, Outcome, PlaceChange, Posting, Standing, TopUpClass, Why,
};
use super::question::{Question, QuestionId, QuestionKind};
use super::state::{
    Incoming, LastFill, MEAN_UNKNOWN, PlaceState, SIGMA_ENTERED, SIGMA_UNKNOWN, State,
};
use crate::fact::{Decision, Fitness};
use crate::ids::FactKey;
use crate::job::{Account, Fit, JobKind, Mark};
use crate::moment::{CLOCK_TOLERANCE_MS, DAY_MS, MINUTE_MS};
use crate::quantity::rounding;
use std::sync::Arc;

/// Temperature of a volume whose temperature nobody gave, thousandths of a °C.
const DEFAULT_MILLICELSIUS: i32 = 20_000;
/// Error of such a volume, thousandths: 15 °C × 0.6 ‰ per °C (50 % EG swells 4.51 % from 20 to
/// 95 °C, ASHRAE 2001 densities).
const DEFAULT_ERROR_PER_MILLE: i64 = 9;
/// A loop's capacity is an estimate: 6 % standard deviation from one unit to the next
/// (computed in the trade reference), so twice that still fits.
const LOOP_CAPACITY_SLACK_PER_CENT: i64 = 12;
/// A top-up within so long of a fill completes it.
const COMPLETION_MS: i64 = 7 * DAY_MS;
/// Up to the fill's shortfall and so much more, mL. Our own default.
const COMPLETION_ALLOWANCE_ML: i64 = 1_300;
/// Within so long the same job is taken for logged twice.
const TWICE_MS: i64 = 10 * MINUTE_MS;

pub(super) struct Poster<'a> {
    ground: &'a Ground,
    state: &'a mut State,
    pub(super) outcome: &'a mut Outcome,
    pub(super) filed: &'a Filed,
    touched: Vec<PlaceNumber>,
}

/// A volume of mixed fluid brought to 20 °C.
#[derive(Clone, Copy)]
struct At20 {
    /// Mixed, as a gauge at 20 °C would show it.
    shown_ml: i64,
    /// Before mixing.
    total_ml: i64,
    /// One standard deviation, before mixing.
    error_ml: i64,
}

impl<'a> Poster<'a> {
    pub(super) fn new(
        ground: &'a Ground,
        state: &'a mut State,
        outcome: &'a mut Outcome,
        filed: &'a Filed,
    ) -> Self {
        Self {
            ground,
            state,
            outcome,
            filed,
            touched: Vec::new(),
        }
    }

    pub(super) fn post(mut self, body: &FiledBody) {
        if let Some(ahead_ms) = self.filed.ahead_ms {
            self.ask(0, QuestionKind::ClockNotBelieved, None, (ahead_ms, CLOCK_TOLERANCE_MS));
        }
        if let FiledBody::Opening(opening) = body {
            self.post_opening(opening);
            return;
        }
        if self.is_before_an_opening(body) {
            return;
        }
        body.for_each_place(&mut |number| self.open(number));
        match body {
            FiledBody::Job(job) => self.post_job(job),
            FiledBody::Fitness { place, fitness } => self.decide(*place, *fitness),
            FiledBody::Retired { places } => self.retire(places),
            FiledBody::Opening(_) => {}
        }
        self.finish();
    }

    // --- openings ---

    fn post_opening(&mut self, opening: &FiledOpening) {
        let Some((number, place)) = self.ground.place(opening.place) else {
            return;
        };
        if place.opening != Some(self.filed.order) {
            self.outcome.standing = Standing::NotPosted;
            self.ask_about(0, QuestionKind::OpenedTwice, number);
            return;
        }
        let card = place.card(&self.filed.order);
        let is_loop = matches!(place.account, Account::Loop(_));
        let volume = opening.volume_ml.or_else(|| {
            is_loop
                .then(|| card.and_then(|card| card.capacity_ml))
                .flatten()
        });
        let named = opening.fluid;
        let millionths = opening.millionths.or(named.map(|fluid| fluid.millionths));
        let (base, class) = kind_of(named, card);
        self.touch(number);
        self.fill_at_opening(
            number,
            Named {
                base,
                class,
                millionths: millionths.unwrap_or(MEAN_UNKNOWN),
            },
            volume.unwrap_or(0),
            if millionths.is_some() {
                Knowledge::Entered
            } else {
                Knowledge::Assumed
            },
        );
        if place.cards.is_empty() {
            self.ask_about(0, QuestionKind::PlaceUnknown, number);
        }
        self.finish();
    }

    /// A place that nobody opened opens at its first fact: a loop full at its nominal capacity,
    /// strength unknown; a vessel empty.
    fn open(&mut self, number: PlaceNumber) {
        let Some((number, place)) = self.ground.place(number) else {
            return;
        };
        self.touch(number);
        if self.place_state(number).is_none_or(|state| state.is_open) {
            return;
        }
        let card = place.card(&self.filed.order);
        let full = match place.account {
            Account::Loop(_) => card.and_then(|card| card.capacity_ml).unwrap_or(0),
            _ => 0,
        };
        let (base, class) = kind_of(None, card);
        self.fill_at_opening(
            number,
            Named {
                base,
                class,
                millionths: MEAN_UNKNOWN,
            },
            full,
            Knowledge::Assumed,
        );
    }

    fn fill_at_opening(
        &mut self,
        number: PlaceNumber,
        fluid: Named,
        shown_ml: i64,
        knowledge: Knowledge,
    ) {
        let total = before_mixing_ml(shown_ml, Mixture::named(fluid).contraction);
        let contents = Contents::of(fluid.base, fluid.class, total, fluid.millionths);
        let at = self.filed.order.happened;
        if let Some(state) = self.place_mut(number) {
            state.is_open = true;
            state.drift_through = at;
            state.knowledge = knowledge;
            state.sigma_millionths = match knowledge {
                Knowledge::Assumed => SIGMA_UNKNOWN,
                _ => SIGMA_ENTERED,
            };
        }
        if !contents.is_empty() {
            self.transfer(0, Why::Opening, (Spot::Outside(Account::Opening), Spot::Place(number)), &contents);
        }
    }

    /// A job dated before the opening of a place it is about is kept and not posted.
    fn is_before_an_opening(&mut self, body: &FiledBody) -> bool {
        let mut early = None;
        body.for_each_place(&mut |number| {
            if let Some((number, place)) = self.ground.place(number)
                && place.opening.is_some_and(|opening| self.filed.order < opening)
            {
                early = Some(number);
            }
        });
        if let Some(number) = early {
            self.outcome.standing = Standing::NotPosted;
            self.ask_about(0, QuestionKind::BeforeOpening, number);
        }
        early.is_some()
    }

    // --- jobs ---

    fn post_job(&mut self, job: &FiledJob) {
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
            let inspected = self.place_state(number).and_then(|state| state.in_date_until);
            if place.cards.is_empty() {
                self.ask_about(0, QuestionKind::PlaceUnknown, number);
            }
            if retired {
                self.ask_about(0, QuestionKind::PlaceRetired, number);
            }
            let due = place.card(&self.filed.order).and_then(|card| card.next_due);
            if let Some(due) = due.max(inspected)
                && date >= due
                && !job.lines.is_empty()
            {
                let days = date.signed_duration_since(due).num_days();
                self.ask(0, QuestionKind::OutOfDate, Some(number), (days, 0));
            }
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
        let Some(number) = job.place.and_then(|number| self.ground.place(number)).map(|(n, _)| n)
        else {
            return;
        };
        let at = self.filed.order.happened;
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
                state.batch = None;
                state.fitness = None;
            }
            state.in_date_until = job.in_date_until.or(state.in_date_until);
        }
    }

    fn post_movement(&mut self, line: u16, job: &FiledJob, movement: &FiledMovement) {
        let from = self.settled(movement.from);
        let to = self.settled(movement.to);
        let unnamed = matches!(from, Spot::Outside(_)) && movement.fluid.is_none();
        let named = movement.fluid.unwrap_or_else(|| {
            let card = match to {
                Spot::Place(number) => self.card(number),
                Spot::Outside(_) => None,
            };
            let (base, class) = kind_of(None, card);
            Named {
                base,
                class,
                millionths: MEAN_UNKNOWN,
            }
        });
        if unnamed {
            self.ask(line, QuestionKind::FluidNotNamed, None, (0, 0));
        }
        let measured = match from {
            Spot::Place(number) => self
                .place_state(number)
                .map(|state| at_20(job, movement, &Mixture::of(&state.contents))),
            Spot::Outside(_) => Some(at_20(job, movement, &Mixture::named(named))),
        };
        let Some(measured) = measured else {
            return;
        };
        if job.kind == JobKind::TopUp
            && let Spot::Place(number) = to
        {
            self.class_top_up(job, number, measured);
            if job.mark == Some(Mark::At) {
                self.post_used_up(line, number, measured);
            }
        }
        let incoming = match from {
            Spot::Place(number) => self.take_out(line, number, measured),
            Spot::Outside(_) => Incoming {
                contents: Contents::of(named.base, named.class, measured.total_ml, named.millionths),
                sigma: match (unnamed, named.millionths) {
                    (true, _) => SIGMA_UNKNOWN,
                    (false, 0) => 0,
                    (false, _) => SIGMA_ENTERED,
                },
                knowledge: if unnamed {
                    Knowledge::Assumed
                } else {
                    Knowledge::Entered
                },
                error_ml: measured.error_ml,
            },
        };
        self.count_flows(line, job, (from, to), (movement.volume_ml, measured, &incoming.contents));
        self.put_in(line, (from, to), &incoming);
        self.follow_fluid(line, movement, (from, to));
        if let Spot::Place(number) = to {
            self.ask_about_chemistry(line, number, &incoming.contents);
            self.hold_to_capacity(line, number);
        }
        self.note_service(job, (from, to), measured.shown_ml);
    }

    /// Takes a measured volume out of a place. What the book lacks comes from *not accounted
    /// for*, so that the volume that was really measured arrives.
    fn take_out(&mut self, line: u16, number: PlaceNumber, measured: At20) -> Incoming {
        self.touch(number);
        let held = self
            .place_state(number)
            .map(|state| state.contents.clone())
            .unwrap_or_default();
        let short = measured.total_ml - held.total_ml();
        if short > 0 {
            let lacking = if held.is_empty() {
                let (base, class) = kind_of(None, self.card(number));
                if let Some(state) = self.place_mut(number) {
                    state.sigma_millionths = SIGMA_UNKNOWN;
                    state.knowledge = Knowledge::Assumed;
                }
                Contents::of(base, class, short, MEAN_UNKNOWN)
            } else {
                held.in_proportion(short)
            };
            self.transfer(
                line,
                Why::OverDrawn,
                (Spot::Outside(Account::NotAccountedFor), Spot::Place(number)),
                &lacking,
            );
            self.ask(
                line,
                QuestionKind::OverDrawn,
                Some(number),
                (measured.shown_ml, held.shown_ml()),
            );
        }
        let Some(state) = self.place_mut(number) else {
            return Incoming::default();
        };
        let contents = state.contents.in_proportion(measured.total_ml);
        state.volume_sigma_ml = state.volume_sigma_ml.saturating_add(measured.error_ml);
        Incoming {
            contents,
            sigma: state.sigma_millionths,
            knowledge: state.knowledge,
            error_ml: measured.error_ml,
        }
    }

    fn put_in(&mut self, line: u16, (from, to): (Spot, Spot), incoming: &Incoming) {
        if let Spot::Place(number) = to {
            self.touch(number);
            if let Some(state) = self.place_mut(number) {
                state.blend_figures(incoming);
            }
        }
        self.transfer(line, Why::Moved, (from, to), &incoming.contents);
    }

    /// The one place where fluid changes hands: what one account loses the other gains.
    pub(super) fn transfer(
        &mut self,
        line: u16,
        why: Why,
        (from, to): (Spot, Spot),
        contents: &Contents,
    ) {
        if contents.is_empty() {
            return;
        }
        match from {
            Spot::Place(number) => {
                if let Some(state) = self.place_mut(number) {
                    state.contents.subtract(contents);
                }
            }
            Spot::Outside(account) => {
                if let Some(outside) = self.state.outside_mut(account) {
                    outside.subtract(contents);
                }
            }
        }
        match to {
            Spot::Place(number) => {
                if let Some(state) = self.place_mut(number) {
                    state.contents.add(contents);
                }
            }
            Spot::Outside(account) => {
                if let Some(outside) = self.state.outside_mut(account) {
                    outside.add(contents);
                }
            }
        }
        let posting = Posting {
            line,
            why,
            from: self.account_of(from),
            to: self.account_of(to),
            shown_ml: contents.shown_ml(),
            contents: contents.clone(),
        };
        self.outcome.postings.push(posting);
    }

    // --- top-ups ---

    fn class_top_up(&mut self, job: &FiledJob, number: PlaceNumber, measured: At20) {
        let at = self.filed.order.happened;
        let Some(state) = self.place_mut(number) else {
            return;
        };
        let completes = state.last_fill.as_mut().is_some_and(|fill| {
            let in_time = at.ms_since(fill.at) <= COMPLETION_MS
                && fill.heat_cycle_at.is_none_or(|cycle| at <= cycle)
                && at >= fill.at;
            let room = fill.shortfall_ml + COMPLETION_ALLOWANCE_ML - fill.completed_ml;
            let completes = in_time && measured.shown_ml <= room;
            if completes {
                fill.completed_ml += measured.shown_ml;
            }
            completes
        });
        if job.mark == Some(Mark::At) {
            state.last_full_at = Some(at);
        }
        let class = if completes {
            TopUpClass::Completion
        } else {
            TopUpClass::Consumption
        };
        self.outcome.top_up = Some(class);
    }

    /// Filling back to the mark proves that the same shown volume had been used up before. Taken
    /// to have leaked at the old strength, which is the cautious mean; had only water evaporated,
    /// the loop would be stronger, and that spread goes into σ (its second moment about the lower
    /// end of an even spread: one over the root of three).
    fn post_used_up(&mut self, line: u16, number: PlaceNumber, measured: At20) {
        self.touch(number);
        let Some(state) = self.place_state(number) else {
            return;
        };
        let held = state.contents.clone();
        let mixture = Mixture::of(&held);
        let total = before_mixing_ml(measured.shown_ml, mixture.contraction).min(held.total_ml());
        let leaked = held.in_proportion(total);
        if leaked.is_empty() {
            return;
        }
        let spot = Spot::Place(number);
        self.transfer(line, Why::UsedUp, (spot, Spot::Outside(Account::UsedUp)), &leaked);
        self.outcome.flows.push(Flow {
            line,
            measure: Measure::UsedUp,
            typed_ml: leaked.shown_ml(),
            shown_ml: leaked.shown_ml(),
            mass_g: mass_of(&leaked),
        });
        let left = held.total_ml() - leaked.total_ml();
        let if_evaporated = share(MILLION, held.concentrate_ml(), left.max(1)).min(MILLION);
        let spread = (if_evaporated - held.fraction_millionths()).max(0);
        let root_three = 3.0_f64.sqrt();
        let widened = rounding::nearest(rounding::float(spread) / root_three).unwrap_or(spread);
        if let Some(state) = self.place_mut(number) {
            state.sigma_millionths = (state.sigma_millionths + widened).min(MILLION);
            state.used_up_ml = state.used_up_ml.saturating_add(leaked.shown_ml());
        }
    }

    /// Remembers fills and draws of a loop, so that later top-ups can be classed.
    fn note_service(&mut self, job: &FiledJob, (from, to): (Spot, Spot), shown_ml: i64) {
        let at = self.filed.order.happened;
        if let Spot::Place(number) = from
            && self.is_loop(number)
            && let Some(state) = self.place_mut(number)
        {
            state.taken_out_ml = state.taken_out_ml.saturating_add(shown_ml);
        }
        if let Spot::Place(number) = to
            && self.is_loop(number)
            && job.kind != JobKind::TopUp
            && let Some(state) = self.place_mut(number)
        {
            let shortfall_ml = (state.taken_out_ml - shown_ml).max(0);
            state.taken_out_ml = shortfall_ml;
            state.last_fill = Some(LastFill {
                at,
                shortfall_ml,
                completed_ml: 0,
                heat_cycle_at: None,
            });
        }
    }

    // --- dips ---

    fn post_dip(&mut self, line: u16, dip: &FiledDip) {
        let Some((number, _)) = self.ground.place(dip.place) else {
            return;
        };
        self.touch(number);
        let Some(state) = self.place_state(number) else {
            return;
        };
        let held = state.contents.clone();
        let known_error = state.volume_sigma_ml + dip.gauge_error_ml;
        let never_filled = held.is_empty();
        let (base, class) = kind_of(dip.fluid, self.card(number));
        let named = Named {
            base,
            class,
            millionths: dip.fluid.map_or(MEAN_UNKNOWN, |fluid| fluid.millionths),
        };
        let mixture = if never_filled {
            Mixture::named(named)
        } else {
            Mixture::of(&held)
        };
        let millicelsius = dip.millicelsius.unwrap_or(DEFAULT_MILLICELSIUS);
        let shown = rounding::nearest(
            rounding::float(dip.volume_ml) / mixture.expansion(millicelsius),
        )
        .unwrap_or(dip.volume_ml);
        let total = before_mixing_ml(shown, mixture.contraction);
        let unaccounted = Spot::Outside(Account::NotAccountedFor);
        let here = Spot::Place(number);
        let difference = total - held.total_ml();
        if never_filled && total > 0 {
            let found = Contents::of(named.base, named.class, total, named.millionths);
            let known = dip.fluid.is_some();
            if let Some(state) = self.place_mut(number) {
                state.knowledge = if known { Knowledge::Entered } else { Knowledge::Assumed };
                state.sigma_millionths = if known { SIGMA_ENTERED } else { SIGMA_UNKNOWN };
            }
            let first = self.place_state(number).is_some_and(|state| state.last_dip_at.is_none());
            let (why, from) = if first && self.is_untouched(number) {
                (Why::Opening, Spot::Outside(Account::Opening))
            } else {
                (Why::Dip, unaccounted)
            };
            self.transfer(line, why, (from, here), &found);
        } else if difference > 0 {
            self.transfer(line, Why::Dip, (unaccounted, here), &held.in_proportion(difference));
        } else if difference < 0 {
            self.transfer(line, Why::Dip, (here, unaccounted), &held.in_proportion(-difference));
        }
        let allowed = (2 * known_error).max(share(shown, 1, 100));
        if !never_filled && (shown - held.shown_ml()).abs() > allowed {
            self.ask(line, QuestionKind::DipDiffers, Some(number), (shown, held.shown_ml()));
        }
        let at = self.filed.order.happened;
        if let Some(state) = self.place_mut(number) {
            state.last_dip_at = Some(at);
            state.volume_sigma_ml = dip.gauge_error_ml;
        }
        self.hold_to_capacity(line, number);
    }

    /// Whether this fact is the first that was ever about the place.
    fn is_untouched(&self, number: PlaceNumber) -> bool {
        self.ground
            .places
            .get(number)
            .is_some_and(|place| place.opening.is_none() && place.first_touch == Some(self.filed.order))
    }

    // --- capacity, chemistry, fitness ---

    fn hold_to_capacity(&mut self, line: u16, number: PlaceNumber) {
        let Some(card) = self.card(number) else {
            return;
        };
        let (capacity, fill_limit) = (card.capacity_ml, card.fill_limit_ml);
        let slack = if self.is_loop(number) {
            LOOP_CAPACITY_SLACK_PER_CENT
        } else {
            0
        };
        let fits = capacity.map(|capacity| capacity + share(capacity, slack, 100));
        let Some(contents) = self.place_state(number).map(|state| state.contents.clone()) else {
            return;
        };
        let shown = contents.shown_ml();
        if let Some(fits) = fits
            && shown > fits
        {
            let excess = before_mixing_ml(shown - fits, contents.contraction_percent());
            self.transfer(
                line,
                Why::OverFilled,
                (
                    Spot::Place(number),
                    Spot::Outside(Account::NotAccountedFor),
                ),
                &contents.in_proportion(excess),
            );
            self.ask(line, QuestionKind::OverFilled, Some(number), (shown, fits));
        } else if let Some(limit) = fill_limit
            && shown > limit
        {
            self.ask(line, QuestionKind::OverFillLimit, Some(number), (shown, limit));
        }
    }

    fn ask_about_chemistry(&mut self, line: u16, number: PlaceNumber, incoming: &Contents) {
        let Some(card) = self.card(number) else {
            return;
        };
        if card.is_for_waste() || card.holds == Some(crate::fleet::Holds::Quarantine) {
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
    fn follow_fluid(
        &mut self,
        line: u16,
        movement: &FiledMovement,
        (from, to): (Spot, Spot),
    ) {
        let from_unfit = match from {
            Spot::Place(number) if !self.is_loop(number) => self
                .place_state(number)
                .is_some_and(|state| state.unfit_since.is_some()),
            _ => false,
        };
        let drained_unfit = movement.fit == Fit::No;
        let Spot::Place(number) = to else {
            return;
        };
        let date = self.filed.date;
        let order = self.filed.order;
        let Some((_, place)) = self.ground.place(number) else {
            return;
        };
        let card = place.card(&order);
        let for_waste = card.is_some_and(Card::is_for_waste);
        let for_reuse = card.is_some_and(Card::is_for_reuse) || self.is_loop(number);
        if for_waste && !place.has_start_date(&order) {
            self.ask_about(line, QuestionKind::NoStartDate, number);
        }
        let unfit = drained_unfit || from_unfit;
        if unfit && for_reuse {
            self.ask_about(line, QuestionKind::UnfitIntoReuse, number);
        }
        let is_loop = self.is_loop(number);
        if let Some(state) = self.place_mut(number) {
            if unfit && !is_loop {
                state.unfit_since.get_or_insert(date);
            }
            if for_waste || (unfit && !is_loop) {
                state.generation_date.get_or_insert(date);
            }
        }
    }

    fn decide(&mut self, number: PlaceNumber, fitness: Fitness) {
        let Some((number, _)) = self.ground.place(number) else {
            return;
        };
        self.touch(number);
        let (date, key) = (self.filed.date, self.filed.order.key);
        if let Some(state) = self.place_mut(number) {
            state.batch = Some(key);
            state.fitness = Some(fitness);
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

    fn retire(&mut self, places: &[PlaceNumber]) {
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
            self.transfer(0, Why::Retired, (Spot::Place(number), Spot::Outside(to)), &contents);
            if let Some(state) = self.place_mut(number) {
                state.retired = true;
            }
        }
    }

    // --- totals ---

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
        let counts = [
            (Measure::Recovered, is_loop(from) && is_vessel(to)),
            (
                Measure::FilledFromVessel,
                is_vessel(from) && is_loop(to) && job.kind != JobKind::TopUp,
            ),
            (Measure::ToWaste, matches!(from, Spot::Place(_)) && into_waste),
            (Measure::Shipped, to == Spot::Outside(Account::Carrier)),
            (Measure::Bought, from == Spot::Outside(Account::Supplier)),
            (Measure::ToppedUp, job.kind == JobKind::TopUp),
            (Measure::Spilled, to == Spot::Outside(Account::Spilled)),
        ];
        let mass_g = mass_of(contents);
        for (measure, counted) in counts {
            if counted {
                self.outcome.flows.push(Flow {
                    line,
                    measure,
                    typed_ml,
                    shown_ml: measured.shown_ml,
                    mass_g,
                });
            }
        }
    }

    // --- questions ---

    pub(super) fn ask(
        &mut self,
        line: u16,
        kind: QuestionKind,
        number: Option<PlaceNumber>,
        (found, expected): (i64, i64),
    ) {
        let place = number
            .and_then(|number| self.ground.places.get(number))
            .and_then(|place| place.account.place());
        let twice = self
            .outcome
            .questions
            .iter()
            .any(|asked| asked.line == line && asked.kind == kind);
        // A question's id is job, line and kind: the first figures stand for all.
        if twice {
            return;
        }
        let answer = self.answer(line, kind);
        self.outcome.questions.push(Question {
            line,
            kind,
            place,
            found,
            expected,
            answer,
        });
    }

    pub(super) fn ask_about(&mut self, line: u16, kind: QuestionKind, number: PlaceNumber) {
        self.ask(line, kind, Some(number), (0, 0));
    }

    pub(super) fn answer(&self, line: u16, kind: QuestionKind) -> Option<(FactKey, Decision)> {
        let id = QuestionId {
            job: self.filed.order.key,
            line,
            kind,
        };
        self.ground
            .answers
            .get(&id)
            .map(|(_, key, decision)| (*key, *decision))
    }

    // --- looking up ---

    pub(super) fn settled_place(&self, number: PlaceNumber) -> Option<PlaceNumber> {
        self.ground.place(number).map(|(number, _)| number)
    }

    fn settled(&self, spot: Spot) -> Spot {
        match spot {
            Spot::Place(number) => self.settled_place(number).map_or(spot, Spot::Place),
            Spot::Outside(_) => spot,
        }
    }

    fn account_of(&self, spot: Spot) -> Account {
        match spot {
            Spot::Outside(account) => account,
            Spot::Place(number) => self
                .ground
                .places
                .get(number)
                .map_or(Account::NotAccountedFor, |place| place.account),
        }
    }

    pub(super) fn is_loop(&self, number: PlaceNumber) -> bool {
        self.ground
            .places
            .get(number)
            .is_some_and(|place| matches!(place.account, Account::Loop(_)))
    }

    pub(super) fn card(&self, number: PlaceNumber) -> Option<&'a Card> {
        self.ground
            .places
            .get(number)?
            .card(&self.filed.order)
    }

    pub(super) fn place_state(&self, number: PlaceNumber) -> Option<&PlaceState> {
        self.state.places.get(number).map(AsRef::as_ref)
    }

    pub(super) fn place_mut(&mut self, number: PlaceNumber) -> Option<&mut PlaceState> {
        self.state.places.get_mut(number).map(Arc::make_mut)
    }

    /// Notes a place's figures before its first change, with the drift up to now carried in.
    pub(super) fn touch(&mut self, number: PlaceNumber) {
        if self.touched.contains(&number) {
            return;
        }
        let account = self.account_of(Spot::Place(number));
        let at = self.filed.order.happened;
        if let Some(state) = self.place_mut(number) {
            state.drift_to(account, at);
            let before = state.figures();
            self.touched.push(number);
            self.outcome.changes.push(PlaceChange {
                account,
                before,
                after: before,
            });
        }
    }

    /// Notes the figures of every place touched as they are now.
    fn finish(&mut self) {
        for (number, change) in self.touched.iter().zip(&mut self.outcome.changes) {
            if let Some(state) = self.state.places.get(*number) {
                change.after = state.figures();
            }
        }
    }
}

/// A measured volume at 20 °C. A temperature nobody gave is 20 °C, give or take 15 °C; a
/// recovery takes the one that was entered before the system was opened.
fn at_20(job: &FiledJob, movement: &FiledMovement, mixture: &Mixture) -> At20 {
    let gate = (job.kind == JobKind::Recover)
        .then_some(job.gate_millicelsius)
        .flatten();
    let given = movement.millicelsius.or(gate);
    let volume = rounding::float(movement.volume_ml);
    let ratio = mixture.expansion(given.unwrap_or(DEFAULT_MILLICELSIUS));
    let shown = volume / ratio;
    let total = shown / (1.0 + mixture.contraction / 100.0);
    let from_temperature = match given {
        Some(_) => 0,
        None => share(movement.volume_ml, DEFAULT_ERROR_PER_MILLE, 1_000),
    };
    At20 {
        shown_ml: rounding::nearest(shown).unwrap_or(movement.volume_ml),
        total_ml: rounding::nearest(total).unwrap_or(movement.volume_ml),
        error_ml: movement.gauge_error_ml + from_temperature,
    }
}

/// Base and class of fluid that is named, or else that the place's card says, or else unknown.
fn kind_of(named: Option<Named>, card: Option<&Card>) -> (Base, InhibitorClass) {
    match (named, card) {
        (Some(fluid), _) => (fluid.base, fluid.class),
        (None, Some(card)) => (card.base, card.class),
        (None, None) => (Base::Unknown, InhibitorClass::Unknown),
    }
}
