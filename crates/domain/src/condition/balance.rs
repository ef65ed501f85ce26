//! Whether as much went into a loop as had been taken out of it.

/// Up to so much is told by no gauge, mL: two readings at each end, each 0.4 L off, and a chance of
/// 1 in 20 to be above it (0.4 L × √4 × 1.645; the 0.4 L are our own default).
pub const LIMIT_ML: i64 = 1_300;

/// What a fill came to.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum FillBalance {
    /// As much as was missing, as far as gauges tell.
    Even,
    /// So much is still missing, mL: air, or not full.
    Missing(i64),
    /// So much more went in, mL.
    TooMuch(i64),
}

/// Compares what was taken out and spilled with what was filled, both mixed at 20 °C.
///
/// ```
/// use domain::condition::balance::{FillBalance, fill};
/// assert_eq!(fill(40_000, 38_700), FillBalance::Even);
/// assert_eq!(fill(40_000, 38_000), FillBalance::Missing(2_000));
/// ```
pub fn fill(taken_out_ml: i64, filled_ml: i64) -> FillBalance {
    let missing = taken_out_ml.saturating_sub(filled_ml);
    if missing > LIMIT_ML {
        FillBalance::Missing(missing)
    } else if missing < -LIMIT_ML {
        FillBalance::TooMuch(missing.saturating_neg())
    } else {
        FillBalance::Even
    }
}

#[cfg(test)]
mod tests {
    use super::{FillBalance, LIMIT_ML, fill};

    #[test]
    fn the_limit_itself_is_still_even() {
        assert_eq!(fill(40_000, 40_000 - LIMIT_ML), FillBalance::Even);
        assert_eq!(fill(40_000, 40_000 + LIMIT_ML), FillBalance::Even);
        let over = LIMIT_ML + 1;
        assert_eq!(fill(40_000, 40_000 - over), FillBalance::Missing(over));
        assert_eq!(fill(40_000, 40_000 + over), FillBalance::TooMuch(over));
    }
}
