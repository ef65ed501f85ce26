//! One-time codes that enrol a tablet: made by somebody who may, opened on the tablet itself, so
//! that it never needs their password.

use std::io;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use domain::moment::{MINUTE_MS, Moment};
use storage::access::NewTablet;

use super::code::{self, CodeDigest};

/// How long a code waits to be opened on the tablet.
pub(crate) const LASTS_MS: i64 = 15 * MINUTE_MS;
/// 130 random bits: the code travels in an address and is not typed.
const LETTERS: usize = 26;
/// More than a shop ever enrols in a quarter of an hour; the oldest goes first.
const MOST: usize = 100;

/// How often a code may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Uses {
    /// Once, within 15 minutes.
    Once,
    /// By as many tablets as one likes, until the program ends: for a demonstration only.
    WhileRunning,
}

/// The codes that wait, in memory only.
#[derive(Clone, Debug, Default)]
pub struct Enrolments(Arc<Mutex<Vec<Waiting>>>);

#[derive(Debug)]
struct Waiting {
    digest: CodeDigest,
    tablet: NewTablet,
    made_at: Moment,
    uses: Uses,
}

impl Waiting {
    fn counts(&self, now: Moment) -> bool {
        self.uses == Uses::WhileRunning || now.ms_since(self.made_at) < LASTS_MS
    }
}

impl Enrolments {
    /// A code for a tablet that is to be enrolled. It is kept nowhere else.
    ///
    /// # Errors
    /// When the machine gives no random bytes.
    pub fn offer(&self, tablet: NewTablet, uses: Uses, now: Moment) -> io::Result<String> {
        let code = code::random(LETTERS)?;
        let mut waiting = self.lock();
        waiting.retain(|waiting| waiting.counts(now));
        if waiting.len() >= MOST {
            waiting.remove(0);
        }
        waiting.push(Waiting {
            digest: CodeDigest::of(&code),
            tablet,
            made_at: now,
            uses,
        });
        Ok(code)
    }

    /// The tablet a code is for.
    pub(super) fn find(&self, code: &str, now: Moment) -> Option<NewTablet> {
        let digest = CodeDigest::of(code);
        let waiting = self.lock();
        let mut found = waiting.iter();
        found
            .find(|waiting| waiting.digest.is(digest) && waiting.counts(now))
            .map(|waiting| waiting.tablet.clone())
    }

    /// The same, and the code is used.
    pub(super) fn take(&self, code: &str, now: Moment) -> Option<NewTablet> {
        let digest = CodeDigest::of(code);
        let mut waiting = self.lock();
        let mut found = waiting.iter();
        let at = found.position(|waiting| waiting.digest.is(digest) && waiting.counts(now))?;
        match waiting
            .get(at)
            .map(|waiting| (waiting.uses, waiting.tablet.clone()))?
        {
            (Uses::WhileRunning, tablet) => Some(tablet),
            (Uses::Once, _) => Some(waiting.remove(at).tablet),
        }
    }

    /// Every change is whole, so a panic elsewhere leaves nothing half done.
    fn lock(&self) -> MutexGuard<'_, Vec<Waiting>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The address to open on the tablet.
pub fn enrol_address(origin: &str, code: &str) -> String {
    format!("{origin}/tablets/enrol?code={code}")
}

#[cfg(test)]
mod tests {
    use domain::ids::{PersonId, ShopId};
    use domain::moment::Moment;
    use storage::access::NewTablet;
    use uuid::Uuid;

    use super::{Enrolments, LASTS_MS, MOST, Uses};

    const NOW: Moment = Moment(1_000);

    fn tablet(name: &str) -> NewTablet {
        NewTablet {
            name: name.to_owned(),
            shop: ShopId(Uuid::nil()),
            by: PersonId(Uuid::nil()),
        }
    }

    #[test]
    fn a_code_enrols_one_tablet_within_its_time() {
        let codes = Enrolments::default();
        let code = codes.offer(tablet("Bay 1"), Uses::Once, NOW).unwrap();
        assert!(codes.find(&code, NOW.plus_ms(LASTS_MS)).is_none());
        assert!(codes.find("another", NOW).is_none());
        assert_eq!(codes.find(&code, NOW).unwrap().name, "Bay 1");
        assert_eq!(codes.take(&code, NOW).unwrap().name, "Bay 1");
        assert!(codes.take(&code, NOW).is_none());
    }

    #[test]
    fn the_code_of_a_demonstration_may_be_used_again() {
        let codes = Enrolments::default();
        let code = codes
            .offer(tablet("Bay 1"), Uses::WhileRunning, NOW)
            .unwrap();
        assert!(codes.take(&code, NOW.plus_ms(LASTS_MS)).is_some());
        assert!(codes.take(&code, NOW.plus_ms(LASTS_MS)).is_some());
    }

    #[test]
    fn only_so_many_codes_wait() {
        let codes = Enrolments::default();
        let first = codes.offer(tablet("first"), Uses::Once, NOW).unwrap();
        for _ in 0..MOST {
            codes.offer(tablet("later"), Uses::Once, NOW).unwrap();
        }
        assert!(codes.find(&first, NOW).is_none());
    }
}
