//! `/vessels/{vessel}/container`: where something is stated of a container.

use axum::body::Bytes;
use axum::extract::{Path, RawQuery};
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::fact::{Area, ContainerChange, ContainerEvent, LeftIn, What};
use domain::fleet::Vessel;
use domain::rules::accumulation::{Residue, is_empty};
use domain::rules::{Exact, Profile};
use domain::words::Text;
use storage::VesselNow;

use super::container::TOUCH;
use super::{LOCAL_RULES, OnSite, profiles};
use crate::WebError;
use crate::card::{self, Added, Part, Sheet};
use crate::component::{Choice, ChoiceLook, Width};
use crate::desk::Desk;
use crate::form::{Form, Presence};
use crate::vessel::find_own;

type Named = (&'static str, &'static str);

const WHAT: Named = ("what", "What is there to state?");
const DAY: Named = ("day", "Start date written on it, like 2026-10-05");
const FOUND: Named = ("found", "What was amiss (empty: nothing)");
const WORDS: Named = ("words", "Words on it");
const LEFT: Named = ("left", "What was left in it, like 20 mm, 1 in or 2 %");
const AREA: Named = ("area", "Name of the satellite area");

const KINDS: [(&str, &str); 6] = [
    ("look", "The weekly look: lid closed, sound, labelled"),
    ("start", "Its start date"),
    ("words", "The words on its label"),
    ("satellite", "It stands in a satellite area"),
    ("central", "It stands in the central area"),
    ("closed", "It was emptied, and begins anew"),
];

fn sheet<'a>(vessel: &Vessel) -> Sheet<'a> {
    let address = format!("/vessels/{}", vessel.id);
    Sheet {
        word: "entry",
        heading: format!("Container {}", vessel.name),
        about: LOCAL_RULES.to_owned(),
        action: format!("{address}/container"),
        back: (address, vessel.name.clone()),
        parts: Box::new(|form| {
            let kinds = Choice::list(&KINDS);
            vec![
                Part::of(
                    "Entry",
                    vec![form.choice_field(WHAT, "", kinds, ChoiceLook::OneOf).into()],
                ),
                Part::of(
                    "Fill in what belongs to it",
                    vec![
                        form.text_field(FOUND, "Of a look.", Width::Twenty).into(),
                        form.text_field(DAY, "Of a start date.", Width::Ten).into(),
                        form.text_field(
                            WORDS,
                            "Of a label, like hazardous waste, toxic.",
                            Width::Twenty,
                        )
                        .into(),
                        form.text_field(LEFT, "Of one that was emptied.", Width::Ten)
                            .into(),
                        form.text_field(AREA, "Of a satellite area, like bay 4.", Width::Twenty)
                            .into(),
                    ],
                ),
            ]
        }),
    }
}

/// GET /vessels/{vessel}/container, with `what` and `day` filled in where the address has them
pub(crate) async fn show_entry(
    desk: Desk,
    Path(vessel): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let card = find_own(&desk, &mut read, &vessel).await?;
    let mut form = card::new_form();
    let mut asked = Form::from_query(query.as_deref());
    let offered = KINDS.iter().find(|(code, _)| asked.typed(WHAT.0) == *code);
    form.set(WHAT.0, offered.map_or("look", |(code, _)| code));
    if let Some(day) = asked.day(DAY, Presence::Optional) {
        form.set(DAY.0, day.to_string());
    }
    Ok(sheet(&card).draw(&desk, &form))
}

