//! GET /units/{unit}/leaks: the cases of a unit, what they rest on, and how its sisters do.

use std::sync::Arc;

use askama::Template;
use axum::extract::Path;
use axum::response::Response;
use domain::book::outcome::TopUpClass;
use domain::condition::course::{Done, Event, Pressed};
use domain::condition::leak::case::Case;
use domain::condition::leak::peer;
use domain::condition::policy::Policy;
use domain::fleet::Role;
use storage::LoopCourse;

use super::{chart, look, told};
use crate::WebError;
use crate::component::{Chart, Known, Readout, Status};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::page::{self, sentence};
use crate::record::Names;
use crate::unit::on_record;
use crate::unit::standing::Told;
use crate::upkeep::{self, LoopUpkeep, UnitUpkeep};

/// So many facts of a loop are listed, the newest.
const MOST_EVIDENCE: usize = 60;

#[derive(Template)]
#[template(path = "leak/case.html")]
struct CasePage {
    frame: Frame,
    number: String,
    kind: String,
    address: String,
    loops: Vec<LoopPart>,
    may_work: bool,
    may_look: bool,
}

/// One loop.
#[derive(Clone, Debug)]
struct LoopPart {
    name: String,
    several: bool,
    status: Option<Status>,
    why: String,
    readouts: Vec<Readout>,
    cases: Vec<CaseLine>,
    chart: Option<Chart>,
    evidence: Vec<Evidence>,
    sisters: String,
}

/// A case in the table of a loop's cases.
#[derive(Clone, Debug)]
struct CaseLine {
    status: Status,
    opened: String,
    why: String,
    lost: String,
    /// Address of the repair and what it says.
    mended: Option<(String, String)>,
    /// How it ended without one, or that it did not.
    still: String,
    watch: String,
    came_back_after: Option<String>,
}

/// A fact the case rests on.
#[derive(Clone, Debug)]
struct Evidence {
    day: String,
    /// That of the job, where it is one.
    address: Option<String>,
    what: String,
    told: String,
}

/// GET /units/{unit}/leaks
pub(crate) async fn show(desk: Desk, Path(unit): Path<String>) -> Result<Response, WebError> {
    let id = on_record::id_of(&unit)?;
    let mut read = desk.read().await?;
    let found = upkeep::of_unit(&desk, &mut read, id).await?;
    let found = found.ok_or(WebError::NotFound)?;
    let card = read.find_unit(id).await.map_err(WebError::fault)?;
    let shop = card.map_or(desk.shop.id, |card| card.shop);
    let fleet = if found.course.family.is_some() {
        upkeep::of_shop(&desk, &mut read, shop).await?
    } else {
        Vec::new()
    };
    let policy = upkeep::Asked::at(&desk)?.policy;
    let told = Told::at(&desk);
    let names = look::names_of(&mut read, &found).await?;
    let loops = found.each().enumerate().map(|(n, (of, known))| LoopPart {
        sisters: sisters((&found, &of.name), &fleet, (told, policy)),
        ..part((&found, n), (of, known), (told, policy, &names))
    });
    Ok(page::shown(&CasePage {
        frame: desk.frame(format!("Leaks of unit {}", found.course.number)),
        number: found.course.number.clone(),
        kind: found.course.kind.clone(),
        address: format!("/units/{id}"),
        loops: loops.collect(),
        may_work: desk.may(&[Role::Technician, Role::LeadHand, Role::Manager]),
        may_look: !look::offered(&desk, &found).is_empty(),
    }))
}

fn part(
    (unit, n): (&UnitUpkeep, usize),
    (of, known): (&LoopCourse, &LoopUpkeep),
    (told, policy, names): (Told, &Policy, &Names),
) -> LoopPart {
    let newest = known.cases.last();
    let evidence = of.course.events.iter().rev();
    LoopPart {
        name: of.name.clone(),
        several: unit.course.loops.len() > 1,
        status: newest.map(|case| told::status(case.state)),
        why: newest.map_or_else(
            || "No rule speaks, and no leak was seen.".to_owned(),
            |case| sentence(&told::why(case, told)),
        ),
        readouts: readouts(known, (told, policy)),
        cases: known
            .cases
            .iter()
            .rev()
            .map(|case| line(case, told))
            .collect(),
        chart: chart::chart(
            (format!("use-{n}"), &unit.name(of)),
            (of, &known.cases),
            (told, &policy.leak),
        ),
        evidence: evidence
            .filter_map(|event| proof(event, (told, names)))
            .take(MOST_EVIDENCE)
            .collect(),
        sisters: String::new(),
    }
}

