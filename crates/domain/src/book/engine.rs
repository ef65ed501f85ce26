//! The replay: facts in order, snapshots on the way, and the one loop that works them out.
//! How facts take their place in it: [`super::taking_in`].

use super::filed::{Filed, Place, PlaceNumber};
use super::month::Month;
use super::outcome::{Outcome, Standing};
use super::posting::Poster;
use super::question::QuestionId;
use super::state::{PlaceState, State};
use crate::fact::Decision;
use crate::ids::{FactKey, PlaceId, ShopId};
use crate::job::Account;
use crate::moment::Moment;
use chrono::NaiveDate;
use std::collections::HashMap;
use std::hash::{Hash, Hasher};
use std::sync::Arc;

/// Where a fact stands in the replay: when it happened, when its form was opened, its key.
/// Arrival plays no part.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Order {
    /// When it happened, corrected; or its arrival, when that is not believed.
    pub happened: Moment,
    /// When its form was opened, corrected.
    pub made: Moment,
    /// Its key.
    pub key: FactKey,
}

/// A fact that was worked out.
#[derive(Debug)]
pub struct Worked<'a> {
    /// Its key.
    pub key: FactKey,
    /// Where it stands in the replay.
    pub order: Order,
    /// The local date that decides its month.
    pub date: NaiveDate,
    /// The shop it belongs to.
    pub shop: Option<ShopId>,
    /// What follows from it.
    pub outcome: &'a Outcome,
    /// Whether that differs from what was last stored.
    pub changed: bool,
}

/// Whether the one who was told has stored the outcome.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kept {
    /// The views hold it now.
    Stored,
    /// Later; it will be told again as changed.
    Later,
}

/// A point of the replay that can be carried on from.
#[derive(Debug)]
pub struct Cursor {
    /// The arrangement of facts its position and state hold for.
    arrangement: u64,
    /// The fact it has reached, to find its place again in another arrangement.
    next: Option<Order>,
    position: usize,
    state: State,
}

/// Facts between two snapshots, at least; the gaps grow with the distance from the head so that
/// a late fact replays little more than what comes after it.
const SNAPSHOT_EVERY: usize = 1_024;
/// Up to so many new facts are put in place one by one, more are sorted in at once.
const FEW: usize = 16;

/// Everything that decides outcomes besides the facts themselves.
#[derive(Debug, Default)]
pub(super) struct Ground {
    pub(super) places: Vec<Place>,
    pub(super) orders: HashMap<FactKey, Order>,
    pub(super) answers: HashMap<QuestionId, (Order, FactKey, Decision)>,
    pub(super) voids: HashMap<FactKey, Vec<Order>>,
    /// When each month was closed, by arrival.
    pub(super) closed: HashMap<(ShopId, Month), Moment>,
}

/// The book.
#[derive(Debug, Default)]
pub struct Book {
    pub(super) ground: Ground,
    pub(super) numbers: HashMap<PlaceId, PlaceNumber>,
    pub(super) merges: HashMap<PlaceId, (Order, PlaceId)>,
    pub(super) opened_by: HashMap<FactKey, PlaceNumber>,
    pub(super) filed: Vec<Filed>,
    /// Counts the times something before the head moved or changed.
    pub(super) arrangement: u64,
    pub(super) arriving: Vec<Filed>,
    pub(super) snapshots: Vec<(usize, State)>,
    pub(super) head: State,
    /// Everything before this position is worked out.
    pub(super) done: usize,
    /// The earliest place in the order that must be worked out again.
    pub(super) again: Option<Order>,
}

impl Book {
    /// A book with nothing in it.
    pub fn new() -> Self {
        Self::default()
    }

    /// How many facts take part in the replay.
    pub fn len(&self) -> usize {
        self.filed.len().saturating_add(self.arriving.len())
    }

