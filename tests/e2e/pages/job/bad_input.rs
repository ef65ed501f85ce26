//! What cannot be read is never half taken: every field of every sheet, with everything that people
//! and broken programs put into fields.

use super::paper::{Paper, fluid, place, problems};
use crate::client::Answer;
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

/// How a bad value travels, and what the page shows in its place.
struct Bad {
    name: &'static str,
    raw: String,
}

fn bad_values() -> Vec<Bad> {
    let bad = |name, raw: &str| Bad {
        name,
        raw: raw.to_owned(),
    };
    vec![
        bad("empty", ""),
        bad("words", "a+few"),
        bad("not a number", "NaN"),
        bad("infinite", "inf"),
        bad("negative", "-5"),
        bad("zero", "0"),
        bad("huge", "1000000000000000000"),
        bad("40 decimals", &format!("0.{}1", "0".repeat(39))),
        bad("NUL", "5%00"),
        bad("bad UTF-8", "5%FF%FE"),
        bad("1 MB", &"x".repeat(1_000_000)),
    ]
}

/// What a field takes although it looks bad: an optional one nothing at all, a temperature less than
/// zero, a note any words.
fn takes((path, field): (&str, &str), bad: &str) -> bool {
    const WORDS: &[&str] = &[
        "words",
        "not a number",
        "infinite",
        "negative",
        "zero",
        "huge",
        "40 decimals",
    ];
    let (list, kinds): (&[&str], &[&str]) = match field {
        "note" | "leak_place" | "sample_point" | "other_unit" | "thread_recorded" | "agent"
        | "lot" => (&["empty"], WORDS),
        "leak_class" if path.ends_with("/fit_coupling") => (&["zero"], &[]),
        // A figure alone is not enough; there must be a name for it.
        "other_what" | "port" | "thread_found" | "part" | "cause" | "bottle" | "tests" => {
            (&[], WORDS)
        }
        "temperature" | "temperature_start" | "temperature_end" | "sample_temperature"
        | "drain_temperature" => (&["empty", "negative", "zero"], &[]),
        // Nothing typed is not passed over here: the gate asks for it.
        "gate_temperature" | "gate_pressure" | "freeze" => (&["negative", "zero"], &[]),
        "distance" | "hours" | "nitrite" | "ph" | "leak_class" | "additive_units" | "price" => {
            (&["empty", "zero"], &[])
        }
        "strength" | "other_value" | "vacuum_end" | "pressure_end" | "left" => (&["zero"], &[]),
        "gauge_step" | "second_volume" | "second_to" | "warm" | "looks[]" | "time" | "opened"
        | "hold_from" | "gas_volume" | "tank_open" | "tank_air" | "happened"
        | "after_heat_cycle" | "at_or_below" | "vacuum" | "lost" | "minutes" | "vacuum_valve"
        | "replaced_by" | "alike" => (&["empty"], &[]),
        // Of a top-up it must be known.
        "mark" if !path.ends_with("/top_up") => (&["empty"], &[]),
        // Nothing may have been drained; what was typed about it is then named instead.
        "drain_volume" if path.ends_with("/correct") => (&["zero"], &[]),
        // A vessel may be found empty.
        "volume" if path.ends_with("/dip") => (&["zero"], &[]),
        field if field.ends_with("_unit") || field.ends_with("_sign") => (&["empty"], &[]),
        field if field.starts_with("between") && field.ends_with("_temperature") => {
            (&["empty", "negative", "zero"], &[])
        }
        field if field.starts_with("between") && field.ends_with("_pressure") => (&["zero"], &[]),
        _ => (&[], &[]),
    };
    list.contains(&bad) || kinds.contains(&bad)
}

/// Fields that need another beside them before they are looked at, and what is put there.
fn beside(field: &str) -> &'static [(&'static str, &'static str)] {
    match field {
        "second_to" | "second_volume" => &[("second_volume", "1")],
        "day" | "time" => &[("when", "earlier")],
        "other_what" | "other_value" | "other_unit" => &[
            ("other_what", "molybdate"),
            ("other_value", "3"),
            ("other_unit", "ppm"),
        ],
        "strength" | "strength_unit" => &[("freeze", "")],
        "freeze" | "freeze_unit" | "freeze_sign" => &[("strength", "")],
        "tool" => &[("instrument", "other")],
        _ => &[],
    }
}

