//! The bytes of photos: in the folder `photos` beside the database, each file named by its SHA-256.
//!
//! A file is there before its photo is on record, and goes when no photo that stands names it.

use crate::error::StorageError;
use crate::folder;
use crate::record::hex;
use domain::fact::What;
use domain::ids::FactKey;
use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;
use std::fs::{DirBuilder, OpenOptions};
use std::io::{ErrorKind, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// The folder, which is made with its first photo.
#[derive(Clone, Debug)]
pub(crate) struct Photos(PathBuf);

/// How the bytes of a photo are found.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Found {
    Whole,
    Missing,
    Changed,
}

impl Photos {
    pub(crate) fn beside(database: &Path) -> Self {
        Self(database.with_file_name("photos"))
    }

    pub(crate) fn folder(&self) -> &Path {
        &self.0
    }

    /// None for what is no digest: nothing that a file says becomes a path of its own.
    fn path(&self, digest: &str) -> Option<PathBuf> {
        let plain = |letter: u8| letter.is_ascii_digit() || (b'a'..=b'f').contains(&letter);
        let is_digest = digest.len() == 64 && digest.bytes().all(plain);
        let (first, _) = digest.split_at_checked(2).filter(|_| is_digest)?;
        Some(self.0.join(first).join(format!("{digest}.jpg")))
    }

    /// Keeps bytes for good and gives their digest; bytes that are there already are kept once.
    pub(crate) fn keep(&self, bytes: &[u8]) -> Result<String, StorageError> {
        let digest = digest_of(bytes);
        if self.look(&digest)? == Found::Whole {
            return Ok(digest);
        }
        let Some(path) = self.path(&digest) else {
            return Err(StorageError::Check(format!("{digest} names no file")));
        };
        let within = path.parent().unwrap_or(&self.0);
        let failed = |error| StorageError::file(&path, error);
        DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(within)
            .map_err(failed)?;
        // Two that keep the same bytes at once must not write into one file.
        let part = path.with_extension(format!("{}.part", Uuid::new_v4()));
        let mut file = OpenOptions::new()
            .create_new(true)
            .write(true)
            .mode(0o600)
            .open(&part)
            .map_err(failed)?;
        let written = file.write_all(bytes).and_then(|()| file.sync_all());
        let written = written.and_then(|()| std::fs::rename(&part, &path));
        if let Err(error) = written {
            // What is left of it is nobody's; the fault that is told is the first.
            std::fs::remove_file(&part).unwrap_or_default();
            return Err(failed(error));
        }
        folder::sync_parent(&path)?;
        folder::sync_parent(within)?;
        folder::sync_parent(&self.0)?;
        Ok(digest)
    }

    /// The bytes; none where they are missing or not what they were.
    pub(crate) fn read(&self, digest: &str) -> Result<Option<Vec<u8>>, StorageError> {
        let Some(path) = self.path(digest) else {
            return Ok(None);
        };
        match std::fs::read(&path) {
            Ok(bytes) => Ok(Some(bytes).filter(|bytes| digest_of(bytes) == digest)),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            Err(error) => Err(StorageError::file(&path, error)),
        }
    }

    pub(crate) fn look(&self, digest: &str) -> Result<Found, StorageError> {
        if !self.is_there(digest) {
            return Ok(Found::Missing);
        }
        let whole = self.read(digest)?.is_some();
        Ok(if whole { Found::Whole } else { Found::Changed })
    }

    pub(crate) fn is_there(&self, digest: &str) -> bool {
        self.path(digest).is_some_and(|path| path.is_file())
    }

    fn remove(&self, digest: &str) -> Result<(), StorageError> {
        let Some(path) = self.path(digest) else {
            return Ok(());
        };
        match std::fs::remove_file(&path) {
            Ok(()) => folder::sync_parent(&path),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
            Err(error) => Err(StorageError::file(&path, error)),
        }
    }

    /// Brings the photos that stand in a database over from another folder, where they are whole
    /// there; what is missing is left for the verification to name.
    pub(crate) async fn bring(
        &self,
        from: &Self,
        connection: &mut SqliteConnection,
    ) -> Result<(), StorageError> {
        for digest in standing(connection).await? {
            if self.look(&digest)? != Found::Whole
                && let Some(bytes) = from.read(&digest)?
            {
                self.keep(&bytes)?;
            }
        }
        Ok(())
    }
}

pub(crate) fn digest_of(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Of facts on their way in, those about photos.
#[derive(Debug, Default)]
pub(crate) struct Named {
    added: Vec<String>,
    removed: Vec<FactKey>,
}

impl Named {
    pub(crate) fn by<'a>(all: impl Iterator<Item = &'a What>) -> Self {
        let mut named = Self::default();
        for what in all {
            match what {
                What::Photo(photo) => named.added.push(photo.digest.clone()),
                What::PhotoRemoved(removed) => named.removed.push(removed.photo),
                _ => {}
            }
        }
        named
    }

    /// A photo goes on record only when its bytes are there.
    pub(crate) fn must_be_there(&self, photos: &Photos) -> Result<(), StorageError> {
        match self.added.iter().find(|digest| !photos.is_there(digest)) {
            Some(missing) => Err(StorageError::Check(format!(
                "the bytes of photo {missing} are not there"
            ))),
            None => Ok(()),
        }
    }

    /// Lets go of the bytes that no photo that stands names: it was taken out of sight, or was not
    /// taken in.
    pub(crate) async fn let_go(
        self,
        photos: &Photos,
        connection: &mut SqliteConnection,
    ) -> Result<(), StorageError> {
        let mut digests = self.added;
        for key in self.removed {
            let digest = sqlx::query_scalar!("select digest from photos where key = ?1", key.0)
                .fetch_optional(&mut *connection)
                .await?;
            digests.extend(digest);
        }
        for digest in digests {
            if !stands(connection, &digest).await? {
                photos.remove(&digest)?;
            }
        }
        Ok(())
    }
}

async fn stands(connection: &mut SqliteConnection, digest: &str) -> Result<bool, StorageError> {
    let named = sqlx::query_scalar!(
        "select count(*) from photos
         where digest = ?1 and key not in (select photo from photo_removals)",
        digest
    )
    .fetch_one(connection)
    .await?;
    Ok(named > 0)
}

/// Digests of all photos that stand.
async fn standing(connection: &mut SqliteConnection) -> Result<Vec<String>, StorageError> {
    let digests = sqlx::query_scalar!(
        "select distinct digest from photos where key not in (select photo from photo_removals)"
    )
    .fetch_all(connection)
    .await?;
    Ok(digests)
}

/// Lets go of bytes that a server which stopped in between left behind.
pub(crate) async fn finish_removals(
    photos: &Photos,
    connection: &mut SqliteConnection,
) -> Result<(), StorageError> {
    let removed = sqlx::query_scalar!(r#"select photo as "photo: Uuid" from photo_removals"#)
        .fetch_all(&mut *connection)
        .await?;
    let named = Named {
        added: Vec::new(),
        removed: removed.into_iter().map(FactKey).collect(),
    };
    named.let_go(photos, connection).await
}

/// Whether the photo that fact `seq` added was taken out of sight meanwhile.
pub(crate) async fn is_removed(
    connection: &mut SqliteConnection,
    seq: i64,
) -> Result<bool, StorageError> {
    let removals = sqlx::query_scalar!(
        "select count(*) from photo_removals
         where photo = (select key from record where seq = ?1)",
        seq
    )
    .fetch_one(connection)
    .await?;
    Ok(removals > 0)
}
