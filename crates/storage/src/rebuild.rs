//! Works every view out again from the record.

use crate::error::StorageError;
use crate::ledger::Seqs;
use crate::record::{self, PAGE, Row};
use crate::view::outcome::{Batch, Known};
use crate::view::place_state::Written;
use crate::view::{self, Entry};
use domain::book::{Book, Kept, Order};
use domain::ids::FactKey;
use domain::moment::Moment;
use sqlx::SqliteConnection;
use uuid::Uuid;

/// Before every fact.
const START: Order = Order {
    happened: Moment(i64::MIN),
    made: Moment(i64::MIN),
    key: FactKey(Uuid::nil()),
};

/// Outcomes written by one round of statements.
const AT_ONCE: usize = 1_000;

/// Reads the whole record into a book; nothing is worked out yet.
pub(crate) async fn read_book(
    connection: &mut SqliteConnection,
) -> Result<(Book, Seqs), StorageError> {
    let mut book = Book::new();
    let mut seqs = Seqs::new();
    let mut after = 0;
    loop {
        let rows = record::rows_after(connection, after, PAGE).await?;
        let Some(last) = rows.last() else {
            return Ok((book, seqs));
        };
        after = last.seq;
        for row in &rows {
            book.enter(&row.recorded()?);
            seqs.insert(FactKey(row.key), row.seq);
        }
    }
}

/// Empties the views and fills them again, all in the transaction that is open.
pub(crate) async fn refill(
    connection: &mut SqliteConnection,
    (book, seqs): (&mut Book, &Seqs),
) -> Result<Written, StorageError> {
    view::empty(connection).await?;
    let mut after = 0;
    loop {
        let rows = record::rows_after(connection, after, PAGE).await?;
        let Some(last) = rows.last() else { break };
        after = last.seq;
        take_rows(connection, &rows).await?;
    }
    outcomes(connection, (book, seqs)).await?;
    let written = Written::rewrite(connection, book).await?;
    sqlx::query!(
        "update meta set rebuild_needed = 0, backlog_happened_at = null,
           backlog_made_at = null, backlog_key = null"
    )
    .execute(connection)
    .await?;
    Ok(written)
}

/// Puts what a page of the record states into the views.
pub(crate) async fn take_rows(
    connection: &mut SqliteConnection,
    rows: &[Row],
) -> Result<(), StorageError> {
    let entries = rows
        .iter()
        .map(|row| Ok(Entry::new(row.seq, row.recorded()?)))
        .collect::<Result<Vec<_>, StorageError>>()?;
    view::take(connection, &entries).await
}

/// Writes every outcome of a book into views that hold none.
pub(crate) async fn outcomes(
    connection: &mut SqliteConnection,
    (book, seqs): (&mut Book, &Seqs),
) -> Result<(), StorageError> {
    book.work_out(&mut |_| Kept::Later);
    let mut cursor = book.cursor(START);
    loop {
        let mut batch = Batch::default();
        let mut more = true;
        while more && batch.len() < AT_ONCE {
            more = book.step(&mut cursor, &mut |worked| {
                batch.push(&worked, Known::New, seqs);
                Kept::Stored
            });
        }
        batch.write(connection).await?;
        if !more {
            return Ok(());
        }
    }
}
