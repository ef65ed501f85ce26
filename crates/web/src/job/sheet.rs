//! What a kind of job must say to have a form.

use std::collections::BTreeSet;

use askama::Template;
use axum::response::Response;
use domain::fleet::Role;
use domain::gate::Breach;
use domain::job::{
    Account, Details, Fit, FluidNamed, Intent, Job, JobKind, Line, Looks, Mark, Movement,
};
use domain::quantity::entry::Typed;
use domain::quantity::{GaugePressure, Temperature, Volume};

use super::common::Common;
use super::ground::Ground;
use crate::form::Form;

/// Whether a kind is done on a unit or on a vessel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DoneOn {
    Unit,
    Vessel,
    Either,
}

impl DoneOn {
    /// Whether a kind that is done on `self` can be done on this.
    pub(super) fn takes(self, on: Self) -> bool {
        self == on || self == Self::Either
    }
}

/// What a sheet reads out of its own fields.
#[derive(Debug, Default)]
pub(crate) struct Parts {
    /// The loop or vessel the job is about.
    pub(crate) place: Option<Account>,
    /// What moved and what was read, in the order it was done.
    pub(crate) lines: Vec<Line>,
    pub(crate) mark: Option<Mark>,
    pub(crate) after_heat_cycle: bool,
    pub(crate) gate_temperature: Option<Typed<Temperature>>,
    pub(crate) gate_pressure: Option<Typed<GaugePressure>>,
    pub(crate) looks: Vec<Looks>,
    pub(crate) details: Option<Details>,
    /// The gates that were passed over.
    pub(crate) breaches: BTreeSet<Breach>,
}

/// Whether a form is filled in at a glance or step by step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Steps {
    OnePage,
    OneAtATime,
}

/// Whether the book can say beforehand what a job would come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Foreseen {
    Yes,
    /// It changes no contents; what a pressure test proved can be said beforehand all the same.
    Judged,
    /// It changes no contents, and nothing is to be said beforehand.
    No,
}

/// One kind of job on paper.
pub(crate) trait Sheet: Send + Sync {
    fn kind(&self) -> JobKind;

    fn done_on(&self) -> DoneOn;

    /// What it is for, in one line, where kinds are chosen.
    fn purpose(&self) -> &'static str;

    /// Those who may log it.
    fn logged_by(&self) -> &'static [Role] {
        &[Role::Technician, Role::LeadHand, Role::Manager]
    }

    fn steps(&self) -> Steps {
        Steps::OnePage
    }

    fn foreseen(&self) -> Foreseen {
        Foreseen::Yes
    }

    /// Puts into a form that was just opened what is most likely.
    fn preset(&self, form: &mut Form, ground: &Ground);

    /// Reads the sheet's own fields; everything wrong is noted on them.
    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts>;

    /// Whether its fields can hold all lines of a recorded job; lists and other programs may tell of
    /// more than a form asks for.
    fn holds(&self, _: &Job) -> bool {
        true
    }

    /// Puts a recorded job back into the fields, so that it can be corrected.
    fn refill(&self, form: &mut Form, job: &Job);

    /// The page, with what was typed and what is wrong with it.
    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn;
}

/// A page on its way out. Whether its form was refused is for [`super::write`] to say.
pub(crate) struct Drawn(Response);

impl Drawn {
    pub(crate) fn from(page: &impl Template) -> Self {
        Self(crate::page::shown(page))
    }

    pub(crate) fn into_response(self) -> Response {
        self.0
    }
}

/// Where fluid came from, where it went, and how much of it.
#[derive(Clone, Debug)]
pub(super) struct Moved {
    pub(super) from: Account,
    pub(super) to: Account,
    pub(super) volume: Typed<Volume>,
    pub(super) temperature: Option<Typed<Temperature>>,
    pub(super) fluid: Option<FluidNamed>,
}

impl Moved {
    /// As a line of a job, with nothing judged about the fluid.
    pub(super) fn line(self) -> Line {
        self.judged(Fit::Undecided, Intent::Undecided)
    }

    pub(super) fn judged(self, fit: Fit, intent: Intent) -> Line {
        Line::Movement(Movement {
            from: self.from,
            to: self.to,
            volume: self.volume,
            temperature: self.temperature,
            gauge: None,
            gauge_error: None,
            fluid: self.fluid,
            fit,
            intent,
        })
    }
}
