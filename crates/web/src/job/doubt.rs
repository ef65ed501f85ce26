//! How far each reading of a job is to be believed, by its instrument on the day it was read. The same
//! for every way a job comes in.

use chrono::NaiveDate;
use domain::condition::policy::Policies;
use domain::condition::zero;
use domain::fact::{Fact, What};
use domain::ids::InstrumentId;
use domain::job::{Doubt, Job, Line, Reading};
use domain::moment::{Moment, Precision};
use storage::Read;

use super::told::Told;
use crate::WebError;

/// Marks the readings whose instruments were out of date, or did not read zero on water.
pub(crate) async fn mark(read: &mut Read, fact: &mut Fact) -> Result<(), WebError> {
    let day = fact.when.local_date;
    // Of what nobody knows the hour of, the last check of the day is as good as any.
    let at = match fact.when.precision {
        Precision::Day => Moment(i64::MAX),
        Precision::Minute | Precision::Hour => fact.when.happened(),
    };
    let What::Job(job) = &mut fact.what else {
        return Ok(());
    };
    if readings(job).all(|reading| reading.instrument.is_none()) {
        return Ok(());
    }
    let corrected = match &job.replaces {
        Some(old) => Told::look_up(read, old.job).await?,
        None => None,
    };
    // Its card may have changed since, and the instrument was as good that day as it was.
    let corrected = corrected.filter(|told| told.when.local_date == day);
    for line in &mut job.lines {
        if let Line::Reading(reading) = line
            && let Some(instrument) = reading.instrument
        {
            let known = corrected.as_ref();
            let known = known.and_then(|told| read_with(&told.job, instrument));
            reading.doubt = match known {
                Some(known) => known.doubt,
                None => doubt_of(read, instrument, (day, at)).await?,
            };
        }
    }
    Ok(())
}

fn readings(job: &Job) -> impl Iterator<Item = &Reading> {
    job.lines.iter().filter_map(|line| match line {
        Line::Reading(reading) => Some(reading),
        Line::Movement(_) | Line::Dip(_) => None,
    })
}

/// What was read with an instrument in a job.
fn read_with(job: &Job, instrument: InstrumentId) -> Option<&Reading> {
    readings(job).find(|reading| reading.instrument == Some(instrument))
}

async fn doubt_of(
    read: &mut Read,
    instrument: InstrumentId,
    (day, at): (NaiveDate, Moment),
) -> Result<Option<Doubt>, WebError> {
    let card = read.find_instrument(instrument).await;
    let Some(card) = card.map_err(WebError::fault)? else {
        return Ok(None);
    };
    let policy = Policies::on(day).map_err(WebError::fault)?;
    let last = read.zero_check_for(instrument, (day, at)).await;
    let last = last.map_err(WebError::fault)?;
    Ok(zero::doubt(&card, last.as_ref(), (day, &policy.zero)))
}
