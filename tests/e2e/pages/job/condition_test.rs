//! Condition test.

use domain::book::component::Base;
use domain::fleet::Tool;
use domain::job::{Doubt, Line, Looks, Measured, Reading};

use super::paper::{Paper, Saved, contents, place, text};
use crate::pages::form::Form;
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

/// Everything that can be read of one sample.
fn all_of_it(shop: &Shop) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, ("3310", "condition_test"))
        .with_all(&[
            ("freeze", "44"),
            ("ph", "8,2"),
            ("nitrite", "1450"),
            ("other_what", "molybdate"),
            ("other_value", "310"),
            ("other_unit", "ppm"),
            ("sample_point", "radiator petcock"),
            ("sample_temperature", "21"),
            ("warm", "yes"),
        ])
        .and("looks[]", "clear")
}

fn readings(saved: &Saved) -> Vec<&Reading> {
    let lines = saved.job.lines.iter();
    lines
        .map(|line| {
            let Line::Reading(reading) = line else {
                panic!()
            };
            reading
        })
        .collect()
}

#[test]
fn a_freeze_point_shifts_the_strength_and_other_readings_are_kept() {
    let shop = Shop::open();
    let sigma = contents(&shop, "3310").sigma_millionths;
    let paper = all_of_it(&shop);
    assert_eq!(
        (paper.get("freeze_sign"), paper.get("scale")),
        ("below", "instrument")
    );
    let said = text(&paper.with("preview", "yes").send(&shop, TECHNICIAN).body);
    assert!(
        said.contains("3310, freeze point \u{2212}43.4 °C ± 3.8 °C \u{2212}43.9 °C ± 1.1 °C"),
        "{said}"
    );
    let saved = paper.saved(&shop, TECHNICIAN);
    assert!(saved.asked.is_empty(), "{saved:?}");
    let all = readings(&saved);
    assert_eq!(all.len(), 4);
    assert_eq!(
        (all[0].tool, all[0].scale, all[0].warm),
        (Tool::Refractometer, Some(Base::Eg), Some(true))
    );
    assert!(all[0].instrument.is_some());
    assert_eq!(
        all[0]
            .sample_temperature
            .as_ref()
            .unwrap()
            .value
            .millicelsius(),
        21_000
    );
    let Measured::FreezePoint(freeze) = &all[0].measured else {
        panic!()
    };
    assert_eq!(freeze.value.millicelsius(), -44_000);
    let Measured::Other {
        what,
        typed,
        thousandths,
        ..
    } = &all[1].measured
    else {
        panic!()
    };
    assert_eq!(
        (what.as_str(), typed.as_str(), *thousandths),
        ("pH", "8,2", 8_200)
    );
    assert_eq!(
        (all[1].tool, all[1].instrument, all[2].tool),
        (Tool::Gauge, None, Tool::Strip)
    );
    assert_eq!(saved.job.looks, [Looks::Clear]);
    let held = contents(&shop, "3310");
    assert!(
        held.sigma_millionths < sigma && held.knowledge == "tested",
        "{held:?}"
    );
    shop.book_is_closed();
}

#[test]
fn a_reading_far_off_waits_and_is_asked_about_with_both_figures() {
    let shop = Shop::open();
    let before = contents(&shop, "3301").fraction_millionths;
    let saved = Paper::on_unit(&shop, TECHNICIAN, ("3301", "condition_test"))
        .with("strength", "40")
        .saved(&shop, TECHNICIAN);
    let (kind, found, expected) = &saved.asked[0];
    assert_eq!((kind.as_str(), *found), ("reading_far_off", 400_000));
    assert_eq!(*expected, before);
    assert_eq!(
        contents(&shop, "3301").fraction_millionths,
        before,
        "it moves nothing until it is answered"
    );
    shop.book_is_closed();
}

