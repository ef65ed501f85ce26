//! Photos of a job.

use super::Read;
use crate::error::StorageError;
use domain::ids::{FactKey, PersonId};
use domain::moment::Moment;
use uuid::Uuid;

/// A photo of a job; its bytes are asked for with [`crate::Store::read_photo`].
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PhotoRow {
    /// The fact that added it.
    pub key: FactKey,
    /// SHA-256 of its bytes, lower-case hexadecimal.
    pub digest: String,
    /// How many bytes that is.
    pub bytes: i64,
    /// In pixels.
    pub width: i64,
    /// In pixels.
    pub height: i64,
    /// Digest of what is said about it.
    pub caption_digest: Option<String>,
    /// When it came in.
    pub at: Moment,
    /// Who added it.
    pub person: Option<PersonId>,
    /// The fact that took it out of sight.
    pub removed_by: Option<FactKey>,
}

impl Read {
    /// All photos a job ever had, in the order they came in.
    pub async fn list_photos(&mut self, job: FactKey) -> Result<Vec<PhotoRow>, StorageError> {
        let rows = sqlx::query!(
            r#"select photo.key as "key: Uuid", photo.digest, photo.bytes, photo.width, photo.height,
                      photo.caption_digest, photo.at, photo.person as "person: Uuid",
                      (select min(removal.key) from photo_removals as removal
                       where removal.photo = photo.key) as "removed_by: Uuid"
               from photos as photo where photo.job = ?1 order by photo.seq"#,
            job.0
        )
        .fetch_all(self.connection())
        .await?;
        let rows = rows.into_iter().map(|row| PhotoRow {
            key: FactKey(row.key),
            digest: row.digest,
            bytes: row.bytes,
            width: row.width,
            height: row.height,
            caption_digest: row.caption_digest,
            at: Moment(row.at),
            person: row.person.map(PersonId),
            removed_by: row.removed_by.map(FactKey),
        });
        Ok(rows.collect())
    }
}
