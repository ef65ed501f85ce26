//! `export-record`: the whole record as lines of canonical JSON.

use std::{
    fs::File,
    io::{self, BufReader},
    path::PathBuf,
};

use clap::Args;

use crate::{exit::Failure, out, week::open};

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder that holds the record.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// File to write; standard output without it.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    open::block_on(async {
        open::must_be_there(&flags.data)?;
        let not_written = |cause: io::Error| {
            Failure::not_writable(format!("the export cannot be written: {cause}"))
        };
        let folder = tempfile::tempdir().map_err(not_written)?;
        let file = match &flags.out {
            Some(file) => file.clone(),
            None => folder.path().join("record.jsonl"),
        };
        let head = storage::export(&flags.data, &file)
            .await
            .map_err(|error| Failure::usage(format!("the record cannot be exported: {error}")))?;
        if flags.out.is_none() {
            let mut lines = BufReader::new(File::open(&file).map_err(not_written)?);
            out::pass_on(&mut lines).map_err(not_written)?;
        }
        out::complain(&format!("head {}:{}", head.seq, head.hash_hex()));
        Ok(())
    })
}
