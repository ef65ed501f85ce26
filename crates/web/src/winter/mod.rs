//! `/winter`: which units freeze first, how many of each shop are ready, and what makes enough of
//! them so.

mod asked;
mod fleet;
pub(crate) mod plan;
mod step;
mod strip;

use askama::Template;
use axum::extract::RawQuery;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use domain::condition::policy::{Policies, Policy};
use domain::condition::readiness::{Coverage, WinterState};
use domain::fleet::Role;
use storage::{LoopFigures, Read};

use crate::WebError;
use crate::component::{Counted, Pager, Piece, QuantityField, Said, Status};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::FormProblem;
use crate::page;
use crate::unit::standing::Told;

use asked::{Asked, Only};
use fleet::{Cold, Each, count_ready, count_states, judge_all};
pub(crate) use strip::percent;
use strip::{Row, Scale};

pub(crate) const PATH: &str = "/winter";
const PER_PAGE: usize = 40;

#[derive(Template)]
#[template(path = "winter/show.html")]
struct WinterPage {
    frame: Frame,
    low: QuantityField,
    shop_id: String,
    problems: Vec<FormProblem>,
    summary: String,
    /// "−31.0 °C"; empty where none is set.
    against: String,
    is_forecast: bool,
    shop: String,
    /// The finding: "25 of 38 units are ready".
    finding: Said,
    /// What strength and spread alone say, and how many have little to spare.
    by_figures: Said,
    /// Status, how many units, where they are listed.
    counts: Vec<(Status, usize, String)>,
    all: String,
    /// What the list is narrowed to.
    narrowed: Option<&'static str>,
    rows: Vec<Row>,
    shops: Vec<ShopLine>,
    plan: String,
    pager: Pager,
    margin: String,
    probability: String,
    test_days: i64,
    units: usize,
    may_manage: bool,
    may_add: bool,
}

/// The coverage of one shop.
#[derive(Clone, Debug)]
struct ShopLine {
    name: String,
    address: String,
    low: String,
    ready: Counted,
    units: Counted,
    covered: Counted,
    is_this: bool,
}

/// GET /winter
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let asked = Asked::read(&desk, &mut read, query.as_deref()).await?;
    let cold = asked.cold(&desk)?;
    let loops = read
        .list_loop_figures(asked.shop.id)
        .await
        .map_err(WebError::fault)?;
    let units = judge_all(asked.shop.id, &loops, cold);
    let shops = shops(&desk, &mut read, (&asked, &units)).await?;
    let status = if asked.form.is_good() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = lay_out(&desk, &asked, (&units, shops, cold));
    Ok((status, page::shown(&page)).into_response())
}

/// How a count stands, how many, where they are listed.
type Count = (Status, usize, String);

/// How many units of the shop somebody stands in are ready, in a sentence; and how many stand at each
/// state that is not, with their list.
pub(crate) fn in_short(desk: &Desk, loops: &[LoopFigures]) -> Result<(Said, Vec<Count>), WebError> {
    let cold = Cold {
        low: desk.shop.winter_low,
        now: desk.now_ms(),
        policy: Policies::on(desk.today()).map_err(WebError::fault)?,
    };
    let states = count_states(loops, cold);
    let waiting = states
        .iter()
        .filter(|(state, _)| **state != WinterState::Ready)
        .map(|(state, count)| {
            let address = format!("{PATH}?shop={}&state={}", desk.shop.id, state.code());
            (strip::status(*state), *count, address)
        });
    let behind = Behind {
        ready: format!("{PATH}?state={}", WinterState::Ready.code()),
        all: PATH.to_owned(),
        plan: "/winter/plan".to_owned(),
    };
    let said = finding(
        fleet::coverage(&states),
        cold.policy.winter.coverage,
        behind,
    );
    Ok((said, waiting.collect()))
}

async fn shops(
    desk: &Desk,
    read: &mut Read,
    (asked, own): (&Asked, &[Each]),
) -> Result<Vec<ShopLine>, WebError> {
    let mut lines = Vec::new();
    for shop in read.list_shops().await.map_err(WebError::fault)? {
        let is_this = shop.id == asked.shop.id;
        let low = asked.forecast.or(shop.winter_low);
        let coverage = if is_this {
            coverage(own)
        } else {
            let cold = Cold {
                low,
                ..asked.cold(desk)?
            };
            let loops = read.list_loop_figures(shop.id).await;
            count_ready(&loops.map_err(WebError::fault)?, cold)
        };
        let ready = [("state", WinterState::Ready.code())];
        lines.push(ShopLine {
            address: asked.address(PATH, shop.id, &[]),
            low: low.map_or_else(
                || "not set".to_owned(),
                |low| figure::temperature(desk.units(), low),
            ),
            ready: Counted::rows(coverage.ready, asked.address(PATH, shop.id, &ready)),
            units: Counted::rows(coverage.units, asked.address(PATH, shop.id, &[])),
            covered: Counted::told(
                covered(coverage),
                asked.address("/winter/plan", shop.id, &[]),
            ),
            name: shop.name,
            is_this,
        });
    }
    Ok(lines)
}

/// How many units of this shop are ready for its winter low.
pub(crate) fn coverage_of(desk: &Desk, loops: &[LoopFigures]) -> Result<Coverage, WebError> {
    let cold = Cold {
        low: desk.shop.winter_low,
        now: desk.now_ms(),
        policy: Policies::on(desk.today()).map_err(WebError::fault)?,
    };
    Ok(count_ready(loops, cold))
}

