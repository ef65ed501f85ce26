//! Tablets, and what a shop is set to: itself, its fluids and its instruments.

use super::form::{Form, text};
use super::shop::{As, Shop};

/// The link that a page shows once.
fn link(html: &str) -> String {
    let said = text(html);
    let at = said.find("http://").unwrap();
    said[at..].split(' ').next().unwrap().to_owned()
}

#[test]
fn a_link_makes_one_device_a_tablet_once_until_it_is_revoked() {
    let shop = Shop::open();
    let answer = Form::open(&shop, As::Manager, "/tablets")
        .with("name", "Bay 2 <b>wash</b>")
        .send(&shop, As::Manager);
    assert_eq!(answer.status, 200, "{}", answer.body);
    assert!(answer.body.contains("<svg class=\"qr\""));
    let link = link(&answer.body);
    let device = shop.browser();
    let pin = shop.secret(As::Technician, "pin").unwrap();
    assert_eq!(device.enrol(&link).status, 303);
    assert_eq!(device.sign_on_by_pin("P1", &pin).status, 303);
    assert_eq!(shop.browser().enrol(&link).status, 404, "it works once");

    let page = shop.get(As::LeadHand, "/tablets").body;
    assert!(
        text(&page).contains("Bay 2 <b>wash</b> Enrolled"),
        "{}",
        text(&page)
    );
    assert!(!page.contains("<b>wash"));
    let row = page.split("wash").nth(1).unwrap();
    let revoke = row.split("action=\"").nth(1).unwrap();
    let revoke = revoke.split('"').next().unwrap().to_owned();
    assert!(
        revoke.ends_with("/revoke"),
        "a lead hand only revokes: {revoke}"
    );
    let let_on = revoke.replace("/revoke", "/let-on");
    assert_eq!(shop.post(As::LeadHand, &let_on, &[]).status, 403);
    assert_eq!(shop.post(As::Manager, &let_on, &[]).status, 303);
    assert_eq!(shop.post(As::HarbourManager, &revoke, &[]).status, 404);
    for _ in 0..2 {
        assert_eq!(shop.post(As::LeadHand, &revoke, &[]).status, 303);
    }
    assert_eq!(device.get("/").status, 303, "signed off there");
    assert!(super::browser::tile(&device.get("/sign-on?all=yes").body, "P1").is_none());
    assert!(text(&shop.get(As::Manager, "/tablets").body).contains("Revoked"));
    for who in [As::Technician, As::Officer, As::Reader] {
        assert_eq!(shop.get(who, "/tablets").status, 403, "{who:?}");
    }
    let said = Form::open(&shop, As::Manager, "/tablets").send(&shop, As::Manager);
    assert_eq!(said.status, 422);
    assert_eq!(
        super::form::problems(&said.body),
        ["What is the tablet called? Nothing was typed here, and it is needed."]
    );
}

#[test]
fn the_winter_low_that_is_set_judges_every_unit_at_once() {
    let shop = Shop::open();
    let form = Form::open(&shop, As::Manager, "/settings/shop");
    assert_eq!(form.get("winter_low"), "\u{2212}31.0 °C");
    let facts = shop.facts();
    let colder = form.with_all(&[("winter_low", "-44"), ("winter_low_unit", "°C")]);
    assert_eq!(colder.saved(&shop, As::Manager), "/settings");
    assert_eq!(colder.saved(&shop, As::Manager), "/settings", "sent twice");
    assert_eq!(shop.facts(), facts + 1);
    let board = text(&shop.get(As::Manager, "/").body);
    assert!(board.contains("winter low \u{2212}44.0 °C"), "{board}");
    // Taken away, nothing is judged.
    Form::open(&shop, As::Manager, "/settings/shop")
        .with("winter_low", "")
        .saved(&shop, As::Manager);
    let board = text(&shop.get(As::Manager, "/").body);
    assert!(
        board.contains("The winter low of this shop is not set"),
        "{board}"
    );

    let late = form.with("winter_low", "-20").send(&shop, As::Manager);
    assert_eq!(late.status, 422);
    let said = text(&late.body);
    assert!(said.contains("Changed meanwhile by P10"), "{said}");
    assert!(
        said.contains("Winter low (optional) nothing -20 °C"),
        "{said}"
    );
    shop.book_is_closed();
}

#[test]
fn a_shop_in_gallons_and_feet_reads_so_on_every_page() {
    let shop = Shop::open();
    Form::open(&shop, As::Manager, "/settings/shop")
        .with_all(&[
            ("units", "us"),
            ("altitude", "4659"),
            ("altitude_unit", "ft"),
            ("winter_low", "-24"),
            ("winter_low_unit", "°F"),
        ])
        .saved(&shop, As::Manager);
    let board = text(&shop.get(As::Manager, "/vessels").body);
    assert!(board.contains("US gal"), "{board}");
    let form = Form::open(&shop, As::Manager, "/settings/shop");
    assert_eq!(form.get("altitude"), "1420", "4,659 ft are 1,420.06 m");
    assert_eq!(form.get("winter_low"), "\u{2212}24 °F");
    shop.book_is_closed();
}

