//! `restore`: puts a proven backup into a new folder.

use std::path::PathBuf;

use clap::Args;

use super::backup::{failed, photos_must_be_whole};
use crate::{exit::Failure, out, week::open};

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder to restore into; it must be new or empty.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// The backup.
    #[arg(value_name = "FILE")]
    backup: PathBuf,
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    open::block_on(async {
        let report = storage::restore(&flags.backup, &flags.data)
            .await
            .map_err(|error| failed(&error))?;
        out::say(&format!(
            "restored into {}: {} facts, head {}:{}\nwhat was recorded after that is not in it: \
             compare the head with the last one you noted",
            flags.data.display(),
            report.facts,
            report.head.seq,
            report.head.hash_hex()
        ));
        photos_must_be_whole(report.photo_faults())
    })
}
