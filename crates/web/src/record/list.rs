//! GET /records: the trail, newest first.

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use chrono::TimeDelta;
use domain::fact::{Fact, What};
use domain::ids::{FactKey, PersonId};
use domain::moment::Moment;
use domain::words::Text;
use storage::{Read, Row, TrailFilter};
use uuid::Uuid;

use super::card::Cards;
use super::complete::Complete;
use super::scope::{self, Scope, may_see};
use super::words::{kind_word, number, proved_short, via_word};
use super::{Names, Wanted, fields};
use crate::component::{Choice, ChoiceField, ChoiceLook, TextField, Width};
use crate::desk::{Desk, Frame};
use crate::form::{Form, Presence, printable};
use crate::intake::time::start_of_day;
use crate::{WebError, figure, page};

/// So many on one page.
const A_PAGE: usize = 50;
const KIND: (&str, &str) = ("kind", "Kind");
const PERSON: (&str, &str) = ("person", "Person, by handle");
const DAY: (&str, &str) = ("day", "Day, like 2026-10-05");
const ABOUT: (&str, &str) = ("about", "About");
const BEFORE: &str = "before";

#[derive(Template)]
#[template(path = "record/list.html")]
struct ListPage {
    frame: Frame,
    complete: Complete,
    /// What part of the record this person sees.
    part: &'static str,
    book_check: bool,
    kind: ChoiceField,
    person: TextField,
    day: TextField,
    about: TextField,
    rows: Vec<Line>,
    older: Option<String>,
    filtered: bool,
}

/// One fact in the list.
struct Line {
    seq: i64,
    number: String,
    at: String,
    person: String,
    came: String,
    kind: String,
    subject: String,
    /// Empty where none was asked for.
    reason: String,
}

/// GET /records
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let scope = scope::of(&desk.roles, desk.everywhere).ok_or(WebError::NotFound)?;
    let mut form = Form::from_query(query.as_deref());
    let mut read = desk.read().await?;
    let wanted = read_filter(&desk, &mut read, &mut form).await?;
    let filter = within(&desk, scope, wanted)?;
    let before = form.typed(BEFORE).parse().ok();
    let most = i64::try_from(A_PAGE.saturating_add(1)).unwrap_or(i64::MAX);
    let mut rows = if form.is_good() {
        read.list_trail(&filter, before, most)
            .await
            .map_err(WebError::fault)?
    } else {
        Vec::new()
    };
    let more = rows.len() > A_PAGE;
    rows.truncate(A_PAGE);
    let older = rows
        .last()
        .filter(|_| more)
        .map(|last| older(&form, last.seq));
    rows.retain(|row| may_see(&desk, row));
    let filtered = [KIND, PERSON, DAY, ABOUT]
        .iter()
        .any(|(name, _)| !form.typed(name).is_empty());
    Ok(page::shown(&ListPage {
        frame: desk.frame("Records"),
        complete: Complete::find(&desk, &mut read).await?,
        part: part(scope),
        book_check: crate::book_check::may_see(&desk),
        kind: form.choice_field(KIND, "", kinds(), ChoiceLook::List),
        person: form.text_field(PERSON, "", Width::Ten),
        day: form.text_field(DAY, "", Width::Ten),
        about: form.text_field(
            ABOUT,
            "Number of a unit, name of a vessel, or an event like 4211.",
            Width::Twenty,
        ),
        rows: lines(&desk, &mut read, &rows).await?,
        older,
        filtered: filtered || before.is_some(),
    }))
}

const fn part(scope: Scope) -> &'static str {
    match scope {
        Scope::Everything => "Every shop.",
        Scope::Shop => "What was entered in your shop.",
        Scope::ShopToday => "What was entered in your shop today.",
        Scope::Own => "What you entered yourself.",
    }
}

fn kinds() -> Vec<Choice> {
    let any = Choice {
        label: "any".to_owned(),
        ..Choice::default()
    };
    let kinds = What::KINDS.iter().map(|code| Choice {
        value: (*code).to_owned(),
        label: kind_word(code).to_owned(),
        ..Choice::default()
    });
    std::iter::once(any).chain(kinds).collect()
}

/// What the query asks for; a name that stands for nothing is noted on its field.
async fn read_filter(
    desk: &Desk,
    read: &mut Read,
    form: &mut Form,
) -> Result<TrailFilter, WebError> {
    let offered: Vec<(&str, &str)> = What::KINDS.iter().map(|code| (*code, *code)).collect();
    let kind = form.choice(KIND, &offered, Presence::Optional);
    let person = match form.line(PERSON, Presence::Optional) {
        Some(handle) => find_person(read, form, &handle).await?,
        None => None,
    };
    let day = form.day(DAY, Presence::Optional);
    let taken_in = day.and_then(|day| {
        let start = start_of_day(day, desk.zone()).ok()?;
        let end = start_of_day(day.checked_add_signed(TimeDelta::days(1))?, desk.zone()).ok()?;
        Some((start.at, end.at))
    });
    let subject = match form.line(ABOUT, Presence::Optional) {
        Some(name) => find_subject(desk, read, form, &name).await?,
        None => None,
    };
    Ok(TrailFilter {
        kind: kind.map(str::to_owned),
        person,
        taken_in,
        subject,
        ..TrailFilter::default()
    })
}

