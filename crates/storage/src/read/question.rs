//! Questions nobody has answered.

use super::{Read, order};
use crate::error::StorageError;
use domain::book::Order;
use domain::book::question::QuestionKind;
use domain::fact::QuestionId;
use domain::ids::{FactKey, PlaceId, ShopId};
use uuid::Uuid;

/// A question that waits, with the names a page shows.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct OpenQuestion {
    /// Its id.
    pub id: QuestionId,
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
    /// Number of the unit the job was done on.
    pub unit_number: Option<String>,
    /// Name of the vessel, or of the loop, the question is about.
    pub place_name: Option<String>,
}

impl Read {
    /// The questions nobody has answered, newest first, of one shop or all.
    pub async fn list_open_questions(
        &mut self,
        shop: Option<ShopId>,
        most: i64,
    ) -> Result<Vec<OpenQuestion>, StorageError> {
        let shop = shop.map(|shop| shop.0);
        let rows = sqlx::query!(
            r#"select asked.key as "key!: Uuid", asked.line as "line!", asked.kind as "kind!",
                      asked.place as "place?: Uuid", asked.found as "found!",
                      asked.expected as "expected!", asked.shop as "shop?: Uuid",
                      outcomes.happened_at as "happened_at!", outcomes.made_at as "made_at!",
                      asked.seq as "seq!", jobs.kind as "job_kind?",
                      units.number as "unit_number?",
                      coalesce(
                        (select name from vessels where id = asked.place),
                        (select name from loops where place = asked.place limit 1)
                      ) as "place_name?: String"
               from questions as asked
               cross join outcomes on outcomes.seq = asked.seq
               left join jobs on jobs.seq = asked.seq
               left join units on units.id = jobs.unit
               where asked.answer is null and (?1 is null or asked.shop = ?1)
               order by asked.happened_at desc, asked.key desc, asked.n desc
               limit ?2"#,
            shop,
            most
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter()
            .map(|row| {
                let corrupt = |what: &str| StorageError::corrupt("questions", row.key, what);
                Ok(OpenQuestion {
                    id: QuestionId {
                        job: FactKey(row.key),
                        line: u16::try_from(row.line).map_err(|_| corrupt("line"))?,
                        kind: QuestionKind::from_code(&row.kind)
                            .ok_or_else(|| corrupt("unknown kind"))?,
                    },
                    place: row.place.map(PlaceId),
                    found: row.found,
                    expected: row.expected,
                    shop: row.shop.map(ShopId),
                    order: order(row.happened_at, row.made_at, row.key),
                    seq: row.seq,
                    job_kind: row.job_kind,
                    unit_number: row.unit_number,
                    place_name: row.place_name,
                })
            })
            .collect()
    }

    /// How many questions wait, in one shop or all.
    pub async fn count_open_questions(
        &mut self,
        shop: Option<ShopId>,
    ) -> Result<i64, StorageError> {
        let shop = shop.map(|shop| shop.0);
        Ok(sqlx::query_scalar!(
            "select count(*) from questions
             where answer is null and (?1 is null or shop = ?1)",
            shop
        )
        .fetch_one(self.connection())
        .await?)
    }
}
