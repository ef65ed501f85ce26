//! What was done to one loop over time, as far as its condition depends on it: when its coolant was
//! changed, tested, topped up, and what was read.

use super::corrosion::{Inhibited, Proof, ReadBefore, Service};
use super::laboratory::{Analyte, Found};
use super::leak::exposure::{MeterLine, Per, RanBackwards};
use super::leak::{LeakPolicy, TopUp};
use super::stated::WasPutOff;
use crate::book::component::{Base, InhibitorClass};
use crate::book::contents::Contents;
use crate::book::outcome::TopUpClass;
use crate::fleet::Tool;
use crate::gas::verdict::Verdict;
use crate::ids::{FactKey, PersonId, PlaceId};
use crate::job::{Account, Details, Job, JobKind, LeakClass, Line, Measured, Meter};
use crate::moment::{DAY_MS, Moment};
use crate::pressure_test::Tested;
use crate::quantity::rounding::{float, nearest};
use crate::quantity::{Distance, FractionByVolume, GaugePressure, RunningTime, Volume};
use crate::words::Text;

/// A pressure test, as far as a leak case tells of it.
#[derive(Clone, PartialEq, Debug)]
pub struct Pressed {
    /// At the start.
    pub start: GaugePressure,
    /// At the end.
    pub end: GaugePressure,
    /// How long it was held, seconds.
    pub hold_s: i64,
    /// The leak that was seen.
    pub leak_class: Option<LeakClass>,
    /// Where.
    pub leak_place: Option<String>,
    /// What it proved, held against what card and book knew of the loop then; none where its figures
    /// cannot be.
    pub verdict: Option<Verdict>,
}

/// What was done.
#[derive(Clone, PartialEq, Debug)]
pub enum Done {
    /// The book opened it.
    Opened,
    /// Topped up.
    ToppedUp(Volume, TopUpClass),
    /// Filled, or drained and refilled.
    Filled {
        /// What went in.
        put_in: Volume,
        /// What stayed in of fresh coolant: bought, or from a vessel kept for it. None of it where
        /// coolant went in too that may be old.
        fresh: Volume,
    },
    /// Read: what each reading tells of its inhibitors.
    Tested {
        /// A laboratory read it.
        laboratory: bool,
        /// Its strength was read, or its freeze point.
        strength: bool,
        /// Its last pH, thousandths.
        ph_thousandths: Option<i64>,
        /// What proves its protection, thousandths of the proof's unit.
        proofs: Vec<(Proof, i64)>,
        /// What the laboratory found beside its strength.
        found: Found,
    },
    /// Put under pressure.
    Pressed(Pressed),
    /// A leak was mended.
    Mended {
        /// The part.
        part: String,
        /// The cause.
        cause: String,
        /// It is watched for so many days.
        watch_days: u16,
    },
    /// Looked for a leak, and nothing found.
    NothingFound {
        /// Who looked.
        by: Option<PersonId>,
        /// What was looked at.
        reason: Text,
    },
    /// Anything else that was done to it.
    Other(JobKind),
}

/// Something done, and when.
#[derive(Clone, PartialEq, Debug)]
pub struct Event {
    /// When.
    pub at: Moment,
    /// The fact.
    pub key: FactKey,
    /// What.
    pub done: Done,
}

/// The course of one loop, in the order of time, of facts that count.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Course {
    /// What was done.
    pub events: Vec<Event>,
    /// Odometer readings of its unit, m.
    pub distance_m: Vec<(Moment, i64)>,
    /// Readings of its unit's hour meter, s.
    pub hours_s: Vec<(Moment, i64)>,
    /// Work on it that was put off.
    pub put_off: Vec<WasPutOff>,
}

/// Readings of a unit's meters that a job holds: m and s.
pub fn meters(job: &Job) -> (Option<i64>, Option<i64>) {
    let mut read = (None, None);
    for each in &job.meters {
        match &each.meter {
            Meter::Distance(distance) => read.0 = Some(distance.value.m()),
            Meter::Hours(hours) => read.1 = Some(hours.value.s()),
        }
    }
    read
}

