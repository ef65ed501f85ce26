//! GET /winter/plan: the cheapest set of corrections that makes enough units ready, to print for the
//! yard.

use std::collections::HashMap;

use askama::Template;
use axum::extract::RawQuery;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use domain::condition::leak::as_volume;
use domain::condition::policy::Policy;
use domain::condition::readiness::{Step, WinterPlan, WinterState, WinterUnit, plan};
use domain::ids::UnitId;
use domain::quantity::rounding::{float, nearest};

use super::asked::Asked;
use super::fleet::{Each, judge_all};
use super::step;
use super::strip::status;
use crate::WebError;
use crate::component::{Counted, Pager, Piece, QuantityField, Said, Status, TextField};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::FormProblem;
use crate::page;
use crate::unit::row::unbroken;
use crate::unit::standing::Told;

const PATH: &str = "/winter/plan";
/// Lines of either list on a page, which is a sheet or two on paper.
const PER_PAGE: usize = 100;

#[derive(Template)]
#[template(path = "winter/plan.html")]
struct PlanPage {
    frame: Frame,
    low: QuantityField,
    wanted: TextField,
    shop_id: String,
    problems: Vec<FormProblem>,
    summary: String,
    back: String,
    shop: String,
    against: String,
    /// "Makes 37 of 38 units ready"
    finding: Said,
    concentrate: Counted,
    hours: Counted,
    cost: Counted,
    lines: Vec<PlanLine>,
    not_planned: Vec<PlanLine>,
    of_steps: Pager,
    of_others: Pager,
    /// What it was worked out with: what, how much, where from.
    policy: Vec<(String, String, &'static str)>,
    day: String,
}

/// What to do on one loop of a unit.
#[derive(Clone, Debug)]
struct PlanLine {
    address: String,
    number: String,
    kind: String,
    status: Status,
    freeze: String,
    what: String,
    /// Where the step is planned on the unit.
    plan: String,
    minutes: String,
    concentrate: String,
    cost: String,
}

/// GET /winter/plan
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let asked = Asked::read(&desk, &mut read, query.as_deref()).await?;
    let cold = asked.cold(&desk)?;
    let loops = read
        .list_loop_figures(asked.shop.id)
        .await
        .map_err(WebError::fault)?;
    drop(read);
    let units = judge_all(asked.shop.id, &loops, cold);
    let winter: Vec<WinterUnit> = units.iter().map(|unit| unit.winter.clone()).collect();
    let wanted = asked
        .wanted_percent
        .map_or(cold.policy.winter.coverage, |percent| {
            float(percent) / 100.0
        });
    let found = plan(&winter, wanted, cold.policy);
    let status = if asked.form.is_good() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let against = cold
        .low
        .map_or_else(String::new, |low| figure::temperature(desk.units(), low));
    let page = lay_out(&desk, (&asked, against), (&units, &found, cold.policy));
    Ok((status, page::shown(&page)).into_response())
}

