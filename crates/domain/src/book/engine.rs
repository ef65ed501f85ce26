//! The replay: facts in order, snapshots on the way, and the one loop that works them out.

use super::filed::{
    Card, Filed, FiledBody, FiledDip, FiledJob, FiledLine, FiledMeasured, FiledMovement,
    FiledOpening, FiledReading, Named, Place, PlaceNumber, Spot,
};
use super::month::Month;
use super::outcome::{Outcome, Standing};
use super::posting::Poster;
use super::question::QuestionId;
use super::state::{PlaceState, State};
use crate::fact::{ContainerChange, Decision, Recorded, What};
use crate::fleet::{Unit, Vessel};
use crate::ids::{FactKey, PlaceId, ShopId};
use crate::job::{Account, Details, DipRead, FluidNamed, Job, Line, Measured, Movement, Reading};
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
    pub(super) answers: HashMap<QuestionId, (Order, FactKey, Decision)>,
    voids: HashMap<FactKey, Vec<Order>>,
    /// When each month was closed, by arrival.
    pub(super) closed: HashMap<(ShopId, Month), Moment>,
}

/// The book.
#[derive(Debug, Default)]
pub struct Book {
    ground: Ground,
    numbers: HashMap<PlaceId, PlaceNumber>,
    merges: HashMap<PlaceId, (Order, PlaceId)>,
    filed: Vec<Filed>,
    arriving: Vec<Filed>,
    orders: HashMap<FactKey, Order>,
    snapshots: Vec<(usize, State)>,
    head: State,
    /// Everything before this position is worked out.
    done: usize,
    /// The earliest place in the order that must be worked out again.
    again: Option<Order>,
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

