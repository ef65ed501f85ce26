//! The page of a card: the same for a new unit and for one on record.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::compare::Difference;
use super::fields::CardFields;
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::page;

/// What a page says beside its fields.
#[derive(Clone, Debug, Default)]
pub(in crate::unit) struct Around {
    /// "New unit", "Edit unit 4204".
    pub(in crate::unit) heading: String,
    /// Where the form is sent.
    pub(in crate::unit) action: String,
    pub(in crate::unit) back: String,
    pub(in crate::unit) back_label: String,
    /// The unit that has the number already: its address and number.
    pub(in crate::unit) in_use: Option<(String, String)>,
    /// What somebody else changed since the form was opened.
    pub(in crate::unit) changed: Option<Changed>,
    pub(in crate::unit) not_confirmed: bool,
}

/// A change that came between.
#[derive(Clone, Debug)]
pub(in crate::unit) struct Changed {
    /// "P10 at 2026-10-05 07:42"
    pub(in crate::unit) by: String,
    /// Why they changed it.
    pub(in crate::unit) reason: String,
    /// On record now, and on this form.
    pub(in crate::unit) differences: Vec<Difference>,
}

#[derive(Template)]
#[template(path = "unit/card.html")]
struct CardPage {
    frame: Frame,
    around: Around,
    hidden: Vec<(&'static str, String)>,
    problems: Vec<FormProblem>,
    summary: String,
    fields: CardFields,
}

/// Fields that are not shown and come back as they were.
const HIDDEN: [&str; 2] = ["based_on", "opened"];

/// Draws it; the status follows from what is said on it.
pub(in crate::unit) fn draw(
    desk: &Desk,
    form: &Form,
    reason: Presence,
    around: Around,
) -> Response {
    let refused = !form.is_good() || around.changed.is_some();
    let title = match (refused, around.not_confirmed) {
        (true, _) => format!("Not saved: {}", around.heading),
        (false, true) => format!("Not confirmed: {}", around.heading),
        (false, false) => around.heading.clone(),
    };
    let status = match (refused, around.not_confirmed) {
        (_, true) => StatusCode::SERVICE_UNAVAILABLE,
        (true, false) => StatusCode::UNPROCESSABLE_ENTITY,
        (false, false) => StatusCode::OK,
    };
    let hidden = HIDDEN
        .into_iter()
        .map(|name| (name, form.put_back(name)))
        .filter(|(_, value)| !value.is_empty())
        .collect();
    let page = CardPage {
        frame: desk.frame(title),
        around,
        hidden,
        problems: form.problems().to_vec(),
        summary: form.summary(),
        fields: CardFields::of(form, desk.units(), reason),
    };
    (status, page::shown(&page)).into_response()
}
