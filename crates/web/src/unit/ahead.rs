//! What the course of a unit's loops says on its page: corrosion, open leaks, charts.

use std::collections::HashMap;
use std::sync::Arc;

use domain::book::component::{Base, InhibitorClass};
use domain::condition::capacity::DrainMethod;
use domain::condition::course::Course;
use domain::condition::due::DueState;
use domain::condition::policy::Policy;
use domain::ids::PlaceId;
use domain::quantity::Temperature;
use storage::{LastPressureTest, PlaceContents, Read};

use super::capacity::{self, CapacityCard};
use super::proof;
use super::standing::Told;
use super::strength;
use super::subject::Subject;
use crate::component::{Chart, Status};
use crate::desk::Desk;
use crate::laboratory::hint;
use crate::page::sentence;
use crate::place::composition::{self, Cleaned, Composition};
use crate::record::Names;
use crate::upkeep::{self, LoopUpkeep, UnitUpkeep};
use crate::verdict::{self, ToldVerdict};
use crate::{WebError, due, leak};

type Tests = HashMap<PlaceId, Arc<[LastPressureTest]>>;

/// Work on the unit that waits or was put off.
#[derive(Clone, Debug)]
pub(super) struct DueLine {
    pub(super) status: Status,
    pub(super) what: String,
    pub(super) why: String,
    /// Where it is put off, for those who may.
    pub(super) put_off: Option<String>,
}

/// Everything that is worked out from the course.
pub(super) struct Ahead {
    upkeep: Option<UnitUpkeep>,
    /// Who put work off.
    names: Names,
    pub(super) policy: &'static Policy,
    /// What the last laboratory result of each loop hints at.
    pub(super) hints: Vec<String>,
    /// What each loop is made of.
    pub(super) made_of: Vec<Composition>,
    pub(super) charts: Vec<Chart>,
    pub(super) decay: Option<(ToldVerdict, String)>,
}

impl Ahead {
    pub(super) async fn read(
        desk: &Desk,
        read: &mut Read,
        (subject, held): (&Subject, &[PlaceContents]),
        (tests, winter_low): (&Tests, Option<Temperature>),
    ) -> Result<Self, WebError> {
        let upkeep = upkeep::of_unit(desk, read, subject.id).await?;
        let asked = upkeep::Asked::at(desk)?;
        let policy = asked.policy;
        let mut hints = Vec::new();
        for each in upkeep.iter().flat_map(|upkeep| &upkeep.course.loops) {
            hints.extend(hint::of_loop(
                each,
                (None, asked.now),
                (asked, desk.units()),
            )?);
        }
        let each = upkeep.iter().flat_map(|upkeep| &upkeep.loops);
        let names = due::names_of(read, each.flat_map(|known| &known.tasks)).await?;
        let several = subject.circuits.len() > 1;
        let mut charts = Vec::new();
        for (n, circuit) in subject.circuits.iter().enumerate() {
            let about = strength::About {
                id: format!("strength-{n}"),
                name: if several { &circuit.name } else { "Coolant" },
                place: circuit.place,
                winter_low,
            };
            charts.extend(strength::chart(desk, read, about).await?);
        }
        for (n, (each, known)) in upkeep.iter().flat_map(UnitUpkeep::each).enumerate() {
            let limits = known.corrosion.limits.as_ref();
            let name = if several { &each.name } else { "Coolant" };
            let about = (format!("proof-{n}"), name);
            charts.extend(proof::chart(about, (&each.course, limits), Told::at(desk)));
            let name = if several { each.name.as_str() } else { "Unit" };
            let about = (format!("use-{n}"), name);
            charts.extend(leak::chart::chart(
                about,
                (each, &known.cases),
                (Told::at(desk), &policy.leak),
            ));
        }
        let last = subject
            .circuits
            .iter()
            .find_map(|circuit| tests.get(&circuit.place)?.first());
        let decay = last.and_then(|last| {
            let proved = verdict::judge_last(last)?;
            let told = ToldVerdict::of(&proved, desk.units());
            Some((told, format!("/jobs/{}", last.key)))
        });
        let made_of = made_of(desk, read, (subject, held), (upkeep.as_ref(), policy)).await?;
        Ok(Self {
            upkeep,
            names,
            policy,
            hints,
            made_of,
            charts,
            decay,
        })
    }

