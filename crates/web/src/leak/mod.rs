//! `/leaks`: loops that quietly lose coolant, leaks that were seen, and repairs that are watched.

pub(crate) mod case;
pub(crate) mod chart;
pub(crate) mod look;
pub(crate) mod told;

use std::sync::Arc;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::condition::leak::case::{Case, CaseState};
use domain::condition::leak::exposure::Per;
use domain::condition::leak::{QUIET, STATED, StatedQuiet, StatedRates};

use domain::condition::policy::Policy;
use domain::quantity::Distance;
use domain::quantity::rounding::nearest;

use crate::WebError;
use crate::component::{Counted, Pager, Piece, Said, Status, page_asked};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::page::{self, sentence};
use crate::unit::standing::Told;
use crate::upkeep::{self, UnitUpkeep};

const PER_PAGE: usize = 50;
/// Cases that somebody still has to find and mend, in an address.
const OPEN: &str = "open";
/// The leak the stated rates were measured with, L/10,000 km: see [`STATED`].
const STATED_LEAK: f64 = 2.0;

#[derive(Template)]
#[template(path = "leak/list.html")]
struct ListPage {
    frame: Frame,
    finding: Said,
    counts: Vec<(Status, usize, String)>,
    rows: Vec<Row>,
    narrowed: Option<&'static str>,
    pager: Pager,
    stated: Vec<Stated>,
    quiet: Vec<Quiet>,
    /// "20,000 km", "2.4 L".
    quiet_over: String,
    quiet_most: String,
    /// "2.5 L", "1.20 L/10,000 km", and of the count.
    decision: String,
    reference: String,
    /// The leak of the simulation that the rates come from.
    simulated: String,
    count: usize,
    count_days: i64,
    /// Cases of all states.
    all: usize,
}

/// A case in the list.
#[derive(Clone, Debug)]
struct Row {
    address: String,
    name: String,
    kind: String,
    status: Status,
    why: String,
    lost: String,
    rate: String,
    opened: String,
    part: String,
    came_back: bool,
}

/// What the rule was measured to do.
#[derive(Clone, Debug)]
struct Stated {
    recorded: String,
    found: String,
    days: String,
    false_alarms: String,
}

/// What going quiet was measured to do.
#[derive(Clone, Debug)]
struct Quiet {
    recorded: String,
    sound: String,
    days: String,
    leaking: String,
}

/// A case with its unit.
type Found = (Arc<UnitUpkeep>, usize, Case);

/// GET /leaks
pub(crate) async fn show_list(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let wanted = CaseState::from_code(form.typed("state"));
    let mut read = desk.read().await?;
    let units = upkeep::of_shop(&desk, &mut read, desk.shop.id).await?;
    drop(read);
    let all = all_cases(&units);
    let policy = upkeep::Asked::at(&desk)?.policy;
    let told = Told::at(&desk);
    let only_open = form.typed("state") == OPEN;
    let shown: Vec<&Found> = all
        .iter()
        .filter(|(.., case)| match wanted {
            Some(state) => case.state == state,
            None if only_open => case.state.is_open(),
            None => !case.state.is_over(),
        })
        .collect();
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let pager = Pager::over(("cases", shown.len()), asked, |page| match wanted {
        Some(state) => format!("/leaks?state={}&page={page}", state.code()),
        None if only_open => format!("/leaks?state={OPEN}&page={page}"),
        None => format!("/leaks?page={page}"),
    });
    let rows = pager.take(shown.into_iter()).into_iter();
    Ok(page::shown(&ListPage {
        frame: desk.frame("Leak cases"),
        finding: finding(&all, told),
        counts: counts(&all),
        rows: rows.map(|found| row(found, told)).collect(),
        narrowed: wanted.map(CaseState::words).or(only_open.then_some("Open")),
        pager,
        stated: STATED.iter().map(|each| stated(each, told)).collect(),
        quiet: QUIET.iter().map(|each| quiet(each, told)).collect(),
        quiet_over: quiet_over(policy, told),
        quiet_most: told::litres(
            told.units,
            policy.leak.distance.quiet_over * policy.leak.distance.reference,
        ),
        decision: told::litres(told.units, policy.leak.decision_l),
        reference: told::rate(told.units, Per::Distance, policy.leak.distance.reference),
        simulated: told::rate(told.units, Per::Distance, STATED_LEAK),
        count: policy.leak.count,
        count_days: policy.leak.count_days,
        all: all.len(),
    }))
}

