//! What pages read, all of one moment.

mod balance;
mod board;
mod card;
mod container;
mod course;
mod fleet;
mod history;
mod job;
mod level;
mod month;
mod people;
mod period;
mod photo;
mod place;
mod pressure_test;
mod question;
mod retrofit;
mod sample;
mod stock;
mod trail;
mod unfinished;
mod waste;
mod work;
mod zero_check;

pub use balance::PlaceBalance;
pub use board::{AfterUnit, FoundUnit, LoopFigures, LoopState, UnitSearch};
pub use container::{ContainerRow, VesselNow};
pub use course::{LoopCourse, UnitCourse};
pub(crate) use fleet::Kept;
pub use history::HistoryRow;
pub use job::{JobRow, Moved, OutcomeRow, PlaceFigures, PostingRow};
pub use level::LevelStep;
pub use people::Staff;
pub use period::{
    DipJob, DipRow, Dips, Done, JobVolume, Logged, MonthFlow, Paid, Period, SampleBack,
};
pub use photo::PhotoRow;
pub use place::{Balance, PlaceContents, PlaceName};
pub use pressure_test::LastPressureTest;
pub use question::{OpenQuestion, QuestionAt, QuestionOfMonth, SaidOf};
pub use retrofit::{FittedPort, Fitting, RetrofitUnit};
pub use sample::SampleRow;
pub use stock::StockUse;
pub use trail::TrailFilter;
pub use unfinished::{LastJob, Unfinished};
pub use waste::{FlowLine, Undecided, WasteSum};
pub use work::Works;

use crate::connection;
use crate::error::StorageError;
use crate::folder::DATABASE;
use crate::record::{self, Head};
use domain::book::Order;
use domain::ids::FactKey;
use domain::moment::Moment;
use sqlx::{Sqlite, SqliteConnection, SqlitePool, Transaction};
use std::path::Path;
use std::sync::Arc;
use uuid::Uuid;

/// A snapshot: every question to it is answered as of the moment it began. Not to be held while
/// waiting for anybody: the log cannot be let go meanwhile.
#[derive(Debug)]
pub struct Read {
    transaction: Transaction<'static, Sqlite>,
    kept: Arc<Kept>,
}

impl Read {
    /// Begins to read a data folder that another program may be serving: nothing is locked.
    pub async fn beside(data: &Path) -> Result<Self, StorageError> {
        let file = data.join(DATABASE);
        if !file.is_file() {
            let missing = std::io::Error::from(std::io::ErrorKind::NotFound);
            return Err(StorageError::file(&file, missing));
        }
        let mut read = Self::begin(&connection::readers(&file).await?, &Arc::default()).await?;
        let schema = connection::schema_state(read.connection()).await?;
        if schema.version == schema.known {
            return Ok(read);
        }
        Err(StorageError::Check(format!(
            "the file has schema version {}, this program reads version {}; a server of the same \
             program brings an older file up to date",
            schema.version, schema.known
        )))
    }

    pub(crate) async fn begin(pool: &SqlitePool, kept: &Arc<Kept>) -> Result<Self, StorageError> {
        let mut read = Self {
            transaction: pool.begin().await?,
            kept: Arc::clone(kept),
        };
        // A deferred transaction begins with its first statement; the moment is to be now.
        record::head(read.connection()).await?;
        Ok(read)
    }

    pub(crate) fn connection(&mut self) -> &mut SqliteConnection {
        &mut self.transaction
    }

    /// The last row of the record: what a report names to say what it knew.
    pub async fn head(&mut self) -> Result<Head, StorageError> {
        record::head(self.connection()).await
    }

    /// Id of this file, made anew when a backup is restored.
    pub async fn instance(&mut self) -> Result<Uuid, StorageError> {
        Ok(
            sqlx::query_scalar!(r#"select instance as "instance: Uuid" from meta"#)
                .fetch_one(self.connection())
                .await?,
        )
    }

    /// Places whose history is being worked out again after a late fact.
    pub async fn count_stale_places(&mut self) -> Result<i64, StorageError> {
        Ok(sqlx::query_scalar!("select count(*) from stale_places")
            .fetch_one(self.connection())
            .await?)
    }
}

/// A place in the replay order, put together from its columns.
fn order(happened_at: i64, made_at: i64, key: Uuid) -> Order {
    Order {
        happened: Moment(happened_at),
        made: Moment(made_at),
        key: FactKey(key),
    }
}

/// Where a page that goes backwards begins: before everything that can be.
fn page_start(before: Option<Order>) -> (i64, i64, Uuid) {
    before.map_or((i64::MAX, i64::MAX, Uuid::max()), |order| {
        (order.happened.0, order.made.0, order.key.0)
    })
}
