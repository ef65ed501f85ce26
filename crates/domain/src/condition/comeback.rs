//! Work that did not last: the same loop is low again, filled again or leaks within 30 days. It is told
//! from what was done, whether or not somebody said that one job goes on from another.

use super::work::LoopWork;
use crate::book::outcome::TopUpClass;
use crate::ids::FactKey;
use crate::job::JobKind;
use crate::moment::{DAY_MS, Moment};

/// Within so long it counts as coming back ("same unit, same loop, leak or low level within 30 days").
pub const WITHIN_MS: i64 = 30 * DAY_MS;
/// Up to so much is what a first heat cycle takes, mL ("fills with no completion above 1 L").
const COMPLETED_ABOVE_ML: i64 = 1_000;
/// Up to so much is an ordinary top-up, mL: people top up when 0.8 to 1.6 L are missing. Our own default,
/// that of the simulation behind the leak rule.
const ORDINARY_UP_TO_ML: i64 = 1_600;

/// How it came back.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum How {
    /// Its level was low: so much was topped up, mL.
    Low(i64),
    /// It was filled again, with so much more than had been taken out, mL.
    Refilled(i64),
    /// A leak was seen.
    LeakSeen,
    /// A leak was mended.
    Mended,
}

/// A job that did not last, and the first one that showed it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Comeback {
    /// What did not last.
    pub first: FactKey,
    /// Its kind.
    pub first_kind: JobKind,
    /// When it was done.
    pub first_at: Moment,
    /// The job that showed it.
    pub back: FactKey,
    /// Its kind.
    pub back_kind: JobKind,
    /// When.
    pub at: Moment,
    /// How.
    pub how: How,
}

/// Every job on a loop that came back, in the order of time; `work` is all that was done to it, in order.
pub fn comebacks(work: &[LoopWork]) -> Vec<Comeback> {
    let lasting = |kind| {
        matches!(
            kind,
            JobKind::Fill | JobKind::Exchange | JobKind::TopUp | JobKind::LeakRepair
        )
    };
    let mut found = Vec::new();
    for (n, first) in work.iter().enumerate() {
        if !lasting(first.kind) {
            continue;
        }
        let later = work.iter().skip(n.saturating_add(1));
        let mut taken_out_ml = 0_i64;
        let back = later
            .take_while(|later| later.at.ms_since(first.at) <= WITHIN_MS)
            .find_map(|later| {
                taken_out_ml = taken_out_ml.saturating_add(later.out_ml);
                let how = how(first, later, taken_out_ml);
                taken_out_ml = taken_out_ml.saturating_sub(later.put_in_ml).max(0);
                how.map(|how| (later, how))
            });
        found.extend(back.map(|(back, how)| Comeback {
            first: first.key,
            first_kind: first.kind,
            first_at: first.at,
            back: back.key,
            back_kind: back.kind,
            at: back.at,
            how,
        }));
    }
    found
}

/// What belongs to the same visit, its repair after the fill, its second half of a fill, is no coming
/// back, unless somebody said that it goes on from it.
fn how(first: &LoopWork, later: &LoopWork, taken_out_ml: i64) -> Option<How> {
    let goes_on = later.follows == Some(first.key);
    let is_another_visit = later.day > first.day || goes_on;
    match later.kind {
        JobKind::TopUp => {
            let usual_ml = match later.top_up {
                Some(TopUpClass::Completion) => COMPLETED_ABOVE_ML,
                _ => ORDINARY_UP_TO_ML,
            };
            (later.put_in_ml > usual_ml).then_some(How::Low(later.put_in_ml))
        }
        _ if !is_another_visit => None,
        JobKind::Fill | JobKind::Exchange => {
            let more = later.put_in_ml.saturating_sub(taken_out_ml);
            (goes_on || more > COMPLETED_ABOVE_ML).then_some(How::Refilled(more.max(0)))
        }
        JobKind::LeakRepair => Some(How::Mended),
        _ => later.leak_seen.then_some(How::LeakSeen),
    }
}