#[test]
fn one_reading_counts_once_and_at_least_one_is_needed() {
    let shop = Shop::open();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3301", "condition_test"));
    let refused =
        |values: &[(&str, &str)]| paper.with_all(values).refused(&shop, TECHNICIAN).join("\n");
    assert!(refused(&[]).contains("at least one reading is needed"));
    assert!(refused(&[("freeze", "44"), ("strength", "55")]).contains("one reading counts once"));
    assert!(
        refused(&[("at_or_below", "yes"), ("strength", "55")])
            .contains("no freeze point was typed")
    );
    assert!(
        refused(&[("instrument", "other"), ("strength", "55")]).contains("What kind of instrument")
    );
    assert!(refused(&[("tool", "strip"), ("strength", "55")]).contains("leave this empty"));
    assert!(
        refused(&[("other_value", "3"), ("strength", "55")]).contains("nothing says what it is of")
    );
    assert!(
        refused(&[("other_what", "x"), ("strength", "55")]).contains("No figure was typed for x")
    );
    assert!(refused(&[("ph", "14.5")]).contains("from 0 to 14"));
    shop.book_is_closed();
}

#[test]
fn the_end_of_a_scale_is_said_to_be_at_or_below() {
    let shop = Shop::open();
    let saved = Paper::on_vessel(&shop, TECHNICIAN, ("Cart A", "condition_test"))
        .with_all(&[
            ("instrument", "other"),
            ("tool", "hydrometer"),
            ("scale", "eg"),
            ("freeze", "37"),
            ("at_or_below", "yes"),
        ])
        .saved(&shop, TECHNICIAN);
    let all = readings(&saved);
    assert!(matches!(all[0].measured, Measured::FreezePointAtOrBelow(_)));
    assert_eq!(
        (all[0].tool, all[0].instrument, all[0].scale),
        (Tool::Hydrometer, None, Some(Base::Eg))
    );
    assert_eq!(all[0].place.place(), Some(place(&shop, "Cart A")));
    shop.book_is_closed();
}

#[test]
fn a_unit_with_several_loops_is_asked_which_and_has_its_high_voltage_named() {
    let shop = Shop::open();
    let path = super::paper::unit_path(&shop, "2203 battery", "condition_test");
    let page = shop.get(TECHNICIAN, &path).body;
    assert!(page.contains("High voltage (battery, traction)."), "{page}");
    let paper =
        Paper::open(&shop, TECHNICIAN, &path).with("loop", &place(&shop, "2203 cabin").to_string());
    let saved = paper
        .with_all(&[
            ("instrument", "other"),
            ("tool", "strip"),
            ("strength", "50"),
        ])
        .saved(&shop, TECHNICIAN);
    assert_eq!(saved.row.place, Some(place(&shop, "2203 cabin")));
    let stranger = paper
        .with("loop", &place(&shop, "3301").to_string())
        .with("strength", "50");
    assert!(
        stranger
            .refused(&shop, TECHNICIAN)
            .join("")
            .contains("The unit has no such loop")
    );
    shop.book_is_closed();
}

/// A strip lot past its day is offered, marked, and counts with more error; nothing is refused for it.
#[test]
fn what_is_read_with_an_instrument_out_of_date_is_kept_and_marked() {
    let shop = Shop::open();
    let card = [
        ("tag", "S-9"),
        ("tool", "strip"),
        ("scale", "none"),
        ("calibration_due", "2026-10-04"),
    ];
    let new = Form::open(&shop, As::Manager, "/settings/instruments/new").with_all(&card);
    new.saved(&shop, As::Manager);
    let listed = text(&shop.get(As::Manager, "/settings/instruments").body);
    assert!(listed.contains("2026-10-04, out of date"), "{listed}");
    let test = Paper::on_unit(&shop, TECHNICIAN, ("3310", "condition_test"));
    let lot = shop.read(async |read| {
        let unit = read.find_unit_by_number("3310").await.unwrap().unwrap();
        let all = read.list_instruments(unit.shop).await.unwrap();
        all.into_iter().find(|it| it.tag == "S-9").unwrap().id
    });
    let page = text(&shop.get(TECHNICIAN, &test.path).body);
    assert!(page.contains("out of date since 2026-10-04"), "{page}");
    let lot = lot.to_string();
    let read = test.with_all(&[("instrument", &lot), ("strength", "50"), ("nitrite", "900")]);
    let saved = read.saved(&shop, TECHNICIAN);
    let doubts: Vec<_> = readings(&saved).iter().map(|read| read.doubt).collect();
    assert_eq!(doubts, [Some(Doubt::OutOfDate); 2]);
    let page = text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", read.get("key")))
            .body,
    );
    assert!(page.contains("out of date when it was read"), "{page}");
    // On its last day, the day before, the same lot was good.
    let earlier = Paper::on_unit(&shop, TECHNICIAN, ("3311", "condition_test")).with_all(&[
        ("when", "earlier"),
        ("day", "2026-10-04"),
        ("time", "09:00"),
        ("instrument", &lot),
        ("strength", "50"),
    ]);
    let saved = earlier.saved(&shop, TECHNICIAN);
    assert_eq!(readings(&saved)[0].doubt, None);
    shop.book_is_closed();
}

