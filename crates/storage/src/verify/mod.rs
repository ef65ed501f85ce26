//! Proves a database file against itself: every row of the record, every text, every answer and,
//! by working all of it out again, every view. Takes no lock, so it runs beside a server.

mod beside;
mod photos;
mod report;
mod views;

pub use report::{Class, Finding, Report};

use crate::connection::{self, MIGRATOR};
use crate::error::StorageError;
use crate::folder::DATABASE;
use crate::ledger::Seqs;
use crate::record::{self, Head, NO_HASH, PAGE, Row, RowFault};
use crate::store::run_migrations;
use crate::view::{self, Entry};
use beside::Beside;
use domain::book::Book;
use domain::fact::What;
use photos::Said;
use sqlx::{Connection, SqliteConnection};
use std::path::Path;
use views::Fresh;

/// Verifies the database of a data folder.
pub async fn verify(data: &Path) -> Result<Report, StorageError> {
    verify_file(&data.join(DATABASE)).await
}

/// Verifies a database file: the live one or a backup.
///
/// An error means that nothing could be read at all; whatever is found wrong is in the report.
pub async fn verify_file(file: &Path) -> Result<Report, StorageError> {
    if !file.is_file() {
        let missing = std::io::Error::from(std::io::ErrorKind::NotFound);
        return Err(StorageError::file(file, missing));
    }
    let folder =
        tempfile::tempdir().map_err(|error| StorageError::file(&std::env::temp_dir(), error))?;
    let mut live = connection::reader(file).await?;
    sqlx::query("begin").execute(&mut live).await?;
    let mut report = Report::default();
    check_file(&mut live, &mut report).await;
    let fresh_file = folder.path().join("fresh.db");
    let mut fresh = connection::scratch(&fresh_file).await?;
    run_migrations(&mut fresh).await?;
    check_schema(&mut live, &mut fresh, &mut report).await;
    sqlx::query("begin").execute(&mut fresh).await?;
    let mut walk = Walk {
        before: Head {
            seq: 0,
            hash: NO_HASH,
        },
        last_at: 0,
        book: Book::new(),
        seqs: Seqs::new(),
        beside: Beside::default(),
        photos: Said::default(),
    };
    let whole = walk.all(&mut live, &mut fresh, &mut report).await;
    report.head = walk.before;
    if let Err(error) = walk.beside.finish(&mut live, &mut report).await {
        report.add(Class::Beside, None, error.to_string());
    }
    if let Err(error) = walk.photos.check(file, &mut report).await {
        report.add(Class::Photo, None, error.to_string());
    }
    if whole {
        let made = Fresh {
            connection: fresh,
            file: fresh_file,
            book: walk.book,
            seqs: walk.seqs,
        };
        made.compare(&mut live, walk.last_at, &mut report).await?;
    }
    // The snapshot was only read; an error at letting it go says nothing about the file.
    if let Err(error) = live.close().await {
        tracing::debug!(%error, "the verified file did not close");
    }
    report
        .findings
        .sort_by_key(|finding| (finding.class, finding.seq));
    Ok(report)
}

async fn check_file(live: &mut SqliteConnection, report: &mut Report) {
    let said: Result<Vec<String>, _> = sqlx::query_scalar("pragma integrity_check(20)")
        .fetch_all(live)
        .await;
    match said {
        Ok(said) if said == ["ok"] => {}
        Ok(said) => report.add(Class::File, None, said.join("; ")),
        Err(error) => report.add(Class::File, None, error.to_string()),
    }
}