#[test]
fn what_cannot_be_a_shop_is_named_at_its_field() {
    let shop = Shop::open();
    let form = Form::open(&shop, As::Manager, "/settings/shop");
    let facts = shop.facts();
    for (field, value, problem) in [
        ("shop", "", "it is needed"),
        ("shop", "Harbour Yard (invented)", "another shop is called"),
        ("zone", "Moon/Base", "Moon/Base"),
        ("zone", "", "it is needed"),
        ("altitude", "9000", "6000"),
        ("altitude", "words", "words"),
        ("units", "furlongs", "not one of the answers"),
        ("decimal_mark", "dot", "not one of the answers"),
        ("paper", "foolscap", "not one of the answers"),
        ("winter_low", "NaN", "Winter low"),
        ("winter_low", "-300", "Winter low"),
        ("winter_low", "1000000000000000000", "Winter low"),
        ("winter_low_unit", "K", "no unit of this field"),
        ("based_on", "0", "Form"),
    ] {
        let answer = form.with(field, value).send(&shop, As::Manager);
        assert_eq!(
            (answer.status, shop.facts()),
            (422, facts),
            "{field} {value:?}"
        );
        let said = super::form::problems(&answer.body);
        assert!(
            said.iter()
                .any(|said| said.to_lowercase().contains(&problem.to_lowercase())),
            "{field} {value:?}: {said:?}"
        );
    }
}

#[test]
fn an_administrator_adds_a_shop_and_people_to_it() {
    let shop = Shop::open();
    assert_eq!(shop.get(As::Manager, "/settings/shops/new").status, 403);
    let form = Form::open(&shop, As::Administrator, "/settings/shops/new").with_all(&[
        ("site", "Orrowick depots, north (invented)"),
        ("shop", "North Yard (invented)"),
        ("zone", "America/Denver"),
        ("altitude", "1500"),
    ]);
    let facts = shop.facts();
    assert_eq!(form.saved(&shop, As::Administrator), "/settings");
    assert_eq!(
        form.saved(&shop, As::Administrator),
        "/settings",
        "sent twice"
    );
    assert_eq!(shop.facts(), facts + 2, "site and shop");
    let again = Form::open(&shop, As::Administrator, "/settings/shops/new")
        .with_all(&[
            ("site", "x"),
            ("shop", "north yard (invented)"),
            ("zone", "UTC"),
            ("altitude", "0"),
        ])
        .refused(&shop, As::Administrator);
    assert_eq!(again.len(), 1, "{again:?}");
    let id = shop.read(async |read| {
        let found = read
            .find_shop_by_name("North Yard (invented)")
            .await
            .unwrap();
        found.unwrap().id
    });
    let person = Form::open(&shop, As::Administrator, "/people/new")
        .with_all(&[
            ("handle", "P50"),
            ("name", "Sorrel Finch (invented)"),
            ("shop", &id.to_string()),
            ("roles[]", "manager"),
        ])
        .saved(&shop, As::Administrator);
    assert!(text(&shop.get(As::Administrator, &person).body).contains("North Yard (invented)"));
    shop.book_is_closed();
}

#[test]
fn fluids_and_instruments_are_added_and_changed_each_once() {
    let shop = Shop::open();
    for (list, new, values, changed) in [
        (
            "/settings/fluids",
            "/settings/fluids/new",
            vec![
                ("name", "blue <i>can</i>"),
                ("base", "EG"),
                ("class", "OAT"),
                ("strength", "95"),
                ("makers_freeze_point", "-13"),
            ],
            ("strength", "94.5", "94.5 %"),
        ),
        (
            "/settings/instruments",
            "/settings/instruments/new",
            vec![
                ("tag", "R-9 <i>can</i>"),
                ("tool", "refractometer"),
                ("scale", "pg"),
                ("calibration_due", "2026-10-05"),
            ],
            ("calibration_due", "2027-10-05", "2027-10-05"),
        ),
    ] {
        let facts = shop.facts();
        let form = Form::open(&shop, As::Manager, new).with_all(&values);
        assert_eq!(form.saved(&shop, As::Manager), list);
        assert_eq!(form.saved(&shop, As::Manager), list, "sent twice");
        assert_eq!(shop.facts(), facts + 1);
        let page = shop.get(As::Manager, list).body;
        assert!(text(&page).contains("<i>can</i>"), "{}", text(&page));
        let named_alike = Form::open(&shop, As::Manager, new).with_all(&values);
        let said = named_alike.refused(&shop, As::Manager);
        assert!(said.iter().any(|said| said.contains("another")), "{said:?}");

        let row = page.split("&#60;i&#62;can").next().unwrap();
        let edit = row.rsplit("href=\"").next().unwrap();
        let edit = edit.split('"').next().unwrap();
        let first = Form::open(&shop, As::Manager, edit).with(changed.0, changed.1);
        let second = Form::open(&shop, As::Manager, edit);
        first.saved(&shop, As::Manager);
        assert!(text(&shop.get(As::Manager, list).body).contains(changed.2));
        assert_eq!(
            second
                .with(values[0].0, "other")
                .send(&shop, As::Manager)
                .status,
            422
        );
        for (field, _) in &values[..3] {
            let said = Form::open(&shop, As::Manager, edit)
                .with(field, "")
                .refused(&shop, As::Manager);
            assert!(!said.is_empty(), "{edit} {field}");
        }
    }
    let due = text(&shop.get(As::Manager, "/settings/instruments").body);
    assert!(
        due.contains("R-9 <i>can</i> refractometer PG 2027-10-05"),
        "{due}"
    );
    // Another yard's instruments are not there.
    let theirs = shop.read(async |read| {
        let shops = read.list_shops().await.unwrap();
        let harbour = shops.iter().find(|shop| shop.name.starts_with("Harbour"));
        let instruments = read.list_instruments(harbour.unwrap().id).await.unwrap();
        instruments.first().unwrap().id
    });
    let theirs = format!("/settings/instruments/{theirs}/edit");
    assert_eq!(shop.get(As::Manager, &theirs).status, 404);
    shop.book_is_closed();
}
