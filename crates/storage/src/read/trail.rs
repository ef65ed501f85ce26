//! The record itself: pages of it, and the trail of one subject.

use super::Read;
use crate::error::StorageError;
use crate::record::{self, Row};
use domain::ids::{FactKey, PersonId, ShopId};
use domain::moment::Moment;
use std::collections::HashMap;
use uuid::Uuid;

/// Nearly all facts are of this kind.
const COMMONEST: &str = "job";

/// What of the trail is looked for; everything when nothing is set.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct TrailFilter {
    /// Facts entered in one shop.
    pub shop: Option<ShopId>,
    /// One kind of fact.
    pub kind: Option<String>,
    /// Facts about a unit, place, job, person or anything else that has an id.
    pub subject: Option<Uuid>,
    /// Facts that a person states, or that are about them.
    pub person: Option<PersonId>,
    /// Facts taken in from the first moment on and before the second.
    pub taken_in: Option<(Moment, Moment)>,
}

impl Read {
    /// A page of the trail, newest first, from before `before` on. Facts of some days come in the
    /// order of the clock, which is that of the record unless the clock was put back.
    pub async fn list_trail(
        &mut self,
        filter: &TrailFilter,
        before: Option<i64>,
        most: i64,
    ) -> Result<Vec<Row>, StorageError> {
        if filter.taken_in.is_some() {
            return self.trail_of_days(filter, before, most).await;
        }
        // Whoever works for years states a great many jobs and little else: all other kinds of fact
        // are fewer than one person's facts.
        let rare = filter.kind.as_deref().filter(|kind| *kind != COMMONEST);
        let person = filter.person.map(|person| person.0);
        match (filter.subject, rare, person) {
            (Some(subject), ..) => self.trail_of_subject(filter, subject, before, most).await,
            (None, Some(kind), _) => self.trail_of_kind(filter, kind, before, most).await,
            (None, None, Some(person)) => self.trail_of_subject(filter, person, before, most).await,
            (None, None, None) => match (&filter.kind, filter.shop) {
                (Some(kind), _) => self.trail_of_kind(filter, kind, before, most).await,
                (None, Some(shop)) => self.trail_of_shop(shop, before, most).await,
                (None, None) => self.list_record_before(before, most).await,
            },
        }
    }

    async fn trail_of_days(
        &mut self,
        filter: &TrailFilter,
        before: Option<i64>,
        most: i64,
    ) -> Result<Vec<Row>, StorageError> {
        let (from, until) = filter.taken_in.unwrap_or_default();
        let (last_at, last_seq) = match before {
            Some(before) => (
                sqlx::query_scalar!("select at from record where seq = ?1", before)
                    .fetch_optional(self.connection())
                    .await?
                    .unwrap_or(i64::MAX),
                before,
            ),
            None => (i64::MAX, i64::MAX),
        };
        let person = filter.person.map(|person| person.0);
        let shop = filter.shop.map(|shop| shop.0);
        Ok(sqlx::query_as!(
            Row,
            r#"select seq as "seq!", at as "at!", key as "key!: Uuid", kind as "kind!",
                      version as "version!", shop as "shop: Uuid", person as "person: Uuid",
                      role, via as "via!", request, client_at, body as "body!",
                      prev_hash as "prev_hash!", hash as "hash!"
               from record indexed by record_by_at
               where at >= ?1 and at < ?2 and (at, seq) < (?3, ?4)
                 and (?5 is null or kind = ?5)
                 and (?6 is null or exists (
                   select 1 from facts_about
                   where facts_about.subject = ?6 and facts_about.seq = record.seq))
                 and (?7 is null or exists (
                   select 1 from facts_about
                   where facts_about.subject = ?7 and facts_about.seq = record.seq))
                 and (?8 is null or shop = ?8)
               order by at desc, seq desc limit ?9"#,
            from.0,
            until.0,
            last_at,
            last_seq,
            filter.kind,
            person,
            filter.subject,
            shop,
            most
        )
        .fetch_all(self.connection())
        .await?)
    }