impl Course {
    /// Puts what was stated of it in its place by time: behind what was done at the same moment.
    pub fn state(&mut self, event: Event) {
        let at = self.events.iter().rposition(|before| before.at <= event.at);
        self.events
            .insert(at.map_or(0, |at| at.saturating_add(1)), event);
    }
}

/// What is to be known beside a job to say what it did.
#[expect(
    missing_debug_implementations,
    reason = "it asks, and what it asks cannot be printed"
)]
pub struct Beside<'a> {
    /// As what the book counts it, where it is a top-up.
    pub class: Option<TopUpClass>,
    /// Whether a vessel holds fresh coolant.
    pub is_fresh: &'a dyn Fn(PlaceId) -> bool,
    /// What card and book knew of a loop that was put under pressure.
    pub tested: &'a dyn Fn(PlaceId) -> Tested,
}

impl Event {
    /// What a job did to a loop; none where it did not touch it.
    pub fn of_job(
        job: &Job,
        place: PlaceId,
        (at, key): (Moment, FactKey),
        beside: &Beside<'_>,
    ) -> Option<Self> {
        let touches = job.place.and_then(Account::place) == Some(place)
            || job.lines.iter().any(|line| match line {
                Line::Movement(moved) => [moved.from, moved.to]
                    .map(Account::place)
                    .contains(&Some(place)),
                Line::Reading(read) => read.place.place() == Some(place),
                Line::Dip(_) => false,
            });
        touches.then(|| Self {
            at,
            key,
            done: done(job, place, beside),
        })
    }
}

fn done(job: &Job, place: PlaceId, beside: &Beside<'_>) -> Done {
    match (job.kind, &job.details) {
        (JobKind::TopUp, _) => Done::ToppedUp(
            put_in(job, place),
            beside.class.unwrap_or(TopUpClass::Consumption),
        ),
        // What a flush puts in, it takes out again.
        (JobKind::Fill | JobKind::Exchange, _) => Done::Filled {
            put_in: put_in(job, place),
            fresh: fresh(job, place, beside.is_fresh),
        },
        (JobKind::PressureTest, Some(Details::PressureTest(test))) => Done::Pressed(Pressed {
            start: test.pressure_start.value,
            end: test.pressure_end.value,
            hold_s: test.hold_s,
            leak_class: test.leak_class,
            leak_place: test.leak_place.clone(),
            verdict: (test.judge(&(beside.tested)(place)).ok()).map(|proved| proved.verdict()),
        }),
        (
            JobKind::LeakRepair,
            Some(Details::LeakRepair {
                part,
                cause,
                watch_days,
            }),
        ) => Done::Mended {
            part: part.clone(),
            cause: cause.clone(),
            watch_days: *watch_days,
        },
        (JobKind::ConditionTest, _) => tested(job, place),
        (kind, _) => Done::Other(kind),
    }
}

/// What went into it.
fn put_in(job: &Job, place: PlaceId) -> Volume {
    let moved = job.lines.iter().filter_map(|line| match line {
        Line::Movement(moved) if moved.to.place() == Some(place) => Some(moved.volume.value.ml()),
        _ => None,
    });
    let sum = moved.fold(0, i64::saturating_add);
    Volume::from_ml(sum).unwrap_or(Volume::MAX)
}

