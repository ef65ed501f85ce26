//! The verdict on corrosion protection in words: why, by what evidence, how old.

use domain::book::component::InhibitorClass;
use domain::condition::corrosion::{
    ClassPolicy, Clock, CorrosionJudged, CorrosionReason, CorrosionVerdict, Proof, ReadBefore,
    Service,
};
use domain::quantity::UnitsOfMeasure;
use domain::quantity::rounding::float;

use crate::component::{Shape, Status};
use crate::figure;

pub(crate) fn status(verdict: CorrosionVerdict) -> Status {
    let shape = match verdict {
        CorrosionVerdict::ActNow => Shape::Stop,
        CorrosionVerdict::CheckSoon => Shape::Watch,
        CorrosionVerdict::NotProven | CorrosionVerdict::Unknown => Shape::Nothing,
        CorrosionVerdict::InOrder => Shape::Good,
    };
    Status::new(shape, verdict.words())
}

/// The code in an address.
pub(crate) const fn code(verdict: CorrosionVerdict) -> &'static str {
    match verdict {
        CorrosionVerdict::ActNow => "act-now",
        CorrosionVerdict::CheckSoon => "check-soon",
        CorrosionVerdict::NotProven => "not-proven",
        CorrosionVerdict::Unknown => "unknown",
        CorrosionVerdict::InOrder => "in-order",
    }
}

/// The verdict a code names.
pub(crate) fn from_code(named: &str) -> Option<CorrosionVerdict> {
    let mut all = CorrosionVerdict::ALL.into_iter();
    all.find(|verdict| code(*verdict) == named)
}

/// Why, lower case, without a full stop; what else there is to say follows.
pub(crate) fn why(judged: &CorrosionJudged, units: UnitsOfMeasure) -> String {
    let told = Tell { judged, units };
    let also = judged.also.iter().map(|reason| told.reason(*reason));
    let mut parts: Vec<String> = std::iter::once(told.reason(judged.reason)).collect();
    parts.extend(also);
    parts.join("; ")
}

/// Of a loop that is too conductive to be used: what was read, and what is wanted.
pub(crate) fn too_conductive(judged: &CorrosionJudged, units: UnitsOfMeasure) -> Option<String> {
    let mut reasons = std::iter::once(&judged.reason).chain(&judged.also);
    reasons.find(|reason| **reason == CorrosionReason::TooConductive)?;
    let (proof, read) = judged.proof?;
    let most = judged.limits.as_ref()?.most_thousandths;
    Some(by_proof(units, (proof, Some(read)), ("at most", most)))
}

fn by_proof(
    units: UnitsOfMeasure,
    (proof, read): (Proof, Option<ReadBefore>),
    (than, limit): (&str, Option<i64>),
) -> String {
    let read = read.map_or_else(String::new, |read| {
        format!(
            "{} {}, {} days ago",
            thousandths(units, read.thousandths),
            proof.unit(),
            read.days
        )
    });
    let limit = limit.map_or_else(String::new, |limit| {
        format!(
            "; {than} {} {} is wanted",
            thousandths(units, limit),
            proof.unit()
        )
    });
    format!("{} {read}{limit}", proof.word())
}

/// What was counted in thousandths, with a decimal only where it is no whole number.
pub(crate) fn thousandths(units: UnitsOfMeasure, thousandths: i64) -> String {
    let whole = thousandths.checked_rem(1_000) == Some(0);
    figure::decimal(units, float(thousandths) / 1e3, usize::from(!whole))
}

#[derive(Clone, Copy)]
struct Tell<'a> {
    judged: &'a CorrosionJudged,
    units: UnitsOfMeasure,
}

