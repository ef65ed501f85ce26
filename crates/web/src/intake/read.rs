//! Reads a written job into a fact, or names everything that is wrong with it.

use chrono_tz::Tz;
use domain::book::component::Base;
use domain::fact::{By, Fact, Proved, What};
use domain::fleet::Person;
use domain::ids::{FactKey, PersonId};
use domain::job::{
    self, Account, Fit, FluidNamed, Intent, Job, JobKind, JobRefused, Mark, Meter, MeterRead,
    MeterSource, Replaces,
};
use domain::moment::{Moment, When};
use domain::quantity::{Distance, RunningTime, Typeable, Unit, entry, entry::Typed};
use domain::words::Text;
use uuid::Uuid;

use super::derived;
use super::directory::{Directory, KnownShop};
use super::fluid;
use super::lines::{End, Fluids, Parts, Reader, UnitEnd};
use super::text::{self, Kind};
use super::time::{self, LocalMoment};
use super::written::{FieldProblem, Problems, WrittenJob};

/// A job that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadJob {
    /// Its key, where it was given.
    pub key: Option<FactKey>,
    /// The fact; what it states is a job.
    pub fact: Fact,
    /// The shop it was done in.
    pub shop: KnownShop,
    /// That shop is not on record yet.
    pub shop_is_new: bool,
    /// The person who did it, where they are not on record yet.
    pub new_person: Option<Person>,
}

/// Reads a job, given the names on record.
///
/// # Errors
/// Every problem of every field at once.
pub fn read(written: &WrittenJob, names: &Directory) -> Result<ReadJob, Vec<FieldProblem>> {
    let mut problems = Problems::default();
    let read = read_all(written, names, &mut problems);
    match read {
        Some(read) if problems.is_empty() => Ok(read),
        _ => Err(problems.into_vec()),
    }
}

fn read_all(written: &WrittenJob, names: &Directory, problems: &mut Problems) -> Option<ReadJob> {
    let kind = read_kind(written, problems);
    let key = read_uuid("key", written.key.as_deref(), problems);
    let fluids = read_fluids(written, names, problems);
    let parts = kind.and_then(|kind| {
        let reader = Reader {
            written,
            kind,
            fluids: &fluids,
            problems,
        };
        reader.parts()
    });
    let person = read_person(written, names, problems);
    let rest = Rest::read(written, problems);
    let shop = read_shop(written, names, problems);
    let when = shop
        .as_ref()
        .and_then(|(shop, _)| read_when(written, shop.zone, kind, problems));
    let (shop, shop_is_new) = shop?;
    let parts = parts?;
    let job = rest.job(kind?, &shop, &fluids, parts);
    judge(key.unwrap_or(FactKey(Uuid::nil())), &job, written, problems);
    let new_person = person.filter(|(_, known)| !known).map(|(id, _)| Person {
        id,
        handle: written.who.as_deref().unwrap_or_default().trim().to_owned(),
        name: None,
        shop: Some(shop.id),
        active: true,
    });
    Some(ReadJob {
        key,
        fact: Fact {
            when: when?,
            by: By {
                person: person.map(|(id, _)| id),
                proved: Proved::Import,
            },
            what: What::Job(job),
        },
        shop,
        shop_is_new,
        new_person,
    })
}

impl WrittenJob {
    pub(super) fn unit_is_blank(&self) -> bool {
        is_blank(self.unit.as_deref())
    }

    pub(super) fn fluid_is_blank(&self) -> bool {
        is_blank(self.fluid.as_deref())
    }

    pub(super) fn volume_is_blank(&self) -> bool {
        is_blank(self.volume.as_deref())
    }
}

fn is_blank(field: Option<&str>) -> bool {
    field.is_none_or(|text| text.trim().is_empty())
}

fn filled(field: Option<&String>) -> Option<&str> {
    field
        .map(|text| text.trim())
        .filter(|text| !text.is_empty())
}

fn read_kind(written: &WrittenJob, problems: &mut Problems) -> Option<JobKind> {
    let codes = || {
        let codes: Vec<&str> = JobKind::ALL.iter().map(|kind| kind.code()).collect();
        codes.join(", ")
    };
    let Some(typed) = filled(written.kind.as_ref()) else {
        problems.note(
            "kind",
            "",
            format!("say what kind of job it is: {}", codes()),
        );
        return None;
    };
    let code = derived::normal_name(typed).replace([' ', '-'], "_");
    let kind = JobKind::from_code(&code).or_else(|| {
        let same_word = |kind: &&JobKind| kind.word().replace(' ', "_") == code;
        JobKind::ALL.iter().find(same_word).copied()
    });
    if kind.is_none() {
        let problem = format!("there is no such kind of job; the kinds are {}", codes());
        problems.note("kind", typed, problem);
    }
    kind
}

