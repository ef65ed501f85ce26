//! Exact decimal steps: one rounding of a ratio, and writing out a scaled integer.

use super::rounding::nearest;

/// `numerator / denominator` to the nearest integer, halves away from zero.
///
/// None when the denominator is not above zero.
pub(super) fn divide_rounded(numerator: i128, denominator: i128) -> Option<i128> {
    if denominator <= 0 {
        return None;
    }
    let whole = numerator.checked_div(denominator)?;
    let rest = numerator.checked_rem(denominator)?.unsigned_abs();
    let to_next = denominator.unsigned_abs().checked_sub(rest)?;
    if rest >= to_next {
        whole.checked_add(numerator.signum())
    } else {
        Some(whole)
    }
}

/// Ten to the power `exponent`; none above 10³⁸.
pub(super) fn power_of_ten(exponent: u32) -> Option<i128> {
    10_i128.checked_pow(exponent)
}

/// The two characters that a written number needs besides digits and the minus sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Marks {
    pub(super) decimal: char,
    pub(super) group: char,
}

impl Marks {
    /// 1,234.5
    pub(super) const POINT: Self = Self {
        decimal: '.',
        group: ',',
    };
    /// 1 234,5 with a narrow no-break space: a grouping point would read back as a decimal mark.
    pub(super) const COMMA: Self = Self {
        decimal: ',',
        group: '\u{202F}',
    };
}

/// `value` to one decimal, for messages: "−37.1"; what is not a number says so.
pub(crate) fn tenths(value: f64) -> String {
    nearest(value * 10.0).map_or_else(
        || value.to_string(),
        |scaled| write(i128::from(scaled), 1, Marks::POINT),
    )
}

/// Writes `scaled / 10^decimals`, whole part in groups of three, U+2212 before a negative one.
///
/// Zero is an integer here, so "−0.0" cannot come out.
pub(super) fn write(scaled: i128, decimals: u32, marks: Marks) -> String {
    let width = usize::try_from(decimals.saturating_add(1)).unwrap_or(1);
    let digits = format!("{:0>width$}", scaled.unsigned_abs());
    let places = usize::try_from(decimals).unwrap_or(0);
    let (whole, part) = digits
        .split_at_checked(digits.len().saturating_sub(places))
        .unwrap_or((digits.as_str(), ""));
    let mut backwards = String::new();
    for (index, digit) in whole.chars().rev().enumerate() {
        if index > 0 && index.is_multiple_of(3) {
            backwards.push(marks.group);
        }
        backwards.push(digit);
    }
    let mut text = String::new();
    if scaled < 0 {
        text.push('\u{2212}');
    }
    text.extend(backwards.chars().rev());
    if !part.is_empty() {
        text.push(marks.decimal);
        text.push_str(part);
    }
    text
}
