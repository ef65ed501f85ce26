//! Table `security_events`: who signed on, who failed, who handed secrets out. Ids only.

use super::Access;
use super::limit::MOST_EVENTS;
use super::tablet::TabletId;
use crate::error::StorageError;
use domain::ids::PersonId;
use domain::moment::Moment;
use sqlx::SqliteConnection;
use uuid::Uuid;

macro_rules! kinds {
    ($($(#[$doc:meta])* $name:ident = $code:literal)*) => {
        /// What happened.
        #[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
        pub enum SecurityKind {
            $($(#[$doc])* $name,)*
        }

        impl SecurityKind {
            /// Every kind there is.
            pub const ALL: &[Self] = &[$(Self::$name,)*];

            /// As it is stored and logged.
            pub const fn code(self) -> &'static str {
                match self {
                    $(Self::$name => $code,)*
                }
            }

            fn from_code(code: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|kind| kind.code() == code)
            }
        }
    };
}

kinds! {
    /// Somebody signed on.
    SignedOn = "signed_on"
    /// Somebody signed off.
    SignedOff = "signed_off"
    /// Somebody who is signed on proved again who they are.
    ProvedAgain = "proved_again"
    /// A password or PIN did not fit.
    Failed = "failed"
    /// So many did not fit in a row that the next one has to wait.
    Waits = "waits"
    /// So many did not fit in a row that the secret can never be used again.
    Dead = "dead"
    /// So many PINs did not fit on a tablet that it takes no more of them for now.
    TabletWaits = "tablet_waits"
    /// A tablet that took no PINs was let on again.
    TabletLetOn = "tablet_let_on"
    /// A password was set.
    PasswordSet = "password_set"
    /// A new PIN was issued.
    PinIssued = "pin_issued"
    /// A new badge was issued.
    BadgeIssued = "badge_issued"
    /// Every secret of a person was taken away.
    SecretsTakenAway = "secrets_taken_away"
    /// Every session of a person was ended by somebody.
    SessionsEnded = "sessions_ended"
    /// A tablet was enrolled.
    TabletEnrolled = "tablet_enrolled"
    /// A tablet was revoked.
    TabletRevoked = "tablet_revoked"
    /// The key file was missing or another one; every secret is void.
    KeyChanged = "key_changed"
    /// The set-up code was used.
    SetUp = "set_up"
    /// Somebody asked for what they may not do.
    NotAllowed = "not_allowed"
}

/// One thing that happened. The detail is for people; it never holds a secret or a name.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SecurityEvent {
    /// When.
    pub at: Moment,
    /// What.
    pub kind: SecurityKind,
    /// Whom it is about.
    pub person: Option<PersonId>,
    /// Who did it, when that is somebody else.
    pub by: Option<PersonId>,
    /// On which tablet.
    pub tablet: Option<TabletId>,
    /// More, in words.
    pub detail: Option<String>,
}

impl SecurityEvent {
    /// An event about nobody yet.
    pub fn new(kind: SecurityKind, at: Moment) -> Self {
        Self {
            at,
            kind,
            person: None,
            by: None,
            tablet: None,
            detail: None,
        }
    }

    /// Whom it is about.
    #[must_use]
    pub fn about(mut self, person: PersonId) -> Self {
        self.person = Some(person);
        self
    }

    /// Who did it.
    #[must_use]
    pub fn by(mut self, by: Option<PersonId>) -> Self {
        self.by = by;
        self
    }

    /// On which tablet.
    #[must_use]
    pub fn on(mut self, tablet: Option<TabletId>) -> Self {
        self.tablet = tablet;
        self
    }

    /// More, in words.
    #[must_use]
    pub fn with_detail(mut self, detail: impl Into<String>) -> Self {
        self.detail = Some(detail.into());
        self
    }
}

/// Which events are asked for; all of them by default.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct EventFilter {
    /// Before the one with this sequence number.
    pub before: Option<i64>,
    /// Of these kinds; of every kind when none is named.
    pub kinds: Vec<SecurityKind>,
    /// About one of these people or on one of these tablets; about anything when nothing is said.
    pub of: Option<(Vec<PersonId>, Vec<TabletId>)>,
}