fn read_uuid(
    column: &'static str,
    typed: Option<&str>,
    problems: &mut Problems,
) -> Option<FactKey> {
    let typed = typed.map(str::trim).filter(|text| !text.is_empty())?;
    let read = Uuid::try_parse(typed)
        .map_err(|_| "this is no UUID; one looks like 0f8fad5b-d9cb-469f-a165-70867728950e");
    problems.take(column, typed, read).map(FactKey)
}

fn read_fluids(written: &WrittenJob, names: &Directory, problems: &mut Problems) -> Fluids {
    let kind_is_ship = written
        .kind
        .as_deref()
        .is_some_and(|kind| derived::normal_name(kind).starts_with("ship"));
    let to = match name(written.to.as_ref(), "to", problems) {
        Some(to) if kind_is_ship && names.known_vessel(to).is_none() && outside(to).is_none() => {
            Some(End::Carrier(to.to_owned()))
        }
        Some(to) => read_end(to, "to", names, problems),
        None => None,
    };
    let from = name(written.from.as_ref(), "from", problems)
        .and_then(|from| read_end(from, "from", names, problems));
    Fluids {
        unit: read_unit(written, names, problems),
        from,
        to,
        volume: quantity(written.volume.as_ref(), "volume", problems),
        temperature: quantity(written.temperature.as_ref(), "temperature", problems),
        fluid: read_fluid(written, problems),
        fit: word(
            written.fit.as_ref(),
            "fit",
            &[
                ("yes", Fit::Yes),
                ("no", Fit::No),
                ("undecided", Fit::Undecided),
            ],
            problems,
        )
        .unwrap_or_default(),
        intent: word(
            written.intent.as_ref(),
            "intent",
            &[
                ("reuse", Intent::Reuse),
                ("reclaim", Intent::Reclaim),
                ("waste", Intent::Waste),
                ("undecided", Intent::Undecided),
            ],
            problems,
        )
        .unwrap_or_default(),
    }
}

fn read_unit(written: &WrittenJob, names: &Directory, problems: &mut Problems) -> Option<UnitEnd> {
    let circuit_name = name(written.unit_loop.as_ref(), "loop", problems);
    let Some(number) = name(written.unit.as_ref(), "unit", problems) else {
        if let Some(circuit) = circuit_name {
            problems.note(
                "loop",
                circuit,
                "a loop without a unit; name the unit as well",
            );
        }
        return None;
    };
    let (unit, circuit_name) = match names.unit_with_loop(number) {
        Some((unit, in_text)) if names.known_unit(number).is_none() => {
            (unit.clone(), circuit_name.or(Some(in_text)))
        }
        _ => (names.unit(number), circuit_name),
    };
    let place = unit.loop_named(circuit_name);
    let place = problems.take("loop", circuit_name.unwrap_or_default(), place)?;
    Some(UnitEnd {
        id: unit.id,
        circuit: Account::Loop(place),
    })
}

/// An account outside that a column may name in words.
fn outside(text: &str) -> Option<Account> {
    [Account::Supplier, Account::Carrier, Account::Spilled]
        .into_iter()
        .find(|account| account.word().eq_ignore_ascii_case(text))
}

fn read_end(
    text: &str,
    column: &'static str,
    names: &Directory,
    problems: &mut Problems,
) -> Option<End> {
    if let Some(vessel) = names.known_vessel(text) {
        return Some(End::Vessel(vessel.clone()));
    }
    if let Some(account) = outside(text) {
        return Some(End::Outside(account));
    }
    if names.known_unit(text).is_some() {
        problems.note(column, text, "this is a unit; name it in the column unit");
        return None;
    }
    Some(End::Vessel(names.vessel(text)))
}

fn read_fluid(written: &WrittenJob, problems: &mut Problems) -> Option<FluidNamed> {
    let typed = name(written.fluid.as_ref(), "fluid", problems)?;
    problems.take("fluid", typed, fluid::read(typed))
}

/// One line of text, without the blanks around it.
fn name<'a>(
    field: Option<&'a String>,
    column: &'static str,
    problems: &mut Problems,
) -> Option<&'a str> {
    let typed = filled(field)?;
    problems
        .take(column, typed, text::read(typed, Kind::Name))
        .flatten()
}

fn quantity<Q: Typeable>(
    field: Option<&String>,
    column: &'static str,
    problems: &mut Problems,
) -> Option<Typed<Q>> {
    let typed = filled(field)?;
    problems.take(column, typed, entry::read::<Q>(typed))
}

