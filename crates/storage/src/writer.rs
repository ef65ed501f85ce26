//! The one writer: takes facts in, each group in one immediate transaction, and keeps the views.

use crate::answer::{self, Earlier, NewAnswer, StoredAnswer};
use crate::check_log::{self, CheckRun};
use crate::connection;
use crate::error::{AppendError, Refusal, StorageError};
use crate::ledger::{Ledger, Views};
use crate::photo::{Named, Photos};
use crate::record::{self, Hash, Head, Row};
use crate::view::{self, Entry};
use crate::words::{self, Salts, Word};
use crate::work::{Worth, rework_slice, work_in};
use domain::book::Book;
use domain::book::outcome::Outcome;
use domain::fact::{FACT_VERSION, Fact, Recorded, What};
use domain::fleet::Role;
use domain::ids::{FactKey, PersonId, ShopId};
use domain::moment::Moment;
use sqlx::{Connection, SqliteConnection};
use std::collections::{HashMap, HashSet, VecDeque};
use std::path::PathBuf;
use std::sync::Arc;
use uuid::Uuid;

/// The way a fact came in.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Via {
    /// A form of our own pages.
    Form,
    /// The JSON interface.
    Intake,
    /// A file.
    Import,
    /// The demonstration.
    Demo,
    /// The program itself.
    Program,
}

impl Via {
    /// The code the record keeps.
    pub fn code(self) -> &'static str {
        match self {
            Self::Form => "form",
            Self::Intake => "intake",
            Self::Import => "import",
            Self::Demo => "demo",
            Self::Program => "program",
        }
    }
}

/// Says whether a fact may be taken in, given the book as it stands.
pub type Judge = Box<dyn FnOnce(&Book, &Fact) -> Result<(), Refusal> + Send>;
/// Makes the answer that goes out, and goes out again when the same key is sent again.
pub type Answerer = Box<dyn FnOnce(&AppendedView<'_>) -> StoredAnswer + Send>;
/// The server's idea of now.
pub type Now = Arc<dyn Fn() -> Moment + Send + Sync>;
/// Called when the disk can no longer be trusted: the program must end and be started again.
pub type Fatal = Arc<dyn Fn(&str) + Send + Sync>;

/// A fact on its way in, with who sends it and what is to be answered.
pub struct Command {
    /// The fact's key, made when the form was opened.
    pub key: FactKey,
    /// The fact, texts still plain.
    pub fact: Fact,
    /// The shop it is entered in.
    pub shop: Option<ShopId>,
    /// The person who enters it.
    pub person: Option<PersonId>,
    /// The role they act in.
    pub role: Option<Role>,
    /// The way it comes in.
    pub via: Via,
    /// Id of the request.
    pub request: Option<String>,
    /// The sender's clock when it was sent.
    pub client_at: Option<Moment>,
    /// The request as it was sent, where the fact was read from names that may come to mean
    /// something else: a repeat is told by it rather than by the fact.
    pub as_sent: Option<Vec<u8>>,
    /// The head of the record that the fact was drawn up at, where it is true of that head alone: it
    /// goes in next to it or not at all.
    pub drawn_up_at: Option<i64>,
    /// Asked inside the transaction.
    pub judge: Judge,
    /// Asked when all of it is worked out, before it is committed.
    pub answer: Answerer,
}

impl std::fmt::Debug for Command {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Command")
            .field("key", &self.key)
            .field("kind", &self.fact.what.kind())
            .finish_non_exhaustive()
    }
}

impl Command {
    /// A fact nobody judges and nobody waits for an answer to: import, demonstration, bench.
    pub fn plain(key: FactKey, fact: Fact, via: Via) -> Self {
        Self {
            key,
            shop: shop_of(&fact.what),
            person: fact.by.person,
            fact,
            role: None,
            via,
            request: None,
            client_at: None,
            as_sent: None,
            drawn_up_at: None,
            judge: Box::new(|_, _| Ok(())),
            answer: Box::new(|_| StoredAnswer {
                status: 201,
                body: Vec::new(),
            }),
        }
    }
}