/// An event as it was noted.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct NotedEvent {
    /// Its place in the order of arrival.
    pub seq: i64,
    /// The event.
    pub event: SecurityEvent,
}

impl Access {
    /// Notes an event.
    pub async fn note(&self, event: &SecurityEvent) -> Result<(), StorageError> {
        let mut writer = self.write().await?;
        insert(&mut writer, event).await?;
        Ok(writer.commit().await?)
    }

    /// Events that are asked for, newest first: at most so many.
    pub async fn list_events(
        &self,
        filter: &EventFilter,
        most: u32,
    ) -> Result<Vec<NotedEvent>, StorageError> {
        let before = filter.before.unwrap_or(i64::MAX);
        let kinds = filter.kinds.iter().map(|kind| kind.code());
        let kinds = (!filter.kinds.is_empty()).then(|| list(kinds));
        let of = filter.of.as_ref();
        let people = of.map(|(people, _)| list(people.iter().map(|it| it.0.to_string())));
        let tablets = of.map(|(_, tablets)| list(tablets.iter().map(|it| it.0.to_string())));
        let rows = sqlx::query!(
            r#"select id, at, kind, person as "person: Uuid", by_person as "by_person: Uuid",
                      tablet as "tablet: Uuid", detail
               from security_events
               where id < ?1
                 and (?2 is null or kind in (select value from json_each(?2)))
                 and (?3 is null
                      or person in (select unhex(value, '-') from json_each(?3))
                      or tablet in (select unhex(value, '-') from json_each(?4)))
               order by id desc limit ?5"#,
            before,
            kinds,
            people,
            tablets,
            most
        )
        .fetch_all(self.readers())
        .await?;
        rows.into_iter()
            .map(|row| {
                let kind = SecurityKind::from_code(&row.kind).ok_or_else(|| {
                    StorageError::corrupt("security_events", row.id, format!("kind {}", row.kind))
                })?;
                Ok(NotedEvent {
                    seq: row.id,
                    event: SecurityEvent {
                        at: Moment(row.at),
                        kind,
                        person: row.person.map(PersonId),
                        by: row.by_person.map(PersonId),
                        tablet: row.tablet.map(TabletId),
                        detail: row.detail,
                    },
                })
            })
            .collect()
    }
}

/// Values as a query takes many of them.
fn list<T: Into<serde_json::Value>>(values: impl Iterator<Item = T>) -> String {
    values.collect::<serde_json::Value>().to_string()
}

/// Writes an event into the file and the log, and drops what is beyond the most that are kept.
pub(super) async fn insert(
    connection: &mut SqliteConnection,
    event: &SecurityEvent,
) -> Result<(), StorageError> {
    let kind = event.kind.code();
    let person = event.person.map(|it| it.0);
    let by = event.by.map(|it| it.0);
    let tablet = event.tablet.map(|it| it.0);
    let seq = sqlx::query!(
        "insert into security_events (at, kind, person, by_person, tablet, detail)
         values (?1, ?2, ?3, ?4, ?5, ?6)",
        event.at.0,
        kind,
        person,
        by,
        tablet,
        event.detail
    )
    .execute(&mut *connection)
    .await?
    .last_insert_rowid();
    let beyond = seq.saturating_sub(MOST_EVENTS);
    sqlx::query!("delete from security_events where id <= ?1", beyond)
        .execute(connection)
        .await?;
    tracing::info!(
        security.kind = kind,
        security.seq = seq,
        person.id = person.map(tracing::field::display),
        by.id = by.map(tracing::field::display),
        tablet.id = tablet.map(tracing::field::display),
        detail = event.detail.as_ref().map(tracing::field::debug),
        "security event"
    );
    Ok(())
}