/// POST /vessels/{vessel}/container
pub(crate) async fn submit_entry(
    desk: Desk,
    Path(vessel): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let mut read = desk.read().await?;
    let card = find_own(&desk, &mut read, &vessel).await?;
    let before = read
        .vessel_as_it_stands(card)
        .await
        .map_err(WebError::fault)?;
    let card = &before.card;
    let key = card::read_key(&mut form);
    let mut event = read_event(&mut form, desk.today());
    if let Some(ContainerChange::Emptied(left)) = &mut event {
        let site = OnSite::read(&desk, &mut read).await?;
        let profile = site.stated.profile_on(desk.today(), profiles()?);
        hold_against(&mut form, (left, card), profile);
    }
    drop(read);
    form.refuse_what_was_not_asked();
    let sheet = sheet(card);
    let (Some(key), Some(event), true) = (key, event, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let leads_to = after_it(&before, &event, desk.today());
    let what = What::ContainerEvent(ContainerEvent {
        vessel: card.id,
        event,
    });
    let added = Added {
        facts: vec![(key, what)],
        acting: TOUCH,
        leads_to,
    };
    sheet.add(&desk, added, (form, as_sent)).await
}

/// Where one goes on from an entry: what was moved out of a satellite area counts from that day on
/// (40 CFR 262.17(a), from memory), so its start date is offered.
fn after_it(before: &VesselNow, event: &ContainerChange, today: NaiveDate) -> String {
    let holds = before.held.as_ref().is_some_and(|held| held.shown_ml > 0);
    let comes_out = matches!(before.stated.area, Some(Area::Satellite(_)))
        && matches!(event, ContainerChange::Placed(Area::Central));
    if holds && comes_out {
        let id = before.card.id;
        format!("/vessels/{id}/container?what=start&day={today}")
    } else {
        "/waste/containers".to_owned()
    }
}

/// What is left in a container that was emptied is held against the rule for empty ones: what holds
/// more still has its waste, and does not begin anew.
fn hold_against(form: &mut Form, (left, card): (&mut LeftIn, &Vessel), profile: Option<&Profile>) {
    let residue = match Residue::read(&left.typed) {
        Ok(residue) => residue,
        Err(problem) => return form.note(LEFT.0, LEFT.1, problem),
    };
    let rules = profile.and_then(|profile| profile.generator.as_ref());
    let Some(empty) = rules.map(|rules| &rules.empty) else {
        return;
    };
    let capacity = card.capacity.as_ref();
    let capacity = capacity.and_then(|volume| u64::try_from(volume.value.ml()).ok());
    // Of one whose size is not known no more may be left than of the largest.
    let capacity = capacity.unwrap_or(u64::MAX);
    let capacity = Exact::from_billionths(capacity.saturating_mul(1_000_000_000));
    let section = empty.section(residue);
    if is_empty(residue, capacity, empty) {
        left.empty_by = Some(section.to_owned());
    } else {
        let typed = &left.typed;
        let problem = format!(
            "{typed} is more than an empty container may hold by {section}; it goes on as it is"
        );
        form.note(LEFT.0, LEFT.1, problem);
    }
}

fn read_event(form: &mut Form, today: NaiveDate) -> Option<ContainerChange> {
    let offered = KINDS.map(|(code, _)| (code, code));
    let kind = form.choice(WHAT, &offered, Presence::Needed);
    let needed = |code: &str| {
        if kind == Some(code) {
            Presence::Needed
        } else {
            Presence::Optional
        }
    };
    let found = form.line(FOUND, Presence::Optional);
    let day = form.day(DAY, needed("start"));
    let words = form.line(WORDS, needed("words"));
    let left = form.line(LEFT, needed("closed"));
    let area = form.line(AREA, needed("satellite"));
    if let Some(day) = day
        && day > today
    {
        let text = format!("{day} was typed, and today is {today}; waste cannot count from later");
        form.note(DAY.0, DAY.1, text);
        return None;
    }
    match kind? {
        "look" => Some(ContainerChange::Inspected(
            found.as_deref().and_then(Text::plain),
        )),
        "start" => day.map(ContainerChange::StartDate),
        "words" => words.map(ContainerChange::Labelled),
        "satellite" => area.map(|name| ContainerChange::Placed(Area::Satellite(name))),
        "central" => Some(ContainerChange::Placed(Area::Central)),
        _ => left.map(|typed| {
            ContainerChange::Emptied(LeftIn {
                typed,
                empty_by: None,
            })
        }),
    }
}