/// The shop a fact belongs to, where it says one.
fn shop_of(what: &What) -> Option<ShopId> {
    match what {
        What::Job(job) => Some(job.shop),
        What::Shop(shop) => Some(shop.id),
        What::Unit(unit) => Some(unit.shop),
        What::Vessel(vessel) => Some(vessel.shop),
        What::Person(person) => person.shop,
        What::Roles(roles) => roles.shop,
        What::Instrument(instrument) => Some(instrument.shop),
        What::FitnessDecision(decision) => decision.shop,
        What::MonthClosed(closed) => Some(closed.statement.shop),
        _ => None,
    }
}

/// A fact as it stands now, for the one who writes the answer.
#[derive(Debug)]
pub struct AppendedView<'a> {
    /// Its place in the record.
    pub seq: i64,
    /// When it was taken in.
    pub at: Moment,
    /// Its key.
    pub key: FactKey,
    /// The fact as recorded.
    pub fact: &'a Fact,
    /// What follows from it, where it is one the book works out.
    pub outcome: Option<&'a Outcome>,
    /// Other facts whose outcome it changed.
    pub others_changed: usize,
    /// Some of those are still being worked out again.
    pub being_worked_out_again: bool,
}

/// A fact that is on record.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Appended {
    /// Its place in the record.
    pub seq: i64,
    /// When it was taken in.
    pub at: Moment,
    /// Its hash.
    pub hash: Hash,
    /// The key was on record already, and this is the answer it got then.
    pub repeated: bool,
    /// The answer.
    pub answer: StoredAnswer,
}

/// The log is carried into the database beyond so many pages.
const LOG_PAGES: i64 = 1_000;
/// The log's length is asked for once in so many facts.
const LOOK_EVERY: usize = 16;

/// The writer and everything it holds. Both parts are made again when they are missing.
pub(crate) struct Writer {
    file: PathBuf,
    connection: Option<SqliteConnection>,
    ledger: Option<Ledger>,
    tools: Tools,
    fatal: Fatal,
    /// Facts written since the log's length was last asked for.
    unlooked: usize,
    /// A task works views out again.
    pub(crate) reworking: bool,
}

/// What taking a fact in needs from outside.
pub(crate) struct Tools {
    pub(crate) salts: Salts,
    pub(crate) now: Now,
}

/// Where a transaction failed.
pub(crate) enum Failure {
    Inside(StorageError),
    AtCommit(StorageError),
}

impl From<StorageError> for Failure {
    fn from(error: StorageError) -> Self {
        Self::Inside(error)
    }
}

impl From<sqlx::Error> for Failure {
    fn from(error: sqlx::Error) -> Self {
        Self::Inside(error.into())
    }
}

type Answers = Vec<Result<Appended, AppendError>>;

impl Writer {
    pub(crate) fn new(
        file: PathBuf,
        connection: SqliteConnection,
        ledger: Ledger,
        (tools, fatal): (Tools, Fatal),
    ) -> Self {
        Self {
            file,
            connection: Some(connection),
            ledger: Some(ledger),
            tools,
            fatal,
            unlooked: 0,
            reworking: false,
        }
    }

