//! Since when a site or a satellite area holds more than it may, by how its containers came to hold
//! what they hold.

use chrono::NaiveDate;
use domain::book::contents::Contents;
use domain::fact::{Area, ContainerChange, PLACED};
use domain::quantity::Mass;
use domain::waste::{Change, Held, Holding, Turn, area_key, passed_on};
use storage::{LevelStep, Read};

use super::container::Known;
use crate::WebError;
use crate::desk::Desk;

/// So many facts about each container are looked back on, one after another until the day is found.
/// Where there are more, the day may not be known.
const LOOKS: [i64; 3] = [50, 400, MOST];
const MOST: i64 = 2_000;

/// A container that is added up: whether it is one of them now, and how it came to be.
struct Added<'a> {
    known: &'a Known,
    is_inside: bool,
    turns: Vec<Turn>,
}

/// The day more than `limit` came to lie on the site.
pub(super) async fn reached(
    at: (&Desk, &mut Read),
    all: &[Known],
    limit: Mass,
) -> Result<Option<NaiveDate>, WebError> {
    let added = all.iter().filter(|known| has_part(known));
    let added: Vec<Added<'_>> = added
        .map(|known| Added {
            known,
            is_inside: true,
            turns: Vec::new(),
        })
        .collect();
    let mass = |contents: &Contents| contents.mass_g().unwrap_or_default();
    looked_back(at, &added, (limit.g(), mass)).await
}

/// The day the sum of some containers came to be over a limit.
async fn looked_back(
    (desk, read): (&Desk, &mut Read),
    added: &[Added<'_>],
    (limit, measure): (i64, impl Fn(&Contents) -> i64),
) -> Result<Option<NaiveDate>, WebError> {
    let inside = added.iter().filter(|it| it.is_inside);
    let held = inside.filter_map(|it| it.known.held.as_ref());
    let sum = held.fold(0_i64, |sum, held| {
        sum.saturating_add(measure(&held.contents))
    });
    if sum <= limit {
        return Ok(None);
    }
    for most in LOOKS {
        let mut all = Vec::new();
        for it in added {
            let mut own = levels((desk, read), it.known, (&measure, most)).await?;
            own.is_inside = it.is_inside;
            own.turns.extend_from_slice(&it.turns);
            all.push(own);
        }
        let day = passed_on(&all, limit);
        if day.is_some() || all.iter().all(|held| held.known_from.is_none()) {
            return Ok(day);
        }
    }
    Ok(None)
}

/// The day a satellite area came to hold more than `limit_ml`, with what was taken out of it or put
/// into it since.
pub(super) async fn over(
    (desk, read): (&Desk, &mut Read),
    all: &[Known],
    (area, limit_ml): (&str, i64),
) -> Result<Option<NaiveDate>, WebError> {
    let mut added = Vec::new();
    for known in all.iter().filter(|known| has_part(known)) {
        let places = read
            .list_container_events((known.card.id, PLACED), MOST)
            .await
            .map_err(WebError::fault)?;
        let mut inside = false;
        let mut turns = Vec::new();
        for row in places.into_iter().rev() {
            let ContainerChange::Placed(into) = &row.event else {
                continue;
            };
            let is_inside =
                matches!(into, Area::Satellite(name) if area_key(name) == area_key(area));
            turns.push(Turn {
                at: row.order,
                day: row.day,
                change: Change::Moved {
                    was_inside: inside,
                    is_inside,
                },
            });
            inside = is_inside;
        }
        // What was never there has no part in it.
        if turns.iter().any(|turn| is_about_it(&turn.change)) {
            added.push(Added {
                known,
                is_inside: inside,
                turns,
            });
        }
    }
    looked_back((desk, read), &added, (limit_ml, Contents::shown_ml)).await
}

const fn is_about_it(change: &Change) -> bool {
    matches!(
        change,
        Change::Moved {
            is_inside: true,
            ..
        }
    )
}

/// Whether what a container holds or held counts against a limit: waste, or nothing by now.
fn has_part(known: &Known) -> bool {
    known.holding != Holding::NotHazardous
}

/// How a container came to hold what it holds, by some measure of it.
async fn levels(
    (desk, read): (&Desk, &mut Read),
    known: &Known,
    (measure, most): (&impl Fn(&Contents) -> i64, i64),
) -> Result<Held, WebError> {
    let Some(now) = &known.held else {
        return Ok(Held {
            now: 0,
            is_inside: false,
            turns: Vec::new(),
            known_from: None,
        });
    };
    let steps = read.list_levels(now, most).await.map_err(WebError::fault)?;
    let is_cut = i64::try_from(steps.len()).is_ok_and(|steps| steps >= most);
    let turn = |step: &LevelStep| {
        let date = |at: chrono::DateTime<chrono::Utc>| at.with_timezone(&desk.zone()).date_naive();
        Some(Turn {
            at: step.order,
            day: step
                .local_date
                .or_else(|| step.order.happened.utc().map(date))?,
            change: Change::Held {
                before: measure(&step.before),
                after: measure(&step.after),
            },
        })
    };
    Ok(Held {
        now: measure(&now.contents),
        is_inside: false,
        turns: steps.iter().filter_map(turn).collect(),
        known_from: steps.last().filter(|_| is_cut).map(|step| step.order),
    })
}
