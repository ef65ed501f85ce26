//! Openings: what was in a place when the book began, stated or taken for granted.

use super::component::{Base, InhibitorClass};
use super::contents::{Contents, share};
use super::filed::{Card, FiledBody, FiledOpening, Named, PlaceNumber, Spot};
use super::mixture::{Mixture, before_mixing_ml};
use super::movement::LOOP_CAPACITY_SIGMA_PER_CENT;
use super::outcome::{Knowledge, Standing, Why};
use super::posting::Poster;
use super::question::QuestionKind;
use super::state::{MEAN_UNKNOWN, SIGMA_ENTERED, SIGMA_UNKNOWN, Shares};
use crate::job::Account;

impl Poster<'_> {
    pub(super) fn post_opening(&mut self, opening: &FiledOpening) {
        let Some((number, place)) = self.ground.place(opening.place) else {
            return;
        };
        if place.opening != Some(self.filed.order) {
            self.outcome.standing = Standing::NotPosted;
            self.ask_about(0, QuestionKind::OpenedTwice, number);
            self.keep_in_history(&self.filed.body);
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
    pub(super) fn open(&mut self, number: PlaceNumber) {
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
        if let Some(state) = self.place_mut(number) {
            state.volume_sigma_ml = share(full, LOOP_CAPACITY_SIGMA_PER_CENT, 100);
        }
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
            state.set_shares(match knowledge {
                Knowledge::Assumed => Shares::UNKNOWN,
                _ => Shares::STATED,
            });
            state.sigma_millionths = match knowledge {
                Knowledge::Assumed => SIGMA_UNKNOWN,
                _ => SIGMA_ENTERED,
            };
        }
        if !contents.is_empty() {
            self.transfer(
                0,
                Why::Opening,
                (Spot::Outside(Account::Opening), Spot::Place(number)),
                &contents,
            );
            self.opens_as_waste(number);
        }
    }

    /// A job dated before the opening of a place it is about is kept and not posted.
    pub(super) fn is_before_an_opening(&mut self, body: &FiledBody) -> bool {
        let mut early = None;
        body.for_each_place(&mut |number| {
            if let Some((number, place)) = self.ground.place(number)
                && place
                    .opening
                    .is_some_and(|opening| self.filed.order < opening)
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
}

/// Base and class of fluid that is named, or else that the place's card says, or else unknown.
pub(super) fn kind_of(named: Option<Named>, card: Option<&Card>) -> (Base, InhibitorClass) {
    match (named, card) {
        (Some(fluid), _) => (fluid.base, fluid.class),
        (None, Some(card)) => (card.base, card.class),
        (None, None) => (Base::Unknown, InhibitorClass::Unknown),
    }
}
