//! What can go wrong, told apart by what the reader has to do about it.

use domain::job::JobRefused;

/// A fault of the storage itself; its text goes to the log, not to people.
#[derive(Debug, thiserror::Error)]
pub enum StorageError {
    /// The database refused or failed.
    #[error(transparent)]
    Database(#[from] sqlx::Error),
    /// The migrations could not be run.
    #[error(transparent)]
    Migration(#[from] sqlx::migrate::MigrateError),
    /// A file could not be read or written.
    #[error("{path}: {source}")]
    File {
        /// The file or folder.
        path: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// A row does not hold what was put there.
    #[error("{table}, row {row}: {what}")]
    Corrupt {
        /// The table.
        table: &'static str,
        /// Its sequence number or key.
        row: String,
        /// What was found.
        what: String,
    },
    /// A value cannot be written as canonical JSON.
    #[error("{0}")]
    NotCanonical(String),
    /// A check that must hold did not.
    #[error("{0}")]
    Check(String),
}

impl StorageError {
    pub(crate) fn file(path: &std::path::Path, source: std::io::Error) -> Self {
        Self::File {
            path: path.display().to_string(),
            source,
        }
    }

    pub(crate) fn corrupt(
        table: &'static str,
        row: impl std::fmt::Display,
        what: impl Into<String>,
    ) -> Self {
        Self::Corrupt {
            table,
            row: row.to_string(),
            what: what.into(),
        }
    }

    /// SQLite's extended result code, when it was SQLite that failed.
    pub(crate) fn sqlite_code(&self) -> Option<i32> {
        match self {
            Self::Database(sqlx::Error::Database(error)) => error.code()?.parse().ok(),
            _ => None,
        }
    }
}

/// Why the data folder cannot be served. Each has an exit code of its own.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Another server has the folder.
    #[error("{0} is in use by another server; stop that one first")]
    AlreadyServed(String),
    /// The folder lies where SQLite's write-ahead log cannot work.
    #[error(
        "{path} lies on {kind}; the book needs a disk of this machine, because several programs \
         share memory over it"
    )]
    NotALocalDisk {
        /// The folder.
        path: String,
        /// The kind of file system.
        kind: &'static str,
    },
    /// The file was written by a newer program.
    #[error(
        "the file has schema version {found}, this program knows up to {known}; start the newer \
         program, or restore the backup made before the change"
    )]
    NewerSchema {
        /// Version in the file.
        found: i64,
        /// Newest version this program knows.
        known: i64,
    },
    /// The linked SQLite has known faults.
    #[error("SQLite {0} is linked, at least 3.51.3 is needed")]
    OldSqlite(String),
    /// The folder or file cannot be read or written.
    #[error("{path} cannot be used: {what}")]
    NotUsable {
        /// The file or folder.
        path: String,
        /// What the system said.
        what: String,
    },
    /// The file is damaged. Nothing is repaired by itself.
    #[error("the file is damaged: {0}; nothing was changed, restore the last backup")]
    Damaged(String),
    /// Anything else.
    #[error(transparent)]
    Storage(#[from] StorageError),
}

impl OpenError {
    /// The exit code the program ends with.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Damaged(_) => 65,
            Self::Storage(_) => 70,
            Self::NotALocalDisk { .. } | Self::NotUsable { .. } => 74,
            Self::AlreadyServed(_) => 75,
            Self::NewerSchema { .. } | Self::OldSqlite(_) => 78,
        }
    }
}

impl From<sqlx::Error> for OpenError {
    fn from(error: sqlx::Error) -> Self {
        Self::from_storage(error.into())
    }
}

impl OpenError {
    /// Sorts a fault met while opening: damage, a file that cannot be used, or anything else.
    pub(crate) fn from_storage(error: StorageError) -> Self {
        const CORRUPT: i32 = 11;
        const NOT_A_DATABASE: i32 = 26;
        match (&error, error.sqlite_code().map(|code| code & 0xff)) {
            (StorageError::Corrupt { .. }, _) | (_, Some(CORRUPT | NOT_A_DATABASE)) => {
                Self::Damaged(error.to_string())
            }
            (StorageError::File { path, source }, _) => Self::NotUsable {
                path: path.clone(),
                what: source.to_string(),
            },
            _ => Self::Storage(error),
        }
    }
}

/// Why a fact was not taken in.
#[derive(Debug, thiserror::Error)]
pub enum AppendError {
    /// The judge said no; nothing was written.
    #[error("refused: {0}")]
    Refused(Refusal),
    /// The key is on record with another body.
    #[error("the key is on record as fact {seq} with another body")]
    KeyUsedForAnother {
        /// The fact that has the key.
        seq: i64,
    },
    /// The record went on since what the fact says was drawn up; nothing was written.
    #[error("the record went on to fact {seq} meanwhile")]
    WentOn {
        /// The head of the record by now.
        seq: i64,
    },
    /// Too many wait for the writer.
    #[error("too many are waiting to write; send it again in a moment with the same key")]
    Busy,
    /// The disk is full.
    #[error("the disk is full; nothing more can be saved until there is space")]
    DiskFull,
    /// Whether it was saved is unknown.
    #[error("not confirmed: send it again with the same key")]
    NotConfirmed(#[source] StorageError),
    /// A fault before anything was saved.
    #[error("not saved: send it again with the same key")]
    Failed(#[source] StorageError),
}

/// A judge's no, with all reasons at once.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Refusal {
    /// The job cannot be true.
    Job(Vec<JobRefused>),
    /// The person may not do this.
    NotAllowed(String),
    /// Another rule, in words.
    Rule(Vec<String>),
}

impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let reasons = match self {
            Self::Job(reasons) => reasons.iter().map(ToString::to_string).collect(),
            Self::NotAllowed(reason) => vec![reason.clone()],
            Self::Rule(reasons) => reasons.clone(),
        };
        f.write_str(&reasons.join("; "))
    }
}
