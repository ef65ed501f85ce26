//! GET /board/{what}: one list of what is out of order.

use askama::Template;
use axum::extract::{Path, RawQuery};
use axum::response::Response;

use super::exception::{self, Line, Morning, What};
use crate::component::{Pager, page_asked};
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::{WebError, page, upkeep};

const PER_PAGE: usize = 50;

#[derive(Template)]
#[template(path = "board/list.html")]
struct ListPage {
    frame: Frame,
    heading: &'static str,
    explained: &'static str,
    shop: String,
    lines: Vec<Line>,
    count: usize,
    pager: Pager,
}

pub(crate) async fn show_list(
    desk: Desk,
    Path(what): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let what = What::from_code(&what).ok_or(WebError::NotFound)?;
    let form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let units = upkeep::of_shop(&desk, &mut read, desk.shop.id).await?;
    let vessels = exception::vessels(&desk, &mut read).await?;
    let morning = Morning::read(&desk, &mut read, units, vessels).await?;
    let lines = morning.lines(&desk, &mut read, what).await?;
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let count = lines.len();
    let pager = Pager::over(("lines", count), asked, |page| {
        format!("/board/{}?page={page}", what.code())
    });
    Ok(page::shown(&ListPage {
        frame: desk.frame(what.words()),
        heading: what.words(),
        explained: what.explained(),
        shop: desk.shop.name.clone(),
        lines: pager.take(lines.into_iter()),
        count,
        pager,
    }))
}
