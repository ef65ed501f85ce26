//! Table `said`.

use super::Entry;
use crate::error::StorageError;
use domain::fact::Said;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    said: &Said,
) -> Result<(), StorageError> {
    let kind = said.question.kind.code();
    let to = said.to.map(|person| person.0);
    let person = entry.recorded.fact.by.person.map(|person| person.0);
    let at = entry.recorded.received_at.0;
    let words = said.words.digest();
    sqlx::query!(
        "insert into said (seq, job, line, kind, at, person, asked, words)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        entry.seq,
        said.question.job.0,
        said.question.line,
        kind,
        at,
        person,
        to,
        words
    )
    .execute(connection)
    .await?;
    Ok(())
}
