//! The record itself: pages of it, and the trail of one subject.

use super::Read;
use crate::error::StorageError;
use crate::record::{self, Row};
use domain::ids::FactKey;
use std::collections::HashMap;
use uuid::Uuid;

impl Read {
    /// Rows of the record after `after`, in order.
    pub async fn list_record_after(
        &mut self,
        after: i64,
        most: i64,
    ) -> Result<Vec<Row>, StorageError> {
        record::rows_after(self.connection(), after, most).await
    }

    /// Rows of the record before `before`, newest first; `None` begins at the head.
    pub async fn list_record_before(
        &mut self,
        before: Option<i64>,
        most: i64,
    ) -> Result<Vec<Row>, StorageError> {
        let before = before.unwrap_or(i64::MAX);
        Ok(sqlx::query_as!(
            Row,
            r#"select seq, at, key as "key: Uuid", kind, version, shop as "shop: Uuid",
                      person as "person: Uuid", role, via, request, client_at, body, prev_hash,
                      hash
               from record where seq < ?1 order by seq desc limit ?2"#,
            before,
            most
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// A fact by its key.
    pub async fn find_fact(&mut self, key: FactKey) -> Result<Option<Row>, StorageError> {
        Ok(sqlx::query_as!(
            Row,
            r#"select seq, at, key as "key: Uuid", kind, version, shop as "shop: Uuid",
                      person as "person: Uuid", role, via, request, client_at, body, prev_hash,
                      hash
               from record where key = ?1"#,
            key.0
        )
        .fetch_optional(self.connection())
        .await?)
    }

    /// A fact by its place in the record.
    pub async fn find_fact_at(&mut self, seq: i64) -> Result<Option<Row>, StorageError> {
        Ok(
            record::rows_after(self.connection(), seq.saturating_sub(1), 1)
                .await?
                .into_iter()
                .find(|row| row.seq == seq),
        )
    }

    /// Facts about a unit, place, person, job or shop, newest in the record first.
    pub async fn list_facts_about(
        &mut self,
        subject: Uuid,
        before: Option<i64>,
        most: i64,
    ) -> Result<Vec<Row>, StorageError> {
        let before = before.unwrap_or(i64::MAX);
        Ok(sqlx::query_as!(
            Row,
            r#"select record.seq as "seq!", record.at as "at!", record.key as "key!: Uuid",
                      record.kind as "kind!", record.version as "version!",
                      record.shop as "shop: Uuid", record.person as "person: Uuid",
                      record.role, record.via as "via!", record.request, record.client_at,
                      record.body as "body!", record.prev_hash as "prev_hash!",
                      record.hash as "hash!"
               from facts_about as about cross join record on record.seq = about.seq
               where about.subject = ?1 and about.seq < ?2
               order by about.seq desc limit ?3"#,
            subject,
            before,
            most
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// The fact of the same kind on the same subject before another: what a change is shown
    /// against.
    pub async fn find_previous_fact(
        &mut self,
        subject: Uuid,
        kind: &str,
        before: i64,
    ) -> Result<Option<Row>, StorageError> {
        let seq = sqlx::query_scalar!(
            "select seq from facts_about where subject = ?1 and seq < ?2 and kind = ?3
             order by seq desc limit 1",
            subject,
            before,
            kind
        )
        .fetch_optional(self.connection())
        .await?;
        match seq {
            Some(seq) => self.find_fact_at(seq).await,
            None => Ok(None),
        }
    }

    /// A text by its digest; none when it was removed.
    pub async fn find_text(&mut self, digest: &str) -> Result<Option<String>, StorageError> {
        Ok(
            sqlx::query_scalar!("select text from words where digest = ?1", digest)
                .fetch_optional(self.connection())
                .await?,
        )
    }

    /// Texts by their digests; a removed one is missing.
    pub async fn list_texts(
        &mut self,
        digests: &[&str],
    ) -> Result<HashMap<String, String>, StorageError> {
        let digests = record::json(digests)?;
        let rows = sqlx::query!(
            r#"select words.digest as "digest!", words.text as "text!"
               from json_each(?1) as wanted cross join words on words.digest = wanted.value"#,
            digests
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows.into_iter().map(|row| (row.digest, row.text)).collect())
    }
}
