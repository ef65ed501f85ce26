//! Facts in the short form the replay reads: places by number, quantities as integers.

use super::component::{Base, InhibitorClass};
use super::engine::Order;
use crate::fact::{ContainerChange, Fitness};
use crate::fleet::{Holds, Tool, VesselKind};
use crate::ids::{FactKey, ShopId};
use crate::job::{Account, Fit, JobKind, Mark, Measured};
use crate::moment::Moment;
use crate::quantity::Temperature;
use crate::quantity::entry::Typed;
use crate::waste::{Emptied, Stated};
use chrono::NaiveDate;

/// Number of a place in the book.
pub(super) type PlaceNumber = usize;

/// An account, with places by number.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Spot {
    Place(PlaceNumber),
    Outside(Account),
}

/// What a fluid from outside was named as.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Named {
    pub(super) base: Base,
    pub(super) class: InhibitorClass,
    pub(super) millionths: i64,
}

#[derive(Clone, Debug)]
pub(super) struct FiledMovement {
    pub(super) from: Spot,
    pub(super) to: Spot,
    pub(super) volume_ml: i64,
    pub(super) millicelsius: Option<i32>,
    pub(super) gauge_error_ml: i64,
    pub(super) fluid: Option<Named>,
    pub(super) fit: Fit,
}

#[derive(Clone, Copy, Debug)]
pub(super) enum FiledMeasured {
    FreezePoint {
        millicelsius: i32,
        at_or_below: bool,
    },
    Strength {
        millionths: i64,
    },
    Density {
        g_per_m3: i64,
        millicelsius: i32,
    },
    Other,
}

impl FiledMeasured {
    pub(super) fn of(measured: &Measured) -> Self {
        let freeze = |typed: &Typed<Temperature>, at_or_below| Self::FreezePoint {
            millicelsius: typed.value.millicelsius(),
            at_or_below,
        };
        match measured {
            Measured::FreezePoint(typed) => freeze(typed, false),
            Measured::FreezePointAtOrBelow(typed) => freeze(typed, true),
            Measured::Strength(typed) => Self::Strength {
                millionths: i64::from(typed.value.millionths()),
            },
            Measured::Density { density, at } => Self::Density {
                g_per_m3: density.value.g_per_m3(),
                millicelsius: at.value.millicelsius(),
            },
            Measured::Other { .. } => Self::Other,
        }
    }
}

