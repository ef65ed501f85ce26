//! GET /units/{unit}: what is in it, is it good, where did it go.

use std::collections::HashMap;
use std::sync::Arc;

use askama::Template;
use axum::extract::{Path, RawQuery};
use axum::response::Response;
use domain::fleet::{Role, Shop};
use domain::ids::PlaceId;
use storage::{LastPressureTest, PlaceContents, Read};

use super::ahead::{Ahead, DueLine};
use super::capacity::CapacityCard;
use super::circuit::Circuit;
use super::on_record;
use super::row::unbroken;
use super::standing::{About, Ground, Standing, Told, WHAT_IS_JUDGED};
use super::subject::Subject;
use super::watch::Watch;
use crate::WebError;
use crate::component::{Chart, Status};
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::page::{self, sentence};
use crate::place::balance::BalanceTable;
use crate::place::composition::Composition;
use crate::place::governing::Governing;
use crate::place::history::{History, HistoryLine};
use crate::place::{BALANCE_DAYS, QuestionLine, open_questions};
use crate::verdict::ToldVerdict;

#[derive(Template)]
#[template(path = "unit/show.html")]
#[expect(
    clippy::struct_excessive_bools,
    reason = "the template alone reads these switches"
)]
struct UnitPage {
    frame: Frame,
    heading: String,
    address: String,
    /// "Transit bus, engine family T-4, Upper yard".
    about: Vec<String>,
    status: Option<Status>,
    why: String,
    what_is_judged: &'static str,
    has_card: bool,
    retired: bool,
    being_worked_out_again: bool,
    several: bool,
    circuits: Vec<Circuit>,
    balances: Vec<BalanceTable>,
    balance_days: i64,
    questions: Vec<QuestionLine>,
    watches: Vec<Watch>,
    /// An open leak: how it stands, and why.
    leaks: Vec<(Status, String)>,
    /// What the last laboratory result hints at.
    hints: Vec<String>,
    due: Vec<DueLine>,
    made_of: Vec<Composition>,
    charts: Vec<Chart>,
    capacities: Vec<CapacityCard>,
    /// The last pressure test with its readings, and its job.
    decay: Option<(ToldVerdict, String)>,
    history: Vec<HistoryLine>,
    older: Option<String>,
    is_first_page: bool,
    may_work: bool,
    may_edit: bool,
    may_retire: bool,
    may_add: bool,
    /// For the card of a unit that has none.
    number: String,
}

pub(crate) async fn show(
    desk: Desk,
    Path(unit): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let id = on_record::id_of(&unit)?;
    let mut read = desk.read().await?;
    let subject = Subject::find(&mut read, id)
        .await?
        .ok_or(WebError::NotFound)?;
    let before = History::before(&Form::from_query(query.as_deref()));
    let shop = shop_of(&desk, &mut read, &subject).await?;
    let held = read
        .list_places(&subject.places())
        .await
        .map_err(WebError::fault)?;
    let tests = read
        .list_last_pressure_tests(&subject.places())
        .await
        .map_err(WebError::fault)?;
    let history = History::read(&desk, &mut read, (&subject.named_places(), before)).await?;
    let questions = questions(&desk, &mut read, &subject).await?;
    let ground = Ground::at(&desk, shop.winter_low)?;
    let standings: Vec<Standing> = subject
        .circuits
        .iter()
        .map(|circuit| {
            let held = held.iter().find(|held| held.place == circuit.place);
            let known = held.and_then(|held| held.known(ground.now));
            let about = About {
                capacity_ml: circuit.capacity_ml(),
                has_open_question: questions.iter().any(|asked| asked.place == circuit.place),
            };
            Standing::of(known, about, ground)
                .tested(tests.get(&circuit.place).map_or(&[][..], AsRef::as_ref))
        })
        .collect();
    let balances = balances(&desk, &mut read, &subject).await?;
    let governing = governing(&desk, &mut read, (&subject, &held)).await?;
    let watches = Watch::list(&desk, &mut read, id).await?;
    let ahead = Ahead::read(
        &desk,
        &mut read,
        (&subject, &held),
        (&tests, shop.winter_low),
    )
    .await?;
    Ok(page::shown(&lay_out(
        &desk,
        (&subject, &shop),
        (held, standings, tests),
        (history, questions, (balances, governing), watches),
        (&ahead, before.is_none()),
    )))
}

/// The shop whose winter it must be ready for.
async fn shop_of(desk: &Desk, read: &mut Read, subject: &Subject) -> Result<Shop, WebError> {
    let shop = match subject.card.as_ref().map(|card| card.shop) {
        Some(shop) if shop != desk.shop.id => {
            read.find_shop(shop).await.map_err(WebError::fault)?
        }
        _ => None,
    };
    Ok(shop.unwrap_or_else(|| desk.shop.clone()))
}

