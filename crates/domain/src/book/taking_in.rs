//! How facts take their place in the replay, and what each makes the book work out again.

use super::engine::{Book, Order};
use super::filed::{
    Card, Filed, FiledBody, FiledDip, FiledJob, FiledLine, FiledMeasured, FiledMovement,
    FiledOpening, FiledReading, Inspection, Named, Place, PlaceNumber, Spot,
};
use super::month::Month;
use crate::fact::{ContainerChange, ContainerEvent, Recorded, What};
use crate::fleet::{Unit, Vessel};
use crate::ids::{FactKey, PlaceId, ShopId};
use crate::job::{Account, Details, DipRead, FluidNamed, Job, Line, Movement, Reading};
use crate::moment::Moment;
use crate::quantity::Volume;
use chrono::NaiveDate;

impl Book {
    /// Takes a fact in, in any order of arrival. Works nothing out yet; a key seen before is
    /// left alone.
    pub fn enter(&mut self, recorded: &Recorded) {
        let order = Order {
            happened: recorded.fact.when.replayed_at(recorded.received_at),
            made: recorded.fact.when.made(),
            key: recorded.key,
        };
        if self.ground.orders.contains_key(&recorded.key) {
            return;
        }
        self.ground.orders.insert(recorded.key, order);
        // What named this fact before it arrived asked about it.
        if let Some(first) = self
            .ground
            .voids
            .get(&recorded.key)
            .and_then(|orders| orders.iter().min())
            .copied()
        {
            self.again_from(first);
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
                let day = recorded.fact.when.local_date;
                self.enter_container_event((order, day), event);
            }
            What::MonthClosed(closed) => {
                for statement in closed.statements() {
                    let month = (statement.shop, statement.month);
                    self.enter_month_closed(month, recorded.received_at);
                }
            }
            _ => {}
        }
        if let Some(body) = self.filed_body(&recorded.fact.what, order) {
            self.file(recorded, order, body);
        }
    }

    fn enter_container_event(&mut self, (order, day): (Order, NaiveDate), stated: &ContainerEvent) {
        match stated.event {
            ContainerChange::Labelled(_) | ContainerChange::Inspected(_) => {}
            ContainerChange::StartDate(_)
            | ContainerChange::Closed
            | ContainerChange::Emptied(_)
            | ContainerChange::Placed(_) => {
                let number = self.number(Account::Vessel(stated.vessel));
                self.change_place(number, |place| {
                    let at = place
                        .stated
                        .partition_point(|(earlier, ..)| *earlier < order);
                    place.stated.insert(at, (order, day, stated.event.clone()));
                });
            }
        }
    }

    fn enter_unit(&mut self, order: Order, unit: &Unit) {
        for each in &unit.loops {
            let card = Card {
                account: Account::Loop(each.id),
                capacity_ml: each.capacity.as_ref().map(|volume| volume.value.ml()),
                fill_limit_ml: None,
                base: each.base,
                class: each.class,
                holds: None,
                kind: None,
                next_due: None,
                start_date: None,
            };
            self.enter_card(order, card);
        }
    }

    fn enter_vessel(&mut self, order: Order, vessel: &Vessel) {
        let card = Card {
            account: Account::Vessel(vessel.id),
            capacity_ml: vessel.capacity.as_ref().map(|volume| volume.value.ml()),
            fill_limit_ml: vessel.fill_limit.as_ref().map(|volume| volume.value.ml()),
            base: vessel.base,
            class: vessel.class,
            holds: Some(vessel.holds),
            kind: Some(vessel.kind),
            next_due: vessel
                .pressure_vessel
                .as_ref()
                .and_then(|data| data.next_due),
            start_date: vessel.start_date,
        };
        self.enter_card(order, card);
    }

    fn enter_card(&mut self, order: Order, card: Card) {
        let number = self.number(card.account);
        self.change_place(number, |place| {
            let at = place.cards.partition_point(|(earlier, _)| *earlier < order);
            place.cards.insert(at, (order, card));
            // The last card says what it is, whatever jobs called it.
            if let Some((_, last)) = place.cards.last() {
                place.account = last.account;
            }
        });
    }

    fn enter_void(&mut self, order: Order, job: FactKey) {
        self.ground.voids.entry(job).or_default().push(order);
        self.again_from_fact(job);
        if let Some(number) = self.opened_by.get(&job).copied() {
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
        let mut affected = vec![from_number, into_number];
        for number in 0..self.ground.places.len() {
            let stands_for = self.follow_merges(number);
            if let Some(place) = self.ground.places.get_mut(number)
                && place.stands_for != stands_for
            {
                // Whatever it stood for until now is changed by losing it.
                affected.extend([number, place.stands_for, stands_for]);
                place.stands_for = stands_for;
            }
        }
        for number in 0..self.ground.places.len() {
            self.share_first_touch(number);
        }
        for number in affected {
            self.change_place(number, |_| {});
            self.settle_opening(number);
        }
    }

    /// The place at the end of a chain of merges. Merges that run in a ring all mean the place
    /// with the smallest id, whichever of them came first.
    fn follow_merges(&self, number: PlaceNumber) -> PlaceNumber {
        let mut path = vec![number];
        let mut at = number;
        while let Some(next) = self.merged_into(at) {
            if let Some(ring) = path.iter().position(|seen| *seen == next) {
                return path
                    .into_iter()
                    .skip(ring)
                    .min_by_key(|number| self.ground.places.get(*number).map(|p| p.account.place()))
                    .unwrap_or(number);
            }
            path.push(next);
            at = next;
        }
        at
    }

    fn merged_into(&self, number: PlaceNumber) -> Option<PlaceNumber> {
        let id = self.ground.places.get(number)?.account.place()?;
        let (_, into) = self.merges.get(&id)?;
        self.numbers.get(into).copied()
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
            stated: Vec::new(),
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

    /// What touches a merged place touches the one it stands for.
    fn share_first_touch(&mut self, number: PlaceNumber) {
        let Some(place) = self.ground.places.get(number) else {
            return;
        };
        let (stands_for, touch) = (place.stands_for, place.first_touch);
        if stands_for == number {
            return;
        }
        if let (Some(touch), Some(place)) = (touch, self.ground.places.get_mut(stands_for)) {
            let first = place.first_touch.get_or_insert(touch);
            *first = (*first).min(touch);
        }
    }

    /// The opening that counts for a place: the first, of all ids that stand for it, that was
    /// not voided.
    fn settle_opening(&mut self, number: PlaceNumber) {
        let Some(stands_for) = self.ground.places.get(number).map(|place| place.stands_for) else {
            return;
        };
        let counts = |opening: &&Order| !self.ground.voids.contains_key(&opening.key);
        let opening = if self.merges.is_empty() {
            let place = self.ground.places.get(stands_for);
            place.and_then(|place| place.openings.iter().filter(counts).min())
        } else {
            self.ground
                .places
                .iter()
                .filter(|place| place.stands_for == stands_for)
                .flat_map(|place| &place.openings)
                .filter(counts)
                .min()
        };
        let opening = opening.copied();
        if let Some(place) = self.ground.places.get_mut(stands_for) {
            place.opening = opening;
        }
    }

    pub(super) fn again_from(&mut self, order: Order) {
        self.again = Some(self.again.map_or(order, |again| again.min(order)));
    }

    fn again_from_fact(&mut self, key: FactKey) {
        if let Some(order) = self.ground.orders.get(&key).copied() {
            self.again_from(order);
        }
    }

    fn filed_body(&mut self, what: &What, order: Order) -> Option<FiledBody> {
        match what {
            What::Job(job) => {
                if let Some(old) = &job.replaces {
                    self.enter_void(order, old.job);
                }
                Some(FiledBody::Job(filed_job(job, &mut |account| {
                    self.number(account)
                })))
            }
            What::Opening(opening) => {
                let place = self.number(opening.place);
                self.opened_by.insert(order.key, place);
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

    fn file(&mut self, recorded: &Recorded, order: Order, body: FiledBody) {
        let when = &recorded.fact.when;
        body.for_each_place(&mut |number| {
            if let Some(place) = self.ground.places.get_mut(number) {
                let first = place.first_touch.get_or_insert(order);
                *first = (*first).min(order);
            }
            self.share_first_touch(number);
        });
        self.arriving.push(Filed {
            order,
            date: when.book_date(recorded.received_at),
            shop: match &recorded.fact.what {
                What::Job(job) => Some(job.shop),
                What::FitnessDecision(decision) => decision.shop,
                _ => None,
            },
            received_at: recorded.received_at,
            ahead_ms: (!when.is_believed(recorded.received_at))
                .then(|| when.happened().ms_since(recorded.received_at)),
            name_to_confirm: recorded.fact.by.is_to_be_confirmed(),
            body,
            stored_print: 0,
        });
    }
}

/// A job in its short form; `number` says which number an account's place has.
pub(super) fn filed_job(job: &Job, number: &mut dyn FnMut(Account) -> PlaceNumber) -> FiledJob {
    let place = job.place.filter(|account| account.place().is_some());
    let lines = job
        .lines
        .iter()
        .map(|line| match line {
            Line::Movement(movement) => FiledLine::Movement(filed_movement(movement, number)),
            Line::Reading(reading) => FiledLine::Reading(filed_reading(reading, number)),
            Line::Dip(dip) => FiledLine::Dip(filed_dip(dip, number)),
        })
        .collect();
    let (mut dedicated, mut inspected) = (None, None);
    match &job.details {
        Some(Details::CleanOut { base, class, .. }) => dedicated = Some((*base, *class)),
        Some(Details::Inspect { passed, next_due }) => {
            inspected = Some(if *passed {
                Inspection::Passed {
                    next_due: *next_due,
                }
            } else {
                Inspection::Failed
            });
        }
        _ => {}
    }
    FiledJob {
        kind: job.kind,
        place: place.map(number),
        mark: job.mark,
        after_heat_cycle: job.after_heat_cycle,
        gate_millicelsius: job
            .gate_temperature
            .as_ref()
            .map(|at| at.value.millicelsius()),
        lines,
        dedicated,
        inspected,
        replaces: job.replaces.as_ref().map(|old| old.job),
    }
}

fn spot(account: Account, number: &mut dyn FnMut(Account) -> PlaceNumber) -> Spot {
    if account.place().is_some() {
        Spot::Place(number(account))
    } else {
        Spot::Outside(account)
    }
}

fn filed_movement(
    movement: &Movement,
    number: &mut dyn FnMut(Account) -> PlaceNumber,
) -> FiledMovement {
    FiledMovement {
        from: spot(movement.from, number),
        to: spot(movement.to, number),
        volume_ml: movement.volume.value.ml(),
        millicelsius: movement
            .temperature
            .as_ref()
            .map(|at| at.value.millicelsius()),
        gauge_error_ml: movement.gauge_error.map_or(0, Volume::ml),
        fluid: movement.fluid.as_ref().map(named),
        fit: movement.fit,
    }
}

fn filed_reading(
    reading: &Reading,
    number: &mut dyn FnMut(Account) -> PlaceNumber,
) -> FiledReading {
    FiledReading {
        place: number(reading.place),
        measured: FiledMeasured::of(&reading.measured),
        tool: reading.tool,
        scale: reading.scale,
        doubted: reading.doubt.is_some(),
    }
}

fn filed_dip(dip: &DipRead, number: &mut dyn FnMut(Account) -> PlaceNumber) -> FiledDip {
    FiledDip {
        place: number(dip.place),
        volume_ml: dip.volume.value.ml(),
        millicelsius: dip.temperature.as_ref().map(|at| at.value.millicelsius()),
        gauge_error_ml: dip.gauge_error.map_or(0, Volume::ml),
        fluid: dip.fluid.as_ref().map(named),
    }
}

fn named(fluid: &FluidNamed) -> Named {
    Named {
        base: fluid.base,
        class: fluid.class,
        millionths: i64::from(fluid.strength.millionths()),
    }
}
