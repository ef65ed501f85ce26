//! The people of the demonstration, all of them invented.

use domain::fact::What;
use domain::fleet::{Person, Role, Roles};
use domain::ids::{PersonId, ShopId};
use domain::words::Text;

use super::dice::Dice;
use super::yards::Yard;

/// Handle, name, yard (none: everywhere), roles.
const PEOPLE: &[(&str, &str, Option<Yard>, &[Role])] = &[
    (
        "P1",
        "Adda Quillworth",
        Some(Yard::Upper),
        &[Role::Technician],
    ),
    (
        "P2",
        "Brann Oskerly",
        Some(Yard::Upper),
        &[Role::Technician],
    ),
    (
        "P3",
        "Cessa Durnhollow",
        Some(Yard::Upper),
        &[Role::Technician],
    ),
    (
        "P4",
        "Dovrin Haskett",
        Some(Yard::Harbour),
        &[Role::Technician],
    ),
    (
        "P5",
        "Elwy Tannerby",
        Some(Yard::Harbour),
        &[Role::Technician],
    ),
    (
        "P6",
        "Fenna Grayloch",
        Some(Yard::Harbour),
        &[Role::Technician],
    ),
    (
        "P7",
        "Gorrin Pellwick",
        Some(Yard::Harbour),
        &[Role::Technician],
    ),
    (
        "P8",
        "Hesper Vaundry",
        Some(Yard::Upper),
        &[Role::LeadHand, Role::Technician],
    ),
    (
        "P9",
        "Ivo Marrowden",
        Some(Yard::Harbour),
        &[Role::LeadHand, Role::Technician],
    ),
    (
        "P10",
        "Jessamy Thorncote",
        Some(Yard::Upper),
        &[Role::Manager],
    ),
    (
        "P11",
        "Kerrow Ashlimont",
        Some(Yard::Harbour),
        &[Role::Manager],
    ),
    ("P12", "Linnea Brockhurn", None, &[Role::ComplianceOfficer]),
    ("P13", "Mattis Overhale", None, &[Role::Administrator]),
    ("P14", "Nell Sorrenby", None, &[Role::Reader]),
];

#[derive(Clone, Debug)]
pub(super) struct Worker {
    pub(super) id: PersonId,
    pub(super) handle: &'static str,
    name: &'static str,
    pub(super) yard: Option<Yard>,
    pub(super) roles: &'static [Role],
}

pub(super) fn workers(seed: u64) -> Vec<Worker> {
    PEOPLE
        .iter()
        .map(|(handle, name, yard, roles)| Worker {
            id: PersonId(Dice::named(seed, handle).id()),
            handle,
            name,
            yard: *yard,
            roles,
        })
        .collect()
}

impl Worker {
    /// Whether they log jobs in a yard.
    pub(super) fn wrenches_in(&self, yard: Yard) -> bool {
        self.yard == Some(yard) && self.roles.first() == Some(&Role::Technician)
    }

    /// Their card and their roles.
    pub(super) fn facts(&self, shop: impl Fn(Yard) -> ShopId) -> [What; 2] {
        let shop = self.yard.map(shop);
        [
            What::Person(Person {
                id: self.id,
                handle: self.handle.to_owned(),
                name: Text::plain(&format!("{} (invented)", self.name)),
                shop,
                active: true,
            }),
            What::Roles(Roles {
                person: self.id,
                shop,
                roles: self.roles.to_vec(),
            }),
        ]
    }
}