/// One of a few words.
fn word<T: Copy>(
    field: Option<&String>,
    column: &'static str,
    words: &[(&str, T)],
    problems: &mut Problems,
) -> Option<T> {
    let typed = filled(field)?;
    let found = words
        .iter()
        .find(|(word, _)| word.eq_ignore_ascii_case(typed))
        .map(|(_, meaning)| *meaning);
    if found.is_none() {
        let words: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        problems.note(column, typed, format!("write one of: {}", words.join(", ")));
    }
    found
}

/// The person, and whether they are on record.
fn read_person(
    written: &WrittenJob,
    names: &Directory,
    problems: &mut Problems,
) -> Option<(PersonId, bool)> {
    let handle = name(written.who.as_ref(), "who", problems)?;
    Some(match names.person(handle) {
        Some(id) => (id, true),
        None => (derived::person_id(handle), false),
    })
}

/// The shop, and whether it is new: the one named, or the unit's, or a vessel's, or the only one.
fn read_shop(
    written: &WrittenJob,
    names: &Directory,
    problems: &mut Problems,
) -> Option<(KnownShop, bool)> {
    let zone = name(written.zone.as_ref(), "zone", problems)
        .and_then(|zone| problems.take("zone", zone, read_zone(zone)));
    if let Some(named) = name(written.shop.as_ref(), "shop", problems) {
        return match (names.shop(named), zone) {
            (Some(shop), _) => Some((shop.clone(), false)),
            (None, Some(zone)) => Some((
                KnownShop {
                    id: derived::shop_id(named),
                    name: named.to_owned(),
                    zone,
                },
                true,
            )),
            (None, None) => {
                let problem = format!(
                    "no shop of that name is on record ({}); to open it, give its time zone as well",
                    names.shop_names()
                );
                problems.note("shop", named, problem);
                None
            }
        };
    }
    let of_unit = filled(written.unit.as_ref()).and_then(|unit| {
        let with_loop = || names.unit_with_loop(unit).map(|(unit, _)| unit);
        names.known_unit(unit).or_else(with_loop)?.shop
    });
    let of_vessel =
        |field: Option<&String>| filled(field).and_then(|vessel| names.known_vessel(vessel)?.shop);
    let shop = of_unit
        .or_else(|| of_vessel(written.from.as_ref()))
        .or_else(|| of_vessel(written.to.as_ref()))
        .and_then(|id| names.shop_by_id(id))
        .or_else(|| names.only_shop());
    // A unit or vessel that was put right may tell the shop.
    if shop.is_none() && !problems.concern(&["unit", "from", "to"]) {
        let problem = format!(
            "neither the unit nor a vessel on record tells the shop; say which one: {}",
            names.shop_names()
        );
        problems.note("shop", "", problem);
    }
    shop.map(|shop| (shop.clone(), false))
}

/// A time zone by its name in the IANA database.
///
/// # Errors
/// There is none of that name.
pub fn read_zone(name: &str) -> Result<Tz, String> {
    name.parse().map_err(|_| {
        format!("\"{name}\" is not a time zone of the IANA database, write it like America/Denver")
    })
}

fn read_when(
    written: &WrittenJob,
    shop_zone: Tz,
    kind: Option<JobKind>,
    problems: &mut Problems,
) -> Option<When> {
    let zone = filled(written.zone.as_ref())
        .and_then(|zone| read_zone(zone).ok())
        .unwrap_or(shop_zone);
    let made_at = filled(written.made_at.as_ref()).map(|typed| {
        let read = time::read(typed, zone, None);
        problems.take("made_at", typed, read).map(|made| made.at)
    });
    let Some(typed) = filled(written.when.as_ref()) else {
        problems.note(
            "when",
            "",
            "say when it was done, write it like 2026-10-05 07:40",
        );
        return None;
    };
    let read = time::read(typed, zone, written.utc_offset_min).and_then(|read| {
        let at = read.at.utc().ok_or("the time lies beyond the calendar")?;
        time::in_zone(at, shop_zone, read.precision)
    });
    let at = problems.take("when", typed, read)?;
    let made_at = match made_at {
        Some(made_at) => made_at?,
        None => worked_out_made_at(at.at, kind?),
    };
    Some(when_at(at, made_at))
}

/// When a fact happened that is dated by the shop's clock.
pub(super) fn when_at(at: LocalMoment, made_at: Moment) -> When {
    When {
        happened_at: at.at,
        precision: at.precision,
        local_date: at.local_date,
        utc_offset_min: at.utc_offset_min,
        made_at,
        clock_offset_ms: 0,
    }
}

