//! Dip.

use domain::job::Line;

use super::paper::{Paper, contents, fluid, place, text};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

#[test]
fn a_dip_sets_the_volume_and_asks_where_the_book_is_far_off() {
    let shop = Shop::open();
    let paper = Paper::on_vessel(&shop, TECHNICIAN, ("Cart A", "dip"))
        .with_all(&[("volume", "18"), ("temperature", "20")]);
    assert!(
        !paper.fields.iter().any(|(name, _)| name == "fluid"),
        "the book knows what is in it"
    );
    let said = text(&paper.with("preview", "yes").send(&shop, TECHNICIAN).body);
    assert!(said.contains("Cart A, contents 12.5 L 18.0 L"), "{said}");
    assert!(
        said.contains("The dip says 18.0 L, the book said 12.5 L."),
        "{said}"
    );
    let saved = paper.saved(&shop, TECHNICIAN);
    assert_eq!(saved.kinds_asked(), ["dip_differs"]);
    assert!((contents(&shop, "Cart A").shown_ml - 18_000).abs() <= 1);
    shop.book_is_closed();
}

#[test]
fn a_vessel_the_book_has_as_empty_is_asked_what_is_in_it() {
    let shop = Shop::open();
    Paper::on_vessel(&shop, TECHNICIAN, ("D-1", "dip"))
        .with("volume", "0")
        .saved(&shop, TECHNICIAN);
    assert_eq!(contents(&shop, "D-1").shown_ml, 0);
    let paper = Paper::on_vessel(&shop, TECHNICIAN, ("D-1", "dip"));
    assert_eq!(paper.get("fluid"), "not_known");
    let premix = fluid(&shop, "premix EG 55 % OAT");
    let saved = paper
        .with_all(&[("fluid", &premix), ("volume", "208")])
        .saved(&shop, TECHNICIAN);
    let Line::Dip(dip) = &saved.job.lines[0] else {
        panic!()
    };
    assert_eq!(dip.fluid.as_ref().unwrap().strength.millionths(), 550_000);
    let held = contents(&shop, "D-1");
    assert!((held.fraction_millionths - 550_000).abs() <= 10, "{held:?}");
    assert_eq!(held.knowledge, "entered");
    shop.book_is_closed();
    let absent = paper.with_all(&[("fluid", &place(&shop, "D-1").to_string()), ("volume", "1")]);
    assert!(
        absent
            .refused(&shop, TECHNICIAN)
            .join("")
            .contains("No such fluid")
    );
}
