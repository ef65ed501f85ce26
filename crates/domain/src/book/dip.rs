//! A dip: the level read in a vessel sets the volume.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "volumes are bounded as in `contents`; what could grow further saturates"
)]

use super::contents::{Contents, share};
use super::filed::{FiledDip, Named, PlaceNumber, Spot};
use super::mixture::{Mixture, before_mixing_ml};
use super::movement::DEFAULT_MILLICELSIUS;
use super::opened::kind_of;
use super::outcome::{Knowledge, Why};
use super::posting::Poster;
use super::question::QuestionKind;
use super::state::{MEAN_UNKNOWN, SIGMA_ENTERED, SIGMA_UNKNOWN};
use crate::job::Account;
use crate::quantity::rounding;

impl Poster<'_> {
    pub(super) fn post_dip(&mut self, line: u16, dip: &FiledDip) {
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
        let shown =
            rounding::nearest(rounding::float(dip.volume_ml) / mixture.expansion(millicelsius))
                .unwrap_or(dip.volume_ml);
        let total = before_mixing_ml(shown, mixture.contraction);
        let unaccounted = Spot::Outside(Account::NotAccountedFor);
        let here = Spot::Place(number);
        let difference = total - held.total_ml();
        if never_filled && total > 0 {
            self.find_in_empty(line, dip, number, total);
        } else if difference > 0 {
            self.transfer(
                line,
                Why::Dip,
                (unaccounted, here),
                &held.in_proportion(difference),
            );
        } else if difference < 0 {
            self.transfer(
                line,
                Why::Dip,
                (here, unaccounted),
                &held.in_proportion(-difference),
            );
        }
        let allowed = (2 * known_error).max(share(shown, 1, 100));
        if !never_filled && (shown - held.shown_ml()).abs() > allowed {
            self.ask(
                line,
                QuestionKind::DipDiffers,
                Some(number),
                (shown, held.shown_ml()),
            );
        }
        let at = self.filed.order.happened;
        if let Some(state) = self.place_mut(number) {
            state.last_dip_at = Some(at);
            state.volume_sigma_ml = dip.gauge_error_ml;
        }
        self.hold_to_capacity(line, number);
    }

    /// Fluid found in a place the book had as empty: what was there when the book began, if
    /// this is the first fact about it, and a difference otherwise.
    fn find_in_empty(&mut self, line: u16, dip: &FiledDip, number: PlaceNumber, total: i64) {
        let (base, class) = kind_of(dip.fluid, self.card(number));
        let strength = dip.fluid.map_or(MEAN_UNKNOWN, |fluid| fluid.millionths);
        let found = Contents::of(base, class, total, strength);
        let known = dip.fluid.is_some();
        let (why, from) = if self.is_untouched(number) {
            (Why::Opening, Account::Opening)
        } else {
            (Why::Dip, Account::NotAccountedFor)
        };
        if let Some(state) = self.place_mut(number) {
            (state.knowledge, state.sigma_millionths) = if known {
                (Knowledge::Entered, SIGMA_ENTERED)
            } else {
                (Knowledge::Assumed, SIGMA_UNKNOWN)
            };
        }
        let spots = (Spot::Outside(from), Spot::Place(number));
        self.transfer(line, why, spots, &found);
    }

    /// Whether this fact is the first that was ever about the place.
    fn is_untouched(&self, number: PlaceNumber) -> bool {
        self.ground.places.get(number).is_some_and(|place| {
            place.opening.is_none() && place.first_touch == Some(self.filed.order)
        })
    }
}
