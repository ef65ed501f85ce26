//! What a job would come to, before anybody saves it: the book's own posting, done on a copy.

use super::engine::{Book, Order};
use super::filed::{Filed, FiledBody, PlaceNumber};
use super::outcome::Outcome;
use super::posting::Poster;
use super::taking_in::filed_job;
use crate::fact::{Recorded, What};
use crate::job::Account;

impl Book {
    /// What would follow from a job if it were the last of all facts; the book itself stays as it
    /// is. `None` for a fact that is no job, and for a job that names a place without a card.
    ///
    /// It comes to the same as entering the job and working it out, unless something on record is
    /// dated later than the job, or the job takes the place of another, which still counts here.
    pub fn preview(&self, recorded: &Recorded) -> Option<Outcome> {
        let What::Job(job) = &recorded.fact.what else {
            return None;
        };
        let mut all_on_cards = true;
        let mut number = |account: Account| -> PlaceNumber {
            let number = self.number_on_card(account);
            all_on_cards &= number.is_some();
            number.unwrap_or(PlaceNumber::MAX)
        };
        let body = FiledBody::Job(filed_job(job, &mut number));
        if !all_on_cards {
            return None;
        }
        let when = &recorded.fact.when;
        let filed = Filed {
            order: Order {
                happened: when.replayed_at(recorded.received_at),
                made: when.made(),
                key: recorded.key,
            },
            date: when.book_date(recorded.received_at),
            shop: Some(job.shop),
            received_at: recorded.received_at,
            ahead_ms: (!when.is_believed(recorded.received_at))
                .then(|| when.happened().ms_since(recorded.received_at)),
            name_to_confirm: recorded.fact.by.is_to_be_confirmed(),
            body,
            stored_print: 0,
        };
        let mut state = self.head.clone();
        self.grow(&mut state);
        let mut outcome = Outcome::default();
        Poster::new(&self.ground, &mut state, &mut outcome, &filed).post(&filed.body);
        Some(outcome)
    }

    /// The number of a place that has a card. What a place without one is, the job itself may
    /// change.
    fn number_on_card(&self, account: Account) -> Option<PlaceNumber> {
        let number = *self.numbers.get(&account.place()?)?;
        let place = self.ground.places.get(number)?;
        (!place.cards.is_empty()).then_some(number)
    }
}
