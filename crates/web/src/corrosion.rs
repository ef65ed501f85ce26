//! GET /corrosion: how well each unit is protected from corrosion. Never merged with the freeze verdict.

use std::sync::Arc;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::condition::corrosion::{CorrosionReason, CorrosionVerdict};
use domain::fleet::Role;

use crate::WebError;
use crate::component::{Pager, Status, page_asked};
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::page::{self, sentence};
use crate::upkeep::{self, Asked, UnitUpkeep, corrosion};

const PER_PAGE: usize = 50;

#[derive(Template)]
#[template(path = "corrosion/list.html")]
struct ListPage {
    frame: Frame,
    counts: Vec<(Status, usize, String)>,
    rows: Vec<Row>,
    narrowed: Option<&'static str>,
    pager: Pager,
    units: usize,
    policy: String,
    may_add: bool,
    may_work: bool,
}

#[derive(Clone, Debug)]
struct Row {
    address: String,
    number: String,
    kind: String,
    status: Status,
    why: String,
    class: String,
    /// None where no job helps: what is missing is when it was filled.
    step: Option<(String, String)>,
}

/// GET /corrosion
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let wanted = corrosion::from_code(form.typed("verdict"));
    let mut read = desk.read().await?;
    let mut units = upkeep::of_shop(&desk, &mut read, desk.shop.id).await?;
    drop(read);
    let verdict = |unit: &Arc<UnitUpkeep>| {
        unit.worst_corrosion()
            .map(|(_, known)| known.corrosion.verdict())
    };
    let reason = |unit: &Arc<UnitUpkeep>| {
        unit.worst_corrosion()
            .map(|(_, known)| known.corrosion.reason)
    };
    units.retain(|unit| verdict(unit).is_some());
    units.sort_by_key(|unit| (verdict(unit), reason(unit)));
    let counts = CorrosionVerdict::ALL.into_iter().map(|each| {
        let count = units
            .iter()
            .filter(|unit| verdict(unit) == Some(each))
            .count();
        (
            corrosion::status(each),
            count,
            format!("/corrosion?verdict={}", corrosion::code(each)),
        )
    });
    let shown: Vec<&Arc<UnitUpkeep>> = units
        .iter()
        .filter(|unit| wanted.is_none_or(|wanted| verdict(unit) == Some(wanted)))
        .collect();
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let pager = Pager::over(("units", shown.len()), asked, |page| match wanted {
        Some(verdict) => format!(
            "/corrosion?verdict={}&page={page}",
            corrosion::code(verdict)
        ),
        None => format!("/corrosion?page={page}"),
    });
    let policy = Asked::at(&desk)?.policy;
    let rows = pager
        .take(shown.into_iter())
        .into_iter()
        .filter_map(|unit| row(&desk, unit));
    Ok(page::shown(&ListPage {
        frame: desk.frame("Corrosion protection"),
        counts: counts.filter(|(_, count, _)| *count > 0).collect(),
        rows: rows.collect(),
        narrowed: wanted.map(CorrosionVerdict::words),
        pager,
        units: units.len(),
        policy: format!("{}, in force from {}", policy.about, policy.effective_from),
        may_add: desk.may(&[Role::Manager]),
        may_work: desk.may(&[Role::Technician, Role::LeadHand, Role::Manager]),
    }))
}

fn row(desk: &Desk, unit: &UnitUpkeep) -> Option<Row> {
    let (of, known) = unit.worst_corrosion()?;
    let judged = &known.corrosion;
    let address = format!("/units/{}", unit.course.unit);
    let why = corrosion::why(judged, desk.units());
    let job = match judged.reason {
        CorrosionReason::NoCoolant => Some(("Fill", "fill")),
        CorrosionReason::Lost
        | CorrosionReason::Mixed
        | CorrosionReason::TooOld(_)
        | CorrosionReason::DueSoon(_)
        | CorrosionReason::TooConductive => Some(("Drain and refill", "exchange")),
        // A test proves nothing while nobody knows how old its filling is.
        CorrosionReason::AgeUnknown | CorrosionReason::ClassUnknown => None,
        _ => Some(("Test", "condition_test")),
    };
    Some(Row {
        number: unit.course.number.clone(),
        kind: unit.course.kind.clone(),
        status: corrosion::status(judged.verdict()),
        why: if unit.course.loops.len() > 1 {
            format!("{}: {}", of.name, sentence(&why))
        } else {
            sentence(&why)
        },
        class: judged
            .class
            .map_or_else(|| "not known".to_owned(), |class| class.word().to_owned()),
        step: job.map(|(verb, kind)| {
            let label = format!("{verb} unit {}", unit.course.number);
            (label, format!("{address}/jobs/{kind}"))
        }),
        address,
    })
}
