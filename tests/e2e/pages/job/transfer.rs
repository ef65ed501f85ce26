//! Move between vessels.

use domain::gate::Breach::VesselNotOffered;

use super::paper::{Paper, contents, place, text};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

#[test]
fn fluid_is_moved_and_both_vessels_are_shown_before_and_after() {
    let shop = Shop::open();
    let (from, to) = (
        contents(&shop, "Cart A").shown_ml,
        contents(&shop, "D-6").shown_ml,
    );
    let paper = Paper::on_vessel(&shop, TECHNICIAN, ("Cart A", "move")).with_all(&[
        ("to", &place(&shop, "D-6").to_string()),
        ("volume", "10"),
        ("temperature", "20"),
    ]);
    let said = text(&paper.with("preview", "yes").send(&shop, TECHNICIAN).body);
    assert!(said.contains("Cart A, contents 12.5 L 2.5 L"), "{said}");
    assert!(said.contains("D-6, contents 140.5 L 150.5 L"), "{said}");
    paper.saved(&shop, TECHNICIAN);
    assert_eq!(contents(&shop, "Cart A").shown_ml, from - 10_000);
    assert!((contents(&shop, "D-6").shown_ml - to - 10_000).abs() <= 3);
    shop.book_is_closed();
}

#[test]
fn waste_is_not_offered_to_reuse_and_what_happened_is_asked_about() {
    let shop = Shop::open();
    let page = shop
        .get(TECHNICIAN, &super::paper::vessel_path(&shop, "D-6", "move"))
        .body;
    let folded = page
        .split("Only if it has already happened")
        .nth(1)
        .unwrap();
    assert!(folded.contains("Cart A") && folded.contains("kept for recovered, not for waste"));
    let own = page.split("<form id=\"job\"").nth(1).unwrap();
    assert!(
        !own.contains(&format!("value=\"{}\"", place(&shop, "D-6"))),
        "never into itself"
    );

    let paper = Paper::on_vessel(&shop, TECHNICIAN, ("D-6", "move")).with_all(&[
        ("to", &place(&shop, "Cart A").to_string()),
        ("volume", "130"),
    ]);
    let problems = paper.refused(&shop, TECHNICIAN).join("");
    assert!(
        problems.contains("Cart A should not be used: kept for recovered, not for waste"),
        "{problems}"
    );
    let saved = paper.happened().saved(&shop, TECHNICIAN);
    assert_eq!(saved.breaches(), [VesselNotOffered]);
    let (_, found, limit) = saved
        .asked
        .iter()
        .find(|(kind, ..)| kind == "over_fill_limit")
        .unwrap();
    assert_eq!(*limit, 142_000);
    assert!(*found > 142_000, "{found}");
    shop.book_is_closed();
}

#[test]
fn more_than_it_holds_is_asked_about_with_the_numbers() {
    let shop = Shop::open();
    let saved = Paper::on_vessel(&shop, TECHNICIAN, ("D-1", "move"))
        .with_all(&[("to", &place(&shop, "D-3").to_string()), ("volume", "25")])
        .saved(&shop, TECHNICIAN);
    assert_eq!(saved.asked, [("over_drawn".to_owned(), 25_000, 20_500)]);
    shop.book_is_closed();
}
