//! Names that want to be markup, programs or formulas are shown as the text they are.

use crate::pages::browser::encoded;
use crate::pages::form::{Form, text};
use crate::pages::shop::{As, Shop};

const HOSTILE: [&str; 12] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "'><svg/onload=alert(1)>",
    "</textarea><script>alert(1)</script>",
    "</title><script>alert(1)</script>",
    "javascript:alert(1)",
    "{{ 7 * 7 }}{% for %}",
    "=1+1",
    "a&b<c>\"d\"'e'",
    "../../etc/passwd",
    "'; drop table units; --",
    "\u{1F69B} \u{4E2D}\u{6587} \u{5D0} \u{E9}\u{301}",
];

#[test]
fn every_name_of_a_card_comes_back_as_it_was_typed_and_runs_nothing() {
    let shop = Shop::open();
    for (n, hostile) in HOSTILE.iter().enumerate() {
        let number = format!("{n} {hostile}");
        let unit = Form::open(&shop, As::Manager, "/units/new")
            .with_all(&[
                ("number", &number),
                ("kind", hostile),
                ("engine_family", hostile),
                ("loop1_name", hostile),
                ("loop1_base", "EG"),
                ("loop1_class", "OAT"),
                ("loop1_capacity", "40"),
                ("loop1_opening", "30"),
            ])
            .saved(&shop, As::Manager);
        let edit = format!("{unit}/edit");
        let form = Form::open(&shop, As::Manager, &edit);
        for field in ["kind", "engine_family", "loop1_name"] {
            assert_eq!(form.get(field), *hostile, "{field}");
        }
        assert_eq!(form.get("number"), number);
        for path in [
            &unit,
            &edit,
            &format!("{unit}/retire"),
            "/",
            &format!("/units?text={n}+"),
        ] {
            let page = shop.get(As::Manager, path).body;
            for live in ["<script>", "<img src", "<svg/onload", "href=\"javascript:"] {
                assert!(!page.contains(live), "{path}: {live}");
            }
        }
        assert!(
            text(&shop.get(As::Manager, &unit).body).contains(&format!("Unit {number}")),
            "{number}"
        );
    }
    // What is looked for is put back into its field and nowhere else.
    for hostile in HOSTILE {
        let query = encoded(&[("text", hostile), ("status", "ready")]);
        let page = shop.get(As::Manager, &format!("/units?{query}")).body;
        assert!(
            !page.contains("<script>") && !page.contains("<img src"),
            "{hostile}"
        );
    }
    shop.book_is_closed();
}
