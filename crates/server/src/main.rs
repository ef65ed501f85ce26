//! `coolant-ledger`: the program around the pages. It reads the command line, starts and stops.

mod command;
mod connection;
mod data_folder;
mod demonstration;
mod entrance;
mod exit;
mod listening;
mod log;
mod out;
mod tls;
mod week;

use std::{ffi::OsString, process::ExitCode};

use clap::Parser;

use crate::exit::Failure;

/// The coolant record of a heavy-vehicle shop.
///
/// Without a command it serves the pages, as `serve` does.
#[derive(Debug, Parser)]
#[command(
    name = "coolant-ledger",
    version,
    override_usage = "coolant-ledger [COMMAND]"
)]
struct Program {
    #[command(subcommand)]
    command: command::Command,
}

fn main() -> ExitCode {
    let mut words: Vec<OsString> = std::env::args_os().collect();
    if words.len() <= 1 {
        words.push("serve".into());
    }
    let program = match Program::try_parse_from(words) {
        Ok(program) => program,
        Err(stop) => return told_by_the_parser(&stop),
    };
    match program.command.run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            out::complain(&failure.to_string());
            failure.code()
        }
    }
}

/// Help and version come this way too; they are no mistake.
fn told_by_the_parser(stop: &clap::Error) -> ExitCode {
    if stop.use_stderr() {
        out::complain(stop.render().to_string().trim_end());
        Failure::usage("").code()
    } else {
        out::say(stop.render().to_string().trim_end());
        ExitCode::SUCCESS
    }
}