    /// Takes facts in, all in one transaction. A fact that is refused or on record already does
    /// not stop the others.
    pub(crate) async fn append(&mut self, commands: Vec<Command>) -> Result<Answers, AppendError> {
        let facts = commands.len();
        let removes_text = commands
            .iter()
            .any(|command| matches!(command.fact.what, What::TextRemoved(_)));
        let photos = Photos::beside(&self.file);
        let named = Named::by(commands.iter().map(|command| &command.fact.what));
        named.must_be_there(&photos).map_err(AppendError::Failed)?;
        let (mut connection, mut ledger) = self.make_ready().await.map_err(AppendError::Failed)?;
        match transact(&mut connection, &mut ledger, &mut self.tools, commands).await {
            Ok(answers) => {
                // The next start does what could not be done now.
                if let Err(error) = named.let_go(&photos, &mut connection).await {
                    tracing::warn!(%error, "the bytes of a photo could not be let go of");
                }
                self.connection = Some(connection);
                self.ledger = Some(ledger);
                if removes_text {
                    self.empty_log().await;
                }
                self.tend_log(facts).await;
                Ok(answers)
            }
            Err(failure) => Err(self.recover(connection, ledger, failure).await),
        }
    }

    /// Takes connection and ledger out, making what is missing. They are put back only by those
    /// whose work went well.
    async fn make_ready(&mut self) -> Result<(SqliteConnection, Ledger), StorageError> {
        let mut connection = match self.connection.take() {
            Some(connection) => connection,
            None => connection::writer(&self.file).await?,
        };
        let ledger = match self.ledger.take() {
            Some(ledger) if !ledger.ahead => ledger,
            _ => {
                let (mut ledger, views) = Ledger::load(&mut connection).await?;
                if let Views::ToRebuild(why) = views {
                    tracing::warn!(why, "the views are worked out again");
                    ledger.rebuild(&mut connection).await?;
                }
                ledger
            }
        };
        Ok((connection, ledger))
    }

    /// After a failure the connection's state is unknown, so it goes; the book goes too when it
    /// had taken in what was not committed.
    async fn recover(
        &mut self,
        connection: SqliteConnection,
        ledger: Ledger,
        failure: Failure,
    ) -> AppendError {
        if let Err(error) = connection.close_hard().await {
            tracing::warn!(%error, "the writer's connection did not close");
        }
        let (error, at_commit) = match failure {
            Failure::Inside(error) => (error, false),
            Failure::AtCommit(error) => (error, true),
        };
        if !ledger.ahead && !at_commit {
            self.ledger = Some(ledger);
        }
        tracing::error!(%error, at_commit, "a fact was not saved");
        match error.sqlite_code() {
            Some(code) if code & 0xff == FULL => return AppendError::DiskFull,
            Some(code) if is_damage(code) => (self.fatal)(&error.to_string()),
            _ => {}
        }
        if at_commit {
            AppendError::NotConfirmed(error)
        } else {
            AppendError::Failed(error)
        }
    }

    /// Whether views are still to be worked out again.
    pub(crate) fn has_backlog(&self) -> bool {
        self.ledger
            .as_ref()
            .is_none_or(|ledger| ledger.backlog.is_some())
    }

    /// Works one slice of views out again; `false` when nothing is left.
    pub(crate) async fn rework(&mut self) -> Result<bool, AppendError> {
        let (mut connection, mut ledger) = self.make_ready().await.map_err(AppendError::Failed)?;
        match rework_slice(&mut connection, &mut ledger).await {
            Ok(more) => {
                self.connection = Some(connection);
                self.ledger = Some(ledger);
                self.tend_log(LOOK_EVERY).await;
                Ok(more)
            }
            Err(failure) => Err(self.recover(connection, ledger, failure).await),
        }
    }

    /// A text that was removed must not stay readable in the log.
    async fn empty_log(&mut self) {
        if let Some(connection) = self.connection.as_mut()
            && let Err(error) = checkpoint(connection, "truncate").await
        {
            self.connection = None;
            (self.fatal)(&error.to_string());
        }
    }

