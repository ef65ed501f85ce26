//! Top up.

use domain::book::outcome::Measure;
use domain::job::{Account, Line, Mark};

use super::paper::{Paper, contents, fluid, place, text};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

#[test]
fn a_top_up_to_the_mark_moves_fluid_and_says_beforehand_what_it_comes_to() {
    let shop = Shop::open();
    let drum = contents(&shop, "D-1").shown_ml;
    let unit = contents(&shop, "3301").shown_ml;
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3301", "top_up"))
        .with("source", &place(&shop, "D-1").to_string())
        .with("volume", "2.5");
    assert_eq!((paper.get("mark"), paper.get("when")), ("at", "now"));

    let facts = shop.facts();
    let foreseen = paper.with("preview", "yes").send(&shop, TECHNICIAN);
    assert_eq!(foreseen.status, 200);
    assert_eq!(shop.facts(), facts, "looking ahead writes nothing");
    let said = text(&foreseen.body);
    assert!(said.contains("D-1, contents 20.5 L 18.0 L"), "{said}");
    let again = paper.shown_again(&foreseen);
    assert_eq!(again.get("volume"), "2.5");
    assert_eq!(again.get("key"), paper.get("key"));

    let saved = again.saved(&shop, TECHNICIAN);
    assert_eq!(saved.job.mark, Some(Mark::At));
    assert_eq!(saved.row.top_up.as_deref(), Some("consumption"));
    assert_eq!(contents(&shop, "D-1").shown_ml, drum - 2_500);
    assert!(
        (contents(&shop, "3301").shown_ml - unit).abs() <= 1,
        "the mark is where it was"
    );
    let used_up = saved
        .row
        .moved
        .iter()
        .find(|moved| moved.why == Measure::UsedUp.code());
    assert!((used_up.unwrap().shown_ml - 2_500).abs() <= 1);
    let after = saved
        .row
        .changes
        .iter()
        .find(|change| change.place == place(&shop, "D-1"))
        .unwrap();
    assert_eq!(after.after.0.shown_ml, drum - 2_500);
    shop.book_is_closed();
}

#[test]
fn the_vessel_of_the_last_top_up_is_chosen_already() {
    let shop = Shop::open();
    for name in ["D-3", "Cart A"] {
        let vessel = place(&shop, name).to_string();
        Paper::on_unit(&shop, TECHNICIAN, ("3302", "top_up"))
            .with_all(&[("source", &vessel), ("volume", "0.5")])
            .saved(&shop, TECHNICIAN);
        let next = Paper::on_unit(&shop, TECHNICIAN, ("3302", "top_up"));
        assert_eq!(next.get("source"), vessel, "{name}");
    }
    shop.book_is_closed();
}

#[test]
fn more_than_the_book_holds_is_saved_and_asked_about_with_both_numbers() {
    let shop = Shop::open();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3301", "top_up")).with_all(&[
        ("source", &place(&shop, "D-1").to_string()),
        ("volume", "8"),
        ("volume_unit", "US gal"),
        ("mark", "not"),
    ]);
    let said = text(&paper.with("preview", "yes").send(&shop, TECHNICIAN).body);
    assert!(
        said.contains("D-1: 30.3 L was taken out, the book held 20.5 L."),
        "{said}"
    );
    let saved = paper.saved(&shop, TECHNICIAN);
    let over_drawn = saved
        .asked
        .iter()
        .find(|(kind, ..)| kind == "over_drawn")
        .unwrap();
    assert_eq!(over_drawn.1, 30_283);
    assert!(saved.kinds_asked().contains(&"over_filled"));
    let Line::Movement(movement) = &saved.job.lines[0] else {
        panic!()
    };
    assert_eq!(movement.volume.typed, "8 US gal");
    shop.book_is_closed();
}

#[test]
fn water_shows_what_it_does_to_the_freeze_point_before_it_is_saved() {
    let shop = Shop::open();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3301", "top_up"))
        .with_all(&[("source", "water"), ("volume", "4")]);
    let said = text(&paper.with("preview", "yes").send(&shop, TECHNICIAN).body);
    // 55.0 % of 54.3 L; the same volume leaked first: 55.0 × (54.3 − 4) ÷ 54.3 = 50.9 %.
    assert!(
        said.contains("3301, strength 55.0 % ± 0.8 points 51.0 % ± 5.4 points"),
        "{said}"
    );
    let saved = paper.saved(&shop, TECHNICIAN);
    let Line::Movement(movement) = &saved.job.lines[0] else {
        panic!()
    };
    assert_eq!(movement.from, Account::Supplier);
    assert_eq!(
        movement
            .fluid
            .as_ref()
            .map(|fluid| fluid.strength.millionths()),
        Some(0)
    );
    shop.book_is_closed();
}

#[test]
fn fluid_nobody_can_name_is_taken_and_asked_about() {
    let shop = Shop::open();
    let saved = Paper::on_unit(&shop, TECHNICIAN, ("3301", "top_up"))
        .with_all(&[("source", "not_known"), ("volume", "1"), ("mark", "not")])
        .saved(&shop, TECHNICIAN);
    assert_eq!(saved.kinds_asked(), ["fluid_not_named"]);
    shop.book_is_closed();
}

#[test]
fn another_kind_of_coolant_is_logged_only_as_having_happened_and_keeps_its_mark() {
    let shop = Shop::open();
    for source in [
        place(&shop, "D-4").to_string(),
        fluid(&shop, "premix EG 50 % HOAT"),
    ] {
        let paper = Paper::on_unit(&shop, TECHNICIAN, ("3301", "top_up")).with_all(&[
            ("source", &source),
            ("volume", "1"),
            ("mark", "not"),
        ]);
        let problems = paper.refused(&shop, TECHNICIAN);
        assert_eq!(problems.len(), 1);
        assert!(
            problems[0].contains("another kind of coolant"),
            "{problems:?}"
        );
        assert!(problems[0].contains("\"It has already happened\""));
        let saved = paper.happened().saved(&shop, TECHNICIAN);
        assert_eq!(saved.breaches().len(), 1);
        assert!(saved.kinds_asked().contains(&"wrong_chemistry"));
    }
    shop.book_is_closed();
}

#[test]
fn the_first_heat_cycle_is_kept_when_the_form_comes_back() {
    let shop = Shop::open();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3301", "top_up"))
        .with_all(&[("after_heat_cycle", "yes"), ("volume", "much")]);
    let answer = paper.send(&shop, TECHNICIAN);
    assert_eq!(answer.status, 422);
    let again = paper.shown_again(&answer);
    assert_eq!(
        (again.get("after_heat_cycle"), again.get("volume")),
        ("yes", "much")
    );
    assert!(
        again
            .with("volume", "1")
            .saved(&shop, TECHNICIAN)
            .job
            .after_heat_cycle
    );
    shop.book_is_closed();
}
