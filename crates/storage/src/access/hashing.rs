//! Slow hashes of passwords and PINs.

use super::key::Key;
use crate::error::StorageError;
use argon2::password_hash::{Error as HashError, PasswordHasher, PasswordVerifier, phc};
use argon2::{Algorithm, Argon2, Params, Version};
use std::sync::Arc;
use tokio::sync::Semaphore;
use unicode_normalization::UnicodeNormalization;

/// Memory, passes and lanes of Argon2id: 19 MiB, 2, 1. Some 40 ms on one core.
const MEMORY_KIB: u32 = 19 * 1024;
const PASSES: u32 = 2;
const LANES: u32 = 1;
/// More at once would leave no core for anybody else.
const AT_ONCE: usize = 2;
/// Nothing longer was ever kept, so it is not worth its hashing time.
const LONGEST_BYTES: usize = 4_096;
const SALT_BYTES: usize = 16;

/// Whether a text was the right one.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Found {
    Right,
    Wrong,
}

/// Hashes with the key of this data folder, two at a time.
#[derive(Debug)]
pub(super) struct Hashing {
    key: Key,
    turns: Arc<Semaphore>,
}

impl Hashing {
    pub(super) fn new(key: Key) -> Self {
        Self {
            key,
            turns: Arc::new(Semaphore::new(AT_ONCE)),
        }
    }

    /// A secret as it may be kept.
    pub(super) async fn hash(&self, secret: &str) -> Result<String, StorageError> {
        let secret = normal(secret);
        self.run(move |argon2| {
            let mut salt = [0; SALT_BYTES];
            super::token::fill(&mut salt)?;
            let hash: phc::PasswordHash = argon2
                .hash_password_with_salt(secret.as_bytes(), &salt)
                .map_err(failed)?;
            Ok(hash.to_string())
        })
        .await
    }

    /// Whether the secret is the kept one. Where none is kept a hash is worked out all the same, so
    /// that the time tells nothing.
    pub(super) async fn prove(
        &self,
        secret: &str,
        kept: Option<String>,
    ) -> Result<Found, StorageError> {
        let fits = secret.len() <= LONGEST_BYTES;
        let Some(kept) = kept.filter(|_| fits) else {
            self.hash(if fits { secret } else { "" }).await?;
            return Ok(Found::Wrong);
        };
        let secret = normal(secret);
        self.run(move |argon2| {
            let kept = phc::PasswordHash::new(&kept)
                .map_err(|error| StorageError::corrupt("secrets", "hash", error.to_string()))?;
            match argon2.verify_password(secret.as_bytes(), &kept) {
                Ok(()) => Ok(Found::Right),
                Err(HashError::PasswordInvalid) => Ok(Found::Wrong),
                Err(error) => Err(failed(error)),
            }
        })
        .await
    }

    async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Argon2<'_>) -> Result<T, StorageError> + Send + 'static,
    ) -> Result<T, StorageError> {
        let turn = Arc::clone(&self.turns)
            .acquire_owned()
            .await
            .map_err(|error| StorageError::Check(error.to_string()))?;
        let key = self.key.clone();
        tokio::task::spawn_blocking(move || {
            // The turn is over when the hash is, even when nobody waits for it any more.
            let _turn = turn;
            let params = Params::new(MEMORY_KIB, PASSES, LANES, None).map_err(failed)?;
            let argon2 =
                Argon2::new_with_secret(key.bytes(), Algorithm::Argon2id, Version::V0x13, params)
                    .map_err(failed)?;
            work(&argon2)
        })
        .await
        .map_err(|error| StorageError::Check(error.to_string()))?
    }
}

/// The same letters typed on another keyboard are the same secret.
pub(super) fn normal(secret: &str) -> String {
    secret.nfkc().collect()
}

fn failed(error: impl std::fmt::Display) -> StorageError {
    StorageError::Check(format!("a secret could not be hashed: {error}"))
}
