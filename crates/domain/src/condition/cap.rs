//! Whether a pressure cap does what is stamped on it, and whether it belongs on its loop.

use crate::fleet::Loop;
use crate::gate::lowest_rating;
use crate::quantity::GaugePressure;

/// What a test of a cap on its own showed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct CapShown {
    /// Rating stamped on it.
    pub stamped: GaugePressure,
    /// Where it opened.
    pub opened_at: GaugePressure,
    /// It held below that.
    pub holds: bool,
    /// Its vacuum valve lets air in; none where nobody tried it.
    pub vacuum_valve: Option<bool>,
}

/// What is wrong with a cap.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum CapFault {
    /// Below nine tenths of what is stamped.
    OpensEarly,
    /// Above eleven tenths of it.
    OpensLate,
    /// It lets pressure go before it opens.
    DoesNotHold,
    /// No air comes back when the system cools.
    NoAirIn,
}

/// Everything that is wrong with it. That a cap opens within 10 % of its rating is common practice,
/// no source.
///
/// ```
/// use domain::condition::cap::{CapFault, CapShown, faults};
/// use domain::quantity::GaugePressure;
/// let cap = CapShown {
///     stamped: GaugePressure::from_pa(100_000)?,
///     opened_at: GaugePressure::from_pa(90_000)?,
///     holds: true,
///     vacuum_valve: None,
/// };
/// assert_eq!(faults(cap), []);
/// let early = CapShown { opened_at: GaugePressure::from_pa(89_999)?, ..cap };
/// assert_eq!(faults(early), [CapFault::OpensEarly]);
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
pub fn faults(cap: CapShown) -> Vec<CapFault> {
    let (stamped, opened) = (cap.stamped.pa(), cap.opened_at.pa().saturating_mul(10));
    let found = [
        (opened < stamped.saturating_mul(9), CapFault::OpensEarly),
        (opened > stamped.saturating_mul(11), CapFault::OpensLate),
        (!cap.holds, CapFault::DoesNotHold),
        (cap.vacuum_valve == Some(false), CapFault::NoAirIn),
    ];
    let found = found.into_iter().filter(|(is_so, _)| *is_so);
    found.map(|(_, fault)| fault).collect()
}

/// How the rating on a cap goes with the lowest rated part of its loop on record.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum CapFits {
    /// Nobody knows what the loop takes.
    NoRating,
    /// They are the same.
    Matches,
    /// The cap lets the pressure rise above what the loop takes.
    TooStrong,
    /// The cap opens below what the loop is made for: it boils over sooner.
    TooWeak,
}

/// Ratings that differ by less are the same one written in another unit: 1 kPa.
const SAME_PA: i64 = 1_000;

/// Compares a cap with its loop.
pub fn fits(stamped: GaugePressure, circuit: &Loop) -> CapFits {
    let Some(rating) = lowest_rating(circuit) else {
        return CapFits::NoRating;
    };
    let above = stamped.pa().saturating_sub(rating.pa());
    if above > SAME_PA {
        CapFits::TooStrong
    } else if above < -SAME_PA {
        CapFits::TooWeak
    } else {
        CapFits::Matches
    }
}

#[cfg(test)]
mod tests {
    use super::{CapFault, CapFits, CapShown, faults, fits};
    use crate::book::component::{Base, InhibitorClass};
    use crate::fleet::Loop;
    use crate::ids::PlaceId;
    use crate::quantity::GaugePressure;
    use crate::quantity::entry::read;

    fn kpa(kpa: i64) -> GaugePressure {
        GaugePressure::from_pa(kpa.saturating_mul(1_000)).unwrap()
    }

    fn shown(opened_kpa: i64) -> CapShown {
        CapShown {
            stamped: kpa(100),
            opened_at: kpa(opened_kpa),
            holds: true,
            vacuum_valve: Some(true),
        }
    }

    #[test]
    fn a_cap_may_open_a_tenth_off_and_no_more() {
        for good in [90, 100, 110] {
            assert_eq!(faults(shown(good)), []);
        }
        assert_eq!(faults(shown(89)), [CapFault::OpensEarly]);
        assert_eq!(faults(shown(111)), [CapFault::OpensLate]);
    }

    #[test]
    fn everything_that_is_wrong_is_told() {
        let bad = CapShown {
            holds: false,
            vacuum_valve: Some(false),
            ..shown(50)
        };
        let all = [
            CapFault::OpensEarly,
            CapFault::DoesNotHold,
            CapFault::NoAirIn,
        ];
        assert_eq!(faults(bad), all);
        let untried = CapShown {
            vacuum_valve: None,
            ..shown(100)
        };
        assert_eq!(faults(untried), []);
    }

    #[test]
    fn a_cap_goes_with_the_lowest_rated_part() {
        let circuit = |cap: Option<&str>, part: Option<&str>| Loop {
            id: PlaceId(uuid::Uuid::from_u128(1)),
            name: "engine".to_owned(),
            base: Base::Eg,
            class: InhibitorClass::Oat,
            capacity: None,
            target_strength: None,
            cap_rating: cap.map(|text| read(text).unwrap()),
            lowest_part_rating: part.map(|text| read(text).unwrap()),
            air_space: None,
            high_voltage: false,
            coupling_fitted: None,
        };
        // 15 psi are 103.4 kPa: 6.894757 kPa each (NIST SP 811; from memory).
        let psi = circuit(Some("15 psi"), None);
        assert_eq!(fits(kpa(103), &psi), CapFits::Matches);
        assert_eq!(fits(kpa(110), &psi), CapFits::TooStrong);
        assert_eq!(fits(kpa(90), &psi), CapFits::TooWeak);
        let weaker_part = circuit(Some("110 kPa"), Some("90 kPa"));
        assert_eq!(fits(kpa(110), &weaker_part), CapFits::TooStrong);
        assert_eq!(fits(kpa(110), &circuit(None, None)), CapFits::NoRating);
    }
}
