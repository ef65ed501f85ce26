//! Ranges.

use super::*;

#[track_caller]
fn assert_range<Q: Typeable>(least: i128, most: i128) {
    assert_eq!(Q::from_raw(least).unwrap().raw(), least);
    assert_eq!(Q::from_raw(most).unwrap().raw(), most);
    for (outside, side) in [(least - 1, "least"), (most + 1, "most")] {
        let refusal = Q::from_raw(outside).unwrap_err();
        let message = refusal.to_string();
        assert!(
            message.starts_with(&format!("{} is ", Q::NAME)),
            "{message}"
        );
        assert!(
            message.contains(&format!(", the {side} this server takes is ")),
            "{message}"
        );
        assert_eq!(refusal.name(), Q::NAME);
    }
    for far in [i128::MIN, i128::MAX] {
        assert!(Q::from_raw(far).is_err());
    }
}

#[test]
fn every_quantity_takes_its_ends_and_nothing_beyond() {
    assert_range::<Volume>(0, 1_000_000_000);
    assert_range::<Mass>(0, 10_000_000_000);
    assert_range::<Density>(0, 2_000_000);
    assert_range::<Temperature>(-100_000, 400_000);
    assert_range::<TemperatureDifference>(-500_000, 500_000);
    assert_range::<GaugePressure>(-101_325, 5_000_000);
    assert_range::<AbsolutePressure>(0, 5_101_325);
    assert_range::<Vacuum>(0, 101_325);
    assert_range::<FractionByVolume>(0, 1_000_000);
    assert_range::<FractionByMass>(0, 1_000_000);
    assert_range::<Distance>(0, 10_000_000_000);
    assert_range::<Height>(-30_000, 30_000);
    assert_range::<RunningTime>(0, 3_600_000_000);
}

#[test]
fn a_range_message_says_what_was_found_and_then_the_limit() {
    let message = |problem: domain::quantity::OutOfBounds| problem.to_string();
    assert_eq!(
        message(Volume::from_ml(1_000_000_001).unwrap_err()),
        "volume is 1,000,000.001 L, the most this server takes is 1,000,000.0 L"
    );
    assert_eq!(
        message(Volume::from_ml(-500).unwrap_err()),
        "volume is −0.5 L, the least this server takes is 0.0 L"
    );
    assert_eq!(
        message(Temperature::from_millicelsius(400_001).unwrap_err()),
        "temperature is 400.001 °C, the most this server takes is 400.0 °C"
    );
    assert_eq!(
        message(Vacuum::from_pa(105_000).unwrap_err()),
        "vacuum is 105.0 kPa vacuum, the most this server takes is 101.325 kPa vacuum"
    );
    assert_eq!(
        message(FractionByVolume::from_millionths(1_010_000).unwrap_err()),
        "strength by volume is 101.0 % by volume, the most this server takes is 100.0 % by volume"
    );
    assert_eq!(
        message(RunningTime::from_s(i64::MAX).unwrap_err()),
        "running time is 2,562,047,788,015,215.5019 h, the most this server takes is 1,000,000.0 h"
    );
}

#[test]
fn sums_leave_the_range_with_a_message_and_never_wrap() {
    let one = Volume::from_ml(1).unwrap();
    assert!(Volume::MAX.checked_add(one).is_err());
    assert!(Volume::MIN.checked_sub(one).is_err());
    assert_eq!(Volume::MAX.checked_sub(Volume::MAX), Ok(Volume::MIN));
    let half = FractionByVolume::from_millionths(500_000).unwrap();
    assert_eq!(half.checked_add(half), Ok(FractionByVolume::MAX));
    let span = TemperatureDifference::MAX;
    assert!(span.checked_add(span).is_err());
    assert_eq!(Temperature::MIN.checked_add(span), Ok(Temperature::MAX));
    assert_eq!(Temperature::MAX.difference_from(Temperature::MIN), span);
    assert!(Temperature::MAX.checked_add(span).is_err());
}

#[test]
fn gauge_and_absolute_meet_only_over_an_atmosphere() {
    let high_up = AbsolutePressure::from_pa(83_500).unwrap();
    let gauge = GaugePressure::from_pa(100_000).unwrap();
    let absolute = gauge.absolute(high_up).unwrap();
    assert_eq!(absolute.pa(), 183_500);
    assert_eq!(absolute.gauge(high_up), Ok(gauge));
    let deep = Vacuum::from_pa(90_000).unwrap();
    assert!(
        deep.absolute(high_up).is_err(),
        "no vacuum is deeper than the air is heavy"
    );
    assert_eq!(deep.gauge().absolute(high_up), deep.absolute(high_up));
}
