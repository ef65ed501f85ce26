//! A leak as a case: from the suspicion or the first drop seen to the repair, its watch and perhaps its
//! coming back. All of it is worked out from what was done; nobody opens or closes a case by hand.

use super::{Consumption, LeakPolicy, Watched, judge};
use crate::condition::course::{Course, Done, Pressed};
use crate::ids::FactKey;
use crate::job::LeakClass;
use crate::moment::{DAY_MS, Moment};

/// A leak that was seen.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Seen {
    /// When it was first seen.
    pub first_at: Moment,
    /// The gravest class that was seen.
    pub class: LeakClass,
    /// Where, as it was last said.
    pub place: Option<String>,
}

/// The repair.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Mended {
    /// When.
    pub at: Moment,
    /// The job.
    pub key: FactKey,
    /// The part.
    pub part: String,
    /// The cause.
    pub cause: String,
    /// Watched up to this moment.
    pub watched_until: Moment,
}

/// How a case stands, the gravest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum CaseState {
    /// A leak was seen, and nobody has mended it.
    Seen,
    /// A rule speaks, and nobody has seen where it goes.
    Suspected,
    /// Mended, and watched.
    Watched,
    /// Mended, and the watch is over.
    Closed,
}

impl CaseState {
    /// All of them, the gravest first.
    pub const ALL: [Self; 4] = [Self::Seen, Self::Suspected, Self::Watched, Self::Closed];

    /// The words on a page.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Seen => "Leak seen",
            Self::Suspected => "Leak suspected",
            Self::Watched => "Mended, watched",
            Self::Closed => "Mended",
        }
    }

    /// The code in an address.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::Suspected => "suspected",
            Self::Watched => "watched",
            Self::Closed => "closed",
        }
    }

    /// The state a code names.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.code() == code)
    }

    /// Whether somebody still has to find and mend it.
    pub const fn is_open(self) -> bool {
        matches!(self, Self::Seen | Self::Suspected)
    }
}

/// A leak case.
#[derive(Clone, PartialEq, Debug)]
pub struct Case {
    /// Since when its consumption is counted: the opening, or the repair before.
    pub from: Moment,
    /// Its consumption up to the repair, else up to now.
    pub consumption: Consumption,
    /// What was seen of it.
    pub seen: Option<Seen>,
    /// The repair.
    pub mended: Option<Mended>,
    /// How it stands.
    pub state: CaseState,
    /// The repair whose watch it fell into: it came back.
    pub came_back_after: Option<FactKey>,
}

impl Case {
    /// When it was first suspected, seen or mended.
    pub fn opened_at(&self) -> Moment {
        let tripped = self.consumption.tripped.map(|tripped| tripped.at);
        let seen = self.seen.as_ref().map(|seen| seen.first_at);
        let mended = self.mended.as_ref().map(|mended| mended.at);
        let first = [tripped, seen, mended].into_iter().flatten().min();
        first.unwrap_or(self.from)
    }
}

/// The consumption of a loop since its last repair, else since its opening.
pub fn consumption(course: &Course, now: Moment, policy: &LeakPolicy) -> Option<Consumption> {
    let repaired = |done: &Done| matches!(done, Done::Mended { .. });
    let last = course.events.iter().rev().find(|it| repaired(&it.done));
    let since = last.map(|event| event.at).or_else(|| course.begins())?;
    let top_ups = course.top_ups();
    let watched = Watched {
        since,
        now,
        top_ups: &top_ups,
    };
    Some(judge(watched, &course.meter(policy), policy))
}

/// The cases of a loop, the oldest first. A repair ends one; what comes after it starts from nothing.
pub fn cases(course: &Course, now: Moment, policy: &LeakPolicy) -> Vec<Case> {
    let Some(begins) = course.begins() else {
        return Vec::new();
    };
    let (meter, top_ups) = (course.meter(policy), course.top_ups());
    let (mut from, mut seen) = (begins, None);
    let mut found: Vec<Case> = Vec::new();
    let mut close = |from, seen: Option<Seen>, mended: Option<Mended>| {
        let watched = Watched {
            since: from,
            now: mended.as_ref().map_or(now, |mended: &Mended| mended.at),
            top_ups: &top_ups,
        };
        let consumption = judge(watched, &meter, policy);
        let is_case = seen.is_some() || mended.is_some() || consumption.tripped.is_some();
        if !is_case {
            return;
        }
        let state = match (&mended, &seen) {
            (Some(mended), _) if mended.watched_until > now => CaseState::Watched,
            (Some(_), _) => CaseState::Closed,
            (None, Some(_)) => CaseState::Seen,
            (None, None) => CaseState::Suspected,
        };
        let mut case = Case {
            from,
            consumption,
            seen,
            mended,
            state,
            came_back_after: None,
        };
        let opened = case.opened_at();
        let before = found.last().and_then(|before| before.mended.as_ref());
        case.came_back_after = before
            .filter(|mended| opened <= mended.watched_until)
            .map(|mended| mended.key);
        found.push(case);
    };
    for event in &course.events {
        match &event.done {
            Done::Pressed(test) => seen = seen_with(seen.take(), test, event.at),
            Done::Mended {
                part,
                cause,
                watch_days,
            } => {
                let watch_ms = i64::from(*watch_days).saturating_mul(DAY_MS);
                let mended = Mended {
                    at: event.at,
                    key: event.key,
                    part: part.clone(),
                    cause: cause.clone(),
                    watched_until: event.at.plus_ms(watch_ms),
                };
                close(from, seen.take(), Some(mended));
                from = event.at;
            }
            _ => {}
        }
    }
    close(from, seen, None);
    found
}

/// What was seen, with one more pressure test; a dry one takes nothing back.
fn seen_with(before: Option<Seen>, test: &Pressed, at: Moment) -> Option<Seen> {
    let Some(class) = test.leak_class.filter(|class| u8::from(*class) > 0) else {
        return before;
    };
    let before_class = before.as_ref().map_or(class, |seen| seen.class);
    Some(Seen {
        first_at: before.as_ref().map_or(at, |seen| seen.first_at),
        class: before_class.max(class),
        place: test
            .leak_place
            .clone()
            .or(before.and_then(|seen| seen.place)),
    })
}
