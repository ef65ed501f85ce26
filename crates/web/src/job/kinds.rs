//! `/units/{unit}/jobs` and `/vessels/{vessel}/jobs`: which kind of job was it?

use askama::Template;
use axum::extract::Path;
use axum::response::Response;

use super::SHEETS;
use super::common::{address, sentence_case};
use super::ground::Ground;
use super::sheet::DoneOn;
use super::write::id;
use crate::desk::{Desk, Frame};
use crate::{WebError, page};

/// One kind with its way to the form.
struct Kind {
    address: String,
    word: String,
    purpose: &'static str,
}

#[derive(Template)]
#[template(path = "job/kinds.html")]
struct Page {
    frame: Frame,
    heading: String,
    back: String,
    back_label: String,
    kinds: Vec<Kind>,
    on_vessel: bool,
}

/// GET /units/{unit}/jobs
pub(crate) async fn show_on_unit(
    desk: Desk,
    Path(unit): Path<String>,
) -> Result<Response, WebError> {
    let ground = Ground::of_unit(&desk, id(&unit)?).await?;
    Ok(list(&desk, &ground, DoneOn::Unit))
}

/// GET /vessels/{vessel}/jobs
pub(crate) async fn show_on_vessel(
    desk: Desk,
    Path(vessel): Path<String>,
) -> Result<Response, WebError> {
    let ground = Ground::of_vessel(&desk, id(&vessel)?).await?;
    Ok(list(&desk, &ground, DoneOn::Vessel))
}

fn list(desk: &Desk, ground: &Ground, on: DoneOn) -> Response {
    let sheets = SHEETS
        .iter()
        .copied()
        .filter(|sheet| sheet.done_on().takes(on) && desk.may(sheet.logged_by()));
    let heading = format!("Log a job: {}", ground.name());
    page::shown(&Page {
        frame: desk.frame(heading.clone()),
        heading,
        back: ground.address(),
        back_label: ground.name().to_owned(),
        on_vessel: on == DoneOn::Vessel,
        kinds: sheets
            .map(|sheet| Kind {
                address: address(sheet, ground),
                word: sentence_case(sheet.kind().word()),
                purpose: sheet.purpose(),
            })
            .collect(),
    })
}