async fn questions(
    desk: &Desk,
    read: &mut Read,
    subject: &Subject,
) -> Result<Vec<QuestionLine>, WebError> {
    let mut lines = Vec::new();
    for circuit in &subject.circuits {
        lines.extend(open_questions(desk, read, circuit.place).await?);
    }
    Ok(lines)
}

async fn balances(
    desk: &Desk,
    read: &mut Read,
    subject: &Subject,
) -> Result<Vec<BalanceTable>, WebError> {
    let mut tables = Vec::new();
    for circuit in &subject.circuits {
        let title = if subject.circuits.len() > 1 {
            circuit.name.clone()
        } else {
            String::new()
        };
        let about = (title, circuit.capacity_ml());
        tables.extend(BalanceTable::read(desk, read, circuit.place, about).await?);
    }
    Ok(tables)
}

async fn governing(
    desk: &Desk,
    read: &mut Read,
    (subject, held): (&Subject, &[PlaceContents]),
) -> Result<Vec<Option<Governing>>, WebError> {
    let mut found = Vec::new();
    for (n, circuit) in subject.circuits.iter().enumerate() {
        let held = held.iter().find(|held| held.place == circuit.place);
        found.push(Governing::read(desk, read, (held, format!("since-{n}"))).await?);
    }
    Ok(found)
}

type Loops = (
    Vec<PlaceContents>,
    Vec<Standing>,
    HashMap<PlaceId, Arc<[LastPressureTest]>>,
);
type Below = (
    History,
    Vec<QuestionLine>,
    (Vec<BalanceTable>, Vec<Option<Governing>>),
    Vec<Watch>,
);

fn lay_out(
    desk: &Desk,
    (subject, shop): (&Subject, &Shop),
    (held, standings, tests): Loops,
    (history, questions, (balances, governing), watches): Below,
    (ahead, is_first_page): (&Ahead, bool),
) -> UnitPage {
    let several = subject.circuits.len() > 1;
    let worst = subject
        .circuits
        .iter()
        .zip(&standings)
        .min_by_key(|(_, standing)| standing.gravity())
        .filter(|_| !subject.retired);
    let own = subject
        .card
        .as_ref()
        .is_some_and(|card| desk.sees(card.shop));
    let in_use = !subject.retired;
    UnitPage {
        frame: desk.frame(format!("Unit {}", subject.number)),
        heading: format!("Unit {}", subject.number),
        address: format!("/units/{}", subject.id),
        about: subject.about(shop),
        status: worst.map(|(_, standing)| standing.word.status()),
        why: worst.map_or_else(String::new, |(circuit, standing)| {
            let why = standing.why(Told::at(desk));
            unbroken(&sentence(&if several {
                format!("{}: {why}", circuit.name)
            } else {
                why
            }))
        }),
        what_is_judged: WHAT_IS_JUDGED,
        has_card: subject.card.is_some(),
        retired: subject.retired,
        being_worked_out_again: held.iter().any(|held| held.being_worked_out_again),
        several,
        circuits: subject
            .circuits
            .iter()
            .zip(&standings)
            .zip(governing)
            .map(|((circuit, standing), governing)| {
                let held = held.iter().find(|held| held.place == circuit.place);
                let test = tests.get(&circuit.place).map_or(&[][..], AsRef::as_ref);
                Circuit {
                    governing,
                    ..Circuit::of(desk, circuit, (held, standing, test), ahead)
                }
            })
            .collect(),
        balances,
        balance_days: BALANCE_DAYS,
        questions,
        watches,
        leaks: ahead.leaks(desk),
        hints: ahead.hints.clone(),
        due: if in_use { ahead.due(desk) } else { Vec::new() },
        made_of: ahead.made_of.clone(),
        charts: ahead.charts.clone(),
        capacities: ahead.capacities(desk),
        decay: ahead.decay.clone(),
        older: history
            .older
            .map(|before| format!("/units/{}?before={before}", subject.id)),
        history: history.lines,
        is_first_page,
        may_work: in_use
            && desk.may(&[Role::Technician, Role::LeadHand, Role::Manager])
            && subject.card.is_some(),
        may_edit: in_use && own && desk.may(&[Role::LeadHand, Role::Manager]),
        may_retire: in_use && own && desk.may(&[Role::Manager]),
        may_add: subject.card.is_none() && desk.may(&[Role::Manager]),
        number: subject.number.clone(),
    }
}
