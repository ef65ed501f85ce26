//! Whether the coolant of a loop still keeps corrosion away: by inhibitor class, age and what was
//! read. Never merged with the verdict on its freeze point.

use std::collections::BTreeMap;

use super::composition::{ForeignPolicies, ForeignState, foreign_share, own_kind};
use crate::book::component::{Base, InhibitorClass};
use crate::book::contents::Contents;
use crate::quantity::rounding::float;
use crate::quantity::{Distance, FractionByVolume, RunningTime};

/// The reading that proves a class's protection.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Proof {
    /// Nitrite, ppm.
    Nitrite,
    /// Reserve alkalinity, mL of 0.1 N acid (ASTM D1121).
    ReserveAlkalinity,
    /// Electrical conductivity, µS/cm: the less the better.
    Conductivity,
}

impl Proof {
    const ALL: [Self; 3] = [Self::Nitrite, Self::ReserveAlkalinity, Self::Conductivity];

    /// The word a reading is known by.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nitrite => "nitrite",
            Self::ReserveAlkalinity => "reserve alkalinity",
            Self::Conductivity => "conductivity",
        }
    }

    /// What it is counted in.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Nitrite => "ppm",
            Self::ReserveAlkalinity => "mL",
            Self::Conductivity => "µS/cm",
        }
    }

    /// The proof a word names, in any letter case.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|proof| proof.word().eq_ignore_ascii_case(word.trim()))
    }
}

/// What one inhibitor class is held against.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ClassPolicy {
    /// It is changed after so many days.
    pub change_days: i64,
    /// Or so far, whichever comes first.
    pub change_distance: Option<Distance>,
    /// Or so many hours.
    pub change_hours: Option<RunningTime>,
    /// It is tested at least so often.
    pub test_days: i64,
    /// By this; none where no field test tells, and a laboratory's look counts.
    pub proof: Option<Proof>,
    /// At least so much, thousandths of the proof's unit.
    pub least_thousandths: Option<i64>,
    /// At most so much.
    pub most_thousandths: Option<i64>,
    /// A pH outside is a flag; one inside proves nothing (ASTM D1287).
    pub ph_thousandths: Option<(i64, i64)>,
    /// Below this the trade replaces it.
    pub ph_replace_below_thousandths: Option<i64>,
}

/// What every class is held against.
#[derive(Clone, PartialEq, Debug)]
pub struct CorrosionPolicy {
    /// The last part of its life in which a change is due soon, 0 to 1.
    pub due_soon: f64,
    /// So much of the capacity has to go in fresh before a filling counts as changed, 0 to 1.
    pub whole_change: f64,
    /// By class; [`InhibitorClass::Unknown`] has none.
    pub classes: BTreeMap<InhibitorClass, ClassPolicy>,
}

/// How long a filling has been in service.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Service {
    /// Whole days since it was put in.
    pub days: i64,
    /// Driven since; none where no meter tells.
    pub distance: Option<Distance>,
    /// Run since; none where no meter tells.
    pub hours: Option<RunningTime>,
}

/// Something read, and how long ago.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ReadBefore {
    /// Thousandths of the unit: of pH, or of the proof's.
    pub thousandths: i64,
    /// Whole days ago.
    pub days: i64,
}

/// What is known of a loop as far as corrosion depends on it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Inhibited<'a> {
    /// What it holds.
    pub contents: &'a Contents,
    /// What it is meant to hold.
    pub meant: (Base, InhibitorClass),
    /// Since its coolant was last changed as a whole; none where nobody knows.
    pub in_service: Option<Service>,
    /// The last reading of each proof.
    pub proofs: &'a [(Proof, ReadBefore)],
    /// Whole days since a laboratory last looked at it.
    pub laboratory_days: Option<i64>,
    /// The last pH.
    pub ph: Option<ReadBefore>,
}

/// The verdict, as a board shows it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum CorrosionVerdict {
    /// It does not protect: change, clean or dose it before it goes on.
    ActNow,
    /// Somebody has to look at it.
    CheckSoon,
    /// Nothing speaks against it, and nothing recent enough speaks for it.
    NotProven,
    /// Nobody knows what it is.
    Unknown,
    /// By class, age and test it protects.
    InOrder,
}

impl CorrosionVerdict {
    /// All verdicts, the gravest first.
    pub const ALL: [Self; 5] = [
        Self::ActNow,
        Self::CheckSoon,
        Self::NotProven,
        Self::Unknown,
        Self::InOrder,
    ];

    /// The words on a page.
    pub const fn words(self) -> &'static str {
        match self {
            Self::ActNow => "Act now",
            Self::CheckSoon => "Check soon",
            Self::NotProven => "Not proven",
            Self::Unknown => "Unknown",
            Self::InOrder => "In order",
        }
    }
}

