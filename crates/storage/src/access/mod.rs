//! Who may sign on: secrets, tablets, sessions and security events.
//!
//! They lie outside the record, in `access.db` and `access.key` beside it: a backup of the record
//! carries no secrets, a restored copy knows no tablets, and noting that a session was used never
//! waits for the record's writer. Whether a person may do something is not decided here.

mod contact;
mod event;
mod file;
mod hashing;
mod key;
mod limit;
mod password;
mod prove;
mod secret;
mod session;
mod tablet;
mod token;

pub use contact::{Contact, LastContact};
pub use event::{EventFilter, NotedEvent, SecurityEvent, SecurityKind};
pub use password::{LEAST_CHARACTERS, MOST_CHARACTERS, PasswordUnfit, judge_password};
pub use prove::{Attempt, NotProved, Secret};
pub use secret::{Change, Held, NewPassword, SecretsHeld};
pub use session::{Form, NewSession, Session, SessionId};
pub use tablet::{NewTablet, Tablet, TabletId};
pub use token::{BadgeToken, FirstPassword, Pin, SessionToken, TabletToken};

use crate::error::{OpenError, StorageError};
use domain::moment::Moment;
use file::Pools;
use hashing::Hashing;
use sqlx::{Sqlite, SqlitePool, Transaction};
use std::path::Path;
use std::sync::Arc;

/// The open file of secrets, tablets and sessions. Copies share it.
#[derive(Clone, Debug)]
pub struct Access {
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    pools: Pools,
    hashing: Hashing,
}

impl Access {
    /// Opens the file in a data folder, making it and its key if they are not there. With another
    /// key than before all secrets are void.
    pub async fn open(folder: &Path, now: Moment) -> Result<Self, OpenError> {
        let (pools, key) = file::open(folder, now).await?;
        Ok(Self {
            shared: Arc::new(Shared {
                pools,
                hashing: Hashing::new(key),
            }),
        })
    }

    /// Ends cleanly: the log is carried into the database.
    pub async fn close(self) {
        self.shared.pools.readers.close().await;
        self.shared.pools.writer.close().await;
    }

    /// Begins to write; everybody else waits until it is done.
    async fn write(&self) -> Result<Transaction<'static, Sqlite>, StorageError> {
        Ok(self.writer().begin_with("begin immediate").await?)
    }

    fn writer(&self) -> &SqlitePool {
        &self.shared.pools.writer
    }

    fn readers(&self) -> &SqlitePool {
        &self.shared.pools.readers
    }

    fn hashing(&self) -> &Hashing {
        &self.shared.hashing
    }
}
