//! File `access.db`: opened and checked like the record, but of little weight: without it people
//! need new secrets, and nothing of the record is lost.

use super::event::{self, SecurityEvent, SecurityKind};
use super::key::Key;
use super::limit::EVENTS_KEPT_MS;
use crate::connection;
use crate::error::{OpenError, StorageError};
use domain::moment::Moment;
use sqlx::migrate::Migrator;
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};
use sqlx::{Connection, SqliteConnection};
use std::fs::{File, OpenOptions};
use std::io::ErrorKind;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;
use std::time::Duration;

/// The database inside the data folder.
pub(super) const DATABASE: &str = "access.db";
pub(super) const KEY: &str = "access.key";
const LOCK: &str = "access.lock";

const READERS: u32 = 3;
const WAIT: Duration = Duration::from_secs(5);

static MIGRATOR: Migrator = sqlx::migrate!("../../migrations/access");

/// The open file.
#[derive(Clone, Debug)]
pub(super) struct Pools {
    pub(super) writer: SqlitePool,
    pub(super) readers: SqlitePool,
}

/// Opens the file and the key beside it, making what is not there.
pub(super) async fn open(folder: &Path, now: Moment) -> Result<(Pools, Key), OpenError> {
    // Two who open a new folder at once would both make a key. Held until all is opened.
    let _alone = alone(folder.join(LOCK)).await?;
    let file = folder.join(DATABASE);
    make_private(&file)?;
    let writer = pool(&file, Opened::ToWrite)
        .await
        .map_err(|error| sorted(&file, error.into()))?;
    let key = prepare(&writer, folder, now)
        .await
        .map_err(|error| sort_open(&file, error))?;
    let readers = pool(&file, Opened::ToRead).await?;
    Ok((Pools { writer, readers }, key))
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Opened {
    ToWrite,
    ToRead,
}

async fn pool(file: &Path, opened: Opened) -> Result<SqlitePool, sqlx::Error> {
    let options = SqliteConnectOptions::new()
        .filename(file)
        .create_if_missing(false)
        .foreign_keys(true)
        .busy_timeout(WAIT)
        .pragma("trusted_schema", "off")
        .pragma("cell_size_check", "on")
        .pragma("temp_store", "memory");
    let (options, most) = match opened {
        Opened::ToWrite => (
            options
                .journal_mode(SqliteJournalMode::Wal)
                .synchronous(SqliteSynchronous::Full)
                // A hash that was replaced must not stay behind in a free page.
                .pragma("secure_delete", "on")
                .thread_name(|_| "access-writer".to_owned()),
            1,
        ),
        Opened::ToRead => (options.read_only(true).pragma("query_only", "on"), READERS),
    };
    SqlitePoolOptions::new()
        .max_connections(most)
        .test_before_acquire(false)
        .acquire_timeout(WAIT)
        .idle_timeout(None)
        .max_lifetime(None)
        // After a commit that failed, a connection believes for ever that it is in a transaction.
        .after_release(|connection, _| Box::pin(async { Ok(!connection.is_in_transaction()) }))
        .connect_with(options)
        .await
}

/// A lock that is held as long as the file is open.
async fn alone(path: std::path::PathBuf) -> Result<File, OpenError> {
    let shown = path.display().to_string();
    let not_usable = |what: String| OpenError::NotUsable { path: shown, what };
    let taken = tokio::task::spawn_blocking(move || {
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .mode(0o600)
            .open(path)?;
        lock.lock()?;
        Ok::<_, std::io::Error>(lock)
    });
    match taken.await {
        Ok(Ok(lock)) => Ok(lock),
        Ok(Err(error)) => Err(not_usable(error.to_string())),
        Err(error) => Err(not_usable(error.to_string())),
    }
}

/// Makes the file for this user alone; SQLite gives its log and index the same rights. A file that
/// is there is not touched: closing it would end SQLite's locks on it in this process.
fn make_private(file: &Path) -> Result<(), OpenError> {
    match OpenOptions::new()
        .create_new(true)
        .write(true)
        .mode(0o600)
        .open(file)
    {
        Ok(_) => Ok(()),
        Err(error) if error.kind() == ErrorKind::AlreadyExists => Ok(()),
        Err(error) => Err(OpenError::NotUsable {
            path: file.display().to_string(),
            what: error.to_string(),
        }),
    }
}

/// Checks, migrations, the key, and what is past its time.
async fn prepare(writer: &SqlitePool, folder: &Path, now: Moment) -> Result<Key, OpenError> {
    check(writer).await?;
    MIGRATOR.run(writer).await.map_err(StorageError::from)?;
    let mut transaction = writer.begin_with("begin immediate").await?;
    let key = settle_key(&mut transaction, folder, now).await?;
    drop_old(&mut transaction, now).await?;
    transaction.commit().await?;
    Ok(key)
}

async fn check(writer: &SqlitePool) -> Result<(), OpenError> {
    let mut connection = writer.acquire().await?;
    connection::check_sqlite_version(&mut connection).await?;
    connection::quick_check(&mut connection).await?;
    let found = connection::schema_state(&mut connection).await?.version;
    let known = MIGRATOR.iter().map(|it| it.version).max().unwrap_or(0);
    if found > known {
        return Err(OpenError::NewerSchema { found, known });
    }
    Ok(())
}

/// The key the secrets were hashed with. With another one no secret can ever fit again, so all of
/// them are void: said in the log and among the events, and a set-up code is needed again.
async fn settle_key(
    connection: &mut SqliteConnection,
    folder: &Path,
    now: Moment,
) -> Result<Key, StorageError> {
    let key = Key::read_or_make(&folder.join(KEY))?;
    let digest = key.digest().to_vec();
    let kept = sqlx::query_scalar!("select digest from access_key where id = 1")
        .fetch_optional(&mut *connection)
        .await?;
    if kept.as_ref() == Some(&digest) {
        return Ok(key);
    }
    sqlx::query!(
        "insert into access_key (id, digest) values (1, ?1)
         on conflict (id) do update set digest = excluded.digest",
        digest
    )
    .execute(&mut *connection)
    .await?;
    let void = sqlx::query!("delete from secrets")
        .execute(&mut *connection)
        .await?
        .rows_affected();
    sqlx::query!("delete from tries")
        .execute(&mut *connection)
        .await?;
    sqlx::query!("delete from sessions")
        .execute(&mut *connection)
        .await?;
    if void > 0 {
        tracing::warn!(
            secrets = void,
            "{KEY} is missing or another one than before: every password, PIN and badge is void \
             and nobody is signed on; a set-up code is needed"
        );
        let event = SecurityEvent::new(SecurityKind::KeyChanged, now)
            .with_detail(format!("{void} passwords, PINs and badges are void"));
        event::insert(connection, &event).await?;
    }
    Ok(key)
}

async fn drop_old(connection: &mut SqliteConnection, now: Moment) -> Result<(), StorageError> {
    let before = now.plus_ms(-EVENTS_KEPT_MS).0;
    sqlx::query!("delete from security_events where at < ?1", before)
        .execute(connection)
        .await?;
    Ok(())
}

fn sort_open(file: &Path, error: OpenError) -> OpenError {
    match error {
        OpenError::Storage(error) => sorted(file, error),
        OpenError::Damaged(what) => damaged(file, &what),
        other => other,
    }
}

/// SQLite says only "unable to open database file"; the path is what helps.
fn sorted(file: &Path, error: StorageError) -> OpenError {
    match OpenError::from_storage(error) {
        OpenError::Damaged(what) => damaged(file, &what),
        OpenError::Storage(error) if is_about_the_file(&error) => OpenError::NotUsable {
            path: file.display().to_string(),
            what: error.to_string(),
        },
        other => other,
    }
}

/// Read-only, I/O error, cannot open.
fn is_about_the_file(error: &StorageError) -> bool {
    matches!(
        error.sqlite_code().map(|code| code & 0xff),
        Some(8 | 10 | 14)
    )
}

/// No backup holds this file, so the way on is another one than the record's.
fn damaged(file: &Path, what: &str) -> OpenError {
    OpenError::NotUsable {
        path: file.display().to_string(),
        what: format!(
            "it is damaged ({what}); the record is in another file. Move this one away and start \
             again: everybody then needs a new password, PIN or badge, and tablets are enrolled \
             again"
        ),
    }
}
