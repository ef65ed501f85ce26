//! Table `zero_checks`.

use super::Entry;
use crate::error::StorageError;
use domain::condition::zero::ZeroCheck;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    checked: &ZeroCheck,
) -> Result<(), StorageError> {
    let fact = &entry.recorded.fact;
    let day = fact.when.local_date.to_string();
    let millicelsius = checked.reads.value.millicelsius();
    let person = fact.by.person.map(|person| person.0);
    let at = entry.place();
    sqlx::query!(
        "insert into zero_checks
           (seq, instrument, day, millicelsius, person, happened_at)
         values (?1, ?2, ?3, ?4, ?5, ?6)",
        entry.seq,
        checked.instrument.0,
        day,
        millicelsius,
        person,
        at.happened_at
    )
    .execute(connection)
    .await?;
    Ok(())
}