    /// Carries the log into the database when it has grown. Nobody waits for a fact here, so an
    /// error can be told for what it is: the disk.
    async fn tend_log(&mut self, facts: usize) {
        self.unlooked = self.unlooked.saturating_add(facts);
        if self.unlooked < LOOK_EVERY {
            return;
        }
        self.unlooked = 0;
        let Some(connection) = self.connection.as_mut() else {
            return;
        };
        let looked = match checkpoint(connection, "noop").await {
            Ok((log, carried)) if log.saturating_sub(carried) > LOG_PAGES => {
                checkpoint(connection, "passive").await.map(|_| ())
            }
            Ok(_) => Ok(()),
            Err(error) => Err(error),
        };
        if let Err(error) = looked {
            tracing::error!(%error, "the log could not be carried into the database");
            self.connection = None;
            (self.fatal)(&error.to_string());
        }
    }

    /// Carries the whole log into the database and lets the file go.
    pub(crate) async fn close(&mut self) -> Result<(), StorageError> {
        if let Some(mut connection) = self.connection.take() {
            let carried = checkpoint(&mut connection, "truncate").await;
            connection.close().await?;
            carried?;
        }
        Ok(())
    }

    /// Whether the writer's connection answers.
    pub(crate) async fn answers(&mut self) -> Result<(), StorageError> {
        let (mut connection, ledger) = self.make_ready().await?;
        record::head(&mut connection).await?;
        self.connection = Some(connection);
        self.ledger = Some(ledger);
        Ok(())
    }

    /// Works every view out again.
    pub(crate) async fn rebuild(&mut self) -> Result<(), StorageError> {
        let (mut connection, mut ledger) = self.make_ready().await?;
        ledger.rebuild(&mut connection).await?;
        self.connection = Some(connection);
        self.ledger = Some(ledger);
        Ok(())
    }

    /// Notes runs of checks beside the record.
    pub(crate) async fn note_checks(&mut self, runs: &[CheckRun]) -> Result<(), StorageError> {
        let (mut connection, ledger) = self.make_ready().await?;
        self.ledger = Some(ledger);
        check_log::insert(&mut connection, runs).await?;
        self.connection = Some(connection);
        Ok(())
    }

    /// The book, when it is in memory.
    pub(crate) fn ledger(&self) -> Option<&Ledger> {
        self.ledger.as_ref()
    }
}

const FULL: i32 = 13;

/// Damage: nothing that is read from this file can be believed any more.
///
/// A flush that fails at a commit is not that. The log's index was not moved on, so the next
/// transaction writes the same pages of the log again and flushes them again; that one fact is
/// not confirmed, and the connection goes. A flush that fails while the log is carried into the
/// database is: the system may have dropped pages that the log is about to let go of.
fn is_damage(code: i32) -> bool {
    const CORRUPT: i32 = 11;
    const NOT_A_DATABASE: i32 = 26;
    matches!(code & 0xff, CORRUPT | NOT_A_DATABASE)
}

/// Runs a checkpoint and gives the log's pages and how many of them are carried over.
async fn checkpoint(
    connection: &mut SqliteConnection,
    mode: &'static str,
) -> Result<(i64, i64), StorageError> {
    let statement = match mode {
        "noop" => "pragma wal_checkpoint(noop)",
        "passive" => "pragma wal_checkpoint(passive)",
        _ => "pragma wal_checkpoint(truncate)",
    };
    let (_busy, log, carried): (i64, i64, i64) =
        sqlx::query_as(statement).fetch_one(connection).await?;
    Ok((log, carried))
}

/// One immediate transaction from begin to commit.
async fn transact(
    connection: &mut SqliteConnection,
    ledger: &mut Ledger,
    tools: &mut Tools,
    commands: Vec<Command>,
) -> Result<Answers, Failure> {
    sqlx::query("begin immediate")
        .execute(&mut *connection)
        .await?;
    let head = ledger.head;
    let mut answers: Answers = Vec::with_capacity(commands.len());
    let mut waiting: VecDeque<Command> = commands.into();
    while !waiting.is_empty() {
        // A key that comes twice waits for its first to be on record.
        let mut keys = HashSet::new();
        let mut group = Vec::new();
        while let Some(command) = waiting.pop_front() {
            if !keys.insert(command.key) {
                waiting.push_front(command);
                break;
            }
            group.push(command);
        }
        answers.extend(take_group(connection, ledger, tools, group).await?);
    }
    if ledger.head == head {
        sqlx::query("rollback").execute(connection).await?;
        return Ok(answers);
    }
    sqlx::query("commit")
        .execute(connection)
        .await
        .map_err(|error| Failure::AtCommit(error.into()))?;
    ledger.ahead = false;
    Ok(answers)
}

