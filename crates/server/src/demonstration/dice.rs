//! Chance that repeats: the same seed gives the same demonstration, on every machine.

use uuid::Uuid;

/// A counter whose steps are mixed (splitmix64): small, quick, and integers only.
#[derive(Clone, Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Dice of their own for a name, so that one part of the plan does not shift another.
    pub(super) fn named(seed: u64, name: &str) -> Self {
        let mut state = seed ^ 0xC001_A47E_0000_0001;
        for byte in name.bytes() {
            state = mixed(state ^ u64::from(byte)).wrapping_add(0x9E37_79B9_7F4A_7C15);
        }
        Self(state)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        mixed(self.0)
    }

    /// From 0 up to, but not including, `end`; 0 when there is no such number.
    pub(super) fn below(&mut self, end: i64) -> i64 {
        // 31 bits are plenty for minutes, millilitres and places in a list.
        let drawn = i64::try_from(self.next() >> 33).unwrap_or(0);
        drawn.checked_rem(end.max(1)).unwrap_or(0)
    }

    /// From `low` up to and including `high`.
    pub(super) fn between(&mut self, low: i64, high: i64) -> i64 {
        low + self.below(high - low + 1)
    }

    /// True in so many of a hundred cases.
    pub(super) fn chance(&mut self, percent: i64) -> bool {
        self.below(100) < percent
    }

    /// Around 0, at most `most` either way, more often near 0.
    pub(super) fn spread(&mut self, most: i64) -> i64 {
        let half = most / 2;
        self.between(-half, half) + self.between(-half, half)
    }

    /// One of a list; none of an empty one.
    pub(super) fn one_of<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        let at = self.below(i64::try_from(list.len()).unwrap_or(0));
        usize::try_from(at).ok().and_then(|at| list.get(at))
    }

    /// An id of our own making (version 8).
    pub(super) fn id(&mut self) -> Uuid {
        let bits = (u128::from(self.next()) << 64) | u128::from(self.next());
        Uuid::new_v8(bits.to_be_bytes())
    }
}

fn mixed(state: u64) -> u64 {
    let state = (state ^ (state >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let state = (state ^ (state >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    state ^ (state >> 31)
}
