//! What stands around every page: the mark of invented figures, the shop, the links, who is signed on.

use domain::fact::Proved;
use domain::fleet::Role;
use domain::ids::PersonId;
use storage::access::TabletId;

use super::{Desk, Look, Shade};

/// A place a person can go to from every page.
#[derive(Clone, Debug)]
pub(crate) struct Link {
    pub(crate) href: &'static str,
    pub(crate) label: &'static str,
    /// This page stands below it.
    pub(crate) here: bool,
}

/// Who is signed on.
#[derive(Clone, Debug)]
pub(crate) struct Whose {
    pub(crate) person: PersonId,
    /// How they showed who they are.
    pub(crate) proved: Proved,
    /// Short, as on a tile: "P3".
    pub(crate) handle: String,
    pub(crate) name: String,
    pub(crate) role: &'static str,
    pub(crate) shop: String,
    pub(crate) everywhere: bool,
}

/// The frame of one page.
#[derive(Clone, Debug)]
pub(crate) struct Frame {
    /// The title of the window; the page's own heading says the same or less.
    pub(crate) title: String,
    pub(crate) mark: &'static str,
    pub(crate) look: Look,
    pub(crate) paper_letter: bool,
    pub(crate) whose: Option<Whose>,
    /// The enrolled tablet that shows it.
    pub(crate) tablet: Option<TabletId>,
    pub(crate) links: Vec<Link>,
    /// So long without use and the session ends, in milliseconds.
    pub(crate) idle_ms: Option<i64>,
    /// The address of this page, to come back to.
    pub(crate) here: String,
}

impl Frame {
    /// The frame of a page for nobody in particular.
    pub(crate) fn bare(title: impl Into<String>, mark: &'static str, look: Look) -> Self {
        Self {
            title: title.into(),
            mark,
            look,
            paper_letter: false,
            whose: None,
            tablet: None,
            links: Vec::new(),
            idle_ms: None,
            here: "/".to_owned(),
        }
    }

    /// The same on an enrolled tablet.
    pub(crate) fn on(self, tablet: Option<TabletId>) -> Self {
        Self { tablet, ..self }
    }

    /// The title of the window.
    pub(crate) fn window_title(&self) -> String {
        if self.title == "Coolant Ledger" {
            self.title.clone()
        } else {
            format!("{} - Coolant Ledger", self.title)
        }
    }

    /// The looks to choose from, each with whether it is the chosen one.
    pub(crate) fn looks(&self) -> [(Shade, bool); 4] {
        Shade::ALL.map(|shade| (shade, shade == self.look.shade))
    }
}

/// The word of a role, as pages say it.
pub(crate) const fn role_word(role: Role) -> &'static str {
    match role {
        Role::Technician => "technician",
        Role::LeadHand => "lead hand",
        Role::Manager => "shop manager",
        Role::ComplianceOfficer => "compliance officer",
        Role::Administrator => "administrator",
        Role::Reader => "reader",
    }
}

const RECORD: &[Role] = &[
    Role::Technician,
    Role::LeadHand,
    Role::Manager,
    Role::ComplianceOfficer,
    Role::Reader,
];

/// Of several roles somebody is named by the one that may do most in a shop.
const NAMED_BY: [Role; 6] = [
    Role::Manager,
    Role::ComplianceOfficer,
    Role::Administrator,
    Role::LeadHand,
    Role::Technician,
    Role::Reader,
];

/// Links in the order they stand, and whom each is for. At most six show for any one role.
const LINKS: &[(&str, &str, &[Role])] = &[
    ("/", "Shop board", RECORD),
    ("/units", "Units", RECORD),
    ("/vessels", "Vessels", RECORD),
    (
        "/checking",
        "Needs checking",
        &[Role::LeadHand, Role::Manager, Role::ComplianceOfficer],
    ),
    (
        "/records",
        "Records",
        &[Role::Manager, Role::ComplianceOfficer, Role::Reader],
    ),
    (
        "/book-check",
        "Book check",
        &[Role::ComplianceOfficer, Role::Reader],
    ),
    ("/people", "People", &[Role::LeadHand]),
    (
        "/settings",
        "Settings",
        &[Role::Manager, Role::Administrator],
    ),
];

/// Pages that the settings lead to.
const AMONG_SETTINGS: &[&str] = &["/people", "/tablets", "/security", "/book-check"];

impl Desk {
    /// The frame of a page of this person.
    pub(crate) fn frame(&self, title: impl Into<String>) -> Frame {
        let under = |href: &str| {
            let is_under =
                |href: &str| self.path == href || self.path.starts_with(&format!("{href}/"));
            match href {
                "/" => self.path == "/",
                "/settings" => is_under(href) || AMONG_SETTINGS.iter().copied().any(is_under),
                href => is_under(href),
            }
        };
        Frame {
            title: title.into(),
            mark: self.state.mark,
            look: self.look,
            paper_letter: self.shop.paper == domain::fleet::Paper::Letter,
            tablet: self.session.tablet,
            whose: Some(Whose {
                person: self.person.id,
                proved: self.session.proved,
                handle: self.person.handle.clone(),
                name: self
                    .name
                    .clone()
                    .unwrap_or_else(|| "name removed".to_owned()),
                role: NAMED_BY
                    .into_iter()
                    .find(|role| self.roles.contains(role))
                    .map_or("no role here", role_word),
                shop: self.shop.name.clone(),
                everywhere: self.everywhere,
            }),
            links: LINKS
                .iter()
                .filter(|(_, _, roles)| self.may(roles))
                .map(|&(href, label, _)| Link {
                    href,
                    label,
                    here: under(href),
                })
                .collect(),
            idle_ms: Some(self.session.idle_limit_ms()),
            here: self.path.clone(),
        }
    }
}
