//! Copies of the database that are whole and proven, or not there; and back again.

use crate::connection;
use crate::error::{OpenError, StorageError};
use crate::folder::{self, DATABASE, Folder};
use crate::ledger::Ledger;
use crate::photo::Photos;
use crate::record::{Head, hex};
use crate::store::run_migrations;
use crate::verify::{self, Report};
use domain::moment::Moment;
use sha2::{Digest, Sha256};
use sqlx::Connection;
use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Checksums of the backups in a folder, one a line.
const SUMS: &str = "SHA256SUMS";

/// A backup that was made and proven.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Backup {
    /// The file.
    pub file: PathBuf,
    /// Its checksum.
    pub sha256: String,
    /// The last fact in it.
    pub head: Head,
    /// What is wrong with the bytes of photos beside it, in words.
    pub photo_faults: Vec<String>,
}

/// Why there is no backup, or why it was not restored.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// The copy or the file given does not verify.
    #[error("{file} does not verify: {}", first(.report))]
    NotGood {
        /// The file.
        file: String,
        /// What was found.
        report: Box<Report>,
    },
    /// The checksum beside the file is another one.
    #[error("{0} differs from its checksum in SHA256SUMS")]
    ChecksumDiffers(String),
    /// Restoring would hide what is there.
    #[error("{0} is not empty; restore into a new folder")]
    NotEmpty(String),
    /// The folder cannot be used.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// Anything else.
    #[error(transparent)]
    Storage(#[from] StorageError),
}

impl From<sqlx::Error> for BackupError {
    fn from(error: sqlx::Error) -> Self {
        Self::Storage(error.into())
    }
}

fn first(report: &Report) -> String {
    report
        .first_bad()
        .map_or_else(String::new, |finding| finding.what.clone())
}

/// Copies the database of a data folder into the folder `into`, beside a running server, and the
/// photos it names into the folder `photos` there, which all backups share. The copy gets its name
/// only when it verifies; a photo that is lost does not keep the record from being copied.
pub async fn backup(data: &Path, into: &Path, now: Moment) -> Result<Backup, BackupError> {
    std::fs::create_dir_all(into).map_err(|error| StorageError::file(into, error))?;
    let at = now.utc().map_or_else(
        || now.0.to_string(),
        |at| at.format("%Y%m%dT%H%M%S%3fZ").to_string(),
    );
    let file = into.join(format!("coolant-{at}.db"));
    if file.exists() {
        let there = std::io::Error::from(std::io::ErrorKind::AlreadyExists);
        return Err(StorageError::file(&file, there).into());
    }
    let part = folder::part_of(&file);
    let mut report = copy_with_photos(data, &part).await?;
    if report.photo_faults().next().is_some() {
        // One may have been taken out of sight just then: the second copy knows.
        report = copy_with_photos(data, &part).await?;
    }
    if !report.record_is_good() {
        std::fs::remove_file(&part).map_err(|error| StorageError::file(&part, error))?;
        return Err(BackupError::NotGood {
            file: file.display().to_string(),
            report: Box::new(report),
        });
    }
    let sha256 = sha256_of(&part)?;
    std::fs::rename(&part, &file).map_err(|error| StorageError::file(&file, error))?;
    folder::sync_parent(&file)?;
    add_sum(into, &file, &sha256)?;
    Ok(Backup {
        file,
        sha256,
        head: report.head,
        photo_faults: report.photo_faults().map(str::to_owned).collect(),
    })
}

async fn copy_with_photos(data: &Path, part: &Path) -> Result<Report, StorageError> {
    let live = data.join(DATABASE);
    vacuum_into(&live, part).await?;
    let mut copy = connection::reader(part).await?;
    let brought = Photos::beside(part)
        .bring(&Photos::beside(&live), &mut copy)
        .await;
    copy.close().await?;
    brought?;
    verify::verify_file(part).await
}

