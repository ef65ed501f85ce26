//! Connections to the database file: one writer, a few readers, the same settings everywhere.

use crate::error::{OpenError, StorageError};
use sqlx::migrate::Migrator;
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};
use sqlx::{AssertSqlSafe, ConnectOptions, SqliteConnection};
use std::path::Path;
use std::time::Duration;

/// The migrations, compiled in.
pub(crate) static MIGRATOR: Migrator = sqlx::migrate!("../../migrations");

/// Below this release two connections can corrupt a file by a race in the write-ahead log.
const OLDEST_SQLITE: (u32, u32, u32) = (3, 51, 3);

const READERS: u32 = 4;

fn options(file: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(file)
        .create_if_missing(false)
        .foreign_keys(true)
        .busy_timeout(Duration::from_secs(5))
        .statement_cache_capacity(256)
        .pragma("trusted_schema", "off")
        .pragma("cell_size_check", "on")
        .pragma("temp_store", "memory")
        .pragma("cache_size", "-16384")
}

fn writer_options(file: &Path) -> SqliteConnectOptions {
    options(file)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        // A removed text must not stay behind in a free page.
        .pragma("secure_delete", "on")
        // 64 MiB: keys are random, so a job's rows lie on pages far apart.
        .pragma("cache_size", "-65536")
        // The writer does this between jobs, where a failure can be answered for.
        .pragma("wal_autocheckpoint", "0")
        .thread_name(|_| "storage-writer".to_owned())
}

/// The connection that writes, with every setting asked back: a setting that did not take would
/// cost somebody's record.
pub(crate) async fn writer(file: &Path) -> Result<SqliteConnection, StorageError> {
    let mut connection = writer_options(file).connect().await?;
    assert_settings(&mut connection).await?;
    Ok(connection)
}

/// The same, and the file is made if it is not there.
pub(crate) async fn creator(file: &Path) -> Result<SqliteConnection, StorageError> {
    let mut connection = writer_options(file)
        .create_if_missing(true)
        .connect()
        .await?;
    assert_settings(&mut connection).await?;
    Ok(connection)
}

/// A file of one's own that need not survive: for a check beside the live one.
pub(crate) async fn scratch(file: &Path) -> Result<SqliteConnection, StorageError> {
    Ok(options(file)
        .create_if_missing(true)
        .foreign_keys(false)
        .journal_mode(SqliteJournalMode::Off)
        .pragma("cache_size", "-262144")
        .synchronous(SqliteSynchronous::Off)
        .connect()
        .await?)
}

/// One connection that cannot write to the file. It may still write a copy to another file, which
/// `query_only` would refuse.
pub(crate) async fn reader(file: &Path) -> Result<SqliteConnection, StorageError> {
    Ok(options(file).read_only(true).connect().await?)
}

/// The connections pages read through.
pub(crate) async fn readers(file: &Path) -> Result<SqlitePool, StorageError> {
    let options = options(file)
        .read_only(true)
        .pragma("query_only", "on")
        // The writer looks at every page as it writes; a mapped page would be looked at each time it is
        // read.
        .pragma("cell_size_check", "off")
        // Rows wait for whoever asked in one go, not 50 by 50.
        .row_buffer_size(1024)
        // 16 GiB of addresses, not of memory: the whole of a large record.
        .pragma("mmap_size", "17179869184");
    Ok(SqlitePoolOptions::new()
        .max_connections(READERS)
        .test_before_acquire(false)
        .acquire_timeout(Duration::from_secs(5))
        .idle_timeout(None)
        .max_lifetime(None)
        .connect_with(options)
        .await?)
}

async fn assert_settings(connection: &mut SqliteConnection) -> Result<(), StorageError> {
    for (setting, wanted) in [
        ("journal_mode", "wal"),
        ("synchronous", "2"),
        ("foreign_keys", "1"),
        ("trusted_schema", "0"),
        ("cell_size_check", "1"),
        ("secure_delete", "1"),
        ("wal_autocheckpoint", "0"),
    ] {
        let found = setting_of(connection, setting).await?;
        if found != wanted {
            return Err(StorageError::Check(format!(
                "the setting {setting} is {found}, it must be {wanted}"
            )));
        }
    }
    Ok(())
}

async fn setting_of(
    connection: &mut SqliteConnection,
    setting: &str,
) -> Result<String, StorageError> {
    let statement = AssertSqlSafe(format!("pragma {setting}"));
    let row = sqlx::query(statement).fetch_one(connection).await?;
    let text: Result<String, _> = sqlx::Row::try_get_unchecked(&row, 0);
    Ok(match text {
        Ok(text) => text,
        Err(_) => sqlx::Row::try_get_unchecked::<i64, _>(&row, 0)?.to_string(),
    })
}

/// Refuses a linked SQLite with known faults.
pub(crate) async fn check_sqlite_version(
    connection: &mut SqliteConnection,
) -> Result<(), OpenError> {
    let version: String = sqlx::query_scalar("select sqlite_version()")
        .fetch_one(connection)
        .await?;
    let mut numbers = version.split('.').map(|part| part.parse().unwrap_or(0));
    let mut next = || numbers.next().unwrap_or(0);
    if (next(), next(), next()) < OLDEST_SQLITE {
        return Err(OpenError::OldSqlite(version));
    }
    Ok(())
}

/// Asks SQLite whether the file hangs together.
pub(crate) async fn quick_check(connection: &mut SqliteConnection) -> Result<(), StorageError> {
    let said: Vec<String> = sqlx::query_scalar("pragma quick_check(10)")
        .fetch_all(connection)
        .await?;
    if said == ["ok"] {
        Ok(())
    } else {
        Err(StorageError::corrupt(
            "the file",
            "quick_check",
            said.join("; "),
        ))
    }
}

/// Where the schema of a file stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct SchemaState {
    /// Newest migration the file has had; 0 for none.
    pub(crate) version: i64,
    /// Newest migration this program has.
    pub(crate) known: i64,
}

pub(crate) async fn schema_state(
    connection: &mut SqliteConnection,
) -> Result<SchemaState, StorageError> {
    let known = MIGRATOR.iter().map(|migration| migration.version).max();
    let has_table: i64 = sqlx::query_scalar(
        "select count(*) from sqlite_schema where type = 'table' and name = '_sqlx_migrations'",
    )
    .fetch_one(&mut *connection)
    .await?;
    let version = if has_table == 0 {
        None
    } else {
        sqlx::query_scalar("select max(version) from _sqlx_migrations")
            .fetch_one(connection)
            .await?
    };
    Ok(SchemaState {
        version: version.unwrap_or(0),
        known: known.unwrap_or(0),
    })
}

/// The schema of a file as text.
pub async fn schema_of(file: &Path) -> Result<String, StorageError> {
    schema_text(&mut reader(file).await?).await
}

/// The schema as text, one statement after another, in an order that does not depend on the file.
pub(crate) async fn schema_text(connection: &mut SqliteConnection) -> Result<String, StorageError> {
    let statements: Vec<String> = sqlx::query_scalar(
        "select sql from sqlite_schema
         where sql is not null and name not like 'sqlite\\_%' escape '\\'
           and name <> '_sqlx_migrations'
         order by type <> 'table', tbl_name, type, name",
    )
    .fetch_all(connection)
    .await?;
    let mut text = String::new();
    for statement in statements {
        text.push_str(&statement);
        text.push_str(";\n\n");
    }
    Ok(text)
}
