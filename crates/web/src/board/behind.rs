//! `/jobs-today` and `/open-questions`: the lists behind two counts of the board, for whoever sees it.

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;

use super::beside::{job_line, question_line};
use crate::WebError;
use crate::component::{Pager, page_asked};
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::intake::time;
use crate::page;

pub(super) const JOBS: &str = "/jobs-today";
pub(super) const QUESTIONS: &str = "/open-questions";
const PER_PAGE: usize = 100;

#[derive(Template)]
#[template(path = "board/behind.html")]
struct ListPage {
    frame: Frame,
    name: &'static str,
    shop: String,
    caption: String,
    /// What the second column says.
    column: &'static str,
    rows: Vec<Row>,
    none: &'static str,
    pager: Pager,
}

struct Row {
    address: String,
    what: String,
    told: String,
    struck: bool,
}

/// GET /jobs-today
pub(crate) async fn show_jobs(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let start = time::start_of_day(desk.today(), desk.zone()).map_err(WebError::fault)?;
    let jobs = read
        .list_jobs_of_shop_since(desk.shop.id, start.at, i64::MAX)
        .await
        .map_err(WebError::fault)?;
    drop(read);
    let rows = jobs.iter().map(|job| {
        let line = job_line(job, &desk);
        Row {
            address: line.address,
            what: line.what,
            told: line.when,
            struck: line.struck,
        }
    });
    let asked = (query.as_deref(), JOBS);
    Ok(shown(
        &desk,
        ("Jobs today", "When"),
        (rows.collect(), asked),
    ))
}

/// GET /open-questions
pub(crate) async fn show_questions(
    desk: Desk,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let questions = read
        .list_open_questions(Some(desk.shop.id), i64::MAX)
        .await
        .map_err(WebError::fault)?;
    drop(read);
    let rows = questions.iter().map(|asked| {
        let line = question_line(asked, &desk);
        Row {
            address: line.address,
            what: line.what,
            told: line.sentence,
            struck: false,
        }
    });
    let asked = (query.as_deref(), QUESTIONS);
    let words = ("Needs checking", "What looks odd");
    Ok(shown(&desk, words, (rows.collect(), asked)))
}

fn shown(
    desk: &Desk,
    (name, column): (&'static str, &'static str),
    (rows, (query, path)): (Vec<Row>, (Option<&str>, &str)),
) -> Response {
    let form = Form::from_query(query);
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let pager = Pager::over(("rows", rows.len()), asked, |page| {
        format!("{path}?page={page}")
    });
    let mut caption = format!("{} in all, newest first", rows.len());
    if !pager.page_of.is_empty() {
        caption = format!("{caption}. {}", pager.page_of);
    }
    page::shown(&ListPage {
        frame: desk.frame(name),
        name,
        shop: desk.shop.name.clone(),
        caption,
        column,
        none: if path == JOBS {
            "No job yet today."
        } else {
            "Nothing to check."
        },
        rows: pager.take(rows.into_iter()),
        pager,
    })
}
