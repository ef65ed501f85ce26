//! `/tablets`: the shop's own tablets, the links that enrol them, and their end.

use std::collections::{HashMap, HashSet};

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use chrono_tz::Tz;
use domain::fleet::{Role, Shop};
use domain::ids::{PersonId, ShopId};
use domain::moment::{DAY_MS, MINUTE_MS, Moment};
use storage::access::{LastContact, NewTablet, Tablet, TabletId};
use uuid::Uuid;

use crate::component::{Choice, ChoiceField, ChoiceLook, Qr, Shape, Status, TextField, Width};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::{Form, FormProblem, Presence};
use crate::sign_on::enrolment::{LASTS_MS, Uses, enrol_address};
use crate::{Clock, Transport, WebError, page};

const NAME: (&str, &str) = ("name", "What is the tablet called?");
const SHOP: (&str, &str) = ("shop", "Shop");

#[derive(Template)]
#[template(path = "tablet/list.html")]
struct ListPage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    all_shops: bool,
    may_enrol: bool,
    may_import: bool,
    name: TextField,
    /// For whoever may enrol one for any shop.
    shop: Option<ChoiceField>,
    rows: Vec<Row>,
}

struct Row {
    id: TabletId,
    name: String,
    shop: String,
    state: Status,
    good: bool,
    /// Too many PINs did not fit: it takes none until somebody lets it, or for a while.
    waits: bool,
    heard: String,
    /// "3 jobs wait, the oldest since 07:40"; empty when none does.
    waiting: String,
    /// Jobs that waited in a browser store that is gone.
    lost: i64,
    /// The day, and by whom.
    enrolled: String,
    /// The day it ran out, runs out or was revoked on; by whom it was revoked.
    until: String,
}

/// What the list knows beside the tablets themselves.
struct Beside<'a> {
    shops: HashMap<ShopId, &'a str>,
    /// Short names of those who enrolled or revoked one.
    handles: HashMap<PersonId, String>,
    /// The end of the wait of those that take no PINs now.
    waits: HashMap<TabletId, Moment>,
    /// What each told last.
    contacts: HashMap<TabletId, LastContact>,
}

#[derive(Template)]
#[template(path = "tablet/link.html")]
struct LinkPage {
    frame: Frame,
    heading: String,
    shop: String,
    until: String,
    address: String,
    /// No other device reaches this server.
    this_machine_only: bool,
    /// The same on this server, for the device in hand.
    here: String,
    code: Qr,
}

/// Those who may enrol one; a lead hand may only revoke.
const MAY_ENROL: &[Role] = &[Role::Manager, Role::Administrator];

/// GET /tablets
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    draw(&desk, &Form::default()).await
}

