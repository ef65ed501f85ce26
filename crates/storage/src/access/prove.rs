//! Table `tries`: a password or PIN is held against the kept one, a limited number of times.
//!
//! A try is counted in the database before it is looked at: tries made at the same time, or just
//! before a restart, count like any others.

use super::Access;
use super::event::{self, SecurityEvent, SecurityKind};
use super::hashing::Found;
use super::limit::{
    Kind, MOST_EMPTY_TRIES, Standing, TABLET_FAILURES, TABLET_WINDOW_MS, TRIES_FORGOTTEN_AFTER_MS,
    standing,
};
use super::secret::forget_tries;
use super::tablet::TabletId;
use crate::error::StorageError;
use domain::ids::PersonId;
use domain::moment::{MINUTE_MS, Moment};
use sqlx::SqliteConnection;
use std::fmt;

/// A secret as typed.
#[derive(Clone, Copy)]
pub enum Secret<'a> {
    /// A password, anywhere.
    Password(&'a str),
    /// A PIN, on an enrolled tablet.
    Pin(&'a str),
}

impl Secret<'_> {
    const fn text(&self) -> &str {
        match self {
            Self::Password(text) | Self::Pin(text) => text,
        }
    }

    const fn kind(&self) -> Kind {
        match self {
            Self::Password(_) => Kind::Password,
            Self::Pin(_) => Kind::Pin,
        }
    }
}

impl fmt::Debug for Secret<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Password(_) => "Password(kept secret)",
            Self::Pin(_) => "Pin(kept secret)",
        })
    }
}

/// Somebody says who they are. For a name that is on no list, hand in an id worked out from the
/// name: it is counted and answered like anybody else's, so that nobody learns which names are.
#[derive(Clone, Copy, Debug)]
pub struct Attempt<'a> {
    /// Who they say they are.
    pub person: PersonId,
    /// What is to prove it.
    pub secret: Secret<'a>,
    /// The enrolled tablet it was typed on.
    pub tablet: Option<TabletId>,
}

/// Why it proves nothing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum NotProved {
    /// It does not fit.
    Wrong {
        /// So many more wrong ones in a row and the secret is dead.
        tries_left: u32,
        /// The next try has to wait until then.
        waits_until: Option<Moment>,
    },
    /// It was not looked at: too many were wrong; not before then.
    WaitUntil(Moment),
    /// So many were wrong in a row that only a new secret helps.
    Dead,
    /// It was not looked at: too many PINs were wrong on this tablet; not before then. A password
    /// or a badge still helps.
    TabletWaits(Moment),
    /// It was not looked at: a PIN proves something on a tablet of the shop only.
    TabletNeeded,
}

/// A try that was counted and may be looked at.
struct Counted {
    hash: Option<String>,
    in_a_row: u32,
    on_tablet: Option<OnTablet>,
}

#[derive(Clone, Copy)]
struct OnTablet {
    mark: i64,
    failures: i64,
}

impl Access {
    /// Holds a secret against the kept one.
    pub async fn prove(
        &self,
        attempt: Attempt<'_>,
        now: Moment,
    ) -> Result<Result<(), NotProved>, StorageError> {
        let counted = match self.count(&attempt, now).await? {
            Ok(counted) => counted,
            Err(not_proved) => return Ok(Err(not_proved)),
        };
        let secret = attempt.secret.text();
        let found = self.hashing().prove(secret, counted.hash.clone()).await?;
        if found == Found::Right && self.take_back(&attempt, &counted).await? {
            return Ok(Ok(()));
        }
        self.note_failure(&attempt, &counted, now).await.map(Err)
    }

    /// Counts a try as wrong before it is looked at, unless it may not be made at all.
    async fn count(
        &self,
        attempt: &Attempt<'_>,
        now: Moment,
    ) -> Result<Result<Counted, NotProved>, StorageError> {
        let kind = attempt.secret.kind();
        let mut writer = self.write().await?;
        if kind == Kind::Pin
            && let Some(refused) = tablet_refuses(&mut writer, attempt.tablet, now).await?
        {
            return Ok(Err(refused));
        }
        if let Some(refused) = person_waits(&mut writer, attempt, now).await? {
            writer.commit().await?;
            return Ok(Err(refused));
        }
        let in_a_row = count_for_person(&mut writer, (attempt.person, kind), now).await?;
        let on_tablet = match (kind, attempt.tablet) {
            (Kind::Pin, Some(tablet)) => Some(count_for_tablet(&mut writer, tablet, now).await?),
            _ => None,
        };
        let code = kind.code();
        let hash = sqlx::query_scalar!(
            "select hash from secrets where person = ?1 and kind = ?2",
            attempt.person.0,
            code
        )
        .fetch_optional(&mut *writer)
        .await?;
        if hash.is_none() {
            forget_empty_tries(&mut writer, now).await?;
        }
        writer.commit().await?;
        Ok(Ok(Counted {
            hash,
            in_a_row,
            on_tablet,
        }))
    }

