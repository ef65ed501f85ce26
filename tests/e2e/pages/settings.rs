//! What a shop is set to: itself, its fluids and its instruments.

use super::form::{Form, text};
use super::shop::{As, Shop};

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
    // The record says what it was and what it is, and when it counts from.
    let trail = format!("/records/{}", shop.facts());
    let trail = text(&shop.get(As::Manager, &trail).body);
    assert!(trail.contains("\u{2212}31.0 °C \u{2212}44.0 °C"), "{trail}");
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
        ("winter_low_unit", "L", "no unit of this field"),
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

#[test]
fn whoever_is_overtaken_on_a_shop_sees_both_in_the_words_of_the_page() {
    let shop = Shop::open();
    let first = Form::open(&shop, As::Manager, "/settings/shop");
    let second = Form::open(&shop, As::Manager, "/settings/shop");
    first.with("units", "us").saved(&shop, As::Manager);
    let facts = shop.facts();
    let answer = second
        .with_all(&[("decimal_mark", "comma"), ("altitude", "1500")])
        .send(&shop, As::Manager);
    assert_eq!((answer.status, shop.facts()), (422, facts));
    let said = text(&answer.body);
    for both in [
        "Changed meanwhile by P10",
        "Units of measure US gallon, °F, psi, inHg, mile Litre, °C, kPa, km",
        "Decimal mark Point, as in 12.5 Comma, as in 12,5",
        "Winter low (optional) \u{2212}24 °F \u{2212}31.0 °C",
    ] {
        assert!(said.contains(both), "{both}: {said}");
    }
    // Looked at both and saved again, it stands.
    let again = Form::on("/settings/shop", &answer);
    assert_eq!(again.get("decimal_mark"), "comma");
    again.saved(&shop, As::Manager);
    let now = Form::open(&shop, As::Manager, "/settings/shop");
    assert_eq!(
        (now.get("units"), now.get("decimal_mark")),
        ("metric", "comma")
    );
    shop.book_is_closed();
}

#[test]
fn what_cannot_be_a_fluid_or_an_instrument_is_named_at_its_field() {
    let shop = Shop::open();
    let long = "x".repeat(5_000);
    for (new, good, bad) in [
        (
            "/settings/fluids/new",
            vec![
                ("name", "violet can (invented)"),
                ("base", "EG"),
                ("class", "OAT"),
                ("strength", "50"),
            ],
            vec![
                ("name", long.as_str(), "Name on the can"),
                ("name", " ", "it is needed"),
                ("base", "vinegar", "not one of the answers"),
                ("class", "none of them", "not one of the answers"),
                ("strength", "101", "Glycol in it"),
                ("strength", "-1", "Glycol in it"),
                ("strength", "half", "half"),
                ("strength_unit", "L", "no unit of this field"),
                ("makers_freeze_point", "-300", "Freeze point"),
                ("makers_freeze_point", "cold", "cold"),
                ("key", "not a key", "Form"),
                ("colour", "violet", "colour"),
            ],
        ),
        (
            "/settings/instruments/new",
            vec![("tag", "R-77"), ("tool", "refractometer"), ("scale", "eg")],
            vec![
                ("tag", long.as_str(), "Tag on it"),
                ("tag", "", "it is needed"),
                ("tool", "a stick", "not one of the answers"),
                ("scale", "both", "not one of the answers"),
                ("calibration_due", "2027-02-30", "2027-02-30"),
                ("calibration_due", "soon", "soon"),
                ("key", "", "Form"),
                ("shop", "another", "shop"),
            ],
        ),
    ] {
        let facts = shop.facts();
        let form = Form::open(&shop, As::Manager, new).with_all(&good);
        for (field, value, problem) in bad {
            let answer = form.with(field, value).send(&shop, As::Manager);
            assert_eq!(
                (answer.status, shop.facts()),
                (422, facts),
                "{new} {field} {value:.40}"
            );
            let said = super::form::problems(&answer.body);
            assert!(
                said.iter()
                    .any(|said| said.to_lowercase().contains(&problem.to_lowercase())),
                "{new} {field} {value:.40}: {said:?}"
            );
        }
        // The same form, with nothing wrong in it, is saved.
        form.saved(&shop, As::Manager);
        assert_eq!(shop.facts(), facts + 1);
    }
    shop.book_is_closed();
}

#[test]
fn what_is_shown_rounded_is_not_shifted_by_saving_something_else() {
    let shop = Shop::open();
    let lows = |shop: &Shop| {
        shop.read(async |read| {
            let shops = read.list_shops().await.unwrap();
            let upper = shops.iter().find(|it| it.name.starts_with("Upper"));
            let fluids = read.list_fluids().await.unwrap();
            let freeze: Vec<_> = fluids.iter().map(|it| it.makers_freeze_point).collect();
            (upper.unwrap().winter_low, freeze)
        })
    };
    Form::open(&shop, As::Manager, "/settings/fluids/new")
        .with_all(&[
            ("name", "violet can (invented)"),
            ("base", "EG"),
            ("class", "OAT"),
            ("strength", "50"),
            ("makers_freeze_point", "-36.8"),
        ])
        .saved(&shop, As::Manager);
    let before = lows(&shop);
    assert!(before.0.is_some() && before.1.iter().any(Option::is_some));
    // In °F both are shown in whole degrees.
    Form::open(&shop, As::Manager, "/settings/shop")
        .with("units", "us")
        .saved(&shop, As::Manager);
    Form::open(&shop, As::Manager, "/settings/shop")
        .with("altitude", "1421")
        .saved(&shop, As::Manager);
    let page = shop.get(As::Manager, "/settings/fluids").body;
    let row = page.split(">violet can").next().unwrap();
    let edit = row.rsplit("href=\"").next().unwrap();
    let edit = edit.split('"').next().unwrap();
    Form::open(&shop, As::Manager, edit)
        .with("strength", "51")
        .saved(&shop, As::Manager);
    assert_eq!(lows(&shop), before);
    // One that is typed is another one.
    Form::open(&shop, As::Manager, "/settings/shop")
        .with("winter_low", "-25 °F")
        .saved(&shop, As::Manager);
    assert_ne!(lows(&shop).0, before.0);
    shop.book_is_closed();
}