/// POST /tablets: a link that makes whoever opens it a tablet.
pub(crate) async fn offer(
    desk: Desk,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let shops = shops(&desk).await?;
    let name = form.line(NAME, Presence::Needed);
    let shop = read_shop(&mut form, &desk, &shops);
    form.refuse_what_was_not_asked();
    let (Some(name), Some(shop), true) = (name, shop, form.is_good()) else {
        let page = draw(&desk, &form).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let now: Moment = Clock::system().now().into();
    let tablet = NewTablet {
        name: name.clone(),
        shop: shop.id,
        by: desk.person.id,
    };
    let offered = desk.state.enrolments.offer(tablet, Uses::Once, now);
    let code = offered.map_err(WebError::fault)?;
    let address = enrol_address(&origin(&desk, &headers)?, &code);
    let heading = format!("A link for {name}");
    Ok(page::shown(&LinkPage {
        frame: desk.frame(heading.clone()),
        heading,
        shop: shop.name.clone(),
        until: figure::clock(now.plus_ms(LASTS_MS - MINUTE_MS / 2), desk.zone()),
        code: Qr::of(&address)?,
        this_machine_only: desk.state.transport == Transport::Loopback,
        here: enrol_address("", &code),
        address,
    }))
}

/// Where browsers reach this server: what the proxy is told, or the name this very page was asked by.
pub(crate) fn origin(desk: &Desk, headers: &HeaderMap) -> Result<String, WebError> {
    if let Transport::BehindProxy { origin } = &desk.state.transport {
        return Ok(origin.clone());
    }
    let host = headers
        .get(header::HOST)
        .and_then(|host| host.to_str().ok());
    let host = host.ok_or_else(|| WebError::fault("a form came in for no name"))?;
    let scheme = if desk.state.transport.is_https() {
        "https"
    } else {
        "http"
    };
    Ok(format!("{scheme}://{host}"))
}

/// POST /tablets/{tablet}/revoke
pub(crate) async fn revoke(
    desk: Desk,
    Path(tablet): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let tablet = find(&desk, &tablet).await?;
    form.is_a_button()?;
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let now = Clock::system().now().into();
    let revoked = desk
        .state
        .access
        .revoke_tablet(tablet.id, desk.person.id, now);
    revoked.await.map_err(WebError::fault)?;
    Ok(Redirect::to("/tablets").into_response())
}

/// POST /tablets/{tablet}/let-on
pub(crate) async fn let_on(
    desk: Desk,
    Path(tablet): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let tablet = find(&desk, &tablet).await?;
    form.is_a_button()?;
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let now = Clock::system().now().into();
    let let_on = desk
        .state
        .access
        .let_tablet_on(tablet.id, desk.person.id, now);
    let_on.await.map_err(WebError::fault)?;
    Ok(Redirect::to("/tablets").into_response())
}

/// POST /tablets/{tablet}/lost: whoever runs the shop knows that jobs are gone.
pub(crate) async fn settle_lost(
    desk: Desk,
    Path(tablet): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let tablet = find(&desk, &tablet).await?;
    form.is_a_button()?;
    let settled = desk.state.access.settle_lost(tablet.id).await;
    settled.map_err(WebError::fault)?;
    Ok(Redirect::to("/tablets").into_response())
}

async fn find(desk: &Desk, id: &str) -> Result<Tablet, WebError> {
    let id = Uuid::try_parse(id).map_err(|_| WebError::NotFound)?;
    let tablets = theirs(desk).await?;
    let mut tablets = tablets.into_iter();
    tablets
        .find(|tablet| tablet.id == TabletId(id))
        .ok_or(WebError::NotFound)
}

/// The tablets of the shop; an administrator's are all of them.
async fn theirs(desk: &Desk) -> Result<Vec<Tablet>, WebError> {
    let everywhere = desk.may(&[Role::Administrator]);
    let mut tablets = desk
        .state
        .access
        .list_tablets()
        .await
        .map_err(WebError::fault)?;
    tablets.retain(|tablet| everywhere || tablet.shop == desk.shop.id);
    Ok(tablets)
}

/// The shops one may be enrolled for.
async fn shops(desk: &Desk) -> Result<Vec<Shop>, WebError> {
    if desk.may(&[Role::Administrator]) {
        let mut read = desk.read().await?;
        return read.list_shops().await.map_err(WebError::fault);
    }
    Ok(vec![desk.shop.clone()])
}

fn read_shop<'a>(form: &mut Form, desk: &Desk, shops: &'a [Shop]) -> Option<&'a Shop> {
    if let [only] = shops {
        return Some(only);
    }
    let ids: Vec<String> = shops.iter().map(|shop| shop.id.to_string()).collect();
    let offered: Vec<(&str, &Shop)> = ids.iter().map(String::as_str).zip(shops).collect();
    form.preset(SHOP.0, desk.shop.id.to_string());
    form.choice(SHOP, &offered, Presence::Needed)
}