/// Which clock ran out.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Clock {
    /// Days.
    Days,
    /// Distance.
    Distance,
    /// Hours.
    Hours,
}

/// Why. Each reason belongs to one verdict.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum CorrosionReason {
    /// It holds no coolant: nothing, or water alone.
    NoCoolant,
    /// So much of it is foreign that its class protects no more.
    Lost,
    /// Less than the least of the reading that proves it.
    TooLittle(Proof),
    /// More conductive than the loop allows.
    TooConductive,
    /// It has been in service for longer than its class lasts.
    TooOld(Clock),
    /// The pH is so low that the trade replaces it; a flag, so it is looked at first.
    PhReplace,
    /// Foreign coolant may weaken its class.
    Mixed,
    /// More than the most: no dosing until it is down.
    TooMuch(Proof),
    /// The pH lies outside its band.
    PhOutside,
    /// Its change is due soon.
    DueSoon(Clock),
    /// Nobody knows how long it has been in service.
    AgeUnknown,
    /// It was never tested, and is too old to count as fresh.
    NeverTested,
    /// The last test that tells is too old.
    OldTest,
    /// Neither its card nor the book knows its class.
    ClassUnknown,
    /// Class, age and test are in order.
    Protected,
}

impl CorrosionReason {
    /// The verdict it belongs to.
    pub const fn verdict(self) -> CorrosionVerdict {
        match self {
            Self::NoCoolant
            | Self::Lost
            | Self::TooLittle(_)
            | Self::TooConductive
            | Self::TooOld(_) => CorrosionVerdict::ActNow,
            Self::PhReplace
            | Self::Mixed
            | Self::TooMuch(_)
            | Self::PhOutside
            | Self::DueSoon(_) => CorrosionVerdict::CheckSoon,
            Self::AgeUnknown | Self::NeverTested | Self::OldTest => CorrosionVerdict::NotProven,
            Self::ClassUnknown => CorrosionVerdict::Unknown,
            Self::Protected => CorrosionVerdict::InOrder,
        }
    }
}

/// The verdict with what it rests on.
#[derive(Clone, PartialEq, Debug)]
pub struct CorrosionJudged {
    /// The gravest reason, and with it the verdict.
    pub reason: CorrosionReason,
    /// What else there is to say, the gravest first.
    pub also: Vec<CorrosionReason>,
    /// The class it was judged as.
    pub class: Option<InhibitorClass>,
    /// How much of its concentrate is foreign, and what that means.
    pub foreign: Option<(FractionByVolume, ForeignState)>,
    /// How long it has been in service.
    pub in_service: Option<Service>,
    /// The reading that proves its class.
    pub proof: Option<(Proof, ReadBefore)>,
    /// Whole days since the last test that tells: the proof, else a laboratory's look.
    pub test_age_days: Option<i64>,
    /// What its class is held against.
    pub limits: Option<ClassPolicy>,
}

impl CorrosionJudged {
    /// The verdict.
    pub const fn verdict(&self) -> CorrosionVerdict {
        self.reason.verdict()
    }
}

