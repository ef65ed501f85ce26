//! Clean out.

use domain::book::component::{Base, InhibitorClass};
use domain::gate::Breach;
use domain::job::Details;

use super::paper::{Paper, contents, place, text};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;
const CART: &str = "Cart A";

fn cleaned(shop: &Shop) -> Paper {
    Paper::on_vessel(shop, TECHNICIAN, (CART, "clean_out")).with("rinses", "3")
}

/// What the cart holds goes into a waste vessel first.
fn empty(shop: &Shop) {
    let held = contents(shop, CART).shown_ml;
    let litres = format!("{}.{:03}", held / 1_000, held % 1_000);
    Paper::on_vessel(shop, TECHNICIAN, (CART, "move"))
        .with_all(&[
            ("to", &place(shop, "D-6").to_string()),
            ("volume", &litres),
            ("temperature", "20"),
        ])
        .saved(shop, TECHNICIAN);
}

fn page_of(shop: &Shop, paper: &Paper) -> String {
    text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", paper.get("key")))
            .body,
    )
}

#[test]
fn an_emptied_cart_is_rinsed_and_kept_for_another_coolant_from_then_on() {
    let shop = Shop::open();
    empty(&shop);
    let paper = cleaned(&shop);
    assert_eq!((paper.get("base"), paper.get("class")), ("EG", "OAT"));
    let waste = contents(&shop, "D-6").contents.total_ml();
    let paper = paper.with_all(&[
        ("volume", "12"),
        ("to", &place(&shop, "D-6").to_string()),
        ("base", "PG"),
        ("class", "HOAT"),
    ]);
    let saved = paper.saved(&shop, TECHNICIAN);
    assert_eq!(
        saved.job.details,
        Some(Details::CleanOut {
            rinses: 3,
            base: Base::Pg,
            class: InhibitorClass::Hoat
        })
    );
    assert!(saved.breaches().is_empty());
    let held = contents(&shop, CART);
    assert!(held.shown_ml.abs() < 5, "{}", held.shown_ml);
    assert_eq!(
        held.held_now().dedicated,
        Some((Base::Pg, InhibitorClass::Hoat))
    );
    // Before mixing: what is mixed shrinks.
    let came = contents(&shop, "D-6").contents.total_ml() - waste;
    assert_eq!(came, 12_000);
    let page = page_of(&shop, &paper);
    assert!(
        page.contains("Passed: 0.0 L was left of the 150.0 L it takes"),
        "{page}"
    );
    // It is offered to loops of the new kind only, and the old coolant is another kind now.
    let recover = Paper::on_unit(&shop, TECHNICIAN, ("3305", "recover")).with_all(&[
        ("gate_temperature", "20"),
        ("gate_pressure", "0"),
        ("volume", "3"),
        ("to", &place(&shop, CART).to_string()),
    ]);
    let problems = recover.refused(&shop, TECHNICIAN).join("");
    assert!(problems.contains("another kind of coolant"), "{problems}");
    shop.book_is_closed();
}

#[test]
fn more_than_a_hundredth_left_has_not_passed() {
    let shop = Shop::open();
    empty(&shop);
    // The cart takes 150 L: a hundredth is 1.5 L.
    for (left, said) in [("1.5", "Passed:"), ("1.6", "Did not pass:")] {
        let paper = cleaned(&shop).with("left", left);
        paper.saved(&shop, TECHNICIAN);
        assert!(page_of(&shop, &paper).contains(said), "{left}");
    }
}

#[test]
fn a_vessel_with_coolant_in_it_by_the_book_is_emptied_first() {
    let shop = Shop::open();
    let paper = cleaned(&shop);
    let problems = paper.refused(&shop, TECHNICIAN).join("");
    assert!(problems.contains("The book has 12.5 L in it"), "{problems}");
    let saved = paper.happened().saved(&shop, TECHNICIAN);
    assert_eq!(saved.breaches(), [Breach::NotEmptied]);
    assert_eq!(saved.kinds_asked(), ["dip_differs"]);
    let page = page_of(&shop, &paper);
    assert!(
        page.contains("cleaned out while the book still had coolant in it"),
        "{page}"
    );
    shop.book_is_closed();
}

#[test]
fn rinse_water_needs_its_vessel_and_a_waste_vessel_at_that() {
    let shop = Shop::open();
    empty(&shop);
    let paper = cleaned(&shop).with("volume", "10");
    assert_eq!(paper.refused(&shop, TECHNICIAN).len(), 1);
    let fresh = paper.with("to", &place(&shop, "D-1").to_string());
    let problems = fresh.refused(&shop, TECHNICIAN).join("");
    assert!(problems.contains("kept for fresh coolant"), "{problems}");
}