fn coverage(units: &[Each]) -> Coverage {
    let ready = units.iter().filter(|unit| unit.state == WinterState::Ready);
    Coverage {
        ready: ready.count(),
        units: units.len(),
    }
}

/// "66 %", cut off; of no units there is no share.
fn covered(Coverage { ready, units }: Coverage) -> String {
    ready
        .saturating_mul(100)
        .checked_div(units)
        .map_or_else(|| "no units".to_owned(), |percent| format!("{percent} %"))
}

fn lay_out(
    desk: &Desk,
    asked: &Asked,
    (units, shops, cold): (&[Each], Vec<ShopLine>, Cold),
) -> WinterPage {
    let told = Told::at(desk);
    let shown: Vec<&Each> = units
        .iter()
        .filter(|unit| asked.state.is_none_or(|state| unit.state == state))
        .filter(|unit| asked.only.is_none_or(|only| only.takes(unit, cold.policy)))
        .collect();
    let state = asked.state.map(|state| ("state", state.code()));
    let only = asked.only.map(|only| ("only", only.code()));
    let pager = Pager::over(("units", shown.len()), (asked.page, PER_PAGE), |page| {
        let page = page.to_string();
        let parts = state
            .into_iter()
            .chain(only)
            .chain([("page", page.as_str())]);
        let parts: Vec<(&str, &str)> = parts.collect();
        asked.address(PATH, asked.shop.id, &parts)
    });
    let rows = pager.take(shown.into_iter());
    let scale = Scale::over(&rows);
    let coverage = coverage(units);
    let winter = cold.policy.winter;
    WinterPage {
        frame: desk.frame("Winter readiness"),
        low: asked.low_field(desk),
        shop_id: asked.shop.id.to_string(),
        problems: asked.form.problems().to_vec(),
        summary: asked.form.summary_after("Not worked out"),
        against: cold
            .low
            .map_or_else(String::new, |low| figure::temperature(told.units, low)),
        is_forecast: asked.forecast.is_some(),
        shop: asked.shop.name.clone(),
        finding: finding(
            coverage,
            winter.coverage,
            Behind {
                ready: asked.address(PATH, asked.shop.id, &[("state", WinterState::Ready.code())]),
                all: asked.address(PATH, asked.shop.id, &[]),
                plan: asked.address("/winter/plan", asked.shop.id, &[]),
            },
        ),
        counts: counts(units, asked),
        all: asked.address(PATH, asked.shop.id, &[]),
        by_figures: by_figures(units, (asked, cold.policy), told),
        narrowed: asked
            .state
            .map(WinterState::words)
            .or(asked.only.map(Only::words)),
        rows: rows
            .iter()
            .map(|unit| Row::of(unit, scale, (told, cold.policy)))
            .collect(),
        shops,
        plan: asked.address("/winter/plan", asked.shop.id, &[]),
        pager,
        margin: told.units.temperature_difference(winter.margin),
        probability: percent(winter.probability),
        test_days: cold.policy.freeze.test_older_than_days,
        units: units.len(),
        may_manage: desk.may(&[Role::Manager]) && asked.shop.id == desk.shop.id,
        may_add: desk.may(&[Role::Manager]),
    }
}

/// Where the units of a finding stand.
struct Behind {
    ready: String,
    all: String,
    plan: String,
}

fn finding(coverage: Coverage, wanted: f64, behind: Behind) -> Said {
    let Coverage { ready, units } = coverage;
    let missing = coverage.missing_for(wanted);
    let share = percent(wanted);
    let are = if ready == 1 { "unit is" } else { "units are" };
    let mut said: Vec<Piece> = vec![
        Counted::rows(ready, behind.ready).into(),
        " of ".into(),
        Counted::rows(units, behind.all).into(),
        format!(" {are} ready: {}. ", covered(coverage)).into(),
    ];
    if missing == 0 {
        said.push(format!("The {share} that are wanted are reached.").into());
    } else {
        said.push(Counted::told(format!("{missing} more"), behind.plan).into());
        said.push(format!(" make the {share} that are wanted.").into());
    }
    said.into()
}

/// "25 of 38 are at least 95 % sure by strength alone; 13 units have less than 5 °C to spare."
fn by_figures(units: &[Each], (asked, policy): (&Asked, &Policy), told: Told) -> Said {
    let count = |only: Only| {
        let taken = units.iter().filter(|unit| only.takes(unit, policy));
        let address = asked.address(PATH, asked.shop.id, &[("only", only.code())]);
        Counted::rows(taken.count(), address)
    };
    let all = asked.address(PATH, asked.shop.id, &[]);
    let said: Vec<Piece> = vec![
        count(Only::Sure).into(),
        " of ".into(),
        Counted::rows(units.len(), all).into(),
        format!(
            " are at least {} sure by strength alone, whatever their test, level or questions. ",
            percent(policy.winter.probability)
        )
        .into(),
        count(Only::Short).into(),
        format!(
            " have less than {} to spare.",
            told.units.temperature_difference(policy.winter.margin)
        )
        .into(),
    ];
    said.into()
}

fn counts(units: &[Each], asked: &Asked) -> Vec<(Status, usize, String)> {
    let count = |state| units.iter().filter(|unit| unit.state == state).count();
    WinterState::ALL
        .into_iter()
        .map(|state| (state, count(state)))
        .filter(|(_, count)| *count > 0)
        .map(|(state, count)| {
            let address = asked.address(PATH, asked.shop.id, &[("state", state.code())]);
            (strip::status(state), count, address)
        })
        .collect()
}
