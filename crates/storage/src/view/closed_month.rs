//! Table `closed_months`. The statement itself is the body of the fact.

use super::Entry;
use crate::error::StorageError;
use domain::fact::MonthClosed;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    closed: &MonthClosed,
) -> Result<(), StorageError> {
    let month = closed.statement.month.to_string();
    let key = entry.recorded.key.0;
    sqlx::query!(
        "insert into closed_months (shop, month, seq, key) values (?1, ?2, ?3, ?4)",
        closed.statement.shop.0,
        month,
        entry.seq,
        key
    )
    .execute(connection)
    .await?;
    Ok(())
}
