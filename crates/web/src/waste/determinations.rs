//! `/waste/determinations`: what was determined of the coolant of a site, on what grounds, and until
//! when its papers are kept.

use askama::Template;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::outcome::Measure;
use domain::fact::What;
use domain::rules::determination::{KeptUntil, keep_until};
use domain::rules::{AnalyteLimit, Profile};
use domain::waste::{Basis, Determination, Hazardous, LabSheet, Recycled};
use storage::{FlowLine, Read, TrailFilter};

use super::export::Csv;
use super::head::{Period, ReportHead};
use super::{MOST_STATED, OnSite, STATE, profiles};
use crate::WebError;
use crate::desk::{Desk, Frame};
use crate::page;
use crate::record::{Names, Wanted};

#[derive(Template)]
#[template(path = "waste/determinations.html")]
struct FilePage {
    frame: Frame,
    rows: Vec<Row>,
    may_state: bool,
    head: ReportHead,
}

/// A determination as the file has it.
struct Row {
    address: String,
    seq: i64,
    /// "D-5", "all waste coolant of the site".
    of: String,
    covers_from: NaiveDate,
    /// "hazardous: D008", "not hazardous".
    says: String,
    method: &'static str,
    /// The sheet with its values and limits, or what is known of the coolant.
    grounds: String,
    /// "P12, 2026-01-04".
    signed: String,
    last_sent: String,
    keep_until: String,
}

async fn rows(desk: &Desk, read: &mut Read, site: &OnSite) -> Result<Vec<Row>, WebError> {
    let filter = TrailFilter {
        kind: Some("determination".to_owned()),
        subject: Some(desk.shop.site.0),
        ..TrailFilter::default()
    };
    let mut found = Vec::new();
    let mut wanted = Wanted::default();
    for row in read
        .list_trail(&filter, None, MOST_STATED)
        .await
        .map_err(WebError::fault)?
    {
        let fact = row.fact().map_err(WebError::fault)?;
        if let What::Determination(determined) = fact.what {
            wanted.people.extend(fact.by.person);
            wanted.places.extend(determined.vessel);
            if let Basis::Knowledge(words) = &determined.basis {
                wanted.text(Some(words));
            }
            found.push((row.seq, (fact.by.person, fact.when.local_date), determined));
        }
    }
    let names = Names::of(read, wanted).await?;
    let earliest = found.iter().map(|(.., of)| of.covers_from).min();
    let days = (earliest.unwrap_or(desk.today()), desk.today());
    let sent = read
        .list_waste_lines(&site.shop_ids(), Measure::Shipped, days)
        .await
        .map_err(WebError::fault)?;
    let on_hold = site.stated.is_on_hold(desk.today());
    let mut rows = Vec::new();
    for (seq, (person, day), determined) in found {
        let profile = site.stated.profile_on(determined.covers_from, profiles()?);
        let last_sent = last_sent(&determined, &sent);
        // While it says what today's waste is, its waste was not sent for the last time. Waste of one
        // container may have left by way of another, so any shipment of the site puts the end off.
        let in_force = site
            .stated
            .determination_of(determined.vessel, desk.today());
        let ends = sent.iter().map(|line| line.day).max();
        let ends =
            ends.filter(|day| *day >= determined.covers_from && in_force != Some(&determined));
        let until = profile.map(|profile| keep_until(ends, profile, on_hold));
        rows.push(Row {
            address: format!("/records/{seq}"),
            seq,
            of: determined.vessel.map_or_else(
                || "all waste coolant of the site".to_owned(),
                |vessel| names.place(vessel),
            ),
            covers_from: determined.covers_from,
            says: says(&determined, profile),
            method: match determined.basis {
                Basis::Test(_) => "test",
                Basis::Knowledge(_) => "knowledge",
            },
            grounds: match &determined.basis {
                Basis::Test(sheet) => of_sheet(sheet, profile),
                Basis::Knowledge(words) => names.text(words, "words removed"),
            },
            signed: format!("{}, {day}", names.handle(person)),
            last_sent: last_sent.map_or_else(|| "none yet".to_owned(), |day| day.to_string()),
            keep_until: kept(until, on_hold),
        });
    }
    Ok(rows)
}

/// Until when papers are kept, in words; none: no rules were chosen.
fn kept(until: Option<KeptUntil>, on_hold: bool) -> String {
    match until {
        _ if on_hold => "on hold: no end".to_owned(),
        None => "no rules chosen: no end".to_owned(),
        Some(KeptUntil::NoEnd) => "no end yet".to_owned(),
        Some(KeptUntil::Day(day)) => day.to_string(),
    }
}

