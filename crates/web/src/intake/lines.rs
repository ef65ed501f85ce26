//! The lines of a job: what came from where and went where, by the kind of job.

use domain::book::component::Base;
use domain::fleet::Tool;
use domain::ids::UnitId;
use domain::job::{
    Account, Details, DipRead, Fit, FluidNamed, Intent, JobKind, Line, Measured, Movement, Reading,
};
use domain::quantity::{Temperature, Volume, entry::Typed};

use super::directory::KnownVessel;
use super::written::{Problems, WrittenJob};

/// The unit of a job and the loop it is about.
#[derive(Clone, Copy, Debug)]
pub(super) struct UnitEnd {
    pub(super) id: UnitId,
    pub(super) circuit: Account,
}

/// What the columns `from` and `to` say.
#[derive(Clone, Debug)]
pub(super) enum End {
    Vessel(KnownVessel),
    Outside(Account),
    /// A name that only the carrier of a shipment can have.
    Carrier(String),
}

impl End {
    fn account(&self) -> Account {
        match self {
            Self::Vessel(vessel) => Account::Vessel(vessel.id),
            Self::Outside(account) => *account,
            Self::Carrier(_) => Account::Carrier,
        }
    }
}

/// What was read, with what.
#[derive(Clone, Debug)]
pub(super) struct Read {
    pub(super) measured: Measured,
    pub(super) tool: Tool,
    pub(super) scale: Option<Base>,
}

/// Everything about a job's fluid that has been read.
#[derive(Debug)]
pub(super) struct Fluids {
    pub(super) unit: Option<UnitEnd>,
    pub(super) from: Option<End>,
    pub(super) to: Option<End>,
    pub(super) volume: Option<Typed<Volume>>,
    pub(super) temperature: Option<Typed<Temperature>>,
    pub(super) fluid: Option<FluidNamed>,
    pub(super) reading: Option<Read>,
    pub(super) fit: Fit,
    pub(super) intent: Intent,
}

/// What a job is made of.
#[derive(Debug, Default)]
pub(super) struct Parts {
    pub(super) place: Option<Account>,
    pub(super) lines: Vec<Line>,
    pub(super) details: Option<Details>,
}

/// The columns as written, for problems.
pub(super) struct Reader<'a> {
    pub(super) written: &'a WrittenJob,
    pub(super) kind: JobKind,
    pub(super) fluids: &'a Fluids,
    pub(super) problems: &'a mut Problems,
}

