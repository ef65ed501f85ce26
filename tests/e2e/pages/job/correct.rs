//! A recorded job on its form again, and the job that takes its place.

use domain::job::Job;

use super::paper::{Paper, Saved, contents, fluid, place, text, unit_path, vessel_path};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

/// The kinds that hold little more than fields of their own.
fn full_of_fields(shop: &Shop) -> Vec<Paper> {
    let unit = |kind: &str, values: &[(&str, &str)]| {
        Paper::on_unit(shop, TECHNICIAN, ("3305", kind))
            .with_all(&[("gate_temperature", "31"), ("gate_pressure", "0")])
            .with_all(values)
    };
    let without_gate = |kind: &str, values: &[(&str, &str)]| {
        Paper::on_unit(shop, TECHNICIAN, ("3305", kind)).with_all(values)
    };
    let vessel = |name: &str, kind: &str, values: &[(&str, &str)]| {
        Paper::on_vessel(shop, TECHNICIAN, (name, kind)).with_all(values)
    };
    let waste = place(shop, "D-6").to_string();
    let premix = fluid(shop, "premix EG 55 % OAT");
    let rinsed = [
        ("agent", "mild acid cleaner"),
        ("rinses", "3"),
        ("water", "1"),
        ("water_unit", "US gal"),
        ("to", &waste),
        ("volume", "3.5"),
        ("looks[]", "rust"),
        ("ph", "7.4"),
    ];
    let cap = [
        ("stamped", "16"),
        ("stamped_unit", "psi"),
        ("opened_at", "90"),
        ("holds", "no"),
        ("vacuum_valve", "no"),
        ("replaced_by", "110"),
    ];
    let delivered = [
        ("fluid", premix.as_str()),
        ("volume", "12"),
        ("temperature", "14"),
        ("lot", "L-77"),
        ("price", "50.4"),
    ];
    let cleaned = [
        ("rinses", "3"),
        ("volume", "9"),
        ("to", &waste),
        ("left", "0.5"),
        ("base", "PG"),
        ("class", "HOAT"),
        ("happened", "yes"),
    ];
    vec![
        unit("flush", &rinsed),
        unit("cap_test", &cap),
        unit(
            "filter_change",
            &[
                ("charged", "yes"),
                ("additive_units", "4.5"),
                ("happened", "yes"),
                ("note", "no other filter was at hand"),
            ],
        ),
        without_gate(
            "leak_repair",
            &[
                ("part", "pump"),
                ("cause", "seal worn"),
                ("watch_days", "14"),
            ],
        ),
        without_gate("sample", &[("bottle", "B-2"), ("tests", "pH, metals")]),
        without_gate("spill", &[("volume", "0.4")]),
        vessel("D-1", "receive", &delivered),
        vessel("Cart A", "spill", &[("volume", "0.2")]),
        vessel("Cart A", "sample", &[("bottle", "B-3"), ("tests", "pH")]),
        vessel(
            "Cart A",
            "inspect",
            &[("passed", "yes"), ("next_due", "2028-01-31")],
        ),
        vessel("D-8", "inspect", &[("passed", "no")]),
        vessel("Cart A", "clean_out", &cleaned),
    ]
}

/// A form of every kind with everything on it that the kind knows, and the path it is sent to.
fn full(shop: &Shop) -> Vec<Paper> {
    let unit = |kind: &str, values: &[(&str, &str)]| {
        Paper::open(shop, TECHNICIAN, &unit_path(shop, "3305", kind)).with_all(values)
    };
    let vessel = |kind: &str, values: &[(&str, &str)]| {
        Paper::open(shop, TECHNICIAN, &vessel_path(shop, "Cart A", kind)).with_all(values)
    };
    let cart = place(shop, "Cart A").to_string();
    let waste = place(shop, "D-6").to_string();
    let recovered = [
        ("gate_temperature", "95"),
        ("gate_temperature_unit", "°F"),
        ("gate_pressure", "0"),
        ("to", &cart),
        ("volume", "2.5"),
        ("volume_unit", "US gal"),
        ("second_to", &waste),
        ("second_volume", "1"),
        ("temperature", "34"),
        ("fit", "yes"),
        ("intent", "reclaim"),
        ("looks[]", "rust"),
    ];
    let filled = [
        ("how", "vacuum"),
        ("vacuum_start", "20"),
        ("vacuum_start_unit", "inHg"),
        ("vacuum_end", "65"),
        ("hold", "4:30"),
        ("source", &cart),
        ("volume", "3"),
        ("temperature", "21"),
    ];
    let tested = [
        ("instrument", "other"),
        ("tool", "hydrometer"),
        ("scale", "eg"),
        ("freeze", "31"),
        ("at_or_below", "yes"),
        ("ph", "8.1"),
        ("nitrite", "900"),
        ("other_what", "molybdate"),
        ("other_value", "12.5"),
        ("other_unit", "ppm"),
        ("sample_point", "petcock"),
        ("sample_temperature", "19"),
        ("warm", "no"),
        ("looks[]", "cloudy"),
    ];
    let held = [
        ("pressure_start", "15"),
        ("pressure_start_unit", "psi"),
        ("temperature_start", "40"),
        ("hold", "5"),
        ("pressure_end", "100"),
        ("temperature_end", "38"),
        ("gauge_step", "2"),
        ("leak_class", "2"),
        ("leak_place", "lower hose"),
    ];
    let exchanged = [
        ("gate_temperature", "31"),
        ("gate_pressure", "0"),
        ("to", &cart),
        ("drain_volume", "3"),
        ("drain_temperature", "88"),
        ("drain_temperature_unit", "°F"),
        ("second_to", &waste),
        ("second_volume", "2"),
        ("fit", "yes"),
        ("intent", "reclaim"),
        ("looks[]", "cloudy"),
        ("source", "water"),
        ("volume", "1.5"),
        ("volume_unit", "US gal"),
        ("temperature", "17"),
        ("mark", "not"),
    ];
    let fitted = [
        ("gate_temperature", "31"),
        ("gate_pressure", "0"),
        ("vacuum", "11"),
        ("vacuum_unit", "inHg"),
        ("port", "radiator drain"),
        ("thread_found", "M16×1.5"),
        ("thread_recorded", "3/8-18 NPT"),
        ("minutes", "52"),
        ("leak_class", "2"),
        ("lost", "0.3"),
    ];
    vec![
        unit("recover", &recovered),
        unit("exchange", &exchanged),
        unit("correct", &exchanged),
        unit(
            "correct",
            &[
                ("gate_temperature", "31"),
                ("gate_pressure", "0"),
                ("drain_volume", "0"),
                ("source", "not_known"),
                ("volume", "1"),
            ],
        ),
        unit("fit_coupling", &fitted),
        unit(
            "fit_coupling",
            &[
                ("gate_temperature", "31"),
                ("gate_pressure", "0"),
                ("port", "block drain"),
                ("thread_found", "M16×1.5"),
                ("leak_class", "not_checked"),
            ],
        ),
        unit("fill", &filled),
        unit(
            "fill",
            &[("how", "poured"), ("source", "not_known"), ("volume", "1")],
        ),
        unit(
            "top_up",
            &[
                ("source", "water"),
                ("volume", "1"),
                ("mark", "not"),
                ("after_heat_cycle", "yes"),
            ],
        ),
        unit("condition_test", &tested),
        unit("condition_test", &[("strength", "54.5")]),
        unit("pressure_test", &held),
        vessel(
            "move",
            &[("to", &waste), ("volume", "1"), ("temperature", "18")],
        ),
        vessel("dip", &[("volume", "11"), ("temperature", "18")]),
    ]
}