/// One sheet filled in so that it would be saved.
fn sheets(shop: &Shop) -> Vec<Paper> {
    let cart = place(shop, "Cart A").to_string();
    let waste = place(shop, "D-6").to_string();
    let unit = |kind: &str, values: &[(&str, &str)]| {
        Paper::on_unit(shop, TECHNICIAN, ("3301", kind)).with_all(values)
    };
    let vessel = |kind: &str, values: &[(&str, &str)]| {
        Paper::on_vessel(shop, TECHNICIAN, ("Cart A", kind)).with_all(values)
    };
    let opened = |kind: &str, values: &[(&str, &str)]| {
        unit(kind, &[("gate_temperature", "30"), ("gate_pressure", "0")]).with_all(values)
    };
    let exchanged = [
        ("gate_temperature", "30"),
        ("gate_pressure", "0"),
        ("drain_volume", "1"),
        ("to", &cart),
        ("second_to", &waste),
        ("second_volume", "1"),
        ("volume", "1"),
    ];
    vec![
        unit("top_up", &[("volume", "1")]),
        unit(
            "recover",
            &[
                ("gate_temperature", "30"),
                ("gate_pressure", "0"),
                ("volume", "1"),
                ("to", &cart),
                ("second_to", &waste),
                ("second_volume", "1"),
            ],
        ),
        unit(
            "fill",
            &[
                ("how", "vacuum"),
                ("vacuum_start", "60"),
                ("vacuum_end", "60"),
                ("hold", "5"),
                ("volume", "1"),
                ("source", &cart),
            ],
        ),
        unit("exchange", &exchanged),
        unit("correct", &exchanged),
        unit("condition_test", &[("freeze", "44")]),
        unit(
            "pressure_test",
            &[
                ("pressure_start", "100"),
                ("hold", "5"),
                ("pressure_end", "100"),
                ("between1_after", "1"),
                ("between1_pressure", "100"),
                ("between2_after", "2"),
                ("between2_pressure", "100"),
                ("between3_after", "3"),
                ("between3_pressure", "100"),
                ("between4_after", "4"),
                ("between4_pressure", "100"),
            ],
        ),
        unit(
            "fit_coupling",
            &[
                ("gate_temperature", "30"),
                ("gate_pressure", "0"),
                ("port", "radiator drain"),
                ("thread_found", "3/8-18 NPT"),
                ("leak_class", "0"),
            ],
        ),
        opened(
            "flush",
            &[
                ("rinses", "2"),
                ("water", "1"),
                ("to", &waste),
                ("volume", "1"),
            ],
        ),
        opened(
            "cap_test",
            &[("stamped", "110"), ("opened_at", "108"), ("holds", "yes")],
        ),
        opened("filter_change", &[("charged", "no")]),
        unit("leak_repair", &[("part", "hose"), ("cause", "worn")]),
        unit("sample", &[("bottle", "B-1"), ("tests", "pH")]),
        unit("spill", &[("volume", "1")]),
        vessel("move", &[("volume", "1"), ("to", &waste)]),
        vessel("inspect", &[("passed", "yes"), ("next_due", "2027-10-05")]),
        Paper::on_vessel(shop, TECHNICIAN, ("D-1", "receive")).with_all(&[
            ("fluid", &fluid(shop, "premix EG 55 % OAT")),
            ("volume", "1"),
        ]),
        vessel("dip", &[("volume", "12")]),
        vessel("condition_test", &[("strength", "55")]),
        vessel(
            "clean_out",
            &[
                ("rinses", "2"),
                ("volume", "1"),
                ("to", &waste),
                ("happened", "yes"),
            ],
        ),
    ]
}