    /// Takes a fact in, in any order of arrival. Works nothing out yet; a key seen before is
    /// left alone.
    pub fn enter(&mut self, recorded: &Recorded) {
        let order = Order {
            happened: recorded.fact.when.replayed_at(recorded.received_at),
            made: recorded.fact.when.made(),
            key: recorded.key,
        };
        if self.orders.insert(recorded.key, order).is_some() {
            return;
        }
        match &recorded.fact.what {
            What::Unit(unit) => self.enter_unit(order, unit),
            What::Vessel(vessel) => self.enter_vessel(order, vessel),
            What::Void(void) => self.enter_void(order, void.job),
            What::Answer(answer) => {
                let later = self
                    .ground
                    .answers
                    .get(&answer.question)
                    .is_none_or(|(at, _, _)| *at < order);
                if later {
                    self.ground
                        .answers
                        .insert(answer.question, (order, recorded.key, answer.decision));
                    self.again_from_fact(answer.question.job);
                }
            }
            What::Merged(merged) => self.enter_merged(order, merged.from, merged.into),
            What::ContainerEvent(event) => {
                if let ContainerChange::StartDate(date) = event.event {
                    let number = self.number(Account::Vessel(event.vessel));
                    self.change_place(number, |place| place.start_dates.push((order, date)));
                }
            }
            What::MonthClosed(closed) => self.enter_month_closed(
                (closed.statement.shop, closed.statement.month),
                recorded.received_at,
            ),
            _ => {}
        }
        if let Some(body) = self.filed_body(&recorded.fact.what, order) {
            self.file(recorded, order, body);
        }
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
                position: self.done,
                state: std::mem::take(&mut self.head),
            }
        } else {
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

    /// Works out one more fact; `false` at the head.
    pub fn step(
        &mut self,
        cursor: &mut Cursor,
        sink: &mut dyn FnMut(Worked<'_>) -> Kept,
    ) -> bool {
        let mut outcome = Outcome::default();
        self.grow(&mut cursor.state);
        cursor.position < self.done && self.advance(cursor, &mut outcome, sink)
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
        for filed in &self.filed {
            if before.is_some_and(|day| filed.date >= day) {
                continue;
            }
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
        self.numbers
            .get(&place)
            .and_then(|number| self.ground.places.get(*number))
            .is_some_and(|place| place.opening.is_some())
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

    // --- taking facts in ---

    fn enter_unit(&mut self, order: Order, unit: &Unit) {
        for each in &unit.loops {
            let card = Card {
                capacity_ml: each.capacity.as_ref().map(|volume| volume.value.ml()),
                fill_limit_ml: None,
                base: each.base,
                class: each.class,
                holds: None,
                kind: None,
                next_due: None,
                start_date: None,
            };
            self.enter_card(Account::Loop(each.id), order, card);
        }
    }

    fn enter_vessel(&mut self, order: Order, vessel: &Vessel) {
        let card = Card {
            capacity_ml: vessel.capacity.as_ref().map(|volume| volume.value.ml()),
            fill_limit_ml: vessel.fill_limit.as_ref().map(|volume| volume.value.ml()),
            base: vessel.base,
            class: vessel.class,
            holds: Some(vessel.holds),
            kind: Some(vessel.kind),
            next_due: vessel.pressure_vessel.as_ref().and_then(|data| data.next_due),
            start_date: vessel.start_date,
        };
        self.enter_card(Account::Vessel(vessel.id), order, card);
    }

    fn enter_card(&mut self, account: Account, order: Order, card: Card) {
        let number = self.number(account);
        self.change_place(number, |place| {
            place.account = account;
            let at = place.cards.partition_point(|(earlier, _)| *earlier < order);
            place.cards.insert(at, (order, card));
        });
    }

    fn enter_void(&mut self, order: Order, job: FactKey) {
        self.ground.voids.entry(job).or_default().push(order);
        self.again_from_fact(job);
        let opened: Vec<PlaceNumber> = (0..self.ground.places.len())
            .filter(|number| {
                self.ground
                    .places
                    .get(*number)
                    .is_some_and(|place| place.openings.iter().any(|opening| opening.key == job))
            })
            .collect();
        for number in opened {
            self.change_place(number, |_| {});
            self.settle_opening(number);
        }
    }

    fn enter_merged(&mut self, order: Order, from: PlaceId, into: PlaceId) {
        let from_number = self.number_of_unknown(from);
        let into_number = self.number_of_unknown(into);
        if self.merges.get(&from).is_some_and(|(at, _)| *at > order) {
            return;
        }
        self.merges.insert(from, (order, into));
        for number in 0..self.ground.places.len() {
            let stands_for = self.follow_merges(number);
            if let Some(place) = self.ground.places.get_mut(number) {
                place.stands_for = stands_for;
            }
        }
        for number in [from_number, into_number] {
            self.change_place(number, |_| {});
            self.settle_opening(number);
        }
    }

    fn follow_merges(&self, number: PlaceNumber) -> PlaceNumber {
        let mut at = number;
        // A ring of merges ends after as many steps as there are merges.
        for _ in 0..self.merges.len() {
            let next = self
                .ground
                .places
                .get(at)
                .and_then(|place| place.account.place())
                .and_then(|id| self.merges.get(&id))
                .and_then(|(_, into)| self.numbers.get(into));
            match next {
                Some(next) if *next != number => at = *next,
                _ => break,
            }
        }
        at
    }

    fn enter_month_closed(&mut self, month: (ShopId, Month), received_at: Moment) {
        let closed = self.ground.closed.entry(month).or_insert(received_at);
        *closed = (*closed).min(received_at);
        let closed = *closed;
        let first_late = self
            .filed
            .iter()
            .chain(&self.arriving)
            .filter(|filed| {
                filed.received_at > closed
                    && filed.shop == Some(month.0)
                    && Month::of(filed.date) == month.1
            })
            .map(|filed| filed.order)
            .min();
        if let Some(order) = first_late {
            self.again_from(order);
        }
    }

    fn number(&mut self, account: Account) -> PlaceNumber {
        let Some(id) = account.place() else {
            return 0;
        };
        if let Some(number) = self.numbers.get(&id).copied() {
            // Named as a loop anywhere, it is a loop, unless a card says otherwise.
            let corrected = self.ground.places.get_mut(number).filter(|place| {
                place.cards.is_empty()
                    && matches!(account, Account::Loop(_))
                    && place.account != account
            });
            if let Some(place) = corrected {
                place.account = account;
                self.change_place(number, |_| {});
            }
            return number;
        }
        let number = self.ground.places.len();
        self.numbers.insert(id, number);
        self.ground.places.push(Place {
            account,
            stands_for: number,
            cards: Vec::new(),
            openings: Vec::new(),
            start_dates: Vec::new(),
            opening: None,
            first_touch: None,
        });
        let stands_for = self.follow_merges(number);
        if let Some(place) = self.ground.places.get_mut(number) {
            place.stands_for = stands_for;
        }
        number
    }

    fn number_of_unknown(&mut self, id: PlaceId) -> PlaceNumber {
        match self.numbers.get(&id) {
            Some(number) => *number,
            None => self.number(Account::Vessel(id)),
        }
    }

    /// Changes what is known of a place and has everything about it worked out again.
    fn change_place(&mut self, number: PlaceNumber, change: impl FnOnce(&mut Place)) {
        let Some(place) = self.ground.places.get_mut(number) else {
            return;
        };
        change(place);
        let stands_for = place.stands_for;
        let first = [number, stands_for]
            .into_iter()
            .filter_map(|number| self.ground.places.get(number)?.first_touch)
            .min();
        if let Some(order) = first {
            self.again_from(order);
        }
    }

    /// The opening that counts for a place: the first, of all ids that stand for it, that was
    /// not voided.
    fn settle_opening(&mut self, number: PlaceNumber) {
        let Some(stands_for) = self.ground.places.get(number).map(|place| place.stands_for) else {
            return;
        };
        let opening = self
            .ground
            .places
            .iter()
            .filter(|place| place.stands_for == stands_for)
            .flat_map(|place| &place.openings)
            .filter(|opening| !self.ground.voids.contains_key(&opening.key))
            .min()
            .copied();
        if let Some(place) = self.ground.places.get_mut(stands_for) {
            place.opening = opening;
        }
    }

    fn again_from(&mut self, order: Order) {
        self.again = Some(self.again.map_or(order, |again| again.min(order)));
    }

    fn again_from_fact(&mut self, key: FactKey) {
        if let Some(order) = self.orders.get(&key).copied() {
            self.again_from(order);
        }
    }

    fn filed_body(&mut self, what: &What, order: Order) -> Option<FiledBody> {
        match what {
            What::Job(job) => {
                if let Some(old) = &job.replaces {
                    self.enter_void(order, old.job);
                }
                Some(FiledBody::Job(self.filed_job(job)))
            }
            What::Opening(opening) => {
                let place = self.number(opening.place);
                self.change_place(place, |place| place.openings.push(order));
                self.settle_opening(place);
                Some(FiledBody::Opening(FiledOpening {
                    place,
                    volume_ml: opening.volume.as_ref().map(|volume| volume.value.ml()),
                    millionths: opening
                        .strength
                        .as_ref()
                        .map(|strength| i64::from(strength.value.millionths())),
                    fluid: opening.fluid.as_ref().map(named),
                }))
            }
            What::FitnessDecision(decision) => Some(FiledBody::Fitness {
                place: self.number(Account::Vessel(decision.vessel)),
                fitness: decision.fitness,
            }),
            What::Retired(retired) => Some(FiledBody::Retired {
                places: retired
                    .places
                    .iter()
                    .filter(|account| account.place().is_some())
                    .map(|account| self.number(*account))
                    .collect(),
            }),
            _ => None,
        }
    }

    fn filed_job(&mut self, job: &Job) -> FiledJob {
        let lines = job
            .lines
            .iter()
            .map(|line| match line {
                Line::Movement(movement) => FiledLine::Movement(self.filed_movement(movement)),
                Line::Reading(reading) => FiledLine::Reading(self.filed_reading(reading)),
                Line::Dip(dip) => FiledLine::Dip(self.filed_dip(dip)),
            })
            .collect();
        let place = job.place.filter(|account| account.place().is_some());
        let (mut dedicated, mut in_date_until) = (None, None);
        match &job.details {
            Some(Details::CleanOut { base, class, .. }) => dedicated = Some((*base, *class)),
            Some(Details::Inspect { passed: true, next_due }) => in_date_until = Some(*next_due),
            _ => {}
        }
        FiledJob {
            kind: job.kind,
            place: place.map(|account| self.number(account)),
            mark: job.mark,
            after_heat_cycle: job.after_heat_cycle,
            gate_millicelsius: job
                .gate_temperature
                .as_ref()
                .map(|at| at.value.millicelsius()),
            lines,
            dedicated,
            in_date_until,
        }
    }

    fn spot(&mut self, account: Account) -> Spot {
        if account.place().is_some() {
            Spot::Place(self.number(account))
        } else {
            Spot::Outside(account)
        }
    }

    fn filed_movement(&mut self, movement: &Movement) -> FiledMovement {
        FiledMovement {
            from: self.spot(movement.from),
            to: self.spot(movement.to),
            volume_ml: movement.volume.value.ml(),
            millicelsius: movement
                .temperature
                .as_ref()
                .map(|at| at.value.millicelsius()),
            gauge_error_ml: movement.gauge_error.map_or(0, |error| error.ml()),
            fluid: movement.fluid.as_ref().map(named),
            fit: movement.fit,
        }
    }

    fn filed_reading(&mut self, reading: &Reading) -> FiledReading {
        let freeze = |typed: &crate::quantity::entry::Typed<crate::quantity::Temperature>,
                      at_or_below| FiledMeasured::FreezePoint {
            millicelsius: typed.value.millicelsius(),
            at_or_below,
        };
        FiledReading {
            place: self.number(reading.place),
            measured: match &reading.measured {
                Measured::FreezePoint(typed) => freeze(typed, false),
                Measured::FreezePointAtOrBelow(typed) => freeze(typed, true),
                Measured::Strength(typed) => FiledMeasured::Strength {
                    millionths: i64::from(typed.value.millionths()),
                },
                Measured::Density { density, at } => FiledMeasured::Density {
                    g_per_m3: density.g_per_m3(),
                    millicelsius: at.millicelsius(),
                },
                Measured::Other { .. } => FiledMeasured::Other,
            },
            tool: reading.tool,
            scale: reading.scale,
        }
    }

    fn filed_dip(&mut self, dip: &DipRead) -> FiledDip {
        FiledDip {
            place: self.number(dip.place),
            volume_ml: dip.volume.value.ml(),
            millicelsius: dip.temperature.as_ref().map(|at| at.value.millicelsius()),
            gauge_error_ml: dip.gauge_error.map_or(0, |error| error.ml()),
            fluid: dip.fluid.as_ref().map(named),
        }
    }

    fn file(&mut self, recorded: &Recorded, order: Order, body: FiledBody) {
        let when = &recorded.fact.when;
        body.for_each_place(&mut |number| {
            if let Some(place) = self.ground.places.get_mut(number) {
                let first = place.first_touch.get_or_insert(order);
                *first = (*first).min(order);
                let stands_for = place.stands_for;
                if let Some(place) = self.ground.places.get_mut(stands_for) {
                    let first = place.first_touch.get_or_insert(order);
                    *first = (*first).min(order);
                }
            }
        });
        self.arriving.push(Filed {
            order,
            date: when.book_date(recorded.received_at),
            shop: match &recorded.fact.what {
                What::Job(job) => Some(job.shop),
                _ => None,
            },
            received_at: recorded.received_at,
            ahead_ms: (!when.is_believed(recorded.received_at))
                .then(|| when.happened().ms_since(recorded.received_at)),
            body,
            stored_print: 0,
        });
    }

    // --- replay ---

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

    fn grow(&self, state: &mut State) {
        state
            .places
            .resize_with(self.ground.places.len(), || Arc::new(PlaceState::default()));
    }

    fn cursor_at(&self, position: usize) -> Cursor {
        let at = self
            .snapshots
            .partition_point(|(snapshot, _)| *snapshot <= position);
        let mut cursor = match at.checked_sub(1).and_then(|at| self.snapshots.get(at)) {
            Some((position, state)) => Cursor {
                position: *position,
                state: state.clone(),
            },
            None => Cursor {
                position: 0,
                state: State::default(),
            },
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

impl Ground {
    /// Works out one fact on `state`.
    fn post(&self, filed: &Filed, state: &mut State, outcome: &mut Outcome) {
        outcome.standing = Standing::Posted;
        outcome.voided_by = None;
        outcome.postings.clear();
        outcome.changes.clear();
        outcome.questions.clear();
        outcome.flows.clear();
        outcome.top_up = None;
        if let Some(void) = self.voids.get(&filed.order.key).and_then(|all| all.iter().min()) {
            outcome.standing = Standing::Voided;
            outcome.voided_by = Some(void.key);
            return;
        }
        Poster::new(self, state, outcome, filed).post(&filed.body);
    }

    pub(super) fn place(&self, number: PlaceNumber) -> Option<(PlaceNumber, &Place)> {
        let stands_for = self.places.get(number)?.stands_for;
        self.places.get(stands_for).map(|place| (stands_for, place))
    }
}

fn named(fluid: &FluidNamed) -> Named {
    Named {
        base: fluid.base,
        class: fluid.class,
        millionths: i64::from(fluid.strength.millionths()),
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
