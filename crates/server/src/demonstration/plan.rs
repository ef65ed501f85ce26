//! What is to happen when: the yards' ordinary rhythm and the stories, in one list by time.

use chrono::Days;

use super::Made;
use super::calendar::At;
use super::floor::Floor;
use super::yards::Yard;

/// One step of a story.
pub(super) type Step = fn(&mut Floor, At) -> Made<()>;

#[derive(Clone, Copy, Debug)]
pub(super) enum Task {
    Story(Step),
    /// A unit's condition test.
    Test(u32),
    /// An ordinary top-up of so many mL.
    TopUp(u32, i64),
    Exchange(u32),
    PressureTest(u32),
    CapTest(u32),
    Filter(u32),
    /// A coupling fitted; its place in the programme, counted from 0.
    Coupling(u32, i64),
    /// Some strength added before the winter.
    Correct(u32),
    /// The dips at the end of a month.
    Dips(Yard),
    TankDip,
    /// Some of a cart's standing stock to waste, as much fresh from a drum.
    Renew(&'static str, &'static str),
    Spill(u32),
    /// So many mL leave a vessel and nobody writes it down.
    Missing(&'static str, i64),
}

#[derive(Debug, Default)]
pub(super) struct Plan(Vec<(At, Task)>);

impl Plan {
    pub(super) fn add(&mut self, at: At, task: Task) {
        self.0.push((at, task));
    }

    /// A step of a story on a local date and time.
    pub(super) fn story(&mut self, date: &str, time: &str, step: Step) -> Made<()> {
        self.add(At::local(date, time)?, Task::Story(step));
        Ok(())
    }

    /// Everything, earliest first; what was planned first comes first at the same minute.
    pub(super) fn in_order(mut self) -> Vec<(At, Task)> {
        self.0.sort_by_key(|(at, _)| at.moment);
        self.0
    }
}

/// The last day of the month a date lies in.
pub(super) fn last_of_month(date: chrono::NaiveDate) -> Option<chrono::NaiveDate> {
    use chrono::{Datelike, Months};
    date.with_day(1)?
        .checked_add_months(Months::new(1))?
        .checked_sub_days(Days::new(1))
}