/// The last day something was shipped out of the containers that a determination is of, from when it
/// covers them on. What was determined later does not end it: its papers are never kept for less.
fn last_sent(of: &Determination, sent: &[FlowLine]) -> Option<NaiveDate> {
    let own = sent.iter().filter(|line| {
        line.day >= of.covers_from && (of.vessel.is_none() || line.vessel == of.vessel)
    });
    own.map(|line| line.day).max()
}

/// With the entry in the list of waste, where the rules have one: "not hazardous: 16 01 15".
fn says(of: &Determination, profile: Option<&Profile>) -> String {
    let list = profile.and_then(|profile| profile.waste_list.as_ref());
    let is_hazardous = of.hazardous == Hazardous::Yes;
    let mut codes: Vec<&str> = Vec::new();
    codes.extend(list.map(|list| list.entry(is_hazardous).value.as_str()));
    for code in of.codes.iter().filter(|_| is_hazardous) {
        if !codes.contains(&code.as_str()) {
            codes.push(code);
        }
    }
    let word = if is_hazardous {
        "hazardous"
    } else {
        "not hazardous"
    };
    let recycled = match of.recycled {
        None => "",
        Some(Recycled::Otherwise) => ", recycled",
        Some(Recycled::BestPractice) => ", recycled by listed practice",
    };
    let word = format!("{word}{recycled}");
    if codes.is_empty() {
        word
    } else {
        format!("{word}: {}", codes.join(", "))
    }
}

/// "LAB 7, sampled 2026-09-02: lead 6.8 mg/L (limit 5, D008); pH 8.1".
fn of_sheet(sheet: &LabSheet, profile: Option<&Profile>) -> String {
    let limits: &[AnalyteLimit] = profile
        .and_then(|profile| profile.test.as_ref())
        .map_or(&[], |test| &test.limits);
    let values = sheet.lines.iter().map(|line| {
        let name = line.analyte.to_lowercase();
        let limit = limits.iter().find(|limit| limit.analyte == name);
        let limit = limit.map_or_else(
            || "these rules have no limit for it".to_owned(),
            |limit| format!("limit {}, {}", limit.limit_mg_per_l.value, limit.code),
        );
        format!("{} {} ({limit})", line.analyte, line.told())
    });
    let figures = sheet.figures().map(|(what, said)| format!("{what} {said}"));
    let values: Vec<String> = values.chain(figures).collect();
    let sample = sheet.sample.as_ref();
    let sample = sample.map_or_else(String::new, |mark| format!(", sample {mark}"));
    format!(
        "{}{sample}, sampled {}: {}",
        sheet.number,
        sheet.sampled_on,
        values.join("; ")
    )
}

/// All that were ever stated, from the first day that one covers on.
fn head(desk: &Desk, site: &OnSite, rows: &[Row]) -> Result<ReportHead, WebError> {
    let first = rows.iter().map(|row| row.covers_from).min();
    let period = Period::Days(
        first.unwrap_or(desk.today()).min(desk.today()),
        desk.today(),
    );
    let report = ("R5 determination file", period);
    ReportHead::of((desk, site), report, vec![("determinations", rows.len())])
}

/// GET /waste/determinations
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let rows = rows(&desk, &mut read, &site).await?;
    Ok(page::shown(&FilePage {
        frame: desk.frame("Determinations"),
        head: head(&desk, &site, &rows)?,
        rows,
        may_state: desk.may(STATE),
    }))
}

/// GET /waste/determinations.csv
pub(crate) async fn file(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let rows = rows(&desk, &mut read, &site).await?;
    let mut csv = Csv::default();
    let today = desk.today().to_string();
    head(&desk, &site, &rows)?.above(&mut csv);
    csv.row(&[
        "of",
        "covers from",
        "says",
        "method",
        "sheet with values and limits, or what is known",
        "signed",
        "last shipment",
        "keep until",
        "event",
    ]);
    for row in &rows {
        csv.row(&[
            Csv::text(&row.of),
            row.covers_from.to_string(),
            Csv::text(&row.says),
            row.method.to_owned(),
            Csv::text(&row.grounds),
            Csv::text(&row.signed),
            row.last_sent.clone(),
            row.keep_until.clone(),
            row.seq.to_string(),
        ]);
    }
    csv.answer(&format!("waste-determinations-{today}"))
}
