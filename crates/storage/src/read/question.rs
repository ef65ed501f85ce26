//! Questions about facts: those that nobody has answered, and those of one job.

use super::{Read, order};
use crate::error::StorageError;
use crate::record::json;
use domain::book::Order;
use domain::book::month::Month;
use domain::book::question::{Question, QuestionKind};
use domain::fact::QuestionId;
use domain::ids::{FactKey, PersonId, PlaceId, ShopId, UnitId};
use domain::moment::Moment;
use serde::Serialize;
use std::collections::BTreeSet;
use uuid::Uuid;

/// Where a question stands in a list; the next page begins before the last one's.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct QuestionAt {
    /// When its fact happened, as it is replayed.
    pub happened_at: Moment,
    /// The fact.
    pub key: FactKey,
    /// Which of its questions.
    pub n: i64,
}

/// A question, with the names a page shows.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct OpenQuestion {
    /// Its id.
    pub id: QuestionId,
    /// Where it stands in a list.
    pub at: QuestionAt,
    /// The place it is about.
    pub place: Option<PlaceId>,
    /// What was found.
    pub found: i64,
    /// What was expected or allowed.
    pub expected: i64,
    /// The shop.
    pub shop: Option<ShopId>,
    /// Where its fact stands in the replay.
    pub order: Order,
    /// The fact's place in the record.
    pub seq: i64,
    /// Kind of job, where it is one.
    pub job_kind: Option<String>,
    /// The unit the job was done on.
    pub unit: Option<UnitId>,
    /// Its number.
    pub unit_number: Option<String>,
    /// Who did the job.
    pub person: Option<PersonId>,
    /// Name of the vessel, or of the loop, the question is about.
    pub place_name: Option<String>,
    /// The fact that answers it, and what was decided: accept or reject. Always none in lists of
    /// open questions.
    pub answer: Option<(FactKey, String)>,
}

impl OpenQuestion {
    /// The question itself, with its figures.
    pub fn question(&self) -> Question {
        Question {
            line: self.id.line,
            kind: self.id.kind,
            place: self.place,
            found: self.found,
            expected: self.expected,
            answer: None,
        }
    }
}

/// Which question about a fact of a month it is, and where it stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct QuestionOfMonth {
    /// Its id.
    pub id: QuestionId,
    /// Where it stands in a list.
    pub at: QuestionAt,
    seq: i64,
}

/// What somebody said about a question.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SaidOf {
    /// The question.
    pub question: QuestionId,
    /// When the server took it in.
    pub at: Moment,
    /// Who said it.
    pub person: Option<PersonId>,
    /// Who is asked to say something.
    pub asked: Option<PersonId>,
    /// Digest of the words.
    pub words: Option<String>,
}

struct StoredSaid {
    job: Uuid,
    line: i64,
    kind: String,
    at: i64,
    person: Option<Uuid>,
    asked: Option<Uuid>,
    words: Option<String>,
}

impl StoredSaid {
    fn into_said(self) -> Result<SaidOf, StorageError> {
        let corrupt = |what: &str| StorageError::corrupt("said", self.job, what);
        Ok(SaidOf {
            question: QuestionId {
                job: FactKey(self.job),
                line: u16::try_from(self.line).map_err(|_| corrupt("line"))?,
                kind: QuestionKind::from_code(&self.kind).ok_or_else(|| corrupt("unknown kind"))?,
            },
            at: Moment(self.at),
            person: self.person.map(PersonId),
            asked: self.asked.map(PersonId),
            words: self.words,
        })
    }
}

/// The key of a row of `questions`.
#[derive(PartialEq, Eq, PartialOrd, Ord, Serialize)]
struct Asked {
    seq: i64,
    n: i64,
}

struct Stored {
    key: Uuid,
    n: i64,
    line: i64,
    kind: String,
    place: Option<Uuid>,
    found: i64,
    expected: i64,
    shop: Option<Uuid>,
    asked_at: i64,
    happened_at: i64,
    made_at: i64,
    seq: i64,
    job_kind: Option<String>,
    unit: Option<Uuid>,
    unit_number: Option<String>,
    person: Option<Uuid>,
    place_name: Option<String>,
    answer: Option<Uuid>,
    decision: Option<String>,
}

impl Stored {
    fn into_question(self) -> Result<OpenQuestion, StorageError> {
        let corrupt = |what: &str| StorageError::corrupt("questions", self.key, what);
        Ok(OpenQuestion {
            id: QuestionId {
                job: FactKey(self.key),
                line: u16::try_from(self.line).map_err(|_| corrupt("line"))?,
                kind: QuestionKind::from_code(&self.kind).ok_or_else(|| corrupt("unknown kind"))?,
            },
            at: QuestionAt {
                happened_at: Moment(self.asked_at),
                key: FactKey(self.key),
                n: self.n,
            },
            place: self.place.map(PlaceId),
            found: self.found,
            expected: self.expected,
            shop: self.shop.map(ShopId),
            order: order(self.happened_at, self.made_at, self.key),
            seq: self.seq,
            job_kind: self.job_kind,
            unit: self.unit.map(UnitId),
            unit_number: self.unit_number,
            person: self.person.map(PersonId),
            place_name: self.place_name,
            answer: self.answer.map(FactKey).zip(self.decision),
        })
    }
}

