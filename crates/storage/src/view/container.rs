//! Table `container_events`.

use super::Entry;
use crate::error::StorageError;
use crate::record::canonical;
use domain::fact::ContainerEvent;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    stated: &ContainerEvent,
) -> Result<(), StorageError> {
    let fact = &entry.recorded.fact;
    let kind = stated.event.code();
    let event = canonical(&stated.event)?;
    let day = fact.when.local_date.to_string();
    let person = fact.by.person.map(|person| person.0);
    let at = entry.place();
    sqlx::query!(
        "insert into container_events
           (seq, vessel, kind, event, day, person, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        entry.seq,
        stated.vessel.0,
        kind,
        event,
        day,
        person,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(connection)
    .await?;
    Ok(())
}
