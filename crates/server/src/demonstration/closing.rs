//! Months closed by the compliance officer: the statement as the book stood when it was drawn up, and
//! what the site counted as.

use std::collections::BTreeMap;

use chrono::{Months, NaiveDate};
use domain::book::contents::Contents;
use domain::book::month::{FlowTotal, Month, Statement, VesselStatement};
use domain::book::outcome::{Flow, MEASURES};
use domain::book::{Book, Kept};
use domain::fact::{Fact, MonthClosed, Proved, Recorded, What};
use domain::ids::{FactKey, PersonId, PlaceId};
use domain::job::Account;
use domain::moment::{MINUTE_MS, Moment, Precision, When};

use super::Made;
use super::calendar::{At, DAY_0, FIRST_DAY, day};
use super::counted::{Papers, Seen};
use super::dice::Dice;
use super::vessels::Store;
use super::yards::Yard;

/// Stands for the head's hash until the facts are in a record, which alone knows it.
pub(super) const HASH_NOT_KNOWN: &str =
    "0000000000000000000000000000000000000000000000000000000000000000";

/// Who draws the statements up, and of which vessels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Office<'a> {
    pub(super) seed: u64,
    pub(super) officer: PersonId,
    pub(super) stores: &'a [Store],
}

/// Puts the closing of every month but the last among facts in the order of their arrival.
pub(super) fn close_months(facts: Vec<Recorded>, office: Office<'_>) -> Made<Vec<Recorded>> {
    let mut due = closings()?.into_iter().peekable();
    let mut book = Book::new();
    let mut dice = Dice::named(office.seed, "closings");
    let mut papers = Papers::default();
    let mut all: Vec<Recorded> = Vec::with_capacity(facts.len() + 40);
    for fact in facts {
        while let Some((at, yard, month)) =
            due.next_if(|(at, _, _)| received(*at) < fact.received_at)
        {
            let head_seq = i64::try_from(all.len()).unwrap_or(i64::MAX);
            let about = (office, &papers);
            let statement = drawn_up(&mut book, about, (yard, month), head_seq)?;
            let closed = closed(at, office.officer, FactKey(dice.id()), statement);
            book.enter(&closed);
            all.push(closed);
        }
        book.enter(&fact);
        papers.take(&fact);
        all.push(fact);
    }
    Ok(all)
}

/// On the sixth of the month after, in the afternoon.
fn closings() -> Made<Vec<(At, Yard, NaiveDate)>> {
    let mut all = Vec::new();
    let mut month = day(FIRST_DAY)?;
    loop {
        let Some(next) = month.checked_add_months(Months::new(1)) else {
            return Ok(all);
        };
        let sixth = next.checked_add_days(chrono::Days::new(5)).unwrap_or(next);
        if sixth >= day(DAY_0)? {
            return Ok(all);
        }
        for (yard, minute) in [(Yard::Upper, 14 * 60 + 10), (Yard::Harbour, 14 * 60 + 40)] {
            all.push((At::on(sixth, minute)?, yard, month));
        }
        month = next;
    }
}

/// A closing takes two minutes to be read through and signed.
fn received(at: At) -> Moment {
    at.moment.plus_ms(2 * MINUTE_MS)
}

fn closed(at: At, officer: PersonId, key: FactKey, month: MonthClosed) -> Recorded {
    Recorded {
        key,
        received_at: received(at),
        fact: Fact {
            when: When {
                happened_at: at.moment,
                precision: Precision::Minute,
                local_date: at.date,
                utc_offset_min: at.offset_min,
                made_at: at.moment,
                clock_offset_ms: 0,
            },
            by: domain::fact::By {
                person: Some(officer),
                proved: Proved::Password,
            },
            what: What::MonthClosed(Box::new(month)),
        },
    }
}

/// What came into and went out of a vessel, as it was and as it shows.
#[derive(Default)]
struct Turnover {
    taken_in: Contents,
    given_out: Contents,
    shown_ml: i64,
    /// What came in less what went out after the month.
    later: Contents,
}

