//! The store: opened with every check that must hold before the first request is answered.

use crate::answer;
use crate::backup;
use crate::check_log::CheckRun;
use crate::connection::{self, MIGRATOR, SchemaState};
use crate::error::{AppendError, OpenError, StorageError};
use crate::folder::{self, DATABASE, Folder};
use crate::ledger::{Ledger, Views};
use crate::photo::{self, Photos};
use crate::read::{Kept, Read};
use crate::record;
use crate::words::{Salts, random_salts};
use crate::writer::{self, Appended, Command, Fatal, Now, Tools, Writer};
use domain::ids::FactKey;
use sqlx::{Connection, SqliteConnection, SqlitePool};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Mutex, OwnedMutexGuard, Semaphore};
use uuid::Uuid;

/// How the store is opened.
pub struct Options {
    /// The data folder.
    pub data: PathBuf,
    /// The server's idea of now.
    pub now: Now,
    /// Where salts come from.
    pub salts: Salts,
    /// Called when the disk can no longer be trusted; the program must end with code 70.
    pub fatal: Fatal,
    /// Below so many free bytes the store is not ready.
    pub least_free_bytes: u64,
}

impl std::fmt::Debug for Options {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Options")
            .field("data", &self.data)
            .finish_non_exhaustive()
    }
}

impl Options {
    /// The usual options: random salts, 256 MiB free.
    pub fn new(data: impl Into<PathBuf>, now: Now, fatal: Fatal) -> Self {
        Self {
            data: data.into(),
            now,
            salts: random_salts(),
            fatal,
            least_free_bytes: 256 * 1024 * 1024,
        }
    }
}

/// Rows of the chain checked at every start.
const CHAIN_TAIL: i64 = 10_000;
/// So many may wait for the writer; one more is told to come again.
const MOST_WAITING: usize = 256;
/// Facts taken in by one transaction.
const MOST_AT_ONCE: usize = 1_000;
/// Photos are taken only while so many times the room that the record needs is free.
const ROOM_FOR_PHOTOS: u64 = 4;
/// The writer must answer within this long to count as ready.
const READY_WITHIN: Duration = Duration::from_secs(1);

/// The open store. Copies share it.
#[derive(Clone)]
pub struct Store {
    shared: Arc<Shared>,
}

struct Shared {
    writer: Arc<Mutex<Writer>>,
    waiting: Arc<Semaphore>,
    readers: SqlitePool,
    kept: Arc<Kept>,
    least_free_bytes: u64,
    folder: Folder,
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Store")
            .field("folder", &self.shared.folder)
            .finish_non_exhaustive()
    }
}

impl Store {
    /// Opens the data folder for this process alone, making it if it is not there.
    pub async fn open(options: Options) -> Result<Self, OpenError> {
        let folder = Folder::take(&options.data)?;
        let file = folder.database();
        let mut connection = open_file(&folder).await?;
        let (mut ledger, views) = Ledger::load(&mut connection)
            .await
            .map_err(OpenError::from_storage)?;
        if let Views::ToRebuild(why) = views {
            tracing::warn!(why, "the views are worked out again");
            ledger.rebuild(&mut connection).await?;
        }
        photo::finish_removals(&Photos::beside(&file), &mut connection).await?;
        let readers = connection::readers(&file).await?;
        let tools = Tools {
            salts: options.salts,
            now: options.now,
        };
        let writer = Writer::new(file, connection, ledger, (tools, options.fatal));
        let store = Self {
            shared: Arc::new(Shared {
                writer: Arc::new(Mutex::new(writer)),
                waiting: Arc::new(Semaphore::new(MOST_WAITING)),
                readers,
                kept: Arc::default(),
                least_free_bytes: options.least_free_bytes,
                folder,
            }),
        };
        // A crash may have cut off the re-work after a late fact.
        let guard = Arc::clone(&store.shared.writer).lock_owned().await;
        carry_on(&store.shared.writer, guard);
        Ok(store)
    }