/// A card that is set to a later day does not make an older reading better: the correction keeps the mark.
/// On another day, or with another instrument, it is looked at anew.
#[test]
fn a_correction_keeps_the_mark_of_its_instrument_and_day() {
    let shop = Shop::open();
    let card = |due| {
        [
            ("tag", "S-9"),
            ("tool", "strip"),
            ("scale", "none"),
            ("calibration_due", due),
        ]
    };
    let list = "/settings/instruments";
    let new = Form::open(&shop, As::Manager, "/settings/instruments/new");
    new.with_all(&card("2026-10-04")).saved(&shop, As::Manager);
    let lot = instrument(&shop, "3310", "S-9");
    let test = Paper::on_unit(&shop, TECHNICIAN, ("3310", "condition_test"))
        .with_all(&[("instrument", &lot), ("strength", "50")]);
    let saved = test.saved(&shop, TECHNICIAN);
    assert_eq!(readings(&saved)[0].doubt, Some(Doubt::OutOfDate));
    let edit = Form::open(&shop, As::Manager, &format!("{list}/{lot}/edit"));
    edit.with_all(&card("2027-10-04")).saved(&shop, As::Manager);
    let path = format!("/jobs/{}/correct", test.get("key"));
    let page = shop.get(TECHNICIAN, &path);
    assert_eq!(page.status, 200, "{}", page.body);
    let corrected = test
        .shown_again(&page)
        .with_all(&[("strength", "51"), ("replace_reason", "misread")])
        .saved(&shop, TECHNICIAN);
    assert_eq!(readings(&corrected)[0].doubt, Some(Doubt::OutOfDate));
    // A new test is of the new card.
    let again = Paper::on_unit(&shop, TECHNICIAN, ("3312", "condition_test"))
        .with_all(&[("instrument", &lot), ("strength", "50")]);
    assert_eq!(readings(&again.saved(&shop, TECHNICIAN))[0].doubt, None);
    shop.book_is_closed();
}

fn instrument(shop: &Shop, unit: &str, tag: &str) -> String {
    let id = shop.read(async |read| {
        let unit = read.find_unit_by_number(unit).await.unwrap().unwrap();
        let all = read.list_instruments(unit.shop).await.unwrap();
        all.into_iter().find(|it| it.tag == tag).unwrap().id
    });
    id.to_string()
}

