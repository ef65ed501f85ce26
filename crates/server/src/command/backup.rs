//! `backup`: a proven copy, taken beside a running server.

use std::path::PathBuf;

use clap::Args;
use domain::moment::Moment;
use storage::BackupError;
use web::Clock;

use crate::{exit::Failure, out, week::open};

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder that holds the record.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// Folder the copy goes into, better on another disk.
    #[arg(value_name = "INTO")]
    into: PathBuf,
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    open::block_on(async {
        open::must_be_there(&flags.data)?;
        let now = Moment::from(Clock::system().now());
        let made = storage::backup(&flags.data, &flags.into, now)
            .await
            .map_err(|error| failed(&error))?;
        out::say(&format!(
            "{}\nsha256 {}\nhead {}:{}\nit was read back and verifies; note the head elsewhere",
            made.file.display(),
            made.sha256,
            made.head.seq,
            made.head.hash_hex()
        ));
        photos_must_be_whole(made.photo_faults.iter().map(String::as_str))
    })
}

/// The record is safe; whoever looks after it learns which photos are not.
pub(super) fn photos_must_be_whole<'a>(
    faults: impl Iterator<Item = &'a str>,
) -> Result<(), Failure> {
    let mut count = 0_usize;
    for fault in faults {
        count += 1;
        out::say(fault);
    }
    if count == 0 {
        return Ok(());
    }
    Err(Failure::mismatch(format!(
        "the record is whole, but {count} of its photos are not: look for them in an earlier backup"
    )))
}

/// The number the program ends with: 1 where a check failed, otherwise what the cause is.
pub(super) fn failed(error: &BackupError) -> Failure {
    match error {
        BackupError::NotGood { .. } | BackupError::ChecksumDiffers(_) => {
            Failure::mismatch(error.to_string())
        }
        BackupError::NotEmpty(_) | BackupError::Storage(_) => Failure::usage(error.to_string()),
        BackupError::Open(cause) => Failure::numbered(cause.exit_code(), error.to_string()),
    }
}
