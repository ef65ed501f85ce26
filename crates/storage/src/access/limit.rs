//! How often a secret may be tried and how long a session lasts: figures and pure rules.
//!
//! Waits and the death of a PIN are worked out from two figures kept for each secret: how many
//! wrong tries came in a row, and when the last one came.

use domain::moment::{DAY_MS, MINUTE_MS, Moment};

const SECOND_MS: i64 = 1_000;
const HOUR_MS: i64 = 60 * MINUTE_MS;

/// So many wrong tries in a row, and the next one has to wait.
pub(super) const TRIES_BEFORE_WAIT: u32 = 5;
/// The first wait; it doubles with each wrong try after it.
pub(super) const FIRST_WAIT_MS: i64 = 30 * SECOND_MS;
/// No wait is longer.
pub(super) const LONGEST_WAIT_MS: i64 = HOUR_MS;
/// So many wrong tries in a row, and the PIN is dead until a new one is issued.
pub(super) const PIN_DEAD_AT: u32 = 10;
/// The same for a password. It is long, so guessing it is not to be feared; with the waits it takes
/// somebody who means mischief four days to get here, not a minute.
pub(super) const PASSWORD_DEAD_AT: u32 = 100;

/// So many PINs that did not fit within [`TABLET_WINDOW_MS`], and the tablet takes no more of them.
pub(super) const TABLET_FAILURES: i64 = 20;
pub(super) const TABLET_WINDOW_MS: i64 = 15 * MINUTE_MS;

/// A tablet stays enrolled so long.
pub(super) const TABLET_LASTS_MS: i64 = 180 * DAY_MS;
/// A tablet's last contact is noted no more often.
pub(super) const TABLET_SEEN_EVERY_MS: i64 = MINUTE_MS;

/// A session's use is noted no more often, so that reading pages costs hardly any writes. A
/// session may end so much earlier than its limit says.
pub(super) const USE_NOTED_EVERY_MS: i64 = 15 * SECOND_MS;

const TABLET_IDLE_MS: i64 = 5 * MINUTE_MS;
const TABLET_IDLE_WITH_FORM_MS: i64 = 10 * MINUTE_MS;
const TABLET_IN_ALL_MS: i64 = 10 * HOUR_MS;
const OFFICE_IDLE_MS: i64 = 30 * MINUTE_MS;
const OFFICE_IN_ALL_MS: i64 = 8 * HOUR_MS;
/// No session lasts longer.
pub(super) const LONGEST_SESSION_MS: i64 = TABLET_IN_ALL_MS;

/// Security events are kept so long.
pub(super) const EVENTS_KEPT_MS: i64 = 400 * DAY_MS;
/// Of security events no more than so many are kept, so that nobody can fill the disk with them.
pub(super) const MOST_EVENTS: i64 = 200_000;
/// Tries at secrets nobody holds are forgotten after so long, and beyond so many.
pub(super) const TRIES_FORGOTTEN_AFTER_MS: i64 = DAY_MS;
pub(super) const MOST_EMPTY_TRIES: i64 = 10_000;

/// A kind of secret that is tried against a slow hash.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Kind {
    Password,
    Pin,
}

impl Kind {
    pub(super) const fn code(self) -> &'static str {
        match self {
            Self::Password => "password",
            Self::Pin => "pin",
        }
    }

    const fn dead_at(self) -> u32 {
        match self {
            Self::Password => PASSWORD_DEAD_AT,
            Self::Pin => PIN_DEAD_AT,
        }
    }
}

/// How matters stand after so many wrong tries in a row.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Standing {
    /// It may be tried; so many wrong tries are left before it is dead.
    Open { tries_left: u32 },
    /// Not before then; so many wrong tries are left after it.
    Waits { until: Moment, tries_left: u32 },
    /// Never again.
    Dead { since: Moment },
}

/// Works the standing out, at any time: whether a wait is over is for the caller to see.
pub(super) fn standing(kind: Kind, in_a_row: u32, last_at: Moment) -> Standing {
    let tries_left = kind.dead_at().saturating_sub(in_a_row);
    if tries_left == 0 {
        return Standing::Dead { since: last_at };
    }
    match in_a_row.checked_sub(TRIES_BEFORE_WAIT) {
        None => Standing::Open { tries_left },
        Some(more) => Standing::Waits {
            until: last_at.plus_ms(wait_ms(more)),
            tries_left,
        },
    }
}

/// The wait after the try that brought the first wait and `more` wrong ones after it.
fn wait_ms(more: u32) -> i64 {
    1_i64
        .checked_shl(more.min(30))
        .map_or(LONGEST_WAIT_MS, |times| times.saturating_mul(FIRST_WAIT_MS))
        .min(LONGEST_WAIT_MS)
}

/// Where a session is and what is open in it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum SessionKind {
    Tablet,
    TabletWithForm,
    Office,
}

impl SessionKind {
    /// So long without use and it ends.
    pub(super) const fn idle_ms(self) -> i64 {
        match self {
            Self::Tablet => TABLET_IDLE_MS,
            Self::TabletWithForm => TABLET_IDLE_WITH_FORM_MS,
            Self::Office => OFFICE_IDLE_MS,
        }
    }

    /// So long after its start it ends, used or not.
    pub(super) const fn in_all_ms(self) -> i64 {
        match self {
            Self::Tablet | Self::TabletWithForm => TABLET_IN_ALL_MS,
            Self::Office => OFFICE_IN_ALL_MS,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Kind, Standing, standing};
    use domain::moment::Moment;

    const LAST: Moment = Moment(1_000_000);

    fn waits_s(kind: Kind, in_a_row: u32) -> Option<i64> {
        match standing(kind, in_a_row, LAST) {
            Standing::Waits { until, .. } => Some(until.ms_since(LAST) / 1_000),
            Standing::Open { .. } | Standing::Dead { .. } => None,
        }
    }

    /// 5 wrong, then 30 s doubling to 1 h, dead at 10: the design's figures, which lie within
    /// NIST SP 800-63B (at most 100 in a row) as read there.
    #[test]
    fn a_pin_waits_from_the_fifth_wrong_try_and_is_dead_at_the_tenth() {
        let waits: Vec<_> = (0..=10).map(|n| waits_s(Kind::Pin, n)).collect();
        let none = [None; 5];
        let then = [30, 60, 120, 240, 480].map(Some);
        assert_eq!(waits[..5], none);
        assert_eq!(waits[5..10], then);
        assert_eq!(
            standing(Kind::Pin, 10, LAST),
            Standing::Dead { since: LAST }
        );
        assert_eq!(
            standing(Kind::Pin, 4, LAST),
            Standing::Open { tries_left: 6 }
        );
    }

    #[test]
    fn a_password_waits_up_to_an_hour_and_is_dead_at_the_hundredth() {
        assert_eq!(waits_s(Kind::Password, 10), Some(960));
        assert_eq!(waits_s(Kind::Password, 11), Some(1_920));
        assert_eq!(waits_s(Kind::Password, 12), Some(3_600));
        assert_eq!(waits_s(Kind::Password, 99), Some(3_600));
        assert_eq!(
            standing(Kind::Password, 100, LAST),
            Standing::Dead { since: LAST }
        );
        assert_eq!(
            standing(Kind::Password, u32::MAX, LAST),
            Standing::Dead { since: LAST }
        );
    }
}