    async fn trail_of_subject(
        &mut self,
        filter: &TrailFilter,
        subject: Uuid,
        before: Option<i64>,
        most: i64,
    ) -> Result<Vec<Row>, StorageError> {
        let before = before.unwrap_or(i64::MAX);
        let person = filter.person.map(|person| person.0);
        let shop = filter.shop.map(|shop| shop.0);
        Ok(sqlx::query_as!(
            Row,
            r#"select record.seq as "seq!", record.at as "at!", record.key as "key!: Uuid",
                      record.kind as "kind!", record.version as "version!",
                      record.shop as "shop: Uuid", record.person as "person: Uuid",
                      record.role, record.via as "via!", record.request, record.client_at,
                      record.body as "body!", record.prev_hash as "prev_hash!",
                      record.hash as "hash!"
               from facts_about as about cross join record on record.seq = about.seq
               where about.subject = ?1 and about.seq < ?2 and (?3 is null or about.kind = ?3)
                 and (?4 is null or exists (
                   select 1 from facts_about as of_person
                   where of_person.subject = ?4 and of_person.seq = about.seq))
                 and (?5 is null or record.shop = ?5)
               order by about.seq desc limit ?6"#,
            subject,
            before,
            filter.kind,
            person,
            shop,
            most
        )
        .fetch_all(self.connection())
        .await?)
    }

    async fn trail_of_shop(
        &mut self,
        shop: ShopId,
        before: Option<i64>,
        most: i64,
    ) -> Result<Vec<Row>, StorageError> {
        let before = before.unwrap_or(i64::MAX);
        Ok(sqlx::query_as!(
            Row,
            r#"select seq, at, key as "key: Uuid", kind, version, shop as "shop: Uuid",
                      person as "person: Uuid", role, via, request, client_at, body, prev_hash,
                      hash
               from record indexed by record_by_shop
               where shop = ?1 and seq < ?2 order by seq desc limit ?3"#,
            shop.0,
            before,
            most
        )
        .fetch_all(self.connection())
        .await?)
    }

    async fn trail_of_kind(
        &mut self,
        filter: &TrailFilter,
        kind: &str,
        before: Option<i64>,
        most: i64,
    ) -> Result<Vec<Row>, StorageError> {
        let before = before.unwrap_or(i64::MAX);
        let shop = filter.shop.map(|shop| shop.0);
        let person = filter.person.map(|person| person.0);
        Ok(sqlx::query_as!(
            Row,
            r#"select seq, at, key as "key: Uuid", kind, version, shop as "shop: Uuid",
                      person as "person: Uuid", role, via, request, client_at, body, prev_hash,
                      hash
               from record indexed by record_by_kind
               where kind = ?1 and seq < ?2 and (?3 is null or shop = ?3)
                 and (?4 is null or exists (
                   select 1 from facts_about
                   where facts_about.subject = ?4 and facts_about.seq = record.seq))
               order by seq desc limit ?5"#,
            kind,
            before,
            shop,
            person,
            most
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Facts by their places in the record, in the order they are asked for.
    pub async fn list_facts_at(&mut self, seqs: &[i64]) -> Result<Vec<Row>, StorageError> {
        let seqs = record::json(seqs)?;
        Ok(sqlx::query_as!(
            Row,
            r#"select record.seq as "seq!", record.at as "at!", record.key as "key!: Uuid",
                      record.kind as "kind!", record.version as "version!",
                      record.shop as "shop: Uuid", record.person as "person: Uuid",
                      record.role, record.via as "via!", record.request, record.client_at,
                      record.body as "body!", record.prev_hash as "prev_hash!",
                      record.hash as "hash!"
               from json_each(?1) as wanted cross join record on record.seq = wanted.value
               order by wanted.key"#,
            seqs
        )
        .fetch_all(self.connection())
        .await?)
    }

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
