//! Where a signed-on person stands: who they are, in which shop, and the frame their pages have.
//!
//! [`guard`] puts a [`Desk`] on every request of a route that asks for one; a handler that takes it
//! cannot run for anybody else.

mod cookie;
mod frame;
mod guard;
mod look;
mod screen_size;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use domain::fact::By;
use domain::fleet::{Person, Role, Shop};
use domain::ids::ShopId;
use domain::moment::Moment;
use domain::quantity::UnitsOfMeasure;
use storage::access::Session;
use storage::{AppendError, Appended, Command, Read};

pub(crate) use cookie::{Cookies, Kept};
pub(crate) use frame::{Frame, role_word};
pub(crate) use guard::{Asked, Seen, Who, desk_of, guard, roles_that_count, shop_to_stand_in};
pub(crate) use look::{Look, Shade};
pub(crate) use screen_size::ScreenSize;

use crate::intake::read_zone;
use crate::{AppState, RequestId, WebError};

/// A person at work.
#[derive(Clone, Debug)]
pub(crate) struct Desk {
    pub(crate) state: AppState,
    pub(crate) session: Session,
    pub(crate) person: Person,
    /// Their name; none when it was removed or never given.
    pub(crate) name: Option<String>,
    /// What they may do in the shop they stand in.
    pub(crate) roles: Vec<Role>,
    pub(crate) shop: Shop,
    /// They may stand in every shop.
    pub(crate) everywhere: bool,
    pub(crate) look: Look,
    /// The address without its query.
    pub(crate) path: String,
    pub(crate) request: RequestId,
}

impl Desk {
    /// Whether they hold one of these roles here.
    pub(crate) fn may(&self, roles: &[Role]) -> bool {
        self.roles.iter().any(|role| roles.contains(role))
    }

    /// The role they act in when one of these is asked for.
    pub(crate) fn acts_as(&self, roles: &[Role]) -> Option<Role> {
        roles.iter().copied().find(|role| self.roles.contains(role))
    }

    /// What they may do in a shop, of what they hold there.
    pub(crate) async fn roles_in(
        &self,
        read: &mut Read,
        shop: ShopId,
    ) -> Result<Vec<Role>, WebError> {
        let held = read.list_roles(self.person.id, shop).await;
        let held = held.map_err(WebError::fault)?;
        Ok(roles_that_count(held, self.session.proved))
    }

    /// Whose facts they record.
    pub(crate) fn by(&self) -> By {
        By {
            person: Some(self.person.id),
            proved: self.session.proved,
        }
    }

    /// Whether they may see what belongs to a shop: their own, or any when they stand everywhere.
    pub(crate) fn sees(&self, shop: ShopId) -> bool {
        self.everywhere || shop == self.shop.id
    }

    pub(crate) fn units(&self) -> UnitsOfMeasure {
        self.shop.units_of_measure
    }

    pub(crate) fn zone(&self) -> Tz {
        read_zone(&self.shop.zone).unwrap_or(Tz::UTC)
    }

    /// The business time.
    pub(crate) fn now(&self) -> DateTime<Utc> {
        self.state.clock.now()
    }

    pub(crate) fn now_ms(&self) -> Moment {
        self.now().into()
    }

    /// The date in the shop.
    pub(crate) fn today(&self) -> chrono::NaiveDate {
        self.now().with_timezone(&self.zone()).date_naive()
    }

    pub(crate) async fn read(&self) -> Result<Read, WebError> {
        self.state.store.read().await.map_err(WebError::fault)
    }

    /// Takes a fact in, in this person's name.
    pub(crate) async fn append(&self, command: Command) -> Result<Appended, AppendError> {
        self.state.store.append(self.in_own_name(command)).await
    }

    /// Takes up to 1,000 facts in by one transaction, each with an answer of its own.
    pub(crate) async fn append_many(
        &self,
        commands: Vec<Command>,
    ) -> Result<Vec<Result<Appended, AppendError>>, AppendError> {
        let own = commands.into_iter().map(|each| self.in_own_name(each));
        self.state.store.append_many(own.collect()).await
    }

    fn in_own_name(&self, command: Command) -> Command {
        Command {
            shop: command.shop.or(Some(self.shop.id)),
            person: Some(self.person.id),
            role: command.role.or_else(|| self.roles.first().copied()),
            request: Some(self.request.to_string()),
            ..command
        }
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Desk {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, WebError> {
        // Only a route that lets anybody in lacks one, and such a route must not ask for one.
        parts
            .extensions
            .get::<Self>()
            .cloned()
            .ok_or_else(|| WebError::fault("a handler asks for a desk on a route without a guard"))
    }
}
