//! `/security`: who signed on, what failed, who handed secrets out.

use std::collections::HashMap;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::fleet::Role;
use domain::ids::PersonId;
use storage::access::{EventFilter, NotedEvent, SecurityKind, TabletId};

use crate::component::{Choice, ChoiceField, ChoiceLook};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::{Form, Presence};
use crate::{WebError, page};

/// Rows on a page.
const ROWS: usize = 50;
const ABOUT: (&str, &str) = ("about", "Events about");
const BEFORE: &str = "before";

#[derive(Template)]
#[template(path = "setting/security.html")]
struct SecurityPage {
    frame: Frame,
    /// Which events these are.
    part: String,
    about: ChoiceField,
    filtered: bool,
    rows: Vec<Row>,
    older: Option<String>,
}

struct Row {
    at: String,
    what: &'static str,
    person: String,
    by: String,
    tablet: String,
    detail: String,
}

/// GET /security
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let mut form = Form::from_query(query.as_deref());
    let offered = Matter::ALL.map(|matter| (matter.code(), matter));
    let matter = form.choice(ABOUT, &offered, Presence::Optional);
    let before = form.typed(BEFORE).parse().ok();
    let everything = desk.may(&[Role::Administrator]);
    let names = Names::find(&desk, everything).await?;
    let filter = EventFilter {
        before,
        kinds: matter.map(Matter::kinds).unwrap_or_default(),
        of: (!everything).then(|| names.own.clone()),
    };
    let most = u32::try_from(ROWS).unwrap_or(u32::MAX).saturating_add(1);
    let access = &desk.state.access;
    let mut events = if form.is_good() {
        let events = access.list_events(&filter, most).await;
        events.map_err(WebError::fault)?
    } else {
        Vec::new()
    };
    let more = events.len() > ROWS;
    events.truncate(ROWS);
    let last = events.last().filter(|_| more).map(|last| last.seq);
    Ok(page::shown(&SecurityPage {
        frame: desk.frame("Security events"),
        part: if everything {
            "Every shop.".to_owned()
        } else {
            format!("People and tablets of {}.", desk.shop.name)
        },
        about: form.choice_field(ABOUT, "", matters(), ChoiceLook::List),
        filtered: !form.typed(ABOUT.0).is_empty() || before.is_some(),
        rows: events
            .into_iter()
            .map(|event| row(&desk, &names, event))
            .collect(),
        older: last.map(|seq| older(matter, seq)),
    }))
}

fn matters() -> Vec<Choice> {
    let any = Choice {
        label: "anything".to_owned(),
        ..Choice::default()
    };
    let matters = Matter::ALL.map(|matter| (matter.code(), matter.word()));
    std::iter::once(any).chain(Choice::list(&matters)).collect()
}

fn older(matter: Option<Matter>, last: i64) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    if let Some(matter) = matter {
        query.append_pair(ABOUT.0, matter.code());
    }
    query.append_pair(BEFORE, &last.to_string());
    format!("/security?{}", query.finish())
}

/// The short names of people and the names of tablets, as far as whoever asks may know them.
struct Names {
    people: HashMap<PersonId, String>,
    tablets: HashMap<TabletId, String>,
    /// Those that belong to the shop of whoever asks.
    own: (Vec<PersonId>, Vec<TabletId>),
}

impl Names {
    async fn find(desk: &Desk, everything: bool) -> Result<Self, WebError> {
        let mut read = desk.read().await?;
        let shop = (!everything).then_some(desk.shop.id);
        let staff = read.list_staff(shop).await.map_err(WebError::fault)?;
        drop(read);
        let tablets = desk.state.access.list_tablets().await;
        let mut tablets = tablets.map_err(WebError::fault)?;
        tablets.retain(|tablet| everything || tablet.shop == desk.shop.id);
        let own_people = staff.iter().map(|staff| &staff.person);
        let own_people = own_people.filter(|person| person.shop == Some(desk.shop.id));
        Ok(Self {
            own: (
                own_people.map(|person| person.id).collect(),
                tablets.iter().map(|tablet| tablet.id).collect(),
            ),
            people: staff
                .into_iter()
                .map(|staff| (staff.person.id, staff.person.handle))
                .collect(),
            tablets: tablets
                .into_iter()
                .map(|tablet| (tablet.id, tablet.name))
                .collect(),
        })
    }

    fn person(&self, id: Option<PersonId>) -> String {
        let known = id.map(|id| self.people.get(&id).cloned());
        known.map_or_else(String::new, |name| {
            name.unwrap_or_else(|| "somebody else".to_owned())
        })
    }
}

