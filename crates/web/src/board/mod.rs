//! GET /: which units need coolant work now, and may any go out.

mod behind;
mod beside;
mod exception;
mod first;
mod list;
mod supply;

pub(crate) use behind::{questions_of, show_jobs, show_questions};

use askama::Template;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fleet::Role;

use crate::WebError;
use crate::component::Status;
use crate::desk::{Desk, Frame};
use crate::page;
use crate::unit::row::{self, Judged, Row, Steps};
use crate::unit::standing::{Ground, Told, WHAT_IS_JUDGED, Word};

use crate::unfinished::Unfinished;
use beside::Beside;
use first::First;

pub(crate) use list::show_list;

/// So many units stand on the board; the rest is in the list.
const MOST_ROWS: usize = 50;

/// Those who see a shop's coolant.
const SEE: &[Role] = &[
    Role::Technician,
    Role::LeadHand,
    Role::Manager,
    Role::ComplianceOfficer,
    Role::Reader,
];
/// Those who log jobs.
const WORK: &[Role] = &[Role::Technician, Role::LeadHand, Role::Manager];

#[derive(Template)]
#[template(path = "board/show.html")]
struct BoardPage {
    frame: Frame,
    /// Status, how many units, where they are listed.
    counts: Vec<(Status, usize, String)>,
    rows: Vec<Row>,
    /// Where all that need something are, when more than the board shows: a label and an address.
    more: Vec<(String, String)>,
    units: usize,
    what_is_judged: &'static str,
    /// The shop has not said what cold it must be ready for.
    no_winter_low: bool,
    being_worked_out_again: bool,
    may_manage: bool,
    beside: Beside,
    unfinished: Unfinished,
    first: First,
}

pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    if !desk.may(SEE) {
        return Ok(to_what_is_theirs(&desk));
    }
    let mut read = desk.read().await?;
    let loops = read
        .list_loop_figures(desk.shop.id)
        .await
        .map_err(WebError::fault)?;
    let units = row::judge_all(&loops, Ground::at(&desk, desk.shop.winter_low)?);
    let vessels = exception::vessels(&desk, &mut read).await?;
    let beside = Beside::of(&desk, &mut read, &vessels).await?;
    let unfinished = Unfinished::of(&desk, &mut read).await?;
    let first = First::of(&desk, &mut read, (&loops, vessels)).await?;
    let stale = read.count_stale_places().await.map_err(WebError::fault)?;
    Ok(page::shown(&board(
        &desk,
        units,
        (beside, (unfinished, first), stale > 0),
    )))
}

/// Somebody who runs the server and does not touch the record has the settings to look after.
fn to_what_is_theirs(desk: &Desk) -> Response {
    if desk.may(&[Role::Administrator]) {
        return Redirect::to("/settings").into_response();
    }
    WebError::NotAllowed { roles: SEE }.into_response()
}

fn board(
    desk: &Desk,
    mut units: Vec<Judged>,
    (beside, (unfinished, first), being_worked_out_again): (Beside, (Unfinished, First), bool),
) -> BoardPage {
    let counts = row::count_words(&units);
    let total = units.len();
    units.retain(|unit| unit.worst.word != Word::Ready);
    units.sort_by_key(|unit| unit.worst.gravity());
    let waiting = units.len();
    let told = Told::at(desk);
    let steps = if desk.may(WORK) {
        Steps::Offered
    } else {
        Steps::NotTheirs
    };
    let listed = |word: Word| format!("/units?status={}", word.code());
    let more = counts
        .iter()
        .filter(|(word, _)| waiting > MOST_ROWS && *word != Word::Ready)
        .map(|(word, count)| (format!("All {count}: {}", word.words()), listed(*word)))
        .collect();
    BoardPage {
        frame: desk.frame("Shop board"),
        counts: counts
            .iter()
            .map(|(word, count)| (word.status(), *count, listed(*word)))
            .collect(),
        rows: units
            .iter()
            .take(MOST_ROWS)
            .map(|unit| Row::of(unit, told, steps))
            .collect(),
        more,
        units: total,
        what_is_judged: WHAT_IS_JUDGED,
        no_winter_low: desk.shop.winter_low.is_none(),
        being_worked_out_again,
        may_manage: desk.may(&[Role::Manager]),
        beside,
        unfinished,
        first,
    }
}
