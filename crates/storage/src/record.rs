//! Table `record`: canonical bodies and the chain of hashes over every stored column.

use crate::error::StorageError;
use domain::fact::{FACT_VERSION, Fact, Recorded};
use domain::ids::FactKey;
use domain::moment::Moment;
use serde::Serialize;
use serde_json::Value;
use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;
use std::fmt::Write;
use unicode_normalization::{UnicodeNormalization, is_nfc};
use uuid::Uuid;

/// A SHA-256 hash.
pub type Hash = [u8; 32];

/// Stands before the first row.
pub(crate) const NO_HASH: Hash = [0; 32];

/// The last row of the record: what a report names to say what it knew.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Head {
    /// Its sequence number; 0 when there is no fact.
    pub seq: i64,
    /// Its hash.
    pub hash: Hash,
}

impl Head {
    /// The hash as lower-case hexadecimal.
    pub fn hash_hex(&self) -> String {
        hex(&self.hash)
    }
}

/// One row, every column as it is stored.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
pub struct Row {
    /// Sequence number: from 1, without gaps.
    pub seq: i64,
    /// When the server took it in.
    pub at: i64,
    /// Its key.
    pub key: Uuid,
    /// Kind of fact.
    pub kind: String,
    /// Version of the body's shape.
    pub version: i64,
    /// The shop it was entered in.
    pub shop: Option<Uuid>,
    /// The person who entered it.
    pub person: Option<Uuid>,
    /// The role they acted in.
    pub role: Option<String>,
    /// The way it came in.
    pub via: String,
    /// Id of the request.
    pub request: Option<String>,
    /// The sender's clock when it was sent.
    pub client_at: Option<i64>,
    /// The fact, as canonical JSON.
    pub body: String,
    /// Hash of the row before.
    #[serde(serialize_with = "as_hex")]
    pub prev_hash: Vec<u8>,
    /// Hash of this row.
    #[serde(serialize_with = "as_hex")]
    pub hash: Vec<u8>,
}

fn as_hex<S: serde::Serializer>(bytes: &[u8], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&hex(bytes))
}

impl Row {
    /// SHA-256(0x00 ‖ hash before ‖ every other column with its type and length).
    pub(crate) fn worked_out_hash(&self) -> Hash {
        let mut hasher = Sha256::new();
        hasher.update([0]);
        hasher.update(&self.prev_hash);
        for column in [
            Column::Number(Some(self.seq)),
            Column::Number(Some(self.at)),
            Column::Bytes(Some(self.key.as_bytes())),
            Column::Text(Some(&self.kind)),
            Column::Number(Some(self.version)),
            Column::Bytes(self.shop.as_ref().map(Uuid::as_bytes)),
            Column::Bytes(self.person.as_ref().map(Uuid::as_bytes)),
            Column::Text(self.role.as_deref()),
            Column::Text(Some(&self.via)),
            Column::Text(self.request.as_deref()),
            Column::Number(self.client_at),
            Column::Text(Some(&self.body)),
        ] {
            column.hash_into(&mut hasher);
        }
        hasher.finalize().into()
    }

    /// The fact in the body.
    pub fn fact(&self) -> Result<Fact, StorageError> {
        serde_json::from_str(&self.body)
            .map_err(|error| StorageError::corrupt("record", self.seq, format!("body: {error}")))
    }

    /// The fact with what the server added.
    pub fn recorded(&self) -> Result<Recorded, StorageError> {
        Ok(Recorded {
            key: FactKey(self.key),
            received_at: Moment(self.at),
            fact: self.fact()?,
        })
    }

    /// What is wrong with the row itself, given the row before it.
    pub(crate) fn fault(&self, before: Head) -> Option<(RowFault, String)> {
        if self.seq != before.seq.saturating_add(1) {
            return Some((
                RowFault::Gap,
                format!("seq {} follows {}", self.seq, before.seq),
            ));
        }
        if self.prev_hash != before.hash {
            return Some((
                RowFault::Chain,
                "prev_hash is not the hash before".to_owned(),
            ));
        }
        if self.hash != self.worked_out_hash() {
            return Some((
                RowFault::Chain,
                "the columns do not give the hash".to_owned(),
            ));
        }
        None
    }

