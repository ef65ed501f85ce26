//! Pressure test: what is kept, and what it proved.

use domain::gate::Breach::AboveRating;
use domain::job::{Account, Details};
use domain::pressure_test::PressureTest;

use super::paper::{Paper, Saved, place, text, unit_path};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

fn opened(shop: &Shop) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, ("3301", "pressure_test")).with_all(&[
        ("pressure_start", "108"),
        ("temperature_start", "41"),
        ("hold", "5"),
        ("pressure_end", "107"),
        ("temperature_end", "39.5"),
        ("gauge_step", "1"),
        ("leak_class", "1"),
        ("leak_place", "pump weep hole"),
    ])
}

/// Ten minutes at one temperature, with a gauge that shows half a kilopascal.
fn held(shop: &Shop, unit: &str, end: &str) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, (unit, "pressure_test")).with_all(&[
        ("pressure_start", "90"),
        ("temperature_start", "20"),
        ("hold", "10"),
        ("pressure_end", end),
        ("temperature_end", "20"),
        ("gauge_step", "0.5"),
    ])
}

fn recorded(saved: &Saved) -> &PressureTest {
    match &saved.job.details {
        Some(Details::PressureTest(test)) => test,
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_was_read_is_kept_and_a_leak_that_was_seen_is_one() {
    let shop = Shop::open();
    let path = unit_path(&shop, "3301", "pressure_test");
    let page = text(&shop.get(TECHNICIAN, &path).body);
    assert!(
        page.contains("Lowest rated part on record: 110.0 kPa."),
        "{page}"
    );
    assert!(page.contains("Judge it") && !page.contains("Show before and after"));
    // The air of its only loop stands in the form already.
    assert_eq!(opened(&shop).get("gas_volume"), "3 L");
    let saved = opened(&shop).saved(&shop, TECHNICIAN);
    assert!(saved.asked.is_empty() && saved.breaches().is_empty() && saved.job.lines.is_empty());
    assert_eq!(saved.job.place, Some(Account::Loop(place(&shop, "3301"))));
    let test = recorded(&saved);
    assert_eq!(
        (
            test.pressure_start.value.pa(),
            test.pressure_end.value.pa(),
            test.hold_s
        ),
        (108_000, 107_000, 300)
    );
    let warm = [&test.temperature_start, &test.temperature_end]
        .map(|at| at.as_ref().unwrap().value.millicelsius());
    assert_eq!(warm, [41_000, 39_500]);
    assert_eq!(test.gauge_step.as_ref().unwrap().value.pa(), 1_000);
    assert_eq!(test.gas_volume.as_ref().unwrap().value.ml(), 3_000);
    assert!(!test.tank_open && test.readings.is_empty());
    assert_eq!(test.leak_class.map(u8::from), Some(1));
    assert_eq!(test.leak_place.as_deref(), Some("pump weep hole"));
    let job = text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", saved.row.order.key))
            .body,
    );
    assert!(
        job.contains("Leaks A leak was seen outside: wet, no drops."),
        "{job}"
    );
    shop.book_is_closed();
}

#[test]
fn each_test_is_judged_before_it_is_saved_and_ever_after() {
    let shop = Shop::open();
    let test = |end: &str, more: &[(&str, &str)]| held(&shop, "3301", end).with_all(more);
    for (paper, word, said) in [
        (
            test("90", &[]),
            "Tight",
            "In 10 minutes it fell by no more than gauge and thermometer leave open: 0.0 kPa ±",
        ),
        (test("84", &[]), "Leaks", "In 10 minutes it fell 6.0 kPa ±"),
        (
            test("90", &[("temperature_start", "23")]),
            "Proves nothing",
            "With the temperature taken into account it rose by ",
        ),
        (
            test("83", &[("temperature_end", "15")]),
            "Proves nothing",
            "It got 5.0 °C cooler meanwhile",
        ),
        (
            test("89", &[("temperature_start", ""), ("temperature_end", "")]),
            "Proves nothing",
            "The temperature was not read at both ends: cooling by ",
        ),
        (
            test("84", &[("tank_open", "yes"), ("tank_air", "42")]),
            "Proves nothing",
            "The air of the cart's tank was left open to the loop: every leak looks 15.0 times smaller than it is",
        ),
        (
            test("90", &[("gauge_step", "")]),
            "Proves nothing",
            "Nobody wrote down the smallest step of the gauge",
        ),
        (
            test(
                "90",
                &[("between1_after", "5"), ("between1_pressure", "80")],
            ),
            "Proves nothing",
            "The readings between do not stand where the first and the last do: it was pressed up meanwhile.",
        ),
        (
            test("90", &[("hold", "3")]),
            "Proves nothing",
            "It stood still, but for 3 minutes only: to be called tight it is held for 5 minutes at least.",
        ),
        (
            test("20", &[("pressure_start", "20")]),
            "Proves nothing",
            "It stood still, but was not pressed high enough to tell: 55.0 kPa at least.",
        ),
        (
            test(
                "86",
                &[
                    ("between1_after", "2:30"),
                    ("between1_pressure", "88"),
                    ("between1_temperature", "20"),
                    ("between2_after", "5"),
                    ("between2_pressure", "86"),
                    ("between3_after", "7.5"),
                    ("between3_pressure", "86"),
                ],
            ),
            "Proves nothing",
            "It fell 4.0 kPa at first and stood still after 5 minutes",
        ),
    ] {
        let facts = shop.facts();
        let judged = paper.with("preview", "yes").send(&shop, TECHNICIAN);
        assert_eq!(judged.status, 200, "{}", judged.body);
        assert_eq!(shop.facts(), facts, "nothing is written");
        let shown = text(&judged.body);
        let whole = format!("What it proved {word} {said}");
        assert!(shown.contains(&whole), "{whole}: {shown}");
        assert!(shown.contains("Nothing is saved yet."));
        // What was typed is still there, and saved as it is.
        let saved = paper.shown_again(&judged).saved(&shop, TECHNICIAN);
        let page = shop
            .get(TECHNICIAN, &format!("/jobs/{}", saved.row.order.key))
            .body;
        assert!(text(&page).contains(&whole), "{page}");
        assert!(
            page.contains("<svg class=\"plot\"") && page.contains("<desc"),
            "{page}"
        );
        let unit = unit_path(&shop, "3301", "").replace("/jobs/", "");
        let unit = text(&shop.get(TECHNICIAN, &unit).body);
        assert!(
            unit.contains(&format!("Last pressure test {word} on 2026-10-05")),
            "{word}: {unit}"
        );
    }
    shop.book_is_closed();
}

#[test]
fn readings_between_stand_in_the_order_of_time_and_come_back_when_they_do_not() {
    let shop = Shop::open();
    let three = |after: [&str; 3]| {
        let names = ["between1_after", "between2_after", "between3_after"];
        let pressures = [
            ("between1_pressure", "89.5"),
            ("between2_pressure", "89.0"),
            ("between3_pressure", "88.5"),
        ];
        let times: Vec<(&str, &str)> = names.into_iter().zip(after).collect();
        held(&shop, "3301", "88")
            .with_all(&pressures)
            .with_all(&times)
    };
    let saved = three(["2", "4", "8"]).saved(&shop, TECHNICIAN);
    let test = recorded(&saved);
    let read: Vec<(i64, i64)> = test
        .readings
        .iter()
        .map(|reading| (reading.after_s, reading.pressure.value.pa()))
        .collect();
    assert_eq!(read, [(120, 89_500), (240, 89_000), (480, 88_500)]);
    for after in [
        ["2", "2", "8"],
        ["4", "2", "8"],
        ["2", "4", "10"],
        ["2", "4", "11"],
    ] {
        let problems = three(after).refused(&shop, TECHNICIAN).join("");
        assert!(
            problems.contains("in the order of time"),
            "{after:?}: {problems}"
        );
    }
    for alone in [("between2_pressure", "89"), ("between2_after", "5")] {
        let begun = held(&shop, "3301", "88").with(alone.0, alone.1);
        let problems = begun.refused(&shop, TECHNICIAN).join("");
        assert!(problems.contains("Reading 2"), "{alone:?}: {problems}");
    }
    let too_high = three(["2", "4", "8"]).with("between2_pressure", "111");
    let problems = too_high.refused(&shop, TECHNICIAN).join("");
    assert!(problems.contains("takes 110.0 kPa"), "{problems}");
    // Correcting it brings every reading back into its field.
    let again = Paper::open(
        &shop,
        TECHNICIAN,
        &format!("/jobs/{}/correct", saved.row.order.key),
    );
    for (name, value) in [
        ("between3_after", "480 s"),
        ("between3_pressure", "88.5 kPa"),
        ("between4_after", ""),
        ("gas_volume", "3 L"),
        ("gauge_step", "0.5 kPa"),
    ] {
        assert_eq!(again.get(name), value, "{name}");
    }
    shop.book_is_closed();
}

#[test]
fn a_unit_whose_last_test_leaked_is_not_ready_and_says_so() {
    let shop = Shop::open();
    let ready = shop.get(TECHNICIAN, "/units?status=ready").body;
    let number = ready
        .split("<th scope=\"row\"><a href=\"/units/")
        .filter_map(|row| row.split('>').nth(1)?.split('<').next())
        .find(|number| number.starts_with("33"))
        .expect("a snowplow is ready");
    let sentence = "Leaked in the pressure test of 2026-10-05";
    held(&shop, number, "80").saved(&shop, TECHNICIAN);
    let unit_page = unit_path(&shop, number, "").replace("/jobs/", "");
    let unit = text(&shop.get(TECHNICIAN, &unit_page).body);
    assert!(unit.contains(&format!("Check soon {sentence}")), "{unit}");
    let listed = |status: &str| {
        let page = shop
            .get(TECHNICIAN, &format!("/units?status={status}"))
            .body;
        page.contains(&format!(">{number}</a>"))
    };
    assert!(listed("check-soon") && !listed("ready"));
    let board = text(&shop.get(TECHNICIAN, "/").body);
    assert!(
        board.contains(sentence) && board.contains(&format!("Pressure test unit {number}")),
        "{board}"
    );
    // A later test that proves nothing clears nothing.
    held(&shop, number, "90")
        .with("temperature_end", "")
        .saved(&shop, TECHNICIAN);
    assert!(listed("check-soon") && !listed("ready"));
    let unit = text(&shop.get(TECHNICIAN, &unit_page).body);
    assert!(
        unit.contains(sentence) && unit.contains("Last pressure test Proves nothing"),
        "{unit}"
    );
    // A later test that holds takes it back.
    held(&shop, number, "90").saved(&shop, TECHNICIAN);
    assert!(listed("ready"));
    shop.book_is_closed();
}

#[test]
fn nothing_is_pressed_above_the_lowest_rated_part_and_what_happened_is_logged_with_its_mark() {
    let shop = Shop::open();
    for (pressure, found) in [("110.1", "110.1 kPa"), ("20 psi", "137.9 kPa")] {
        let paper = opened(&shop).with("pressure_start", pressure);
        let problems = paper.refused(&shop, TECHNICIAN).join("");
        assert!(
            problems.contains(found) && problems.contains("takes 110.0 kPa"),
            "{problems}"
        );
        let saved = paper.happened().saved(&shop, TECHNICIAN);
        assert_eq!(saved.breaches(), [AboveRating]);
    }
    let below = opened(&shop)
        .with("pressure_start", "0")
        .refused(&shop, TECHNICIAN)
        .join("");
    assert!(below.contains("a test starts above 0"), "{below}");
    for name in ["gauge_step", "gas_volume", "tank_air"] {
        let unread = opened(&shop).with(name, "0").refused(&shop, TECHNICIAN);
        assert!(unread.join("").contains("must be above 0"), "{unread:?}");
    }
    shop.book_is_closed();
}
