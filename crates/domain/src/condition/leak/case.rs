//! A leak as a case: from the suspicion or the first drop seen to the repair, its watch and perhaps its
//! coming back. All of it is worked out from what was done. A case ends without a repair where the
//! suspicion goes quiet or somebody looked and found nothing; a leak that was seen does not go quiet.

use super::exposure::MeterLine;
use super::{Consumption, LeakPolicy, TopUp, Watched, judge, quiet_after};
use crate::condition::course::{Course, Done, Pressed};
use crate::gas::verdict::Verdict;
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
    /// When it was first found tight under pressure after it.
    pub tight_at: Option<Moment>,
}

/// How a case ended without a repair.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Ended {
    /// No more was topped up than the reference allows, over the policy's stretch.
    Quiet,
    /// Somebody looked.
    NothingFound(FactKey),
}

/// How a case stands, the gravest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum CaseState {
    /// A leak was seen, and nobody has mended it.
    Seen,
    /// A rule speaks, and nobody has seen where it goes.
    Suspected,
    /// Mended and its watch is over, and no pressure test since found it tight.
    Unproven,
    /// Mended, and watched.
    Watched,
    /// The suspicion went quiet by itself.
    Quiet,
    /// Somebody looked and found no leak.
    NothingFound,
    /// Mended, found tight under pressure, and the watch is over.
    Closed,
}

impl CaseState {
    /// All of them, the gravest first.
    pub const ALL: [Self; 7] = [
        Self::Seen,
        Self::Suspected,
        Self::Unproven,
        Self::Watched,
        Self::Quiet,
        Self::NothingFound,
        Self::Closed,
    ];

    /// The words on a page.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Seen => "Leak seen",
            Self::Suspected => "Leak suspected",
            Self::Unproven => "Watch over, not proven tight",
            Self::Watched => "Mended, watched",
            Self::Quiet => "Went quiet",
            Self::NothingFound => "Looked at, no leak found",
            Self::Closed => "Mended",
        }
    }

    /// The code in an address.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::Suspected => "suspected",
            Self::Unproven => "not-proven-tight",
            Self::Watched => "watched",
            Self::Quiet => "quiet",
            Self::NothingFound => "nothing-found",
            Self::Closed => "closed",
        }
    }

    /// The state a code names.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.code() == code)
    }

    /// Whether nothing more is to be done about it.
    pub const fn is_over(self) -> bool {
        matches!(self, Self::Quiet | Self::NothingFound | Self::Closed)
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
    /// Its consumption up to its end, else up to now.
    pub consumption: Consumption,
    /// What was seen of it.
    pub seen: Option<Seen>,
    /// The repair.
    pub mended: Option<Mended>,
    /// When and how it ended without one.
    pub ended: Option<(Moment, Ended)>,
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

    /// How long it took from the first suspicion or the first drop seen to the repair; none where it was
    /// not mended, or nobody suspected anything before.
    ///
    /// ```
    /// use domain::condition::course::{Course, Done, Event};
    /// use domain::condition::leak::case::cases;
    /// use domain::condition::policy::Policies;
    /// use domain::ids::FactKey;
    /// use domain::moment::{DAY_MS, Moment};
    /// let day = |n: i64| Moment(n * DAY_MS);
    /// let key = FactKey(uuid::Uuid::from_u128(1));
    /// let mended = Done::Mended { part: "hose".into(), cause: "chafed".into(), watch_days: 30 };
    /// let course = Course {
    ///     events: vec![
    ///         Event { at: day(0), key, done: Done::Opened },
    ///         Event { at: day(9), key, done: mended },
    ///     ],
    ///     ..Course::default()
    /// };
    /// let policy = &Policies::on("2026-10-05".parse()?)?.leak;
    /// assert_eq!(cases(&course, day(10), policy)[0].flagged_for_ms(), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn flagged_for_ms(&self) -> Option<i64> {
        let mended = self.mended.as_ref()?;
        let flagged = self.seen.is_some() || self.consumption.tripped.is_some();
        flagged.then(|| mended.at.ms_since(self.opened_at()).max(0))
    }
}

/// The consumption of a loop since its last case ended, else since its opening.
pub fn consumption(course: &Course, now: Moment, policy: &LeakPolicy) -> Option<Consumption> {
    let walked = Walk::through(course, now, policy)?;
    Some(walked.judge(now))
}

/// The cases of a loop, the oldest first. What ends one lets what comes after it start from nothing.
pub fn cases(course: &Course, now: Moment, policy: &LeakPolicy) -> Vec<Case> {
    let Some(mut walked) = Walk::through(course, now, policy) else {
        return Vec::new();
    };
    walked.close(now, End::Open);
    for case in &mut walked.found {
        case.settle(now);
    }
    walked.found
}

/// A loop's course, walked through from end of case to end of case.
struct Walk<'a> {
    policy: &'a LeakPolicy,
    meter: MeterLine,
    top_ups: Vec<TopUp>,
    /// The last moment at which something of it was known.
    known_until: Moment,
    /// Since when its consumption is counted.
    from: Moment,
    seen: Option<Seen>,
    found: Vec<Case>,
}