fn readouts(known: &LoopUpkeep, (told, policy): (Told, &Policy)) -> Vec<Readout> {
    let Some(use_) = &known.consumption else {
        return Vec::new();
    };
    let rates = policy.leak.rates(use_.per);
    let rate = |value| told::rate(told.units, use_.per, value);
    let normal = rate(rates.normal);
    let counted =
        "Counted from the end of its last case, else from its opening, to now.".to_owned();
    let readout = |label: &str, figure: String, spread: String, worked_out: Vec<String>| Readout {
        label: label.to_owned(),
        figure,
        spread,
        known: Known::WorkedOut,
        worked_out,
    };
    vec![
        readout(
            "More than a sound loop uses",
            told::litres(told.units, use_.above_normal_l),
            format!("a sound one uses {normal}"),
            vec![
                counted.clone(),
                "What was topped up, less what a sound loop uses over the same run. The normal rate is a trade default: confirm it with your own fleet.".to_owned(),
            ],
        ),
        readout(
            "Topped up",
            told::litres(told.units, use_.litres),
            format!(
                "{} more completed fills and is left out",
                told::litres(told.units, use_.completion_l)
            ),
            vec![counted],
        ),
        readout(
            &format!("Rate, {}", told::rate_unit(told.units, use_.per)),
            use_.rate.map_or_else(
                || "Unknown".to_owned(),
                |rate| figure::decimal(told.units, told::rate_number(told.units, use_.per, rate), 2),
            ),
            format!("lately {}", rate(use_.recent_rate)),
            vec![format!(
                "Litres over what it ran: read off its meters, between readings in proportion to time, and where it has none as in a usual day. Lately: the moving average, in which the newest top-up weighs {} %.",
                figure::decimal(told.units, policy.leak.average_weight * 100.0, 0)
            )],
        ),
    ]
}

fn line(case: &Case, told: Told) -> CaseLine {
    let job = |key| format!("/jobs/{key}");
    CaseLine {
        status: told::status(case.state),
        opened: figure::day(case.opened_at(), told.zone),
        why: sentence(&told::why(case, told)),
        lost: told::litres(told.units, case.consumption.above_normal_l),
        mended: case.mended.as_ref().map(|mended| {
            let day = figure::day(mended.at, told.zone);
            (
                job(mended.key),
                format!("{day}, {}: {}", mended.part, mended.cause),
            )
        }),
        still: told::without_repair(case, told).unwrap_or_else(|| "not found yet".to_owned()),
        watch: case.mended.as_ref().map_or_else(String::new, |mended| {
            format!("until {}", figure::day(mended.watched_until, told.zone))
        }),
        came_back_after: case.came_back_after.map(job),
    }
}

fn proof(Event { at, key, done }: &Event, (told, names): (Told, &Names)) -> Option<Evidence> {
    let (what, words) = match done {
        Done::ToppedUp(volume, class) => {
            let class = match class {
                TopUpClass::Consumption => "used up",
                TopUpClass::Completion => "completes a fill, left out",
            };
            ("Top up", format!("{}, {class}", told.units.volume(*volume)))
        }
        Done::Filled { put_in, .. } => ("Fill", told.units.volume(*put_in)),
        Done::Pressed(test) => ("Pressure test", pressed(test, told)),
        Done::Mended { part, cause, .. } => ("Leak repair", format!("{part}: {cause}")),
        Done::Other(domain::job::JobKind::CapTest) => {
            ("Cap test", "its page says how it opened".to_owned())
        }
        Done::NothingFound { by, reason } => {
            let reason = names.text(reason, "reason removed");
            (
                "Looked at",
                format!("no leak found, {}: {reason}", names.handle(*by)),
            )
        }
        _ => return None,
    };
    let is_job = !matches!(done, Done::NothingFound { .. });
    Some(Evidence {
        day: figure::day(*at, told.zone),
        address: is_job.then(|| format!("/jobs/{key}")),
        what: what.to_owned(),
        told: words,
    })
}

fn pressed(test: &Pressed, told: Told) -> String {
    let seen = test.leak_class.map_or_else(
        || "nobody looked for drops".to_owned(),
        |class| format!("class {}", told::class_words(u8::from(class))),
    );
    let at = test
        .leak_place
        .as_ref()
        .map_or_else(String::new, |place| format!(" at {place}"));
    format!(
        "{} at the start, {} after {} min; {seen}{at}",
        told.units.gauge_pressure(test.start),
        told.units.gauge_pressure(test.end),
        test.hold_s.checked_div(60).unwrap_or(0)
    )
}

/// How the loop of the same name does in units with the same engine, wherever it stands on their cards.
fn sisters(
    (unit, name): (&UnitUpkeep, &str),
    fleet: &[Arc<UnitUpkeep>],
    (told, policy): (Told, &Policy),
) -> String {
    let of = |each: &UnitUpkeep| {
        let mut loops = each.each();
        let (_, known) = loops.find(|(of, _)| of.name.eq_ignore_ascii_case(name))?;
        let use_ = known.consumption.as_ref()?;
        Some((use_.per, use_.rate?))
    };
    let Some((per, own)) = of(unit) else {
        return "Its rate is not known yet.".to_owned();
    };
    let rates: Vec<f64> = fleet
        .iter()
        .filter(|each| {
            each.course.family == unit.course.family && each.course.unit != unit.course.unit
        })
        .filter_map(|each| of(each))
        .filter(|(kind, _)| *kind == per)
        .map(|(_, rate)| rate)
        .collect();
    let Some(found) = peer::compare(own, &rates, &policy.leak) else {
        return format!(
            "Fewer than {} units of this shop have the same engine family and a loop of this name on their cards, and a rate: nothing to compare with.",
            policy.leak.least_peers
        );
    };
    let rate = |value| told::rate(told.units, per, value);
    let stands = if found.stands_out {
        "it stands out"
    } else {
        "it does not stand out"
    };
    format!(
        "{} sisters use {} in the middle, this one {}: {stands}.",
        found.peers,
        rate(found.median),
        rate(own)
    )
}
