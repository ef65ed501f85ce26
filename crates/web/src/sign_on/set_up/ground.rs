//! What is on record before the set-up: nothing, or what a backup or an import brought.

use domain::fleet::{Person, Role, Shop};

use super::Allowed;
use crate::{AppState, WebError};

/// Those who can let others in.
const CAN_LET_IN: &[Role] = &[Role::Manager, Role::Administrator];

pub(super) struct Ground {
    pub(super) allowed: Allowed,
    pub(super) shops: Vec<Shop>,
    /// Managers and administrators on record, with their names.
    pub(super) people: Vec<(Person, String)>,
}

impl Ground {
    pub(super) async fn find(state: &AppState, allowed: Allowed) -> Result<Self, WebError> {
        let mut read = state.store.read().await.map_err(WebError::fault)?;
        let shops = read.list_shops().await.map_err(WebError::fault)?;
        let holders = read
            .list_holders(CAN_LET_IN)
            .await
            .map_err(WebError::fault)?;
        let mut people = Vec::with_capacity(holders.len());
        for person in holders {
            let name = match person.name.as_ref().and_then(|name| name.digest()) {
                Some(digest) => read.find_text(digest).await.map_err(WebError::fault)?,
                None => None,
            };
            people.push((person, name.unwrap_or_else(|| "name removed".to_owned())));
        }
        Ok(Self {
            allowed,
            shops,
            people,
        })
    }

    /// Nothing is on record that people could belong to.
    pub(super) fn is_empty(&self) -> bool {
        self.shops.is_empty()
    }

    /// Whether somebody new may be written down.
    pub(super) fn takes_new(&self) -> bool {
        self.allowed == Allowed::All
    }
}
