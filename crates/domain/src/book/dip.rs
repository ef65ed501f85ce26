//! A dip: the level read in a vessel sets the volume.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "volumes are bounded as in `contents`; what could grow further saturates"
)]

use super::contents::{Contents, share};
use super::filed::{FiledDip, Named, PlaceNumber, Spot};
use super::mixture::{Mixture, before_mixing_ml};
use super::movement::{DEFAULT_ERROR_PER_MILLE, DEFAULT_MILLICELSIUS};
use super::opened::kind_of;
use super::outcome::Why;
use super::posting::Poster;
use super::question::QuestionKind;
use super::state::{MEAN_UNKNOWN, SIGMA_ENTERED, SIGMA_UNKNOWN, Shares};
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
        let dip_error = error_of(dip);
        let known_error = state.volume_sigma_ml + dip_error;
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
            state.volume_sigma_ml = dip_error;
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
            state.set_shares(if known {
                Shares::STATED
            } else {
                Shares::UNKNOWN
            });
            state.sigma_millionths = if known { SIGMA_ENTERED } else { SIGMA_UNKNOWN };
        }
        let spots = (Spot::Outside(from), Spot::Place(number));
        self.transfer(line, why, spots, &found);
        if why == Why::Opening {
            self.opens_as_waste(number);
        }
    }

    /// Whether nothing was ever posted to or from the place and nobody stated an opening.
    fn is_untouched(&self, number: PlaceNumber) -> bool {
        let opened = self
            .ground
            .places
            .get(number)
            .is_some_and(|place| place.opening.is_some());
        !opened
            && self
                .place_state(number)
                .is_some_and(|state| !state.has_held)
    }
}

/// One standard deviation of a dip: what the gauge is said to err by, or else 1 % of what was
/// read (our own default), and the error of a temperature nobody gave.
fn error_of(dip: &FiledDip) -> i64 {
    let gauge = if dip.gauge_error_ml > 0 {
        dip.gauge_error_ml
    } else {
        share(dip.volume_ml, 1, 100)
    };
    let temperature = match dip.millicelsius {
        Some(_) => 0,
        None => share(dip.volume_ml, DEFAULT_ERROR_PER_MILLE, 1_000),
    };
    gauge + temperature
}
