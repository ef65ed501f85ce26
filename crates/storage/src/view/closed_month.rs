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
    let key = entry.recorded.key.0;
    for statement in closed.statements() {
        let month = statement.month.to_string();
        sqlx::query!(
            "insert into closed_months (shop, month, seq, key) values (?1, ?2, ?3, ?4)",
            statement.shop.0,
            month,
            entry.seq,
            key
        )
        .execute(&mut *connection)
        .await?;
    }
    Ok(())
}
