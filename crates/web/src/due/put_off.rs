//! `/units/{unit}/put-off`: due work that has to wait, why, and until when. It comes back by itself.

use axum::body::Bytes;
use axum::extract::{Path, RawQuery};
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Redirect, Response};
use chrono::{Days, NaiveDate};
use domain::condition::due::DueState;
use domain::condition::stated::PutOff;
use domain::condition::task::Task;
use domain::fact::What;
use domain::fleet::Role;
use domain::ids::PlaceId;
use domain::words::Text;

use crate::WebError;
use crate::card::{self, Added, Part, Sheet};
use crate::component::{Choice, ChoiceLook, Width};
use crate::desk::Desk;
use crate::form::{Form, Presence};
use crate::unit::on_record;
use crate::upkeep::{self, UnitUpkeep};

/// Those who may put work off.
pub(crate) const LEAD: &[Role] = &[Role::LeadHand, Role::Manager];

const WORK: (&str, &str) = ("work", "Which work is put off?");
const UNTIL: (&str, &str) = ("until", "Until which day, like 2026-10-05");
const REASON: (&str, &str) = ("reason", "Why?");

/// A task of a loop in an address and in the form.
pub(super) fn code(place: PlaceId, task: Task) -> String {
    format!("{place}/{}", task.code())
}

/// What can be put off on a unit: its code, what it is, of which loop.
#[derive(Clone, Debug)]
struct Offered {
    code: String,
    words: String,
    hint: String,
    place: PlaceId,
    task: Task,
}

/// A unit with what can be put off on it, and the last day it can be put off to.
struct Unit {
    upkeep: UnitUpkeep,
    offered: Vec<Offered>,
    last: NaiveDate,
    most_days: i64,
}

impl Unit {
    async fn find(desk: &Desk, address: &str) -> Result<Self, WebError> {
        let id = on_record::id_of(address)?;
        let mut read = desk.read().await?;
        let upkeep = upkeep::of_unit(desk, &mut read, id)
            .await?
            .ok_or(WebError::NotFound)?;
        let most_days = upkeep::Asked::at(desk)?.policy.due.put_off_days;
        let days = Days::new(u64::try_from(most_days).map_err(WebError::fault)?);
        let last = desk.today().checked_add_days(days);
        Ok(Self {
            offered: offered(&upkeep),
            upkeep,
            last: last.unwrap_or(NaiveDate::MAX),
            most_days,
        })
    }

    fn address(&self) -> String {
        format!("/units/{}", self.upkeep.course.unit)
    }

    fn sheet(&self) -> Sheet<'_> {
        let number = &self.upkeep.course.number;
        Sheet {
            word: "day",
            heading: format!("Put off work on unit {number}"),
            about: format!(
                "It stays on the list as put off, with your name and the reason, and comes back by itself after that day. No verdict changes: a unit that must not go out still must not. At most {} days at a time; an earlier day takes the place of a later one.",
                self.most_days
            ),
            action: format!("{}/put-off", self.address()),
            back: (self.address(), format!("Unit {number}")),
            parts: Box::new(|form| {
                let work = self.offered.iter().map(|each| Choice {
                    value: each.code.clone(),
                    label: each.words.clone(),
                    hint: each.hint.clone(),
                    ..Choice::default()
                });
                vec![Part::of(
                    "Work",
                    vec![
                        form.choice_field(WORK, "", work.collect(), ChoiceLook::OneOf)
                            .into(),
                        form.text_field(UNTIL, "The last day it may stay undone.", Width::Ten)
                            .into(),
                        form.text_area(REASON, "Like: parts are awaited.").into(),
                    ],
                )]
            }),
        }
    }
}

fn offered(unit: &UnitUpkeep) -> Vec<Offered> {
    let several = unit.course.loops.len() > 1;
    let mut found = Vec::new();
    for (of, known) in unit.each() {
        for task in &known.tasks {
            if task.due.state == DueState::NotYet {
                continue;
            }
            let words = task.task.words();
            found.push(Offered {
                code: code(of.place, task.task),
                words: if several {
                    format!("{words}, {}", of.name)
                } else {
                    words.to_owned()
                },
                hint: super::status(task.due.state).word.to_lowercase(),
                place: of.place,
                task: task.task,
            });
        }
    }
    found
}

/// GET /units/{unit}/put-off
pub(crate) async fn show(
    desk: Desk,
    Path(unit): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let unit = Unit::find(&desk, &unit).await?;
    if unit.offered.is_empty() {
        return Ok(Redirect::to(&unit.address()).into_response());
    }
    let asked = Form::from_query(query.as_deref());
    let mut form = card::new_form();
    form.set(WORK.0, asked.typed(WORK.0));
    Ok(unit.sheet().draw(&desk, &form))
}

/// POST /units/{unit}/put-off
pub(crate) async fn submit(
    desk: Desk,
    Path(unit): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let unit = Unit::find(&desk, &unit).await?;
    let key = card::read_key(&mut form);
    let known: Vec<(&str, (PlaceId, Task))> = unit
        .offered
        .iter()
        .map(|each| (each.code.as_str(), (each.place, each.task)))
        .collect();
    let work = form.choice(WORK, &known, Presence::Needed);
    let until = form.day(UNTIL, Presence::Needed);
    let today = desk.today();
    if until.is_some_and(|until| until < today || until > unit.last) {
        form.note(
            UNTIL.0,
            UNTIL.1,
            format!(
                "work is put off until a day from {today} to {}, {} days at most",
                unit.last, unit.most_days
            ),
        );
    }
    let reason = form.lines(REASON, Presence::Needed);
    form.refuse_what_was_not_asked();
    let sheet = unit.sheet();
    let reason = reason.as_deref().and_then(Text::plain);
    let read = (key, work, until, reason);
    let (Some(key), Some((place, task)), Some(until), Some(reason)) = read else {
        return Ok(sheet.draw(&desk, &form));
    };
    if !form.is_good() {
        return Ok(sheet.draw(&desk, &form));
    }
    let what = What::PutOff(PutOff {
        place,
        task,
        until,
        reason,
    });
    let added = Added {
        facts: vec![(key, what)],
        acting: LEAD,
        leads_to: unit.address(),
    };
    sheet.add(&desk, added, (form, as_sent)).await
}