    /// Takes one fact in. The work runs to its end even when the caller goes away.
    pub async fn append(&self, command: Command) -> Result<Appended, AppendError> {
        self.append_many(vec![command])
            .await?
            .pop()
            .unwrap_or(Err(AppendError::Busy))
    }

    /// Takes up to 1,000 facts in by one transaction; each has an answer of its own. Judges see
    /// the book as it stood before all of them.
    pub async fn append_many(
        &self,
        commands: Vec<Command>,
    ) -> Result<Vec<Result<Appended, AppendError>>, AppendError> {
        if commands.len() > MOST_AT_ONCE {
            return Err(AppendError::Failed(StorageError::Check(format!(
                "{} facts at once, the most is {MOST_AT_ONCE}",
                commands.len()
            ))));
        }
        let Ok(turn) = Arc::clone(&self.shared.waiting).try_acquire_owned() else {
            return Err(AppendError::Busy);
        };
        let writer = Arc::clone(&self.shared.writer);
        let work = tokio::spawn(async move {
            let mut guard = Arc::clone(&writer).lock_owned().await;
            let answers = guard.append(commands).await;
            carry_on(&writer, guard);
            drop(turn);
            answers
        });
        work.await.unwrap_or_else(|error| {
            Err(AppendError::NotConfirmed(StorageError::Check(
                error.to_string(),
            )))
        })
    }

    /// What a key was answered with, when it is on record: asked before names are looked up, so
    /// that a request sent again is known again whatever its names have come to mean.
    ///
    /// # Errors
    /// [`AppendError::KeyUsedForAnother`] when the key came with another request then.
    pub async fn answered(
        &self,
        key: FactKey,
        as_sent: &[u8],
    ) -> Result<Option<Appended>, AppendError> {
        let mut read = self.read().await.map_err(AppendError::Failed)?;
        let earlier = answer::earlier(read.connection(), &[key.0])
            .await
            .map_err(AppendError::Failed)?;
        let Some(earlier) = earlier.into_iter().next() else {
            return Ok(None);
        };
        let print = answer::fingerprint_as_sent(&earlier.salt, as_sent);
        writer::repeat(earlier, print)
            .map_err(AppendError::Failed)?
            .map(Some)
    }

    /// Keeps the bytes of a photo and gives their digest, under which a fact can name them. What no
    /// fact comes to name goes with the answer to that fact.
    ///
    /// # Errors
    /// [`AppendError::DiskFull`] while there is still room for the record itself.
    pub async fn keep_photo(&self, bytes: Vec<u8>) -> Result<String, AppendError> {
        let shared = &self.shared;
        let free = folder::free_bytes(shared.folder.path())
            .map_err(|error| StorageError::file(shared.folder.path(), error))
            .map_err(AppendError::Failed)?;
        if free < shared.least_free_bytes.saturating_mul(ROOM_FOR_PHOTOS) {
            return Err(AppendError::DiskFull);
        }
        let photos = Photos::beside(&shared.folder.database());
        let kept = tokio::task::spawn_blocking(move || photos.keep(&bytes)).await;
        kept.unwrap_or_else(|error| Err(StorageError::Check(error.to_string())))
            .map_err(AppendError::Failed)
    }

    /// The digest under which a photo is kept, without keeping it.
    pub fn photo_digest(bytes: &[u8]) -> String {
        photo::digest_of(bytes)
    }

    /// The bytes of a photo; none where they are gone or not what they were.
    pub async fn read_photo(&self, digest: &str) -> Result<Option<Vec<u8>>, StorageError> {
        let photos = Photos::beside(&self.shared.folder.database());
        let digest = digest.to_owned();
        let read = tokio::task::spawn_blocking(move || photos.read(&digest)).await;
        read.unwrap_or_else(|error| Err(StorageError::Check(error.to_string())))
    }

