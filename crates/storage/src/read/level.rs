//! How a place came to hold what it holds, component by component.

use super::{PlaceContents, PostingRow, Read, order};
use crate::error::StorageError;
use chrono::NaiveDate;
use domain::book::Order;
use domain::book::contents::Contents;
use domain::book::outcome::Standing;
use uuid::Uuid;

/// What a place held before a fact and after it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LevelStep {
    /// Where the fact stands in the replay.
    pub order: Order,
    /// Of a job: the date in the shop.
    pub local_date: Option<NaiveDate>,
    /// Before it.
    pub before: Contents,
    /// After it.
    pub after: Contents,
}

impl Read {
    /// The latest facts that count at a place, the latest first, with what it held before and after
    /// each: worked out backwards from what it holds now by what moved.
    pub async fn list_levels(
        &mut self,
        now: &PlaceContents,
        most: i64,
    ) -> Result<Vec<LevelStep>, StorageError> {
        let (place, posted) = (now.place, Standing::Posted.code());
        let rows = sqlx::query!(
            r#"select change.happened_at as "happened_at!", change.made_at as "made_at!",
                      change.key as "key!: Uuid", change.seq as "seq!",
                      jobs.local_date as "local_date?", outcomes.postings as "postings!"
               from place_changes as change
               cross join outcomes on outcomes.seq = change.seq
               left join jobs on jobs.seq = change.seq
               where change.place = ?1 and outcomes.standing = ?2
               order by change.happened_at desc, change.made_at desc, change.key desc
               limit ?3"#,
            place.0,
            posted,
            most
        )
        .fetch_all(self.connection())
        .await?;
        let mut steps = Vec::new();
        let mut after = now.contents.clone();
        for row in rows {
            let corrupt = |column| StorageError::corrupt("outcomes", row.seq, column);
            let postings: Vec<PostingRow> =
                serde_json::from_str(&row.postings).map_err(|_| corrupt("postings"))?;
            let mut before = after.clone();
            for posting in &postings {
                if posting.to_place == Some(place) {
                    before.subtract(&posting.contents);
                }
                if posting.from_place == Some(place) {
                    before.add(&posting.contents);
                }
            }
            let day = row.local_date.map(|day| day.parse());
            steps.push(LevelStep {
                order: order(row.happened_at, row.made_at, row.key),
                local_date: day.transpose().map_err(|_| corrupt("local_date"))?,
                before: before.clone(),
                after,
            });
            after = before;
        }
        Ok(steps)
    }
}
