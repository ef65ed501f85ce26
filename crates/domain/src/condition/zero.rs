//! Refractometers checked with water: by the scale of freeze points pure water reads 0 °C. One that does
//! not, or that nobody checked in time, still counts, with more error.

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use crate::fleet::{Instrument, Tool};
use crate::ids::{InstrumentId, PersonId};
use crate::job::Doubt;
use crate::quantity::entry::Typed;
use crate::quantity::{Temperature, TemperatureDifference};

/// What an instrument read of distilled water. What is stated later of the same instrument takes its
/// place, so one that was set to zero is checked once more.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ZeroCheck {
    /// The instrument.
    pub instrument: InstrumentId,
    /// The freeze point it read.
    pub reads: Typed<Temperature>,
}

/// The same as it stands in the record.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ZeroChecked {
    /// The day, in the shop's own dates.
    pub day: NaiveDate,
    /// By whom.
    pub by: Option<PersonId>,
    /// The freeze point it read.
    pub reads: Temperature,
}

/// Lines of the check.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct ZeroPolicy {
    /// A check is good for so many days, its own day counted.
    pub every_days: i64,
    /// It reads zero as long as it is off by no more.
    pub off_above: TemperatureDifference,
}

impl ZeroPolicy {
    /// The day from which an instrument is to be checked again.
    pub fn next_due(&self, checked: NaiveDate) -> Option<NaiveDate> {
        checked.checked_add_days(Days::new(u64::try_from(self.every_days).ok()?))
    }

    /// Whether water was read as something else than water.
    pub fn is_off(&self, reads: Temperature) -> bool {
        let off = reads.difference_from(Temperature::WATER_FREEZES);
        off.millikelvin().saturating_abs() > self.off_above.millikelvin()
    }
}

/// Whether an instrument can be checked so.
pub fn is_checked_with_water(instrument: &Instrument) -> bool {
    instrument.tool == Tool::Refractometer
}

/// Why what an instrument reads on a day is to be believed less: it is out of date, or by the last check
/// on or before that day. One that was never checked on record is taken as its card says: nobody knows.
pub fn doubt(
    instrument: &Instrument,
    last: Option<&ZeroChecked>,
    (day, policy): (NaiveDate, &ZeroPolicy),
) -> Option<Doubt> {
    let by_card = instrument.doubt_on(day);
    let last = last.filter(|_| is_checked_with_water(instrument));
    by_card.or_else(|| {
        let last = last?;
        if policy.is_off(last.reads) {
            return Some(Doubt::ZeroOff);
        }
        let is_over = policy.next_due(last.day).is_some_and(|due| due <= day);
        is_over.then_some(Doubt::ZeroNotChecked)
    })
}
