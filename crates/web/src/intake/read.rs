//! Reads a written job into a fact, or names everything that is wrong with it.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use domain::book::component::Base;
use domain::fact::{By, Fact, Proved, What};
use domain::fleet::{Person, Tool};
use domain::ids::{FactKey, PersonId};
use domain::job::{
    self, Account, Fit, FluidNamed, Intent, Job, JobKind, JobRefused, Mark, Measured, Meter,
    MeterRead, MeterSource, NamesTyped, Replaces,
};
use domain::moment::{Moment, When};
use domain::quantity::{Distance, RunningTime, Typeable, Unit, entry, entry::Typed};
use domain::words::Text;
use uuid::Uuid;

use super::derived;
use super::directory::{Directory, KnownShop, KnownVessel};
use super::fluid;
use super::lines::{End, Fluids, Parts, Read, Reader, UnitEnd};
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

/// Reads a job, given the names on record. A job of today of which only the day was told is taken
/// to be of noon, but not of a time after `now`, where that is given.
///
/// # Errors
/// Every problem of every field at once.
pub fn read(
    written: &WrittenJob,
    names: &Directory,
    now: Option<DateTime<Utc>>,
) -> Result<ReadJob, Vec<FieldProblem>> {
    let mut problems = Problems::default();
    let read = read_all(written, names, now, &mut problems);
    match read {
        Some(read) if problems.is_empty() => Ok(read),
        _ => Err(problems.into_vec()),
    }
}

