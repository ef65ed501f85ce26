//! What people see.

use super::*;

const COMMA: UnitsOfMeasure = UnitsOfMeasure {
    decimal_mark: DecimalMark::Comma,
    ..UnitsOfMeasure::METRIC
};
const MIXED: UnitsOfMeasure = UnitsOfMeasure {
    decimal_mark: DecimalMark::Comma,
    ..UnitsOfMeasure::US
};

#[test]
fn quantities_are_shown_as_the_shop_likes() {
    let volume = Volume::from_ml(1_234_549).unwrap();
    let cold = Temperature::from_millicelsius(-37_088).unwrap();
    let cap = GaugePressure::from_pa(103_421).unwrap();
    let pulled = Vacuum::from_pa(67_728).unwrap();
    let driven = Distance::from_m(121_400_499).unwrap();
    let drum = Mass::from_g(1_234_560).unwrap();
    let strength = FractionByVolume::from_millionths(480_400).unwrap();
    let hours = RunningTime::from_s(29_556_900).unwrap();
    for (found, expected) in [
        (UnitsOfMeasure::METRIC.volume(volume), "1,234.5 L"),
        (UnitsOfMeasure::US.volume(volume), "326.1 US gal"),
        (COMMA.volume(volume), "1\u{202F}234,5 L"),
        (UnitsOfMeasure::METRIC.volume_fine(volume), "1,234.549 L"),
        (UnitsOfMeasure::US.volume_fine(volume), "326.133 US gal"),
        (UnitsOfMeasure::METRIC.temperature(cold), "\u{2212}37.1 °C"),
        (UnitsOfMeasure::US.temperature(cold), "\u{2212}35 °F"),
        (COMMA.temperature(cold), "\u{2212}37,1 °C"),
        (UnitsOfMeasure::METRIC.gauge_pressure(cap), "103.4 kPa"),
        (UnitsOfMeasure::US.gauge_pressure(cap), "15.0 psi"),
        (UnitsOfMeasure::METRIC.vacuum(pulled), "67.7 kPa"),
        (UnitsOfMeasure::US.vacuum(pulled), "20.0 inHg"),
        (UnitsOfMeasure::METRIC.distance(driven), "121,400 km"),
        (COMMA.distance(driven), "121\u{202F}400 km"),
        (UnitsOfMeasure::US.distance(driven), "75,435 mi"),
        (UnitsOfMeasure::METRIC.mass(drum), "1,234.6 kg"),
        (UnitsOfMeasure::US.mass(drum), "2,721.7 lb"),
        (UnitsOfMeasure::METRIC.strength(strength), "48.0 %"),
        (COMMA.strength(strength), "48,0 %"),
        (UnitsOfMeasure::METRIC.running_time(hours), "8,210.3 h"),
    ] {
        assert_eq!(found, expected);
    }
    let atmosphere = AbsolutePressure::STANDARD_ATMOSPHERE;
    assert_eq!(
        UnitsOfMeasure::METRIC.absolute_pressure(atmosphere),
        "101.3 kPa absolute"
    );
    assert_eq!(
        UnitsOfMeasure::US.absolute_pressure(atmosphere),
        "14.7 psi absolute"
    );
}

#[test]
fn zero_is_never_shown_with_a_minus() {
    for millicelsius in -49..=49 {
        let near_zero = Temperature::from_millicelsius(millicelsius).unwrap();
        assert_eq!(UnitsOfMeasure::METRIC.temperature(near_zero), "0.0 °C");
    }
    let zero_fahrenheit = Temperature::from_millicelsius(-17_900).unwrap();
    assert_eq!(UnitsOfMeasure::US.temperature(zero_fahrenheit), "0 °F");
    assert_eq!(
        UnitsOfMeasure::METRIC.temperature(Temperature::from_millicelsius(-50).unwrap()),
        "\u{2212}0.1 °C",
        "a half is rounded away from zero"
    );
}

#[test]
fn chosen_units_are_words_in_json() {
    assert_eq!(
        serde_json::to_value(UnitsOfMeasure::US).unwrap(),
        serde_json::json!({
            "volume": "us_gallon", "temperature": "fahrenheit", "pressure": "psi",
            "vacuum": "inch_mercury", "distance": "mile", "mass": "pound",
            "decimal_mark": "point",
        })
    );
}

fn units_of_measure() -> impl Strategy<Value = UnitsOfMeasure> {
    prop::sample::select(vec![
        UnitsOfMeasure::METRIC,
        UnitsOfMeasure::US,
        COMMA,
        MIXED,
    ])
}

/// Asserts that what was shown is read back to within `half` raw units, given as a fraction, plus
/// the half that reading itself rounds by.
fn assert_read_back<Q: Typeable + Debug>(shown: &str, value: Q, half_step: f64) {
    let back = read::<Q>(shown).unwrap().value.raw();
    let off = i32::try_from((back - value.raw()).abs()).unwrap();
    assert!(
        f64::from(off) <= half_step + 0.5,
        "{value} was shown as {shown} and read as {back}"
    );
}