async fn draw(desk: &Desk, form: &Form) -> Result<Response, WebError> {
    let all_shops = desk.may(&[Role::Administrator]);
    let shops = shops(desk).await?;
    let tablets = theirs(desk).await?;
    let now: Moment = Clock::system().now().into();
    let waits = desk.state.access.list_waiting_tablets(now).await;
    let contacts = desk.state.access.list_contacts().await;
    let beside = Beside {
        shops: shops
            .iter()
            .map(|shop| (shop.id, shop.name.as_str()))
            .collect(),
        handles: handles(desk, &tablets).await?,
        waits: waits.map_err(WebError::fault)?.into_iter().collect(),
        contacts: contacts
            .map_err(WebError::fault)?
            .into_iter()
            .map(|contact| (contact.tablet, contact))
            .collect(),
    };
    let mut rows: Vec<Row> = tablets
        .into_iter()
        .map(|tablet| row((desk, now), &beside, tablet))
        .collect();
    rows.sort_by_key(|row| !row.good);
    let choices = shops.iter().map(|shop| Choice {
        value: shop.id.to_string(),
        label: shop.name.clone(),
        chosen: shop.id == desk.shop.id,
        ..Choice::default()
    });
    let title = if form.is_good() {
        "Tablets"
    } else {
        "Not saved: tablets"
    };
    Ok(page::shown(&ListPage {
        frame: desk.frame(title),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        all_shops,
        may_enrol: desk.may(MAY_ENROL),
        may_import: desk.may(&[Role::LeadHand, Role::Manager]),
        name: form.text_field(NAME, "As it is marked, like Bay 2.", Width::Twenty),
        shop: (shops.len() > 1)
            .then(|| form.choice_field(SHOP, "", choices.collect(), ChoiceLook::OneOf)),
        rows,
    }))
}

async fn handles(desk: &Desk, tablets: &[Tablet]) -> Result<HashMap<PersonId, String>, WebError> {
    let people: HashSet<PersonId> = tablets
        .iter()
        .flat_map(|tablet| [Some(tablet.enrolled_by), tablet.revoked.map(|(_, by)| by)])
        .flatten()
        .collect();
    let mut read = desk.read().await?;
    let mut handles = HashMap::new();
    for id in people {
        let person = read.find_person(id).await.map_err(WebError::fault)?;
        handles.extend(person.map(|person| (id, person.handle)));
    }
    Ok(handles)
}

/// A tablet in use is heard of every few minutes.
fn is_silent(tablet: &Tablet, now: Moment) -> bool {
    let heard = tablet.last_seen_at.unwrap_or(tablet.enrolled_at);
    now.ms_since(heard) >= DAY_MS
}

fn waiting(contact: &LastContact, zone: Tz) -> String {
    let jobs = match contact.waiting {
        0 => return String::new(),
        1 => "1 job waits to be sent".to_owned(),
        several => format!("{several} jobs wait to be sent"),
    };
    contact.oldest_at.map_or_else(
        || jobs.clone(),
        |at| format!("{jobs}, the oldest since {}", figure::time(at, zone)),
    )
}

fn row((desk, now): (&Desk, Moment), beside: &Beside<'_>, tablet: Tablet) -> Row {
    let zone = desk.zone();
    let good = tablet.is_good(now);
    let waits = beside.waits.get(&tablet.id).filter(|_| good);
    let state = match (tablet.revoked, waits) {
        (Some(_), _) => Status::new(Shape::Nothing, "Revoked"),
        (None, Some(until)) => Status::new(
            Shape::Stop,
            format!("Takes no PINs until {}", figure::clock(*until, zone)),
        ),
        (None, None) if good && is_silent(&tablet, now) => {
            Status::new(Shape::Watch, "Not heard from for a day")
        }
        (None, None) if good => Status::new(Shape::Good, "Enrolled"),
        (None, None) => Status::new(Shape::Wait, "Ran out"),
    };
    let day_and_by = |at, by: PersonId| {
        let day = figure::day(at, zone);
        let handle = beside.handles.get(&by);
        handle.map_or_else(|| day.clone(), |handle| format!("{day} by {handle}"))
    };
    let contact = beside.contacts.get(&tablet.id);
    Row {
        id: tablet.id,
        waiting: contact.map_or_else(String::new, |contact| waiting(contact, zone)),
        lost: contact.map_or(0, |contact| contact.lost),
        shop: beside
            .shops
            .get(&tablet.shop)
            .copied()
            .unwrap_or_default()
            .to_owned(),
        name: tablet.name,
        state,
        good,
        waits: waits.is_some(),
        heard: tablet
            .last_seen_at
            .map_or_else(|| "never".to_owned(), |at| figure::time(at, zone)),
        enrolled: day_and_by(tablet.enrolled_at, tablet.enrolled_by),
        until: tablet.revoked.map_or_else(
            || figure::day(tablet.expires_at, zone),
            |(at, by)| day_and_by(at, by),
        ),
    }
}
