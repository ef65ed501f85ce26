//! `/u/{code}`: what a label leads to.

use askama::Template;
use axum::extract::Path;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use storage::{FoundUnit, Read, UnitSearch};

use crate::desk::{Desk, Frame};
use crate::form::printable;
use crate::intake::derived;
use crate::{WebError, page};

/// The address on the label of a code.
pub(crate) fn address(code: &str) -> String {
    format!("/u/{code}")
}

#[derive(Template)]
#[template(path = "label/find.html")]
struct FindPage {
    frame: Frame,
    heading: &'static str,
    code: String,
    /// Address and number of each unit that has this code.
    units: Vec<(String, String)>,
}

/// GET /u/{code}: to the unit's page. Two units can have one code, if hardly ever: then both are named.
pub(crate) async fn follow(desk: Desk, Path(code): Path<String>) -> Result<Response, WebError> {
    let units = match derived::read_unit_code(&code) {
        Some(code) => find(&mut desk.read().await?, &code).await?,
        None => Vec::new(),
    };
    if let [unit] = units.as_slice() {
        return Ok(Redirect::to(&format!("/units/{}", unit.unit)).into_response());
    }
    let (status, heading) = if units.is_empty() {
        (StatusCode::NOT_FOUND, "No unit has this label")
    } else {
        (StatusCode::OK, "More than one unit has this label")
    };
    let units = units
        .into_iter()
        .map(|unit| (format!("/units/{}", unit.unit), unit.number));
    let page = FindPage {
        frame: desk.frame(heading),
        heading,
        code: printable(&code),
        units: units.collect(),
    };
    Ok((status, page::shown(&page)).into_response())
}

/// Units of every shop, out of use or not: a label stays on what it was stuck to.
pub(crate) async fn find(read: &mut Read, code: &str) -> Result<Vec<FoundUnit>, WebError> {
    let all = UnitSearch {
        shop: None,
        text: String::new(),
        with_retired: true,
    };
    let units = read.search_units(&all, None, i64::MAX).await;
    let units = units.map_err(WebError::fault)?.into_iter();
    let own = units.filter(|unit| derived::unit_code(unit.unit) == code);
    Ok(own.collect())
}
