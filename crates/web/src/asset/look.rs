//! The colours of `app.css` are those agreed on, and can be told apart in every look.
//!
//! The contrasts are those of WCAG 2.2 (relative luminance, contrast ratio). Text must reach 7:1,
//! values 13:1, borders and shapes 3:1.

use std::collections::BTreeMap;

use serde_json::Value;

const STYLE: &str = include_str!("../../../../static/app.css");
const PAPER: &str = include_str!("../../../../static/print.css");
const TOKENS: &str = include_str!("../../tokens.json");

/// Name of a token and its colour, such as "#162228".
type Colours = BTreeMap<String, String>;

fn tokens(look: &str) -> Colours {
    let all: Value = serde_json::from_str(TOKENS).unwrap();
    let look = all[look].as_object().unwrap();
    look.iter()
        .map(|(name, colour)| (name.clone(), colour.as_str().unwrap().to_lowercase()))
        .collect()
}

/// The colours set in the first block after this selector.
fn set_under(selector: &str) -> Colours {
    let opening = format!("{selector} {{");
    let (_, after) = STYLE.split_once(&opening).expect(selector);
    let (block, _) = after.split_once('}').unwrap();
    block
        .split(';')
        .filter_map(|set| set.trim().strip_prefix("--")?.split_once(':'))
        .map(|(name, value)| (name.to_owned(), in_full(value.trim())))
        .filter(|(_, value)| value.starts_with('#'))
        .collect()
}

/// `#fff` is short for `#ffffff`.
fn in_full(colour: &str) -> String {
    match colour.strip_prefix('#') {
        Some(digits) if digits.len() == 3 => {
            let twice = digits.chars().flat_map(|digit| [digit, digit]);
            ['#'].into_iter().chain(twice).collect()
        }
        _ => colour.to_owned(),
    }
}

fn luminance(colour: &str) -> f64 {
    let channel = |from: usize| {
        let byte = u8::from_str_radix(&colour[from..from + 2], 16).unwrap();
        let share = f64::from(byte) / 255.0;
        if share <= 0.04045 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

fn contrast(one: &str, other: &str) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// Each look with all its colours, as a browser puts them together.
fn looks() -> [(&'static str, Colours); 4] {
    let day = set_under(":root");
    let over_day = |selector: &str| {
        let mut colours = day.clone();
        colours.extend(set_under(selector));
        colours
    };
    [
        ("day", day.clone()),
        ("night", over_day(":root[data-look=\"night\"]")),
        ("bright light", over_day(":root[data-look=\"bright\"]")),
        ("more contrast", over_day(MORE_CONTRAST)),
    ]
}

const MORE_CONTRAST: &str = ":root:not([data-look=\"day\"], [data-look=\"night\"])";
const DARK_DEVICE: &str =
    ":root:not([data-look=\"day\"], [data-look=\"night\"], [data-look=\"bright\"])";

#[test]
fn a_contrast_is_worked_out_as_the_guideline_does() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    // Mid grey on white: 4.54:1 is the known figure of the first grey that passes 4.5:1.
    assert!((contrast("#767676", "#ffffff") - 4.54).abs() < 0.005);
}

#[test]
fn every_token_stands_in_the_style_sheet_by_day_and_by_night() {
    assert_eq!(set_under(":root"), tokens("day"));
    assert_eq!(set_under(":root[data-look=\"night\"]"), tokens("night"));
    assert_eq!(set_under(DARK_DEVICE), tokens("night"));
}

#[test]
fn more_contrast_looks_like_bright_light() {
    assert_eq!(
        set_under(MORE_CONTRAST),
        set_under(":root[data-look=\"bright\"]")
    );
}

#[test]
fn what_is_read_stands_out_from_what_it_is_written_on() {
    for (look, colours) in looks() {
        for ground in ["paper", "sheet"] {
            for (mark, least) in [("ink", 13.0), ("ink2", 7.0), ("act", 7.0), ("line", 3.0)] {
                let found = contrast(&colours[mark], &colours[ground]);
                assert!(found >= least, "{look}: {mark} on {ground} is {found:.2}:1");
            }
        }
        for ground in [
            "ok-bg", "watch-bg", "stop-bg", "wait-bg", "none-bg", "act-bg",
        ] {
            let found = contrast(&colours["ink"], &colours[ground]);
            assert!(found >= 7.0, "{look}: ink on {ground} is {found:.2}:1");
        }
    }
}

/// A shape has an ink outline besides, and the hand of the clock is drawn in ink on its face.
#[test]
fn every_shape_stands_out_from_the_sheet() {
    for (look, colours) in looks() {
        for shape in [
            "ok", "watch", "stop", "wait", "none", "s-in", "s-reuse", "s-waste", "s-ship",
        ] {
            let found = contrast(&colours[shape], &colours["sheet"]);
            assert!(found >= 3.0, "{look}: {shape} on the sheet is {found:.2}:1");
        }
        let hand = contrast(&colours["ink"], &colours["wait"]);
        assert!(
            hand >= 3.0,
            "{look}: the clock's hand on its face is {hand:.2}:1"
        );
    }
}

/// Hexadecimal colours outside the blocks above would escape the tests.
#[test]
fn no_colour_is_written_but_as_a_token() {
    for rule in [STYLE, PAPER].concat().split('}') {
        for set in rule.rsplit('{').next().unwrap_or_default().split(';') {
            let Some((name, value)) = set.split_once(':') else {
                continue;
            };
            let is_token = name.trim().starts_with("--");
            assert!(
                is_token || !value.contains('#') && !value.contains("rgb"),
                "use a token: {}",
                set.trim()
            );
        }
    }
}