/// All cases of a shop, the gravest first; of those that stand alike the newest.
fn all_cases(units: &[Arc<UnitUpkeep>]) -> Vec<Found> {
    let mut all: Vec<Found> = units
        .iter()
        .flat_map(|unit| {
            let loops = unit.loops.iter().enumerate();
            loops.flat_map(move |(n, each)| {
                let cases = each.cases.iter().cloned();
                cases.map(move |case| (Arc::clone(unit), n, case))
            })
        })
        .collect();
    all.sort_by_key(|(.., case)| (case.state, std::cmp::Reverse(case.opened_at())));
    all
}

fn finding(all: &[Found], told: Told) -> Said {
    let open = all.iter().filter(|(.., case)| case.state.is_open());
    let (mut cases, mut lost) = (0_usize, 0.0);
    for (.., case) in open {
        cases = cases.saturating_add(1);
        lost += case.consumption.above_normal_l;
    }
    if cases == 0 {
        return "No leak is open.".into();
    }
    let (leaks, into) = if cases == 1 {
        ("leak is", "it")
    } else {
        ("leaks are", "them")
    };
    let at = format!("/leaks?state={OPEN}");
    let said: Vec<Piece> = vec![
        Counted::rows(cases, at.clone()).into(),
        format!(" {leaks} open; ").into(),
        Counted::told(told::litres(told.units, lost), at).into(),
        format!(" more than usual went into {into} so far.").into(),
    ];
    said.into()
}

fn counts(all: &[Found]) -> Vec<(Status, usize, String)> {
    let count = |state| all.iter().filter(|(.., case)| case.state == state).count();
    CaseState::ALL
        .into_iter()
        .map(|state| (state, count(state)))
        .filter(|(_, count)| *count > 0)
        .map(|(state, count)| {
            let address = format!("/leaks?state={}", state.code());
            (told::status(state), count, address)
        })
        .collect()
}

fn row((unit, n, case): &Found, told: Told) -> Row {
    let consumption = &case.consumption;
    let of = unit.course.loops.get(*n);
    Row {
        address: format!("/units/{}/leaks", unit.course.unit),
        name: of.map_or_else(String::new, |of| unit.name(of)),
        kind: unit.course.kind.clone(),
        status: told::status(case.state),
        why: sentence(&told::why(case, told)),
        lost: told::litres(told.units, consumption.above_normal_l),
        rate: consumption.rate.map_or_else(
            || "not known".to_owned(),
            |rate| told::rate(told.units, consumption.per, rate),
        ),
        opened: figure::day(case.opened_at(), told.zone),
        part: case.mended.as_ref().map_or_else(
            || told::without_repair(case, told).unwrap_or_default(),
            |mended| format!("{}: {}", mended.part, mended.cause),
        ),
        came_back: case.came_back_after.is_some(),
    }
}

fn quiet(each: &StatedQuiet, told: Told) -> Quiet {
    let number = |value, decimals| figure::decimal(told.units, value, decimals);
    Quiet {
        recorded: format!("{} %", number(each.recorded_percent, 0)),
        sound: format!("{} %", number(each.sound_percent, 0)),
        days: format!("{} days", number(each.median_days, 0)),
        leaking: format!("{} %", number(each.leaking_percent, 0)),
    }
}

/// The stretch over which a suspicion goes quiet, by distance.
fn quiet_over(policy: &Policy, told: Told) -> String {
    let metres = nearest(policy.leak.distance.quiet_over * Per::Distance.unit() * 1e3);
    let run = metres.and_then(|metres| Distance::from_m(metres).ok());
    run.map_or_else(String::new, |run| told.units.distance(run))
}

fn stated(each: &StatedRates, told: Told) -> Stated {
    let number = |value, decimals| figure::decimal(told.units, value, decimals);
    Stated {
        recorded: format!("{} %", number(each.recorded_percent, 0)),
        found: format!("{} %", number(each.found_percent, 1)),
        days: format!("{} days", number(each.median_days, 0)),
        false_alarms: format!("{} of 100 loops", number(each.false_alarms_per_100, 1)),
    }
}
