//! Factors.

use super::*;

/// NIST Special Publication 811 (2008), appendix B, from memory: what a number of each unit
/// comes to, times a power of ten that brings out all the digits printed there.
#[test]
fn factors_are_those_of_nist_sp_811() {
    assert_eq!(raw::<Volume>("100000 gal"), 378_541_178); // 3.785 411 784 L, exact
    assert_eq!(raw::<Volume>("1000000 qt"), 946_352_946); // 0.946 352 946 L, exact
    assert_eq!(raw::<Volume>("1000000 pt"), 473_176_473); // 0.473 176 473 L, exact
    assert_eq!(raw::<Volume>("16000000 fl oz"), 473_176_473); // 29.573 529 562 5 mL, exact
    assert_eq!(raw::<Mass>("100000 lb"), 45_359_237); // 453.592 37 g, exact
    assert_eq!(raw::<Distance>("1000 mi"), 1_609_344); // 1609.344 m, exact
    assert_eq!(raw::<Height>("10 ft"), 3_048); // 0.3048 m, exact
    assert_eq!(raw::<Height>("10 in"), 254); // 2.54 cm, exact
    assert_eq!(raw::<GaugePressure>("700 psi"), 4_826_330); // 6.894 757 kPa
    assert_eq!(raw::<AbsolutePressure>("1000 inHg"), 3_386_389); // 3.386 389 kPa, conventional
    assert_eq!(raw::<AbsolutePressure>("10000 mmHg"), 1_333_224); // 133.3224 Pa, conventional
    assert_eq!(raw::<Temperature>("-40 °F"), -40_000); // (F − 32) / 1.8
    assert_eq!(raw::<TemperatureDifference>("9 °F"), 5_000); // 5/9 K
}

/// Asserts that a number of the unit comes to what the units crate `uom` has, which keeps about
/// seven digits of some factors.
#[track_caller]
fn assert_like_uom<Q: Typeable>(text: &str, uom: f64) {
    let found = i32::try_from(raw::<Q>(text)).map(f64::from).unwrap();
    let allowed = 0.5 + 2e-7 * uom.abs() + 1e-6;
    assert!(
        (found - uom).abs() <= allowed,
        "{text} was read as {found}, uom has {uom}"
    );
}

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn conversions_agree_with_the_units_crate_uom(hundredths in 0..=10_000_i32) {
        use uom::si::f64 as si;
        use uom::si::{
            length, mass, pressure, temperature_interval, thermodynamic_temperature, time, volume,
        };

        let number = f64::from(hundredths) / 100.0;
        let with = |unit: &str| format!("{number} {unit}");
        let ml = |volume: si::Volume| volume.get::<volume::milliliter>();
        assert_like_uom::<Volume>(&with("L"), ml(si::Volume::new::<volume::liter>(number)));
        assert_like_uom::<Volume>(&with("gal"), ml(si::Volume::new::<volume::gallon>(number)));
        assert_like_uom::<Volume>(&with("qt"), ml(si::Volume::new::<volume::quart_liquid>(number)));
        assert_like_uom::<Volume>(&with("pt"), ml(si::Volume::new::<volume::pint_liquid>(number)));
        assert_like_uom::<Volume>(
            &with("fl oz"),
            ml(si::Volume::new::<volume::fluid_ounce>(number)),
        );
        assert_like_uom::<Mass>(
            &with("lb"),
            si::Mass::new::<mass::pound>(number).get::<mass::gram>(),
        );
        assert_like_uom::<Distance>(
            &with("mi"),
            si::Length::new::<length::mile>(number).get::<length::meter>(),
        );
        assert_like_uom::<RunningTime>(
            &with("h"),
            si::Time::new::<time::hour>(number).get::<time::second>(),
        );
        let pa = |pressure: si::Pressure| pressure.get::<pressure::pascal>();
        assert_like_uom::<GaugePressure>(
            &with("psi"),
            pa(si::Pressure::new::<pressure::psi>(number)),
        );
        let millicelsius = |point: si::ThermodynamicTemperature| {
            point.get::<thermodynamic_temperature::degree_celsius>() * 1000.0
        };
        for (unit, point) in [
            (
                "°F",
                si::ThermodynamicTemperature::new::<thermodynamic_temperature::degree_fahrenheit>(
                    number,
                ),
            ),
            (
                "°C",
                si::ThermodynamicTemperature::new::<thermodynamic_temperature::degree_celsius>(
                    number,
                ),
            ),
        ] {
            assert_like_uom::<Temperature>(&with(unit), millicelsius(point));
        }
        assert_like_uom::<TemperatureDifference>(
            &with("°F"),
            si::TemperatureInterval::new::<temperature_interval::degree_fahrenheit>(number)
                .get::<temperature_interval::kelvin>()
                * 1000.0,
        );
        assert_like_uom::<AbsolutePressure>(
            &with("inHg"),
            pa(si::Pressure::new::<pressure::inch_of_mercury>(number)),
        );
        assert_like_uom::<AbsolutePressure>(
            &with("mmHg"),
            pa(si::Pressure::new::<pressure::millimeter_of_mercury>(number)),
        );
    }
}
