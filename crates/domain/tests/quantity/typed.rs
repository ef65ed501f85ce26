//! What people type.

use super::*;

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
    check::<Height>(text);
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