impl Turnover {
    fn statement(self, vessel: PlaceId, now: &Contents) -> VesselStatement {
        let mut closing = now.clone();
        closing.subtract(&self.later);
        let mut opening = closing.clone();
        opening.subtract(&self.taken_in);
        opening.add(&self.given_out);
        VesselStatement {
            vessel,
            shrink_on_mixing_ml: closing.shown_ml() - opening.shown_ml() - self.shown_ml,
            opening,
            taken_in: self.taken_in,
            given_out: self.given_out,
            closing,
        }
    }
}

/// The month as it stands at the head of the record, as the page of a closing draws it up: what the
/// vessels held is worked out backwards from what they hold.
fn drawn_up(
    book: &mut Book,
    (office, papers): (Office<'_>, &Papers),
    (yard, first): (Yard, NaiveDate),
    head_seq: i64,
) -> Made<MonthClosed> {
    book.work_out(&mut |_| Kept::Later);
    let shop = yard.shop(office.seed);
    let month = Month::of(first);
    let mut flows: Vec<Flow> = Vec::new();
    let mut turnover: BTreeMap<PlaceId, Turnover> = BTreeMap::new();
    let mut seen = Seen::new(papers, (shop, month));
    let states = book.replay_until(None, &mut |worked| {
        seen.take(&worked);
        let is_later = worked.date > month.last_day();
        if worked.date < first {
            return;
        }
        if worked.shop == Some(shop) && !is_later {
            flows.extend(worked.outcome.flows.iter().copied());
        }
        for posting in &worked.outcome.postings {
            if let Account::Vessel(to) = posting.to {
                let vessel = turnover.entry(to).or_default();
                if is_later {
                    vessel.later.add(&posting.contents);
                } else {
                    vessel.taken_in.add(&posting.contents);
                    vessel.shown_ml += posting.shown_ml;
                }
            }
            if let Account::Vessel(from) = posting.from {
                let vessel = turnover.entry(from).or_default();
                if is_later {
                    vessel.later.subtract(&posting.contents);
                } else {
                    vessel.given_out.add(&posting.contents);
                    vessel.shown_ml -= posting.shown_ml;
                }
            }
        }
    });
    let states: BTreeMap<PlaceId, _> = states
        .into_iter()
        .filter_map(|(account, state)| Some((account.place()?, state)))
        .collect();
    let own: Vec<PlaceId> = office
        .stores
        .iter()
        .filter(|store| store.yard == yard)
        .map(|store| store.card.id)
        .collect();
    let vessels = own.iter().filter_map(|id| {
        let now = states.get(id)?;
        let moved = turnover.remove(id).unwrap_or_default();
        Some(moved.statement(*id, &now.contents))
    });
    let vessels = vessels.collect();
    Ok(MonthClosed {
        statement: Statement {
            shop,
            month,
            flows: totals(&flows),
            vessels,
            head_seq,
            head_hash: HASH_NOT_KNOWN.to_owned(),
        },
        other_shops: Vec::new(),
        site: Some(seen.counted(yard.site(office.seed), (&own, &states))?),
    })
}

pub(super) fn totals(flows: &[Flow]) -> Vec<FlowTotal> {
    MEASURES
        .into_iter()
        .filter_map(|measure| {
            let mut total = FlowTotal {
                measure,
                typed_ml: 0,
                shown_ml: 0,
                mass_g: 0,
                lines: 0,
                lines_without_mass: 0,
            };
            for flow in flows.iter().filter(|flow| flow.measure == measure) {
                total.typed_ml += flow.typed_ml;
                total.shown_ml += flow.shown_ml;
                total.mass_g += flow.mass_g.unwrap_or(0);
                total.lines += 1;
                total.lines_without_mass += i64::from(flow.mass_g.is_none());
            }
            (total.lines > 0).then_some(total)
        })
        .collect()
}
