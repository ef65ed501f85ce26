//! Decimal figures held exactly, because limits are compared before anything is rounded.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// Decimals that are kept.
const DECIMALS: usize = 9;
/// Steps in one whole.
const PER_WHOLE: u64 = 1_000_000_000;

/// A figure that is not negative, exact to a billionth.
///
/// ```
/// use domain::rules::Exact;
/// let limit: Exact = "5.0".parse()?;
/// assert_eq!(limit, "5".parse()?);
/// assert!("4.999999999".parse::<Exact>()? < limit);
/// assert!("-5".parse::<Exact>().is_err());
/// # Ok::<(), domain::rules::NotExact>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
pub struct Exact(u64);

/// A text that is no such figure.
#[derive(Clone, PartialEq, Eq, Debug, Error)]
#[error("\"{0}\" is no number from 0 to 18,000,000,000 with up to nine decimals and a point")]
pub struct NotExact(pub String);

impl Exact {
    /// So many billionths.
    pub const fn from_billionths(billionths: u64) -> Self {
        Self(billionths)
    }

    /// In billionths.
    pub const fn billionths(self) -> u64 {
        self.0
    }

    /// The product, rounded up to a whole where `up`, otherwise down; none above the range.
    ///
    /// What a rounded figure is compared with decides the side: a mass that counts goes up.
    pub fn times(self, other: Self, up: bool) -> Option<u64> {
        let product = u128::from(self.0).checked_mul(u128::from(other.0))?;
        let whole = u128::from(PER_WHOLE).checked_mul(u128::from(PER_WHOLE))?;
        let found = if up {
            product.div_ceil(whole)
        } else {
            product.checked_div(whole)?
        };
        u64::try_from(found).ok()
    }

    /// The whole of one.
    pub const ONE: Self = Self(PER_WHOLE);

    /// Multiplied by a ratio, a last step that is not whole rounded up where `up`; none above
    /// the range.
    pub(super) fn scaled(self, (by, per): (u64, u64), up: bool) -> Option<Self> {
        let product = u128::from(self.0).checked_mul(u128::from(by))?;
        let per = std::num::NonZeroU128::new(u128::from(per))?.get();
        let found = if up {
            product.div_ceil(per)
        } else {
            product.checked_div(per)?
        };
        u64::try_from(found).ok().map(Self)
    }

    /// The hundredth part, a last step that is not whole rounded up: a figure in percent as a share.
    pub fn percent(self) -> Option<Self> {
        self.scaled((1, 100), true)
    }

    /// The sum; none above the range.
    pub fn plus(self, other: Self) -> Option<Self> {
        self.0.checked_add(other.0).map(Self)
    }

    /// Whether it is a share from 0 to 1.
    pub const fn is_share(self) -> bool {
        self.0 <= PER_WHOLE
    }
}

impl FromStr for Exact {
    type Err = NotExact;

    fn from_str(text: &str) -> Result<Self, NotExact> {
        let problem = || NotExact(text.to_owned());
        let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let part = part.trim_end_matches('0');
        if whole.is_empty() || !digits(whole) || !digits(part) || part.len() > DECIMALS {
            return Err(problem());
        }
        let whole: u64 = whole.parse().map_err(|_| problem())?;
        let part: u64 = format!("{part:0<DECIMALS$}")
            .parse()
            .map_err(|_| problem())?;
        let scaled = whole.checked_mul(PER_WHOLE);
        scaled
            .and_then(|scaled| scaled.checked_add(part))
            .map(Self)
            .ok_or_else(problem)
    }
}

impl fmt::Display for Exact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole = self.0.checked_div(PER_WHOLE).unwrap_or(0);
        let part = self.0.checked_rem(PER_WHOLE).unwrap_or(0);
        let part = format!("{part:09}");
        let part = part.trim_end_matches('0');
        if part.is_empty() {
            write!(f, "{whole}")
        } else {
            write!(f, "{whole}.{part}")
        }
    }
}
