//! The board: which units need work now, and may any go out.

use super::form::text;
use super::job::paper::{Paper, place};
use super::shop::{As, Shop};

#[test]
fn the_gravest_units_stand_first_with_their_numbers_and_the_step_that_helps() {
    let shop = Shop::open();
    let answer = shop.get(As::Technician, "/");
    assert_eq!(answer.status, 200, "{}", answer.body);
    let said = text(&answer.body);
    // The units of the hill yard that are too weak for its winter.
    assert!(said.contains("Do not release"), "{said}");
    assert!(said.contains("winter low \u{2212}31.0 °C"), "{said}");
    assert!(
        said.contains("Freeze protection and the last pressure test are judged here."),
        "{said}"
    );
    let rows: Vec<&str> = answer.body.split("<tr>").skip(2).collect();
    let statuses: Vec<String> = rows
        .iter()
        .map(|row| {
            text(
                row.split("data-label=\"Status\">")
                    .nth(1)
                    .unwrap()
                    .split("</td>")
                    .next()
                    .unwrap(),
            )
        })
        .collect();
    let order = [
        "Do not release",
        "Check soon",
        "Winter low not set",
        "No recent test",
        "No test yet",
    ];
    let places: Vec<usize> = statuses
        .iter()
        .map(|status| order.iter().position(|word| status == word).unwrap())
        .collect();
    assert!(places.is_sorted(), "{statuses:?}");
    assert!(places.contains(&0));
    for row in &rows {
        let step = row.split("data-label=\"Next\">").nth(1).unwrap();
        let number = row
            .split("<th scope=\"row\"><a href=\"/units/")
            .nth(1)
            .unwrap();
        let number = number.split('>').nth(1).unwrap().split('<').next().unwrap();
        assert!(
            text(step).contains(&format!(" unit {number}")) || text(step).contains(number),
            "{row}"
        );
    }
    shop.book_is_closed();
}

#[test]
fn the_counts_lead_to_lists_of_as_many_units() {
    let shop = Shop::open();
    let page = shop.get(As::Manager, "/").body;
    let counts = page
        .split("Units by status")
        .nth(1)
        .unwrap()
        .split("</ul>")
        .next()
        .unwrap();
    let mut all = 0;
    for entry in counts.split("<li>").skip(1) {
        let address = entry
            .split("href=\"")
            .nth(1)
            .unwrap()
            .split('"')
            .next()
            .unwrap();
        let count: usize = entry
            .split("<strong>")
            .nth(1)
            .unwrap()
            .split('<')
            .next()
            .unwrap()
            .parse()
            .unwrap();
        let list = text(&shop.get(As::Manager, address).body);
        let units = if count == 1 { "unit" } else { "units" };
        assert!(
            list.contains(&format!("{count} {units} found")),
            "{address}: {list}"
        );
        all += count;
    }
    // 6 buses, 16 snowplows, 8 school buses, 5 trucks and 3 generators stand in the upper yard.
    assert_eq!(all, 38);
}

#[test]
fn who_may_log_jobs_is_offered_steps_and_others_are_not() {
    let shop = Shop::open();
    let step = "/jobs/condition_test\">Test unit ";
    for who in [As::Technician, As::LeadHand, As::Manager] {
        assert!(shop.get(who, "/").body.contains(step), "{who:?}");
    }
    for who in [As::Officer, As::Reader] {
        let page = shop.get(who, "/").body;
        assert!(!page.contains("/jobs/condition_test"), "{who:?}");
        assert!(page.contains(">Open unit "), "{who:?}");
    }
    let answer = shop.get(As::Administrator, "/");
    assert_eq!(
        (answer.status, answer.header("location")),
        (303, Some("/settings"))
    );
    assert_eq!(shop.get(As::Nobody, "/").status, 303);
}

