//! Table `stored_answers`: what was answered when a fact came in, repeated byte for byte.

use crate::error::StorageError;
use crate::record::{Hash, canonical, hex, json, length};
use domain::fact::Fact;
use serde::Serialize;
use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;
use uuid::Uuid;

/// An answer to a fact, as it went out.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct StoredAnswer {
    /// HTTP status.
    pub status: u16,
    /// The bytes.
    pub body: Vec<u8>,
}

/// What a key on record was answered with.
#[derive(Debug)]
pub(crate) struct Earlier {
    pub(crate) key: Uuid,
    pub(crate) seq: i64,
    pub(crate) at: i64,
    pub(crate) hash: Vec<u8>,
    pub(crate) salt: Vec<u8>,
    pub(crate) fingerprint: Option<Vec<u8>>,
    pub(crate) status: i64,
    pub(crate) body: Vec<u8>,
}

/// SHA-256(salt ‖ kind ‖ canonical body with its texts still plain).
pub(crate) fn fingerprint(salt: &[u8], fact: &Fact) -> Result<Hash, StorageError> {
    Ok(print(salt, fact.what.kind(), canonical(fact)?.as_bytes()))
}

/// The same over a request as it was sent, for a fact that was read from names: what a name
/// means may change, what was sent does not.
pub(crate) fn fingerprint_as_sent(salt: &[u8], sent: &[u8]) -> Hash {
    print(salt, "as sent", sent)
}

fn print(salt: &[u8], kind: &str, body: &[u8]) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update(salt);
    hasher.update(length(kind.as_bytes()));
    hasher.update(kind.as_bytes());
    hasher.update(body);
    hasher.finalize().into()
}

/// Covers the row, so that a changed bit is found: the record does not imply an answer.
pub(crate) fn row_digest(
    seq: i64,
    salt: &[u8],
    fingerprint: Option<&[u8]>,
    (status, body): (i64, &[u8]),
) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update(seq.to_be_bytes());
    for part in [
        salt,
        fingerprint.unwrap_or_default(),
        &status.to_be_bytes(),
        body,
    ] {
        hasher.update(length(part));
        hasher.update(part);
    }
    hasher.finalize().into()
}

/// What the keys that are on record already were answered with.
pub(crate) async fn earlier(
    connection: &mut SqliteConnection,
    keys: &[Uuid],
) -> Result<Vec<Earlier>, StorageError> {
    if keys.is_empty() {
        return Ok(Vec::new());
    }
    let keys = json(keys)?;
    Ok(sqlx::query_as!(
        Earlier,
        r#"select record.key as "key!: Uuid", record.seq as "seq!", record.at as "at!",
                  record.hash as "hash!", stored_answers.salt as "salt!",
                  stored_answers.fingerprint, stored_answers.status as "status!",
                  stored_answers.body as "body!"
           from json_each(?1) as wanted
           cross join record on record.key = unhex(wanted.value, '-')
           cross join stored_answers on stored_answers.seq = record.seq"#,
        keys
    )
    .fetch_all(connection)
    .await?)
}

#[derive(Serialize)]
struct AnswerRow {
    seq: i64,
    salt: String,
    fingerprint: String,
    status: u16,
    body: String,
    digest: String,
}

/// An answer on its way in, with what tells its request from another one.
pub(crate) struct NewAnswer {
    pub(crate) seq: i64,
    pub(crate) salt: Hash,
    pub(crate) fingerprint: Hash,
    pub(crate) answer: StoredAnswer,
}

pub(crate) async fn insert(
    connection: &mut SqliteConnection,
    answers: &[NewAnswer],
) -> Result<(), StorageError> {
    let rows: Vec<AnswerRow> = answers
        .iter()
        .map(|new| AnswerRow {
            seq: new.seq,
            salt: hex(&new.salt),
            fingerprint: hex(&new.fingerprint),
            status: new.answer.status,
            body: hex(&new.answer.body),
            digest: hex(&row_digest(
                new.seq,
                &new.salt,
                Some(&new.fingerprint),
                (i64::from(new.answer.status), &new.answer.body),
            )),
        })
        .collect();
    let rows = json(&rows)?;
    sqlx::query!(
        "insert into stored_answers (seq, salt, fingerprint, status, body, digest)
         select value ->> 'seq', unhex(value ->> 'salt'),
                unhex(value ->> 'fingerprint'), value ->> 'status', unhex(value ->> 'body'),
                unhex(value ->> 'digest')
         from jsonb_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Forgets the fingerprint of a fact whose text is removed.
pub(crate) async fn clear_fingerprint(
    connection: &mut SqliteConnection,
    key: Uuid,
) -> Result<(), StorageError> {
    let row = sqlx::query!(
        "select seq, salt, status, body from stored_answers
         where seq = (select seq from record where key = ?1)",
        key
    )
    .fetch_optional(&mut *connection)
    .await?;
    if let Some(row) = row {
        let digest = row_digest(row.seq, &row.salt, None, (row.status, &row.body)).to_vec();
        sqlx::query!(
            "update stored_answers set fingerprint = null, digest = ?2 where seq = ?1",
            row.seq,
            digest
        )
        .execute(connection)
        .await?;
    }
    Ok(())
}