fn row(desk: &Desk, names: &Names, noted: NotedEvent) -> Row {
    let event = noted.event;
    let tablet = event.tablet.and_then(|id| names.tablets.get(&id).cloned());
    Row {
        at: figure::time(event.at, desk.zone()),
        what: words(event.kind),
        person: names.person(event.person),
        by: names.person(event.by),
        tablet: tablet.unwrap_or_default(),
        detail: event.detail.unwrap_or_default(),
    }
}

/// What happened, in words.
const fn words(kind: SecurityKind) -> &'static str {
    match kind {
        SecurityKind::SignedOn => "signed on",
        SecurityKind::SignedOff => "signed off",
        SecurityKind::ProvedAgain => "showed again who they are",
        SecurityKind::Failed => "wrong PIN or password",
        SecurityKind::Waits => "has to wait after wrong tries",
        SecurityKind::Dead => "PIN or password stopped working after wrong tries",
        SecurityKind::TabletWaits => "tablet takes no PINs for a while",
        SecurityKind::TabletLetOn => "tablet takes PINs again",
        SecurityKind::PasswordSet => "password set",
        SecurityKind::PinIssued => "PIN issued",
        SecurityKind::BadgeIssued => "badge issued",
        SecurityKind::SecretsTakenAway => "PIN, badge and password taken away",
        SecurityKind::SessionsEnded => "signed off everywhere",
        SecurityKind::TabletEnrolled => "tablet enrolled",
        SecurityKind::TabletRevoked => "tablet revoked",
        SecurityKind::KeyChanged => "key file replaced: every PIN, badge and password is void",
        SecurityKind::SetUp => "set-up code used",
        SecurityKind::NotAllowed => "asked for what they may not do",
    }
}

/// What events are looked for by: a few kinds at a time, as somebody asks about them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Matter {
    WrongTries,
    NotAllowed,
    Secrets,
    Tablets,
    SigningOn,
    Server,
}

impl Matter {
    const ALL: [Self; 6] = [
        Self::WrongTries,
        Self::NotAllowed,
        Self::Secrets,
        Self::Tablets,
        Self::SigningOn,
        Self::Server,
    ];

    /// What the address holds.
    const fn code(self) -> &'static str {
        match self {
            Self::WrongTries => "wrong-tries",
            Self::NotAllowed => "not-allowed",
            Self::Secrets => "secrets",
            Self::Tablets => "tablets",
            Self::SigningOn => "signing-on",
            Self::Server => "server",
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::WrongTries => "wrong tries",
            Self::NotAllowed => "what somebody may not do",
            Self::Secrets => "PINs, badges and passwords issued or taken away",
            Self::Tablets => "tablets",
            Self::SigningOn => "signing on and off",
            Self::Server => "the server's keys and set-up code",
        }
    }

    /// Every kind belongs to one matter, so that none is missed by whoever looks through them all.
    const fn of(kind: SecurityKind) -> Self {
        match kind {
            SecurityKind::Failed
            | SecurityKind::Waits
            | SecurityKind::Dead
            | SecurityKind::TabletWaits => Self::WrongTries,
            SecurityKind::NotAllowed => Self::NotAllowed,
            SecurityKind::PasswordSet
            | SecurityKind::PinIssued
            | SecurityKind::BadgeIssued
            | SecurityKind::SecretsTakenAway => Self::Secrets,
            SecurityKind::TabletEnrolled
            | SecurityKind::TabletRevoked
            | SecurityKind::TabletLetOn => Self::Tablets,
            SecurityKind::SignedOn
            | SecurityKind::SignedOff
            | SecurityKind::ProvedAgain
            | SecurityKind::SessionsEnded => Self::SigningOn,
            SecurityKind::KeyChanged | SecurityKind::SetUp => Self::Server,
        }
    }

    fn kinds(self) -> Vec<SecurityKind> {
        let all = SecurityKind::ALL.iter().copied();
        all.filter(|kind| Self::of(*kind) == self).collect()
    }
}

#[cfg(test)]
mod tests {
    use storage::access::SecurityKind;

    use super::Matter;

    #[test]
    fn whoever_looks_through_every_matter_misses_no_event() {
        let listed: Vec<_> = Matter::ALL.into_iter().flat_map(Matter::kinds).collect();
        assert_eq!(listed.len(), SecurityKind::ALL.len());
        assert!(SecurityKind::ALL.iter().all(|kind| listed.contains(kind)));
        for matter in Matter::ALL {
            assert!(!matter.kinds().is_empty(), "{matter:?}");
        }
    }
}