impl Read {
    /// The questions nobody has answered, newest first, of one shop or all.
    pub async fn list_open_questions(
        &mut self,
        shop: Option<ShopId>,
        most: i64,
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        self.list_open_questions_before(shop, None, most).await
    }

    /// A page of the same, from before `before` on.
    pub async fn list_open_questions_before(
        &mut self,
        shop: Option<ShopId>,
        before: Option<QuestionAt>,
        most: i64,
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        let (at, key, n) = before.map_or((i64::MAX, Uuid::max(), i64::MAX), |before| {
            (before.happened_at.0, before.key.0, before.n)
        });
        let keys = match shop {
            Some(shop) => {
                sqlx::query_as!(
                    Asked,
                    r#"select seq as "seq!", n as "n!" from questions
                 where answer is null and shop = ?1 and (happened_at, key, n) < (?2, ?3, ?4)
                 order by happened_at desc, key desc, n desc
                 limit ?5"#,
                    shop.0,
                    at,
                    key,
                    n,
                    most
                )
                .fetch_all(self.connection())
                .await?
            }
            None => {
                sqlx::query_as!(
                    Asked,
                    r#"select seq as "seq!", n as "n!" from questions
                 where answer is null and (happened_at, key, n) < (?1, ?2, ?3)
                 order by happened_at desc, key desc, n desc
                 limit ?4"#,
                    at,
                    key,
                    n,
                    most
                )
                .fetch_all(self.connection())
                .await?
            }
        };
        self.list_questions(&keys).await
    }

    /// The questions about facts of a month of a shop that nobody has answered, by job.
    pub async fn list_open_questions_of_month(
        &mut self,
        shop: ShopId,
        month: Month,
    ) -> Result<Vec<QuestionOfMonth>, StorageError> {
        let month = month.to_string();
        let rows = sqlx::query!(
            r#"select seq as "seq!", n as "n!", happened_at as "happened_at!",
                      key as "key!: Uuid", line as "line!", kind as "kind!"
               from questions
               where answer is null and shop = ?1 and month = ?2
               order by key, n"#,
            shop.0,
            month
        )
        .fetch_all(self.connection())
        .await?;
        let question = rows.into_iter().map(|row| {
            let corrupt = |what: &str| StorageError::corrupt("questions", row.key, what);
            Ok(QuestionOfMonth {
                id: QuestionId {
                    job: FactKey(row.key),
                    line: u16::try_from(row.line).map_err(|_| corrupt("line"))?,
                    kind: QuestionKind::from_code(&row.kind)
                        .ok_or_else(|| corrupt("unknown kind"))?,
                },
                at: QuestionAt {
                    happened_at: Moment(row.happened_at),
                    key: FactKey(row.key),
                    n: row.n,
                },
                seq: row.seq,
            })
        });
        question.collect()
    }

    /// Some of these, as a page shows them.
    pub async fn list_these_questions(
        &mut self,
        of_month: &[QuestionOfMonth],
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        let key = |of: &QuestionOfMonth| Asked {
            seq: of.seq,
            n: of.at.n,
        };
        let keys: Vec<Asked> = of_month.iter().map(key).collect();
        self.list_questions(&keys).await
    }

    /// A page of a shop's questions that nobody has answered, the oldest first, from after `after`
    /// on; those about the facts of one person where one is given.
    pub async fn list_oldest_open_questions(
        &mut self,
        (shop, person): (ShopId, Option<PersonId>),
        after: Option<QuestionAt>,
        most: i64,
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        let (at, key, n) = after.map_or((i64::MIN, Uuid::nil(), i64::MIN), |after| {
            (after.happened_at.0, after.key.0, after.n)
        });
        let person = person.map(|person| person.0);
        let keys = sqlx::query_as!(
            Asked,
            r#"select seq as "seq!", n as "n!" from questions
             where answer is null and shop = ?1 and (happened_at, key, n) > (?2, ?3, ?4)
               and (?5 is null or exists (
                 select 1 from jobs where jobs.seq = questions.seq and jobs.person = ?5))
             order by happened_at, key, n
             limit ?6"#,
            shop.0,
            at,
            key,
            n,
            person,
            most
        )
        .fetch_all(self.connection())
        .await?;
        self.list_questions(&keys).await
    }

    /// The questions about a place that nobody has answered, newest first.
    pub async fn list_open_questions_of_place(
        &mut self,
        place: PlaceId,
        most: i64,
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        let keys = sqlx::query_as!(
            Asked,
            r#"select seq as "seq!", n as "n!" from questions
             where answer is null and place = ?1
             order by happened_at desc, key desc, n desc
             limit ?2"#,
            place.0,
            most
        )
        .fetch_all(self.connection())
        .await?;
        self.list_questions(&keys).await
    }

