//! The record and the views worked out from it, in one SQLite file.
//!
//! [`Store::append`] is the only way in: it writes the fact, works out what follows and keeps the
//! answer, all in one transaction. Everything but the record, the texts beside it and the answers
//! can be worked out again.

pub mod access;
mod answer;
mod backup;
mod check_log;
mod connection;
mod error;
mod export;
mod folder;
mod ledger;
mod photo;
mod read;
mod rebuild;
mod record;
mod store;
mod verify;
mod view;
mod words;
mod work;
mod writer;

pub use answer::StoredAnswer;
pub use backup::{Backup, BackupError, backup, restore};
pub use check_log::{CheckRun, NamedCheck};
pub use connection::schema_of;
pub use error::{AppendError, OpenError, Refusal, StorageError};
pub use export::export;
pub use folder::DATABASE;
pub use read::{
    AfterUnit, Balance, ContainerRow, DipJob, DipRow, Dips, Done, FittedPort, Fitting, FlowLine,
    FoundUnit, HistoryRow, JobRow, JobVolume, LastJob, LastPressureTest, LevelStep, Logged,
    LoopCourse, LoopFigures, LoopState, MonthFlow, Moved, OpenQuestion, OutcomeRow, Paid, Period,
    PhotoRow, PlaceBalance, PlaceContents, PlaceFigures, PlaceName, PostingRow, QuestionAt,
    QuestionOfMonth, Read, RetrofitUnit, SaidOf, SampleBack, SampleRow, Staff, StockUse,
    TrailFilter, Undecided, Unfinished, UnitCourse, UnitSearch, VesselNow, WasteSum, Works,
};
pub use record::{Hash, Head, Row, canonical};
pub use store::{Options, Store, make_empty};
pub use verify::{Class, Finding, Report, verify, verify_file};
pub use view::{LAGGING_VIEWS, VIEWS};
pub use words::{Salts, random_salts};
pub use writer::{Answerer, Appended, AppendedView, Command, Fatal, Judge, Now, Via};