fn read_all(
    written: &WrittenJob,
    names: &Directory,
    now: Option<DateTime<Utc>>,
    problems: &mut Problems,
) -> Option<ReadJob> {
    let kind = read_kind(written, problems);
    let line = written.line.map(|line| line.to_string());
    for (column, field) in [
        ("question", &written.question),
        ("line", &line),
        ("decision", &written.decision),
    ] {
        if let Some(found) = filled(field.as_ref()) {
            problems.note(column, found, "only an answer to a question has this");
        }
    }
    let key = read_uuid("key", written.key.as_deref(), problems);
    let own = likely_shop(written, names);
    let fluids = read_fluids(written, names, own.as_ref(), problems);
    let parts = kind.and_then(|kind| {
        let reader = Reader {
            written,
            kind,
            fluids: &fluids,
            problems,
        };
        reader.parts()
    });
    let person = read_person(written, names, own.as_ref(), problems);
    let rest = Rest::read(written, problems);
    let shop = read_shop(written, names, problems);
    let when = shop
        .as_ref()
        .and_then(|(shop, _)| read_when(written, (shop.zone, now), kind, problems));
    let (shop, shop_is_new) = shop?;
    let parts = parts?;
    let mut job = rest.job(kind?, &shop, &fluids, parts);
    job.typed = names_typed(written);
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

/// The names as they were typed: what a place without a card is called.
fn names_typed(written: &WrittenJob) -> Option<NamesTyped> {
    let typed = |field: &Option<String>| filled(field.as_ref()).map(str::to_owned);
    let names = NamesTyped {
        unit: typed(&written.unit),
        unit_loop: typed(&written.unit_loop),
        from: typed(&written.from),
        to: typed(&written.to),
    };
    (names != NamesTyped::default()).then_some(names)
}

fn is_blank(field: Option<&str>) -> bool {
    field.is_none_or(|text| text.trim().is_empty())
}

pub(super) fn filled(field: Option<&String>) -> Option<&str> {
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

pub(super) fn read_uuid(
    column: &'static str,
    typed: Option<&str>,
    problems: &mut Problems,
) -> Option<FactKey> {
    let typed = typed.map(str::trim).filter(|text| !text.is_empty())?;
    let read = Uuid::try_parse(typed)
        .map_err(|_| "this is no UUID; one looks like 0f8fad5b-d9cb-469f-a165-70867728950e");
    problems.take(column, typed, read).map(FactKey)
}

fn read_fluids(
    written: &WrittenJob,
    names: &Directory,
    shop: Option<&KnownShop>,
    problems: &mut Problems,
) -> Fluids {
    let kind_is_ship = written
        .kind
        .as_deref()
        .is_some_and(|kind| derived::normal_name(kind).starts_with("ship"));
    let to = match name(written.to.as_ref(), "to", problems) {
        Some(to)
            if kind_is_ship
                && names.vessel(to, shop.map(|shop| shop.id)) == Ok(None)
                && outside(to).is_none() =>
        {
            Some(End::Carrier(to.to_owned()))
        }
        Some(to) => read_end(to, "to", (names, shop), problems),
        None => None,
    };
    let from = name(written.from.as_ref(), "from", problems)
        .and_then(|from| read_end(from, "from", (names, shop), problems));
    Fluids {
        unit: read_unit(written, names, problems),
        from,
        to,
        volume: quantity(written.volume.as_ref(), "volume", problems),
        temperature: quantity(written.temperature.as_ref(), "temperature", problems),
        fluid: read_fluid(written, problems),
        reading: read_reading(written, problems),
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

fn read_reading(written: &WrittenJob, problems: &mut Problems) -> Option<Read> {
    let typed = filled(written.reading.as_ref());
    if typed.is_none() {
        let about = [
            ("tool", &written.tool),
            ("scale", &written.scale),
            ("instrument", &written.instrument),
        ];
        for (column, field) in about {
            if let Some(found) = filled(field.as_ref()) {
                problems.note(
                    column,
                    found,
                    "nothing stands in reading that this is about",
                );
            }
        }
    }
    let typed = typed?;
    let measured = problems.take("reading", typed, read_measured(typed));
    let tools = [
        Tool::Refractometer,
        Tool::Laboratory,
        Tool::DensityMeter,
        Tool::Hydrometer,
        Tool::Strip,
    ];
    let tools = tools.map(|tool| (tool.word(), tool));
    let tool = word(written.tool.as_ref(), "tool", &tools, problems);
    let scales = [("EG", Base::Eg), ("PG", Base::Pg)];
    Some(Read {
        measured: measured?,
        tool: tool.unwrap_or(Tool::Refractometer),
        scale: word(written.scale.as_ref(), "scale", &scales, problems),
    })
}

/// A freeze point, or the end of a scale that it lies at or below, or a strength.
fn read_measured(typed: &str) -> Result<Measured, String> {
    if typed.contains('%') {
        let strength = entry::read(typed).map_err(|problem| problem.to_string())?;
        return Ok(Measured::Strength(strength));
    }
    let (at, or_below) = match typed.strip_suffix("or below") {
        Some(at) => (at.trim_end(), true),
        None => (typed, false),
    };
    let at = entry::read(at)
        .map_err(|problem| format!("{problem}; a reading is a freeze point or a strength in %"))?;
    Ok(if or_below {
        Measured::FreezePointAtOrBelow(at)
    } else {
        Measured::FreezePoint(at)
    })
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
    (names, shop): (&Directory, Option<&KnownShop>),
    problems: &mut Problems,
) -> Option<End> {
    let known = names.vessel(text, shop.map(|shop| shop.id));
    if let Some(vessel) = problems.take(column, text, known)? {
        return Some(End::Vessel(vessel.clone()));
    }
    if let Some(account) = outside(text) {
        return Some(End::Outside(account));
    }
    if names.known_unit(text).is_some() {
        problems.note(column, text, "this is a unit; name it in the column unit");
        return None;
    }
    // Without a shop nothing is taken in, so that its name is never left out of an id.
    let shop_name = shop.map_or("", |shop| shop.name.as_str());
    Some(End::Vessel(KnownVessel {
        id: derived::vessel_id(shop_name, text),
        name: text.to_owned(),
        shop: None,
    }))
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
pub(super) fn word<T: Copy>(
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
    shop: Option<&KnownShop>,
    problems: &mut Problems,
) -> Option<(PersonId, bool)> {
    let handle = name(written.who.as_ref(), "who", problems)?;
    if let Some(id) = names.person(handle, shop.map(|shop| shop.id)) {
        return Some((id, true));
    }
    let shop_name = shop.map_or("", |shop| shop.name.as_str());
    Some((derived::person_id(shop_name, handle), false))
}

/// The shop whose names a job means, before anything is said about it.
pub(super) fn likely_shop(written: &WrittenJob, names: &Directory) -> Option<KnownShop> {
    match filled(written.shop.as_ref()) {
        Some(name) => Some(names.shop(name).cloned().unwrap_or_else(|| KnownShop {
            id: derived::shop_id(name),
            name: name.to_owned(),
            zone: Tz::UTC,
        })),
        None => shop_by_names(written, names).cloned(),
    }
}

/// The shop of the unit, or of a vessel that only one shop has, or the only one.
fn shop_by_names<'a>(written: &WrittenJob, names: &'a Directory) -> Option<&'a KnownShop> {
    let of_unit = filled(written.unit.as_ref()).and_then(|unit| {
        let with_loop = || names.unit_with_loop(unit).map(|(unit, _)| unit);
        names.known_unit(unit).or_else(with_loop)?.shop
    });
    let of_vessel = |field: Option<&String>| {
        filled(field).and_then(|name| names.vessel(name, None).ok()??.shop)
    };
    of_unit
        .or_else(|| of_vessel(written.from.as_ref()))
        .or_else(|| of_vessel(written.to.as_ref()))
        .and_then(|id| names.shop_by_id(id))
        .or_else(|| names.only_shop())
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
    let shop = shop_by_names(written, names);
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
    (shop_zone, now): (Tz, Option<DateTime<Utc>>),
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
    if let Some(minutes) = written.utc_offset_min {
        let found = minutes.to_string();
        if !(-time::FARTHEST_OFFSET_MIN..=time::FARTHEST_OFFSET_MIN).contains(&minutes) {
            let farthest = time::FARTHEST_OFFSET_MIN;
            let problem = format!("an offset lies between -{farthest} and {farthest} minutes");
            problems.note("utc_offset_min", &found, problem);
        } else if time::has_offset(typed) {
            let problem = "when says its own offset from UTC already; leave one of them out";
            problems.note("utc_offset_min", &found, problem);
        }
    }
    let read = time::read(typed, zone, written.utc_offset_min).and_then(|read| {
        let at = read.at.utc().ok_or("the time lies beyond the calendar")?;
        let read = time::in_zone(at, shop_zone, read.precision)?;
        time::not_after(read, now, shop_zone)
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
            gate_pressure: None,
            looks: Vec::new(),
            meters: self.meters,
            details: parts.details,
            cautions: Vec::new(),
            note: self.note,
            replaces: self.replaces,
            follows: None,
            planned: None,
            typed: None,
        }
    }
}

pub(super) fn note(
    field: Option<&String>,
    column: &'static str,
    problems: &mut Problems,
) -> Option<Text> {
    let typed = filled(field)?;
    problems
        .take(column, typed, text::note(typed))
        .flatten()
        .and_then(|note| Text::plain(&note))
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