/// Jobs of one minute, or of a day that is all that is known, follow each other as the work does:
/// delivered, drawn out, filled, topped up, moved on, shipped, and the level read last. So the
/// order of the lines in a file plays no part.
fn worked_out_made_at(at: Moment, kind: JobKind) -> Moment {
    let steps = match kind {
        JobKind::Inspect | JobKind::CleanOut => 0,
        JobKind::Receive => 1,
        JobKind::Recover => 2,
        JobKind::Exchange | JobKind::Correct | JobKind::Flush => 3,
        JobKind::Fill => 4,
        JobKind::TopUp => 5,
        JobKind::Spill => 6,
        JobKind::Move => 7,
        JobKind::Ship => 8,
        JobKind::Dip => 9,
        JobKind::ConditionTest
        | JobKind::PressureTest
        | JobKind::CapTest
        | JobKind::LeakRepair
        | JobKind::FilterChange
        | JobKind::FitCoupling
        | JobKind::Sample => 10,
    };
    at.plus_ms(steps)
}

/// The fields that do not depend on the kind of job.
#[derive(Debug)]
struct Rest {
    mark: Option<Mark>,
    after_heat_cycle: bool,
    gate_temperature: Option<Typed<domain::quantity::Temperature>>,
    meters: Vec<MeterRead>,
    note: Option<Text>,
    replaces: Option<Replaces>,
}

impl Rest {
    fn read(written: &WrittenJob, problems: &mut Problems) -> Self {
        let reason = note(written.replace_reason.as_ref(), "replace_reason", problems);
        let replaces = read_uuid("replaces", written.replaces.as_deref(), problems);
        if replaces.is_none() && reason.is_some() && is_blank(written.replaces.as_deref()) {
            problems.note(
                "replaces",
                "",
                "a reason to replace without the key of the job replaced",
            );
        }
        Self {
            mark: word(
                written.at_mark.as_ref(),
                "at_mark",
                &[
                    ("yes", Mark::At),
                    ("no", Mark::NotAt),
                    ("y", Mark::At),
                    ("n", Mark::NotAt),
                ],
                problems,
            ),
            after_heat_cycle: written.after_heat_cycle.unwrap_or(false),
            gate_temperature: quantity(
                written.gate_temperature.as_ref(),
                "gate_temperature",
                problems,
            ),
            meters: read_meters(written, problems),
            note: note(written.note.as_ref(), "note", problems),
            replaces: replaces.map(|job| Replaces { job, reason }),
        }
    }

    fn job(self, kind: JobKind, shop: &KnownShop, fluids: &Fluids, parts: Parts) -> Job {
        Job {
            kind,
            shop: shop.id,
            unit: fluids.unit.map(|unit| unit.id),
            place: parts.place,
            lines: parts.lines,
            mark: self.mark,
            after_heat_cycle: self.after_heat_cycle,
            gate_temperature: self.gate_temperature,
            meters: self.meters,
            details: parts.details,
            cautions: Vec::new(),
            note: self.note,
            replaces: self.replaces,
            follows: None,
        }
    }
}

fn note(field: Option<&String>, column: &'static str, problems: &mut Problems) -> Option<Text> {
    let typed = filled(field)?;
    problems
        .take(column, typed, text::read(typed, Kind::Note))
        .flatten()
        .and_then(Text::plain)
}

/// One meter or several, set apart by semicolons.
fn read_meters(written: &WrittenJob, problems: &mut Problems) -> Vec<MeterRead> {
    let Some(typed) = filled(written.meter.as_ref()) else {
        return Vec::new();
    };
    typed
        .split(';')
        .filter_map(|one| {
            let unit = one.trim_start_matches(|letter: char| !letter.is_alphabetic());
            let meter = if Unit::<RunningTime>::named(unit).is_some() {
                entry::read::<RunningTime>(one).map(Meter::Hours)
            } else {
                entry::read::<Distance>(one).map(Meter::Distance)
            };
            let meter = problems.take("meter", one, meter)?;
            Some(MeterRead {
                meter,
                source: MeterSource::Typed,
            })
        })
        .collect()
}

/// The rules that no job may break, each told at the column it is about.
fn judge(key: FactKey, job: &Job, written: &WrittenJob, problems: &mut Problems) {
    let Err(refusals) = job::judge(key, job) else {
        return;
    };
    for refusal in refusals {
        let (column, found) = match &refusal {
            JobRefused::VolumeNotAboveZero(_) => ("volume", &written.volume),
            JobRefused::FromIsTo(_) => ("to", &written.to),
            JobRefused::ReplacesItself => ("replaces", &written.replaces),
            JobRefused::AccountNotForJobs { .. }
            | JobRefused::NotAPlace(_)
            | JobRefused::TooManyLines(_) => ("kind", &written.kind),
        };
        let found = found.as_deref().unwrap_or_default();
        problems.note(column, found, refusal.to_string());
    }
}

/// What a base is called, in any letter case.
///
/// # Errors
/// None is called so.
pub fn read_base(typed: &str) -> Result<Base, String> {
    Base::from_word(typed.trim())
        .ok_or_else(|| format!("there is no such base; the bases are {}", fluid::bases()))
}
