//! GET and POST of /units/{unit}/retire.

use super::address;
use crate::pages::form::{Form, text};
use crate::pages::shop::{As, Shop};

#[test]
fn a_retired_unit_leaves_the_lists_with_what_it_holds_and_its_number_is_free() {
    let shop = Shop::open();
    let unit = address(&shop, "3304");
    let form = Form::open(&shop, As::Manager, &format!("{unit}/retire"));
    let page = text(&shop.get(As::Manager, &format!("{unit}/retire")).body);
    assert!(
        page.contains("What leaves the book with it Loop Holds by the book engine"),
        "{page}"
    );
    let said = form.with("reason", "  ").refused(&shop, As::Manager);
    assert_eq!(
        said,
        ["Why is it retired? Nothing was typed here, and it is needed."]
    );

    let facts = shop.facts();
    let retired = form.with("reason", "sold <script>alert(1)</script>");
    assert_eq!(retired.saved(&shop, As::Manager), unit);
    assert_eq!(retired.saved(&shop, As::Manager), unit, "sent twice");
    assert_eq!(
        form.with("reason", "scrapped").saved(&shop, As::Manager),
        unit,
        "too late"
    );
    assert_eq!(shop.facts(), facts + 1);
    let page = shop.get(As::Manager, &unit).body;
    let said = text(&page);
    assert!(said.contains("Retired. This unit is out of use"), "{said}");
    assert!(said.contains(" L went with it"), "{said}");
    assert!(
        !page.contains("/jobs/top_up\"") && !page.contains("/edit\""),
        "{said}"
    );
    assert!(text(&shop.get(As::Manager, "/units?text=33").body).contains("15 units found"));
    assert!(!text(&shop.get(As::Manager, "/").body).contains("unit 3304"));
    // Its card is closed.
    for path in [format!("{unit}/edit"), format!("{unit}/retire")] {
        let answer = shop.get(As::Manager, &path);
        assert_eq!(
            (answer.status, answer.header("location")),
            (303, Some(unit.as_str()))
        );
    }

    let new = Form::open(&shop, As::Manager, "/units/new")
        .with_all(&[
            ("number", "3304"),
            ("kind", "snowplow"),
            ("loop1_base", "EG"),
            ("loop1_class", "OAT"),
            ("loop1_capacity", "54"),
        ])
        .saved(&shop, As::Manager);
    assert_ne!(new, unit);
    assert_eq!(
        address(&shop, "3304"),
        new,
        "the number means the unit in use"
    );
    shop.book_is_closed();
}

#[test]
fn a_number_may_be_given_again_and_again() {
    let shop = Shop::open();
    let mut units = Vec::new();
    for _ in 0..3 {
        let unit = Form::open(&shop, As::Manager, "/units/new")
            .with_all(&[
                ("number", "4204"),
                ("kind", "snowplow"),
                ("loop1_base", "EG"),
                ("loop1_class", "OAT"),
                ("loop1_capacity", "54"),
            ])
            .saved(&shop, As::Manager);
        assert!(!units.contains(&unit));
        assert_eq!(address(&shop, "4204"), unit);
        Form::open(&shop, As::Manager, &format!("{unit}/retire"))
            .with("reason", "sold")
            .saved(&shop, As::Manager);
        units.push(unit);
    }
    shop.book_is_closed();
}
