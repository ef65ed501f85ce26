//! The record as lines of canonical JSON: equal records give equal bytes.

use crate::connection;
use crate::error::StorageError;
use crate::folder::{self, DATABASE};
use crate::record::{self, Head, NO_HASH, PAGE};
use sqlx::{Connection, SqliteConnection};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// Writes the record of a data folder into `target`: one object a line, every column, hashes in
/// hexadecimal. The file appears whole or not at all.
///
/// All of it is read from one snapshot, so it ends at the head that is returned.
pub async fn export(data: &Path, target: &Path) -> Result<Head, StorageError> {
    let mut connection = connection::reader(&data.join(DATABASE)).await?;
    sqlx::query("begin").execute(&mut connection).await?;
    let part = folder::part_of(target);
    let head = write(&mut connection, &part).await?;
    connection.close().await?;
    std::fs::rename(&part, target).map_err(|error| StorageError::file(target, error))?;
    folder::sync_parent(target)?;
    Ok(head)
}

async fn write(connection: &mut SqliteConnection, part: &Path) -> Result<Head, StorageError> {
    let failed = |error| StorageError::file(part, error);
    let mut out = BufWriter::new(File::create(part).map_err(failed)?);
    let mut head = Head {
        seq: 0,
        hash: NO_HASH,
    };
    loop {
        let rows = record::rows_after(connection, head.seq, PAGE).await?;
        for row in &rows {
            writeln!(out, "{}", record::canonical(row)?).map_err(failed)?;
            head = row.head()?;
        }
        if rows.is_empty() {
            break;
        }
    }
    out.into_inner()
        .map_err(std::io::IntoInnerError::into_error)
        .and_then(|file| file.sync_all())
        .map_err(failed)?;
    Ok(head)
}
