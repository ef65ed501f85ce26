//! One file a command. A new one is a variant here, its line in [`Command::run`], and its file.

mod backup;
mod calc;
mod certificate;
mod demo;
mod export_record;
mod import;
mod rebuild;
mod restore;
pub(crate) mod serve;
mod show;
mod verify;

use clap::Subcommand;

use crate::exit::Failure;

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Serve the pages and the JSON interface.
    Serve(serve::Flags),
    /// Serve an invented fleet with 18 months of record, to look around in.
    Demo(demo::Flags),
    /// Make the shop's own certificate authority and a certificate for this server.
    Certificate(certificate::Flags),
    /// Take in a week of jobs as a shop writes it down.
    Import(import::Flags),
    /// Print what the record says, for people or as CSV.
    Show(show::Flags),
    /// Work one thing out: a freeze point, a draw, a fill, a dose, a pressure test.
    Calc(calc::Flags),
    /// Prove the record and everything worked out from it: 0 good, 1 not good, 2 cannot read.
    Verify(verify::Flags),
    /// Work every view out again from the record.
    Rebuild(rebuild::Flags),
    /// Make a copy beside a running server; it counts only when it verifies.
    Backup(backup::Flags),
    /// Put a backup into a new folder.
    Restore(restore::Flags),
    /// Write the record as lines of canonical JSON.
    ExportRecord(export_record::Flags),
}

impl Command {
    pub(crate) fn run(self) -> Result<(), Failure> {
        match self {
            Self::Serve(flags) => serve::run(flags),
            Self::Demo(flags) => demo::run(flags),
            Self::Certificate(flags) => certificate::run(&flags),
            Self::Import(flags) => import::run(&flags),
            Self::Show(flags) => show::run(&flags),
            Self::Calc(flags) => calc::run(&flags),
            Self::Verify(flags) => verify::run(&flags),
            Self::Rebuild(flags) => rebuild::run(&flags),
            Self::Backup(flags) => backup::run(&flags),
            Self::Restore(flags) => restore::run(&flags),
            Self::ExportRecord(flags) => export_record::run(&flags),
        }
    }
}
