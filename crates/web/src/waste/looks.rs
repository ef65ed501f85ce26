//! `/waste/looks`: the log of the weekly looks at the waste containers of a site, over a span of days.

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use chrono::{Days, NaiveDate};
use domain::fact::{ContainerChange, LOOKED_AT};
use domain::words::Text;
use storage::{ContainerRow, Read};

use super::OnSite;
use super::export::Csv;
use super::head::{Period, ReportHead};
use crate::WebError;
use crate::component::{TextField, Width};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::page;
use crate::record::{Names, Wanted};

type Named = (&'static str, &'static str);

const FROM: Named = ("from", "From, like 2025-10-05 (optional)");
const TO: Named = ("to", "To, like 2026-10-05 (optional)");

/// The days a log is of where nobody says: an inspector asks for twelve months.
const USUAL_DAYS: u64 = 365;
/// Looks at one container that are read.
const MOST_EVENTS: i64 = 2_000;

/// One look at one container.
struct Look {
    seq: i64,
    day: NaiveDate,
    person: String,
    container: String,
    address: String,
    found: String,
    /// "2026-09-14", "not yet", nothing.
    corrected: String,
}

#[derive(Template)]
#[template(path = "waste/looks.html")]
struct LooksPage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    from: TextField,
    to: TextField,
    span: String,
    looks: Vec<Look>,
    amiss: usize,
    /// What the file is asked for with.
    asked: String,
    head: ReportHead,
}

/// The days asked for; where nothing or nothing readable was asked, the twelve months up to today.
fn days_asked(desk: &Desk, form: &mut Form) -> (NaiveDate, NaiveDate) {
    let from = form.day(FROM, Presence::Optional);
    let to = form.day(TO, Presence::Optional).unwrap_or(desk.today());
    let usual = to.checked_sub_days(Days::new(USUAL_DAYS)).unwrap_or(to);
    let from = from.unwrap_or(usual);
    if from > to {
        let text = format!("{from} is after {to}; write the earlier day first");
        form.note(FROM.0, FROM.1, text);
        return (usual, to);
    }
    (from, to)
}

/// The looks of a span, the latest first.
async fn looks(
    read: &mut Read,
    (site, days): (&OnSite, (NaiveDate, NaiveDate)),
) -> Result<Vec<Look>, WebError> {
    let mut found: Vec<(ContainerRow, Option<Text>, String)> = Vec::new();
    let mut wanted = Wanted::default();
    for shop in site.shop_ids() {
        for card in read.list_vessels(shop).await.map_err(WebError::fault)? {
            let events = read
                .list_container_events((card.id, LOOKED_AT), MOST_EVENTS)
                .await
                .map_err(WebError::fault)?;
            // Earliest first, so that what comes after a look stands behind it.
            let looks: Vec<(ContainerRow, Option<Text>)> = events
                .into_iter()
                .rev()
                .filter_map(|row| match row.event.clone() {
                    ContainerChange::Inspected(amiss) => Some((row, amiss)),
                    _ => None,
                })
                .collect();
            let days_amiss: Vec<(NaiveDate, bool)> = looks
                .iter()
                .map(|(row, amiss)| (row.day, amiss.is_some()))
                .collect();
            for (n, (row, amiss)) in looks.into_iter().enumerate() {
                wanted.people.extend(row.by);
                wanted.places.insert(row.vessel);
                wanted.text(amiss.as_ref());
                let corrected = match &amiss {
                    None => String::new(),
                    Some(_) => days_amiss
                        .get(n.saturating_add(1)..)
                        .and_then(domain::waste::first_good)
                        .map_or_else(|| "not yet".to_owned(), |day| day.to_string()),
                };
                if (days.0..=days.1).contains(&row.day) {
                    found.push((row, amiss, corrected));
                }
            }
        }
    }
    let names = Names::of(read, wanted).await?;
    found.sort_by_key(|(row, ..)| std::cmp::Reverse((row.day, row.order)));
    Ok(found
        .into_iter()
        .map(|(row, amiss, corrected)| Look {
            seq: row.seq,
            day: row.day,
            person: row
                .by
                .map_or_else(|| "nobody named".to_owned(), |by| names.handle(Some(by))),
            container: names.place(row.vessel),
            address: format!("/records/{}", row.seq),
            found: amiss.as_ref().map_or_else(
                || "nothing amiss".to_owned(),
                |amiss| names.text(amiss, "words removed"),
            ),
            corrected,
        })
        .collect())
}

fn head(
    about: (&Desk, &OnSite),
    (from, to): (NaiveDate, NaiveDate),
    looks: &[Look],
) -> Result<ReportHead, WebError> {
    let report = ("R4 weekly inspection log", Period::Days(from, to));
    ReportHead::of(about, report, vec![("looks", looks.len())])
}

/// GET /waste/looks
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let (from, to) = days_asked(&desk, &mut form);
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let looks = looks(&mut read, (&site, (from, to))).await?;
    Ok(page::shown(&LooksPage {
        frame: desk.frame(format!("Weekly looks, {from} to {to}")),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        from: form.text_field(FROM, "", Width::Ten),
        to: form.text_field(TO, "", Width::Ten),
        span: format!("{from} to {to}"),
        amiss: looks
            .iter()
            .filter(|look| !look.corrected.is_empty())
            .count(),
        head: head((&desk, &site), (from, to), &looks)?,
        looks,
        asked: format!("from={from}&to={to}"),
    }))
}

/// GET /waste/looks.csv
pub(crate) async fn file(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let (from, to) = days_asked(&desk, &mut form);
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let looks = looks(&mut read, (&site, (from, to))).await?;
    let mut csv = Csv::default();
    head((&desk, &site), (from, to), &looks)?.above(&mut csv);
    csv.row(&[
        "day",
        "person",
        "container",
        "found",
        "corrected on",
        "event",
    ]);
    for look in &looks {
        csv.row(&[
            look.day.to_string(),
            Csv::text(&look.person),
            Csv::text(&look.container),
            Csv::text(&look.found),
            look.corrected.clone(),
            look.seq.to_string(),
        ]);
    }
    csv.answer(&format!("waste-looks-{from}-{to}"))
}
