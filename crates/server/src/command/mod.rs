//! One file a command. A new one is a variant here, its line in [`Command::run`], and its file.

mod certificate;
mod serve;

use clap::Subcommand;

use crate::exit::Failure;

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Serve the pages and the JSON interface.
    Serve(serve::Flags),
    /// Make the shop's own certificate authority and a certificate for this server.
    Certificate(certificate::Flags),
}

impl Command {
    pub(crate) fn run(self) -> Result<(), Failure> {
        match self {
            Self::Serve(flags) => serve::run(flags),
            Self::Certificate(flags) => certificate::run(&flags),
        }
    }
}