/// What stayed in it of fresh coolant. Lines stand in the order they were done, so what leaves after
/// it went in is taken for some of it.
fn fresh(job: &Job, place: PlaceId, is_fresh: &dyn Fn(PlaceId) -> bool) -> Volume {
    let mut left = 0_i64;
    for line in &job.lines {
        let Line::Movement(moved) = line else {
            continue;
        };
        let ml = moved.volume.value.ml();
        if moved.from.place() == Some(place) {
            left = left.saturating_sub(ml).max(0);
        }
        if moved.to.place() != Some(place) {
            continue;
        }
        match (moved.from, &moved.fluid) {
            (Account::Vessel(vessel), _) if is_fresh(vessel) => left = left.saturating_add(ml),
            // Water is no coolant, and makes none old.
            (Account::Supplier, Some(named)) if named.strength == FractionByVolume::MIN => {}
            (Account::Supplier, Some(_)) => left = left.saturating_add(ml),
            _ => return Volume::MIN,
        }
    }
    Volume::from_ml(left).unwrap_or(Volume::MAX)
}

fn tested(job: &Job, place: PlaceId) -> Done {
    let (mut laboratory, mut strength) = (false, false);
    let (mut ph_thousandths, mut proofs) = (None, Vec::new());
    let mut found = Found::new();
    for line in &job.lines {
        let Line::Reading(read) = line else { continue };
        if read.place.place() != Some(place) {
            continue;
        }
        laboratory |= read.tool == Tool::Laboratory;
        strength |= !matches!(read.measured, Measured::Other { .. });
        if let Measured::Other {
            what, thousandths, ..
        } = &read.measured
        {
            if what.eq_ignore_ascii_case("pH") {
                ph_thousandths = Some(*thousandths);
            } else if let Some(proof) = Proof::from_word(what) {
                proofs.push((proof, *thousandths));
            }
            if read.tool == Tool::Laboratory
                && let Some(analyte) = Analyte::named(what)
            {
                found.insert(analyte.word, *thousandths);
            }
        }
    }
    Done::Tested {
        laboratory,
        strength,
        ph_thousandths,
        proofs,
        found,
    }
}

/// A loop's inhibitors as its course tells of them, to be judged with what it holds.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct InhibitorsRead {
    /// Since its coolant was last changed as a whole.
    pub in_service: Option<Service>,
    /// The last reading of each proof.
    pub proofs: Vec<(Proof, ReadBefore)>,
    /// Whole days since a laboratory last looked at it.
    pub laboratory_days: Option<i64>,
    /// The last pH.
    pub ph: Option<ReadBefore>,
}

impl InhibitorsRead {
    /// The same with what the loop holds and is meant to hold.
    pub fn with<'a>(
        &'a self,
        contents: &'a Contents,
        meant: (Base, InhibitorClass),
    ) -> Inhibited<'a> {
        Inhibited {
            contents,
            meant,
            in_service: self.in_service,
            proofs: &self.proofs,
            laboratory_days: self.laboratory_days,
            ph: self.ph,
        }
    }
}

impl Course {
    /// What its consumption is counted against: hours where its unit has an hour meter alone.
    pub fn per(&self) -> Per {
        if self.distance_m.is_empty() && !self.hours_s.is_empty() {
            Per::Hours
        } else {
            Per::Distance
        }
    }

    /// The meter that counts.
    pub fn meter(&self, policy: &LeakPolicy) -> MeterLine {
        let per = self.per();
        let (readings, per_unit) = match per {
            Per::Distance => (&self.distance_m, 1e3),
            Per::Hours => (&self.hours_s, 3.6e3),
        };
        let readings = readings
            .iter()
            .map(|(at, raw)| (*at, float(*raw) / per_unit));
        MeterLine::new(per, readings.collect(), policy.rates(per).usual_per_day)
    }

    /// Where a meter of its unit showed less than before, whichever meter counts.
    pub fn ran_backwards(&self) -> Vec<(Per, RanBackwards)> {
        let meters = [
            (Per::Distance, &self.distance_m, 1e3),
            (Per::Hours, &self.hours_s, 3.6e3),
        ];
        let each = meters.into_iter().flat_map(|(per, readings, per_unit)| {
            let readings = readings
                .iter()
                .map(|(at, raw)| (*at, float(*raw) / per_unit));
            let line = MeterLine::new(per, readings.collect(), 0.0);
            let found = line.ran_backwards().to_vec();
            found.into_iter().map(move |ran| (per, ran))
        });
        each.collect()
    }