async fn find_person(
    read: &mut Read,
    form: &mut Form,
    handle: &str,
) -> Result<Option<PersonId>, WebError> {
    let person = read
        .find_person_by_handle(handle)
        .await
        .map_err(WebError::fault)?;
    if person.is_none() {
        let found = printable(handle);
        form.note(
            PERSON.0,
            PERSON.1,
            format!("nobody on record has the handle \"{found}\""),
        );
    }
    Ok(person.map(|person| person.id))
}

async fn find_subject(
    desk: &Desk,
    read: &mut Read,
    form: &mut Form,
    name: &str,
) -> Result<Option<Uuid>, WebError> {
    if let Ok(id) = Uuid::try_parse(name) {
        return Ok(Some(id));
    }
    if let Some(unit) = read
        .find_unit_by_number(name)
        .await
        .map_err(WebError::fault)?
    {
        return Ok(Some(unit.id.0));
    }
    for shop in [Some(desk.shop.id), None] {
        if let Some(vessel) = read
            .find_vessel_by_name(name, shop)
            .await
            .map_err(WebError::fault)?
        {
            return Ok(Some(vessel.id.0));
        }
    }
    if let Some(row) = find_event(read, name).await? {
        return Ok(Some(row.key));
    }
    let found = printable(name);
    form.note(ABOUT.0, ABOUT.1, format!("nothing on record is called \"{found}\"; write the number of a unit, the name of a vessel, or an event like 4211"));
    Ok(None)
}

/// The fact that a number such as "4,211" names.
async fn find_event(read: &mut Read, name: &str) -> Result<Option<Row>, WebError> {
    let digits: String = name
        .chars()
        .filter(|letter| !matches!(letter, ',' | ' ' | '\u{202F}'))
        .collect();
    let Ok(seq) = digits.parse::<i64>() else {
        return Ok(None);
    };
    read.find_fact_at(seq).await.map_err(WebError::fault)
}

/// Holds a filter to the part of the record that is open to this person.
fn within(desk: &Desk, scope: Scope, wanted: TrailFilter) -> Result<TrailFilter, WebError> {
    let shop = Some(desk.shop.id);
    Ok(match scope {
        Scope::Everything => wanted,
        Scope::Shop => TrailFilter { shop, ..wanted },
        Scope::ShopToday => TrailFilter {
            shop,
            taken_in: Some(today_within(desk, wanted.taken_in)?),
            ..wanted
        },
        Scope::Own => match wanted.person {
            // Another's facts are not theirs to see.
            Some(person) if person != desk.person.id => TrailFilter {
                taken_in: Some((Moment(0), Moment(0))),
                ..wanted
            },
            _ => TrailFilter {
                person: Some(desk.person.id),
                ..wanted
            },
        },
    })
}

fn today_within(
    desk: &Desk,
    wanted: Option<(Moment, Moment)>,
) -> Result<(Moment, Moment), WebError> {
    let start = start_of_day(desk.today(), desk.zone()).map_err(WebError::fault)?;
    let next = desk
        .today()
        .checked_add_signed(TimeDelta::days(1))
        .unwrap_or(chrono::NaiveDate::MAX);
    let end = start_of_day(next, desk.zone()).map_err(WebError::fault)?;
    Ok(wanted.map_or((start.at, end.at), |(from, until)| {
        (from.max(start.at), until.min(end.at))
    }))
}

fn older(form: &Form, last: i64) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    for (name, _) in [KIND, PERSON, DAY, ABOUT] {
        let typed = form.typed(name);
        if !typed.is_empty() {
            query.append_pair(name, typed);
        }
    }
    query.append_pair(BEFORE, &last.to_string());
    format!("/records?{}", query.finish())
}

async fn lines(desk: &Desk, read: &mut Read, rows: &[Row]) -> Result<Vec<Line>, WebError> {
    let mut facts = Vec::new();
    let mut wanted = Wanted::default();
    for row in rows {
        let fact = row.fact().map_err(WebError::fault)?;
        fields::want(&mut wanted, &fact);
        wanted.people.extend(row.person.map(PersonId));
        let meant = match fields::fact_meant(&fact.what) {
            Some(key) => find_meant(read, key, &mut wanted).await?,
            None => None,
        };
        facts.push((row, fact, meant));
    }
    let names = Names::of(read, wanted).await?;
    let cards = Cards {
        units: desk.units(),
        names: &names,
    };
    let lines = facts.iter().map(|(row, fact, meant)| {
        let meant = meant
            .as_ref()
            .map(|(seq, fact)| fields::meant(cards, *seq, fact));
        let reason = fields::reason(&fact.what);
        let reason = reason.map(|reason: &Text| names.text(reason, "reason removed"));
        Line {
            seq: row.seq,
            number: number(desk.units(), row.seq),
            at: figure::time(Moment(row.at), desk.zone()),
            person: names.person(row.person.map(PersonId).or(fact.by.person)),
            came: format!("{}, {}", via_word(&row.via), proved_short(fact.by.proved)),
            kind: kind_word(&row.kind).to_owned(),
            subject: fields::subject(&names, fact, meant),
            reason: reason.unwrap_or_default(),
        }
    });
    Ok(lines.collect())
}

/// The fact that a void, an answer or a removal is about.
pub(super) async fn find_meant(
    read: &mut Read,
    key: FactKey,
    wanted: &mut Wanted,
) -> Result<Option<(i64, Fact)>, WebError> {
    let Some(row) = read.find_fact(key).await.map_err(WebError::fault)? else {
        return Ok(None);
    };
    let fact = row.fact().map_err(WebError::fault)?;
    fields::want(wanted, &fact);
    Ok(Some((row.seq, fact)))
}
