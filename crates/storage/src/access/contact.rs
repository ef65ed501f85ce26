//! Table `tablet_contacts`: what a tablet told about the jobs that wait on it.

use super::Access;
use super::tablet::TabletId;
use crate::error::StorageError;
use domain::fact::Proved;
use domain::ids::PersonId;
use domain::moment::{MINUTE_MS, Moment};
use uuid::Uuid;

/// A session at a tablet lasts ten hours at most; with as much again as a clock may be off.
const SIGNED_ON_WITHIN_MS: i64 = (10 * 60 + 10) * MINUTE_MS;
const CLOCK_MS: i64 = 10 * MINUTE_MS;

/// What a tablet tells about itself.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Contact {
    /// The store in its browser; another one after somebody cleared it.
    pub store: Uuid,
    /// So many jobs wait in it.
    pub waiting: i64,
    /// When the oldest of them was saved, by the tablet's clock.
    pub oldest_at: Option<Moment>,
}

/// What is known of a tablet's jobs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct LastContact {
    /// Which.
    pub tablet: TabletId,
    /// When it told.
    pub told_at: Moment,
    /// So many jobs waited then.
    pub waiting: i64,
    /// When the oldest of them was saved, by the tablet's clock.
    pub oldest_at: Option<Moment>,
    /// So many waited in stores that are gone, as far as anybody knows.
    pub lost: i64,
}

impl Access {
    /// Notes what a tablet tells. Jobs that waited in another store count as lost from now on.
    pub async fn note_contact(
        &self,
        tablet: TabletId,
        contact: Contact,
        now: Moment,
    ) -> Result<(), StorageError> {
        let oldest = contact.oldest_at.map(|at| at.0);
        sqlx::query!(
            "insert into tablet_contacts (tablet, store, told_at, waiting, oldest_at)
             values (?1, ?2, ?3, ?4, ?5)
             on conflict (tablet) do update set
               lost = lost + case when store = excluded.store then 0 else waiting end,
               store = excluded.store, told_at = excluded.told_at,
               waiting = excluded.waiting, oldest_at = excluded.oldest_at",
            tablet.0,
            contact.store,
            now.0,
            contact.waiting,
            oldest
        )
        .execute(self.writer())
        .await?;
        Ok(())
    }

    /// What every tablet told last.
    pub async fn list_contacts(&self) -> Result<Vec<LastContact>, StorageError> {
        let rows = sqlx::query!(
            r#"select tablet as "tablet: Uuid", told_at, waiting, oldest_at, lost
               from tablet_contacts"#
        )
        .fetch_all(self.readers())
        .await?;
        Ok(rows
            .into_iter()
            .map(|row| LastContact {
                tablet: TabletId(row.tablet),
                told_at: Moment(row.told_at),
                waiting: row.waiting,
                oldest_at: row.oldest_at.map(Moment),
                lost: row.lost,
            })
            .collect())
    }

    /// Somebody knows of the jobs a tablet lost.
    pub async fn settle_lost(&self, tablet: TabletId) -> Result<(), StorageError> {
        sqlx::query!(
            "update tablet_contacts set lost = 0 where tablet = ?1",
            tablet.0
        )
        .execute(self.writer())
        .await?;
        Ok(())
    }

    /// Whether somebody can have been signed on at a tablet, proved like this, at a moment.
    pub async fn was_signed_on(
        &self,
        (person, tablet): (PersonId, TabletId),
        proved: Proved,
        at: Moment,
    ) -> Result<bool, StorageError> {
        let proved = proved.code();
        let (from, to) = (at.plus_ms(-SIGNED_ON_WITHIN_MS).0, at.plus_ms(CLOCK_MS).0);
        let found = sqlx::query_scalar!(
            r#"select exists (
                 select 1 from security_events
                 where kind = 'signed_on' and person = ?1 and at between ?4 and ?5
                   and tablet = ?2 and detail = ?3
               ) as "found!: bool""#,
            person.0,
            tablet.0,
            proved,
            from,
            to
        )
        .fetch_one(self.readers())
        .await?;
        Ok(found)
    }
}