impl Tell<'_> {
    fn reason(self, reason: CorrosionReason) -> String {
        let limits = self.judged.limits.as_ref();
        match reason {
            CorrosionReason::NoCoolant => "no coolant in it by the book, water at most".to_owned(),
            CorrosionReason::Lost if self.is_dedicated() => {
                format!("{}, so much of which makes it conduct too well", self.foreign())
            }
            CorrosionReason::Mixed if self.is_dedicated() => {
                format!("{}, and any of it makes it conduct", self.foreign())
            }
            CorrosionReason::Lost => format!("{}, too much for its class to protect", self.foreign()),
            CorrosionReason::Mixed => format!("{}, which may weaken its class", self.foreign()),
            CorrosionReason::TooLittle(proof) => {
                let least = limits.and_then(|limits| limits.least_thousandths);
                self.proof(proof, ("at least", least))
            }
            CorrosionReason::TooMuch(proof) => {
                let most = limits.and_then(|limits| limits.most_thousandths);
                format!("{}: no dosing until it is down", self.proof(proof, ("at most", most)))
            }
            CorrosionReason::TooConductive => {
                let most = limits.and_then(|limits| limits.most_thousandths);
                self.proof(Proof::Conductivity, ("at most", most))
            }
            CorrosionReason::TooOld(clock) => format!("{}, its class lasts {}", self.age(clock), self.life(limits, clock)),
            CorrosionReason::DueSoon(clock) => format!(
                "its change is due soon: {}, its class lasts {}",
                self.age(clock),
                self.life(limits, clock)
            ),
            CorrosionReason::PhReplace => "its pH is so low that the trade replaces it; a pH is a flag and no proof, so look at it first".to_owned(),
            CorrosionReason::PhOutside => "its pH lies outside the usual band; a pH is a flag and no proof".to_owned(),
            CorrosionReason::AgeUnknown => "nobody knows how long it has been in service".to_owned(),
            CorrosionReason::NeverTested => format!("{}, and no test that tells since", self.age(Clock::Days)),
            CorrosionReason::OldTest => format!(
                "the last test that tells is {} days old, the limit is {} days",
                self.judged.test_age_days.unwrap_or_default(),
                limits.map_or(0, |limits| limits.test_days)
            ),
            CorrosionReason::ClassUnknown => "neither its card nor the book knows its inhibitor class".to_owned(),
            CorrosionReason::Protected => self.protected(),
        }
    }

    /// Nothing but its own coolant goes into it.
    fn is_dedicated(self) -> bool {
        self.judged.class.is_some_and(InhibitorClass::is_dedicated)
    }

    fn protected(self) -> String {
        let age = self.age(Clock::Days);
        match (self.judged.proof, self.judged.test_age_days) {
            (Some((proof, read)), _) => format!(
                "{age}; {} {} {}, {} days ago",
                proof.word(),
                thousandths(self.units, read.thousandths),
                proof.unit(),
                read.days
            ),
            (None, Some(days)) => format!("{age}; a laboratory looked {days} days ago"),
            (None, None) => format!("{age}, and fresh coolant counts as tested then"),
        }
    }

    fn proof(self, proof: Proof, limit: (&str, Option<i64>)) -> String {
        let read = self.judged.proof.map(|(_, read)| read);
        by_proof(self.units, (proof, read), limit)
    }

    fn foreign(self) -> String {
        let Some((share, state)) = self.judged.foreign else {
            return "foreign coolant in it".to_owned();
        };
        format!(
            "{} of its concentrate is of another kind ({})",
            self.units.strength(share),
            state.word().to_lowercase()
        )
    }

    fn age(self, clock: Clock) -> String {
        let Some(Service {
            days,
            distance,
            hours,
        }) = self.judged.in_service
        else {
            return "its age is not known".to_owned();
        };
        let run = match clock {
            Clock::Distance => distance.map(|run| self.units.distance(run)),
            Clock::Hours => hours.map(|run| self.units.running_time(run)),
            Clock::Days => None,
        };
        format!(
            "in service for {}",
            run.unwrap_or_else(|| format!("{days} days"))
        )
    }

    fn life(self, limits: Option<&ClassPolicy>, clock: Clock) -> String {
        let Some(limits) = limits else {
            return "nobody knows how long".to_owned();
        };
        let most = match clock {
            Clock::Distance => limits.change_distance.map(|most| self.units.distance(most)),
            Clock::Hours => limits
                .change_hours
                .map(|most| self.units.running_time(most)),
            Clock::Days => None,
        };
        most.unwrap_or_else(|| format!("{} days", limits.change_days))
    }
}
