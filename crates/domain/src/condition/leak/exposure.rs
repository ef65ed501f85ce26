//! How far a unit drove, or how long it ran, between two moments: read off its meters where they tell,
//! and worked out where one is missing.

use crate::moment::{DAY_MS, Moment};
use crate::quantity::rounding::float;

/// What consumption is counted against.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Per {
    /// Kilometres driven.
    Distance,
    /// Hours run.
    Hours,
}

impl Per {
    /// So much is one unit of exposure: 10,000 km or 100 h.
    pub const fn unit(self) -> f64 {
        match self {
            Self::Distance => 1e4,
            Self::Hours => 1e2,
        }
    }

    /// As it stands behind "L/".
    pub const fn words(self) -> &'static str {
        match self {
            Self::Distance => "10,000 km",
            Self::Hours => "100 h",
        }
    }
}

/// A meter that showed less than before: it was replaced, or misread.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct RanBackwards {
    /// When it was read.
    pub at: Moment,
    /// What it had shown before, km or hours.
    pub was: f64,
    /// What it showed then.
    pub shown: f64,
}

/// A meter of one unit, as it was read over time, in km or hours.
#[derive(Clone, PartialEq, Debug)]
pub struct MeterLine {
    per: Per,
    /// By moment; each at least as high as the one before.
    readings: Vec<(Moment, f64)>,
    /// Where it ran backwards; not counted across.
    backwards: Vec<RanBackwards>,
    /// What a day comes to where no two readings tell.
    usual_per_day: f64,
}

impl MeterLine {
    /// Takes the readings of a meter in any order, in km or hours. A reading below the one before it
    /// starts a new count (a meter was replaced or misread): the stretch between the two counts as
    /// usual. `usual_per_day` is what a day comes to where no two readings tell: that of its sisters,
    /// or of the policy.
    pub fn new(per: Per, mut readings: Vec<(Moment, f64)>, usual_per_day: f64) -> Self {
        readings.sort_by(|one, other| one.0.cmp(&other.0).then(one.1.total_cmp(&other.1)));
        let mut line = Self {
            per,
            readings: Vec::with_capacity(readings.len()),
            backwards: Vec::new(),
            usual_per_day,
        };
        let (mut before, mut offset) = (None::<(Moment, f64)>, 0.0);
        for (at, shown) in readings.into_iter().filter(|(_, shown)| shown.is_finite()) {
            if let Some((was_at, was)) = before
                && shown < was
            {
                line.backwards.push(RanBackwards { at, was, shown });
                offset += was + usual_per_day * days_between(was_at, at) - shown;
            }
            before = Some((at, shown));
            line.readings.push((at, shown + offset));
        }
        line
    }

    /// What it counts.
    pub const fn per(&self) -> Per {
        self.per
    }

    /// Where it ran backwards, oldest first.
    pub fn ran_backwards(&self) -> &[RanBackwards] {
        &self.backwards
    }

    /// What a day comes to, from the first to the last reading; the usual where they do not tell.
    pub fn per_day(&self) -> f64 {
        let ends = self.readings.first().zip(self.readings.last());
        ends.and_then(|((first_at, first), (last_at, last))| {
            let days = days_between(*first_at, *last_at);
            // Less than a week says little about a month.
            (days >= 7.0).then(|| (last - first) / days)
        })
        .unwrap_or(self.usual_per_day)
    }

    /// What the meter showed at a moment: as read, between two readings in proportion to time,
    /// beyond them at what a day comes to.
    fn at(&self, at: Moment) -> f64 {
        let after = self.readings.partition_point(|(read, _)| *read <= at);
        let before = after.checked_sub(1).and_then(|n| self.readings.get(n));
        match (before, self.readings.get(after)) {
            (Some((one_at, one)), Some((other_at, other))) => {
                let part = days_between(*one_at, at) / days_between(*one_at, *other_at);
                one + part * (other - one)
            }
            (Some((read_at, read)), None) => read + self.per_day() * days_between(*read_at, at),
            (None, Some((read_at, read))) => read - self.per_day() * days_between(at, *read_at),
            (None, None) => self.usual_per_day * float(at.0) / float(DAY_MS),
        }
    }

    /// When it was last read.
    pub fn read_until(&self) -> Option<Moment> {
        self.readings.last().map(|(at, _)| *at)
    }

    /// The first moment, to the millisecond, by which so much exposure had gone by since another; none
    /// where it had not by `until`.
    pub fn reached(&self, from: Moment, exposure: f64, until: Moment) -> Option<Moment> {
        if self.between(from, until) < exposure {
            return None;
        }
        let (mut before, mut after) = (from.0, until.0);
        while before < after {
            let half = after.saturating_sub(before).checked_div(2).unwrap_or(0);
            let middle = before.saturating_add(half);
            if self.between(from, Moment(middle)) < exposure {
                before = middle.saturating_add(1);
            } else {
                after = middle;
            }
        }
        Some(Moment(after))
    }

    /// Exposure from one moment to a later one, in [`Per::unit`]s; never below 0.
    pub fn between(&self, from: Moment, to: Moment) -> f64 {
        ((self.at(to) - self.at(from)) / self.per.unit()).max(0.0)
    }
}

fn days_between(from: Moment, to: Moment) -> f64 {
    float(to.ms_since(from)) / float(DAY_MS)
}
