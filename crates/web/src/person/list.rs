//! `/people`: everybody of the shop, what they may do and how they sign on.

use std::collections::HashMap;

use askama::Template;
use axum::response::Response;
use domain::fleet::Role;
use domain::ids::ShopId;
use domain::moment::Moment;
use storage::access::SecretsHeld;
use storage::{Read, Staff};

use super::secret::state_of;
use crate::component::Status;
use crate::desk::{Desk, Frame, role_word};
use crate::{Clock, WebError, page};

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
    let rows = staff.iter().zip(&secrets).map(|(staff, held)| {
        (
            staff.person.active,
            row(&desk, (staff, held), (&shops, &names), now),
        )
    });
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

fn row(
    desk: &Desk,
    (staff, held): (&Staff, &SecretsHeld),
    (shops, names): (&HashMap<ShopId, String>, &HashMap<String, String>),
    now: Moment,
) -> Row {
    let person = &staff.person;
    let digest = person.name.as_ref().and_then(|name| name.digest());
    let name = digest.and_then(|digest| names.get(digest).cloned());
    let zone = desk.zone();
    Row {
        address: format!("/people/{}", person.id),
        handle: person.handle.clone(),
        name: name.unwrap_or_else(|| "name removed".to_owned()),
        shop: shop_name(person.shop, shops),
        roles: roles_in_words(staff, shops),
        pin: state_of(held.pin, (now, zone)),
        badge: super::secret::badge_state(held.badge),
        password: state_of(held.password, (now, zone)),
    }
}
