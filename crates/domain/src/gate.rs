//! Gates: what must hold before a job is begun. None of them keeps a job from being logged that
//! has already happened; what was passed over is then kept with the job.

use crate::fleet::Loop;
use crate::quantity::{GaugePressure, Temperature};

macro_rules! breaches {
    ($($(#[$doc:meta])* $breach:ident $code:literal $words:literal)*) => {
        /// A gate that was passed over, as it is kept with the job.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub enum Breach {
            $($(#[$doc])* $breach,)*
        }

        impl Breach {
            /// Every one there is.
            pub const ALL: &'static [Breach] = &[$(Breach::$breach),*];

            /// The code the record keeps.
            pub fn code(self) -> &'static str {
                match self { $(Self::$breach => $code),* }
            }

            /// What happened, in words.
            pub fn words(self) -> &'static str {
                match self { $(Self::$breach => $words),* }
            }

            /// What a code stands for.
            pub fn from_code(code: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|breach| breach.code() == code)
            }
        }
    };
}

breaches! {
    /// The system was not below the temperature at which it may be opened.
    OpenedHot "opened_hot" "opened while it was hot"
    /// The system was not at 0 gauge.
    OpenedUnderPressure "opened_under_pressure" "opened while it was under pressure"
    /// Temperature or pressure was not measured.
    GateNotMeasured "gate_not_measured" "opened without both temperature and pressure measured"
    /// Tested above the lowest rated part on record.
    AboveRating "above_rating" "pressure above the lowest rated part on record"
    /// Tested with no rated part on record.
    NoRating "no_rating" "pressure put on with no rating on record"
    /// A vessel took or gave what it is not kept for.
    VesselNotOffered "vessel_not_offered" "a vessel was used that was not offered for this"
    /// Fluid of another kind went in.
    FluidNotOffered "fluid_not_offered" "fluid was used that was not offered for this"
    /// A filter with additive was put on coolant that takes none.
    ChargedFilter "charged_filter" "a filter with additive was put on coolant that takes none"
    /// Waste went into a container that carries no start date.
    NoStartDate "no_start_date" "waste went into a container without a start date"
    /// A vessel was given another use with coolant in it.
    NotEmptied "not_emptied" "cleaned out while the book still had coolant in it"
}

impl Breach {
    /// Whether it may have brought together what is kept apart. Whoever checks the job then has to know
    /// why it was done, and only whoever did it can say.
    pub fn may_have_mixed(self) -> bool {
        matches!(
            self,
            Self::VesselNotOffered | Self::FluidNotOffered | Self::ChargedFilter
        )
    }
}

/// A system is opened only below this temperature: 50 °C. At 51 °C water burns deeply within four
/// minutes, at 60 °C within five seconds (published burn figures, read in the source).
pub const OPEN_BELOW: Temperature = match Temperature::from_millicelsius(50_000) {
    Ok(fifty) => fifty,
    // Never taken; if it were, nothing could be opened.
    Err(_) => Temperature::MIN,
};

/// What speaks against opening a system with these readings, or the lack of them.
///
/// ```
/// use domain::gate::{Breach, opening};
/// use domain::quantity::{GaugePressure, Temperature};
/// let cold = Temperature::from_millicelsius(38_000)?;
/// let none = GaugePressure::from_pa(0)?;
/// assert_eq!(opening(Some(cold), Some(none)), []);
/// let warm = Temperature::from_millicelsius(50_000)?;
/// assert_eq!(opening(Some(warm), None), [Breach::OpenedHot, Breach::GateNotMeasured]);
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
pub fn opening(temperature: Option<Temperature>, pressure: Option<GaugePressure>) -> Vec<Breach> {
    let breaches = [
        (
            temperature.is_some_and(|read| read >= OPEN_BELOW),
            Breach::OpenedHot,
        ),
        (
            pressure.is_some_and(|read| read.pa() > 0),
            Breach::OpenedUnderPressure,
        ),
        (
            temperature.is_none() || pressure.is_none(),
            Breach::GateNotMeasured,
        ),
    ];
    let passed_over = breaches.into_iter().filter(|(holds, _)| *holds);
    passed_over.map(|(_, breach)| breach).collect()
}

