//! Table `retirements`.

use super::Entry;
use crate::error::StorageError;
use crate::record::json;
use domain::fact::Retired;
use sqlx::SqliteConnection;
use std::collections::BTreeSet;
use uuid::Uuid;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    retired: &Retired,
) -> Result<(), StorageError> {
    let subjects: BTreeSet<Uuid> = retired
        .unit
        .map(|unit| unit.0)
        .into_iter()
        .chain(
            retired
                .places
                .iter()
                .filter_map(|account| account.place())
                .map(|id| id.0),
        )
        .collect();
    let subjects = json(&subjects)?;
    let at = entry.place();
    sqlx::query!(
        "insert into retirements (subject, key, happened_at, made_at)
         select unhex(value, '-'), ?2, ?3, ?4 from json_each(?1)",
        subjects,
        at.key,
        at.happened_at,
        at.made_at
    )
    .execute(connection)
    .await?;
    Ok(())
}
