//! How much of the record a person sees.

use domain::fleet::Role;
use domain::ids::PersonId;
use domain::moment::Moment;
use storage::Row;

use crate::desk::Desk;

/// A part of the record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Scope {
    Everything,
    /// What was entered in the shop they stand in.
    Shop,
    /// The same, of today.
    ShopToday,
    /// What they entered themselves.
    Own,
}

/// The widest part that one of their roles opens. An administrator sees security events instead.
pub(super) fn of(roles: &[Role], everywhere: bool) -> Option<Scope> {
    let holds = |role| roles.contains(&role);
    if holds(Role::ComplianceOfficer) || holds(Role::Reader) {
        return Some(if everywhere {
            Scope::Everything
        } else {
            Scope::Shop
        });
    }
    if holds(Role::Manager) {
        return Some(Scope::Shop);
    }
    if holds(Role::LeadHand) {
        return Some(Scope::ShopToday);
    }
    holds(Role::Technician).then_some(Scope::Own)
}

/// What a row of the record is asked about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Place {
    is_of_shop: bool,
    is_of_today: bool,
    is_own: bool,
}

const fn shows(scope: Scope, place: Place) -> bool {
    match scope {
        Scope::Everything => true,
        Scope::Shop => place.is_of_shop,
        Scope::ShopToday => (place.is_of_shop && place.is_of_today) || place.is_own,
        Scope::Own => place.is_own,
    }
}

/// Whether this person may open a row of the record.
pub(crate) fn may_see(desk: &Desk, row: &Row) -> bool {
    let Some(scope) = of(&desk.roles, desk.everywhere) else {
        return false;
    };
    let date = |at: Moment| {
        at.utc()
            .map(|at| at.with_timezone(&desk.zone()).date_naive())
    };
    shows(
        scope,
        Place {
            is_of_shop: row.shop == Some(desk.shop.id.0),
            is_of_today: date(Moment(row.at)) == Some(desk.today()),
            is_own: row.person.map(PersonId) == Some(desk.person.id),
        },
    )
}

#[cfg(test)]
mod tests {
    use domain::fleet::Role;

    use super::{Place, Scope, of, shows};

    #[test]
    fn each_role_opens_its_part_and_the_widest_counts() {
        for (roles, everywhere, scope) in [
            (&[Role::Technician][..], false, Some(Scope::Own)),
            (&[Role::LeadHand], false, Some(Scope::ShopToday)),
            (&[Role::Technician, Role::Manager], false, Some(Scope::Shop)),
            (&[Role::ComplianceOfficer], true, Some(Scope::Everything)),
            (&[Role::Reader], true, Some(Scope::Everything)),
            (&[Role::Reader], false, Some(Scope::Shop)),
            (&[Role::Administrator], true, None),
            (
                &[Role::Administrator, Role::Manager],
                false,
                Some(Scope::Shop),
            ),
            (&[], true, None),
        ] {
            assert_eq!(of(roles, everywhere), scope, "{roles:?} {everywhere}");
        }
    }

    #[test]
    fn a_row_outside_the_part_is_not_shown() {
        let nothing = Place {
            is_of_shop: false,
            is_of_today: false,
            is_own: false,
        };
        let of_shop = Place {
            is_of_shop: true,
            ..nothing
        };
        let today = Place {
            is_of_today: true,
            ..of_shop
        };
        let own = Place {
            is_own: true,
            ..nothing
        };
        for (scope, seen) in [
            (Scope::Everything, [true, true, true, true]),
            (Scope::Shop, [false, true, true, false]),
            (Scope::ShopToday, [false, false, true, true]),
            (Scope::Own, [false, false, false, true]),
        ] {
            let found = [nothing, of_shop, today, own].map(|place| shows(scope, place));
            assert_eq!(found, seen, "{scope:?}");
        }
    }
}
