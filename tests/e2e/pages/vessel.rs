//! Vessels: the list with gauges, one vessel, its card, what becomes of its contents, and its end.

use super::form::{Form, text};
use super::shop::{As, Shop};

/// The address of a vessel of the Upper Yard by the name on it.
fn address(shop: &Shop, name: &str) -> String {
    let list = shop.get(As::Manager, "/vessels").body;
    let (before, _) = list.split_once(&format!("\">{name}</a>")).unwrap();
    let href = before.rsplit("href=\"").next().unwrap();
    href.split('"').next().unwrap().to_owned()
}

fn page(shop: &Shop, who: As, path: &str) -> String {
    let answer = shop.get(who, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    text(&answer.body)
}

#[test]
fn every_vessel_of_the_shop_stands_with_its_gauge_and_what_there_is_to_say() {
    let shop = Shop::open();
    let answer = shop.get(As::Technician, "/vessels");
    assert!(answer.body.contains("aria-label=\"12.5 L of 150.0 L"));
    let all = text(&answer.body);
    assert!(
        all.contains("fresh 103.0 L recovered 12.5 L quarantine 0.0 L waste 161.0 L"),
        "{all}"
    );
    assert!(all.contains("D-6 waste container, waste"), "{all}");
    assert!(all.contains("No start date"), "{all}");
    let drums = page(&shop, As::Technician, "/vessels?kind=drum&holds=fresh");
    assert!(drums.contains("D-1") && !drums.contains("D-6") && !drums.contains("Cart A "));
    let none = page(&shop, As::Technician, "/vessels?kind=tank&holds=waste");
    assert!(none.contains("No vessel of this kind."), "{none}");
    // Where the board leads to from the vessels it has no room for.
    let look = page(&shop, As::Technician, "/vessels?look=yes");
    assert!(
        look.contains("D-8") && look.contains("No start date") && !look.contains("Cart A"),
        "{look}"
    );
    assert!(!look.contains("Nothing amiss"), "{look}");
}

#[test]
fn one_vessel_says_what_it_holds_how_sure_and_how_that_came_about() {
    let shop = Shop::open();
    let cart = address(&shop, "Cart A");
    let said = page(&shop, As::Reader, &cart);
    for part in [
        "cart, recovered, EG OAT",
        "Holds 12.5 L ±",
        "Free 129.5 L up to the fill limit",
        "Strength, by volume 55.7 % ±",
        "Freeze point \u{2212}45.6 °C ±",
        "fitted to the tables of ASHRAE 2001",
        "Mass 13.5 kg",
        "Highest working pressure 345.0 kPa",
        "Volume, last 90 days",
        "History",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let waste = shop.get(As::Manager, &address(&shop, "D-6")).body;
    // Chart 2: its table is the history told once more, and leads to the jobs.
    let level = waste.split("<figure>").nth(1).unwrap();
    let level = level.split("</figure>").next().unwrap();
    let said = text(level);
    assert!(said.starts_with("D-6: 140.5 L now, "), "{said}");
    assert!(said.contains("Date Job Change Level 2026-0"), "{said}");
    let rows: Vec<&str> = level.split("<tr>").skip(2).collect();
    assert!(rows.len() > 3, "{level}");
    assert!(text(rows[0]).contains("140.5 L"), "{}", rows[0]);
    for row in &rows {
        let job = row.split("href=\"/jobs/").nth(1).unwrap();
        let job = format!("/jobs/{}", job.split('"').next().unwrap());
        assert_eq!(shop.get(As::Manager, &job).status, 200, "{job}");
    }
    assert!(text(&waste).contains("Clock: No clock for this class"));
    assert!(waste.contains("Not to drain, ground or septic."));
    let label = "readout-label\">";
    assert!(waste.contains(&format!("{label}Strength")));
    assert!(
        !waste.contains(&format!("{label}Freeze point")),
        "nobody fills a unit from waste"
    );
    assert_eq!(shop.get(As::HarbourManager, &cart).status, 404);
    assert_eq!(shop.get(As::Manager, "/vessels/not-an-id").status, 404);
}

#[test]
fn a_new_vessel_is_on_record_once_however_often_its_form_is_sent() {
    let shop = Shop::open();
    let form = Form::open(&shop, As::Manager, "/vessels/new").with_all(&[
        ("name", "Tank 9"),
        ("kind", "tank"),
        ("holds", "fresh"),
        ("base", "EG"),
        ("class", "OAT"),
        ("capacity", "200"),
        ("fill_limit", "180"),
        ("opening", "40"),
        ("opening_strength", "50"),
    ]);
    let facts = shop.facts();
    let first = form.saved(&shop, As::Manager);
    assert_eq!(form.saved(&shop, As::Manager), first);
    assert_eq!(shop.facts(), facts + 2, "its card and what was in it");
    let said = page(&shop, As::Technician, &first);
    assert!(said.contains("Holds 40.0 L ±"), "{said}");
    assert!(said.contains("Strength, by volume 50.0 % ±"), "{said}");
    let changed = form.with("capacity", "300").send(&shop, As::Manager);
    assert_eq!(changed.status, 422);
    assert!(text(&changed.body).contains("This form was saved before with other values"));
    let named_alike = Form::open(&shop, As::Manager, "/vessels/new");
    let other = named_alike
        .with_all(&[
            ("name", "Tank 9"),
            ("kind", "tank"),
            ("holds", "fresh"),
            ("base", "PG"),
            ("class", "OAT"),
            ("capacity", "60"),
        ])
        .send(&shop, As::Manager);
    assert_eq!(other.status, 422);
    assert!(
        text(&other.body).contains("A vessel named Tank 9 is in use in this shop"),
        "{}",
        text(&other.body)
    );
    shop.book_is_closed();
}

#[test]
fn what_cannot_be_read_on_a_card_is_named_at_its_field_and_nothing_is_saved() {
    let shop = Shop::open();
    let form = Form::open(&shop, As::Manager, "/vessels/new").with_all(&[
        ("name", "Tank 9"),
        ("kind", "tank"),
        ("holds", "fresh"),
        ("base", "EG"),
        ("class", "OAT"),
        ("capacity", "200"),
    ]);
    for (field, value, problem) in [
        ("name", "", "it is needed"),
        ("name", "a\u{200B}b", "U+200B"),
        ("capacity", "words", "does not begin with a number"),
        ("capacity", "0", "it must be above 0 L"),
        ("capacity", "-5", "Capacity"),
        (
            "capacity",
            "1000000000000000000",
            "digits before the decimal mark",
        ),
        (
            "fill_limit",
            "201",
            "The fill limit is 201.0 L, above the capacity of 200.0 L",
        ),
        ("start_date", "2026-02-30", "is not a day"),
        ("start_date", "2026-10-06", "lies ahead"),
        ("opening_strength", "50", "no volume it is the strength of"),
        ("opening", "NaN", "does not begin with a number"),
        ("mawp", "5 \u{FFFD}", "U+FFFD"),
        ("next_due", "tomorrow", "is not a day"),
    ] {
        let problems = form.with(field, value).refused(&shop, As::Manager);
        assert!(
            problems.iter().any(|said| said.contains(problem)),
            "{field} {value:?}: {problems:?}"
        );
    }
    // No box of the page stands for it, so it cannot be kept.
    let facts = shop.facts();
    let answer = form.with("kind", "bucket").send(&shop, As::Manager);
    assert_eq!((answer.status, shop.facts()), (422, facts));
    assert!(text(&answer.body).contains("\"bucket\" is not one of the answers offered"));
}

#[test]
fn a_name_is_shown_as_the_text_it_is() {
    let shop = Shop::open();
    let name = "<script>alert(1)</script>\"'&";
    let form = Form::open(&shop, As::Manager, "/vessels/new").with_all(&[
        ("name", name),
        ("kind", "cart"),
        ("holds", "recovered"),
        ("base", "EG"),
        ("class", "OAT"),
        ("capacity", "200"),
    ]);
    let made = form.saved(&shop, As::Manager);
    let edit = Form::open(&shop, As::Manager, &format!("{made}/edit"));
    assert_eq!(edit.get("name"), name);
    for path in ["/", "/vessels", &made, &format!("{made}/retire")] {
        let body = shop.get(As::Manager, path).body;
        assert!(!body.contains("<script>alert"), "{path}");
    }
    assert!(page(&shop, As::Manager, "/vessels").contains(name));
}

#[test]
fn the_second_of_two_who_change_a_card_is_told_and_may_save_on_top() {
    let shop = Shop::open();
    let cart = address(&shop, "Cart A");
    let edit = format!("{cart}/edit");
    let first = Form::open(&shop, As::Manager, &edit).with("fill_limit", "140");
    let second = Form::open(&shop, As::Manager, &edit).with("fill_limit", "130");
    first.saved(&shop, As::Manager);
    let facts = shop.facts();
    let answer = second.send(&shop, As::Manager);
    assert_eq!((answer.status, shop.facts()), (422, facts));
    assert!(text(&answer.body).contains("Changed meanwhile by P10 at 2026-10-05 07:"));
    let again = Form::on(&edit, &answer);
    assert_eq!(again.get("fill_limit"), "130", "what was typed is kept");
    again.saved(&shop, As::Manager);
    assert!(page(&shop, As::Manager, &cart).contains("Fill limit 130 L"));
    first.saved(&shop, As::Manager);
    assert!(
        page(&shop, As::Manager, &cart).contains("Fill limit 130 L"),
        "a repeat undoes nothing"
    );
    for who in [As::Technician, As::LeadHand, As::Reader] {
        assert_eq!(shop.get(who, &edit).status, 403, "{who:?}");
    }
    assert_eq!(shop.get(As::HarbourManager, &edit).status, 404);
}

#[test]
fn contents_are_decided_on_with_a_reason_and_count_as_waste_from_then_on() {
    let shop = Shop::open();
    let cart = address(&shop, "Cart A");
    let decide = format!("{cart}/decide");
    let form = Form::open(&shop, As::Officer, &decide).with("fitness", "waste");
    let problems = form.refused(&shop, As::Officer);
    assert!(
        problems.iter().any(|said| said.contains("it is needed")),
        "{problems:?}"
    );
    form.with("reason", "smells of fuel")
        .saved(&shop, As::Officer);
    let said = page(&shop, As::Manager, &cart);
    assert!(said.contains("Mixed: do not use"), "{said}");
    assert_eq!(shop.get(As::Technician, &decide).status, 403);
    shop.book_is_closed();
}

#[test]
fn a_container_with_waste_in_it_is_retired_only_by_somebody_who_says_so() {
    let shop = Shop::open();
    let drum = address(&shop, "D-8");
    let form =
        Form::open(&shop, As::Manager, &format!("{drum}/retire")).with("reason", "rusted through");
    let problems = form.refused(&shop, As::Manager);
    assert!(
        problems
            .iter()
            .any(|said| said.contains("It holds 20.5 L of waste")),
        "{problems:?}"
    );
    form.with("known", "yes").saved(&shop, As::Manager);
    assert!(page(&shop, As::Reader, &drum).contains("Retired."));
    assert!(!page(&shop, As::Manager, "/vessels").contains("D-8"));
    shop.book_is_closed();
}