    /// What each loop really takes.
    pub(super) fn capacities(&self, desk: &Desk) -> Vec<CapacityCard> {
        let upkeep = self.upkeep.as_ref();
        upkeep.map_or_else(Vec::new, |upkeep| capacity::cards(desk, upkeep))
    }

    /// What is known of one loop.
    pub(super) fn of(&self, place: PlaceId) -> Option<&LoopUpkeep> {
        let mut each = self.upkeep.iter().flat_map(UnitUpkeep::each);
        let found = each.find(|(of, _)| of.place == place);
        found.map(|(_, known)| known)
    }

    /// Work that waits or was put off, loop by loop.
    pub(super) fn due(&self, desk: &Desk) -> Vec<DueLine> {
        let told = Told::at(desk);
        let may_put_off = desk.may(due::put_off::LEAD);
        let mut found = Vec::new();
        if let Some(upkeep) = &self.upkeep {
            let several = upkeep.course.loops.len() > 1;
            for (of, known) in upkeep.each() {
                let waits = known
                    .tasks
                    .iter()
                    .filter(|task| task.due.state != DueState::NotYet);
                found.extend(waits.map(|task| DueLine {
                    status: due::status(task.due.state),
                    what: if several {
                        format!("{}, {}", task.task.words(), of.name)
                    } else {
                        task.task.words().to_owned()
                    },
                    why: due::why(task, (told, &self.names)),
                    put_off: due::put_off_address(upkeep, (of, task)).filter(|_| may_put_off),
                }));
            }
        }
        found
    }

    /// Leaks that are open, loop by loop.
    pub(super) fn leaks(&self, desk: &Desk) -> Vec<(Status, String)> {
        let told = Told::at(desk);
        let each = self.upkeep.iter().flat_map(UnitUpkeep::each);
        let open = each.filter_map(|(_, known)| known.case());
        open.filter(|case| case.state.is_open())
            .map(|case| {
                (
                    leak::told::status(case.state),
                    sentence(&leak::told::why(case, told)),
                )
            })
            .collect()
    }
}

/// What each loop that holds anything is made of, and how it gets clean.
async fn made_of(
    desk: &Desk,
    read: &mut Read,
    (subject, held): (&Subject, &[PlaceContents]),
    (upkeep, policy): (Option<&UnitUpkeep>, &Policy),
) -> Result<Vec<Composition>, WebError> {
    let mut found = Vec::new();
    for circuit in &subject.circuits {
        let Some(held) = held.iter().find(|held| held.place == circuit.place) else {
            continue;
        };
        let loops = upkeep.map_or(&[][..], |upkeep| &upkeep.course.loops);
        let course = loops.iter().find(|each| each.place == circuit.place);
        let mut known = upkeep.into_iter().flat_map(UnitUpkeep::each);
        let known = known.find(|(of, _)| of.place == circuit.place);
        let course = course.map(|each| &each.course);
        let card = circuit.card.as_ref();
        let is_fitted = card.is_some_and(|card| card.coupling_fitted.is_some())
            || course.is_some_and(Course::has_coupling);
        let about = composition::About {
            title: if subject.circuits.len() > 1 {
                circuit.name.clone()
            } else {
                String::new()
            },
            meant: card.map_or((Base::Unknown, InhibitorClass::Unknown), |card| {
                (card.base, card.class)
            }),
            cleaned: Cleaned::ByExchange(if is_fitted {
                DrainMethod::Coupling
            } else {
                DrainMethod::Gravity
            }),
            course,
            known: known.map(|(_, known)| &known.work),
            policy,
        };
        found.extend(Composition::read(desk, read, (held, about)).await?);
    }
    Ok(found)
}
