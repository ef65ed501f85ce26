//! JSON.

use super::*;

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
