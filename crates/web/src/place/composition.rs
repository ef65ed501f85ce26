//! What a place is made of: by inhibitor class, how much of it is foreign, how many exchanges make it clean,
//! and how that came about, beside what was read of its inhibitors.

use std::collections::BTreeMap;

use domain::book::component::{Base, Component, InhibitorClass};
use domain::book::contents::Contents;
use domain::condition::DEVIATIONS_AT_95;
use domain::condition::capacity::DrainMethod;
use domain::condition::composition::{
    ForeignState, after_exchange, by_class, exchanges_needed, foreign_share, own_kind,
};
use domain::condition::course::{Course, Done};
use domain::condition::policy::{Policy, PolicyRow};
use domain::condition::work::Known;
use domain::ids::FactKey;
use domain::job::JobKind;
use domain::quantity::rounding::float;
use domain::quantity::{FractionByVolume, UnitsOfMeasure};
use storage::{LevelStep, PlaceContents, Read};

use crate::WebError;
use crate::capacity::way;
use crate::component::{Shape, Status};
use crate::desk::Desk;
use crate::figure;
use crate::page::sentence;
use crate::unit::standing::Told;
use crate::upkeep::corrosion::thousandths;

/// So many facts are walked back through.
const MOST_FACTS: i64 = 300;
/// So many lines are told of them.
const MOST_LINES: usize = 40;
/// A share that moved by less is no change anybody could show.
const LEAST_CHANGE_MILLIONTHS: i32 = 1_000;
/// A drain that left more than this in was none of the whole loop.
const LEAST_DRAINED: f64 = 0.5;
/// After so many exchanges the share that is left is told no more.
const MOST_TOLD: u32 = 4;

/// The card.
#[derive(Clone, Debug)]
pub(crate) struct Composition {
    /// Name of the loop where there are several.
    pub(crate) title: String,
    pub(crate) classes: Vec<ClassLine>,
    /// How far it is from holding only what it is meant to, and how much of it that is.
    pub(crate) foreign: Option<(Status, String)>,
    /// What makes it clean; empty where nothing has to.
    pub(crate) clean: String,
    /// The newest first.
    pub(crate) course: Vec<CourseLine>,
}

/// A kind of concentrate in it, or water.
#[derive(Clone, Debug)]
pub(crate) struct ClassLine {
    pub(crate) kind: String,
    /// Of all concentrate; empty for water.
    pub(crate) share: String,
    /// Before mixing.
    pub(crate) volume: String,
}

/// A fact that changed the foreign share, or read the inhibitors.
#[derive(Clone, Debug)]
pub(crate) struct CourseLine {
    pub(crate) day: String,
    pub(crate) what: String,
    pub(crate) address: String,
    /// "24.0 % → 6.0 %, tainted"; empty where it did not change.
    pub(crate) foreign: String,
    /// "nitrite 1450 ppm, pH 9.1"; empty where nothing was read.
    pub(crate) read: String,
}

/// How a place is got clean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cleaned {
    /// A loop, drained like this where none of its own drains tells.
    ByExchange(DrainMethod),
    /// A vessel is emptied and cleaned out.
    ByCleanOut,
    /// A vessel for waste takes everything.
    Never,
}

/// What the card is about.
pub(crate) struct About<'a> {
    pub(crate) title: String,
    pub(crate) meant: (Base, InhibitorClass),
    pub(crate) cleaned: Cleaned,
    /// What was read of it over time; none of a vessel.
    pub(crate) course: Option<&'a Course>,
    /// What its work taught of it; none of a vessel.
    pub(crate) known: Option<&'a Known>,
    pub(crate) policy: &'a Policy,
}

