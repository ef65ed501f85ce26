//! The log: one line an event on standard error. Standard output is left to answers of commands.

use std::{io, panic::PanicHookInfo};

use clap::ValueEnum;
use tracing_subscriber::{EnvFilter, fmt, util::SubscriberInitExt};

use crate::exit::Failure;

/// How log lines look.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum LogFormat {
    /// For a person.
    Text,
    /// One JSON object a line, for a log collector.
    Json,
}

const DEFAULT_LEVELS: &str = "info";

/// `RUST_LOG` chooses other levels.
pub(crate) fn start(format: LogFormat) -> Result<(), Failure> {
    let levels = EnvFilter::builder()
        .with_default_directive(tracing::Level::INFO.into())
        .try_from_env()
        .unwrap_or_else(|_| EnvFilter::new(DEFAULT_LEVELS));
    // A full disk or a closed terminal must not make the logger itself speak up, or stop the server.
    let lines = fmt()
        .with_env_filter(levels)
        .with_writer(io::stderr)
        .log_internal_errors(false);
    let started = match format {
        LogFormat::Text => lines.with_ansi(false).finish().try_init(),
        LogFormat::Json => lines
            .json()
            .flatten_event(true)
            .with_current_span(true)
            .with_span_list(false)
            .finish()
            .try_init(),
    };
    started.map_err(|cause| Failure::broken(format!("the log cannot be started: {cause}")))?;
    std::panic::set_hook(Box::new(log_panic));
    Ok(())
}

/// A panic becomes one log line inside the request's span, in the chosen format.
fn log_panic(panic: &PanicHookInfo<'_>) {
    let place = panic
        .location()
        .map(ToString::to_string)
        .unwrap_or_default();
    let message = panic.payload_as_str().unwrap_or("no message");
    tracing::error!(
        panic.place = place,
        panic.message = message,
        "a part of the program panicked"
    );
}