    /// Begins to read: all that is read from the result is of one moment.
    pub async fn read(&self) -> Result<Read, StorageError> {
        Read::begin(&self.shared.readers, &self.shared.kept).await
    }

    /// Reads what pages of whole shops want, so that it is kept when the first of them is asked for.
    pub async fn read_ahead(&self) -> Result<(), StorageError> {
        self.settled().await;
        let shops = self.read().await?.list_shops().await?;
        for shop in shops {
            let mut read = self.read().await?;
            let loops = read.list_loop_figures(shop.id).await?;
            read.read_courses_ahead(&loops).await?;
        }
        Ok(())
    }

    /// Whether facts can be taken in: the writer answers within a second and there is room.
    pub async fn ready(&self) -> Result<(), StorageError> {
        let free = folder::free_bytes(self.shared.folder.path())
            .map_err(|error| StorageError::file(self.shared.folder.path(), error))?;
        if free < self.shared.least_free_bytes {
            return Err(StorageError::Check(format!(
                "{free} bytes are free on the disk, at least {} are needed",
                self.shared.least_free_bytes
            )));
        }
        let writer = Arc::clone(&self.shared.writer);
        let asked = tokio::spawn(async move { writer.lock().await.answers().await });
        match tokio::time::timeout(READY_WITHIN, asked).await {
            Ok(Ok(answer)) => answer,
            Ok(Err(error)) => Err(StorageError::Check(error.to_string())),
            Err(_) => Err(StorageError::Check(
                "the writer gave no answer within 1 s".to_owned(),
            )),
        }
    }

    /// Works every view out again.
    pub async fn rebuild(&self) -> Result<(), StorageError> {
        self.shared.writer.lock().await.rebuild().await?;
        self.shared.kept.forget();
        Ok(())
    }

    /// Notes runs of checks, between two facts.
    pub(crate) async fn note_checks(&self, runs: &[CheckRun]) -> Result<(), StorageError> {
        self.shared.writer.lock().await.note_checks(runs).await
    }

