//! Receive.

use domain::gate::Breach;
use domain::job::{Account, Line};

use super::paper::{Paper, contents, fluid, place};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;
const PREMIX: &str = "premix EG 55 % OAT";

fn delivered(shop: &Shop, vessel: &str, name: &str) -> Paper {
    Paper::on_vessel(shop, TECHNICIAN, (vessel, "receive")).with_all(&[
        ("fluid", &fluid(shop, name)),
        ("volume", "20"),
        ("temperature", "20"),
    ])
}

#[test]
fn a_delivery_with_its_lot_and_price_is_in_the_vessel() {
    let shop = Shop::open();
    let before = contents(&shop, "D-1").shown_ml;
    let paper = delivered(&shop, "D-1", PREMIX).with_all(&[("lot", "L-204"), ("price", "84,50")]);
    let saved = paper.saved(&shop, TECHNICIAN);
    let [Line::Movement(moved)] = &saved.job.lines[..] else {
        panic!()
    };
    let own = Account::Vessel(place(&shop, "D-1"));
    assert_eq!((moved.from, moved.to), (Account::Supplier, own));
    let named = moved.fluid.as_ref().unwrap();
    assert_eq!(named.typed, PREMIX);
    assert_eq!(named.lot.as_deref(), Some("L-204"));
    assert_eq!(named.price_hundredths, Some(8_450));
    let gained = contents(&shop, "D-1").shown_ml - before;
    assert!((gained - 20_000).abs() < 20, "{gained}");
    assert!(saved.breaches().is_empty());
    shop.book_is_closed();
}

#[test]
fn what_the_vessel_is_not_kept_for_goes_in_only_when_it_already_has() {
    let shop = Shop::open();
    for (vessel, name, said) in [
        ("D-1", "premix PG 50 % OAT", "another kind of coolant"),
        ("Cart A", PREMIX, "this vessel is kept for"),
        ("D-6", PREMIX, "this vessel is kept for"),
    ] {
        let paper = delivered(&shop, vessel, name);
        let problems = paper.refused(&shop, TECHNICIAN).join("");
        assert!(problems.contains(said), "{said} in {problems}");
        let saved = paper.happened().saved(&shop, TECHNICIAN);
        assert_eq!(saved.breaches(), [Breach::FluidNotOffered]);
    }
    shop.book_is_closed();
}

#[test]
fn a_price_has_two_digits_behind_the_mark() {
    let shop = Shop::open();
    let paper = delivered(&shop, "D-1", PREMIX).with("price", "84.505");
    let problems = paper.refused(&shop, TECHNICIAN).join("");
    assert!(
        problems.contains("two digits behind the mark"),
        "{problems}"
    );
}