async fn check_schema(
    live: &mut SqliteConnection,
    fresh: &mut SqliteConnection,
    report: &mut Report,
) {
    let texts = (
        connection::schema_text(live).await,
        connection::schema_text(fresh).await,
    );
    match texts {
        (Ok(live), Ok(fresh)) if live == fresh => {}
        (Ok(_), Ok(_)) => report.add(
            Class::Schema,
            None,
            "the schema is not the one this program makes".to_owned(),
        ),
        (Err(error), _) | (_, Err(error)) => report.add(Class::Schema, None, error.to_string()),
    }
    let applied: Result<Vec<(i64, Vec<u8>)>, _> =
        sqlx::query_as("select version, checksum from _sqlx_migrations order by version")
            .fetch_all(live)
            .await;
    let known: Vec<(i64, Vec<u8>)> = MIGRATOR
        .iter()
        .map(|migration| (migration.version, migration.checksum.to_vec()))
        .collect();
    match applied {
        Ok(applied) if applied == known => {}
        Ok(_) => report.add(
            Class::Schema,
            None,
            "the migrations the file has had are not this program's".to_owned(),
        ),
        Err(error) => report.add(Class::Schema, None, error.to_string()),
    }
}

/// One walk over the record, in order.
struct Walk {
    before: Head,
    last_at: i64,
    book: Book,
    seqs: Seqs,
    beside: Beside,
    photos: Said,
}

impl Walk {
    /// Whether every row could be read, so that the views can be worked out again.
    async fn all(
        &mut self,
        live: &mut SqliteConnection,
        fresh: &mut SqliteConnection,
        report: &mut Report,
    ) -> bool {
        let mut whole = true;
        loop {
            let rows = match record::rows_after(live, self.before.seq, PAGE).await {
                Ok(rows) => rows,
                Err(error) => {
                    self.find_unreadable(live, report, &error).await;
                    return false;
                }
            };
            if rows.is_empty() {
                return whole;
            }
            let entries: Vec<Entry> = rows
                .iter()
                .filter_map(|row| self.row(row, report))
                .collect();
            whole &= entries.len() == rows.len();
            if let Err(error) = self.beside.page(live, &entries, report).await {
                report.add(Class::Beside, None, error.to_string());
            }
            if let Err(error) = view::take(fresh, &entries).await {
                let seq = entries.first().map(|entry| entry.seq);
                report.add(Class::Body, seq, error.to_string());
                whole = false;
            }
            for entry in &entries {
                self.photos.note(entry);
                self.book.enter(&entry.recorded);
                self.seqs.insert(entry.recorded.key, entry.seq);
            }
        }
    }

    /// Checks one row and gives the fact in it, if there is one.
    fn row(&mut self, row: &Row, report: &mut Report) -> Option<Entry> {
        if let Some((fault, what)) = row.fault(self.before) {
            let class = match fault {
                RowFault::Gap => Class::Gap,
                RowFault::Chain => Class::Chain,
            };
            report.add(class, Some(row.seq), what);
        }
        // A row that was changed is reported once; the next is held against what it says.
        self.before = Head {
            seq: row.seq,
            hash: row.head().map_or(NO_HASH, |head| head.hash),
        };
        self.last_at = row.at;
        report.facts = report.facts.saturating_add(1);
        match row.recorded() {
            Ok(recorded) => {
                if let Some(what) = row.body_fault(&recorded.fact) {
                    report.add(Class::Body, Some(row.seq), what);
                }
                if let What::TextRemoved(removed) = &recorded.fact.what {
                    self.beside.removed(row.seq, removed);
                }
                Some(Entry::new(row.seq, recorded))
            }
            Err(error) => {
                report.add(Class::Body, Some(row.seq), error.to_string());
                None
            }
        }
    }

    /// A page could not be read: goes row by row to name the first that cannot.
    async fn find_unreadable(
        &mut self,
        live: &mut SqliteConnection,
        report: &mut Report,
        error: &StorageError,
    ) {
        while let Ok(rows) = record::rows_after(live, self.before.seq, 1).await
            && let Some(row) = rows.first()
        {
            self.row(row, report);
        }
        let seq = self.before.seq.saturating_add(1);
        report.add(Class::Unreadable, Some(seq), error.to_string());
    }
}
