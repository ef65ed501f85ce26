//! Table `words`: free text and names beside the record, each under the digest the record keeps.

use crate::error::StorageError;
use crate::record::{Hash, hex, json, nfc};
use domain::fact::{Fact, TextRemoved};
use domain::words::Text;
use serde::Serialize;
use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;
use uuid::Uuid;

/// Where salts come from: 32 bytes that nobody can guess.
pub type Salts = Box<dyn FnMut() -> Hash + Send>;

/// Salts from the machine's random source.
pub fn random_salts() -> Salts {
    Box::new(|| {
        // Two random ids carry 244 random bits; the hash spreads them over 32 bytes.
        let mut hasher = Sha256::new();
        hasher.update(Uuid::new_v4().as_bytes());
        hasher.update(Uuid::new_v4().as_bytes());
        hasher.finalize().into()
    })
}

/// A text that goes beside the record.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub(crate) struct Word {
    pub(crate) digest: String,
    pub(crate) salt: String,
    pub(crate) text: String,
    pub(crate) fact: Uuid,
}

/// SHA-256(salt ‖ text) as the record keeps it.
pub(crate) fn digest(salt: &[u8], text: &str) -> String {
    let mut hasher = Sha256::new();
    hasher.update(salt);
    hasher.update(text.as_bytes());
    hex(&hasher.finalize())
}

/// Puts every text of a fact in normal form, so that its fingerprint does not depend on the
/// keyboard. A text that holds U+0000 cannot be stored.
pub(crate) fn normalise(fact: &mut Fact) -> Result<(), StorageError> {
    let mut refused = false;
    fact.for_each_text(&mut |text| {
        if let Text::Plain(plain) = text {
            refused |= plain.contains('\0');
            *plain = nfc(plain);
        }
    });
    if refused {
        return Err(StorageError::NotCanonical("a text holds U+0000".to_owned()));
    }
    Ok(())
}

/// Turns every text of a fact into its digest and gives the rows that hold the texts.
pub(crate) fn take_out(fact: &mut Fact, key: Uuid, salts: &mut Salts) -> Vec<Word> {
    let mut words = Vec::new();
    fact.for_each_text(&mut |text| {
        if let Text::Plain(plain) = text {
            let salt = salts();
            let digest = digest(&salt, plain);
            words.push(Word {
                digest: digest.clone(),
                salt: hex(&salt),
                text: std::mem::take(plain),
                fact: key,
            });
            *text = Text::Digest(digest);
        }
    });
    words
}

/// The digests a fact of the record names; a text that is still plain is an error.
pub(crate) fn digests(fact: &mut Fact) -> Result<Vec<String>, StorageError> {
    let mut digests = Vec::new();
    let mut plain = false;
    fact.for_each_text(&mut |text| match text {
        Text::Digest(digest) => digests.push(digest.clone()),
        Text::Plain(_) => plain = true,
    });
    if plain {
        return Err(StorageError::Check(
            "a text would go into the record".to_owned(),
        ));
    }
    Ok(digests)
}

pub(crate) async fn insert(
    connection: &mut SqliteConnection,
    words: &[Word],
) -> Result<(), StorageError> {
    if words.is_empty() {
        return Ok(());
    }
    let words = json(words)?;
    sqlx::query!(
        "insert into words (digest, salt, text, fact)
         select value ->> 'digest', unhex(value ->> 'salt'), value ->> 'text',
                unhex(value ->> 'fact', '-')
         from jsonb_each(?1)",
        words
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Removes a text for good. Without its words a fingerprint would let somebody try texts against
/// it, so that goes too; the answer stays.
pub(crate) async fn remove(
    connection: &mut SqliteConnection,
    removed: &TextRemoved,
) -> Result<(), StorageError> {
    let fact = removed.fact.0;
    sqlx::query!(
        "delete from words where digest = ?1 and fact = ?2",
        removed.digest,
        fact
    )
    .execute(&mut *connection)
    .await?;
    crate::answer::clear_fingerprint(connection, fact).await
}
