//! Fill.

use domain::job::{Account, Details, FillMethod, Line};

use super::paper::{Paper, contents, fluid, place, text};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

fn opened(shop: &Shop) -> Paper {
    let drained = Paper::on_unit(shop, TECHNICIAN, ("3304", "recover")).with_all(&[
        ("gate_temperature", "30"),
        ("gate_pressure", "0"),
        ("to", &place(shop, "Cart A").to_string()),
        ("volume", "30"),
    ]);
    drained.saved(shop, TECHNICIAN);
    Paper::on_unit(shop, TECHNICIAN, ("3304", "fill")).with_all(&[
        ("source", &place(shop, "Cart A").to_string()),
        ("volume", "29.5"),
    ])
}

#[test]
fn a_loop_is_filled_from_the_cart_and_vacuum_alone_has_a_hold() {
    let shop = Shop::open();
    let paper = opened(&shop);
    let (cart, unit) = (
        contents(&shop, "Cart A").shown_ml,
        contents(&shop, "3304").shown_ml,
    );
    assert!(
        paper
            .refused(&shop, TECHNICIAN)
            .join("")
            .contains("How was it filled?")
    );
    let vacuum = paper.with("how", "vacuum");
    assert_eq!(
        vacuum.refused(&shop, TECHNICIAN).len(),
        3,
        "vacuum, hold and what was left of it"
    );
    let vacuum = vacuum.with_all(&[
        ("vacuum_start", "67.7"),
        ("vacuum_end", "66.9"),
        ("hold", "5:00"),
        ("temperature", "20"),
    ]);
    let said = text(&vacuum.with("preview", "yes").send(&shop, TECHNICIAN).body);
    assert!(said.contains("Cart A, contents"), "{said}");
    let saved = vacuum.saved(&shop, TECHNICIAN);
    let Some(Details::VacuumHold {
        vacuum_start,
        vacuum_end,
        hold_s,
    }) = &saved.job.details
    else {
        panic!()
    };
    assert_eq!(
        (vacuum_start.value.pa(), vacuum_end.value.pa(), *hold_s),
        (67_700, 66_900, 300)
    );
    assert_eq!(contents(&shop, "Cart A").shown_ml, cart - 29_500);
    assert!(
        (contents(&shop, "3304").shown_ml - unit - 29_500).abs() < 30,
        "mixing shrinks a little"
    );
    shop.book_is_closed();
}

#[test]
fn pushed_or_poured_has_no_vacuum_and_nothing_typed_is_dropped_unseen() {
    let shop = Shop::open();
    let paper = opened(&shop).with_all(&[("how", "pushed"), ("hold", "5"), ("vacuum_start", "60")]);
    let problems = paper.refused(&shop, TECHNICIAN);
    assert_eq!(problems.len(), 2, "{problems:?}");
    assert!(problems[0].contains("Only a fill drawn in by vacuum has this"));
    let saved = paper
        .with_all(&[("hold", ""), ("vacuum_start", "")])
        .saved(&shop, TECHNICIAN);
    assert_eq!(
        saved.job.details,
        Some(Details::Filled {
            how: FillMethod::PushedFromBelow
        })
    );
    shop.book_is_closed();
}

#[test]
fn fluid_straight_from_the_can_is_bought_and_too_much_of_it_is_asked_about() {
    let shop = Shop::open();
    let premix = fluid(&shop, "premix EG 55 % OAT");
    let saved = opened(&shop)
        .with_all(&[("how", "poured"), ("source", &premix), ("volume", "60")])
        .saved(&shop, TECHNICIAN);
    let Line::Movement(movement) = &saved.job.lines[0] else {
        panic!()
    };
    assert_eq!(movement.from, Account::Supplier);
    assert_eq!(
        movement.fluid.as_ref().map(|fluid| fluid.typed.as_str()),
        Some("premix EG 55 % OAT")
    );
    let (_, found, fits) = saved
        .asked
        .iter()
        .find(|(kind, ..)| kind == "over_filled")
        .unwrap();
    // 54 L and 12 % more.
    assert_eq!(*fits, 60_480);
    assert!(*found > 80_000);
    shop.book_is_closed();
}

/// The page of a fill after so much was taken out.
fn after_taking_out(shop: &Shop, out: &str, filled: &str) -> String {
    Paper::on_unit(shop, TECHNICIAN, ("3305", "recover"))
        .with_all(&[
            ("gate_temperature", "20"),
            ("gate_pressure", "0"),
            ("temperature", "20"),
            ("to", &place(shop, "Cart A").to_string()),
            ("volume", out),
        ])
        .saved(shop, TECHNICIAN);
    let paper = Paper::on_unit(shop, TECHNICIAN, ("3305", "fill")).with_all(&[
        ("how", "poured"),
        ("source", &place(shop, "Cart A").to_string()),
        ("temperature", "20"),
        ("volume", filled),
    ]);
    paper.saved(shop, TECHNICIAN);
    text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", paper.get("key")))
            .body,
    )
}

#[test]
fn a_fill_is_held_against_what_was_taken_out_since_the_last_one() {
    let shop = Shop::open();
    for (out, filled, said) in [
        (
            "20",
            "19",
            "The balance is even: 19.0 L went in, 20.0 L had been taken out",
        ),
        (
            "20",
            "18",
            "2.0 L is missing: 18.0 L went in, 20.0 L had been taken out",
        ),
        // What was missing from the fill before goes in as well.
        (
            "10",
            "12",
            "The balance is even: 12.0 L went in, 12.0 L had been taken out since it was last full",
        ),
        (
            "10",
            "12",
            "2.0 L too much: 12.0 L went in, 10.0 L had been taken out",
        ),
    ] {
        let page = after_taking_out(&shop, out, filled);
        assert!(page.contains(said), "{said} in {page}");
        assert!(page.contains("Check the level again after the first heat cycle"));
    }
    // With nothing taken out there is nothing to hold it against.
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3305", "fill")).with_all(&[
        ("how", "poured"),
        ("source", &place(&shop, "Cart A").to_string()),
        ("volume", "1"),
    ]);
    paper.saved(&shop, TECHNICIAN);
    let page = text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", paper.get("key")))
            .body,
    );
    assert!(!page.contains("had been taken out"), "{page}");
}
