//! `/stock`: fluid issued against the use that was recorded, by month, and what no job explains.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::RawQuery;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use domain::book::month::Month;
use domain::book::outcome::Measure;
use storage::{DipRow, Dips};

use crate::WebError;
use crate::component::{Counted, Pager, Piece, Said, TextField, page_asked};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::{Form, FormProblem};
use crate::key_figure::period::Span;
use crate::page;

const PER_PAGE: usize = 50;

#[derive(Template)]
#[template(path = "key_figure/stock.html")]
struct StockPage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    from: TextField,
    to: TextField,
    shop: String,
    span: String,
    finding: Said,
    months: Vec<MonthLine>,
    dips: Vec<DipLine>,
    pager: Pager,
}

struct MonthLine {
    month: String,
    filled: Counted,
    topped_up: Counted,
    /// None where nobody dipped: nothing is known then.
    issued: Option<Counted>,
    unexplained: Option<Counted>,
    /// How many jobs dipped.
    dips: Counted,
}

struct DipLine {
    vessel: String,
    vessel_address: String,
    day: String,
    address: String,
    missing: String,
}

/// GET /stock
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let span = Span::read(&mut form, desk.today());
    let mut read = desk.read().await?;
    let flows = read
        .list_flows_by_month(desk.shop.id, (span.first, span.last))
        .await
        .map_err(WebError::fault)?;
    let dips = read
        .list_dips_of_stock(span.period(&desk)?)
        .await
        .map_err(WebError::fault)?;
    drop(read);
    let mut by_month: BTreeMap<String, Vec<&DipRow>> = BTreeMap::new();
    for dip in &dips.differing {
        let month: String = dip.local_date.chars().take(7).collect();
        by_month.entry(month).or_default().push(dip);
    }
    let flow = |month: Month, measure: Measure| {
        let mut flows = flows.iter();
        let flow = flows.find(|flow| flow.month == month && flow.measure == measure);
        flow.map_or(0, |flow| flow.shown_ml)
    };
    let dipped = |month: Month| {
        let month = month.to_string();
        let jobs = dips.jobs.iter();
        jobs.filter(|job| job.local_date.starts_with(&month))
            .count()
    };
    let months = span.months().into_iter().rev().map(|month| {
        let found = by_month
            .get(&month.to_string())
            .map_or(&[][..], Vec::as_slice);
        let volumes =
            [Measure::FilledFromVessel, Measure::ToppedUp].map(|of| (of, flow(month, of)));
        month_line(&desk, (month, span), volumes, (found, dipped(month)))
    });
    let nothing = figure::volume(desk.units(), 0);
    // What is nothing as it is shown is no difference to whoever reads it.
    let differs = |dip: &&DipRow| figure::volume(desk.units(), dip.missing_ml) != nothing;
    let shown: Vec<&DipRow> = dips.differing.iter().rev().filter(differs).collect();
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let pager = Pager::over(("dips", shown.len()), asked, |page| {
        format!("/stock?{}&page={page}#dips", span.query())
    });
    let (from, to) = Span::fields(&form, span);
    let status = if form.is_good() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = StockPage {
        frame: desk.frame("Stock of fluid"),
        problems: form.problems().to_vec(),
        summary: form.summary_after("Not shown"),
        from,
        to,
        shop: desk.shop.name.clone(),
        span: span.words(),
        finding: finding(&desk, &dips, span),
        months: months.collect(),
        dips: pager.take(shown.into_iter().map(|dip| dip_line(&desk, dip))),
        pager,
    };
    Ok((status, page::shown(&page)).into_response())
}

fn missing_ml<'a>(dips: impl Iterator<Item = &'a DipRow>) -> i64 {
    dips.map(|dip| dip.missing_ml).fold(0, i64::saturating_add)
}

fn finding(desk: &Desk, dips: &Dips, span: Span) -> Said {
    let missing = missing_ml(dips.differing.iter());
    let a_month = missing
        .checked_div(i64::from(span.count()))
        .unwrap_or(missing);
    if dips.jobs.is_empty() {
        return "No vessel was dipped, so what is missing is not known.".into();
    }
    let behind = format!("/figures/dips?{}", span.query());
    let shown = |ml| figure::volume(desk.units(), ml);
    let said: Vec<Piece> = vec![
        Counted::sum((shown(missing), missing), behind.clone()).into(),
        " on no job, ".into(),
        Counted::told(shown(a_month), behind).into(),
        " a month.".into(),
    ];
    said.into()
}

fn month_line(
    desk: &Desk,
    (month, span): (Month, Span),
    [filled, topped_up]: [(Measure, i64); 2],
    (differing, dips): (&[&DipRow], usize),
) -> MonthLine {
    let units = desk.units();
    let linked = |(measure, ml): (Measure, i64)| {
        let behind = format!(
            "/figures/{}?{}&month={month}#jobs",
            measure.code(),
            span.query()
        );
        Counted::sum((figure::volume(units, ml), ml), behind)
    };
    let missing = missing_ml(differing.iter().copied());
    let issued = filled.1.saturating_add(topped_up.1).saturating_add(missing);
    let behind = format!("/figures/dips?from={month}&to={month}");
    let issued_behind = format!("/stock?from={month}&to={month}");
    MonthLine {
        month: month.to_string(),
        filled: linked(filled),
        topped_up: linked(topped_up),
        issued: (dips > 0).then(|| Counted::told(figure::volume(units, issued), issued_behind)),
        unexplained: (dips > 0)
            .then(|| Counted::sum((figure::volume(units, missing), missing), behind.clone())),
        dips: Counted::rows(dips, behind),
    }
}

fn dip_line(desk: &Desk, dip: &DipRow) -> DipLine {
    DipLine {
        vessel: dip.name.clone(),
        vessel_address: format!("/vessels/{}", dip.vessel),
        day: dip.local_date.clone(),
        address: format!("/records/{}", dip.seq),
        missing: figure::volume(desk.units(), dip.missing_ml),
    }
}
