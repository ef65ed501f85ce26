//! File `access.key`: 32 random bytes without which the hashes in the database are of no use.

use super::token;
use crate::error::StorageError;
use crate::folder;
use crate::record::Hash;
use sha2::{Digest, Sha256};
use std::fmt;
use std::fs::{OpenOptions, Permissions};
use std::io::{ErrorKind, Write};
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::Path;
use std::sync::Arc;

const BYTES: usize = 32;
const LABEL: &[u8] = b"coolant ledger: key of the secrets, version 1";

/// The key, in memory.
#[derive(Clone, PartialEq, Eq)]
pub(super) struct Key(Arc<[u8; BYTES]>);

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Key(kept secret)")
    }
}

impl Key {
    pub(super) fn bytes(&self) -> &[u8] {
        self.0.as_slice()
    }

    /// What is kept in the database to know the key again.
    pub(super) fn digest(&self) -> Hash {
        let mut hasher = Sha256::new();
        hasher.update(LABEL);
        hasher.update(self.0.as_slice());
        hasher.finalize().into()
    }

    /// The key of the file. One that is missing or cut short is made anew; one that is there and
    /// cannot be read is a fault to be put right, not a reason to void every secret.
    pub(super) fn read_or_make(file: &Path) -> Result<Self, StorageError> {
        let not_read = |error| StorageError::file(file, error);
        match std::fs::read(file) {
            Ok(content) => {
                std::fs::set_permissions(file, Permissions::from_mode(0o600)).map_err(not_read)?;
                if let Ok(key) = <[u8; BYTES]>::try_from(content) {
                    return Ok(Self(Arc::new(key)));
                }
                tracing::warn!(file = %file.display(), "the key file is not 32 bytes long; a new key is made");
            }
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => return Err(not_read(error)),
        }
        Self::make(file)
    }

    /// A new key, written under another name first, so that the file is whole or not there.
    fn make(file: &Path) -> Result<Self, StorageError> {
        let mut key = [0; BYTES];
        token::fill(&mut key)?;
        let part = folder::part_of(file);
        let not_written = |error| StorageError::file(&part, error);
        match std::fs::remove_file(&part) {
            Err(error) if error.kind() != ErrorKind::NotFound => return Err(not_written(error)),
            _ => {}
        }
        let mut written = OpenOptions::new()
            .create_new(true)
            .write(true)
            .mode(0o600)
            .open(&part)
            .map_err(not_written)?;
        written.write_all(&key).map_err(not_written)?;
        written.sync_all().map_err(not_written)?;
        std::fs::rename(&part, file).map_err(not_written)?;
        folder::sync_parent(file)?;
        Ok(Self(Arc::new(key)))
    }
}
