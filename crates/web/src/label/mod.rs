//! `/labels`: labels of units, chosen, seen at their size and printed.

pub(crate) mod find;

use askama::Template;
use axum::extract::RawQuery;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use domain::ids::UnitId;
use storage::{FoundUnit, UnitSearch};

use crate::component::{Choice, ChoiceField, ChoiceLook, Qr, TextField, Width};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem};
use crate::intake::derived;
use crate::{WebError, page, tablet};

const TEXT: (&str, &str) = ("text", "Show units");
const UNITS: (&str, &str) = ("unit[]", "Units");
/// Units that are offered at once; the text narrows them down.
const MOST_OFFERED: i64 = 200;
/// Signs of a number whose digits are 20 mm tall on a label of half the sheet, and of the whole.
const NARROW: usize = 4;
const WIDE: usize = 9;

#[derive(Template)]
#[template(path = "label/sheet.html")]
struct LabelPage {
    frame: Frame,
    text: TextField,
    units: ChoiceField,
    /// More units than are offered.
    more: bool,
    none_found: bool,
    labels: Vec<Label>,
    /// Some number is too long for digits of 20 mm.
    some_long: bool,
    problems: Vec<FormProblem>,
    summary: String,
}

/// One label.
#[derive(Debug)]
struct Label {
    number: String,
    kind: String,
    /// "7K3M-9QTX".
    code: String,
    qr: Qr,
    class: &'static str,
}

impl Label {
    fn of(unit: &FoundUnit, origin: &str) -> Result<Self, WebError> {
        let code = derived::unit_code(unit.unit);
        let signs = unit.number.chars().count();
        let class = if signs <= NARROW {
            ""
        } else if signs <= WIDE {
            "wide"
        } else {
            "wide long"
        };
        Ok(Self {
            number: unit.number.clone(),
            kind: unit.kind.clone(),
            qr: Qr::of(&format!("{origin}{}", find::address(&code)))?,
            code: in_groups(&code),
            class,
        })
    }
}

/// As it is read aloud: "7K3M-9QTX".
fn in_groups(code: &str) -> String {
    code.split_at_checked(4)
        .map_or_else(|| code.to_owned(), |(one, two)| format!("{one}-{two}"))
}

/// GET /labels
pub(crate) async fn show(
    desk: Desk,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let text: String = form.typed(TEXT.0).trim().chars().take(100).collect();
    let search = UnitSearch {
        shop: Some(desk.shop.id),
        text,
        with_retired: false,
    };
    let mut read = desk.read().await?;
    let total = read.count_units(&search).await.map_err(WebError::fault)?;
    let found = read
        .search_units(&search, None, MOST_OFFERED)
        .await
        .map_err(WebError::fault)?;
    // What was chosen stays chosen, whatever is shown to choose from now.
    let all = UnitSearch {
        text: String::new(),
        ..search
    };
    let all = read
        .search_units(&all, None, i64::MAX)
        .await
        .map_err(WebError::fault)?;
    drop(read);
    let ids: Vec<String> = all.iter().map(|unit| unit.unit.to_string()).collect();
    let offered: Vec<(&str, &FoundUnit)> = ids.iter().map(String::as_str).zip(&all).collect();
    let chosen = form.choices(UNITS, &offered);
    let origin = tablet::origin(&desk, &headers)?;
    let labels = chosen.iter().map(|unit| Label::of(unit, &origin));
    let labels = labels.collect::<Result<Vec<_>, _>>()?;
    let kept: Vec<UnitId> = chosen.iter().map(|unit| unit.unit).collect();
    let not_shown = |unit: &&&FoundUnit| !found.iter().any(|it| it.unit == unit.unit);
    let choices = chosen
        .iter()
        .filter(not_shown)
        .copied()
        .chain(&found)
        .map(|unit| Choice {
            value: unit.unit.to_string(),
            label: unit.number.clone(),
            hint: unit.kind.clone(),
            chosen: kept.contains(&unit.unit),
            ..Choice::default()
        });
    let choices: Vec<Choice> = choices.collect();
    let status = if form.is_good() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = LabelPage {
        frame: desk.frame("Unit labels"),
        text: TextField {
            kind: "search",
            ..form.text_field(
                TEXT,
                "Part of a number, kind or engine family; empty for all units of this shop.",
                Width::Twenty,
            )
        },
        more: total > MOST_OFFERED,
        none_found: choices.is_empty(),
        units: form.choice_field(UNITS, "", choices, ChoiceLook::AnyOf),
        some_long: labels.iter().any(|label| label.class.contains("long")),
        labels,
        problems: form.problems().to_vec(),
        summary: form.summary_after("Not shown"),
    };
    Ok((status, page::shown(&page)).into_response())
}

#[cfg(test)]
mod tests {
    use super::in_groups;

    #[test]
    fn a_code_is_read_aloud_in_two_groups() {
        assert_eq!(in_groups("7K3M9QTX"), "7K3M-9QTX");
        assert_eq!(in_groups("7K"), "7K");
    }
}
