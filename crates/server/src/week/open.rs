//! Opening the record from the command line.

use std::{future::Future, path::Path, sync::Arc};

use domain::moment::Moment;
use storage::{OpenError, Options, Read, StorageError, Store};
use web::Clock;

use crate::exit::Failure;

/// Runs a command's work to its end.
pub(crate) fn block_on(work: impl Future<Output = Result<(), Failure>>) -> Result<(), Failure> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|cause| Failure::broken(format!("the program cannot start its threads: {cause}")))?
        .block_on(work)
}

/// Commands that keep a record want one that is there; only serving and taking in begin one.
pub(crate) fn must_be_there(data: &Path) -> Result<(), Failure> {
    if data.join(storage::DATABASE).is_file() {
        return Ok(());
    }
    Err(Failure::usage(format!(
        "{} holds no record; name the folder that does with --data",
        data.display()
    )))
}

/// Takes the data folder for this program alone.
pub(crate) async fn for_writing(data: &Path) -> Result<Store, Failure> {
    for_writing_at(data, Clock::system()).await
}

/// The same with a business clock of its own.
pub(crate) async fn for_writing_at(data: &Path, clock: Clock) -> Result<Store, Failure> {
    let now = move || Moment::from(clock.now());
    with_options(Options::new(data, Arc::new(now), Arc::new(stopped))).await
}

/// The same with every option chosen.
pub(crate) async fn with_options(options: Options) -> Result<Store, Failure> {
    Store::open(options)
        .await
        .map_err(|error| not_opened(&error))
}

/// What is in memory may no longer be what is on the disk: nothing more may be written.
pub(crate) fn stopped(cause: &str) {
    crate::out::complain(&format!("stopped, because the disk failed: {cause}"));
    std::process::exit(i32::from(Failure::BROKEN));
}

/// Reads beside whoever serves the folder.
pub(crate) async fn for_reading(data: &Path) -> Result<Read, Failure> {
    Read::beside(data).await.map_err(|error| {
        Failure::usage(format!(
            "the record in {} cannot be read: {error}",
            data.display()
        ))
    })
}

/// A fault met while reading or writing.
pub(crate) fn fault(error: &StorageError) -> Failure {
    Failure::broken(error.to_string())
}

pub(crate) fn not_opened(error: &OpenError) -> Failure {
    Failure::numbered(error.exit_code(), error.to_string())
}
