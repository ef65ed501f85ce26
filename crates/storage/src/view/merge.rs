//! Table `merges`.

use super::Entry;
use crate::error::StorageError;
use domain::fact::Merged;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    merged: &Merged,
) -> Result<(), StorageError> {
    let at = entry.place();
    sqlx::query!(
        "insert into merges (key, from_place, into_place, happened_at, made_at)
         values (?1, ?2, ?3, ?4, ?5)",
        at.key,
        merged.from.0,
        merged.into.0,
        at.happened_at,
        at.made_at
    )
    .execute(connection)
    .await?;
    Ok(())
}
