//! Top-ups: what they prove was used up, and whether they only complete a fill.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "volumes are bounded as in `contents`; what could grow further saturates"
)]

use super::contents::{MILLION, share};
use super::filed::{FiledJob, PlaceNumber, Spot};
use super::mixture::{Mixture, before_mixing_ml, mass_of};
use super::movement::At20;
use super::outcome::{Flow, Measure, TopUpClass, Why};
use super::posting::Poster;
use super::state::LastFill;
use crate::job::{Account, JobKind, Mark};
use crate::moment::DAY_MS;
use crate::quantity::rounding;

/// A top-up within so long of a fill completes it.
pub const COMPLETION_MS: i64 = 7 * DAY_MS;
/// Up to the fill's shortfall and so much more, mL. Our own default.
pub const COMPLETION_ALLOWANCE_ML: i64 = 1_300;

impl Poster<'_> {
    pub(super) fn class_top_up(&mut self, job: &FiledJob, number: PlaceNumber, measured: At20) {
        let at = self.filed.order.happened;
        let Some(state) = self.place_mut(number) else {
            return;
        };
        let completes = state.last_fill.as_mut().is_some_and(|fill| {
            let in_time = at.ms_since(fill.at) <= COMPLETION_MS
                && fill.heat_cycle_at.is_none_or(|cycle| at <= cycle)
                && at >= fill.at;
            let room = fill.shortfall_ml + COMPLETION_ALLOWANCE_ML - fill.completed_ml;
            let completes = in_time && measured.shown <= room;
            if completes {
                fill.completed_ml += measured.shown;
            }
            completes
        });
        if job.mark == Some(Mark::At) {
            state.last_full_at = Some(at);
            state.drained_at = None;
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
    pub(super) fn post_used_up(&mut self, line: u16, number: PlaceNumber, measured: At20) {
        self.touch(number);
        let Some(state) = self.place_state(number) else {
            return;
        };
        let held = state.contents.clone();
        let mixture = Mixture::of(&held);
        let total = before_mixing_ml(measured.shown, mixture.contraction).min(held.total_ml());
        let leaked = held.in_proportion(total);
        if leaked.is_empty() {
            return;
        }
        let spot = Spot::Place(number);
        self.transfer(
            line,
            Why::UsedUp,
            (spot, Spot::Outside(Account::UsedUp)),
            &leaked,
        );
        self.outcome.flows.push(Flow {
            line,
            measure: Measure::UsedUp,
            vessel: None,
            typed_ml: leaked.shown_ml(),
            shown_ml: leaked.shown_ml(),
            mass_g: mass_of(&leaked),
            batch: None,
        });
        let completes = self.outcome.top_up == Some(TopUpClass::Completion);
        let left = held.total_ml() - leaked.total_ml();
        let if_evaporated = share(MILLION, held.concentrate_ml(), left.max(1)).min(MILLION);
        let spread = (if_evaporated - held.fraction_millionths()).max(0);
        let root_three = 3.0_f64.sqrt();
        let widened = rounding::nearest(rounding::float(spread) / root_three).unwrap_or(spread);
        if let Some(state) = self.place_mut(number) {
            state.sigma_millionths = (state.sigma_millionths + widened).min(MILLION);
            if !completes {
                state.used_up_ml = state.used_up_ml.saturating_add(leaked.shown_ml());
            }
        }
    }

    /// Remembers fills and draws of a loop, so that later top-ups can be classed.
    pub(super) fn note_service(&mut self, job: &FiledJob, (from, to): (Spot, Spot), shown_ml: i64) {
        let at = self.filed.order.happened;
        if let Spot::Place(number) = from
            && self.is_loop(number)
            && let Some(state) = self.place_mut(number)
        {
            state.taken_out_ml = state.taken_out_ml.saturating_add(shown_ml);
            if matches!(to, Spot::Place(_)) {
                state.drained_at.get_or_insert(at);
            }
        }
        if let Spot::Place(number) = to
            && self.is_loop(number)
            && job.kind != JobKind::TopUp
            && let Some(state) = self.place_mut(number)
        {
            let shortfall_ml = (state.taken_out_ml - shown_ml).max(0);
            state.taken_out_ml = shortfall_ml;
            state.drained_at = None;
            state.last_fill = Some(LastFill {
                at,
                shortfall_ml,
                completed_ml: 0,
                heat_cycle_at: None,
            });
        }
    }
}