/// All that a form of its kind says.
fn said(job: &Job) -> Job {
    Job {
        replaces: None,
        note: None,
        ..job.clone()
    }
}

/// The form of a job that is on record, with the reason it is corrected for.
fn correction(shop: &Shop, (saved, first): (&Saved, &Paper)) -> Paper {
    let page = shop.get(TECHNICIAN, &format!("/jobs/{}/correct", first.get("key")));
    assert_eq!(page.status, 200, "{}: {}", first.path, page.body);
    assert!(
        !text(&page.body).contains("Show before and after"),
        "the first job still counts in the figures"
    );
    let paper = first.shown_again(&page);
    assert_eq!(paper.get("replaces"), first.get("key"), "{saved:?}");
    assert_ne!(paper.get("key"), first.get("key"));
    paper.with("replace_reason", "Wrong figure")
}

#[test]
fn every_kind_comes_back_on_its_form_as_it_was_recorded() {
    let shop = Shop::open();
    for first in full(&shop).into_iter().chain(full_of_fields(&shop)) {
        let saved = first.saved(&shop, TECHNICIAN);
        let mut paper = correction(&shop, (&saved, &first));
        if first.get("charged") == "yes" {
            paper = paper.happened();
        }
        let again = paper.saved(&shop, TECHNICIAN);
        assert_eq!(said(&again.job), said(&saved.job), "{}", first.path);
        assert!(again.row.replaces.is_some());
        // Sent again it is the same job still, although the first one does not count any more.
        let facts = shop.facts();
        paper.saved(&shop, TECHNICIAN);
        assert_eq!(shop.facts(), facts);
    }
    shop.book_is_closed();
}

#[test]
fn the_book_counts_the_second_job_and_keeps_the_first() {
    let shop = Shop::open();
    let drum = contents(&shop, "D-1").shown_ml;
    let first = Paper::on_unit(&shop, TECHNICIAN, ("3305", "top_up")).with_all(&[
        ("source", &place(&shop, "D-1").to_string()),
        ("volume", "5"),
        ("mark", "not"),
    ]);
    let saved = first.saved(&shop, TECHNICIAN);
    assert_eq!(contents(&shop, "D-1").shown_ml, drum - 5_000);
    let paper = correction(&shop, (&saved, &first)).with("volume", "0.5");
    let without_reason = paper
        .with("replace_reason", "")
        .refused(&shop, TECHNICIAN)
        .join("");
    assert!(
        without_reason.contains("Why is it corrected?"),
        "{without_reason}"
    );
    paper.saved(&shop, TECHNICIAN);
    assert_eq!(contents(&shop, "D-1").shown_ml, drum - 500);
    let page = shop.get(TECHNICIAN, &format!("/jobs/{}", first.get("key")));
    assert_eq!(page.status, 200);
    assert!(
        page.body.contains(&format!("/jobs/{}", paper.get("key"))),
        "the way to the job in its place"
    );
    // Once replaced, it cannot be replaced by a third.
    let third = paper.with("key", &uuid::Uuid::from_u128(7).to_string());
    let refused = third.refused(&shop, TECHNICIAN).join("");
    assert!(refused.contains("does not count any more"), "{refused}");
    shop.book_is_closed();
}
