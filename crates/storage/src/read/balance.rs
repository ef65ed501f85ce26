//! What came into a place and left it over a period.

use super::job::Change;
use super::{PostingRow, Read};
use crate::error::StorageError;
use domain::book::contents::Contents;
use domain::book::outcome::{Standing, Why};
use domain::ids::PlaceId;
use domain::job::Account;
use domain::moment::Moment;
use uuid::Uuid;

/// The balance of a place from a moment up to the head of the record. All volumes are mixed at
/// 20 °C, in mL, and
/// `opening + in − out − used up − not accounted for + mixing = closing`, exactly.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct PlaceBalance {
    /// What it held at the beginning, or what the book opened it with since.
    pub opening_ml: i64,
    /// What came in.
    pub in_ml: i64,
    /// What went out.
    pub out_ml: i64,
    /// What was used up, by the top-ups that proved it.
    pub used_up_ml: i64,
    /// What nobody can account for; negative when there was more than the book held.
    pub not_accounted_ml: i64,
    /// How volumes shrink and swell as fluids of different strength are mixed.
    pub mixing_ml: i64,
    /// What it holds now.
    pub closing_ml: i64,
    /// Facts in the period, those that do not count left out.
    pub facts: i64,
    /// What the postings go back to is what the book noted before the first fact of the period.
    pub agrees: bool,
}

/// The sums on the way.
#[derive(Default)]
struct Sums {
    /// What came in less what went out, by component: it closes without mixing.
    net: Contents,
    opened: Contents,
    in_ml: i64,
    out_ml: i64,
    used_up_ml: i64,
    not_accounted_ml: i64,
    facts: i64,
    shown_before_ml: Option<i64>,
}

impl Sums {
    fn take(&mut self, place: PlaceId, posting: &PostingRow) {
        let comes_in = posting.to_place == Some(place);
        if comes_in == (posting.from_place == Some(place)) {
            return;
        }
        if posting.why == Why::Opening.code() {
            self.opened.add(&posting.contents);
            return;
        }
        let other = if comes_in {
            self.net.add(&posting.contents);
            &posting.from_account
        } else {
            self.net.subtract(&posting.contents);
            &posting.to_account
        };
        // A reading shifts the strength at the same shown volume: its parts are of both signs, and
        // what they would show by themselves means nothing.
        if posting.why == Why::Reading.code() {
            return;
        }
        let ml = posting.shown_ml;
        let lost_ml = if comes_in { ml.saturating_neg() } else { ml };
        if other == Account::UsedUp.word() {
            self.used_up_ml = self.used_up_ml.saturating_add(lost_ml);
        } else if other == Account::NotAccountedFor.word() {
            self.not_accounted_ml = self.not_accounted_ml.saturating_add(lost_ml);
        } else if comes_in {
            self.in_ml = self.in_ml.saturating_add(ml);
        } else {
            self.out_ml = self.out_ml.saturating_add(ml);
        }
    }

    fn balance(&self, closing: &Contents, closing_ml: i64) -> PlaceBalance {
        let mut before = closing.clone();
        before.subtract(&self.net);
        let opening_ml = before.shown_ml();
        let mut first = before;
        first.subtract(&self.opened);
        let without_mixing = opening_ml
            .saturating_add(self.in_ml)
            .saturating_sub(self.out_ml)
            .saturating_sub(self.used_up_ml)
            .saturating_sub(self.not_accounted_ml);
        PlaceBalance {
            opening_ml,
            in_ml: self.in_ml,
            out_ml: self.out_ml,
            used_up_ml: self.used_up_ml,
            not_accounted_ml: self.not_accounted_ml,
            mixing_ml: closing_ml.saturating_sub(without_mixing),
            closing_ml,
            facts: self.facts,
            agrees: self
                .shown_before_ml
                .is_none_or(|shown_ml| shown_ml == first.shown_ml()),
        }
    }
}

impl Read {
    /// The balance of a place from `from` on; none when no fact touched it yet.
    pub async fn balance_of_place(
        &mut self,
        place: PlaceId,
        from: Moment,
    ) -> Result<Option<PlaceBalance>, StorageError> {
        let Some(now) = self.find_place(place).await? else {
            return Ok(None);
        };
        let nil = Uuid::nil();
        let rows = sqlx::query!(
            r#"select outcomes.seq as "seq!", outcomes.standing as "standing!",
                      outcomes.postings as "postings!", outcomes.changes as "changes!"
               from place_changes as change
               cross join outcomes on outcomes.seq = change.seq
               where change.place = ?1
                 and (change.happened_at, change.made_at, change.key) >= (?2, ?3, ?4)
               order by change.happened_at, change.made_at, change.key"#,
            place.0,
            from.0,
            i64::MIN,
            nil
        )
        .fetch_all(self.connection())
        .await?;
        let mut sums = Sums::default();
        for row in rows {
            let corrupt = |error: serde_json::Error| {
                StorageError::corrupt("outcomes", row.seq, error.to_string())
            };
            if row.standing != Standing::Posted.code() {
                continue;
            }
            sums.facts = sums.facts.saturating_add(1);
            if sums.shown_before_ml.is_none() {
                let changes: Vec<Change> = serde_json::from_str(&row.changes).map_err(corrupt)?;
                sums.shown_before_ml = changes
                    .iter()
                    .find(|change| change.place == place)
                    .map(|change| change.before.0);
            }
            let postings: Vec<PostingRow> = serde_json::from_str(&row.postings).map_err(corrupt)?;
            for posting in &postings {
                sums.take(place, posting);
            }
        }
        Ok(Some(sums.balance(&now.contents, now.shown_ml)))
    }
}