impl Reader<'_> {
    /// The parts of the job; what is missing or too much is noted as a problem.
    pub(super) fn parts(mut self) -> Option<Parts> {
        self.see_what_is_not_used();
        match self.kind {
            JobKind::Receive => self.receive(),
            JobKind::Recover => self.recover(),
            JobKind::Fill | JobKind::TopUp => self.fill(),
            JobKind::Exchange | JobKind::Correct | JobKind::Flush => self.drain_and_fill(),
            JobKind::Move => self.carry(),
            JobKind::Spill => self.spill(),
            JobKind::Ship => self.ship(),
            JobKind::Dip => self.dip(),
            JobKind::ConditionTest
            | JobKind::PressureTest
            | JobKind::CapTest
            | JobKind::LeakRepair
            | JobKind::FilterChange
            | JobKind::FitCoupling
            | JobKind::CleanOut
            | JobKind::Sample
            | JobKind::Inspect => self.without_fluid(),
        }
    }

    /// What a kind of job has no use for is told, so that nothing anybody wrote is dropped.
    fn see_what_is_not_used(&mut self) {
        let kind = self.kind;
        let moves = !matches!(
            kind,
            JobKind::Dip
                | JobKind::ConditionTest
                | JobKind::PressureTest
                | JobKind::CapTest
                | JobKind::LeakRepair
                | JobKind::FilterChange
                | JobKind::FitCoupling
                | JobKind::CleanOut
                | JobKind::Sample
                | JobKind::Inspect
        );
        let reads = matches!(kind, JobKind::ConditionTest | JobKind::Sample);
        let carries = matches!(
            kind,
            JobKind::Recover | JobKind::Move | JobKind::Spill | JobKind::Ship
        );
        let measured = moves || kind == JobKind::Dip;
        let written = self.written;
        let place_twice = written.unit.as_ref().or(written.from.as_ref());
        for (column, found, used) in [
            ("temperature", &written.temperature, measured),
            ("fluid", &written.fluid, measured && !carries),
            ("reading", &written.reading, reads),
            ("fit", &written.fit, moves),
            ("intent", &written.intent, moves),
            ("from", &written.from, measured || written.unit_is_blank()),
            (
                "to",
                &written.to,
                measured || place_twice.is_none_or(|text| text.trim().is_empty()),
            ),
        ] {
            let found = found.as_deref().unwrap_or_default().trim();
            if used || found.is_empty() {
                continue;
            }
            let because = match column {
                "from" | "to" => "the unit or vessel it was done on is named already",
                "fluid" if carries => "the book knows what is in the unit or vessel it came from",
                "reading" => "a reading is a condition test or a sample of its own",
                _ => "it moves no fluid",
            };
            let problem = format!(
                "leave it empty: a {} has no use for it, {because}",
                kind.word()
            );
            self.problems.note(column, found, problem);
        }
    }

    fn receive(&mut self) -> Option<Parts> {
        let from = self.outside_only(Account::Supplier, "from");
        let to = self.vessel("to");
        let line = self.movement(from?, to?)?;
        Some(Parts::moved(to?, [line]))
    }

    fn recover(&mut self) -> Option<Parts> {
        self.empty("from", "the fluid comes out of the unit");
        let circuit = self.circuit();
        let to = self.vessel("to");
        let line = self.movement(circuit?, to?)?;
        Some(Parts::moved(circuit?, [line]))
    }

    fn fill(&mut self) -> Option<Parts> {
        self.empty("to", "the fluid goes into the unit");
        let circuit = self.circuit();
        let from = self.source();
        let line = self.movement(from?, circuit?)?;
        Some(Parts::moved(circuit?, [line]))
    }

    /// Drained into `to` if that is given, then filled from `from` or outside if that is given.
    fn drain_and_fill(&mut self) -> Option<Parts> {
        let circuit = self.circuit();
        let drained = self.fluids.to.is_some();
        let filled = self.fluids.from.is_some() || self.fluids.fluid.is_some();
        if !drained && !filled {
            if let Some(volume) = &self.fluids.volume {
                let problem = format!(
                    "a {} with a volume needs the vessel it was drained into or filled from",
                    self.kind.word()
                );
                self.problems.note("from", &volume.typed, problem);
            }
            return Some(Parts::about(circuit?));
        }
        let mut lines = Vec::new();
        if drained {
            let to = self.vessel("to");
            lines.push(self.movement(circuit?, to?)?);
        }
        if filled {
            let from = self.source();
            lines.push(self.movement(from?, circuit?)?);
        }
        Some(Parts::moved(circuit?, lines))
    }

    fn carry(&mut self) -> Option<Parts> {
        let (from, to) = (self.vessel("from"), self.vessel("to"));
        let line = self.movement(from?, to?)?;
        Some(Parts::moved(from?, [line]))
    }

    fn spill(&mut self) -> Option<Parts> {
        let to = self.outside_only(Account::Spilled, "to");
        let from = match (self.fluids.unit, &self.fluids.from) {
            (Some(_), Some(_)) => {
                let found = self.written.from.clone().unwrap_or_default();
                self.problems.note(
                    "from",
                    &found,
                    "it was spilled from a unit or from a vessel; name one of them",
                );
                None
            }
            (Some(unit), None) => Some(unit.circuit),
            (None, Some(_)) => self.vessel("from"),
            (None, None) => {
                self.problems.note(
                    "unit",
                    "",
                    "a spill needs the unit or, in from, the vessel it came from",
                );
                None
            }
        };
        let line = self.movement(from?, to?)?;
        Some(Parts::moved(from?, [line]))
    }

    fn ship(&mut self) -> Option<Parts> {
        let from = self.vessel("from");
        let carrier = match &self.fluids.to {
            None | Some(End::Outside(Account::Carrier)) => None,
            Some(End::Carrier(name)) => Some(name.clone()),
            Some(_) => {
                let found = self.written.to.clone().unwrap_or_default();
                self.problems.note(
                    "to",
                    &found,
                    "fluid is shipped to a carrier; leave it empty or name the carrier",
                );
                return None;
            }
        };
        let line = self.movement(from?, Account::Carrier)?;
        Some(Parts {
            details: carrier.map(|carrier| Details::Ship {
                carrier,
                document: String::new(),
                destination: None,
                treatment: None,
            }),
            ..Parts::moved(from?, [line])
        })
    }

    fn dip(&mut self) -> Option<Parts> {
        let place = match (&self.fluids.from, &self.fluids.to) {
            (Some(_), Some(_)) => {
                let found = self.written.to.clone().unwrap_or_default();
                self.problems.note(
                    "to",
                    &found,
                    "a dip is of one vessel; name it in from or in to",
                );
                None
            }
            (Some(_), None) => self.vessel("from"),
            (None, _) => self.vessel("to"),
        };
        let volume = self.volume();
        Some(Parts::moved(
            place?,
            [Line::Dip(DipRead {
                place: place?,
                volume: volume?,
                temperature: self.fluids.temperature.clone(),
                gauge: None,
                gauge_error: None,
                fluid: self.fluids.fluid.clone(),
            })],
        ))
    }

    fn without_fluid(&mut self) -> Option<Parts> {
        if let Some(volume) = &self.fluids.volume {
            let problem = format!(
                "a {} moves no fluid; leave the volume empty, or log the fluid as a job of its own",
                self.kind.word()
            );
            self.problems.note("volume", &volume.typed, problem);
        }
        let place = match (self.fluids.unit, &self.fluids.from, &self.fluids.to) {
            (Some(unit), ..) => Some(unit.circuit),
            (None, Some(_), _) => self.vessel("from"),
            (None, None, Some(_)) => self.vessel("to"),
            (None, None, None) => {
                let problem = format!(
                    "a {} needs the unit or the vessel it was done on",
                    self.kind.word()
                );
                self.problems.note("unit", "", problem);
                None
            }
        };
        let reading = self.fluids.reading.clone();
        let lines = reading.map(|read| {
            Some(Line::Reading(Reading {
                scale: read.scale,
                ..Reading::of(place?, read.measured, read.tool)
            }))
        });
        Some(Parts::moved(place?, Vec::from_iter(lines.flatten())))
    }

    // --- single columns ---

    fn circuit(&mut self) -> Option<Account> {
        if self.fluids.unit.is_none() && self.written.unit_is_blank() {
            let problem = format!("a {} needs the unit it was done on", self.kind.word());
            self.problems.note("unit", "", problem);
        }
        self.fluids.unit.map(|unit| unit.circuit)
    }

    /// The vessel in a column.
    fn vessel(&mut self, column: &'static str) -> Option<Account> {
        let (end, written) = self.column(column);
        match end {
            Some(End::Vessel(vessel)) => Some(Account::Vessel(vessel.id)),
            Some(other) => {
                let problem = format!(
                    "a {} needs a vessel here, not \"{}\"",
                    self.kind.word(),
                    other.account().word()
                );
                self.problems.note(column, &written, problem);
                None
            }
            // What could not be read has its problem already.
            None if !written.trim().is_empty() => None,
            None => {
                let side = if column == "from" {
                    "came from"
                } else {
                    "went to"
                };
                let problem = format!("a {} needs the vessel the fluid {side}", self.kind.word());
                self.problems.note(column, "", problem);
                None
            }
        }
    }

    /// Where a loop is filled from: a vessel, or outside.
    fn source(&mut self) -> Option<Account> {
        let (end, written) = self.column("from");
        match end {
            Some(End::Vessel(vessel)) => Some(Account::Vessel(vessel.id)),
            Some(End::Outside(Account::Supplier)) => Some(Account::Supplier),
            Some(_) => self.vessel("from"),
            None if !written.trim().is_empty() => None,
            None => {
                let bought = self.fluids.fluid.is_some() || self.kind == JobKind::TopUp;
                if !bought && self.written.fluid_is_blank() {
                    let problem = format!(
                        "a {} needs the vessel the fluid came from, or in fluid what was bought",
                        self.kind.word()
                    );
                    self.problems.note("from", "", problem);
                }
                bought.then_some(Account::Supplier)
            }
        }
    }

    /// A column that only one account outside can stand in.
    fn outside_only(&mut self, account: Account, column: &'static str) -> Option<Account> {
        let (end, written) = self.column(column);
        match end {
            None => written.trim().is_empty().then_some(account),
            Some(End::Outside(found)) if found == account => Some(account),
            Some(_) => {
                let problem = format!(
                    "leave it empty or write \"{}\", which is where the fluid of a {} {}",
                    account.word(),
                    self.kind.word(),
                    if column == "from" {
                        "comes from"
                    } else {
                        "goes"
                    },
                );
                self.problems.note(column, &written, problem);
                None
            }
        }
    }

    fn empty(&mut self, column: &'static str, because: &str) {
        let (end, written) = self.column(column);
        if end.is_some() {
            let problem = format!("leave it empty: of a {} {because}", self.kind.word());
            self.problems.note(column, &written, problem);
        }
    }

    fn column(&self, column: &str) -> (Option<End>, String) {
        let (end, written) = if column == "from" {
            (&self.fluids.from, &self.written.from)
        } else {
            (&self.fluids.to, &self.written.to)
        };
        (end.clone(), written.clone().unwrap_or_default())
    }

    fn volume(&mut self) -> Option<Typed<Volume>> {
        if self.fluids.volume.is_none() && self.written.volume_is_blank() {
            let problem = format!(
                "a {} needs a volume, write it like 12.5 L",
                self.kind.word()
            );
            self.problems.note("volume", "", problem);
        }
        self.fluids.volume.clone()
    }

    fn movement(&mut self, from: Account, to: Account) -> Option<Line> {
        Some(Line::Movement(Movement {
            from,
            to,
            volume: self.volume()?,
            temperature: self.fluids.temperature.clone(),
            gauge: None,
            gauge_error: None,
            fluid: self.fluids.fluid.clone(),
            fit: self.fluids.fit,
            intent: self.fluids.intent,
        }))
    }
}

impl Parts {
    fn about(place: Account) -> Self {
        Self {
            place: Some(place),
            ..Self::default()
        }
    }

    fn moved(place: Account, lines: impl Into<Vec<Line>>) -> Self {
        Self {
            place: Some(place),
            lines: lines.into(),
            details: None,
        }
    }
}