    /// What is wrong with the body, or does not agree with the columns beside it.
    pub(crate) fn body_fault(&self, fact: &Fact) -> Option<String> {
        if canonical(fact).ok().as_deref() != Some(self.body.as_str()) {
            return Some("body is not canonical".to_owned());
        }
        if fact.what.kind() != self.kind {
            return Some(format!(
                "kind is {}, the body's is {}",
                self.kind,
                fact.what.kind()
            ));
        }
        if self.version != FACT_VERSION {
            return Some(format!("version {} is not known", self.version));
        }
        None
    }

    /// The row as a head.
    pub fn head(&self) -> Result<Head, StorageError> {
        let hash = Hash::try_from(self.hash.as_slice())
            .map_err(|_| StorageError::corrupt("record", self.seq, "hash is not 32 bytes"))?;
        Ok(Head {
            seq: self.seq,
            hash,
        })
    }
}

/// A column as it goes into the hash: type, length, bytes.
enum Column<'a> {
    Number(Option<i64>),
    Text(Option<&'a str>),
    Bytes(Option<&'a [u8; 16]>),
}

impl Column<'_> {
    fn hash_into(&self, hasher: &mut Sha256) {
        let mut put = |kind: u8, bytes: &[u8]| {
            hasher.update([kind]);
            hasher.update(length(bytes));
            hasher.update(bytes);
        };
        match self {
            Self::Number(Some(number)) => put(b'i', &number.to_be_bytes()),
            Self::Text(Some(text)) => put(b't', text.as_bytes()),
            Self::Bytes(Some(bytes)) => put(b'b', bytes.as_slice()),
            Self::Number(None) | Self::Text(None) | Self::Bytes(None) => put(b'0', &[]),
        }
    }
}

/// What can be wrong with a row of the record.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum RowFault {
    Gap,
    Chain,
}

/// Rows after `after`, at most `most`, in order.
pub(crate) async fn rows_after(
    connection: &mut SqliteConnection,
    after: i64,
    most: i64,
) -> Result<Vec<Row>, StorageError> {
    Ok(sqlx::query_as!(
        Row,
        r#"select seq, at, key as "key: Uuid", kind, version, shop as "shop: Uuid",
                  person as "person: Uuid", role, via, request, client_at, body, prev_hash, hash
           from record where seq > ?1 order by seq limit ?2"#,
        after,
        most
    )
    .fetch_all(connection)
    .await?)
}

/// The last row of the record.
pub(crate) async fn head(connection: &mut SqliteConnection) -> Result<Head, StorageError> {
    let last =
        sqlx::query!("select seq, hash from record where seq = (select max(seq) from record)")
            .fetch_optional(connection)
            .await?;
    let Some(last) = last else {
        return Ok(Head {
            seq: 0,
            hash: NO_HASH,
        });
    };
    let hash = Hash::try_from(last.hash.as_slice())
        .map_err(|_| StorageError::corrupt("record", last.seq, "hash is not 32 bytes"))?;
    Ok(Head {
        seq: last.seq,
        hash,
    })
}