    /// Waits until no view lags behind a late fact.
    pub async fn settled(&self) {
        loop {
            let guard = Arc::clone(&self.shared.writer).lock_owned().await;
            if !guard.has_backlog() {
                return;
            }
            carry_on(&self.shared.writer, guard);
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
    }

    /// Runs `ask` over the book in memory, between two facts.
    pub async fn with_book<T>(&self, ask: impl FnOnce(&domain::book::Book) -> T) -> Option<T> {
        let writer = self.shared.writer.lock().await;
        writer.ledger().map(|ledger| ask(&ledger.book))
    }

    /// The data folder.
    pub fn data(&self) -> &Path {
        self.shared.folder.path()
    }

    /// Ends cleanly: the log is carried into the database.
    pub async fn close(self) -> Result<(), StorageError> {
        self.shared.readers.close().await;
        self.shared.writer.lock().await.close().await
    }
}

/// Starts the re-work in the background when there is any and nobody does it yet. Each slice waits
/// for its turn like everybody else.
fn carry_on(writer: &Arc<Mutex<Writer>>, mut guard: OwnedMutexGuard<Writer>) {
    if guard.reworking || !guard.has_backlog() {
        return;
    }
    guard.reworking = true;
    drop(guard);
    let writer = Arc::downgrade(writer);
    tokio::spawn(async move {
        // A store that was dropped has nobody left to work for; the mark is kept for next time.
        while let Some(writer) = writer.upgrade() {
            let mut writer = writer.lock().await;
            match writer.rework().await {
                Ok(true) => {}
                Ok(false) => {
                    writer.reworking = false;
                    return;
                }
                Err(error) => {
                    tracing::error!(%error, "views could not be worked out again");
                    writer.reworking = false;
                    return;
                }
            }
            drop(writer);
            tokio::task::yield_now().await;
        }
    });
}

/// The file, checked and brought up to this program's schema.
async fn open_file(folder: &Folder) -> Result<SqliteConnection, OpenError> {
    let file = folder.database();
    let not_usable = |error: std::io::Error| OpenError::NotUsable {
        path: file.display().to_string(),
        what: error.to_string(),
    };
    if !file.try_exists().map_err(not_usable)? {
        create(folder).await?;
    }
    // SQLite takes a file of nothing for a new database: a lost record would look like a first day.
    if std::fs::metadata(&file).map_err(not_usable)?.len() == 0 {
        return Err(OpenError::Damaged(format!("{} is empty", file.display())));
    }
    let mut connection = connection::writer(&file)
        .await
        .map_err(|error| not_opened(&file, error))?;
    connection::check_sqlite_version(&mut connection).await?;
    connection::quick_check(&mut connection)
        .await
        .map_err(OpenError::from_storage)?;
    migrate(folder, &mut connection).await?;
    record::check_tail(&mut connection, CHAIN_TAIL)
        .await
        .map_err(OpenError::from_storage)?;
    Ok(connection)
}

/// SQLite says only "unable to open database file"; the path is what helps.
fn not_opened(file: &Path, error: StorageError) -> OpenError {
    match error.sqlite_code().map(|code| code & 0xff) {
        // Read-only, I/O error, cannot open.
        Some(8 | 10 | 14) => OpenError::NotUsable {
            path: file.display().to_string(),
            what: error.to_string(),
        },
        _ => OpenError::from_storage(error),
    }
}

/// Makes the file under another name, so that one that is there is always whole.
async fn create(folder: &Folder) -> Result<(), OpenError> {
    let file = folder.database();
    let log = folder.path().join(format!("{DATABASE}-wal"));
    if log.exists() {
        return Err(OpenError::Damaged(format!(
            "{} is missing, but its log {} is there",
            file.display(),
            log.display()
        )));
    }
    let new = folder.path().join(format!("{DATABASE}.new"));
    for left in [
        new.clone(),
        folder.path().join(format!("{DATABASE}.new-wal")),
    ] {
        if left.exists() {
            std::fs::remove_file(&left).map_err(|error| StorageError::file(&left, error))?;
        }
    }
    let mut connection = connection::creator(&new)
        .await
        .map_err(|error| not_opened(&new, error))?;
    connection::check_sqlite_version(&mut connection).await?;
    run_migrations(&mut connection).await?;
    let instance = Uuid::new_v4();
    sqlx::query!("insert into meta (id, instance) values (1, ?1)", instance)
        .execute(&mut connection)
        .await?;
    connection.close().await?;
    std::fs::rename(&new, &file).map_err(|error| StorageError::file(&file, error))?;
    folder::sync_parent(&file)?;
    Ok(())
}

/// Runs what migrations the file lacks, after a backup when it holds facts already.
async fn migrate(folder: &Folder, connection: &mut SqliteConnection) -> Result<(), OpenError> {
    let SchemaState { version, known } = connection::schema_state(connection).await?;
    if version > known {
        return Err(OpenError::NewerSchema {
            found: version,
            known,
        });
    }
    if version < known && version > 0 && record::head(connection).await?.seq > 0 {
        let copy = folder
            .path()
            .join(format!("backup-before-migration-{version}.db"));
        backup::copy(&folder.database(), &copy).await?;
    }
    run_migrations(connection).await?;
    Ok(())
}

/// Runs the migrations a file lacks.
pub(crate) async fn run_migrations(connection: &mut SqliteConnection) -> Result<(), StorageError> {
    Ok(MIGRATOR.run(connection).await?)
}

/// Makes an empty database with the present schema, for checks of the statements in the code.
pub async fn make_empty(file: &Path) -> Result<(), StorageError> {
    let mut connection = connection::creator(file).await?;
    run_migrations(&mut connection).await?;
    connection.close().await?;
    Ok(())
}
