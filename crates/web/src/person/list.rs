//! `/people`: everybody of the shop, what they may do and how they sign on.

use std::collections::HashMap;

use askama::Template;
use axum::response::Response;
use chrono_tz::Tz;
use domain::fleet::Role;
use domain::ids::{PersonId, ShopId};
use domain::moment::Moment;
use storage::access::SecretsHeld;
use storage::{Read, Staff};

use super::secret::state_of;
use crate::component::Status;
use crate::desk::{Desk, Frame, role_word};
use crate::{Clock, WebError, figure, page};

#[derive(Template)]
#[template(path = "person/list.html")]
struct ListPage {
    frame: Frame,
    /// People of every shop are on it.
    all_shops: bool,
    may_add: bool,
    here: Vec<Row>,
    gone: Vec<Row>,
}

struct Row {
    address: String,
    handle: String,
    name: String,
    shop: String,
    roles: String,
    /// Since when they hold these roles; empty for none.
    roles_since: String,
    /// When they last signed on or did something; empty when that is not known.
    last_use: String,
    /// Since when their card stands as it is: of somebody who left, since they left.
    card_since: String,
    pin: Status,
    badge: Status,
    password: Status,
}

/// GET /people
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let all_shops = desk.may(&[Role::Administrator]);
    let wanted = (!all_shops).then_some(desk.shop.id);
    let mut staff = read.list_staff(wanted).await.map_err(WebError::fault)?;
    staff.retain(|staff| super::power::sees(&desk, staff));
    let shops = shop_names(&mut read).await?;
    let names = names(&mut read, &staff).await?;
    drop(read);
    let ids: Vec<_> = staff.iter().map(|staff| staff.person.id).collect();
    let now = Clock::system().now().into();
    let secrets = desk.state.access.secrets_of(&ids, now).await;
    let secrets = secrets.map_err(WebError::fault)?;
    let last_uses = desk.state.access.last_uses(&ids).await;
    let last_uses = last_uses.map_err(WebError::fault)?;
    let known = Known {
        shops,
        names,
        last_uses,
        at: (now, desk.zone()),
    };
    let rows = staff
        .iter()
        .zip(&secrets)
        .map(|(staff, held)| (staff.person.active, row(staff, held, &known)));
    let (here, gone): (Vec<_>, Vec<_>) = rows.partition(|(active, _)| *active);
    let rows = |part: Vec<(bool, Row)>| part.into_iter().map(|(_, row)| row).collect();
    Ok(page::shown(&ListPage {
        frame: desk.frame("People"),
        all_shops,
        may_add: !super::power::may_give(&desk).is_empty(),
        here: rows(here),
        gone: rows(gone),
    }))
}

/// The names of all shops.
pub(super) async fn shop_names(read: &mut Read) -> Result<HashMap<ShopId, String>, WebError> {
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    Ok(shops.into_iter().map(|shop| (shop.id, shop.name)).collect())
}

async fn names(read: &mut Read, staff: &[Staff]) -> Result<HashMap<String, String>, WebError> {
    let digests = staff
        .iter()
        .filter_map(|staff| staff.person.name.as_ref()?.digest());
    let digests: Vec<&str> = digests.collect();
    read.list_texts(&digests).await.map_err(WebError::fault)
}

/// "technician, lead hand"; where they hold them, when that is not their own shop.
pub(super) fn roles_in_words(staff: &Staff, shops: &HashMap<ShopId, String>) -> String {
    let told: Vec<String> = staff
        .roles
        .iter()
        .filter(|held| !held.roles.is_empty())
        .map(|held| {
            let words: Vec<&str> = held.roles.iter().map(|role| role_word(*role)).collect();
            let words = words.join(", ");
            match held.shop {
                shop if shop == staff.person.shop => words,
                Some(shop) => format!("{words} in {}", shop_name(Some(shop), shops)),
                None => format!("{words} in every shop"),
            }
        })
        .collect();
    if told.is_empty() {
        "none".to_owned()
    } else {
        told.join("; ")
    }
}

/// The name of a shop, or "every shop".
pub(super) fn shop_name(shop: Option<ShopId>, shops: &HashMap<ShopId, String>) -> String {
    match shop {
        None => "every shop".to_owned(),
        Some(shop) => shops
            .get(&shop)
            .cloned()
            .unwrap_or_else(|| "a shop without a card".to_owned()),
    }
}

/// What is known beside a person's own row.
struct Known {
    shops: HashMap<ShopId, String>,
    names: HashMap<String, String>,
    last_uses: HashMap<PersonId, Moment>,
    /// Now, in the shop's zone.
    at: (Moment, Tz),
}

fn row(staff: &Staff, held: &SecretsHeld, known: &Known) -> Row {
    let person = &staff.person;
    let digest = person.name.as_ref().and_then(|name| name.digest());
    let name = digest.map(|digest| known.names.get(digest).cloned());
    let (_, zone) = known.at;
    let last_use = known.last_uses.get(&person.id);
    Row {
        address: format!("/people/{}", person.id),
        handle: person.handle.clone(),
        name: name.map_or_else(String::new, |name| {
            name.unwrap_or_else(|| "name removed".to_owned())
        }),
        shop: shop_name(person.shop, &known.shops),
        roles: roles_in_words(staff, &known.shops),
        roles_since: roles_since(staff, zone),
        last_use: last_use.map_or_else(String::new, |at| figure::time(*at, zone)),
        card_since: figure::day(staff.card_since, zone),
        pin: state_of(held.pin, known.at),
        badge: super::secret::badge_state(held.badge),
        password: state_of(held.password, known.at),
    }
}

/// The day since when somebody holds their roles; empty for none.
pub(super) fn roles_since(staff: &Staff, zone: Tz) -> String {
    let holds_any = staff.roles.iter().any(|held| !held.roles.is_empty());
    let since = staff.roles_since.filter(|_| holds_any);
    since.map_or_else(String::new, |since| figure::day(since, zone))
}
