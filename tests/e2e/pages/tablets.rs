//! Tablets: the links that enrol them, who may let one on or take it off the list, and what they take.

use super::browser::{Browser, tile};
use super::form::{Form, problems, text};
use super::shop::{As, Shop};
use crate::client::Answer;

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
    assert!(tile(&device.get("/sign-on?all=yes").body, "P1").is_none());
    assert!(text(&shop.get(As::Manager, "/tablets").body).contains("Revoked"));
    for who in [As::Technician, As::Officer, As::Reader] {
        assert_eq!(shop.get(who, "/tablets").status, 403, "{who:?}");
    }
    let said = Form::open(&shop, As::Manager, "/tablets").send(&shop, As::Manager);
    assert_eq!(said.status, 422);
    assert_eq!(
        problems(&said.body),
        ["What is the tablet called? Nothing was typed here, and it is needed."]
    );
}

/// What the list offers for a tablet: the addresses of its buttons.
fn buttons(shop: &Shop, who: As, name: &str) -> Vec<String> {
    let page = shop.get(who, "/tablets").body;
    let row = page.split(&format!("<th scope=\"row\">{name}</th>")).nth(1);
    let row = row.unwrap().split("</tr>").next().unwrap();
    row.split("action=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap().to_owned())
        .collect()
}

fn enrolled(shop: &Shop, who: As, values: &[(&str, &str)]) -> Browser {
    let answer = Form::open(shop, who, "/tablets")
        .with_all(values)
        .send(shop, who);
    assert_eq!(answer.status, 200, "{}", answer.body);
    let device = shop.browser();
    assert_eq!(device.enrol(&link(&answer.body)).status, 303);
    device
}

/// Sends a PIN that is nobody's.
fn wrong_pin(device: &Browser, handle: &str) -> Answer {
    let answer = device.sign_on_by_pin(handle, "000000");
    assert_eq!(answer.status, 422, "{handle}: {}", answer.body);
    answer
}

#[test]
fn a_tablet_on_which_twenty_pins_did_not_fit_is_let_on_by_the_manager() {
    let shop = Shop::open();
    let device = enrolled(&shop, As::Manager, &[("name", "Bay 3")]);
    let other = enrolled(&shop, As::Manager, &[("name", "Bay 4")]);
    let handles = ["P60", "P61", "P62", "P63", "P64"];
    for handle in handles {
        let person = Form::open(&shop, As::Manager, "/people/new")
            .with_all(&[
                ("handle", handle),
                ("name", "Ottoline Marchbank (invented)"),
                ("roles[]", "technician"),
            ])
            .saved(&shop, As::Manager);
        let issued = shop.post(As::Manager, &format!("{person}/pin"), &[]);
        assert_eq!(issued.status, 200, "{}", issued.body);
    }
    let pin = shop.secret(As::Technician, "pin").unwrap();
    for handle in handles {
        assert_eq!(
            buttons(&shop, As::Manager, "Bay 3").len(),
            1,
            "nothing to be let on yet"
        );
        // Four a person: nobody's own PIN has to wait.
        for _ in 0..4 {
            wrong_pin(&device, handle);
        }
    }
    assert_eq!(device.sign_on_by_pin("P1", &pin).status, 429);
    assert_eq!(other.sign_on_by_pin("P1", &pin).status, 303, "no other one");
    let list = text(&shop.get(As::Manager, "/tablets").body);
    assert!(list.contains("Bay 3 Takes no PINs until "), "{list}");
    assert!(list.contains("Bay 4 Enrolled "), "{list}");

    let offered = buttons(&shop, As::Manager, "Bay 3");
    let let_on = offered.iter().find(|it| it.ends_with("/let-on")).unwrap();
    let to_lead_hand = buttons(&shop, As::LeadHand, "Bay 3");
    assert!(!to_lead_hand.contains(let_on), "{to_lead_hand:?}");
    assert_eq!(shop.post(As::LeadHand, let_on, &[]).status, 403);
    assert_eq!(shop.post(As::HarbourManager, let_on, &[]).status, 404);
    assert_eq!(shop.post(As::Manager, let_on, &[("x", "1")]).status, 422);
    assert_eq!(device.sign_on_by_pin("P1", &pin).status, 429, "still not");
    for _ in 0..2 {
        assert_eq!(shop.post(As::Manager, let_on, &[]).status, 303);
    }
    assert_eq!(device.sign_on_by_pin("P1", &pin).status, 303);
    let list = text(&shop.get(As::Manager, "/tablets").body);
    assert!(list.contains("Bay 3 Enrolled "), "{list}");
    shop.book_is_closed();
}

#[test]
fn the_list_says_by_whom_a_tablet_was_enrolled_and_revoked() {
    let shop = Shop::open();
    enrolled(&shop, As::Manager, &[("name", "Bay 5")]);
    let list = text(&shop.get(As::LeadHand, "/tablets").body);
    let row = list.split("Bay 5 Enrolled ").nth(1).unwrap();
    assert!(
        row.split(" Bay").next().unwrap().contains(" by P10 "),
        "{list}"
    );
    let revoke = buttons(&shop, As::LeadHand, "Bay 5");
    assert_eq!(shop.post(As::LeadHand, &revoke[0], &[]).status, 303);
    assert_eq!(buttons(&shop, As::LeadHand, "Bay 5"), [""; 0]);
    let list = text(&shop.get(As::Manager, "/tablets").body);
    let row = list.split("Bay 5 Revoked ").nth(1).unwrap();
    assert!(row.contains(" by P10 ") && row.contains(" by P8"), "{list}");
}

#[test]
fn an_administrator_enrols_a_tablet_for_any_shop_a_manager_for_the_own_one() {
    let shop = Shop::open();
    let form = Form::open(&shop, As::Administrator, "/tablets");
    let harbour = shop.read(async |read| {
        let shops = read.list_shops().await.unwrap();
        let mut shops = shops.into_iter();
        shops.find(|shop| shop.name.starts_with("Harbour")).unwrap()
    });
    let id = harbour.id.to_string();
    let absent = "7d3b6a52-0000-4000-8000-000000000000";
    for (field, value, problem) in [
        ("name", "", "it is needed"),
        ("name", &"x".repeat(5_000), "What is the tablet called?"),
        ("shop", absent, "not one of the answers"),
        ("colour", "red", "colour"),
    ] {
        let answer = form
            .with_all(&[("name", "Gate"), (field, value)])
            .send(&shop, As::Administrator);
        assert_eq!(answer.status, 422, "{field} {value:.40}");
        let said = problems(&answer.body);
        assert!(
            said.iter().any(|said| said.contains(problem)),
            "{field} {value:.40}: {said:?}"
        );
    }
    let device = enrolled(&shop, As::Administrator, &[("name", "Gate"), ("shop", &id)]);
    let pin = shop.secret(As::HarbourTechnician, "pin").unwrap();
    assert_eq!(device.sign_on_by_pin("P4", &pin).status, 303);
    assert!(text(&shop.get(As::HarbourManager, "/tablets").body).contains("Gate Enrolled"));
    assert!(!text(&shop.get(As::Manager, "/tablets").body).contains("Gate"));
    // The field of another's page does not widen what a manager may do.
    let wider = shop.post(As::Manager, "/tablets", &[("name", "Gate"), ("shop", &id)]);
    assert_eq!(wider.status, 422, "{}", wider.body);
}
