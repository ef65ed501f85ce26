//! `serve`: the pages and the JSON interface.

use std::{
    fs,
    io::Read,
    os::unix::fs::MetadataExt,
    path::{Path, PathBuf},
    time::Duration,
};

use clap::Args;
use web::{ApiToken, AppState, Clock, Readiness};

use crate::{
    data_folder::DataFolder,
    entrance::{Entrance, EntranceFlags},
    exit::Failure,
    listening::{Listening, StopSignals},
    log::{self, LogFormat},
    out,
    week::open,
};

/// Work on threads of its own (files, hashing) may end after the last answer, but not hold up the end for ever.
const LAST_WORK_WITHIN: Duration = Duration::from_secs(1);

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder that holds the record and everything else the server keeps.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    #[command(flatten)]
    service: ServiceFlags,
}

/// How it is served, whatever is served.
#[derive(Args, Debug)]
pub(super) struct ServiceFlags {
    #[command(flatten)]
    entrance: EntranceFlags,
    /// File with the secret that other programs show at the JSON interface.
    #[arg(long, value_name = "FILE")]
    api_token_file: Option<PathBuf>,
    /// How log lines look.
    #[arg(long, value_enum, default_value_t = LogFormat::Text)]
    log_format: LogFormat,
}

pub(crate) fn run(flags: Flags) -> Result<(), Failure> {
    let clock = (Clock::system(), "");
    run_with(&flags.data, flags.service, clock, async |_| {
        Ok(String::new())
    })
}

/// Serves a folder by a business clock, with a mark that every page carries. `prepare` runs once the folder and the address are ours,
/// before the record is opened; what it returns is said below the address.
pub(super) fn run_with(
    data: &Path,
    flags: ServiceFlags,
    (clock, mark): (Clock, &'static str),
    prepare: impl AsyncFnOnce(&Path) -> Result<String, Failure>,
) -> Result<(), Failure> {
    let entrance = Entrance::from_flags(flags.entrance)?;
    let api_token = flags
        .api_token_file
        .as_deref()
        .map(read_api_token)
        .transpose()?;
    log::start(flags.log_format)?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|cause| {
            Failure::broken(format!("the program cannot start its threads: {cause}"))
        })?;
    let ended = runtime.block_on(serve(data, &entrance, (api_token, clock, mark), prepare));
    runtime.shutdown_timeout(LAST_WORK_WITHIN);
    ended
}

async fn serve(
    data: &Path,
    entrance: &Entrance,
    (api_token, clock, mark): (Option<ApiToken>, Clock, &'static str),
    prepare: impl AsyncFnOnce(&Path) -> Result<String, Failure>,
) -> Result<(), Failure> {
    let signals = StopSignals::take()?;
    let folder = DataFolder::open(data)?;
    let listening = Listening::start(entrance)?;
    if !folder.path().join(storage::DATABASE).exists() {
        tracing::info!(data = %folder.path().display(), "no record is here yet: a new one begins");
    }
    let words = prepare(folder.path()).await?;
    let store = open::for_writing_at(folder.path(), clock.clone()).await?;
    tracing::info!(data = %folder.path().display(), version = env!("CARGO_PKG_VERSION"), "started");

    let asked = store.clone();
    let ready = move || {
        let (room, store) = (folder.ready(), asked.clone());
        async move {
            room?;
            store.ready().await.map_err(|error| error.to_string())
        }
    };
    let state = AppState {
        store: store.clone(),
        clock,
        mark,
        readiness: Readiness::follow(ready).await,
        transport: entrance.transport(),
        api_token,
    };
    listening.announce();
    if !words.is_empty() {
        out::say(&words);
    }
    listening.serve(web::routes::router(state), signals).await?;
    store.close().await.map_err(|error| open::fault(&error))?;
    tracing::info!("stopped");
    Ok(())
}

fn read_api_token(file: &Path) -> Result<ApiToken, Failure> {
    let refused =
        |found: String| Failure::usage(format!("--api-token-file {}: {found}", file.display()));
    let (mode, text) = fs::File::open(file)
        .and_then(|mut opened| {
            let mut text = String::new();
            opened.read_to_string(&mut text)?;
            Ok((opened.metadata()?.mode(), text))
        })
        .map_err(|cause| {
            refused(format!(
                "cannot be read ({cause}); see that the file is there and readable"
            ))
        })?;
    if mode & 0o007 != 0 {
        return Err(refused(format!(
            "every user of this machine can use it (mode {:o}); take that away with: chmod o= {}",
            mode & 0o777,
            file.display()
        )));
    }
    ApiToken::from_text(&text).map_err(|unfit| refused(unfit.to_string()))
}
