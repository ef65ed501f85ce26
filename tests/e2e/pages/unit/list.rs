//! GET /units.

use super::address;
use crate::pages::form::text;
use crate::pages::shop::{As, Shop};

#[test]
fn a_number_leads_to_its_unit_and_part_of_one_to_all_that_have_it() {
    let shop = Shop::open();
    let unit = address(&shop, "3304");
    assert!(text(&shop.get(As::Technician, &unit).body).contains("Unit 3304"));
    let plows = text(&shop.get(As::Technician, "/units?text=33").body);
    assert!(plows.contains("16 units found"), "{plows}");
    for (search, found) in [
        ("Snowplow", "16 units found"),
        ("vocational+diesel+13", "16 units found"),
        ("8812", "No unit is found by that."),
    ] {
        let page = text(
            &shop
                .get(As::Technician, &format!("/units?text={search}"))
                .body,
        );
        assert!(page.contains(found), "{search}: {page}");
    }
}

#[test]
fn units_of_other_shops_are_found_and_seen_from_every_shop() {
    let shop = Shop::open();
    let own = text(&shop.get(As::Technician, "/units").body);
    assert!(own.contains("38 units"), "{own}");
    let all = shop.get(As::Technician, "/units?shop=all").body;
    assert!(text(&all).contains("84 units. Page 1 of 2"), "{all}");
    let next = all
        .split("rel=\"next\"")
        .next()
        .unwrap()
        .rsplit("href=\"")
        .next()
        .unwrap();
    let next = next
        .split('"')
        .next()
        .unwrap()
        .replace("&#38;", "&")
        .replace("&amp;", "&");
    let second = shop.get(As::Technician, &next).body;
    assert!(text(&second).contains("Page 2 of 2"), "{next}");
    let links = |page: &str| page.matches("<th scope=\"row\"><a href=\"/units/").count();
    assert_eq!((links(&all), links(&second)), (50, 34));
    let harbour = address(&shop, "2201");
    assert_eq!(shop.get(As::Technician, &harbour).status, 200);
    // The battery buses hold three loops; the one that stands worst speaks.
    let row = text(&shop.get(As::HarbourManager, "/units?text=220").body);
    assert!(row.contains("6 units found"), "{row}");
    assert!(row.contains("2201 battery bus 3"), "{row}");
}

#[test]
fn odd_addresses_are_answered_all_the_same() {
    let shop = Shop::open();
    for query in [
        "text=%FF%00&status=ready",
        "status=no-such-status",
        "shop=no-shop",
        "page=0",
        "page=999999999999999999999",
        "page=-1",
        "text=%27%20or%201%3D1%20--",
        "text=%25",
    ] {
        let answer = shop.get(As::Technician, &format!("/units?{query}"));
        assert_eq!(answer.status, 200, "{query}: {}", answer.body);
    }
    // A mark that stands for anything in other programs is only a letter here.
    assert!(text(&shop.get(As::Technician, "/units?text=%25").body).contains("No unit is found"));
    for id in ["no-id", "00000000-0000-4000-8000-000000000001"] {
        let answer = shop.get(As::Technician, &format!("/units/{id}"));
        assert_eq!(answer.status, 404, "{id}");
        assert!(answer.body.contains("<a class=\"main\" href=\"/\">"));
    }
}