#[derive(Clone, Copy, Debug)]
pub(super) struct FiledReading {
    pub(super) place: PlaceNumber,
    pub(super) measured: FiledMeasured,
    pub(super) tool: Tool,
    pub(super) scale: Option<Base>,
    /// Its instrument was out of date.
    pub(super) doubted: bool,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct FiledDip {
    pub(super) place: PlaceNumber,
    pub(super) volume_ml: i64,
    pub(super) millicelsius: Option<i32>,
    pub(super) gauge_error_ml: i64,
    pub(super) fluid: Option<Named>,
}

#[derive(Clone, Debug)]
pub(super) enum FiledLine {
    Movement(FiledMovement),
    Reading(FiledReading),
    Dip(FiledDip),
}

#[derive(Clone, Copy, Debug)]
pub(super) enum Inspection {
    Passed { next_due: NaiveDate },
    Failed,
}

#[derive(Clone, Debug)]
pub(super) struct FiledJob {
    pub(super) kind: JobKind,
    pub(super) place: Option<PlaceNumber>,
    pub(super) mark: Option<Mark>,
    pub(super) after_heat_cycle: bool,
    pub(super) gate_millicelsius: Option<i32>,
    pub(super) lines: Box<[FiledLine]>,
    pub(super) dedicated: Option<(Base, InhibitorClass)>,
    pub(super) inspected: Option<Inspection>,
    pub(super) replaces: Option<FactKey>,
}

#[derive(Clone, Debug)]
pub(super) struct FiledOpening {
    pub(super) place: PlaceNumber,
    pub(super) volume_ml: Option<i64>,
    pub(super) millionths: Option<i64>,
    pub(super) fluid: Option<Named>,
}

#[derive(Clone, Debug)]
pub(super) enum FiledBody {
    Job(FiledJob),
    Opening(FiledOpening),
    Fitness {
        place: PlaceNumber,
        fitness: Fitness,
    },
    Retired {
        places: Box<[PlaceNumber]>,
    },
}

impl FiledBody {
    /// Calls `visit` with every place the fact is about.
    pub(super) fn for_each_place(&self, visit: &mut dyn FnMut(PlaceNumber)) {
        match self {
            Self::Job(job) => {
                job.place.into_iter().for_each(&mut *visit);
                for line in &job.lines {
                    match line {
                        FiledLine::Movement(movement) => {
                            for spot in [movement.from, movement.to] {
                                if let Spot::Place(place) = spot {
                                    visit(place);
                                }
                            }
                        }
                        FiledLine::Reading(reading) => visit(reading.place),
                        FiledLine::Dip(dip) => visit(dip.place),
                    }
                }
            }
            Self::Opening(opening) => visit(opening.place),
            Self::Fitness { place, .. } => visit(*place),
            Self::Retired { places } => places.iter().copied().for_each(visit),
        }
    }
}

/// A fact at its place in the replay.
#[derive(Clone, Debug)]
pub(super) struct Filed {
    pub(super) order: Order,
    pub(super) date: NaiveDate,
    pub(super) shop: Option<ShopId>,
    pub(super) received_at: Moment,
    /// Milliseconds the entered time lies ahead of a server that does not believe it.
    pub(super) ahead_ms: Option<i64>,
    /// Somebody is named who did not show that it is them.
    pub(super) name_to_confirm: bool,
    pub(super) body: FiledBody,
    /// Print of the outcome that the views hold; 0 for none.
    pub(super) stored_print: u64,
}

/// What the book uses of a unit's or vessel's card.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Card {
    pub(super) account: Account,
    pub(super) capacity_ml: Option<i64>,
    pub(super) fill_limit_ml: Option<i64>,
    pub(super) base: Base,
    pub(super) class: InhibitorClass,
    pub(super) holds: Option<Holds>,
    pub(super) kind: Option<VesselKind>,
    pub(super) next_due: Option<NaiveDate>,
    pub(super) start_date: Option<NaiveDate>,
}

impl Card {
    pub(super) fn is_for_waste(&self) -> bool {
        self.holds == Some(Holds::Waste) || self.kind == Some(VesselKind::WasteContainer)
    }

    pub(super) fn is_for_reuse(&self) -> bool {
        matches!(self.holds, Some(Holds::Fresh | Holds::Recovered)) && !self.is_for_waste()
    }
}

/// A place with its cards in replay order and what decides when it is opened.
#[derive(Clone, Debug)]
pub(super) struct Place {
    pub(super) account: Account,
    /// The place that facts about this one count for; itself unless merged.
    pub(super) stands_for: PlaceNumber,
    pub(super) cards: Vec<(Order, Card)>,
    pub(super) openings: Vec<Order>,
    /// What was stated of it as a container that its start date hangs on, in the order of the book,
    /// with the day in the shop's own dates.
    pub(super) stated: Vec<(Order, NaiveDate, ContainerChange)>,
    /// The opening that counts: the first that was not voided.
    pub(super) opening: Option<Order>,
    /// The earliest fact about it.
    pub(super) first_touch: Option<Order>,
}

impl Place {
    /// The card in force: the last at or before `order`, or the first there is.
    pub(super) fn card(&self, order: &Order) -> Option<&Card> {
        // Nearly every place has one card, and that one counts before its own date too.
        if let [(_, only)] = self.cards.as_slice() {
            return Some(only);
        }
        let later = self.cards.partition_point(|(at, _)| at <= order);
        self.cards
            .get(later.saturating_sub(1))
            .map(|(_, card)| card)
    }

    /// Whether waste that goes in at `order` goes into a container without a start date.
    pub(super) fn lacks_start_date(&self, order: &Order, emptied: Emptied) -> bool {
        let on_card = self.card(order).and_then(|card| card.start_date);
        let until_then = self.stated.partition_point(|(at, ..)| at <= order);
        let events = self.stated.iter().take(until_then);
        Stated::of(
            (on_card, emptied),
            events.map(|(at, day, event)| (at.happened, *day, event)),
        )
        .lacks_start_date()
    }
}