fn lay_out(
    desk: &Desk,
    (asked, against): (&Asked, String),
    (units, found, policy): (&[Each], &WinterPlan, &Policy),
) -> PlanPage {
    let told = Told::at(desk);
    let by_id: HashMap<UnitId, &Each> = units.iter().map(|unit| (unit.winter.unit, unit)).collect();
    let steps = found.units.iter().flat_map(|(unit, steps)| {
        let unit = by_id.get(unit).copied();
        steps.iter().filter_map(move |step| Some((unit?, step)))
    });
    let steps: Vec<(&Each, &Step)> = steps.collect();
    let of_steps = Pager::over(("steps", steps.len()), (asked.page, PER_PAGE), |page| {
        asked.plan_address(PATH, (page, asked.others))
    });
    let of_others = Pager::over(
        ("units", found.not_planned.len()),
        (asked.others, PER_PAGE),
        |others| asked.plan_address(PATH, (asked.page, others)),
    );
    let lines = of_steps
        .take(steps.into_iter())
        .into_iter()
        .map(|(unit, step)| line(unit, Some(step), (step.place, String::new()), told))
        .collect();
    let not_planned = of_others.take(found.not_planned.iter()).into_iter();
    let not_planned = not_planned
        .filter_map(|(unit, place, why)| {
            let first = page::sentence(why.words());
            Some(line(by_id.get(unit)?, None, (*place, first), told))
        })
        .collect();
    let usual = nearest(policy.winter.coverage * 100.0).unwrap_or(100);
    PlanPage {
        frame: desk.frame("Winter plan"),
        low: asked.low_field(desk),
        wanted: asked.wanted_field(usual),
        shop_id: asked.shop.id.to_string(),
        problems: asked.form.problems().to_vec(),
        summary: asked.form.summary_after("Not worked out"),
        back: asked.address(super::PATH, asked.shop.id, &[]),
        shop: asked.shop.name.clone(),
        against,
        finding: finding(found, asked),
        concentrate: Counted::told(told.units.volume(as_volume(found.concentrate_l)), "#steps"),
        hours: Counted::told(
            format!("{} h", figure::decimal(told.units, found.minutes / 60.0, 1)),
            "#steps",
        ),
        cost: Counted::told(money(told, found.cost_hundredths), "#steps"),
        lines,
        not_planned,
        of_steps,
        of_others,
        policy: policy
            .rows
            .iter()
            .filter(|row| row.field.starts_with("winter_"))
            .map(|row| {
                let what = row.field.trim_start_matches("winter_").replace('_', " ");
                (what, row.figure.value.clone(), row.standing())
            })
            .collect(),
        day: desk.today().to_string(),
    }
}

fn finding(found: &WinterPlan, asked: &Asked) -> Said {
    let see_to = found.units.len();
    let ready = [("state", WinterState::Ready.code())];
    let then: Vec<Piece> = vec![
        Counted::told(found.after.ready.to_string(), "#plan").into(),
        " of ".into(),
        Counted::rows(
            found.after.units,
            asked.address(super::PATH, asked.shop.id, &[]),
        )
        .into(),
        " are ready then, ".into(),
        Counted::rows(
            found.before.ready,
            asked.address(super::PATH, asked.shop.id, &ready),
        )
        .into(),
        " now".into(),
    ];
    let units = if see_to == 1 {
        "1 unit"
    } else {
        &format!("{see_to} units")
    };
    let see_to =
        |words: &str| -> Vec<Piece> { vec![Counted::told(units, "#plan").into(), words.into()] };
    let (mut said, end) = if found.units.is_empty() {
        (vec!["No unit can or need be seen to: ".into()], ".")
    } else if found.reached {
        (see_to(" to see to, the cheapest first: "), ".")
    } else {
        (
            see_to(" to see to: "),
            ". That is less than is wanted; the others need something else first.",
        )
    };
    said.extend(then);
    said.push(end.into());
    said.into()
}

fn money(told: Told, hundredths: i64) -> String {
    figure::decimal(told.units, float(hundredths) / 100.0, 2)
}

fn line(
    unit: &Each,
    step: Option<&Step>,
    (place, first): (domain::ids::PlaceId, String),
    told: Told,
) -> PlanLine {
    let name = unit
        .winter
        .loops
        .iter()
        .zip(&unit.names)
        .find(|(each, _)| each.place == place)
        .map(|(_, name)| name.as_str())
        .filter(|_| unit.names.len() > 1);
    let what = step.map_or(first, |step| step::words(step, told));
    PlanLine {
        address: format!("/units/{}", unit.winter.unit),
        number: unit.number.clone(),
        kind: unit.kind.clone(),
        status: status(unit.state),
        freeze: unbroken(&unit.freeze.map_or_else(
            || "not known".to_owned(),
            |point| figure::freeze_with_spread(told.units, &point),
        )),
        plan: step::plan_address(unit, place),
        what: name.map_or_else(|| what.clone(), |name| format!("Loop {name}: {what}")),
        minutes: step.map_or_else(String::new, |step| {
            format!("{} min", figure::decimal(told.units, step.minutes, 0))
        }),
        concentrate: step.map_or_else(String::new, |step| {
            told.units.volume(as_volume(step.concentrate_l))
        }),
        cost: step.map_or_else(String::new, |step| money(told, step.cost_hundredths)),
    }
}