    /// Whether no fact takes part in the replay.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Works out everything from the earliest change on and tells `sink` of each fact replayed.
    pub fn work_out(&mut self, sink: &mut dyn FnMut(Worked<'_>) -> Kept) {
        self.put_in_place();
        let from = match self.again.take() {
            Some(order) => self.position(&order).min(self.done),
            None => self.done,
        };
        let mut cursor = if from == self.done {
            Cursor {
                arrangement: self.arrangement,
                next: None,
                position: self.done,
                state: std::mem::take(&mut self.head),
            }
        } else {
            self.arrangement = self.arrangement.wrapping_add(1);
            self.snapshots.retain(|(position, _)| *position <= from);
            self.cursor_at(from)
        };
        let mut outcome = Outcome::default();
        self.grow(&mut cursor.state);
        while self.advance(&mut cursor, &mut outcome, sink) {
            self.keep_snapshot(&cursor);
        }
        self.done = cursor.position;
        self.head = cursor.state;
        self.thin_snapshots();
    }

    /// A cursor from which every fact at or after `from` can be worked out again.
    pub fn cursor(&self, from: Order) -> Cursor {
        self.cursor_at(self.position(&from))
    }

    /// Works out one more fact; `false` at the head. What moved before the cursor since it was
    /// made or last stepped is noticed: it goes on from a snapshot, at the fact it had reached or
    /// a little before.
    pub fn step(&mut self, cursor: &mut Cursor, sink: &mut dyn FnMut(Worked<'_>) -> Kept) -> bool {
        if cursor.arrangement != self.arrangement {
            let Some(next) = cursor.next else {
                return false;
            };
            *cursor = self.cursor(next);
        }
        let mut outcome = Outcome::default();
        self.grow(&mut cursor.state);
        let more = cursor.position < self.done && self.advance(cursor, &mut outcome, sink);
        cursor.next = self.filed.get(cursor.position).map(|filed| filed.order);
        more
    }

    /// Runs over the facts once more without changing anything and tells `sink` what each comes
    /// to; with a date, only over the facts of days before it. For statements and checks.
    pub fn replay_until(
        &self,
        before: Option<NaiveDate>,
        sink: &mut dyn FnMut(Worked<'_>),
    ) -> Vec<(Account, PlaceState)> {
        let mut state = State::default();
        self.grow(&mut state);
        let mut outcome = Outcome::default();
        for (position, filed) in self.filed.iter().enumerate() {
            if before.is_some_and(|day| filed.date >= day) {
                continue;
            }
            self.ground.read_ahead(&self.filed, position, &state);
            self.ground.post(filed, &mut state, &mut outcome);
            sink(Worked {
                key: filed.order.key,
                order: filed.order,
                date: filed.date,
                shop: filed.shop,
                outcome: &outcome,
                changed: false,
            });
        }
        self.named(&state)
            .map(|(account, place)| (account, place.clone()))
            .collect()
    }

    /// The state of a place at the head, `None` when no fact was ever about it.
    pub fn place(&self, place: PlaceId) -> Option<&PlaceState> {
        let number = *self.numbers.get(&place)?;
        let number = self.ground.places.get(number)?.stands_for;
        self.head.places.get(number).map(AsRef::as_ref)
    }

    /// The account a place stands as: a loop or a vessel.
    pub fn account(&self, place: PlaceId) -> Option<Account> {
        let number = *self.numbers.get(&place)?;
        self.ground.places.get(number).map(|place| place.account)
    }

    /// Whether a place has an opening that counts.
    pub fn has_opening(&self, place: PlaceId) -> bool {
        self.opening(place).is_some()
    }

    /// Where the opening that counts for a place stands in the replay.
    pub fn opening(&self, place: PlaceId) -> Option<Order> {
        let number = *self.numbers.get(&place)?;
        self.ground.places.get(number)?.opening
    }

    /// All places at the head that were ever opened.
    pub fn places(&self) -> impl Iterator<Item = (Account, &PlaceState)> {
        self.named(&self.head)
    }

    /// What went to (positive) or came from (negative) an account outside, at the head.
    pub fn outside(&self, account: Account) -> Option<&super::contents::Contents> {
        self.head.outside(account)
    }

    fn named<'a>(&'a self, state: &'a State) -> impl Iterator<Item = (Account, &'a PlaceState)> {
        self.ground
            .places
            .iter()
            .enumerate()
            .zip(&state.places)
            .filter(|((number, place), state)| place.stands_for == *number && state.is_open)
            .map(|((_, place), state)| (place.account, state.as_ref()))
    }

    fn position(&self, order: &Order) -> usize {
        self.filed.partition_point(|filed| filed.order < *order)
    }

    fn put_in_place(&mut self) {
        if self.arriving.is_empty() {
            return;
        }
        let earliest = self.arriving.iter().map(|filed| filed.order).min();
        let last = self.filed.last().map(|filed| filed.order);
        if let (Some(earliest), Some(last)) = (earliest, last)
            && earliest < last
        {
            self.again_from(earliest);
        }
        let arriving = std::mem::take(&mut self.arriving);
        if arriving.len() <= FEW {
            for filed in arriving {
                let position = self.position(&filed.order);
                self.filed.insert(position, filed);
            }
        } else {
            self.filed.extend(arriving);
            // Stable sorting takes runs that are already in order as they are.
            self.filed.sort_by_key(|filed| filed.order);
        }
    }

    pub(super) fn grow(&self, state: &mut State) {
        state
            .places
            .resize_with(self.ground.places.len(), || Arc::new(PlaceState::default()));
    }

    fn cursor_at(&self, position: usize) -> Cursor {
        let at = self
            .snapshots
            .partition_point(|(snapshot, _)| *snapshot <= position);
        let (position, state) = match at.checked_sub(1).and_then(|at| self.snapshots.get(at)) {
            Some((position, state)) => (*position, state.clone()),
            None => (0, State::default()),
        };
        let mut cursor = Cursor {
            arrangement: self.arrangement,
            next: self.filed.get(position).map(|filed| filed.order),
            position,
            state,
        };
        self.grow(&mut cursor.state);
        cursor
    }

    fn advance(
        &mut self,
        cursor: &mut Cursor,
        outcome: &mut Outcome,
        sink: &mut dyn FnMut(Worked<'_>) -> Kept,
    ) -> bool {
        self.ground
            .read_ahead(&self.filed, cursor.position, &cursor.state);
        let Some(filed) = self.filed.get_mut(cursor.position) else {
            return false;
        };
        self.ground.post(filed, &mut cursor.state, outcome);
        let print = print_of(outcome);
        let kept = sink(Worked {
            key: filed.order.key,
            order: filed.order,
            date: filed.date,
            shop: filed.shop,
            outcome,
            changed: print != filed.stored_print,
        });
        if kept == Kept::Stored {
            filed.stored_print = print;
        }
        cursor.position = cursor.position.saturating_add(1);
        true
    }

    fn keep_snapshot(&mut self, cursor: &Cursor) {
        let last = self.snapshots.last().map_or(0, |(position, _)| *position);
        let to_head = self.filed.len().saturating_sub(cursor.position);
        let gap = SNAPSHOT_EVERY.max(to_head / 8);
        if cursor.position.saturating_sub(last) >= gap {
            self.snapshots.push((cursor.position, cursor.state.clone()));
        }
    }

    /// Drops a snapshot whose neighbours lie close together for their distance from the head.
    fn thin_snapshots(&mut self) {
        let head = self.filed.len();
        let mut at: usize = 1;
        while at.saturating_add(1) < self.snapshots.len() {
            let positions = (
                self.snapshots.get(at.saturating_sub(1)).map(|(p, _)| *p),
                self.snapshots.get(at.saturating_add(1)).map(|(p, _)| *p),
            );
            let (Some(before), Some(after)) = positions else {
                return;
            };
            let allowed = SNAPSHOT_EVERY.max(head.saturating_sub(after) / 8);
            if after.saturating_sub(before) <= allowed {
                self.snapshots.remove(at);
            } else {
                at = at.saturating_add(1);
            }
        }
    }
}

/// So many facts ahead their places are read; their lines twice as far.
const AHEAD: usize = 6;

impl Ground {
    /// Reads a little of the places that a fact further on is about.
    ///
    /// A fleet's places lie all over memory, and without this a replay mostly waits for them.
    /// Nothing depends on what is read here, so the processor fetches it while it works.
    fn read_ahead(&self, filed: &[Filed], position: usize, state: &State) {
        if let Some(later) = filed.get(position.saturating_add(2 * AHEAD)) {
            later.body.for_each_place(&mut |number| {
                std::hint::black_box(number);
                if let Some(state) = state.places.get(number) {
                    std::hint::black_box(Arc::as_ptr(state));
                }
            });
        }
        if let Some(soon) = filed.get(position.saturating_add(AHEAD)) {
            soon.body.for_each_place(&mut |number| {
                if let (Some(place), Some(state)) =
                    (self.places.get(number), state.places.get(number))
                {
                    std::hint::black_box((place.stands_for, place.opening, place.cards.len()));
                    std::hint::black_box(place.cards.first().map(|(_, card)| card.capacity_ml));
                    std::hint::black_box((
                        state.drift_through,
                        state.noted.shown_ml,
                        state.contents.is_empty(),
                        state.last_logged.is_some(),
                        state.last_fill.is_some(),
                    ));
                }
            });
        }
    }

    /// Works out one fact on `state`.
    fn post(&self, filed: &Filed, state: &mut State, outcome: &mut Outcome) {
        outcome.standing = Standing::Posted;
        outcome.voided_by = None;
        outcome.postings.clear();
        outcome.changes.clear();
        outcome.questions.clear();
        outcome.flows.clear();
        outcome.top_up = None;
        if let Some(void) = self
            .voids
            .get(&filed.order.key)
            .and_then(|all| all.iter().min())
        {
            outcome.standing = Standing::Voided;
            outcome.voided_by = Some(void.key);
            Poster::new(self, state, outcome, filed).keep_in_history(&filed.body);
            return;
        }
        Poster::new(self, state, outcome, filed).post(&filed.body);
    }

    pub(super) fn place(&self, number: PlaceNumber) -> Option<(PlaceNumber, &Place)> {
        let stands_for = self.places.get(number)?.stands_for;
        self.places.get(stands_for).map(|place| (stands_for, place))
    }
}

/// A 64-bit print of an outcome, to tell whether it changed. Never leaves the process.
fn print_of(outcome: &Outcome) -> u64 {
    let mut print = Print(0x9E37_79B9_7F4A_7C15);
    outcome.hash(&mut print);
    print.finish() | 1
}

/// Rotate, exclusive or, multiply: quick, and good enough to notice a change.
struct Print(u64);

impl Hasher for Print {
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }

    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut word = [0_u8; 8];
            for (to, from) in word.iter_mut().zip(chunk) {
                *to = *from;
            }
            self.write_u64(u64::from_le_bytes(word));
        }
    }

    fn write_u8(&mut self, number: u8) {
        self.write_u64(u64::from(number));
    }

    fn write_u16(&mut self, number: u16) {
        self.write_u64(u64::from(number));
    }

    fn write_u64(&mut self, number: u64) {
        self.0 = (self.0.rotate_left(26) ^ number).wrapping_mul(0xD6E8_FEB8_6659_FD93);
    }

    fn write_i64(&mut self, number: i64) {
        self.write_u64(number.cast_unsigned());
    }

    fn write_usize(&mut self, number: usize) {
        self.write(&number.to_le_bytes());
    }

    fn write_isize(&mut self, number: isize) {
        self.write(&number.to_le_bytes());
    }
}
