//! How a place came to hold what it holds, component by component.

use super::{PlaceContents, PostingRow, Read, order};
use crate::error::StorageError;
use chrono::NaiveDate;
use domain::book::Order;
use domain::book::contents::Contents;
use domain::book::outcome::{Standing, Why};
use domain::ids::PlaceId;
use uuid::Uuid;

/// What a place held before a fact and after it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LevelStep {
    /// Where the fact stands in the replay.
    pub order: Order,
    /// Kind of job; none for an opening, a decision or a retirement.
    pub job_kind: Option<String>,
    /// Of a job: the date in the shop.
    pub local_date: Option<NaiveDate>,
    /// Before it, mL by component before mixing.
    pub before: Contents,
    /// After it.
    pub after: Contents,
    /// What was moved out of the place, mL before mixing.
    pub out_ml: i64,
    /// The vessel that most was moved in from.
    pub from_vessel: Option<PlaceId>,
}

/// What the postings of one fact did to a place.
#[derive(Default)]
struct Moves {
    before: Contents,
    out_ml: i64,
    given: Option<(i64, PlaceId)>,
}

impl Moves {
    /// Walks one fact back from what the place held after it.
    fn back(postings: &[PostingRow], place: PlaceId, after: &Contents) -> Self {
        let mut moves = Self {
            before: after.clone(),
            ..Self::default()
        };
        for posting in postings {
            let was_moved = posting.why == Why::Moved.code();
            if posting.to_place == Some(place) {
                moves.before.subtract(&posting.contents);
                if let Some(vessel) = posting.from_place.filter(|_| was_moved) {
                    moves.given = moves.given.max(Some((posting.shown_ml, vessel)));
                }
            }
            if posting.from_place == Some(place) {
                moves.before.add(&posting.contents);
                if was_moved {
                    let out_ml = posting.contents.total_ml();
                    moves.out_ml = moves.out_ml.saturating_add(out_ml);
                }
            }
        }
        moves
    }
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
                      jobs.kind as "job_kind?", jobs.local_date as "local_date?",
                      outcomes.postings as "postings!"
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
            let moves = Moves::back(&postings, place, &after);
            let day = row.local_date.map(|day| day.parse());
            steps.push(LevelStep {
                order: order(row.happened_at, row.made_at, row.key),
                job_kind: row.job_kind,
                local_date: day.transpose().map_err(|_| corrupt("local_date"))?,
                before: moves.before.clone(),
                after,
                out_ml: moves.out_ml,
                from_vessel: moves.given.map(|(_, vessel)| vessel),
            });
            after = moves.before;
        }
        Ok(steps)
    }
}
