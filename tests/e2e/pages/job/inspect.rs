//! Inspect.

use domain::job::Details;

use super::paper::{Paper, text};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

fn inspected(shop: &Shop, values: &[(&str, &str)]) -> Paper {
    Paper::on_vessel(shop, TECHNICIAN, ("Cart A", "inspect")).with_all(values)
}

fn vessel_page(shop: &Shop) -> String {
    let path = super::paper::vessel_path(shop, "Cart A", "");
    text(&shop.get(TECHNICIAN, path.trim_end_matches("/jobs/")).body)
}

#[test]
fn a_vessel_that_did_not_pass_is_out_of_date_until_it_passes() {
    let shop = Shop::open();
    assert!(vessel_page(&shop).contains("Inspection due 2027-03-17"));
    let failed = inspected(&shop, &[("passed", "no")]);
    let saved = failed.saved(&shop, TECHNICIAN);
    let Some(Details::Inspect { passed, next_due }) = saved.job.details else {
        panic!()
    };
    assert_eq!(
        (passed, next_due.to_string().as_str()),
        (false, "2026-10-05")
    );
    let page = text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", failed.get("key")))
            .body,
    );
    assert!(page.contains("Did not pass: do not charge it"), "{page}");
    assert!(vessel_page(&shop).contains("Out of date."));
    let passed = inspected(&shop, &[("passed", "yes"), ("next_due", "2028-10-05")]);
    passed.saved(&shop, TECHNICIAN);
    let page = text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", passed.get("key")))
            .body,
    );
    assert!(
        page.contains("Passed: it may hold pressure and vacuum within its plate until 2028-10-05.")
    );
    let vessel = vessel_page(&shop);
    assert!(vessel.contains("Inspection due 2028-10-05"), "{vessel}");
    assert!(!vessel.contains("Out of date."), "{vessel}");
    shop.book_is_closed();
}

#[test]
fn the_next_day_is_needed_when_it_passed_and_lies_ahead() {
    let shop = Shop::open();
    for (values, said) in [
        (&[][..], "Nothing was chosen here"),
        (&[("passed", "yes")], "No day was typed"),
        (
            &[("passed", "yes"), ("next_due", "2026-10-05")],
            "which is over already",
        ),
        (
            &[("passed", "no"), ("next_due", "2028-10-05")],
            "It did not pass",
        ),
    ] {
        let problems = inspected(&shop, values).refused(&shop, TECHNICIAN).join("");
        assert!(problems.contains(said), "{said} in {problems}");
    }
}