#[test]
fn jobs_of_today_vessels_and_questions_stand_beside_it() {
    let shop = Shop::open();
    let before = text(&shop.get(As::LeadHand, "/").body);
    assert!(before.contains("Jobs today: 0"), "{before}");
    let open = shop.read(async |read| {
        let shops = read.list_shops().await.unwrap();
        let upper = shops
            .iter()
            .find(|shop| shop.name.starts_with("Upper"))
            .unwrap()
            .id;
        read.count_open_questions(Some(upper)).await.unwrap()
    });
    assert!(
        before.contains(&format!("Needs checking: {open}")),
        "{before}"
    );
    let job = r#"{"key": "5f0c1d6e-3a57-4c1e-9a2f-0d4a4f6f9b10", "when": "2026-10-05 07:00", "kind": "top_up",
        "unit": "3304", "from": "D-1", "volume": "0.5 L", "at_mark": "yes", "who": "P1"}"#;
    let sent = shop.browser().send(
        ("POST", "/api/v1/jobs"),
        &[("Content-Type", "application/json")],
        job,
    );
    assert!(sent.status == 201 || sent.status == 202, "{}", sent.body);
    let after = text(&shop.get(As::LeadHand, "/").body);
    assert!(
        after.contains("Jobs today: 1 The latest first. Top up, unit 3304 07:00, P1"),
        "{after}"
    );
    shop.book_is_closed();
}

/// What is not finished, as the board or the sign-on page of a tablet says it.
fn unfinished(html: &str) -> String {
    html.split("Not finished yet")
        .nth(1)
        .map_or_else(String::new, |card| {
            text(card.split("</section>").next().unwrap())
        })
}

#[test]
fn what_a_shift_leaves_half_done_is_handed_over_on_the_board_and_before_signing_on() {
    let shop = Shop::open();
    let board = |shop: &Shop| unfinished(&shop.get(As::Technician, "/").body);
    assert!(!board(&shop).contains("3304"), "{}", board(&shop));
    let cart = place(&shop, "Cart A").to_string();
    Paper::on_unit(&shop, As::Technician, ("3304", "recover"))
        .with_all(&[
            ("gate_temperature", "30"),
            ("gate_pressure", "0"),
            ("to", &cart),
            ("volume", "30"),
        ])
        .saved(&shop, As::Technician);
    let said = board(&shop);
    assert!(said.contains("3304 drained"), "{said}");
    assert!(
        said.contains("30.0 L to Cart A, not filled since."),
        "{said}"
    );
    assert!(said.contains("Fill 3304"), "{said}");

    let door = shop.with_browser(As::Technician, |tablet| {
        let session = tablet.cookie("session").unwrap();
        tablet.drop_cookie("session");
        let page = tablet.get("/sign-on");
        tablet.set_cookie("session", &session);
        page
    });
    let said = unfinished(&door.body);
    assert!(said.contains("3304 drained"), "{said}");
    assert!(!said.contains("Fill 3304"), "nobody is signed on: {said}");
    let away = unfinished(&shop.browser().get("/sign-on").body);
    assert_eq!(away, "", "only a tablet of the shop is told");

    Paper::on_unit(&shop, As::Technician, ("3304", "fill"))
        .with_all(&[("source", &cart), ("volume", "29.5"), ("how", "pushed")])
        .saved(&shop, As::Technician);
    let said = board(&shop);
    assert!(said.contains("3304 filled"), "{said}");
    assert!(said.contains("nobody has looked at its level"), "{said}");
    Paper::on_unit(&shop, As::Technician, ("3304", "condition_test"))
        .with("after_heat_cycle", "yes")
        .saved(&shop, As::Technician);
    assert!(!board(&shop).contains("3304"), "{}", board(&shop));
    let vessel = Paper::on_vessel(&shop, As::Technician, ("Cart A", "condition_test"))
        .with("after_heat_cycle", "yes")
        .send(&shop, As::Technician);
    assert_eq!(vessel.status, 422, "a vessel has no such level");
    shop.book_is_closed();
}