    /// All questions of a fact, answered ones too, in the order they were asked.
    pub async fn list_questions_of_fact(
        &mut self,
        key: FactKey,
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        self.list_questions_of_facts(&[key]).await
    }

    /// All questions of several facts, answered ones too: fact by fact, in the order they were asked.
    pub async fn list_questions_of_facts(
        &mut self,
        facts: &[FactKey],
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        let facts = json(facts)?;
        let keys = sqlx::query_as!(
            Asked,
            r#"select asked.seq as "seq!", asked.n as "n!"
               from json_each(?1) as wanted
               cross join record on record.key = unhex(wanted.value, '-')
               cross join questions as asked on asked.seq = record.seq
               order by wanted.key, asked.n"#,
            facts
        )
        .fetch_all(self.connection())
        .await?;
        self.list_questions(&keys).await
    }

    /// What waits for a person in a shop: open questions about which they were asked last, and
    /// facts under their name that nobody proved. The oldest first.
    pub async fn list_questions_for(
        &mut self,
        (shop, person): (ShopId, PersonId),
        most: i64,
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        let names = sqlx::query_as!(
            Asked,
            r#"select questions.seq as "seq!", questions.n as "n!"
               from questions cross join jobs on jobs.seq = questions.seq
               where questions.answer is null and questions.kind = 'name_to_confirm'
                 and questions.shop = ?1 and jobs.person = ?2
               order by questions.seq
               limit ?3"#,
            shop.0,
            person.0,
            most
        )
        .fetch_all(self.connection())
        .await?;
        let asked = sqlx::query_as!(
            Asked,
            r#"select questions.seq as "seq!", questions.n as "n!"
               from said
               cross join record on record.key = said.job
               cross join questions on questions.seq = record.seq
                 and questions.line = said.line and questions.kind = said.kind
               where said.asked = ?2 and questions.answer is null and questions.shop = ?1
                 and not exists (
                   select 1 from said as later
                   where later.job = said.job and later.line = said.line
                     and later.kind = said.kind and later.seq > said.seq)
               order by said.seq
               limit ?3"#,
            shop.0,
            person.0,
            most
        )
        .fetch_all(self.connection())
        .await?;
        let keys: BTreeSet<Asked> = names.into_iter().chain(asked).collect();
        let keys: Vec<Asked> = keys.into_iter().collect();
        self.list_questions(&keys).await
    }

    /// What was said about the questions of facts, in the order it was said.
    pub async fn list_said(&mut self, facts: &[FactKey]) -> Result<Vec<SaidOf>, StorageError> {
        let facts = json(facts)?;
        let rows = sqlx::query_as!(
            StoredSaid,
            r#"select said.job as "job!: Uuid", said.line as "line!", said.kind as "kind!",
                      said.at as "at!", said.person as "person?: Uuid",
                      said.asked as "asked?: Uuid", said.words
               from json_each(?1) as wanted
               cross join said on said.job = unhex(wanted.value, '-')
               order by said.seq"#,
            facts
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter().map(StoredSaid::into_said).collect()
    }

    async fn list_questions(&mut self, keys: &[Asked]) -> Result<Vec<OpenQuestion>, StorageError> {
        let keys = json(keys)?;
        let rows = sqlx::query_as!(
            Stored,
            r#"select asked.key as "key!: Uuid", asked.n as "n!", asked.line as "line!",
                      asked.kind as "kind!", asked.place as "place?: Uuid",
                      asked.found as "found!", asked.expected as "expected!",
                      asked.shop as "shop?: Uuid", asked.happened_at as "asked_at!",
                      outcomes.happened_at as "happened_at!", outcomes.made_at as "made_at!",
                      asked.seq as "seq!", jobs.kind as "job_kind?",
                      jobs.unit as "unit?: Uuid", units.number as "unit_number?",
                      jobs.person as "person?: Uuid",
                      coalesce(
                        (select name from vessels where id = asked.place),
                        (select name from loops where place = asked.place limit 1)
                      ) as "place_name?: String",
                      asked.answer as "answer?: Uuid", asked.decision
               from json_each(?1) as wanted
               cross join questions as asked
                 on asked.seq = wanted.value ->> 'seq' and asked.n = wanted.value ->> 'n'
               cross join outcomes on outcomes.seq = asked.seq
               left join jobs on jobs.seq = asked.seq
               left join units on units.id = jobs.unit
               order by wanted.key"#,
            keys
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter().map(Stored::into_question).collect()
    }

    /// How many questions wait, in one shop or all.
    pub async fn count_open_questions(
        &mut self,
        shop: Option<ShopId>,
    ) -> Result<i64, StorageError> {
        match shop {
            Some(shop) => Ok(sqlx::query_scalar!(
                "select open from open_questions where shop = ?1",
                shop.0
            )
            .fetch_optional(self.connection())
            .await?
            .unwrap_or_default()),
            None => Ok(sqlx::query_scalar!(
                r#"select cast(coalesce(sum(open), 0) as integer) as "open!: i64"
                   from open_questions"#
            )
            .fetch_one(self.connection())
            .await?),
        }
    }
}
