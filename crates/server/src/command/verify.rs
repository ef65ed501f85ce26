//! `verify`: proves the record and everything worked out from it, beside a running server.

use std::path::PathBuf;

use clap::Args;
use storage::Report;

use crate::{exit::Failure, out, week::open};

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder that holds the record.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// A head noted elsewhere, from a report, an export or a backup: the record must still hold
    /// it. Only this shows that rows were cut off at the end, or that all of it was written anew.
    #[arg(long, value_name = "SEQ:HASH")]
    head: Option<String>,
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    let noted = flags.head.as_deref().map(read_head).transpose()?;
    open::block_on(async {
        let report = storage::verify(&flags.data)
            .await
            .map_err(|error| Failure::usage(format!("the record cannot be read: {error}")))?;
        for finding in &report.findings {
            let seq = finding
                .seq
                .map_or_else(String::new, |seq| format!("fact {seq}: "));
            out::say(&format!("{seq}{}", finding.what));
        }
        tell(&report);
        if !report.is_good() {
            return Err(Failure::mismatch("the record does not verify"));
        }
        match noted {
            Some(noted) => holds(flags, &noted).await,
            None => Ok(()),
        }
    })
}

fn tell(report: &Report) {
    if !report.stale_dips.is_empty() {
        out::say(&format!(
            "dip_is_fresh: {} vessels were not dipped lately; not a fault of the record",
            report.stale_dips.len()
        ));
    }
    if report.views_lag {
        out::say("a late fact is being worked out again; the views that lag were not compared");
    }
    let verdict = if report.is_good() {
        "good: closes, no_vessel_below_zero and replay_agrees hold, every row is as the record says"
    } else {
        "not good"
    };
    out::say(&format!(
        "{} facts, head {}:{}; {verdict}",
        report.facts,
        report.head.seq,
        report.head.hash_hex()
    ));
}

fn read_head(text: &str) -> Result<(i64, String), Failure> {
    text.split_once(':')
        .and_then(|(seq, hash)| Some((seq.parse().ok()?, hash.to_lowercase())))
        .filter(|(_, hash)| hash.len() == 64 && hash.chars().all(|c| c.is_ascii_hexdigit()))
        .ok_or_else(|| {
            Failure::usage(format!(
                "--head is \"{text}\", it is written as a number, a colon and 64 hexadecimal digits"
            ))
        })
}

async fn holds(flags: &Flags, (seq, hash): &(i64, String)) -> Result<(), Failure> {
    let row = open::for_reading(&flags.data)
        .await?
        .find_fact_at(*seq)
        .await
        .map_err(|error| open::fault(&error))?;
    let found = row.and_then(|row| row.head().ok());
    match found {
        Some(head) if head.hash_hex() == *hash => {
            out::say(&format!("the noted head {seq} is in the record"));
            Ok(())
        }
        Some(_) => Err(Failure::mismatch(format!(
            "fact {seq} has another hash than the one noted: the record was written anew"
        ))),
        None => Err(Failure::mismatch(format!(
            "the record ends before the noted fact {seq}: rows were cut off"
        ))),
    }
}
