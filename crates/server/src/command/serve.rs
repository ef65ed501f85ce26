//! `serve`: the pages and the JSON interface.

use std::{
    fs,
    io::Read,
    os::unix::fs::MetadataExt,
    path::{Path, PathBuf},
    time::Duration,
};

use clap::Args;
use domain::moment::Moment;
use storage::{Store, access::Access};
use web::{ApiToken, AppState, Clock, Enrolments, Readiness, SetUp, SetUpFor, Transport};

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
/// The checks of the book stay out of the way of a start.
const FIRST_CHECK_AFTER: Duration = Duration::from_mins(1);
const CHECK_EVERY: Duration = Duration::from_hours(24);

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder that holds the record and everything else the server keeps.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// Print a code that gives somebody on record a new password, when the last one was lost.
    #[arg(long)]
    new_set_up_code: bool,
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

/// What is served, and how people get in.
pub(super) struct Served<P, L> {
    /// The folder as it was named.
    pub(super) data: PathBuf,
    /// The business clock.
    pub(super) clock: Clock,
    /// What every page says of the record; empty for a real one.
    pub(super) mark: &'static str,
    /// Runs once the folder and the address are ours, before the record is opened; what it returns
    /// is said below the address.
    pub(super) prepare: P,
    /// Runs when all is open: says who can sign on, and whether the server can be set up.
    pub(super) let_in: L,
}

/// What is needed to let people in.
pub(crate) struct Doors {
    pub(crate) access: Access,
    pub(crate) enrolments: Enrolments,
    pub(crate) folder: PathBuf,
    /// What people type to reach the server.
    pub(crate) origin: String,
    /// By the machine's clock.
    pub(crate) now: Moment,
}

/// How people get in, in words for the terminal.
pub(crate) struct LetIn {
    pub(crate) set_up: SetUp,
    pub(crate) words: String,
}

pub(crate) fn run(flags: Flags) -> Result<(), Failure> {
    let opens = if flags.new_set_up_code {
        SetUpFor::LostPassword
    } else {
        SetUpFor::First
    };
    let served = Served {
        data: flags.data,
        clock: Clock::system(),
        mark: "",
        prepare: async |_: &Path| Ok(String::new()),
        let_in: async |doors: Doors| by_set_up_code(&doors, opens).await,
    };
    run_with(flags.service, served)
}

/// While nobody can sign on, or when a password was lost, a code on the terminal is the way in:
/// whoever reads it there runs the server anyway.
async fn by_set_up_code(doors: &Doors, opens: SetUpFor) -> Result<LetIn, Failure> {
    let somebody = doors.access.anybody_can_sign_on().await;
    let somebody = somebody.map_err(|error| open::fault(&error))?;
    if somebody && opens == SetUpFor::First {
        return Ok(LetIn {
            set_up: SetUp::closed(),
            words: String::new(),
        });
    }
    let (set_up, code) = SetUp::open(opens, doors.now)
        .map_err(|cause| Failure::broken(format!("no set-up code can be made: {cause}")))?;
    let why = match opens {
        SetUpFor::First => "nobody can sign on yet",
        SetUpFor::LostPassword => "a new password for somebody on record",
    };
    let words = format!(
        "set-up code: {code}\n{why}: open {}/set-up within 15 minutes and type the code there",
        doors.origin
    );
    Ok(LetIn { set_up, words })
}

/// Serves until it is told to stop.
pub(super) fn run_with<P, L>(flags: ServiceFlags, served: Served<P, L>) -> Result<(), Failure>
where
    P: AsyncFnOnce(&Path) -> Result<String, Failure>,
    L: AsyncFnOnce(Doors) -> Result<LetIn, Failure>,
{
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
    let ended = runtime.block_on(serve(&entrance, api_token, served));
    runtime.shutdown_timeout(LAST_WORK_WITHIN);
    ended
}

async fn serve<P, L>(
    entrance: &Entrance,
    api_token: Option<ApiToken>,
    served: Served<P, L>,
) -> Result<(), Failure>
where
    P: AsyncFnOnce(&Path) -> Result<String, Failure>,
    L: AsyncFnOnce(Doors) -> Result<LetIn, Failure>,
{
    let signals = StopSignals::take()?;
    let folder = DataFolder::open(&served.data)?;
    let listening = Listening::start(entrance)?;
    if !folder.path().join(storage::DATABASE).exists() {
        tracing::info!(data = %folder.path().display(), "no record is here yet: a new one begins");
    }
    let words = (served.prepare)(folder.path()).await?;
    let store = open::for_writing_at(folder.path(), served.clock.clone()).await?;
    let now = Clock::system().now().into();
    let access = Access::open(folder.path(), now).await;
    let access = access.map_err(|error| open::not_opened(&error))?;
    tracing::info!(data = %folder.path().display(), version = env!("CARGO_PKG_VERSION"), "started");

    let enrolments = Enrolments::default();
    let doors = Doors {
        access: access.clone(),
        enrolments: enrolments.clone(),
        folder: folder.path().to_owned(),
        origin: match entrance.transport() {
            Transport::BehindProxy { origin } => origin,
            Transport::Loopback | Transport::OwnTls => listening.origin(),
        },
        now,
    };
    let let_in = (served.let_in)(doors).await?;
    let state = AppState {
        store: store.clone(),
        access: access.clone(),
        set_up: let_in.set_up,
        enrolments,
        checking: web::Checking::default(),
        upkeep: web::Upkeep::default(),
        clock: served.clock,
        mark: served.mark,
        readiness: Readiness::follow(readiness(folder, store.clone())).await,
        transport: entrance.transport(),
        api_token,
    };
    listening.announce();
    for words in [words, let_in.words] {
        if !words.is_empty() {
            out::say(&words);
        }
    }
    let checks = tokio::spawn(check_every_day(state.clone()));
    let ahead = tokio::spawn(read_ahead(store.clone()));
    let ended = listening.serve(web::routes::router(state), signals).await;
    checks.abort();
    ahead.abort();
    ended?;
    access.close().await;
    store.close().await.map_err(|error| open::fault(&error))?;
    tracing::info!("stopped");
    Ok(())
}

/// What a shop's pages begin with is read beside the first requests, not by them.
async fn read_ahead(store: Store) {
    if let Err(error) = store.read_ahead().await {
        tracing::warn!(%error, "the first pages of each shop will read for themselves");
    }
}

/// Runs the named checks of the book a while after the start, then once a day.
async fn check_every_day(state: AppState) {
    let mut wait = FIRST_CHECK_AFTER;
    loop {
        tokio::time::sleep(wait).await;
        let now = state.clock.now().into();
        state.checking.run(&state.store, now).await;
        wait = CHECK_EVERY;
    }
}

/// Room on the disk and a writer that answers.
fn readiness(
    folder: DataFolder,
    store: Store,
) -> impl Fn() -> std::pin::Pin<Box<dyn Future<Output = Result<(), String>> + Send>> {
    move || {
        let (room, store) = (folder.ready(), store.clone());
        Box::pin(async move {
            room?;
            store.ready().await.map_err(|error| error.to_string())
        })
    }
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