    /// Its top-ups.
    pub fn top_ups(&self) -> Vec<TopUp> {
        let top_ups = self.events.iter().filter_map(|event| match event.done {
            Done::ToppedUp(volume, class) => Some(TopUp {
                at: event.at,
                volume,
                class,
            }),
            _ => None,
        });
        top_ups.collect()
    }

    /// Whether a drain coupling was fitted to it.
    pub fn has_coupling(&self) -> bool {
        let fitted = Done::Other(JobKind::FitCoupling);
        self.events.iter().any(|event| event.done == fitted)
    }

    /// What was topped up after a moment.
    pub fn added(&self, since: Moment, now: Moment) -> Volume {
        let top_ups = self.events.iter().filter_map(|event| match event.done {
            Done::ToppedUp(volume, _) if event.at > since && event.at <= now => Some(volume.ml()),
            _ => None,
        });
        Volume::from_ml(top_ups.fold(0, i64::saturating_add)).unwrap_or(Volume::MAX)
    }

    /// Since when it is looked at: its opening, else the first thing known of it.
    pub fn begins(&self) -> Option<Moment> {
        let opened = self.events.iter().find(|event| event.done == Done::Opened);
        opened.or(self.events.first()).map(|event| event.at)
    }

    /// When its coolant was last changed as a whole: fresh coolant to at least so much of its
    /// capacity. What is drained and put back, or filled from a vessel of used coolant, lets the clock
    /// run on: nobody knows how old that is.
    pub fn changed_at(&self, capacity_ml: Option<i64>, least_share: f64) -> Option<Moment> {
        last_change(self.events.iter(), capacity_ml, least_share)
    }

    /// Each time its coolant was changed as a whole, as [`Self::changed_at`] has it.
    pub fn changes(&self, capacity_ml: Option<i64>, least_share: f64) -> Vec<(Moment, FactKey)> {
        let Some(capacity) = capacity_ml else {
            return Vec::new();
        };
        let least = float(capacity) * least_share;
        self.tests(|done| is_whole(done, least))
    }

    /// When what is wanted was done, and by which fact.
    pub fn tests(&self, wanted: impl Fn(&Done) -> bool) -> Vec<(Moment, FactKey)> {
        let events = self.events.iter().filter(|event| wanted(&event.done));
        events.map(|event| (event.at, event.key)).collect()
    }

    /// How far its unit was driven within a span, m: between readings in proportion to time. What lies
    /// before the first reading, behind the last or across one that ran backwards was not read off a
    /// meter and does not count.
    pub fn driven_m(&self, (from, to): (Moment, Moment)) -> i64 {
        let mut readings = self.distance_m.clone();
        readings.sort_unstable();
        let stretch = |two: &[(Moment, i64)]| {
            let [(one_at, one), (other_at, other)] = *two else {
                return 0.0;
            };
            let whole = float(other_at.ms_since(one_at));
            let within = float(other_at.min(to).ms_since(one_at.max(from)).max(0));
            let run = float(other.saturating_sub(one).max(0));
            if whole > 0.0 {
                run * within / whole
            } else {
                0.0
            }
        };
        nearest(readings.windows(2).map(stretch).sum()).unwrap_or(0)
    }

    /// How long its filling has been in service.
    pub fn service(&self, since: Moment, now: Moment) -> Service {
        Service {
            days: whole_days(since, now),
            distance: gone(&self.distance_m, since, now).and_then(|m| Distance::from_m(m).ok()),
            hours: gone(&self.hours_s, since, now).and_then(|s| RunningTime::from_s(s).ok()),
        }
    }

