//! What happened with PINs, badges, passwords and tablets: told in words, of one's own shop, without
//! any secret.

use super::form::text;
use super::shop::{As, Shop};

fn person(shop: &Shop, handle: &str) -> String {
    let found = shop.read(async |read| read.find_person_by_handle(handle).await.unwrap());
    format!("/people/{}", found.unwrap().id)
}

/// The rows of the page at an address, newest first, without their times.
fn rows(shop: &Shop, who: As, path: &str) -> Vec<String> {
    let answer = shop.get(who, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    let Some(table) = answer.body.split("<tbody>").nth(1) else {
        return Vec::new();
    };
    let table = table.split("</tbody>").next().unwrap();
    let rows = table.split("<tr>").skip(1).map(|row| {
        let row = text(row);
        let words: Vec<&str> = row.split(' ').skip(2).collect();
        words.join(" ")
    });
    rows.collect()
}

#[test]
fn what_happened_is_told_in_words_without_secrets_to_those_who_let_people_in() {
    let shop = Shop::open();
    let answer = shop.post(As::Manager, &format!("{}/pin", person(&shop, "P3")), &[]);
    let pin = answer.body.split("class=\"once\"").nth(1).unwrap();
    let pin = pin.split("<strong>").nth(1).unwrap();
    let pin = &pin[..6];
    let page = shop.get(As::Manager, "/security");
    assert!(!page.body.contains(pin));
    assert_eq!(
        rows(&shop, As::Manager, "/security")[0],
        "PIN issued P3 P10"
    );
    for who in [
        As::Technician,
        As::LeadHand,
        As::Officer,
        As::Reader,
        As::HarbourTechnician,
    ] {
        assert_eq!(shop.get(who, "/security").status, 403, "{who:?}");
    }
    assert_eq!(shop.get(As::Nobody, "/security").status, 303);
    // That they were turned away is told as well, to their own manager.
    let refused = "/security?about=not-allowed";
    let told = rows(&shop, As::Manager, refused);
    assert!(
        told.iter()
            .any(|row| row.starts_with("asked for what they may not do P1"))
    );
    for foreign in [" P4", "somebody else"] {
        assert!(!told.iter().any(|row| row.contains(foreign)), "{told:?}");
    }
    let told = rows(&shop, As::Administrator, refused);
    assert!(told.iter().any(|row| row.contains(" P4")), "{told:?}");
    shop.book_is_closed();
}

#[test]
fn events_are_looked_for_by_what_they_are_about() {
    let shop = Shop::open();
    shop.post(As::Manager, &format!("{}/pin", person(&shop, "P3")), &[]);
    let browser = shop.browser();
    browser.sign_on_by_password("P10", "not the password of anybody");
    for (about, starts) in [
        ("secrets", "PIN issued P3 P10"),
        ("wrong-tries", "wrong PIN or password P10"),
        ("signing-on", "signed on P10"),
    ] {
        let told = rows(&shop, As::Manager, &format!("/security?about={about}"));
        assert!(told[0].starts_with(starts), "{about}: {told:?}");
    }
    let told = rows(&shop, As::Manager, "/security?about=signing-on");
    assert!(
        told.iter()
            .all(|row| row.starts_with("signed ") || row.starts_with("showed "))
    );
    // Events of nobody and no tablet are the administrator's.
    assert_eq!(rows(&shop, As::Manager, "/security?about=server"), [""; 0]);
    let none = text(&shop.get(As::Manager, "/security?about=server").body);
    assert!(none.contains("No event fits."), "{none}");
    let odd = shop.get(As::Manager, "/security?about=%3Cb%3E&before=x");
    assert_eq!(odd.status, 200);
    assert!(!odd.body.contains("<b>"), "{}", odd.body);
    assert!(
        text(&odd.body).contains("is not one of the answers offered"),
        "{}",
        odd.body
    );
}

#[test]
fn a_page_holds_fifty_events_and_leads_to_the_older_ones_of_the_same_matter() {
    let shop = Shop::open();
    let first = format!("{}/badge", person(&shop, "P1"));
    let second = format!("{}/badge", person(&shop, "P2"));
    let before = rows(&shop, As::Manager, "/security?about=secrets").len();
    shop.post(As::Manager, &first, &[]);
    for _ in 0..50 {
        shop.post(As::Manager, &second, &[]);
    }
    let path = "/security?about=secrets";
    let newest = rows(&shop, As::Manager, path);
    assert_eq!(newest, ["badge issued P2 P10"; 50]);
    let page = shop.get(As::Manager, path).body;
    let older = page
        .split("href=\"/security?about=secrets&#38;before=")
        .nth(1);
    let seq = older.unwrap().split('"').next().unwrap();
    let rest = rows(&shop, As::Manager, &format!("{path}&before={seq}"));
    assert_eq!(rest[0], "badge issued P1 P10");
    assert_eq!(rest.len(), before + 1);
}
