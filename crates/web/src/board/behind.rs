//! `/jobs-today` and `/open-questions`: the lists behind two counts of the board, for whoever sees it.

use std::cmp::Reverse;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::book::month::Month;
use storage::{QuestionOfMonth, Read};

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
    let asked = (query.as_deref(), JOBS);
    let pager = pager(jobs.len(), asked);
    let rows = pager.take(jobs.iter()).into_iter().map(|job| {
        let line = job_line(job, &desk);
        Row {
            address: line.address,
            what: line.what,
            told: line.when,
            struck: line.struck,
        }
    });
    let list = List {
        total: jobs.len(),
        rows: rows.collect(),
        pager,
        none: "No job yet today.",
    };
    Ok(shown(&desk, ("Jobs today", "When"), list, of_shop(&desk)))
}

/// GET /open-questions: those of the shop, or with a month in the address those about facts of that month
/// in all shops of its site.
pub(crate) async fn show_questions(
    desk: Desk,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let (questions, total, pager, about) = if let Some(month) = month_asked(query.as_deref())? {
        let all = of_month(&desk, &mut read, month).await?;
        let pager = pager(all.len(), (query.as_deref(), &questions_of(month)));
        let of_page = pager.take(all.iter().copied());
        let drawn = read.list_these_questions(&of_page).await;
        let whose = format!("About {month}, all shops of the site");
        let back = (format!("/waste?month={month}"), format!("Waste in {month}"));
        let drawn = drawn.map_err(WebError::fault)?;
        (drawn, all.len(), pager, (whose, back))
    } else {
        let all = read.list_open_questions(Some(desk.shop.id), i64::MAX).await;
        let all = all.map_err(WebError::fault)?;
        let (total, asked) = (all.len(), (query.as_deref(), QUESTIONS));
        let pager = pager(total, asked);
        (pager.take(all.into_iter()), total, pager, of_shop(&desk))
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
    let list = List {
        total,
        rows: rows.collect(),
        pager,
        none: "Nothing to check.",
    };
    let words = ("Needs checking", "What looks odd");
    Ok(shown(&desk, words, list, about))
}

/// The month in an address, where it names one.
fn month_asked(query: Option<&str>) -> Result<Option<Month>, WebError> {
    let form = Form::from_query(query);
    let typed = form.typed("month").trim();
    if typed.is_empty() {
        return Ok(None);
    }
    let month = Month::try_from(typed.to_owned());
    month.map(Some).map_err(|detail| WebError::Refused {
        detail,
        problems: Vec::new(),
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
) -> Result<Vec<QuestionOfMonth>, WebError> {
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    let mut all = Vec::new();
    for shop in shops.iter().filter(|shop| shop.site == desk.shop.site) {
        let asked = read.list_open_questions_of_month(shop.id, month).await;
        all.extend(asked.map_err(WebError::fault)?);
    }
    all.sort_by_key(|question| Reverse(question.at));
    Ok(all)
}

/// What a page of a list shows.
struct List {
    /// How many rows there are in all.
    total: usize,
    /// Those of the page.
    rows: Vec<Row>,
    pager: Pager,
    none: &'static str,
}

/// Whose list it is, and where its count stands: address and label.
type About = (String, (String, String));

fn of_shop(desk: &Desk) -> About {
    let back = ("/".to_owned(), "Shop board".to_owned());
    (desk.shop.name.clone(), back)
}

fn pager(total: usize, (query, path): (Option<&str>, &str)) -> Pager {
    let form = Form::from_query(query);
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let before_page = if path.contains('?') { '&' } else { '?' };
    Pager::over(("rows", total), asked, |page| {
        format!("{path}{before_page}page={page}")
    })
}

fn shown(
    desk: &Desk,
    (name, column): (&'static str, &'static str),
    list: List,
    (shop, back): About,
) -> Response {
    let mut caption = format!("{} in all, newest first", list.total);
    if !list.pager.page_of.is_empty() {
        caption = format!("{caption}. {}", list.pager.page_of);
    }
    page::shown(&ListPage {
        frame: desk.frame(name),
        name,
        back,
        shop,
        caption,
        column,
        none: list.none,
        rows: list.rows,
        pager: list.pager,
    })
}
