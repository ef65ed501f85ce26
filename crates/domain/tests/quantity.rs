//! Quantities: their ranges, what people type, what they see, and the factors between.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers fail their test where they stand"
)]

use std::fmt::Debug;

use domain::quantity::entry::{EntryProblem, Typed, read, read_with_default_unit};
use domain::quantity::format::{
    DecimalMark, DistanceUnit, MassUnit, PressureUnit, TemperatureUnit, UnitsOfMeasure, VacuumUnit,
    VolumeUnit,
};
use domain::quantity::{
    AbsolutePressure, Density, Distance, FractionByMass, FractionByVolume, GaugePressure, Mass,
    RunningTime, Temperature, TemperatureDifference, Typeable, Unit, Vacuum, Volume,
};
use proptest::prelude::*;

/// Failing cases are printed, not kept in files.
fn without_files() -> ProptestConfig {
    ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// The raw integer read from a text that must be readable.
#[track_caller]
fn raw<Q: Typeable>(text: &str) -> i128 {
    match read::<Q>(text) {
        Ok(typed) => typed.value.raw(),
        Err(problem) => panic!("{text:?}: {problem}"),
    }
}

/// The refusal of a text that must not be readable.
#[track_caller]
fn refusal<Q: Typeable>(text: &str) -> EntryProblem {
    match read::<Q>(text) {
        Ok(typed) => panic!("{text:?} was read as {}", typed.value),
        Err(problem) => problem,
    }
}

// Ranges

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

// JSON

#[track_caller]
fn assert_json<Q: Typeable>(value: Q, text: &str) {
    assert_eq!(serde_json::to_string(&value).unwrap(), text);
    assert_eq!(serde_json::from_str::<Q>(text).unwrap(), value);
}

#[test]
fn a_quantity_is_its_bare_integer_in_json_and_checked_when_read() {
    assert_json(Volume::from_ml(12_500).unwrap(), "12500");
    assert_json(Temperature::from_millicelsius(-37_000).unwrap(), "-37000");
    assert_json(Distance::MAX, "10000000000");
    let problem = serde_json::from_str::<Vacuum>("101326").unwrap_err();
    assert!(
        problem.to_string().starts_with("vacuum is 101.326 kPa"),
        "{problem}"
    );
    for text in ["1.5", "\"12\"", "null", "1e3", "99999999999999999999"] {
        assert!(serde_json::from_str::<Volume>(text).is_err(), "{text}");
    }
}

#[test]
fn a_typed_quantity_keeps_the_text_beside_the_integer() {
    let typed = read::<Volume>("  12,5 L ").unwrap();
    let text = r#"{"typed":"12,5 L","ml":12500}"#;
    assert_eq!(serde_json::to_string(&typed).unwrap(), text);
    assert_eq!(serde_json::from_str::<Typed<Volume>>(text).unwrap(), typed);
    let other_order = r#"{"ml":12500,"typed":"12,5 L"}"#;
    assert_eq!(
        serde_json::from_str::<Typed<Volume>>(other_order).unwrap(),
        typed
    );
    for refused in [
        r#"{"typed":"12,5 L"}"#,
        r#"{"ml":12500}"#,
        r#"{"typed":"12,5 L","ml":-1}"#,
        r#"{"typed":"12,5 L","pa":12500}"#,
        r#"{"typed":"12,5 L","ml":12500,"l":12}"#,
        r#"{"typed":"12,5 L","ml":12500,"ml":12500}"#,
        "12500",
    ] {
        assert!(
            serde_json::from_str::<Typed<Volume>>(refused).is_err(),
            "{refused}"
        );
    }
}

#[test]
fn each_quantity_has_its_own_json_key() {
    fn keyed<Q: Typeable>(text: &str) -> String {
        serde_json::to_string(&read::<Q>(text).unwrap()).unwrap()
    }
    for (found, expected) in [
        (keyed::<Mass>("1 kg"), r#"{"typed":"1 kg","g":1000}"#),
        (
            keyed::<Density>("1.05 kg/L"),
            r#"{"typed":"1.05 kg/L","g_per_m3":1050000}"#,
        ),
        (
            keyed::<Temperature>("-37 C"),
            r#"{"typed":"-37 C","millicelsius":-37000}"#,
        ),
        (
            keyed::<TemperatureDifference>("9 °F"),
            r#"{"typed":"9 °F","millikelvin":5000}"#,
        ),
        (
            keyed::<GaugePressure>("1 bar"),
            r#"{"typed":"1 bar","pa":100000}"#,
        ),
        (
            keyed::<AbsolutePressure>("1 bar"),
            r#"{"typed":"1 bar","pa":100000}"#,
        ),
        (
            keyed::<Vacuum>("67 kPa"),
            r#"{"typed":"67 kPa","pa":67000}"#,
        ),
        (
            keyed::<FractionByVolume>("48 %"),
            r#"{"typed":"48 %","millionths":480000}"#,
        ),
        (
            keyed::<FractionByMass>("48 %"),
            r#"{"typed":"48 %","millionths":480000}"#,
        ),
        (keyed::<Distance>("2 km"), r#"{"typed":"2 km","m":2000}"#),
        (keyed::<RunningTime>("2 h"), r#"{"typed":"2 h","s":7200}"#),
    ] {
        assert_eq!(found, expected);
    }
}

// What people type

#[test]
fn volumes_are_read_in_every_usual_way() {
    for (text, ml) in [
        ("12.5 L", 12_500),
        ("12,5 l", 12_500),
        ("12.5L", 12_500),
        ("12.5 litres", 12_500),
        ("1 liter", 1_000),
        ("500 mL", 500),
        ("500 ML", 500),
        ("1 gal", 3_785),
        ("1 Gallon", 3_785),
        ("2 US gal", 7_571),
        ("2 U.S. gal.", 7_571),
        ("4 qt", 3_785),
        ("8 pt", 3_785),
        ("128 fl. oz.", 3_785),
        ("0,900 L", 900),
        ("1.500 L", 1_500),
        ("1,500 L", 1_500),
        ("1.234,5 L", 1_234_500),
        ("1,234.5 L", 1_234_500),
        ("1 234,5 L", 1_234_500),
        ("1\u{A0}234,5\u{A0}L", 1_234_500),
        ("1\u{2009}234.5 L", 1_234_500),
        ("1\u{202F}234 L", 1_234_000),
        ("1'234.5 L", 1_234_500),
        ("1\u{2019}234,5 L", 1_234_500),
        ("1,000,000 mL", 1_000_000),
        ("1.000.000 mL", 1_000_000),
        ("+3 L", 3_000),
        (".5 L", 500),
        ("007 L", 7_000),
        ("0.0005 L", 1),
        ("0.00049 L", 0),
        ("0.000000000000 L", 0),
        ("-0 L", 0),
        ("1000000 L", 1_000_000_000),
    ] {
        assert_eq!(raw::<Volume>(text), ml, "{text}");
    }
}

#[test]
fn temperatures_are_read_with_either_minus() {
    for (text, millicelsius) in [
        ("-34 °F", -36_667),
        ("\u{2212}34°F", -36_667),
        ("\u{2212} 34 F", -36_667),
        ("-37 °C", -37_000),
        ("-37 ºC", -37_000),
        ("-37 ℃", -37_000),
        ("-34 ℉", -36_667),
        ("-40 deg F", -40_000),
        ("-36,9c", -36_900),
        ("+3 °C", 3_000),
        ("273.15 K", 0),
        ("32 °F", 0),
        ("212 °F", 100_000),
    ] {
        assert_eq!(raw::<Temperature>(text), millicelsius, "{text}");
    }
    assert_eq!(raw::<TemperatureDifference>("1.8 °F"), 1_000);
    assert_eq!(raw::<TemperatureDifference>("-2 K"), -2_000);
}

#[test]
fn pressures_and_vacuums_keep_to_their_own_units() {
    for (text, pa) in [
        ("15 psi", 103_421),
        ("15 psig", 103_421),
        ("103.4 kPa", 103_400),
        ("1,034 bar", 103_400),
        ("-20 kPa gauge", -20_000),
        ("250 Pa", 250),
    ] {
        assert_eq!(raw::<GaugePressure>(text), pa, "{text}");
    }
    for (text, pa) in [
        ("14.7 psia", 101_353),
        ("101.3 kPa abs", 101_300),
        ("29.92 inHg", 101_321),
        ("760 mmHg", 101_325),
    ] {
        assert_eq!(raw::<AbsolutePressure>(text), pa, "{text}");
    }
    for (text, pa) in [
        ("20 inHg", 67_728),
        ("20 in Hg", 67_728),
        ("20 in. Hg", 67_728),
        ("20\"Hg", 67_728),
        ("508 mmHg", 67_728),
        ("67.7 kPa vacuum", 67_700),
        ("67.7 kPa (vacuum)", 67_700),
        ("20 inHg vac.", 67_728),
        ("0.5 bar", 50_000),
    ] {
        assert_eq!(raw::<Vacuum>(text), pa, "{text}");
    }
    for refused in ["20 inHg", "15 psia", "15 kPa absolute", "15 kPa vacuum"] {
        let problem = refusal::<GaugePressure>(refused);
        assert!(
            matches!(problem, EntryProblem::OtherQuantity { .. }),
            "{problem}"
        );
    }
    assert!(matches!(
        refusal::<Vacuum>("10 psig"),
        EntryProblem::OtherQuantity { .. }
    ));
}

#[test]
fn strengths_masses_and_meters_are_read() {
    for text in [
        "48 %",
        "48%",
        "48,0 %",
        "48 vol %",
        "48 vol%",
        "48 % by volume",
    ] {
        assert_eq!(raw::<FractionByVolume>(text), 480_000, "{text}");
    }
    for text in ["48 %", "48 wt%", "48 mass %", "48 % by mass"] {
        assert_eq!(raw::<FractionByMass>(text), 480_000, "{text}");
    }
    assert_eq!(raw::<Mass>("1 lb"), 454);
    assert_eq!(raw::<Mass>("42.5 kg"), 42_500);
    assert_eq!(raw::<Mass>("1,5 KG"), 1_500);
    assert_eq!(raw::<Density>("1045 kg/m³"), 1_045_000);
    assert_eq!(raw::<Density>("1.045 g/mL"), 1_045_000);
    assert_eq!(raw::<Distance>("75,400 mi"), 121_344_538);
    assert_eq!(raw::<RunningTime>("8210.3 hours"), 29_557_080);
    assert_eq!(raw::<RunningTime>("90 min"), 5_400);
}

#[test]
fn a_lone_comma_before_three_digits_groups_meters_and_parts_everything_else() {
    for (text, m) in [
        ("121,400 km", 121_400_000),
        ("88,210 km", 88_210_000),
        ("9,999 m", 9_999),
        ("0,900 km", 900),
        ("1.500 km", 1_500),
        ("1234,567 km", 1_234_567),
        ("12,5 km", 12_500),
        ("121,4000 km", 121_400),
        ("1,234,567 km", 1_234_567_000),
        ("121,400.5 km", 121_400_500),
        ("121.400,5 km", 121_400_500),
        ("121 400,500 km", 121_400_500),
        ("121 400 km", 121_400_000),
    ] {
        assert_eq!(raw::<Distance>(text), m, "{text}");
    }
    assert_eq!(raw::<RunningTime>("8,210 h"), 8_210 * 3_600);
    assert_eq!(raw::<RunningTime>("8.210 h"), 29_556);
    assert_eq!(raw::<Volume>("121,400 L"), 121_400);
    assert_eq!(raw::<Mass>("1,200 kg"), 1_200);
    assert_eq!(raw::<GaugePressure>("1,200 Pa"), 1);
}

#[test]
fn a_preset_unit_serves_only_where_none_was_typed() {
    let gallon = Unit::<Volume>::US_GALLON;
    let preset = |text| read_with_default_unit::<Volume>(text, gallon).unwrap();
    assert_eq!(preset(" 12.5 ").value.ml(), 47_318);
    assert_eq!(preset(" 12.5 ").typed, "12.5 US gal");
    assert_eq!(preset("12.5 L").value.ml(), 12_500);
    assert_eq!(preset("12.5 L").typed, "12.5 L");
    let problem = read_with_default_unit::<Volume>("12.5 psi", gallon).unwrap_err();
    assert!(matches!(problem, EntryProblem::OtherQuantity { .. }));
    let again = read::<Volume>(&preset("12.5").typed).unwrap();
    assert_eq!(again, preset("12.5"), "what is kept can be read again");
}

/// What may be typed for a volume, and what is answered.
const REFUSALS: &[(&str, &str)] = &[
    ("", "no volume was typed, write it like 12.5 L"),
    (" \u{A0}\t", "no volume was typed, write it like 12.5 L"),
    (
        "ten litres",
        "\"ten litres\" does not begin with a number, write it like 12.5 L",
    ),
    (
        "NaN",
        "\"NaN\" does not begin with a number, write it like 12.5 L",
    ),
    (
        "-inf L",
        "\"-inf L\" does not begin with a number, write it like 12.5 L",
    ),
    (
        "--5 L",
        "\"--5 L\" does not begin with a number, write it like 12.5 L",
    ),
    (
        "1e400",
        "\"1e400\" has a power of ten in it, write the number out in full",
    ),
    (
        "1E-3 L",
        "\"1E-3 L\" has a power of ten in it, write the number out in full",
    ),
    (
        "10^18 L",
        "\"10^18 L\" has a power of ten in it, write the number out in full",
    ),
    (
        "１２ L",
        "the number has \"１\" in it, only the digits 0 to 9 are read",
    ),
    (
        "1２ L",
        "the number has \"２\" in it, only the digits 0 to 9 are read",
    ),
    (
        "12½ L",
        "the number has \"½\" in it, only the digits 0 to 9 are read",
    ),
    (
        "٣ L",
        "the number has \"٣\" in it, only the digits 0 to 9 are read",
    ),
    (
        "1.0000000000000000000000000000000000000001 L",
        "the number has 40 digits after the decimal mark, the most read is 12",
    ),
    (
        "1000000000000000000 L",
        "the number has 19 digits before the decimal mark, the most read is 15",
    ),
    (
        "100000000000000 L",
        "volume is 100,000,000,000,000.0 L, the most this server takes is 1,000,000.0 L",
    ),
    (
        "-1 L",
        "volume is −1.0 L, the least this server takes is 0.0 L",
    ),
    (
        "5\0 L",
        "the text has the unprintable character U+0000 in it, only printable ones are read",
    ),
    (
        "5 \u{FFFD}",
        "the text has the unprintable character U+FFFD in it, only printable ones are read",
    ),
    (
        "5\nL",
        "the text has the unprintable character U+000A in it, only printable ones are read",
    ),
    (
        "5 buckets",
        "\"buckets\" is not a known unit, volume is read in L, US gal, mL, qt, pt, fl oz",
    ),
    (
        "12 psi",
        "\"psi\" is a unit of gauge pressure, volume is read in L, US gal, mL, qt, pt, fl oz",
    ),
    ("12.5", "say the unit: 12.5 L or 12.5 US gal"),
    (
        "1,23.5 L",
        "\"1,23.5\" is not a number, write groups of three digits and one decimal mark, like 1,234.5",
    ),
];

#[test]
fn each_refusal_says_what_was_found_and_what_is_read() {
    for (text, message) in REFUSALS {
        assert_eq!(refusal::<Volume>(text).to_string(), *message, "{text:?}");
    }
    assert_eq!(
        refusal::<Volume>(&"1".repeat(101)).to_string(),
        "101 characters were typed, the most read is 100"
    );
    assert_eq!(
        refusal::<FractionByVolume>("48").to_string(),
        "say the unit: 48 %"
    );
    assert_eq!(
        refusal::<Vacuum>("20").to_string(),
        "say the unit: 20 inHg or 20 kPa"
    );
    assert_eq!(
        refusal::<FractionByVolume>("48 wt%").to_string(),
        "\"wt%\" is a unit of strength by mass, strength by volume is read in %"
    );
}

#[test]
fn a_number_grouped_wrongly_is_refused_rather_than_guessed() {
    for text in [
        "12 34 L",
        "1  234 L",
        "1234 567 L",
        "0 123 L",
        "1 234'567 L",
        "1.234 567,8 L",
        "1,234,56 L",
        "1.2.3 L",
        "1.234,567,8 L",
        "1,234.567.8 L",
        "12. L",
        "1 234 .5 L",
        "1,,234 L",
        ",123,456 L",
        "3 1 L",
    ] {
        let problem = refusal::<Volume>(text);
        assert!(
            matches!(problem, EntryProblem::Misgrouped { .. }),
            "{text}: {problem}"
        );
    }
}

/// Reads a text as every quantity; what is read lies in its range and keeps the text.
fn read_as_everything(text: &str) {
    fn check<Q: Typeable>(text: &str) {
        for found in [
            read::<Q>(text),
            read_with_default_unit::<Q>(text, *Q::UNITS.first().unwrap()),
        ] {
            match found {
                Ok(typed) => {
                    assert_eq!(Q::from_raw(typed.value.raw()), Ok(typed.value));
                    assert!(typed.typed.starts_with(text.trim()));
                }
                Err(problem) => assert!(!problem.to_string().is_empty()),
            }
        }
    }
    check::<Volume>(text);
    check::<Mass>(text);
    check::<Density>(text);
    check::<Temperature>(text);
    check::<TemperatureDifference>(text);
    check::<GaugePressure>(text);
    check::<AbsolutePressure>(text);
    check::<Vacuum>(text);
    check::<FractionByVolume>(text);
    check::<FractionByMass>(text);
    check::<Distance>(text);
    check::<RunningTime>(text);
}

/// A whole number in groups of three.
fn grouped(whole: i64, mark: &str) -> String {
    let digits = whole.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push_str(mark);
        }
        text.push(digit);
    }
    text
}

proptest! {
    #![proptest_config(without_files())]

    #[test]
    fn no_text_brings_the_reader_down(text in any::<String>()) {
        read_as_everything(&text);
    }

    #[test]
    fn no_text_that_looks_like_a_number_does_either(
        text in "[-+−]?[0-9.,' \u{A0}\u{202F}e^²½]{0,40} ?(|L|gal|fl oz|°F|K|psi|inHg|%|km|h|lb|kg/m³|[a-z%°]{1,4})",
    ) {
        read_as_everything(&text);
    }

    #[test]
    fn every_way_to_group_a_number_reads_the_same(
        ml in 0..=1_000_000_000_i64,
        style in prop::sample::select(vec![
            ("", "."), ("", ","), (",", "."), (".", ","), (" ", "."), (" ", ","),
            ("\u{A0}", ","), ("\u{2009}", "."), ("\u{202F}", ","), ("'", "."), ("\u{2019}", ","),
        ]),
    ) {
        let (mark, decimal) = style;
        let text = format!("{}{decimal}{:03} L", grouped(ml / 1000, mark), ml % 1000);
        prop_assert_eq!(raw::<Volume>(&text), i128::from(ml));
    }
}

// What people see

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
        }
        check::<RunningTime>(s);
    }
}

// Factors

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