/// What a case comes to.
enum End {
    Open,
    Mended(Mended),
    Otherwise(Ended),
}

impl<'a> Walk<'a> {
    /// Up to what is still open at `now`; none of a loop that nothing is known of.
    fn through(course: &Course, now: Moment, policy: &'a LeakPolicy) -> Option<Self> {
        let meter = course.meter(policy);
        let last = course.events.iter().map(|event| event.at).max();
        let mut walk = Self {
            policy,
            known_until: meter.read_until().or(last)?,
            meter,
            top_ups: course.top_ups(),
            from: course.begins()?,
            seen: None,
            found: Vec::new(),
        };
        for event in &course.events {
            match &event.done {
                Done::Pressed(test) => {
                    walk.let_go_quiet(event.at);
                    walk.prove(test, event.at);
                    walk.seen = seen_with(walk.seen.take(), test, event.at);
                }
                Done::Mended {
                    part,
                    cause,
                    watch_days,
                } => {
                    walk.let_go_quiet(event.at);
                    let watch_ms = i64::from(*watch_days).saturating_mul(DAY_MS);
                    let mended = Mended {
                        at: event.at,
                        key: event.key,
                        part: part.clone(),
                        cause: cause.clone(),
                        watched_until: event.at.plus_ms(watch_ms),
                        tight_at: None,
                    };
                    walk.close(event.at, End::Mended(mended));
                    walk.from = event.at;
                }
                Done::NothingFound { .. } => {
                    walk.let_go_quiet(event.at);
                    // With no case open it was a look like any other.
                    if walk.seen.is_some() || walk.judge(event.at).tripped.is_some() {
                        let end = Ended::NothingFound(event.key);
                        walk.close(event.at, End::Otherwise(end));
                        walk.from = event.at;
                    }
                }
                _ => {}
            }
        }
        walk.let_go_quiet(now);
        Some(walk)
    }

    /// What a test under pressure says of the repair before it: the first that is tight proves it, unless
    /// another leak was seen since.
    fn prove(&mut self, test: &Pressed, at: Moment) {
        let last = self.found.last_mut().filter(|_| self.seen.is_none());
        let Some(mended) = last.and_then(|case| case.mended.as_mut()) else {
            return;
        };
        if test.verdict == Some(Verdict::Tight) {
            mended.tight_at.get_or_insert(at);
        }
    }

    fn judge(&self, until: Moment) -> Consumption {
        judge(self.watched(until), &self.meter, self.policy)
    }

    fn watched(&self, until: Moment) -> Watched<'_> {
        Watched {
            since: self.from,
            now: until,
            top_ups: &self.top_ups,
        }
    }

    /// Ends the suspicions that went quiet up to a moment.
    fn let_go_quiet(&mut self, until: Moment) {
        while self.seen.is_none()
            && let Some(tripped) = self.judge(until).tripped
        {
            let times = (tripped.at, self.known_until);
            let quiet = quiet_after(self.watched(until), times, &self.meter, self.policy);
            let Some(quiet) = quiet else { return };
            self.close(quiet.at, End::Otherwise(Ended::Quiet));
            // That top-up belongs to the case; what the loop uses after it does not.
            self.from = quiet.full_at.plus_ms(1);
        }
    }

    /// Puts down the case that was open up to a moment, if there was one.
    fn close(&mut self, until: Moment, end: End) {
        let consumption = self.judge(until);
        let seen = self.seen.take();
        let (mended, ended) = match end {
            End::Open => (None, None),
            End::Mended(mended) => (Some(mended), None),
            End::Otherwise(ended) => (None, Some((until, ended))),
        };
        if seen.is_none() && mended.is_none() && consumption.tripped.is_none() {
            return;
        }
        let state = match (&mended, &ended, &seen) {
            (Some(_), ..) => CaseState::Watched,
            (None, Some((_, Ended::Quiet)), _) => CaseState::Quiet,
            (None, Some((_, Ended::NothingFound(_))), _) => CaseState::NothingFound,
            (None, None, Some(_)) => CaseState::Seen,
            (None, None, None) => CaseState::Suspected,
        };
        let mut case = Case {
            from: self.from,
            consumption,
            seen,
            mended,
            ended,
            state,
            came_back_after: None,
        };
        let opened = case.opened_at();
        let before = self.found.last().and_then(|before| before.mended.as_ref());
        case.came_back_after = before
            .filter(|mended| opened <= mended.watched_until)
            .map(|mended| mended.key);
        self.found.push(case);
    }
}

impl Case {
    /// What became of its repair by `now`: a watch that is over proves nothing by itself.
    fn settle(&mut self, now: Moment) {
        let Some(mended) = &self.mended else { return };
        self.state = match mended.tight_at {
            _ if mended.watched_until > now => CaseState::Watched,
            Some(_) => CaseState::Closed,
            None => CaseState::Unproven,
        };
    }
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
