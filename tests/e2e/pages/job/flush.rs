//! Flush.

use domain::gate::Breach;
use domain::job::{Account, Details, Fit, Intent, Line, Measured};

use super::paper::{Paper, contents, place, text};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;
const UNIT: &str = "3305";

fn opened(shop: &Shop, kind: &str) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, (UNIT, kind))
        .with_all(&[("gate_temperature", "20"), ("gate_pressure", "0")])
}

fn rinsed(shop: &Shop, vessel: &str) -> Paper {
    opened(shop, "flush").with_all(&[
        ("rinses", "2"),
        ("water", "10"),
        ("to", &place(shop, vessel).to_string()),
        ("volume", "10"),
    ])
}

fn page_of(shop: &Shop, paper: &Paper) -> String {
    text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", paper.get("key")))
            .body,
    )
}

#[test]
fn each_rinse_thins_what_is_left_and_all_of_it_is_waste() {
    let shop = Shop::open();
    opened(&shop, "recover")
        .with_all(&[
            ("volume", "40"),
            ("to", &place(&shop, "Cart A").to_string()),
            ("temperature", "20"),
        ])
        .saved(&shop, TECHNICIAN);
    let before = contents(&shop, UNIT);
    let waste = contents(&shop, "D-6").contents.total_ml();
    let paper = rinsed(&shop, "D-6").with_all(&[
        ("agent", "mild acid cleaner"),
        ("ph", "7.2"),
        ("looks[]", "clear"),
    ]);
    let saved = paper.saved(&shop, TECHNICIAN);
    let after = contents(&shop, UNIT);
    // Twice thinned from r litres to r + 10, and drawn down to r again: the law of serial dilution.
    let left = before.shown_ml;
    let thinned = |ml: i64| ml * left / (left + 10_000);
    let expected = thinned(thinned(before.contents.concentrate_ml()));
    let found = after.contents.concentrate_ml();
    assert!(
        (found - expected).abs() * 100 < expected * 3,
        "{found} {expected}"
    );
    // Before mixing it is a little more than was measured mixed.
    let came = contents(&shop, "D-6").contents.total_ml() - waste;
    assert!((20_000..20_400).contains(&came), "{came}");
    let [first_in, first_out, _, second_out, ph] = &saved.job.lines[..] else {
        panic!("{:?}", saved.job.lines)
    };
    let (Line::Movement(first_in), Line::Movement(first_out)) = (first_in, first_out) else {
        panic!()
    };
    assert_eq!(first_in.from, Account::Supplier);
    assert_eq!((first_out.fit, first_out.intent), (Fit::No, Intent::Waste));
    assert!(matches!(second_out, Line::Movement(_)));
    let Line::Reading(ph) = ph else { panic!() };
    assert!(
        matches!(&ph.measured, Measured::Other { what, thousandths: 7_200, .. } if what == "pH of the last rinse")
    );
    assert_eq!(
        saved.job.details,
        Some(Details::Flush {
            agent: Some("mild acid cleaner".to_owned()),
            rinses: 2
        })
    );
    assert!(saved.breaches().is_empty());
    let said = page_of(&shop, &paper);
    for words in [
        "Passed: the last rinse came out clear.",
        "Rinsed 2 times",
        "Cleaning agent mild acid cleaner",
    ] {
        assert!(said.contains(words), "{words} in {said}");
    }
    shop.book_is_closed();
}

#[test]
fn a_rinse_that_is_not_clear_or_not_looked_at_has_not_passed() {
    let shop = Shop::open();
    for (looks, said) in [
        ("rust", "Not clear yet: rinse again"),
        ("", "Nobody said how the last rinse looked"),
    ] {
        let paper = rinsed(&shop, "D-6");
        let paper = if looks.is_empty() {
            paper
        } else {
            paper.with("looks[]", looks)
        };
        paper.with("rinses", "1").saved(&shop, TECHNICIAN);
        let page = page_of(&shop, &paper);
        assert!(page.contains(said) && !page.contains("Passed:"), "{page}");
    }
}

#[test]
fn a_rinse_never_goes_into_a_vessel_whose_coolant_is_used_again() {
    let shop = Shop::open();
    for vessel in ["Cart A", "D-1"] {
        let paper = rinsed(&shop, vessel);
        let problems = paper.refused(&shop, TECHNICIAN).join("");
        assert!(problems.contains("should not be used"), "{problems}");
        let saved = paper.happened().saved(&shop, TECHNICIAN);
        assert_eq!(saved.breaches(), [Breach::VesselNotOffered]);
    }
    shop.book_is_closed();
}