/// R-1 was checked this morning, R-3 a week ago, in the demonstration.
#[test]
fn a_zero_that_is_off_or_not_checked_is_told_before_typing_and_weighs_less() {
    let shop = Shop::open();
    let sheet = super::paper::unit_path(&shop, "3310", "condition_test");
    let told = |shop: &Shop| text(&shop.get(TECHNICIAN, &sheet).body);
    let page = told(&shop);
    let good = "zero checked on 2026-10-05, next due 2026-10-06";
    assert!(page.contains(good), "{page}");
    let late = "zero check due since 2026-09-29: read today, it counts with twice its error";
    assert!(page.contains(late), "{page}");
    let (one, other) = (
        instrument(&shop, "3310", "R-1"),
        instrument(&shop, "3310", "R-3"),
    );
    let test = |lot: &str| {
        Paper::on_unit(&shop, TECHNICIAN, ("3310", "condition_test"))
            .with_all(&[("instrument", lot), ("scale", "eg"), ("strength", "55")])
            .saved(&shop, TECHNICIAN)
    };
    assert_eq!(readings(&test(&one))[0].doubt, None);
    assert_eq!(
        readings(&test(&other))[0].doubt,
        Some(Doubt::ZeroNotChecked)
    );
    let path = format!("/instruments/{one}/zero");
    let check = |reads: &str, sign: &str| {
        Form::open(&shop, TECHNICIAN, &path)
            .with_all(&[("reads", reads), ("reads_sign", sign)])
            .saved(&shop, TECHNICIAN)
    };
    let leads_to = check("0.8", "below");
    assert_eq!(leads_to, path);
    let said = text(&shop.get(TECHNICIAN, &leads_to).body);
    let off = "off on 2026-10-05: it read \u{2212}0.8 °C on water";
    assert!(said.contains(off), "{said}");
    let page = told(&shop);
    assert!(
        page.contains(&format!(
            "{off}: read today, it counts with twice its error"
        )),
        "{page}"
    );
    assert_eq!(readings(&test(&one))[0].doubt, Some(Doubt::ZeroOff));
    let list = text(&shop.get(As::Manager, "/settings/instruments").body);
    assert!(list.contains(off), "{list}");
    let card = text(
        &shop
            .get(As::Manager, &format!("/settings/instruments/{one}/edit"))
            .body,
    );
    assert!(card.contains(off), "{card}");
    // Set to zero, and checked again.
    check("0", "below");
    assert_eq!(readings(&test(&one))[0].doubt, None);
    assert!(told(&shop).contains(good));
    let refused = Form::open(&shop, TECHNICIAN, &path)
        .with("reads", "water")
        .refused(&shop, TECHNICIAN);
    assert_eq!(refused.len(), 1, "{refused:?}");
    let strips = instrument(&shop, "3310", "S-2503 (strip lot)");
    let none = shop.get(TECHNICIAN, &format!("/instruments/{strips}/zero"));
    assert_eq!(none.status, 404);
    shop.book_is_closed();
}

/// Another program names the instrument by its tag, and the same is said of it.
#[test]
fn what_another_program_reads_is_marked_as_well() {
    let shop = Shop::open();
    let send = |key: u8, instrument: &str, tool: Option<&str>| {
        let mut job = serde_json::json!({
            "key": format!("0f8fad5b-d9cb-469f-a165-7086772895{key:02}"), "kind": "condition_test",
            "when": "2026-10-05 06:30", "unit": "3310", "reading": "55 %", "who": "P1",
            "instrument": instrument, "scale": "EG",
        });
        if let Some(tool) = tool {
            job["tool"] = tool.into();
        }
        let headers = [
            ("Content-Type", "application/json"),
            ("Accept", "application/json"),
        ];
        let sent = job.to_string();
        (
            shop.browser()
                .send(("POST", "/api/v1/jobs"), &headers, &sent),
            key,
        )
    };
    let doubt = |(answer, key): (crate::client::Answer, u8)| {
        assert_eq!(answer.status, 201, "{}", answer.body);
        let page = format!("/jobs/0f8fad5b-d9cb-469f-a165-7086772895{key:02}");
        text(&shop.get(TECHNICIAN, &page).body)
    };
    let page = doubt(send(1, "r-3", None));
    assert!(
        page.contains("its zero was not checked with water in time"),
        "{page}"
    );
    let page = doubt(send(2, "R-1", Some("refractometer")));
    assert!(
        page.contains("R-1") && !page.contains("twice its error"),
        "{page}"
    );
    for (key, tag, tool, said) in [
        (
            3,
            "R-77",
            None,
            "no instrument of Upper Yard (invented) has this tag",
        ),
        (
            4,
            "R-1",
            Some("strip"),
            "it is a refractometer, and tool says something else",
        ),
    ] {
        let (answer, _) = send(key, tag, tool);
        assert_eq!(answer.status, 422, "{}", answer.body);
        assert_eq!(answer.json()["problems"][0]["problem"], said);
    }
    shop.book_is_closed();
}
