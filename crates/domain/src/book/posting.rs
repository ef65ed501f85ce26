//! Works out one fact on the state of all places: who gives, who takes, what is asked.

use super::chemistry::Chemistry;
use super::contents::Contents;
use super::engine::Ground;
use super::filed::{Card, Filed, FiledBody, PlaceNumber, Spot};
use super::outcome::{Figures, Outcome, PlaceChange, Posting, Why};
use super::question::{Question, QuestionId, QuestionKind};
use super::state::{PlaceState, State};
use crate::fact::Decision;
use crate::ids::FactKey;
use crate::job::Account;
use crate::moment::CLOCK_TOLERANCE_MS;
use std::sync::Arc;

pub(super) struct Poster<'a> {
    pub(super) ground: &'a Ground,
    state: &'a mut State,
    pub(super) outcome: &'a mut Outcome,
    pub(super) filed: &'a Filed,
    /// The places touched, as `outcome.changes` has them.
    pub(super) touched: Vec<PlaceNumber>,
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
            self.ask(
                0,
                QuestionKind::ClockNotBelieved,
                None,
                (ahead_ms, CLOCK_TOLERANCE_MS),
            );
        }
        if self.filed.name_to_confirm && matches!(body, FiledBody::Job(_)) {
            self.ask(0, QuestionKind::NameToConfirm, None, (0, 0));
        }
        if let FiledBody::Opening(opening) = body {
            self.post_opening(opening);
            return;
        }
        if self.is_before_an_opening(body) {
            self.keep_in_history(body);
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
                    let before_ml = state.contents.total_ml();
                    state.contents.subtract(contents);
                    state.keep_counted_part(before_ml);
                    state.has_held = true;
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
                    let before_ml = state.contents.total_ml();
                    state.contents.add(contents);
                    // What is moved in brings its own part along; what the book finds among waste
                    // was generated on no day that anybody knows.
                    if why != Why::Moved && state.generation_date.is_some() {
                        state.count_all();
                    } else if why != Why::Moved {
                        state.keep_counted_part(before_ml);
                    }
                    state.has_held = true;
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

    pub(super) fn settled_place(&self, number: PlaceNumber) -> Option<PlaceNumber> {
        self.ground.place(number).map(|(number, _)| number)
    }

    pub(super) fn settled(&self, spot: Spot) -> Spot {
        match spot {
            Spot::Place(number) => self.settled_place(number).map_or(spot, Spot::Place),
            Spot::Outside(_) => spot,
        }
    }

    pub(super) fn account_of(&self, spot: Spot) -> Account {
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
        self.ground.places.get(number)?.card(&self.filed.order)
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
            let before = Figures {
                sigma_millionths: state.sigma_millionths,
                ..state.noted
            };
            let chemistry = Chemistry::of(&state.contents);
            self.touched.push(number);
            self.outcome.changes.push(PlaceChange {
                account,
                before,
                after: before,
                chemistry_before: chemistry,
                chemistry_after: chemistry,
            });
        }
    }

    /// A fact that does not count stays in the history of the places it names, which it leaves as
    /// they are.
    pub(super) fn keep_in_history(&mut self, body: &FiledBody) {
        body.for_each_place(&mut |number| {
            let Some((number, place)) = self.ground.place(number) else {
                return;
            };
            if self.touched.contains(&number) {
                return;
            }
            let (noted, chemistry) = self.place_state(number).map_or_else(
                || (Figures::default(), Chemistry::NoCurve),
                |state| (state.noted, Chemistry::of(&state.contents)),
            );
            self.touched.push(number);
            self.outcome.changes.push(PlaceChange {
                account: place.account,
                before: noted,
                after: noted,
                chemistry_before: chemistry,
                chemistry_after: chemistry,
            });
        });
    }

    /// Notes the figures of every place touched as they are now.
    pub(super) fn finish(&mut self) {
        let at = self.filed.order.happened;
        for (number, change) in self.touched.iter().zip(&mut self.outcome.changes) {
            if let Some(state) = self.state.places.get_mut(*number) {
                let state = Arc::make_mut(state);
                state.noted = state.figures();
                state.changed_at = Some(at);
                change.after = state.noted;
                change.chemistry_after = Chemistry::of(&state.contents);
            }
        }
    }
}
