//! `demo`: an invented fleet with 18 months of record, served with a business clock of its own.

use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use clap::Args;
use web::Clock;

use super::serve::{self, Doors, Served, ServiceFlags};
use crate::{
    demonstration::{self, FLEET, MARK, START_OF_WORK},
    exit::Failure,
};

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder for the demonstration; made if it is not there, reused if it is.
    #[arg(long, value_name = "DIR", default_value = "data-demo")]
    data: PathBuf,
    /// The day the demonstration shows as today; its record ends before the first one possible.
    #[arg(long, value_name = "DATE", default_value = demonstration::DAY_0)]
    today: NaiveDate,
    #[command(flatten)]
    service: ServiceFlags,
}

pub(crate) fn run(flags: Flags) -> Result<(), Failure> {
    let Flags {
        data,
        today,
        service,
    } = flags;
    if today.to_string().as_str() < demonstration::DAY_0 {
        return Err(Failure::usage(format!(
            "--today {today} lies before the end of the demonstration's record; the first day \
             possible is {}",
            demonstration::DAY_0
        )));
    }
    let start = demonstration::start_of_work(today)
        .map_err(|cause| Failure::usage(format!("--today {today}: {cause}")))?;
    let served = Served {
        data,
        clock: Clock::pinned_from(start),
        mark: MARK,
        prepare: async |folder: &Path| prepare(folder, today).await,
        let_in: async |doors: Doors| demonstration::let_in(&doors).await,
    };
    serve::run_with(service, served)
}

async fn prepare(folder: &Path, today: NaiveDate) -> Result<String, Failure> {
    let made = demonstration::put(folder).await?;
    tracing::info!(found = made.found, written = made.written, "demonstration");
    let folder = folder.display();
    Ok(format!(
        "{MARK}: {FLEET}, {} facts; today is {today}, {START_OF_WORK} in the upper yard\n\
         try: coolant-ledger show contents --data {folder}\n\
         \x20    coolant-ledger show unit 3307 --data {folder}\n\
         \x20    coolant-ledger show vessel D-5 --data {folder}\n\
         \x20    coolant-ledger show questions --data {folder}",
        made.found + made.written
    ))
}
