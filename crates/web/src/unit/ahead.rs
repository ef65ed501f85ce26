//! What the course of a unit's loops says on its page: corrosion, open leaks, charts.

use std::collections::HashMap;
use std::sync::Arc;

use domain::condition::due::DueState;
use domain::condition::policy::Policy;
use domain::ids::PlaceId;
use domain::quantity::Temperature;
use storage::{LastPressureTest, Read};

use super::capacity::{self, CapacityCard};
use super::standing::Told;
use super::strength;
use super::subject::Subject;
use crate::component::{Chart, Status};
use crate::desk::Desk;
use crate::laboratory::hint;
use crate::page::sentence;
use crate::record::Names;
use crate::upkeep::{self, UnitUpkeep, corrosion};
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
    policy: &'static Policy,
    /// What the last laboratory result of each loop hints at.
    pub(super) hints: Vec<String>,
    pub(super) charts: Vec<Chart>,
    pub(super) decay: Option<(ToldVerdict, String)>,
}

impl Ahead {
    pub(super) async fn read(
        desk: &Desk,
        read: &mut Read,
        (subject, tests, winter_low): (&Subject, &Tests, Option<Temperature>),
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
        for (n, each) in upkeep
            .iter()
            .flat_map(|upkeep| upkeep.course.loops.iter().enumerate())
        {
            let name = if several { each.name.as_str() } else { "Unit" };
            let about = (format!("use-{n}"), name);
            charts.extend(leak::chart::chart(
                about,
                each,
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
        Ok(Self {
            upkeep,
            names,
            policy,
            hints,
            charts,
            decay,
        })
    }

    /// What each loop really takes.
    pub(super) fn capacities(&self, desk: &Desk) -> Vec<CapacityCard> {
        let upkeep = self.upkeep.as_ref();
        upkeep.map_or_else(Vec::new, |upkeep| capacity::cards(desk, upkeep))
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

/// The verdict on a loop's corrosion protection, and why.
pub(super) fn corrosion_of(desk: &Desk, place: PlaceId, ahead: &Ahead) -> Option<(Status, String)> {
    let mut each = ahead.upkeep.iter().flat_map(UnitUpkeep::each);
    let (_, known) = each.find(|(of, _)| of.place == place)?;
    let judged = &known.corrosion;
    let why = corrosion::why(judged, desk.units(), ahead.policy);
    Some((corrosion::status(judged.verdict()), sentence(&why)))
}
