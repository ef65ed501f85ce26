//! A unit as pages show it: by its card, or by the jobs that named it before it had one.

use domain::fact::What;
use domain::fleet::{Loop, Shop, Unit};
use domain::ids::{PlaceId, UnitId};
use domain::job::NamesTyped;
use storage::{JobRow, Read};

use crate::WebError;
use crate::intake::derived::USUAL_LOOP;
use crate::page::sentence;

/// So many jobs are looked through for the loops of a unit without a card.
const MOST_JOBS: i64 = 100;

/// The unit.
#[derive(Clone, Debug)]
pub(super) struct Subject {
    pub(super) id: UnitId,
    pub(super) number: String,
    /// None when it is on no list yet.
    pub(super) card: Option<Unit>,
    pub(super) retired: bool,
    pub(super) circuits: Vec<SubjectLoop>,
}

/// One of its loops.
#[derive(Clone, Debug)]
pub(super) struct SubjectLoop {
    pub(super) place: PlaceId,
    pub(super) name: String,
    pub(super) card: Option<Loop>,
}

impl SubjectLoop {
    pub(super) fn capacity_ml(&self) -> Option<i64> {
        let capacity = self.card.as_ref()?.capacity.as_ref()?;
        Some(capacity.value.ml())
    }
}

impl Subject {
    /// None when nothing on record is about it.
    pub(super) async fn find(read: &mut Read, id: UnitId) -> Result<Option<Self>, WebError> {
        if let Some(card) = read.find_unit(id).await.map_err(WebError::fault)? {
            let circuits = card.loops.iter().map(|each| SubjectLoop {
                place: each.id,
                name: each.name.clone(),
                card: Some(each.clone()),
            });
            return Ok(Some(Self {
                id,
                number: card.number.clone(),
                retired: read.is_retired(id.0).await.map_err(WebError::fault)?,
                circuits: circuits.collect(),
                card: Some(card),
            }));
        }
        let jobs = read
            .list_jobs_of_unit(id, None, MOST_JOBS)
            .await
            .map_err(WebError::fault)?;
        let Some(last) = jobs.first() else {
            return Ok(None);
        };
        let typed = names_typed(read, last).await?;
        Ok(Some(Self {
            id,
            number: typed
                .as_ref()
                .and_then(|typed| typed.unit.clone())
                .unwrap_or_else(|| "without a number".to_owned()),
            card: None,
            retired: false,
            circuits: loops_of(&jobs, typed.as_ref()),
        }))
    }

    pub(super) fn places(&self) -> Vec<PlaceId> {
        self.circuits.iter().map(|circuit| circuit.place).collect()
    }

    pub(super) fn named_places(&self) -> Vec<(PlaceId, String)> {
        let circuits = self.circuits.iter();
        circuits
            .map(|circuit| (circuit.place, circuit.name.clone()))
            .collect()
    }

    /// What is said under its number.
    pub(super) fn about(&self, shop: &Shop) -> Vec<String> {
        let Some(card) = &self.card else {
            return Vec::new();
        };
        let family = card.engine_family.as_ref();
        [
            Some(sentence(&card.kind).trim_end_matches('.').to_owned()),
            family.map(|family| format!("engine family {family}")),
            Some(shop.name.clone()),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// The names that a job was entered with.
async fn names_typed(read: &mut Read, job: &JobRow) -> Result<Option<NamesTyped>, WebError> {
    let row = read
        .find_fact(job.order.key)
        .await
        .map_err(WebError::fault)?;
    let fact = row
        .map(|row| row.fact())
        .transpose()
        .map_err(WebError::fault)?;
    Ok(match fact.map(|fact| fact.what) {
        Some(What::Job(job)) => job.typed,
        _ => None,
    })
}

/// The loops that jobs named, the last one first.
fn loops_of(jobs: &[JobRow], typed: Option<&NamesTyped>) -> Vec<SubjectLoop> {
    let mut places: Vec<PlaceId> = Vec::new();
    for job in jobs {
        let moved = job.moved.iter().flat_map(|moved| {
            let from = moved.from_place.filter(|_| moved.from_account == "loop");
            let to = moved.to_place.filter(|_| moved.to_account == "loop");
            [from, to]
        });
        for place in std::iter::once(job.place).chain(moved).flatten() {
            if !places.contains(&place) {
                places.push(place);
            }
        }
    }
    let named = typed.and_then(|typed| typed.unit_loop.clone());
    let only = places.len() == 1;
    places
        .into_iter()
        .enumerate()
        .map(|(at, place)| SubjectLoop {
            place,
            name: match (&named, at, only) {
                (Some(name), 0, _) => name.clone(),
                (None, _, true) => USUAL_LOOP.to_owned(),
                _ => format!("loop {}", at.saturating_add(1)),
            },
            card: None,
        })
        .collect()
}