impl Composition {
    /// None of a place that holds nothing.
    pub(crate) async fn read(
        desk: &Desk,
        read: &mut Read,
        (held, about): (&PlaceContents, About<'_>),
    ) -> Result<Option<Self>, WebError> {
        if held.contents.is_empty() {
            return Ok(None);
        }
        let facts = read.list_levels(held, MOST_FACTS).await;
        let facts = facts.map_err(WebError::fault)?;
        let told = Told::at(desk);
        let own = own_kind(&held.contents, about.meant);
        let share = foreign_share(&held.contents, about.meant);
        let share = share.filter(|_| about.cleaned != Cleaned::Never);
        let class = own.map_or(InhibitorClass::Unknown, |(_, class)| class);
        let lines = *about.policy.foreign.of(class);
        let state = share.map(|share| lines.state(share));
        let exchange = match (about.cleaned, state) {
            (Cleaned::ByExchange(method), Some(state)) if state != ForeignState::Pure => {
                let refill = refill(read, &facts, own).await?;
                let left = residual((&facts, about.known), method, (told, about.policy));
                Some((left, refill))
            }
            _ => None,
        };
        let clean = match (about.cleaned, share.zip(state), exchange) {
            (_, Some((share, _)), Some((Some(left), refill))) => {
                clean(share, (left, refill), (told.units, lines.tainted_from))
            }
            (Cleaned::ByCleanOut, Some((_, state)), _) if state != ForeignState::Pure => {
                "Emptied and cleaned out it begins anew.".to_owned()
            }
            _ => String::new(),
        };
        Ok(Some(Self {
            classes: classes(&held.contents, told.units),
            foreign: share
                .zip(state)
                .zip(own)
                .map(|(found, own)| foreign(found, own, told.units)),
            clean,
            course: course(&facts, own, (&about, told)),
            title: about.title,
        }))
    }
}

fn kind_words((base, class): (Base, InhibitorClass)) -> String {
    match (base.word(), class.word()) {
        ("unknown", "unknown") => "not known".to_owned(),
        (base, "unknown") => format!("{base}, class not known"),
        ("unknown", class) => format!("{class}, base not known"),
        (base, class) => format!("{base} {class}"),
    }
}

fn classes(contents: &Contents, units: UnitsOfMeasure) -> Vec<ClassLine> {
    let kinds = by_class(contents).into_iter().map(|kind| ClassLine {
        kind: kind_words((kind.base, kind.class)),
        share: units.strength(kind.share),
        volume: figure::volume(units, kind.ml),
    });
    let water = contents.ml_of(Component::Water);
    let water = (water != 0).then(|| ClassLine {
        kind: "Water".to_owned(),
        share: String::new(),
        volume: figure::volume(units, water),
    });
    kinds.chain(water).collect()
}

const fn shape(state: ForeignState) -> Shape {
    match state {
        ForeignState::Pure => Shape::Good,
        ForeignState::Tainted | ForeignState::Mixed => Shape::Watch,
        ForeignState::Lost => Shape::Stop,
    }
}

fn foreign(
    (share, state): (FractionByVolume, ForeignState),
    own: (Base, InhibitorClass),
    units: UnitsOfMeasure,
) -> (Status, String) {
    let said = format!(
        "{} of its concentrate is not {}.",
        units.strength(share),
        kind_words(own)
    );
    (Status::new(shape(state), state.word()), said)
}

/// The part of a loop's coolant that stays in at a drain, and who says so.
struct Residual {
    share: FractionByVolume,
    /// "18 % ± 3 %, learned from 4 drains through its coupling", "20 %, drained at its drain: trade default".
    said: String,
}

/// What the drains of this loop by this method taught; where there was none, what its own last drain left, if
/// its card has no capacity to learn against, and else what the policy has for the method.
fn residual(
    (facts, known): (&[LevelStep], Option<&Known>),
    method: DrainMethod,
    (told, policy): (Told, &Policy),
) -> Option<Residual> {
    let learns = known.is_some_and(|known| known.learned.is_some());
    known
        .and_then(|known| learned_residual(known, method, told.units))
        .or_else(|| last_drain(facts, told).filter(|_| !learns))
        .or_else(|| policy_residual(method, (told.units, policy)))
}

fn learned_residual(known: &Known, method: DrainMethod, units: UnitsOfMeasure) -> Option<Residual> {
    let drains = known.drains_by(method);
    let learned = known.learned.as_ref().filter(|_| drains > 0)?;
    let found = learned.residual_share(method)?;
    let share = FractionByVolume::from_ratio(found.part)?;
    let spread = figure::decimal(units, DEVIATIONS_AT_95 * found.sigma * 1e2, 1);
    let drains = if drains == 1 {
        "1 drain".to_owned()
    } else {
        format!("{drains} drains")
    };
    Some(Residual {
        share,
        said: format!(
            "{} ± {spread} %, learned from {drains} of this loop {}",
            units.strength(share),
            way(method)
        ),
    })
}

fn last_drain(facts: &[LevelStep], told: Told) -> Option<Residual> {
    facts.iter().find_map(|fact| {
        let held = fact.before.total_ml();
        let drained = float(fact.out_ml) / float(held.max(1));
        let share = FractionByVolume::from_ratio((1.0 - drained).max(0.0))?;
        (held > 0 && drained >= LEAST_DRAINED).then(|| Residual {
            share,
            said: format!(
                "{}, as its drain of {} did",
                told.units.strength(share),
                figure::day(fact.order.happened, told.zone)
            ),
        })
    })
}

fn policy_residual(
    method: DrainMethod,
    (units, policy): (UnitsOfMeasure, &Policy),
) -> Option<Residual> {
    let share = FractionByVolume::from_ratio(*policy.capacity.residual.get(&method)?)?;
    let field = format!("capacity_residual.{}", method.word());
    let row = policy.rows.iter().find(|row| row.field == field);
    let standing = row.map_or("policy", PolicyRow::standing);
    Some(Residual {
        share,
        said: format!(
            "{}, drained {}: {standing}",
            units.strength(share),
            way(method)
        ),
    })
}

/// What it is filled from, and how much of that is foreign to it.
struct Refill {
    share: FractionByVolume,
    vessel: Option<String>,
}

/// The vessel it was last filled from, where that still holds anything; else coolant of its own kind.
async fn refill(
    read: &mut Read,
    facts: &[LevelStep],
    own: Option<(Base, InhibitorClass)>,
) -> Result<Refill, WebError> {
    let last = facts.iter().find_map(|fact| fact.from_vessel);
    let held = match last {
        Some(vessel) => read.find_place(vessel).await.map_err(WebError::fault)?,
        None => None,
    };
    let held = held.filter(|held| !held.retired);
    let found = held.zip(own).and_then(|(held, own)| {
        let share = foreign_share(&held.contents, own)?;
        (share > FractionByVolume::MIN).then_some(Refill {
            share,
            vessel: held.name,
        })
    });
    Ok(found.unwrap_or(Refill {
        share: FractionByVolume::MIN,
        vessel: None,
    }))
}

fn clean(
    share: FractionByVolume,
    (left, refill): (Residual, Refill),
    (units, below): (UnitsOfMeasure, FractionByVolume),
) -> String {
    let needed = exchanges_needed(share, left.share, refill.share, below);
    let leaves = format!("each leaves part of the old coolant in ({})", left.said);
    let with = match &refill.vessel {
        Some(vessel) => format!(
            "puts in coolant from {vessel}, {} of it foreign",
            units.strength(refill.share)
        ),
        None => "puts in coolant of its own kind".to_owned(),
    };
    let limit = units.strength(below);
    let Some(count) = needed else {
        return format!(
            "No exchanges bring it below {limit}: {leaves} and {with}. Flush it, or take it for another class."
        );
    };
    let mut after = share;
    let shares: Vec<String> = (0..count.min(MOST_TOLD))
        .map(|_| {
            after = after_exchange(after, left.share, refill.share);
            units.strength(after)
        })
        .collect();
    let exchanges = if count == 1 {
        "1 exchange brings".to_owned()
    } else {
        format!("{count} exchanges bring")
    };
    format!(
        "{exchanges} it below {limit}, to {}: {leaves} and {with}.",
        shares.join(", then ")
    )
}

/// Facts that changed the foreign share, and readings of its inhibitors; the newest first.
fn course(
    facts: &[LevelStep],
    own: Option<(Base, InhibitorClass)>,
    (about, told): (&About<'_>, Told),
) -> Vec<CourseLine> {
    let line = |what: &str, key: FactKey, at| CourseLine {
        day: figure::day(at, told.zone),
        what: sentence(what).trim_end_matches('.').to_owned(),
        address: format!("/jobs/{key}"),
        foreign: String::new(),
        read: String::new(),
    };
    let mut lines = BTreeMap::new();
    for fact in facts {
        let kind = fact.job_kind.as_deref().and_then(JobKind::from_code);
        let (Some(kind), Some(foreign)) = (kind, changed(fact, own, (about.policy, told.units)))
        else {
            continue;
        };
        let order = (fact.order.happened, fact.order.key);
        lines.insert(
            order,
            CourseLine {
                foreign,
                ..line(kind.word(), order.1, order.0)
            },
        );
    }
    for event in about.course.iter().flat_map(|course| &course.events) {
        let Done::Tested {
            ph_thousandths,
            proofs,
            ..
        } = &event.done
        else {
            continue;
        };
        let number = |raw| thousandths(told.units, raw);
        let proofs = proofs
            .iter()
            .map(|(proof, raw)| format!("{} {} {}", proof.word(), number(*raw), proof.unit()));
        let ph = ph_thousandths.map(|raw| format!("pH {}", number(raw)));
        let read: Vec<String> = proofs.chain(ph).collect();
        if !read.is_empty() {
            let made = || line(JobKind::ConditionTest.word(), event.key, event.at);
            lines.entry((event.at, event.key)).or_insert_with(made).read = read.join(", ");
        }
    }
    lines.into_values().rev().take(MOST_LINES).collect()
}

/// "24.0 % → 6.0 %, tainted"; none where it did not move.
fn changed(
    fact: &LevelStep,
    own: Option<(Base, InhibitorClass)>,
    (policy, units): (&Policy, UnitsOfMeasure),
) -> Option<String> {
    let share = |contents| foreign_share(contents, own?);
    let lines = policy.foreign.of(own?.1);
    let after = share(&fact.after)?;
    let before = share(&fact.before).unwrap_or(FractionByVolume::MIN);
    let moved = after.millionths().abs_diff(before.millionths());
    (moved >= LEAST_CHANGE_MILLIONTHS.unsigned_abs()).then(|| {
        format!(
            "{} → {}, {}",
            units.strength(before),
            units.strength(after),
            lines.state(after).word().to_lowercase()
        )
    })
}
