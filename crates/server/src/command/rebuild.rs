//! `rebuild`: works every view out again from the record.

use std::path::PathBuf;

use clap::Args;

use crate::{exit::Failure, out, week::open};

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder that holds the record.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    open::block_on(async {
        open::must_be_there(&flags.data)?;
        let store = open::for_writing(&flags.data).await?;
        store.rebuild().await.map_err(|error| open::fault(&error))?;
        store.close().await.map_err(|error| open::fault(&error))?;
        out::say("every view was worked out again from the record");
        Ok(())
    })
}