/// Raw steps in one shown unit: `factor` where the shop chose `other`, else `si`.
fn step<U: PartialEq + Copy>(chosen: U, other: U, si: f64, factor: f64) -> f64 {
    if chosen == other { factor } else { si }
}

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn volumes_shown_are_read_back(units in units_of_measure(), ml in 0..=1_000_000_000_i64) {
        let value = Volume::from_ml(ml).unwrap();
        let one = step(units.volume, VolumeUnit::UsGallon, 1000.0, 3785.5);
        assert_read_back(&units.volume(value), value, one / 20.0);
        assert_read_back(&units.volume_fine(value), value, one / 2000.0);
    }

    #[test]
    fn masses_shown_are_read_back(units in units_of_measure(), g in 0..=10_000_000_000_i64) {
        let value = Mass::from_g(g).unwrap();
        let one = step(units.mass, MassUnit::Pound, 1000.0, 453.6);
        assert_read_back(&units.mass(value), value, one / 20.0);
    }

    #[test]
    fn densities_shown_are_read_back(units in units_of_measure(), raw in 0..=2_000_000_i64) {
        let value = Density::from_g_per_m3(raw).unwrap();
        assert_read_back(&units.density(value), value, 50.0);
    }

    #[test]
    fn temperatures_shown_are_read_back(units in units_of_measure(), raw in -100_000..=400_000_i32) {
        let value = Temperature::from_millicelsius(raw).unwrap();
        let half = step(units.temperature, TemperatureUnit::Fahrenheit, 50.0, 277.8);
        // The coldest, shown in whole °F, may come out just below the range.
        prop_assume!(raw > -99_700 && raw < 399_700);
        assert_read_back(&units.temperature(value), value, half);
        let value = TemperatureDifference::from_millikelvin(raw).unwrap();
        let half = step(units.temperature, TemperatureUnit::Fahrenheit, 50.0, 27.78);
        assert_read_back(&units.temperature_difference(value), value, half);
    }

    #[test]
    fn pressures_shown_are_read_back(units in units_of_measure(), pa in -101_000..=4_999_000_i64) {
        let one = step(units.pressure, PressureUnit::Psi, 1000.0, 6895.0);
        let value = GaugePressure::from_pa(pa).unwrap();
        assert_read_back(&units.gauge_pressure(value), value, one / 20.0);
        let value = AbsolutePressure::from_pa(pa + 101_325).unwrap();
        assert_read_back(&units.absolute_pressure(value), value, one / 20.0);
    }

    #[test]
    fn vacuums_shown_are_read_back(units in units_of_measure(), pa in 0..=101_000_i64) {
        let value = Vacuum::from_pa(pa).unwrap();
        let one = step(units.vacuum, VacuumUnit::InchMercury, 1000.0, 3386.4);
        assert_read_back(&units.vacuum(value), value, one / 20.0);
    }

    #[test]
    fn strengths_shown_are_read_back(units in units_of_measure(), raw in 0..=1_000_000_i32) {
        let value = FractionByVolume::from_millionths(raw).unwrap();
        assert_read_back(&units.strength(value), value, 500.0);
        let value = FractionByMass::from_millionths(raw).unwrap();
        assert_read_back(&units.strength_by_mass(value), value, 500.0);
    }

    #[test]
    fn heights_shown_are_read_back(units in units_of_measure(), mm in -29_900..=29_900_i32) {
        let value = Height::from_mm(mm).unwrap();
        let half = step(units.distance, DistanceUnit::Mile, 5.0, 15.24);
        assert_read_back(&units.height(value), value, half);
    }

    #[test]
    fn meters_shown_are_read_back(
        units in units_of_measure(), m in 0..=9_999_999_000_i64, s in 0..=3_599_999_000_i64,
    ) {
        let value = Distance::from_m(m).unwrap();
        let one = step(units.distance, DistanceUnit::Mile, 1000.0, 1609.4);
        assert_read_back(&units.distance(value), value, one / 2.0);
        let value = RunningTime::from_s(s).unwrap();
        assert_read_back(&units.running_time(value), value, 180.0);
    }

    #[test]
    fn the_full_form_is_read_back_exactly(raw in 0..=1_000_000_i64, s in 0..=3_600_000_000_i64) {
        fn check<Q: Typeable>(raw: i64) {
            if let Ok(value) = Q::from_raw(i128::from(raw)) {
                assert_eq!(read::<Q>(&value.to_string()).unwrap().value, value);
            }
        }
        for raw in [raw, -raw] {
            check::<Volume>(raw);
            check::<Mass>(raw);
            check::<Density>(raw);
            check::<Temperature>(raw);
            check::<TemperatureDifference>(raw);
            check::<GaugePressure>(raw);
            check::<AbsolutePressure>(raw);
            check::<Vacuum>(raw);
            check::<FractionByVolume>(raw);
            check::<FractionByMass>(raw);
            check::<Distance>(raw);
            check::<Height>(raw);
        }
        check::<RunningTime>(s);
    }
}