    /// It was right: nothing was wrong in a row. False when the secret was changed meanwhile.
    async fn take_back(
        &self,
        attempt: &Attempt<'_>,
        counted: &Counted,
    ) -> Result<bool, StorageError> {
        let kind = attempt.secret.kind();
        let code = kind.code();
        let mut writer = self.write().await?;
        let is_the_same = sqlx::query_scalar!(
            r#"select exists (
                 select 1 from secrets where person = ?1 and kind = ?2 and hash = ?3
               ) as "same!: bool""#,
            attempt.person.0,
            code,
            counted.hash
        )
        .fetch_one(&mut *writer)
        .await?;
        if !is_the_same {
            return Ok(false);
        }
        forget_tries(&mut writer, attempt.person, kind).await?;
        if let Some(OnTablet { mark, .. }) = counted.on_tablet {
            sqlx::query!("delete from tablet_failures where id = ?1", mark)
                .execute(&mut *writer)
                .await?;
        }
        writer.commit().await?;
        Ok(true)
    }

    /// Says what a wrong try leads to. Tries at a secret nobody holds go to the log only: there is
    /// no end of them.
    async fn note_failure(
        &self,
        attempt: &Attempt<'_>,
        counted: &Counted,
        now: Moment,
    ) -> Result<NotProved, StorageError> {
        let kind = attempt.secret.kind();
        let standing = standing(kind, counted.in_a_row, now);
        if counted.hash.is_none() {
            tracing::info!(person.id = %attempt.person, secret.kind = kind.code(), "a secret nobody holds was tried");
        }
        let mut events = Vec::new();
        if counted.hash.is_some() {
            events.push(
                SecurityEvent::new(event_kind(standing), now)
                    .about(attempt.person)
                    .with_detail(format!("{}, {} in a row", kind.code(), counted.in_a_row)),
            );
        }
        if counted
            .on_tablet
            .is_some_and(|it| it.failures == TABLET_FAILURES)
        {
            events.push(SecurityEvent::new(SecurityKind::TabletWaits, now));
        }
        if !events.is_empty() {
            let mut writer = self.write().await?;
            for event in events {
                event::insert(&mut writer, &event.on(attempt.tablet)).await?;
            }
            writer.commit().await?;
        }
        Ok(match standing {
            Standing::Open { tries_left } => NotProved::Wrong {
                tries_left,
                waits_until: None,
            },
            Standing::Waits { until, tries_left } => NotProved::Wrong {
                tries_left,
                waits_until: Some(until),
            },
            Standing::Dead { .. } => NotProved::Dead,
        })
    }
}

const fn event_kind(standing: Standing) -> SecurityKind {
    match standing {
        Standing::Open { .. } => SecurityKind::Failed,
        Standing::Waits { .. } => SecurityKind::Waits,
        Standing::Dead { .. } => SecurityKind::Dead,
    }
}

async fn tablet_refuses(
    connection: &mut SqliteConnection,
    tablet: Option<TabletId>,
    now: Moment,
) -> Result<Option<NotProved>, StorageError> {
    let Some(tablet) = tablet else {
        return Ok(Some(NotProved::TabletNeeded));
    };
    let is_good = sqlx::query_scalar!(
        r#"select exists (
             select 1 from tablets where id = ?1 and revoked_at is null and expires_at > ?2
           ) as "good!: bool""#,
        tablet.0,
        now.0
    )
    .fetch_one(&mut *connection)
    .await?;
    if !is_good {
        return Ok(Some(NotProved::TabletNeeded));
    }
    let since = now.plus_ms(-TABLET_WINDOW_MS).0;
    let oldest_that_counts = TABLET_FAILURES.saturating_sub(1);
    let at = sqlx::query_scalar!(
        "select at from tablet_failures where tablet = ?1 and at > ?2
         order by at desc limit 1 offset ?3",
        tablet.0,
        since,
        oldest_that_counts
    )
    .fetch_optional(connection)
    .await?;
    Ok(at.map(|at| NotProved::TabletWaits(Moment(at).plus_ms(TABLET_WINDOW_MS))))
}

