//! What comes first this morning, in the order of whoever looks: each line a count that leads to a list of as
//! many.

use std::sync::Arc;

use domain::condition::corrosion::CorrosionVerdict;
use domain::condition::leak::case::CaseState;
use domain::fleet::Role;
use storage::{LoopFigures, Read, VesselNow};

use super::exception::{Morning, What};
use crate::component::{Said, Shape, Status};
use crate::desk::Desk;
use crate::upkeep::{self, UnitUpkeep, corrosion};
use crate::{WebError, due, laboratory, leak, winter};

/// What a line is about.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum About {
    /// A list of the board's own.
    Board(What),
    Leaks,
    Corrosion,
    Due,
    Winter,
    Checking,
    Laboratory,
}

use About::{Board, Checking, Corrosion, Due, Laboratory, Leaks, Winter};

/// Whoever works on units: what they began, what has to be looked at again, what leaks.
const WORKSHOP: [About; 20] = [
    Board(What::OwnJobs),
    Board(What::Drained),
    Board(What::Levels),
    Board(What::ShortFills),
    Board(What::Comebacks),
    Leaks,
    Due,
    Board(What::NearlyEmpty),
    Board(What::NearlyFull),
    Board(What::Stock),
    Board(What::Instruments),
    Board(What::Inspections),
    Corrosion,
    Winter,
    Laboratory,
    Board(What::Meters),
    Checking,
    Board(What::NoStartDate),
    Board(What::Leaving),
    Board(What::NotSigned),
];
/// Whoever answers for the waste: containers and papers, then what is in the vessels.
const PAPERS: [About; 20] = [
    Board(What::Leaving),
    Board(What::NoStartDate),
    Board(What::NotSigned),
    Checking,
    Board(What::Inspections),
    Board(What::NearlyFull),
    Laboratory,
    Board(What::NearlyEmpty),
    Board(What::Comebacks),
    Leaks,
    Corrosion,
    Due,
    Winter,
    Board(What::Instruments),
    Board(What::Stock),
    Board(What::Meters),
    Board(What::ShortFills),
    Board(What::Drained),
    Board(What::Levels),
    Board(What::OwnJobs),
];
/// Whoever decides what goes out: what leaks and what came back, what is not ready, then all the rest.
const SHOP: [About; 20] = [
    Leaks,
    Board(What::Comebacks),
    Board(What::ShortFills),
    Corrosion,
    Winter,
    Due,
    Checking,
    Board(What::Leaving),
    Board(What::NoStartDate),
    Board(What::NotSigned),
    Laboratory,
    Board(What::Drained),
    Board(What::Levels),
    Board(What::Stock),
    Board(What::Instruments),
    Board(What::Inspections),
    Board(What::NearlyFull),
    Board(What::NearlyEmpty),
    Board(What::Meters),
    Board(What::OwnJobs),
];

/// Of several roles the one that answers for more decides.
fn order(desk: &Desk) -> [About; 20] {
    if desk.may(&[Role::Manager]) {
        SHOP
    } else if desk.may(&[Role::ComplianceOfficer]) {
        PAPERS
    } else if desk.may(&[Role::Technician, Role::LeadHand]) {
        WORKSHOP
    } else {
        SHOP
    }
}

/// A line: what it is about, what it says, how many, where they are listed.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// Empty where the status says all.
    pub(super) about: &'static str,
    pub(super) status: Status,
    pub(super) count: usize,
    pub(super) address: String,
}

/// All that comes first.
#[derive(Clone, Debug)]
pub(super) struct First {
    pub(super) lines: Vec<Line>,
    /// "23 of 38 units are ready."
    pub(super) winter: Said,
}

impl First {
    pub(super) async fn of(
        desk: &Desk,
        read: &mut Read,
        (loops, vessels): (&[LoopFigures], Arc<[VesselNow]>),
    ) -> Result<Self, WebError> {
        let units = upkeep::of_loops(desk, read, loops).await?;
        let samples = laboratory::waiting(desk, read).await?;
        let questions = read.count_open_questions(Some(desk.shop.id)).await;
        let questions = usize::try_from(questions.map_err(WebError::fault)?).unwrap_or(usize::MAX);
        let (winter, not_ready) = winter::in_short(desk, loops)?;
        let morning = Morning::read(desk, read, units.clone(), vessels).await?;
        let may_check = desk.may(&[Role::LeadHand, Role::Manager, Role::ComplianceOfficer]);
        let mut lines = Vec::new();
        for about in order(desk) {
            lines.extend(match about {
                Board(what) => vec![Line {
                    about: "",
                    status: what.status(),
                    count: morning.count(desk, what),
                    address: format!("/board/{}", what.code()),
                }],
                Leaks => leaks(&units),
                Corrosion => verdicts(&units),
                Due => told("Due work", due::waiting(&units)),
                Laboratory => told("Laboratory", samples.clone()),
                Winter => told("Winter", not_ready.clone()),
                // Who may not answer has no list of them.
                Checking if !may_check => Vec::new(),
                Checking => vec![Line {
                    about: "",
                    status: Status::new(Shape::Wait, "Needs checking"),
                    count: questions,
                    address: "/checking".to_owned(),
                }],
            });
        }
        lines.retain(|line| line.count > 0);
        Ok(Self { lines, winter })
    }
}

type Count = (Status, usize, String);

fn told(about: &'static str, counts: impl IntoIterator<Item = Count>) -> Vec<Line> {
    let line = |(status, count, address)| Line {
        about,
        status,
        count,
        address,
    };
    counts.into_iter().map(line).collect()
}

fn leaks(units: &[Arc<UnitUpkeep>]) -> Vec<Line> {
    let open = CaseState::ALL.into_iter().filter(|state| !state.is_over());
    let mut cases: Vec<(CaseState, usize)> = open.map(|state| (state, 0)).collect();
    let loops = units.iter().flat_map(|unit| &unit.loops);
    for case in loops.flat_map(|known| &known.cases) {
        add(&mut cases, &case.state);
    }
    let counts = cases.into_iter().map(|(state, count)| {
        let address = format!("/leaks?state={}", state.code());
        (leak::told::status(state), count, address)
    });
    told("Coolant that goes missing", counts)
}

/// One more of what is counted; nothing where it is not.
fn add<T: PartialEq>(counts: &mut [(T, usize)], one: &T) {
    if let Some((_, count)) = counts.iter_mut().find(|(what, _)| what == one) {
        *count = count.saturating_add(1);
    }
}

fn verdicts(units: &[Arc<UnitUpkeep>]) -> Vec<Line> {
    let all = CorrosionVerdict::ALL.into_iter();
    let mut counts: Vec<(CorrosionVerdict, usize)> = all
        .filter(|verdict| *verdict != CorrosionVerdict::InOrder)
        .map(|verdict| (verdict, 0))
        .collect();
    for (_, known) in units.iter().filter_map(|unit| unit.worst_corrosion()) {
        add(&mut counts, &known.corrosion.verdict());
    }
    let counts = counts.into_iter().map(|(verdict, count)| {
        let address = format!("/corrosion?verdict={}", corrosion::code(verdict));
        (corrosion::status(verdict), count, address)
    });
    told("Corrosion", counts)
}
