//! `/security`: who signed on, what failed, who handed secrets out.

use std::collections::HashMap;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::fleet::Role;
use domain::ids::PersonId;
use storage::access::{NotedEvent, SecurityKind, Tablet, TabletId};

use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::{WebError, page};

/// Rows on a page.
const ROWS: usize = 50;
/// So many events are looked at for one page, when many are of another shop.
const MOST_LOOKED_AT: usize = 2_000;
const BATCH: u32 = 200;

#[derive(Template)]
#[template(path = "setting/security.html")]
struct SecurityPage {
    frame: Frame,
    /// Which events these are.
    part: String,
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
    let form = Form::from_query(query.as_deref());
    let mut before: Option<i64> = form.typed("before").parse().ok();
    let everything = desk.may(&[Role::Administrator]);
    let names = Names::find(&desk, everything).await?;
    let access = &desk.state.access;
    let (mut rows, mut looked_at) = (Vec::new(), 0);
    let mut is_last = false;
    while rows.len() < ROWS && looked_at < MOST_LOOKED_AT && !is_last {
        let events = access
            .list_events(before, BATCH)
            .await
            .map_err(WebError::fault)?;
        is_last = events.len() < usize::try_from(BATCH).unwrap_or(usize::MAX);
        for event in events {
            if rows.len() == ROWS {
                is_last = false;
                break;
            }
            looked_at += 1;
            before = Some(event.seq);
            if everything || names.are_of_the_shop(&event) {
                rows.push(row(&desk, &names, event));
            }
        }
    }
    Ok(page::shown(&SecurityPage {
        frame: desk.frame("Security events"),
        part: if everything {
            "Every shop.".to_owned()
        } else {
            format!("People and tablets of {}.", desk.shop.name)
        },
        rows,
        older: before
            .filter(|_| !is_last)
            .map(|seq| format!("/security?before={seq}")),
    }))
}

/// The short names of people and the names of tablets, as far as whoever asks may know them.
struct Names {
    people: HashMap<PersonId, String>,
    tablets: HashMap<TabletId, String>,
}

impl Names {
    async fn find(desk: &Desk, everything: bool) -> Result<Self, WebError> {
        let mut read = desk.read().await?;
        let shop = (!everything).then_some(desk.shop.id);
        let staff = read.list_staff(shop).await.map_err(WebError::fault)?;
        let tablets = desk.state.access.list_tablets().await;
        let is_theirs = |tablet: &Tablet| everything || tablet.shop == desk.shop.id;
        let tablets = tablets
            .map_err(WebError::fault)?
            .into_iter()
            .filter(is_theirs);
        Ok(Self {
            people: staff
                .into_iter()
                .filter(|staff| everything || staff.person.shop == Some(desk.shop.id))
                .map(|staff| (staff.person.id, staff.person.handle))
                .collect(),
            tablets: tablets.map(|tablet| (tablet.id, tablet.name)).collect(),
        })
    }

    fn are_of_the_shop(&self, noted: &NotedEvent) -> bool {
        let event = &noted.event;
        let person = event.person.is_some_and(|it| self.people.contains_key(&it));
        person
            || event
                .tablet
                .is_some_and(|it| self.tablets.contains_key(&it))
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
