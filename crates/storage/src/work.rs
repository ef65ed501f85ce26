//! What follows from facts that went in, and the re-work after late ones.

use crate::error::StorageError;
use crate::ledger::{Ledger, Seqs, Stale};
use crate::view::outcome::{Batch, Known};
use crate::view::place_state::Touched;
use crate::view::{self, Entry};
use crate::words;
use crate::writer::Failure;
use domain::book::outcome::{Outcome, PlaceChange};
use domain::book::{Kept, Order, Worked};
use domain::fact::What;
use domain::ids::{FactKey, PlaceId};
use sqlx::SqliteConnection;
use std::collections::{HashMap, HashSet};
use std::time::Duration;
use tokio::time::Instant;

/// So many other facts are written with the one that changed them; the rest is written in slices.
const MOST_OTHERS: usize = 500;
/// How long one slice of re-work may keep the writer.
const SLICE: Duration = Duration::from_millis(50);
/// Part of a slice that goes to working out; writing takes the rest.
const SLICE_TO_WORK: Duration = Duration::from_millis(15);
/// Outcomes written in one slice: halved after a slice that took too long, a quarter more after
/// one that took less than half its time.
const FEWEST_OUTCOMES: usize = 20;
const MOST_OUTCOMES: usize = 1_000;
/// What came out of the replay after facts went in.
#[derive(Default)]
struct Replayed {
    batch: Batch,
    own: HashMap<FactKey, Outcome>,
    touched: Touched,
    /// Places of other facts that changed.
    stale: Stale,
    others: usize,
    first: Option<Order>,
    first_later: Option<Order>,
}

impl Replayed {
    fn take(&mut self, worked: &Worked<'_>, (new, seqs): (&HashSet<FactKey>, &Seqs)) -> Kept {
        self.first.get_or_insert(worked.order);
        let is_new = new.contains(&worked.key);
        if worked.changed && !is_new {
            self.others = self.others.saturating_add(1);
            self.stale.add(worked.outcome);
            if self.others > MOST_OTHERS {
                self.first_later.get_or_insert(worked.order);
                return Kept::Later;
            }
        }
        self.touched.note(worked.outcome);
        if is_new {
            self.own.insert(worked.key, worked.outcome.clone());
            self.batch.push(worked, Known::New, seqs);
        } else if worked.changed {
            self.batch.push(worked, Known::Before, seqs);
        }
        Kept::Stored
    }
}

/// Enters facts into the book and writes all views.
pub(crate) async fn work_in(
    connection: &mut SqliteConnection,
    ledger: &mut Ledger,
    entries: &[Entry],
) -> Result<Worth, StorageError> {
    let mut replayed = Replayed::default();
    // Places that facts name and may take out of the book.
    let mut named = HashSet::new();
    for entry in entries {
        if let What::TextRemoved(removed) = &entry.recorded.fact.what {
            words::remove(connection, removed).await?;
        }
        if may_drop_places(&entry.recorded.fact.what) {
            let subjects = view::subjects(&entry.recorded.fact);
            named.extend(subjects.into_iter().map(PlaceId));
        }
        ledger.seqs.insert(entry.recorded.key, entry.seq);
        ledger.book.enter(&entry.recorded);
    }
    view::take(connection, entries).await?;
    let new: HashSet<FactKey> = entries.iter().map(|entry| entry.recorded.key).collect();
    let seqs = &ledger.seqs;
    ledger
        .book
        .work_out(&mut |worked| replayed.take(&worked, (&new, seqs)));
    let Replayed {
        batch,
        own,
        mut touched,
        stale,
        others,
        first,
        first_later,
    } = replayed;
    if first
        < entries
            .iter()
            .map(|entry| Some(entry.order))
            .min()
            .flatten()
        || others > 0
    {
        // Something before the head moved, and the cursor's state may be from before that.
        ledger.cursor = None;
    }
    let left = batch.write(connection).await?;
    if let Some(from) = first_later {
        ledger.fall_behind(connection, from, &stale).await?;
        // The slices write the states of all other places, with the outcomes they come from.
        let about_new = own
            .values()
            .flat_map(|outcome| outcome.changes.iter().filter_map(PlaceChange::place));
        touched = Touched::perhaps(about_new.collect());
    } else {
        touched.perhaps.extend(left);
    }
    touched.perhaps.extend(named);
    ledger
        .written
        .follow(connection, &ledger.book, touched)
        .await?;
    Ok(Worth { own, others })
}

/// What facts came to, for their answers.
pub(crate) struct Worth {
    pub(crate) own: HashMap<FactKey, Outcome>,
    pub(crate) others: usize,
}

/// Kinds of fact after which a place may no longer be part of the book, or be another kind of
/// place.
fn may_drop_places(what: &What) -> bool {
    matches!(
        what,
        What::Unit(_) | What::Vessel(_) | What::Opening(_) | What::Merged(_) | What::Retired(_)
    )
}

/// Works some more outcomes out again and writes those that changed.
pub(crate) async fn rework_slice(
    connection: &mut SqliteConnection,
    ledger: &mut Ledger,
) -> Result<bool, Failure> {
    let Some(from) = ledger.backlog else {
        return Ok(false);
    };
    let began = Instant::now();
    let mut cursor = match ledger.cursor.take() {
        Some(cursor) => cursor,
        None => ledger.book.cursor(from),
    };
    ledger.ahead = true;
    let mut batch = Batch::default();
    let seqs = &ledger.seqs;
    let mut places = HashSet::new();
    let mut reached = from;
    let mut more = true;
    while more && batch.len() < ledger.slice_outcomes && began.elapsed() < SLICE_TO_WORK {
        more = ledger.book.step(&mut cursor, &mut |worked| {
            reached = reached.max(worked.order);
            if worked.changed {
                batch.push(&worked, Known::Before, seqs);
                places.extend(worked.outcome.changes.iter().filter_map(PlaceChange::place));
            }
            Kept::Stored
        });
    }
    sqlx::query("begin immediate")
        .execute(&mut *connection)
        .await?;
    // Places they are about now, and places they are no longer about, which may have left the
    // book. A state is written once: the next slice finds it as it should be.
    let mut perhaps = batch.write(connection).await?;
    perhaps.extend(places);
    let mut touched = Touched::perhaps(perhaps);
    // At the end nothing may be left that no changed outcome told of.
    touched.all = !more;
    ledger
        .written
        .follow(connection, &ledger.book, touched)
        .await?;
    ledger.mark(connection, more.then_some(reached)).await?;
    sqlx::query("commit")
        .execute(connection)
        .await
        .map_err(|error| Failure::AtCommit(error.into()))?;
    ledger.ahead = false;
    ledger.cursor = more.then_some(cursor);
    let took = began.elapsed();
    let size = ledger.slice_outcomes;
    let size = if took > SLICE {
        size / 2
    } else if took < SLICE / 2 {
        size.saturating_add(size / 4)
    } else {
        size
    };
    ledger.slice_outcomes = size.clamp(FEWEST_OUTCOMES, MOST_OUTCOMES);
    Ok(more)
}