/// The lowest rated part of a loop on record: cap, radiator, heater core.
pub fn lowest_rating(of: &Loop) -> Option<GaugePressure> {
    let ratings = [&of.cap_rating, &of.lowest_part_rating];
    ratings
        .into_iter()
        .flatten()
        .map(|rating| rating.value)
        .min()
}

/// What speaks against putting a pressure on a loop whose lowest rated part is `rating`.
pub fn pressure_on(pressure: GaugePressure, rating: Option<GaugePressure>) -> Option<Breach> {
    match rating {
        None => Some(Breach::NoRating),
        Some(rating) => (pressure > rating).then_some(Breach::AboveRating),
    }
}

#[cfg(test)]
mod tests {
    use super::{Breach, lowest_rating, opening, pressure_on};
    use crate::book::component::{Base, InhibitorClass};
    use crate::fleet::Loop;
    use crate::ids::PlaceId;
    use crate::quantity::entry::read;
    use crate::quantity::{GaugePressure, Temperature};

    fn t(text: &str) -> Option<Temperature> {
        read(text).ok().map(|typed| typed.value)
    }

    fn p(text: &str) -> Option<GaugePressure> {
        read(text).ok().map(|typed| typed.value)
    }

    #[test]
    fn a_system_is_opened_below_50_degrees_and_at_0_gauge() {
        use Breach::{GateNotMeasured, OpenedHot, OpenedUnderPressure};
        for (temperature, pressure, breaches) in [
            (t("49.9 °C"), p("0 kPa"), vec![]),
            (t("50 °C"), p("0 kPa"), vec![OpenedHot]),
            (t("122 °F"), p("0 psi"), vec![OpenedHot]),
            (t("121.9 °F"), p("0 psi"), vec![]),
            (t("20 °C"), p("0.1 kPa"), vec![OpenedUnderPressure]),
            (t("20 °C"), p("-5 kPa"), vec![]),
            (
                t("85 °C"),
                p("40 kPa"),
                vec![OpenedHot, OpenedUnderPressure],
            ),
            (None, p("0 kPa"), vec![GateNotMeasured]),
            (t("20 °C"), None, vec![GateNotMeasured]),
            (None, None, vec![GateNotMeasured]),
            (
                None,
                p("40 kPa"),
                vec![OpenedUnderPressure, GateNotMeasured],
            ),
        ] {
            assert_eq!(
                opening(temperature, pressure),
                breaches,
                "{temperature:?} {pressure:?}"
            );
        }
    }

    #[test]
    fn no_pressure_above_the_lowest_rated_part() {
        assert_eq!(pressure_on(p("103 kPa").unwrap(), p("103 kPa")), None);
        assert_eq!(
            pressure_on(p("103.1 kPa").unwrap(), p("103 kPa")),
            Some(Breach::AboveRating)
        );
        assert_eq!(
            pressure_on(p("1 kPa").unwrap(), None),
            Some(Breach::NoRating)
        );
    }

    #[test]
    fn the_lowest_rating_is_that_of_the_weakest_part() {
        let with = |cap: Option<&str>, part: Option<&str>| {
            let rating = |text: Option<&str>| text.and_then(|text| read(text).ok());
            lowest_rating(&Loop {
                id: PlaceId(uuid::Uuid::nil()),
                name: "engine".to_owned(),
                base: Base::Eg,
                class: InhibitorClass::Oat,
                capacity: None,
                target_strength: None,
                cap_rating: rating(cap),
                lowest_part_rating: rating(part),
                air_space: None,
                high_voltage: false,
                coupling_fitted: None,
            })
        };
        assert_eq!(with(Some("103 kPa"), Some("83 kPa")), p("83 kPa"));
        assert_eq!(with(Some("48 kPa"), Some("83 kPa")), p("48 kPa"));
        assert_eq!(with(None, Some("83 kPa")), p("83 kPa"));
        assert_eq!(with(None, None), None);
    }

    #[test]
    fn every_breach_is_found_by_its_code() {
        for breach in Breach::ALL {
            assert_eq!(Breach::from_code(breach.code()), Some(*breach));
        }
    }
}
