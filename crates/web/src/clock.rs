//! Where the time comes from. Everything else is handed a time, so that a test can choose it.

use std::time::Instant;

use chrono::{DateTime, TimeDelta, Utc};

/// The server's idea of now: the machine's time, or a chosen time that runs on from there.
#[derive(Clone, Debug)]
pub struct Clock(Source);

#[derive(Clone, Debug)]
enum Source {
    System,
    Pinned {
        start: DateTime<Utc>,
        since: Instant,
    },
}

impl Clock {
    /// The machine's clock. The only place that reads it.
    pub const fn system() -> Self {
        Self(Source::System)
    }

    /// A business clock that shows `start` now and runs on from there.
    ///
    /// It counts on the monotonic clock: setting the machine's time does not move it.
    pub fn pinned_from(start: DateTime<Utc>) -> Self {
        Self(Source::Pinned {
            start,
            since: Instant::now(),
        })
    }

    #[expect(
        clippy::disallowed_methods,
        reason = "this is the one place that reads the machine's clock"
    )]
    pub fn now(&self) -> DateTime<Utc> {
        match self.0 {
            Source::System => Utc::now(),
            Source::Pinned { start, since } => TimeDelta::from_std(since.elapsed())
                .ok()
                .and_then(|run| start.checked_add_signed(run))
                // Only a start at the very end of the calendar leaves no room to run on.
                .unwrap_or(start),
        }
    }
}

#[cfg(test)]
mod tests {
    use chrono::{DateTime, TimeDelta, Utc};

    use super::Clock;

    #[test]
    fn a_pinned_clock_starts_where_it_was_told_and_runs_on() {
        let start: DateTime<Utc> = "2026-10-05T14:00:00Z".parse().unwrap();
        let clock = Clock::pinned_from(start);
        let first = clock.now();
        let second = clock.now();
        assert!(first >= start);
        assert!(second >= first);
        assert!(second - start < TimeDelta::minutes(1));
    }

    #[test]
    fn a_clock_pinned_to_the_end_of_the_calendar_stands_still() {
        assert_eq!(
            Clock::pinned_from(DateTime::<Utc>::MAX_UTC).now(),
            DateTime::<Utc>::MAX_UTC
        );
    }
}