    /// What is known of its inhibitors at `now`. Readings from before its coolant was changed say
    /// nothing of what is in it now.
    pub fn inhibitors(
        &self,
        (capacity_ml, least_share): (Option<i64>, f64),
        now: Moment,
    ) -> InhibitorsRead {
        let changed = self.changed_at(capacity_ml, least_share);
        let mut read = InhibitorsRead {
            in_service: changed.map(|since| self.service(since, now)),
            ..InhibitorsRead::default()
        };
        for event in &self.events {
            let Done::Tested {
                laboratory,
                ph_thousandths,
                proofs,
                ..
            } = &event.done
            else {
                continue;
            };
            if changed.is_some_and(|changed| event.at < changed) {
                continue;
            }
            let days = whole_days(event.at, now);
            if *laboratory {
                read.laboratory_days = Some(days);
            }
            if let Some(thousandths) = *ph_thousandths {
                read.ph = Some(ReadBefore { thousandths, days });
            }
            for (proof, thousandths) in proofs {
                read.proofs.retain(|(known, _)| known != proof);
                let thousandths = *thousandths;
                read.proofs.push((*proof, ReadBefore { thousandths, days }));
            }
        }
        read
    }

    /// What laboratories found in the filling that was in it at `until`, in the order of time: the fact,
    /// and its figures. The last may be the first there is.
    pub fn laboratory_results(
        &self,
        (capacity_ml, least_share): (Option<i64>, f64),
        until: Moment,
    ) -> Vec<(FactKey, &Found)> {
        let before = self.events.iter().filter(|event| event.at <= until);
        let changed = last_change(before.clone(), capacity_ml, least_share);
        before
            .filter(|event| changed.is_none_or(|changed| event.at >= changed))
            .filter_map(|event| match &event.done {
                Done::Tested { found, .. } if !found.is_empty() => Some((event.key, found)),
                _ => None,
            })
            .collect()
    }

    /// When a test last told of its inhibitors, of those since its coolant was changed: by what proves
    /// its class, and where that was never read by a laboratory's look.
    pub fn proved_at(&self, proof: Option<Proof>, changed: Option<Moment>) -> Option<Moment> {
        let tests = self.events.iter().rev().filter_map(|event| {
            let since = changed.is_none_or(|changed| event.at >= changed);
            match &event.done {
                Done::Tested {
                    laboratory, proofs, ..
                } if since => Some((event.at, *laboratory, proofs)),
                _ => None,
            }
        });
        let mut by_proof = tests.clone().filter(|(_, _, proofs)| {
            let mut each = proofs.iter();
            each.any(|(read, _)| Some(*read) == proof)
        });
        let mut by_laboratory = tests.filter(|(_, laboratory, _)| *laboratory);
        let newest = by_proof.next().or_else(|| by_laboratory.next());
        newest.map(|(at, ..)| at)
    }
}

fn last_change<'a>(
    events: impl DoubleEndedIterator<Item = &'a Event>,
    capacity_ml: Option<i64>,
    least_share: f64,
) -> Option<Moment> {
    let least = float(capacity_ml?) * least_share;
    let mut newest = events.rev();
    let whole = newest.find(|event| is_whole(&event.done, least));
    whole.map(|event| event.at)
}

/// Whether so much fresh coolant went in, mL, that the loop counts as changed as a whole.
fn is_whole(done: &Done, least_ml: f64) -> bool {
    match done {
        Done::Filled { fresh, .. } => *fresh > Volume::MIN && float(fresh.ml()) >= least_ml,
        _ => false,
    }
}

/// Whole days from one moment to another; never below 0.
pub fn whole_days(from: Moment, to: Moment) -> i64 {
    to.ms_since(from).max(0).checked_div(DAY_MS).unwrap_or(0)
}

/// What a meter ran since: raw units; none where it was never read.
fn gone(readings: &[(Moment, i64)], since: Moment, now: Moment) -> Option<i64> {
    if readings.len() < 2 {
        return None;
    }
    let line = readings.iter().map(|(at, raw)| (*at, float(*raw)));
    // Two readings at least tell what a day comes to.
    let line = MeterLine::new(Per::Distance, line.collect(), 0.0);
    nearest(line.between(since, now) * Per::Distance.unit())
}
