//! Puts the facts of the demonstration into a record, with the times of their arrival and salts
//! from the seed, so that the same program makes the same chain of hashes each time.

use std::collections::VecDeque;
use std::fs;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use domain::fact::{Recorded, What};
use domain::moment::Moment;
use sha2::{Digest, Sha256};
use storage::{Command, Hash, Head, Options, Store, Via, random_salts};

use super::{SEED, facts};
use crate::exit::Failure;
use crate::week::open;

/// Facts written by one transaction.
const AT_ONCE: usize = 1_000;

/// What had to be done to a folder.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) struct Made {
    /// Facts that were there.
    pub(crate) found: usize,
    /// Facts written.
    pub(crate) written: usize,
}

/// Sees that the folder holds the whole demonstration: makes it, finishes it, or leaves it alone.
///
/// # Errors
/// When the folder holds a record that is not this demonstration.
pub(crate) async fn put(data: &Path) -> Result<Made, Failure> {
    if let Some(found) = whole(data).await {
        return Ok(Made { found, written: 0 });
    }
    let made = make(data).await?;
    note_whole(data, made.found + made.written).await?;
    Ok(made)
}

/// The last fact of the demonstration, by number and hash, once all of it is in a folder: making
/// the facts again only to find them there takes most of a start.
const WHOLE: &str = "demonstration.txt";

/// How many facts of the demonstration the folder holds, when it holds them all.
async fn whole(data: &Path) -> Option<usize> {
    let noted = fs::read_to_string(data.join(WHOLE)).ok()?;
    let (number, hash) = noted.trim().split_once(' ')?;
    let found = number.parse().ok()?;
    (hash_at(data, found).await.ok()?? == hash).then_some(found)
}

async fn note_whole(data: &Path, facts: usize) -> Result<(), Failure> {
    let Some(hash) = hash_at(data, facts).await? else {
        return Ok(());
    };
    let file = data.join(WHOLE);
    fs::write(&file, format!("{facts} {hash}\n"))
        .map_err(|cause| Failure::not_writable(format!("{}: {cause}", file.display())))
}

async fn hash_at(data: &Path, number: usize) -> Result<Option<String>, Failure> {
    let seq = i64::try_from(number).unwrap_or(i64::MAX);
    let mut read = open::for_reading(data).await?;
    let row = read.find_fact_at(seq).await;
    let row = row.map_err(|error| open::fault(&error))?;
    let hash = row.and_then(|row| Hash::try_from(row.hash).ok());
    Ok(hash.map(|hash| Head { seq, hash }.hash_hex()))
}

async fn make(data: &Path) -> Result<Made, Failure> {
    let facts = facts(SEED)
        .map_err(|cause| Failure::broken(format!("the demonstration cannot be made: {cause}")))?;
    let supply = Supply::default();
    let store = open::with_options(supply.options(data)).await?;
    let put = put_into(&store, &supply, facts).await;
    let closed = store.close().await.map_err(|error| open::fault(&error));
    let made = put?;
    closed?;
    Ok(made)
}

pub(super) async fn put_into(
    store: &Store,
    supply: &Supply,
    facts: Vec<Recorded>,
) -> Result<Made, Failure> {
    let mut head = head(store).await?;
    let found = on_record(store, &facts, head.seq).await?;
    let mut written = 0;
    let mut waiting: Vec<Recorded> = Vec::new();
    for mut fact in facts.into_iter().skip(found) {
        let closes = matches!(fact.fact.what, What::MonthClosed(_));
        if closes || waiting.len() >= AT_ONCE {
            written += waiting.len();
            head = write(store, supply, std::mem::take(&mut waiting), head).await?;
        }
        if let What::MonthClosed(closed) = &mut fact.fact.what {
            // Only the record knows the hash of what the statement was drawn up from.
            closed.statement.head_hash = head.hash_hex();
        }
        waiting.push(fact);
    }
    written += waiting.len();
    write(store, supply, waiting, head).await?;
    store.settled().await;
    Ok(Made { found, written })
}

