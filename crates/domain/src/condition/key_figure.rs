//! What a shop's key figures are: each a part of a whole, or so much for a year.

use crate::quantity::rounding::float;

/// A part of a whole. Of nothing there is no share.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Share {
    /// What is counted.
    pub part: i64,
    /// Of what.
    pub whole: i64,
}

impl Share {
    /// Percent; none of nothing.
    ///
    /// ```
    /// use domain::condition::key_figure::Share;
    /// assert_eq!(Share { part: 2, whole: 8 }.percent(), Some(25.0));
    /// assert_eq!(Share { part: 0, whole: 0 }.percent(), None);
    /// ```
    pub fn percent(self) -> Option<f64> {
        (self.whole != 0).then(|| 100.0 * float(self.part) / float(self.whole))
    }

    /// For a year, when the part belongs to so many days: a fleet that buys half of what it holds in half
    /// a year turns over once a year.
    ///
    /// ```
    /// use domain::condition::key_figure::Share;
    /// let bought = Share { part: 2_000_000, whole: 4_000_000 };
    /// assert_eq!(bought.a_year(73), Some(2.5));
    /// assert_eq!(bought.a_year(0), None);
    /// ```
    pub fn a_year(self, days: i64) -> Option<f64> {
        (self.whole != 0 && days > 0)
            .then(|| float(self.part) / float(self.whole) * 365.0 / float(days))
    }
}