/// A fact that was admitted: its row, its texts, and itself for the book.
struct Admitted {
    row: Row,
    words: Vec<Word>,
    incoming: Incoming,
    entry: Entry,
}

/// What its answer will need of a fact that is going in.
struct Incoming {
    /// Its place among the answers.
    at: usize,
    salt: Hash,
    fingerprint: Hash,
    hash: Hash,
    answer: Answerer,
}

async fn take_group(
    connection: &mut SqliteConnection,
    ledger: &mut Ledger,
    tools: &mut Tools,
    group: Vec<Command>,
) -> Result<Answers, Failure> {
    // Only this writer adds facts, so a key that the ledger does not know is on no row.
    let keys: Vec<Uuid> = group
        .iter()
        .filter(|command| ledger.seqs.contains_key(&command.key))
        .map(|command| command.key.0)
        .collect();
    let mut earlier: HashMap<Uuid, Earlier> = answer::earlier(connection, &keys)
        .await?
        .into_iter()
        .map(|earlier| (earlier.key, earlier))
        .collect();
    let mut answers: Vec<Option<Result<Appended, AppendError>>> = Vec::new();
    let mut rows = Vec::new();
    let mut texts = Vec::new();
    let (mut incoming, mut entries) = (Vec::new(), Vec::new());
    let mut head = ledger.head;
    for mut command in group {
        words::normalise(&mut command.fact)?;
        if let Some(earlier) = earlier.remove(&command.key.0) {
            let print = fingerprint(&earlier.salt, &command.fact, command.as_sent.as_deref())?;
            answers.push(Some(repeat(earlier, print)?));
            continue;
        }
        if command.drawn_up_at.is_some_and(|seq| seq != head.seq) {
            answers.push(Some(Err(AppendError::WentOn { seq: head.seq })));
            continue;
        }
        let judge = std::mem::replace(&mut command.judge, Box::new(|_, _| Ok(())));
        if let Err(refusal) = judge(&ledger.book, &command.fact) {
            answers.push(Some(Err(AppendError::Refused(refusal))));
            continue;
        }
        let admitted = admit(command, answers.len(), head, tools)?;
        head = admitted.row.head()?;
        rows.push(admitted.row);
        texts.extend(admitted.words);
        incoming.push(admitted.incoming);
        entries.push(admitted.entry);
        answers.push(None);
    }
    if !incoming.is_empty() {
        ledger.ahead = true;
        ledger.head = head;
        record::insert(connection, &rows).await?;
        words::insert(connection, &texts).await?;
        let worth = work_in(connection, ledger, &entries).await?;
        let incoming = incoming.into_iter().zip(entries).collect();
        let behind = ledger.backlog.is_some();
        for (at, appended) in answer_all(connection, incoming, &worth, behind).await? {
            if let Some(place) = answers.get_mut(at) {
                *place = Some(Ok(appended));
            }
        }
    }
    answers
        .into_iter()
        .map(|answer| {
            answer.ok_or_else(|| {
                Failure::Inside(StorageError::Check(
                    "a fact was left without an answer".into(),
                ))
            })
        })
        .collect()
}

fn fingerprint(salt: &[u8], fact: &Fact, as_sent: Option<&[u8]>) -> Result<Hash, StorageError> {
    match as_sent {
        Some(sent) => Ok(answer::fingerprint_as_sent(salt, sent)),
        None => answer::fingerprint(salt, fact),
    }
}

