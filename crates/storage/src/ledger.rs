//! The book in memory, and how far the views follow it.

use crate::error::StorageError;
use crate::rebuild;
use crate::record::{self, Head};
use crate::view::place_state::Written;
use domain::book::outcome::{Outcome, PlaceChange};
use domain::book::{Book, Cursor, Kept, Order};
use domain::ids::{FactKey, PlaceId};
use domain::moment::Moment;
use sqlx::SqliteConnection;
use std::collections::{HashMap, HashSet};
use uuid::Uuid;

/// The number of every fact on record, by its key.
pub(crate) type Seqs = HashMap<FactKey, i64>;

/// Beyond so many places, all of them are looked at or marked instead.
pub(crate) const MANY_PLACES: usize = 1_000;

/// Places whose history is to be worked out again.
#[derive(Debug, Default)]
pub(crate) struct Stale {
    places: HashSet<PlaceId>,
    all: bool,
}

impl Stale {
    /// Adds the places of an outcome.
    pub(crate) fn add(&mut self, outcome: &Outcome) {
        if self.all {
            return;
        }
        self.places
            .extend(outcome.changes.iter().filter_map(PlaceChange::place));
        self.all = self.places.len() > MANY_PLACES;
    }
}

/// The book with what the tables hold of it.
#[derive(Debug)]
pub(crate) struct Ledger {
    pub(crate) book: Book,
    pub(crate) seqs: Seqs,
    pub(crate) head: Head,
    pub(crate) written: Written,
    /// From here on views are still to be worked out again after a late fact.
    pub(crate) backlog: Option<Order>,
    /// Where the re-work stands; dropped when an append reaches behind it.
    pub(crate) cursor: Option<Cursor>,
    /// How many outcomes the next slice of re-work writes.
    pub(crate) slice_outcomes: usize,
    /// The book holds facts of a transaction that is not committed.
    pub(crate) ahead: bool,
}

/// Whether the views can be trusted as they stand.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Views {
    Agree,
    /// A migration changed a view, or the check `replay_agrees` failed.
    ToRebuild(&'static str),
}

impl Ledger {
    /// Replays the record.
    pub(crate) async fn load(
        connection: &mut SqliteConnection,
    ) -> Result<(Self, Views), StorageError> {
        let mark = sqlx::query!(
            r#"select rebuild_needed, backlog_happened_at, backlog_made_at,
                      backlog_key as "backlog_key: Uuid"
               from meta"#
        )
        .fetch_one(&mut *connection)
        .await?;
        let backlog = match (
            mark.backlog_happened_at,
            mark.backlog_made_at,
            mark.backlog_key,
        ) {
            (Some(happened), Some(made), Some(key)) => Some(Order {
                happened: Moment(happened),
                made: Moment(made),
                key: FactKey(key),
            }),
            _ => None,
        };
        let head = record::head(connection).await?;
        let (mut book, seqs) = rebuild::read_book(connection).await?;
        book.work_out(&mut |worked| {
            if backlog.is_some_and(|from| worked.order >= from) {
                Kept::Later
            } else {
                Kept::Stored
            }
        });
        let (written, agrees) = Written::agrees(connection, &book).await?;
        let views = if mark.rebuild_needed != 0 {
            Views::ToRebuild("a migration changed a view")
        } else if agrees {
            Views::Agree
        } else {
            Views::ToRebuild("replay_agrees: the states of places differ from the replay")
        };
        let ledger = Self {
            book,
            seqs,
            head,
            written,
            backlog,
            cursor: None,
            slice_outcomes: 100,
            ahead: false,
        };
        Ok((ledger, views))
    }

    /// Works every view out again, in a transaction of its own.
    pub(crate) async fn rebuild(
        &mut self,
        connection: &mut SqliteConnection,
    ) -> Result<(), StorageError> {
        self.ahead = true;
        sqlx::query("begin immediate")
            .execute(&mut *connection)
            .await?;
        let written = rebuild::refill(connection, (&mut self.book, &self.seqs)).await?;
        sqlx::query("commit").execute(connection).await?;
        self.written = written;
        self.backlog = None;
        self.cursor = None;
        self.ahead = false;
        Ok(())
    }

    /// Remembers that views from `from` on must be worked out again.
    pub(crate) async fn fall_behind(
        &mut self,
        connection: &mut SqliteConnection,
        from: Order,
        stale: &Stale,
    ) -> Result<(), StorageError> {
        let from = self.backlog.map_or(from, |earlier| earlier.min(from));
        self.mark(connection, Some(from)).await?;
        if stale.all {
            sqlx::query!("insert or ignore into stale_places (place) values (x'')")
                .execute(connection)
                .await?;
            return Ok(());
        }
        let stale = record::json(&stale.places)?;
        sqlx::query!(
            "insert or ignore into stale_places (place)
             select unhex(value, '-') from json_each(?1)",
            stale
        )
        .execute(connection)
        .await?;
        Ok(())
    }

    /// Moves the mark; with nothing left, no place is stale any more.
    pub(crate) async fn mark(
        &mut self,
        connection: &mut SqliteConnection,
        backlog: Option<Order>,
    ) -> Result<(), StorageError> {
        let happened = backlog.map(|from| from.happened.0);
        let made = backlog.map(|from| from.made.0);
        let key = backlog.map(|from| from.key.0);
        sqlx::query!(
            "update meta set backlog_happened_at = ?1, backlog_made_at = ?2, backlog_key = ?3",
            happened,
            made,
            key
        )
        .execute(&mut *connection)
        .await?;
        if backlog.is_none() {
            sqlx::query!("delete from stale_places")
                .execute(connection)
                .await?;
        }
        self.backlog = backlog;
        Ok(())
    }
}
