//! Tables `photos` and `photo_removals`.

use super::Entry;
use crate::error::StorageError;
use domain::fact::{Photo, PhotoRemoved};
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    photo: &Photo,
) -> Result<(), StorageError> {
    let key = entry.recorded.key.0;
    let at = entry.recorded.received_at.0;
    let person = entry.recorded.fact.by.person.map(|person| person.0);
    let caption = photo.caption.as_ref().and_then(|caption| caption.digest());
    sqlx::query!(
        "insert into photos
           (key, seq, job, digest, bytes, width, height, caption_digest, at, person)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        key,
        entry.seq,
        photo.job.0,
        photo.digest,
        photo.bytes,
        photo.width,
        photo.height,
        caption,
        at,
        person
    )
    .execute(connection)
    .await?;
    Ok(())
}

pub(super) async fn take_out(
    connection: &mut SqliteConnection,
    entry: &Entry,
    removed: &PhotoRemoved,
) -> Result<(), StorageError> {
    let key = entry.recorded.key.0;
    sqlx::query!(
        "insert into photo_removals (key, photo) values (?1, ?2)",
        key,
        removed.photo.0
    )
    .execute(connection)
    .await?;
    Ok(())
}