async fn head(store: &Store) -> Result<Head, Failure> {
    let mut read = store.read().await.map_err(|error| open::fault(&error))?;
    read.head().await.map_err(|error| open::fault(&error))
}

/// How many of the facts are there already; whoever looked around may have added others since.
async fn on_record(store: &Store, facts: &[Recorded], seq: i64) -> Result<usize, Failure> {
    let last = usize::try_from(seq).unwrap_or(usize::MAX).min(facts.len());
    let Some(expected) = last.checked_sub(1).and_then(|at| facts.get(at)) else {
        return Ok(0);
    };
    let mut read = store.read().await.map_err(|error| open::fault(&error))?;
    let row = read
        .find_fact_at(i64::try_from(last).unwrap_or(i64::MAX))
        .await
        .map_err(|error| open::fault(&error))?;
    let ours = row.is_some_and(|row| row.key == expected.key.0 && row.via == Via::Demo.code());
    if ours {
        Ok(last)
    } else {
        Err(Failure::usage(format!(
            "{} holds a record that is not this demonstration; nothing was written, name another \
             folder with --data",
            store.data().display()
        )))
    }
}

async fn write(
    store: &Store,
    supply: &Supply,
    facts: Vec<Recorded>,
    before: Head,
) -> Result<Head, Failure> {
    if facts.is_empty() {
        return Ok(before);
    }
    let not_written =
        |cause: String| Failure::broken(format!("the demonstration could not be written: {cause}"));
    let mut commands = Vec::with_capacity(facts.len());
    for mut fact in facts {
        supply.provide(&mut fact);
        commands.push(Command::plain(fact.key, fact.fact, Via::Demo));
    }
    let answers = store
        .append_many(commands)
        .await
        .map_err(|error| not_written(error.to_string()))?;
    let mut head = before;
    for answer in answers {
        let appended = answer.map_err(|error| not_written(error.to_string()))?;
        head = Head {
            seq: appended.seq,
            hash: appended.hash,
        };
    }
    Ok(head)
}

/// Times and salts, handed out in the order the facts are taken in.
#[derive(Clone, Default, Debug)]
pub(super) struct Supply {
    moments: Arc<Mutex<VecDeque<Moment>>>,
    salts: Arc<Mutex<VecDeque<Hash>>>,
}

impl Supply {
    pub(super) fn options(&self, data: &Path) -> Options {
        let moments = Arc::clone(&self.moments);
        let now = move || {
            let mut moments = moments.lock().unwrap_or_else(PoisonError::into_inner);
            moments.pop_front().unwrap_or_default()
        };
        let salts = Arc::clone(&self.salts);
        let mut beyond = random_salts();
        let mut options = Options::new(data, Arc::new(now), Arc::new(open::stopped));
        options.salts = Box::new(move || {
            let mut salts = salts.lock().unwrap_or_else(PoisonError::into_inner);
            salts.pop_front().unwrap_or_else(&mut beyond)
        });
        options
    }

    /// Lays out what one fact takes: its arrival, a salt for its fingerprint, one for each text.
    fn provide(&self, fact: &mut Recorded) {
        let mut salts = self.salts.lock().unwrap_or_else(PoisonError::into_inner);
        salts.push_back(salt(fact, 0));
        let mut texts: u64 = 0;
        fact.fact.for_each_text(&mut |_| texts += 1);
        for text in 1..=texts {
            salts.push_back(salt(fact, text));
        }
        drop(salts);
        let mut moments = self.moments.lock().unwrap_or_else(PoisonError::into_inner);
        moments.push_back(fact.received_at);
    }
}

fn salt(fact: &Recorded, text: u64) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update(SEED.to_be_bytes());
    hasher.update(fact.key.0.as_bytes());
    hasher.update(text.to_be_bytes());
    hasher.finalize().into()
}
