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

/// So many facts about one container are looked back on. Where there are more, the day may not be known.
const MOST: i64 = 2_000;

/// The day more than `limit` came to lie on the site.
pub(super) async fn reached(
    (desk, read): (&Desk, &mut Read),
    all: &[Known],
    limit: Mass,
) -> Result<Option<NaiveDate>, WebError> {
    let mass = |contents: &Contents| contents.mass_g().unwrap_or_default();
    let mut held = Vec::new();
    for known in all.iter().filter(|known| has_part(known)) {
        let mut own = levels((desk, read), known, mass).await?;
        own.is_inside = true;
        held.push(own);
    }
    Ok(passed_on(&held, limit.g()))
}

/// The day a satellite area came to hold more than `limit_ml`, with what was taken out of it or put
/// into it since.
pub(super) async fn over(
    (desk, read): (&Desk, &mut Read),
    all: &[Known],
    (area, limit_ml): (&str, i64),
) -> Result<Option<NaiveDate>, WebError> {
    let mut held = Vec::new();
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
            let mut own = levels((desk, read), known, Contents::shown_ml).await?;
            own.is_inside = inside;
            own.turns.extend(turns);
            held.push(own);
        }
    }
    Ok(passed_on(&held, limit_ml))
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
    measure: impl Fn(&Contents) -> i64,
) -> Result<Held, WebError> {
    let Some(now) = &known.held else {
        return Ok(Held {
            now: 0,
            is_inside: false,
            turns: Vec::new(),
            known_from: None,
        });
    };
    let steps = read.list_levels(now, MOST).await.map_err(WebError::fault)?;
    let is_cut = i64::try_from(steps.len()).is_ok_and(|steps| steps >= MOST);
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
