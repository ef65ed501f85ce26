//! Whom somebody may let in, and as what: nobody hands out more than they could hold themselves.

use domain::fleet::Role;
use storage::Staff;
use storage::access::{SecurityEvent, SecurityKind};

use crate::desk::Desk;
use crate::{Clock, WebError};

/// Those who run a shop's people and settings, as the record names them.
pub(crate) const RUNS_PEOPLE: &[Role] = &[Role::Administrator, Role::Manager];

/// How far somebody may go with another person.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Reach {
    Nothing,
    /// Issue a new PIN.
    Pin,
    /// Card, roles, every secret.
    Everything,
}

const BY_ADMINISTRATOR: &[Role] = &[
    Role::Technician,
    Role::LeadHand,
    Role::Manager,
    Role::ComplianceOfficer,
    Role::Reader,
    Role::Administrator,
];
const BY_MANAGER: &[Role] = &[
    Role::Technician,
    Role::LeadHand,
    Role::Manager,
    Role::ComplianceOfficer,
    Role::Reader,
];

/// The roles somebody may give.
pub(super) fn may_give(desk: &Desk) -> &'static [Role] {
    if desk.may(&[Role::Administrator]) {
        BY_ADMINISTRATOR
    } else if desk.may(&[Role::Manager]) {
        BY_MANAGER
    } else {
        &[]
    }
}

/// Whether a person is on the list of whoever asks.
pub(super) fn sees(desk: &Desk, staff: &Staff) -> bool {
    desk.may(&[Role::Administrator])
        || staff.person.shop == Some(desk.shop.id)
        || (staff.person.shop.is_none() && desk.may(&[Role::Manager]))
}

/// How far whoever asks may go with a person who still works here. A secret opens everything that
/// its owner may do, so nobody issues one to somebody who may do more than they could give.
pub(super) fn reach(desk: &Desk, staff: &Staff) -> Reach {
    if desk.may(&[Role::Administrator]) {
        return Reach::Everything;
    }
    if staff.person.shop != Some(desk.shop.id) {
        return Reach::Nothing;
    }
    let only = |allowed: &[Role]| {
        let held = staff.roles.iter().filter(|held| !held.roles.is_empty());
        held.clone().all(|held| held.shop == Some(desk.shop.id))
            && held
                .flat_map(|held| &held.roles)
                .all(|role| allowed.contains(role))
    };
    if desk.may(&[Role::Manager]) && only(BY_MANAGER) {
        Reach::Everything
    } else if desk.may(&[Role::LeadHand]) && only(&[Role::Technician]) {
        Reach::Pin
    } else {
        Reach::Nothing
    }
}

/// What is said to somebody who may not, once it is noted among the security events.
pub(super) async fn refused(desk: &Desk, staff: &Staff) -> WebError {
    let event = SecurityEvent::new(SecurityKind::NotAllowed, Clock::system().now().into())
        .about(desk.person.id)
        .on(desk.session.tablet);
    if let Err(error) = desk.state.access.note(&event).await {
        tracing::warn!(%error, "a refusal was not noted");
    }
    let holds = |role: Role| staff.roles.iter().any(|held| held.roles.contains(&role));
    let roles: &'static [Role] = if staff.person.shop.is_none() || holds(Role::Administrator) {
        &[Role::Administrator]
    } else {
        &[Role::Manager, Role::Administrator]
    };
    WebError::NotAllowed { roles }
}