/// Judges the corrosion protection of a loop.
///
/// Fresh coolant counts as tested on the day it was put in. A pH can call for a look and can never
/// make anything read as in order.
///
/// ```
/// use domain::book::component::{Base, InhibitorClass};
/// use domain::book::contents::Contents;
/// use domain::condition::corrosion::{CorrosionVerdict, Inhibited, Service, judge};
/// use domain::condition::policy::Policies;
///
/// let policies = Policies::built_in().unwrap();
/// let policy = policies.in_force("2026-10-05".parse()?).unwrap();
/// let held = Contents::of(Base::Eg, InhibitorClass::Oat, 40_000, 500_000);
/// let loop_ = |days| Inhibited {
///     contents: &held,
///     meant: (Base::Eg, InhibitorClass::Oat),
///     in_service: Some(Service { days, distance: None, hours: None }),
///     proofs: &[],
///     laboratory_days: None,
///     ph: None,
/// };
/// let verdict = |days| judge(loop_(days), &policy.corrosion, &policy.foreign).verdict();
/// assert_eq!(verdict(300), CorrosionVerdict::InOrder);
/// assert_eq!(verdict(400), CorrosionVerdict::NotProven);
/// assert_eq!(verdict(1_700), CorrosionVerdict::CheckSoon);
/// assert_eq!(verdict(1_900), CorrosionVerdict::ActNow);
/// # Ok::<(), chrono::ParseError>(())
/// ```
pub fn judge(
    held: Inhibited<'_>,
    policy: &CorrosionPolicy,
    foreign: &ForeignPolicies,
) -> CorrosionJudged {
    let kind = own_kind(held.contents, held.meant);
    let class = kind.map(|(_, class)| class);
    let limits = class.and_then(|class| policy.classes.get(&class));
    let lines = foreign.of(class.unwrap_or(InhibitorClass::Unknown));
    let foreign = foreign_share(held.contents, held.meant).map(|share| (share, lines.state(share)));
    let proof = limits.and_then(|limits| {
        let wanted = limits.proof?;
        let read = held.proofs.iter().filter(|(proof, _)| *proof == wanted);
        read.min_by_key(|(_, read)| read.days).copied()
    });
    let test_age_days = match proof {
        Some((_, read)) => Some(read.days),
        None => held.laboratory_days,
    };
    let mut reasons = Vec::new();
    if held.contents.concentrate_ml() <= 0 {
        reasons.push(CorrosionReason::NoCoolant);
    } else if let Some(limits) = limits {
        match foreign {
            Some((_, ForeignState::Lost)) => reasons.push(CorrosionReason::Lost),
            Some((_, ForeignState::Mixed)) => reasons.push(CorrosionReason::Mixed),
            _ => {}
        }
        reasons.extend(proof.and_then(|(proof, read)| by_proof(proof, read, limits)));
        reasons.extend(held.ph.and_then(|ph| by_ph(ph, limits)));
        reasons.push(by_age(
            held.in_service,
            test_age_days,
            (limits, policy.due_soon),
        ));
    } else {
        reasons.push(CorrosionReason::ClassUnknown);
    }
    reasons.sort_unstable_by_key(|reason| (reason.verdict(), *reason));
    let mut also = reasons.split_off(1.min(reasons.len()));
    also.retain(|reason| *reason != CorrosionReason::Protected);
    CorrosionJudged {
        reason: reasons.pop().unwrap_or(CorrosionReason::ClassUnknown),
        also,
        class,
        foreign,
        in_service: held.in_service,
        proof,
        test_age_days,
        limits: limits.cloned(),
    }
}

fn by_proof(proof: Proof, read: ReadBefore, limits: &ClassPolicy) -> Option<CorrosionReason> {
    if limits
        .least_thousandths
        .is_some_and(|least| read.thousandths < least)
    {
        return Some(CorrosionReason::TooLittle(proof));
    }
    let too_much = limits
        .most_thousandths
        .is_some_and(|most| read.thousandths > most);
    too_much.then_some(match proof {
        Proof::Conductivity => CorrosionReason::TooConductive,
        Proof::Nitrite | Proof::ReserveAlkalinity => CorrosionReason::TooMuch(proof),
    })
}

fn by_ph(ph: ReadBefore, limits: &ClassPolicy) -> Option<CorrosionReason> {
    let replace = limits.ph_replace_below_thousandths;
    if replace.is_some_and(|below| ph.thousandths < below) {
        return Some(CorrosionReason::PhReplace);
    }
    let (low, high) = limits.ph_thousandths?;
    let outside = !(low..=high).contains(&ph.thousandths);
    outside.then_some(CorrosionReason::PhOutside)
}

/// What age and test together say, whatever was read.
fn by_age(
    service: Option<Service>,
    test_age_days: Option<i64>,
    (limits, due_soon): (&ClassPolicy, f64),
) -> CorrosionReason {
    if let Some(service) = service {
        let (clock, used) = life_used(service, limits);
        if used >= 1.0 {
            return CorrosionReason::TooOld(clock);
        }
        if used >= 1.0 - due_soon {
            return CorrosionReason::DueSoon(clock);
        }
    }
    let fresh_days = service.map(|service| service.days);
    let proved_days = [fresh_days, test_age_days].into_iter().flatten().min();
    match (proved_days, service) {
        (_, None) => CorrosionReason::AgeUnknown,
        (Some(days), _) if days <= limits.test_days => CorrosionReason::Protected,
        _ if test_age_days.is_some() => CorrosionReason::OldTest,
        _ => CorrosionReason::NeverTested,
    }
}

/// The clock that is furthest along, and the part of the life it has used.
fn life_used(service: Service, limits: &ClassPolicy) -> (Clock, f64) {
    let by_days = Some((Clock::Days, service.days, limits.change_days));
    let by_distance = service
        .distance
        .zip(limits.change_distance)
        .map(|(run, most)| (Clock::Distance, run.m(), most.m()));
    let by_hours = service
        .hours
        .zip(limits.change_hours)
        .map(|(run, most)| (Clock::Hours, run.s(), most.s()));
    let used = [by_days, by_distance, by_hours]
        .into_iter()
        .flatten()
        .filter(|(_, _, most)| *most > 0)
        .map(|(clock, run, most)| (clock, float(run) / float(most)));
    used.max_by(|one, other| one.1.total_cmp(&other.1))
        .unwrap_or((Clock::Days, 0.0))
}