/// The names of everything on a page that can be chosen or ticked, or typed.
fn all_fields(shop: &Shop, paper: &Paper) -> Vec<(String, bool)> {
    let page = shop.get(TECHNICIAN, &paper.path).body;
    let form = page.split("<form id=\"job\"").nth(1).unwrap();
    let form = form.split("</form>").next().unwrap();
    let mut names: Vec<String> = form
        .split(" name=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .filter(|name| !matches!(name.as_str(), "preview" | "not_me"))
        .collect();
    names.sort();
    names.dedup();
    let is_typed = |name: &str| {
        [" type=\"text\"", " rows="]
            .iter()
            .any(|rest| form.contains(&format!("id=\"{name}\" name=\"{name}\"{rest}")))
    };
    names
        .into_iter()
        .map(|name| (name.clone(), is_typed(&name)))
        .collect()
}

fn send_raw(shop: &Shop, paper: &Paper, (name, raw): (&str, &str)) -> Answer {
    let body = paper.travelling(name, raw);
    shop.with_browser(TECHNICIAN, |browser| {
        let origin = format!("http://{}", shop.program.address);
        let headers = [
            ("Origin", origin.as_str()),
            ("Content-Type", "application/x-www-form-urlencoded"),
        ];
        browser.send(("POST", &paper.path), &headers, &body)
    })
}

/// As the page is bound to show it: damaged bytes as replacement marks, held to a length.
fn shown(raw: &str) -> String {
    let text = raw
        .replace('+', " ")
        .replace("%00", "\u{FFFD}")
        .replace("%FF%FE", "\u{FFFD}\u{FFFD}");
    text.chars().take(4_200).collect()
}

#[test]
fn every_field_of_every_sheet_names_what_it_cannot_take_and_nothing_is_written() {
    let shop = Shop::open();
    let facts = shop.facts();
    let mut tried = 0;
    for paper in sheets(&shop) {
        for (field, is_typed) in all_fields(&shop, &paper) {
            let paper = paper.with_all(beside(&field));
            for bad in bad_values() {
                // Nobody types a megabyte into a box to tick.
                let skipped = bad.name == "1 MB" && !is_typed;
                if !skipped && !takes((&paper.path, &field), bad.name) {
                    is_refused(&shop, &paper, (&field, is_typed), &bad);
                    tried += 1;
                }
            }
        }
    }
    assert!(tried > 800, "{tried}");
    assert_eq!(shop.facts(), facts, "nothing was written");
    shop.book_is_closed();
}

/// The same page again, with what was typed and what is wrong with it.
fn is_refused(shop: &Shop, paper: &Paper, (field, is_typed): (&str, bool), bad: &Bad) {
    let said = format!("{} {field} {}", paper.path, bad.name);
    let answer = send_raw(shop, paper, (field, &bad.raw));
    assert_eq!(answer.status, 422, "{said}");
    assert!(answer.body.contains("<title>Not saved: "), "{said}");
    assert!(!answer.body.contains('\0'), "{said}");
    let named = problems(&answer.body);
    assert!(!named.is_empty(), "{said}");
    if is_typed {
        assert_eq!(
            paper.shown_again(&answer).get(field),
            shown(&bad.raw),
            "{said}"
        );
        let leads_there = answer.body.contains(&format!("href=\"#{field}\""));
        // What is wrong with two fields together leads to the first of them.
        let with_another = named.len() > 1 || ["time", "strength"].contains(&field);
        assert!(leads_there || with_another, "{said}: {named:?}");
    }
}

#[test]
fn what_would_be_saved_is_what_the_table_starts_from() {
    let shop = Shop::open();
    for paper in sheets(&shop) {
        paper.saved(&shop, TECHNICIAN);
    }
    shop.book_is_closed();
}

/// The attributes of an input, where the page tells what the server takes.
fn told(html: &str, field: &str) -> Option<(f64, f64, bool)> {
    let tag = html
        .split(&format!("<input class=\"w-10\" id=\"{field}\""))
        .nth(1)?;
    let tag = tag.split('>').next().unwrap();
    let value = |name: &str| {
        let at = tag.split(&format!("{name}=\"")).nth(1)?;
        at.split('"').next().unwrap().parse().ok()
    };
    Some((
        value("data-least")?,
        value("data-most")?,
        tag.contains("data-needed"),
    ))
}

/// A tablet without a network checks by what stands on the page; it must be what the server holds to.
#[test]
fn the_page_tells_a_tablet_what_the_server_takes() {
    let shop = Shop::open();
    let unit = |kind| Paper::on_unit(&shop, TECHNICIAN, ("3302", kind));
    let vessel = |kind| Paper::on_vessel(&shop, TECHNICIAN, ("Cart A", kind));
    for (paper, field, needed) in [
        (unit("top_up"), "volume", true),
        (unit("top_up"), "distance", false),
        (unit("top_up"), "hours", false),
        (unit("recover"), "gate_temperature", false),
        (unit("recover"), "gate_pressure", false),
        (unit("condition_test"), "strength", false),
        (unit("fill"), "volume", true),
        (vessel("move"), "volume", true),
        (vessel("dip"), "volume", false),
    ] {
        let page = shop.get(TECHNICIAN, &paper.path).body;
        let (least, most, said) = told(&page, field).unwrap();
        assert_eq!(said, needed, "{} {field}", paper.path);
        assert!(least < most);
        let refused = |typed: &str| {
            let answer = paper.with(field, typed).send(&shop, TECHNICIAN);
            answer.body.contains(&format!("id=\"{field}-problem\""))
        };
        // One more than the most is refused for its size alone; nothing at all where it is needed.
        let beyond = paper
            .with(field, &format!("{}", most + 1.0))
            .send(&shop, TECHNICIAN);
        assert_eq!(beyond.status, 422, "{} {field}", paper.path);
        assert!(
            refused(&format!("{}", most + 1.0)),
            "{} {field} above {most}",
            paper.path
        );
        assert!(
            refused(&format!("{}", least - 1.0)),
            "{} {field} below {least}",
            paper.path
        );
        assert!(!needed || refused(""), "{} {field} is needed", paper.path);
    }
}
