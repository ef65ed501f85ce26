//! `/jobs-today` and `/open-questions`: the lists behind two counts of the board, for whoever sees it.

use std::cmp::Reverse;
use std::collections::BTreeSet;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::book::month::Month;
use domain::fact::QuestionId;
use storage::{OpenQuestion, Read};

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
    /// Where the count stands: address and label.
    back: (String, String),
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

/// GET /open-questions: those of the shop, or with a month in the address those about facts of that month
/// in all shops of its site.
pub(crate) async fn show_questions(
    desk: Desk,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let asked = Form::from_query(query.as_deref());
    let month = Month::try_from(asked.typed("month").to_owned()).ok();
    let questions = match month {
        Some(month) => of_month(&desk, &mut read, month).await?,
        None => read
            .list_open_questions(Some(desk.shop.id), i64::MAX)
            .await
            .map_err(WebError::fault)?,
    };
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
    let rows = rows.collect();
    let words = ("Needs checking", "What looks odd");
    Ok(match month {
        Some(month) => {
            let path = questions_of(month);
            let whose = format!("About {month}, all shops of the site");
            let back = (format!("/waste?month={month}"), format!("Waste in {month}"));
            let list = (rows, (query.as_deref(), path.as_str()));
            shown_of(&desk, words, list, (whose, back))
        }
        None => shown(&desk, words, (rows, (query.as_deref(), QUESTIONS))),
    })
}

/// The address of the questions of a month.
pub(crate) fn questions_of(month: Month) -> String {
    format!("{QUESTIONS}?month={month}")
}

/// The questions about facts of a month of the site that nobody answered, the newest first.
async fn of_month(
    desk: &Desk,
    read: &mut Read,
    month: Month,
) -> Result<Vec<OpenQuestion>, WebError> {
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    let mut all = Vec::new();
    for shop in shops.iter().filter(|shop| shop.site == desk.shop.site) {
        let asked = read.list_open_questions_of_month(shop.id, month).await;
        let asked: BTreeSet<QuestionId> = asked.map_err(WebError::fault)?.into_iter().collect();
        if asked.is_empty() {
            continue;
        }
        let open = read.list_open_questions(Some(shop.id), i64::MAX).await;
        let open = open.map_err(WebError::fault)?.into_iter();
        all.extend(open.filter(|question| asked.contains(&question.id)));
    }
    all.sort_by_key(|question| Reverse(question.order));
    Ok(all)
}

fn shown(
    desk: &Desk,
    words: (&'static str, &'static str),
    list: (Vec<Row>, (Option<&str>, &str)),
) -> Response {
    let back = ("/".to_owned(), "Shop board".to_owned());
    shown_of(desk, words, list, (desk.shop.name.clone(), back))
}

fn shown_of(
    desk: &Desk,
    (name, column): (&'static str, &'static str),
    (rows, (query, path)): (Vec<Row>, (Option<&str>, &str)),
    (whose, back): (String, (String, String)),
) -> Response {
    let form = Form::from_query(query);
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let before_page = if path.contains('?') { '&' } else { '?' };
    let pager = Pager::over(("rows", rows.len()), asked, |page| {
        format!("{path}{before_page}page={page}")
    });
    let mut caption = format!("{} in all, newest first", rows.len());
    if !pager.page_of.is_empty() {
        caption = format!("{caption}. {}", pager.page_of);
    }
    page::shown(&ListPage {
        frame: desk.frame(name),
        name,
        back,
        shop: whose,
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
