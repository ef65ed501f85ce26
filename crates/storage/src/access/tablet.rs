//! Table `tablets`: the shop's own tablets, the only place where a PIN proves anything.

use super::Access;
use super::event::{self, SecurityEvent, SecurityKind};
use super::limit::{TABLET_FAILURES, TABLET_LASTS_MS, TABLET_SEEN_EVERY_MS, TABLET_WINDOW_MS};
use super::token::{self, TabletToken};
use crate::error::StorageError;
use domain::ids::{PersonId, ShopId};
use domain::moment::Moment;
use uuid::Uuid;

/// So many tiles fit on the sign-on page.
const MOST_TILES: i64 = 12;

/// An enrolled tablet.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct TabletId(pub Uuid);

impl std::fmt::Display for TabletId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// A tablet to be enrolled.
#[derive(Clone, Debug)]
pub struct NewTablet {
    /// What it is called: "Bay 2".
    pub name: String,
    /// The shop it stands in.
    pub shop: ShopId,
    /// The manager who enrols it.
    pub by: PersonId,
}

/// A tablet as it is on file.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Tablet {
    /// Its id.
    pub id: TabletId,
    /// What it is called.
    pub name: String,
    /// The shop it stands in.
    pub shop: ShopId,
    /// When it was enrolled.
    pub enrolled_at: Moment,
    /// By whom.
    pub enrolled_by: PersonId,
    /// From then on it has to be enrolled again.
    pub expires_at: Moment,
    /// Its last contact, to the minute.
    pub last_seen_at: Option<Moment>,
    /// When it was revoked, and by whom.
    pub revoked: Option<(Moment, PersonId)>,
}

impl Tablet {
    /// Whether it counts as a tablet of the shop now.
    pub fn is_good(&self, now: Moment) -> bool {
        self.revoked.is_none() && now < self.expires_at
    }
}

struct TabletRow {
    id: Uuid,
    name: String,
    shop: Uuid,
    enrolled_at: i64,
    enrolled_by: Uuid,
    expires_at: i64,
    last_seen_at: Option<i64>,
    revoked_at: Option<i64>,
    revoked_by: Option<Uuid>,
}

impl From<TabletRow> for Tablet {
    fn from(row: TabletRow) -> Self {
        Self {
            id: TabletId(row.id),
            name: row.name,
            shop: ShopId(row.shop),
            enrolled_at: Moment(row.enrolled_at),
            enrolled_by: PersonId(row.enrolled_by),
            expires_at: Moment(row.expires_at),
            last_seen_at: row.last_seen_at.map(Moment),
            revoked: row
                .revoked_at
                .zip(row.revoked_by)
                .map(|(at, by)| (Moment(at), PersonId(by))),
        }
    }
}