/// Puts a backup into an empty or new data folder: proven first, and with an id of its own, so
/// that what trusted the old server asks again. An older schema is brought up to date on the way.
pub async fn restore(backup: &Path, data: &Path) -> Result<Report, BackupError> {
    let not_empty = match std::fs::read_dir(data) {
        // The lock file alone is what a restore that failed leaves behind.
        Ok(mut entries) => {
            entries.any(|entry| entry.is_ok_and(|entry| entry.file_name() != folder::LOCK))
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => false,
        Err(error) => return Err(StorageError::file(data, error).into()),
    };
    if not_empty {
        return Err(BackupError::NotEmpty(data.display().to_string()));
    }
    if !backup.is_file() {
        let missing = std::io::Error::from(std::io::ErrorKind::NotFound);
        return Err(StorageError::file(backup, missing).into());
    }
    check_sum(backup)?;
    let folder = Folder::take(data)?;
    let file = folder.database();
    let part = folder::part_of(&file);
    let prepared = prepare(backup, &part).await;
    let report = match prepared {
        Ok(report) => report,
        Err(error) => {
            remove_part(&part)?;
            remove_photos(&part)?;
            return Err(error);
        }
    };
    if !report.record_is_good() {
        remove_part(&part)?;
        remove_photos(&part)?;
        return Err(BackupError::NotGood {
            file: backup.display().to_string(),
            report: Box::new(report),
        });
    }
    sync_file(&part)?;
    std::fs::rename(&part, &file).map_err(|error| StorageError::file(&file, error))?;
    remove_part(&part)?;
    folder::sync_parent(&file)?;
    Ok(report)
}

/// Copies the backup, brings its schema up to date, gives it a new id, brings its photos over and
/// verifies it.
async fn prepare(backup: &Path, part: &Path) -> Result<Report, BackupError> {
    std::fs::copy(backup, part).map_err(|error| StorageError::file(part, error))?;
    let mut connection = connection::writer(part).await?;
    let state = connection::schema_state(&mut connection).await?;
    if state.version > state.known {
        return Err(OpenError::NewerSchema {
            found: state.version,
            known: state.known,
        }
        .into());
    }
    if state.version < state.known {
        run_migrations(&mut connection).await?;
        let (mut ledger, _) = Ledger::load(&mut connection).await?;
        ledger.rebuild(&mut connection).await?;
    }
    let instance = Uuid::new_v4();
    sqlx::query!("update meta set instance = ?1", instance)
        .execute(&mut connection)
        .await?;
    let photos = Photos::beside(part);
    let brought = photos.bring(&Photos::beside(backup), &mut connection).await;
    connection.close().await?;
    brought?;
    Ok(verify::verify_file(part).await?)
}

/// What a restore that failed has brought; the folder was empty before.
fn remove_photos(part: &Path) -> Result<(), StorageError> {
    let photos = Photos::beside(part);
    match std::fs::remove_dir_all(photos.folder()) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(StorageError::file(photos.folder(), error))
        }
        _ => Ok(()),
    }
}

fn remove_part(part: &Path) -> Result<(), StorageError> {
    for end in ["", "-wal", "-shm"] {
        let mut name = part.as_os_str().to_owned();
        name.push(end);
        let left = PathBuf::from(name);
        if left.exists() {
            std::fs::remove_file(&left).map_err(|error| StorageError::file(&left, error))?;
        }
    }
    Ok(())
}

/// Copies the database into `target` before it is changed.
pub(crate) async fn copy(database: &Path, target: &Path) -> Result<(), StorageError> {
    let part = folder::part_of(target);
    vacuum_into(database, &part).await?;
    std::fs::rename(&part, target).map_err(|error| StorageError::file(target, error))?;
    folder::sync_parent(target)
}

async fn vacuum_into(database: &Path, part: &Path) -> Result<(), StorageError> {
    if part.exists() {
        std::fs::remove_file(part).map_err(|error| StorageError::file(part, error))?;
    }
    let mut connection = connection::reader(database).await?;
    let name = part.display().to_string();
    sqlx::query("vacuum into ?1")
        .bind(&name)
        .execute(&mut connection)
        .await?;
    connection.close().await?;
    sync_file(part)
}

fn sync_file(file: &Path) -> Result<(), StorageError> {
    File::open(file)
        .and_then(|file| file.sync_all())
        .map_err(|error| StorageError::file(file, error))
}

fn sha256_of(path: &Path) -> Result<String, StorageError> {
    let failed = |error| StorageError::file(path, error);
    let mut file = File::open(path).map_err(failed)?;
    let mut hasher = Sha256::new();
    let mut buffer = vec![0_u8; 1 << 16];
    loop {
        let read = file.read(&mut buffer).map_err(failed)?;
        if read == 0 {
            return Ok(hex(&hasher.finalize()));
        }
        hasher.update(buffer.get(..read).unwrap_or_default());
    }
}

fn name_of(file: &Path) -> String {
    file.file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default()
}

fn add_sum(into: &Path, file: &Path, sha256: &str) -> Result<(), StorageError> {
    let sums = into.join(SUMS);
    let failed = |error| StorageError::file(&sums, error);
    let mut out = OpenOptions::new()
        .create(true)
        .append(true)
        .open(&sums)
        .map_err(failed)?;
    writeln!(out, "{sha256}  {}", name_of(file)).map_err(failed)?;
    out.sync_all().map_err(failed)?;
    folder::sync_parent(&sums)
}

/// Holds a backup against the checksum beside it, where there is one.
fn check_sum(backup: &Path) -> Result<(), BackupError> {
    let Ok(sums) = std::fs::read_to_string(backup.with_file_name(SUMS)) else {
        return Ok(());
    };
    let name = name_of(backup);
    let noted = sums
        .lines()
        .filter_map(|line| line.split_once("  "))
        .filter(|(_, file)| *file == name)
        .map(|(sum, _)| sum)
        .next_back();
    match noted {
        Some(noted) if noted != sha256_of(backup)? => {
            Err(BackupError::ChecksumDiffers(backup.display().to_string()))
        }
        _ => Ok(()),
    }
}
