//! Where somebody stands before they are signed on: at an enrolled tablet or anywhere else.

use axum::http::HeaderMap;
use domain::fleet::Person;
use domain::ids::PersonId;
use domain::moment::Moment;
use storage::Read;
use storage::access::{Held, Tablet, TabletId};

use crate::desk::{Cookies, Kept};
use crate::{AppState, Clock, WebError};

/// So many tiles are shown at first; "Somebody else" shows them all.
pub(super) const TILES: usize = 12;

/// A browser, with the tablet it is when it is one.
pub(crate) struct Door {
    pub(crate) cookies: Cookies,
    pub(crate) tablet: Option<Tablet>,
    /// By the machine's clock: no business clock moves the terms of security.
    pub(crate) now: Moment,
}

/// Somebody whose name stands on the sign-on page of a tablet.
#[derive(Debug)]
pub(crate) struct Tile {
    pub(crate) id: String,
    pub(crate) handle: String,
    pub(crate) name: String,
    pub(crate) chosen: bool,
}

impl Door {
    pub(crate) async fn find(state: &AppState, headers: &HeaderMap) -> Result<Self, WebError> {
        let now = Clock::system().now().into();
        let cookies = Cookies::of(headers, &state.transport);
        let tablet = match cookies.find(Kept::Tablet) {
            Some(token) => state
                .access
                .tablet_of(token, now)
                .await
                .map_err(WebError::fault)?,
            None => None,
        };
        Ok(Self {
            cookies,
            tablet,
            now,
        })
    }

    pub(crate) fn tablet_id(&self) -> Option<TabletId> {
        self.tablet.as_ref().map(|tablet| tablet.id)
    }
}

/// Those of the tablet's shop who hold a PIN or a badge: the last ones here first, then by handle.
pub(crate) async fn tiles(
    state: &AppState,
    tablet: &Tablet,
    (chosen, now): (&str, Moment),
) -> Result<Vec<Tile>, WebError> {
    let mut read = state.store.read().await.map_err(WebError::fault)?;
    let mut people = read
        .list_people(tablet.shop)
        .await
        .map_err(WebError::fault)?;
    people.retain(|person| person.active);
    let ids: Vec<PersonId> = people.iter().map(|person| person.id).collect();
    let held = state
        .access
        .secrets_of(&ids, now)
        .await
        .map_err(WebError::fault)?;
    people.retain(|person| {
        let mut held = held.iter();
        held.any(|held| held.person == person.id && (held.badge || held.pin != Held::No))
    });
    let last = state
        .access
        .last_on_tablet(tablet.id)
        .await
        .map_err(WebError::fault)?;
    people.sort_by_key(|person| {
        let recent = last
            .iter()
            .position(|id| *id == person.id)
            .unwrap_or(usize::MAX);
        // "P2" before "P10".
        (recent, person.handle.chars().count(), person.handle.clone())
    });
    name(&mut read, people, chosen).await
}

async fn name(read: &mut Read, people: Vec<Person>, chosen: &str) -> Result<Vec<Tile>, WebError> {
    let digest = |person: &Person| {
        let digest = person.name.as_ref().and_then(|name| name.digest());
        digest.map(str::to_owned)
    };
    let digests: Vec<String> = people.iter().filter_map(digest).collect();
    let digests: Vec<&str> = digests.iter().map(String::as_str).collect();
    let texts = read.list_texts(&digests).await.map_err(WebError::fault)?;
    Ok(people
        .into_iter()
        .map(|person| {
            let name = digest(&person).and_then(|digest| texts.get(&digest).cloned());
            let id = person.id.to_string();
            Tile {
                chosen: id == chosen,
                id,
                name: name.unwrap_or_else(|| "name removed".to_owned()),
                handle: person.handle,
            }
        })
        .collect())
}