/// Puts rows at the end of the record.
pub(crate) async fn insert(
    connection: &mut SqliteConnection,
    rows: &[Row],
) -> Result<(), StorageError> {
    let rows = json(rows)?;
    sqlx::query!(
        "insert into record
           (seq, at, key, kind, version, shop, person, role, via, request, client_at, body,
            prev_hash, hash)
         select value ->> 'seq', value ->> 'at', unhex(value ->> 'key', '-'), value ->> 'kind',
                value ->> 'version', unhex(value ->> 'shop', '-'),
                unhex(value ->> 'person', '-'), value ->> 'role', value ->> 'via',
                value ->> 'request', value ->> 'client_at', value ->> 'body',
                unhex(value ->> 'prev_hash'), unhex(value ->> 'hash')
         from jsonb_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Checks the chain over the last `most` rows.
pub(crate) async fn check_tail(
    connection: &mut SqliteConnection,
    most: i64,
) -> Result<(), StorageError> {
    let head = head(connection).await?;
    let mut before = None;
    let mut after = head.seq.saturating_sub(most).saturating_sub(1).max(0);
    if after == 0 {
        before = Some(Head {
            seq: 0,
            hash: NO_HASH,
        });
    }
    loop {
        let rows = rows_after(connection, after, PAGE).await?;
        for row in &rows {
            if let Some(before) = before
                && let Some((_, what)) = row.fault(before)
            {
                return Err(StorageError::corrupt("record", row.seq, what));
            }
            before = Some(row.head()?);
            after = row.seq;
        }
        if rows.is_empty() {
            return Ok(());
        }
    }
}

/// Rows read at once.
pub(crate) const PAGE: i64 = 1_000;

/// A value as canonical JSON: keys in byte order, whole numbers only, text in normal form C.
pub fn canonical<T: Serialize + ?Sized>(value: &T) -> Result<String, StorageError> {
    let value = serde_json::to_value(value)
        .map_err(|error| StorageError::NotCanonical(error.to_string()))?;
    let mut text = String::new();
    write_value(&mut text, &value)?;
    Ok(text)
}

fn write_value(out: &mut String, value: &Value) -> Result<(), StorageError> {
    match value {
        Value::Null => out.push_str("null"),
        Value::Bool(yes) => out.push_str(if *yes { "true" } else { "false" }),
        Value::Number(number) => match number.as_i64() {
            Some(number) => out.push_str(&number.to_string()),
            None => {
                return Err(StorageError::NotCanonical(format!(
                    "{number} is not a whole number of 64 bits"
                )));
            }
        },
        Value::String(text) => write_text(out, text)?,
        Value::Array(items) => {
            out.push('[');
            for (n, item) in items.iter().enumerate() {
                if n > 0 {
                    out.push(',');
                }
                write_value(out, item)?;
            }
            out.push(']');
        }
        Value::Object(fields) => {
            // Sorted here, whatever order the map keeps.
            let mut fields: Vec<_> = fields.iter().collect();
            fields.sort_unstable_by_key(|(name, _)| name.as_str());
            out.push('{');
            for (n, (name, field)) in fields.into_iter().enumerate() {
                if n > 0 {
                    out.push(',');
                }
                write_text(out, name)?;
                out.push(':');
                write_value(out, field)?;
            }
            out.push('}');
        }
    }
    Ok(())
}

fn write_text(out: &mut String, text: &str) -> Result<(), StorageError> {
    let quoted = if is_nfc(text) {
        serde_json::to_string(text)
    } else {
        serde_json::to_string(&nfc(text))
    };
    out.push_str(&quoted.map_err(|error| StorageError::NotCanonical(error.to_string()))?);
    Ok(())
}

/// Text in normal form C, so that what looks the same is the same.
pub(crate) fn nfc(text: &str) -> String {
    text.nfc().collect()
}

/// Rows for `json_each`; order of keys and the like play no part there.
pub(crate) fn json<T: Serialize + ?Sized>(rows: &T) -> Result<String, StorageError> {
    serde_json::to_string(rows).map_err(|error| StorageError::NotCanonical(error.to_string()))
}

/// The length of `bytes` in 8 bytes, so that two columns cannot be told as one.
pub(crate) fn length(bytes: &[u8]) -> [u8; 8] {
    u64::try_from(bytes.len()).unwrap_or(u64::MAX).to_be_bytes()
}

/// Lower-case hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        write!(text, "{byte:02x}").unwrap_or_default();
        text
    })
}