/// The answer a key got before, or that it stands for another fact.
pub(crate) fn repeat(
    earlier: Earlier,
    print: Hash,
) -> Result<Result<Appended, AppendError>, StorageError> {
    if let Some(fingerprint) = &earlier.fingerprint
        && print.as_slice() != fingerprint.as_slice()
    {
        return Ok(Err(AppendError::KeyUsedForAnother { seq: earlier.seq }));
    }
    let corrupt = |what: &str| StorageError::corrupt("stored_answers", earlier.key, what);
    Ok(Ok(Appended {
        seq: earlier.seq,
        at: Moment(earlier.at),
        hash: Hash::try_from(earlier.hash.as_slice())
            .map_err(|_| corrupt("its fact's hash is not 32 bytes"))?,
        repeated: true,
        answer: StoredAnswer {
            status: u16::try_from(earlier.status).map_err(|_| corrupt("status"))?,
            body: earlier.body,
        },
    }))
}

/// Makes the row of a fact: texts out, body canonical, hash chained.
fn admit(
    command: Command,
    at: usize,
    before: Head,
    tools: &mut Tools,
) -> Result<Admitted, StorageError> {
    let Command {
        key,
        mut fact,
        answer,
        ref as_sent,
        ..
    } = command;
    let salt = (tools.salts)();
    let fingerprint = fingerprint(&salt, &fact, as_sent.as_deref())?;
    let words = words::take_out(&mut fact, key.0, &mut tools.salts);
    words::digests(&mut fact)?;
    let received_at = (tools.now)();
    let mut row = Row {
        seq: before.seq.saturating_add(1),
        at: received_at.0,
        key: key.0,
        kind: fact.what.kind().to_owned(),
        version: FACT_VERSION,
        shop: command.shop.map(|shop| shop.0),
        person: command.person.map(|person| person.0),
        role: command.role.as_ref().map(view::code).transpose()?,
        via: command.via.code().to_owned(),
        request: command
            .request
            .map(|request| record::nfc(&request.replace(char::is_control, " "))),
        client_at: command.client_at.map(|at| at.0),
        body: record::canonical(&fact)?,
        prev_hash: before.hash.to_vec(),
        hash: Vec::new(),
    };
    let hash = row.worked_out_hash();
    row.hash = hash.to_vec();
    // What is replayed is what was stored, not what was sent.
    let fact = row.fact()?;
    let recorded = Recorded {
        key,
        received_at,
        fact,
    };
    let incoming = Incoming {
        at,
        salt,
        fingerprint,
        hash,
        answer,
    };
    let entry = Entry::new(row.seq, recorded);
    Ok(Admitted {
        row,
        words,
        incoming,
        entry,
    })
}

/// Asks for the answers and stores them.
async fn answer_all(
    connection: &mut SqliteConnection,
    incoming: Vec<(Incoming, Entry)>,
    worth: &Worth,
    behind: bool,
) -> Result<Vec<(usize, Appended)>, StorageError> {
    let mut appended = Vec::new();
    let mut answers = Vec::new();
    for (new, entry) in incoming {
        let recorded = &entry.recorded;
        let answer = (new.answer)(&AppendedView {
            seq: entry.seq,
            at: recorded.received_at,
            key: recorded.key,
            fact: &recorded.fact,
            outcome: worth.own.get(&recorded.key),
            others_changed: worth.others,
            being_worked_out_again: behind,
        });
        appended.push((
            new.at,
            Appended {
                seq: entry.seq,
                at: recorded.received_at,
                hash: new.hash,
                repeated: false,
                answer: answer.clone(),
            },
        ));
        answers.push(NewAnswer {
            seq: entry.seq,
            salt: new.salt,
            fingerprint: new.fingerprint,
            answer,
        });
    }
    answer::insert(connection, &answers).await?;
    Ok(appended)
}
