//! `/people/{person}`: one person, what they may do, how they sign on, and what may be done about it.

use askama::Template;
use axum::extract::Path;
use axum::response::Response;

use super::list::{roles_in_words, roles_since, shop_name, shop_names};
use super::power::{self, Reach};
use super::secret::{badge_state, state_of};
use crate::component::Status;
use crate::desk::{Desk, Frame};
use crate::{Clock, WebError, figure, page};

#[derive(Template)]
#[template(path = "person/show.html")]
struct PersonPage {
    frame: Frame,
    heading: String,
    handle: String,
    address: String,
    /// They still work here.
    active: bool,
    shop: String,
    roles: String,
    /// Since when they hold these roles; empty for none.
    roles_since: String,
    /// When they last signed on or did something; empty when that is not known.
    last_use: String,
    /// Since when their card stands as it is: of somebody who left, since they left.
    card_since: String,
    name_is_there: bool,
    /// It is the page of whoever looks at it.
    own: bool,
    pin: Status,
    badge: Status,
    password: Status,
    reach: Reach,
}

impl PersonPage {
    fn may_pin(&self) -> bool {
        self.reach >= Reach::Pin
    }

    fn may_change(&self) -> bool {
        self.reach == Reach::Everything
    }
}

/// GET /people/{person}
pub(crate) async fn show(desk: Desk, Path(person): Path<String>) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let subject = super::find(&desk, &mut read, &person).await?;
    let shops = shop_names(&mut read).await?;
    drop(read);
    let now = Clock::system().now().into();
    let person = subject.person();
    let held = desk.state.access.secrets_of(&[person.id], now).await;
    let held = held.map_err(WebError::fault)?.pop();
    let held = held.ok_or_else(|| WebError::fault("nothing was said of a person's secrets"))?;
    let last_use = desk.state.access.last_uses(&[person.id]).await;
    let last_use = last_use.map_err(WebError::fault)?;
    let reach = power::reach(&desk, &subject.staff);
    let zone = desk.zone();
    let heading = match &subject.name {
        Some(name) => format!("{} {name}", person.handle),
        None => person.handle.clone(),
    };
    Ok(page::shown(&PersonPage {
        frame: desk.frame(person.handle.clone()),
        heading,
        handle: person.handle.clone(),
        address: subject.address(),
        active: person.active,
        shop: shop_name(person.shop, &shops),
        roles: roles_in_words(&subject.staff, &shops),
        roles_since: roles_since(&subject.staff, zone),
        last_use: last_use
            .get(&person.id)
            .map_or_else(String::new, |at| figure::time(*at, zone)),
        card_since: figure::day(subject.staff.card_since, zone),
        name_is_there: subject.name.is_some(),
        own: person.id == desk.person.id,
        pin: state_of(held.pin, (now, zone)),
        badge: badge_state(held.badge),
        password: state_of(held.password, (now, zone)),
        reach,
    }))
}