async fn person_waits(
    connection: &mut SqliteConnection,
    attempt: &Attempt<'_>,
    now: Moment,
) -> Result<Option<NotProved>, StorageError> {
    let kind = attempt.secret.kind();
    let code = kind.code();
    let tried = sqlx::query!(
        r#"select in_a_row as "in_a_row: u32", last_at from tries where person = ?1 and kind = ?2"#,
        attempt.person.0,
        code
    )
    .fetch_optional(&mut *connection)
    .await?;
    let Some(tried) = tried else {
        return Ok(None);
    };
    let mut last_at = Moment(tried.last_at);
    // The clock was put back: a wait may be begun anew, but it must not last until the clock is
    // where it was.
    if last_at.ms_since(now) > MINUTE_MS {
        last_at = now;
        sqlx::query!(
            "update tries set last_at = ?3 where person = ?1 and kind = ?2",
            attempt.person.0,
            code,
            now.0
        )
        .execute(connection)
        .await?;
    }
    Ok(match standing(kind, tried.in_a_row, last_at) {
        Standing::Dead { .. } => Some(NotProved::Dead),
        Standing::Waits { until, .. } if now < until => Some(NotProved::WaitUntil(until)),
        Standing::Open { .. } | Standing::Waits { .. } => None,
    })
}

async fn count_for_person(
    connection: &mut SqliteConnection,
    (person, kind): (PersonId, Kind),
    now: Moment,
) -> Result<u32, StorageError> {
    let kind = kind.code();
    let in_a_row = sqlx::query_scalar!(
        r#"insert into tries (person, kind, in_a_row, last_at) values (?1, ?2, 1, ?3)
           on conflict (person, kind) do update
             set in_a_row = in_a_row + 1, last_at = excluded.last_at
           returning in_a_row as "in_a_row: u32""#,
        person.0,
        kind,
        now.0
    )
    .fetch_one(connection)
    .await?;
    Ok(in_a_row)
}

/// Counts a PIN as wrong on its tablet too. Marks that lie in the future were made by a clock that
/// was put back since; they go with the old ones.
async fn count_for_tablet(
    connection: &mut SqliteConnection,
    tablet: TabletId,
    now: Moment,
) -> Result<OnTablet, StorageError> {
    let since = now.plus_ms(-TABLET_WINDOW_MS).0;
    let ahead = now.plus_ms(MINUTE_MS).0;
    sqlx::query!(
        "delete from tablet_failures where at <= ?1 or at > ?2",
        since,
        ahead
    )
    .execute(&mut *connection)
    .await?;
    let mark = sqlx::query!(
        "insert into tablet_failures (tablet, at) values (?1, ?2)",
        tablet.0,
        now.0
    )
    .execute(&mut *connection)
    .await?
    .last_insert_rowid();
    let failures = sqlx::query_scalar!(
        r#"select count(*) as "failures!: i64" from tablet_failures where tablet = ?1"#,
        tablet.0
    )
    .fetch_one(connection)
    .await?;
    Ok(OnTablet { mark, failures })
}

/// Tries at secrets nobody holds are kept only to look like the others; they must not fill the disk.
async fn forget_empty_tries(
    connection: &mut SqliteConnection,
    now: Moment,
) -> Result<(), StorageError> {
    let before = now.plus_ms(-TRIES_FORGOTTEN_AFTER_MS).0;
    sqlx::query!(
        "delete from tries
         where last_at < ?1 and not exists (
           select 1 from secrets
           where secrets.person = tries.person and secrets.kind = tries.kind
         )",
        before
    )
    .execute(&mut *connection)
    .await?;
    sqlx::query!(
        "delete from tries where (person, kind) in (
           select person, kind from tries as empty
           where not exists (
             select 1 from secrets
             where secrets.person = empty.person and secrets.kind = empty.kind
           )
           order by last_at desc limit -1 offset ?1
         )",
        MOST_EMPTY_TRIES
    )
    .execute(connection)
    .await?;
    Ok(())
}
