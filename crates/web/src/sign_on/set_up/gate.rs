//! The set-up code: lets the first person in, while nobody can sign on.

use std::io;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use domain::moment::{MINUTE_MS, Moment};

use crate::sign_on::code::{self, CodeDigest};

/// How long a code counts after the start that printed it.
const LASTS_MS: i64 = 15 * MINUTE_MS;
/// Wrong tries, whoever makes them, before the code is void.
const TRIES: u32 = 10;
/// Sixty random bits: with ten tries nobody guesses it.
const LETTERS: usize = 12;

/// What a code is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetUpFor {
    /// Nobody can sign on yet.
    First,
    /// Somebody lost the password.
    LostPassword,
}

/// Whether the set-up page takes anything, and which code opens it.
#[derive(Clone, Debug, Default)]
pub struct SetUp {
    code: Arc<Mutex<Option<Code>>>,
    /// One set-up at a time: two at once would both find an empty record.
    pub(super) turn: Arc<tokio::sync::Mutex<()>>,
}

#[derive(Debug)]
struct Code {
    digest: CodeDigest,
    opens: SetUpFor,
    expires_at: Moment,
    tries_left: u32,
}

/// Why a code does not open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CodeRefused {
    Wrong {
        tries_left: u32,
    },
    /// Past its time, tried too often, or used.
    Void,
}

impl SetUp {
    /// Closed: no code opens it.
    pub fn closed() -> Self {
        Self::default()
    }

    /// Open from now on with the code returned, which is kept nowhere else.
    ///
    /// # Errors
    /// When the machine gives no random bytes.
    pub fn open(opens: SetUpFor, now: Moment) -> io::Result<(Self, String)> {
        let code = code::random(LETTERS)?;
        let kept = Code {
            digest: CodeDigest::of(&code),
            opens,
            expires_at: now.plus_ms(LASTS_MS),
            tries_left: TRIES,
        };
        let set_up = Self {
            code: Arc::new(Mutex::new(Some(kept))),
            turn: Arc::default(),
        };
        Ok((set_up, code::in_groups(&code)))
    }

    /// What it is open for; none when it never was or is no longer.
    pub(super) fn open_for(&self) -> Option<SetUpFor> {
        self.lock().as_ref().map(|code| code.opens)
    }

    /// Whether this is the code. A wrong one counts.
    pub(super) fn check(&self, typed: &str, now: Moment) -> Result<(), CodeRefused> {
        let mut kept = self.lock();
        let Some(code) = kept.as_mut() else {
            return Err(CodeRefused::Void);
        };
        if now >= code.expires_at || code.tries_left == 0 {
            return Err(CodeRefused::Void);
        }
        if code.digest.is(CodeDigest::of(typed)) {
            return Ok(());
        }
        code.tries_left = code.tries_left.saturating_sub(1);
        match code.tries_left {
            0 => Err(CodeRefused::Void),
            tries_left => Err(CodeRefused::Wrong { tries_left }),
        }
    }

    /// It has done its work.
    pub(super) fn close(&self) {
        *self.lock() = None;
    }

    /// Every change is whole, so a panic elsewhere leaves nothing half done.
    fn lock(&self) -> MutexGuard<'_, Option<Code>> {
        self.code.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use domain::moment::Moment;

    use super::{CodeRefused, LASTS_MS, SetUp, SetUpFor, TRIES};

    const NOW: Moment = Moment(1_000);

    #[test]
    fn a_code_opens_until_its_time_is_over_or_its_work_is_done() {
        let (set_up, code) = SetUp::open(SetUpFor::First, NOW).unwrap();
        assert_eq!(set_up.check(&code, NOW), Ok(()));
        assert_eq!(
            set_up.check(&code.to_lowercase(), NOW.plus_ms(LASTS_MS - 1)),
            Ok(())
        );
        assert_eq!(
            set_up.check(&code, NOW.plus_ms(LASTS_MS)),
            Err(CodeRefused::Void)
        );
        set_up.close();
        assert_eq!(set_up.check(&code, NOW), Err(CodeRefused::Void));
        assert_eq!(set_up.open_for(), None);
    }

    #[test]
    fn after_ten_wrong_tries_the_right_one_no_longer_opens() {
        let (set_up, code) = SetUp::open(SetUpFor::First, NOW).unwrap();
        for left in (1..TRIES).rev() {
            let refused = set_up.check("AAAA-AAAA-AAAA", NOW);
            assert_eq!(refused, Err(CodeRefused::Wrong { tries_left: left }));
        }
        assert_eq!(set_up.check("", NOW), Err(CodeRefused::Void));
        assert_eq!(set_up.check(&code, NOW), Err(CodeRefused::Void));
    }

    #[test]
    fn a_closed_one_takes_nothing() {
        assert_eq!(SetUp::closed().check("", NOW), Err(CodeRefused::Void));
    }
}
