//! The class of generator that a calendar month comes to.

use super::profile::{Class, GeneratorRules};
use crate::quantity::{Mass, OutOfBounds};

/// What one site generated in one calendar month and counts.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Monthly {
    /// Hazardous waste that is not acute, all streams of the site.
    pub non_acute: Mass,
    /// Acute hazardous waste.
    pub acute: Mass,
    /// Residue of spills of acute hazardous waste.
    pub acute_spill: Mass,
}

/// What a month comes to.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Standing {
    /// The class, so far.
    pub class: Class,
    /// From here to the figure where the next class begins, by non-acute waste; none in the
    /// largest. The smallest class includes its figure, the middle one ends before its own.
    pub to_next: Option<Mass>,
}

/// The class of a month: grams are compared as they are, before anything is rounded.
///
/// # Errors
/// [`OutOfBounds`] is not to be expected: what is left is a difference of masses in order.
pub fn category(month: &Monthly, rules: &GeneratorRules) -> Result<Standing, OutOfBounds> {
    let at = &rules.thresholds;
    let is_largest = month.non_acute >= at.large_min.value
        || month.acute > at.acute_max.value
        || month.acute_spill > at.acute_spill_max.value;
    let standing = |class, to_next| Standing { class, to_next };
    if is_largest {
        Ok(standing(Class::Largest, None))
    } else if month.non_acute > at.small_max.value {
        let left = at.large_min.value.checked_sub(month.non_acute)?;
        Ok(standing(Class::Middle, Some(left)))
    } else {
        let left = at.small_max.value.checked_sub(month.non_acute)?;
        Ok(standing(Class::Smallest, Some(left)))
    }
}