impl Access {
    /// Enrols a tablet for 180 days. The token is told this once.
    pub async fn enrol_tablet(
        &self,
        new: NewTablet,
        now: Moment,
    ) -> Result<(Tablet, TabletToken), StorageError> {
        let token = TabletToken::random()?;
        let digest = token::kept(token.as_str())?;
        let tablet = Tablet {
            id: TabletId(Uuid::new_v4()),
            name: new.name,
            shop: new.shop,
            enrolled_at: now,
            enrolled_by: new.by,
            expires_at: now.plus_ms(TABLET_LASTS_MS),
            last_seen_at: None,
            revoked: None,
        };
        let mut writer = self.write().await?;
        sqlx::query!(
            "insert into tablets (id, token_digest, name, shop, enrolled_at, enrolled_by, expires_at)
             values (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            tablet.id.0,
            digest,
            tablet.name,
            tablet.shop.0,
            tablet.enrolled_at.0,
            tablet.enrolled_by.0,
            tablet.expires_at.0
        )
        .execute(&mut *writer)
        .await?;
        let event = SecurityEvent::new(SecurityKind::TabletEnrolled, now)
            .by(Some(new.by))
            .on(Some(tablet.id));
        event::insert(&mut writer, &event).await?;
        writer.commit().await?;
        Ok((tablet, token))
    }

    /// The tablet that shows a token, unless it was revoked or its time is over. Its contact is
    /// noted at most once a minute.
    pub async fn tablet_of(
        &self,
        token: &str,
        now: Moment,
    ) -> Result<Option<Tablet>, StorageError> {
        let Some(digest) = token::digest_of(token) else {
            return Ok(None);
        };
        let digest = digest.as_slice();
        let row = sqlx::query_as!(
            TabletRow,
            r#"select id as "id: Uuid", name, shop as "shop: Uuid", enrolled_at,
                      enrolled_by as "enrolled_by: Uuid", expires_at, last_seen_at, revoked_at,
                      revoked_by as "revoked_by: Uuid"
               from tablets where token_digest = ?1"#,
            digest
        )
        .fetch_optional(self.readers())
        .await?;
        let Some(mut tablet) = row.map(Tablet::from).filter(|tablet| tablet.is_good(now)) else {
            return Ok(None);
        };
        let is_new = tablet
            .last_seen_at
            .is_none_or(|seen| now.ms_since(seen).abs() >= TABLET_SEEN_EVERY_MS);
        if is_new {
            tablet.last_seen_at = Some(now);
            self.note_seen(&tablet, now).await;
        }
        Ok(Some(tablet))
    }

    /// A contact that cannot be noted, because the disk is full, keeps nobody from reading pages.
    async fn note_seen(&self, tablet: &Tablet, now: Moment) {
        let noted = sqlx::query!(
            "update tablets set last_seen_at = ?2 where id = ?1",
            tablet.id.0,
            now.0
        )
        .execute(self.writer())
        .await;
        if let Err(error) = noted {
            tracing::warn!(%error, tablet.id = %tablet.id, "a tablet's contact was not noted");
        }
    }

    /// Every tablet there ever was, revoked ones too, in the order they were enrolled.
    pub async fn list_tablets(&self) -> Result<Vec<Tablet>, StorageError> {
        let rows = sqlx::query_as!(
            TabletRow,
            r#"select id as "id: Uuid", name, shop as "shop: Uuid", enrolled_at,
                      enrolled_by as "enrolled_by: Uuid", expires_at, last_seen_at, revoked_at,
                      revoked_by as "revoked_by: Uuid"
               from tablets order by enrolled_at, id"#
        )
        .fetch_all(self.readers())
        .await?;
        Ok(rows.into_iter().map(Tablet::from).collect())
    }

    /// The tablets that take no PINs now because too many did not fit, each with the end of its wait.
    pub async fn list_waiting_tablets(
        &self,
        now: Moment,
    ) -> Result<Vec<(TabletId, Moment)>, StorageError> {
        let since = now.plus_ms(-TABLET_WINDOW_MS).0;
        let rows = sqlx::query!(
            r#"select tablet as "tablet!: Uuid", at as "at!: i64" from (
                 select tablet, at, row_number() over (partition by tablet order by at desc) as nth
                 from tablet_failures where at > ?1
               ) where nth = ?2"#,
            since,
            TABLET_FAILURES
        )
        .fetch_all(self.readers())
        .await?;
        let waits = |at: i64| Moment(at).plus_ms(TABLET_WINDOW_MS);
        Ok(rows
            .into_iter()
            .map(|row| (TabletId(row.tablet), waits(row.at)))
            .collect())
    }

    /// Takes a tablet off the list for good; whoever is signed on there is signed off. False when
    /// there is no such tablet or it was revoked before.
    pub async fn revoke_tablet(
        &self,
        tablet: TabletId,
        by: PersonId,
        now: Moment,
    ) -> Result<bool, StorageError> {
        let mut writer = self.write().await?;
        let revoked = sqlx::query!(
            "update tablets set revoked_at = ?2, revoked_by = ?3
             where id = ?1 and revoked_at is null",
            tablet.0,
            now.0,
            by.0
        )
        .execute(&mut *writer)
        .await?
        .rows_affected();
        if revoked == 0 {
            return Ok(false);
        }
        sqlx::query!("delete from sessions where tablet = ?1", tablet.0)
            .execute(&mut *writer)
            .await?;
        let event = SecurityEvent::new(SecurityKind::TabletRevoked, now)
            .by(Some(by))
            .on(Some(tablet));
        event::insert(&mut writer, &event).await?;
        writer.commit().await?;
        Ok(true)
    }

    /// Lets a tablet take PINs again before its wait is over: somebody who proved another way
    /// looked at what went on.
    pub async fn let_tablet_on(
        &self,
        tablet: TabletId,
        by: PersonId,
        now: Moment,
    ) -> Result<(), StorageError> {
        let mut writer = self.write().await?;
        sqlx::query!("delete from tablet_failures where tablet = ?1", tablet.0)
            .execute(&mut *writer)
            .await?;
        let event = SecurityEvent::new(SecurityKind::TabletLetOn, now)
            .by(Some(by))
            .on(Some(tablet));
        event::insert(&mut writer, &event).await?;
        Ok(writer.commit().await?)
    }

    /// Who signed on at a tablet, the last one first; at most as many as there are tiles.
    pub async fn last_on_tablet(&self, tablet: TabletId) -> Result<Vec<PersonId>, StorageError> {
        let people = sqlx::query_scalar!(
            r#"select person as "person: Uuid" from tablet_people where tablet = ?1
               order by last_at desc limit ?2"#,
            tablet.0,
            MOST_TILES
        )
        .fetch_all(self.readers())
        .await?;
        Ok(people.into_iter().map(PersonId).collect())
    }
}
