//! The named checks of the book: when they last ran and how they came out.

use std::{fs, thread::yield_now};

use super::form::text;
use super::shop::{As, Shop};

const CHECKS: [&str; 4] = [
    "The book closes",
    "Nothing holds less than nothing",
    "Working it out again agrees",
    "Vessels were dipped lately",
];

fn page(shop: &Shop, who: As) -> String {
    let answer = shop.get(who, "/book-check");
    assert_eq!(answer.status, 200, "{who:?}: {}", answer.body);
    text(&answer.body)
}

/// Starts the checks and waits until they are through; the page afterwards.
fn checked(shop: &Shop, who: As) -> String {
    let started = shop.post(who, "/book-check", &[]);
    assert_eq!(started.header("location"), Some("/book-check"));
    loop {
        let said = page(shop, who);
        let ran = !said.contains("Not run yet") && !said.contains("Running since");
        if ran || said.contains("could not be run") {
            return said;
        }
        yield_now();
    }
}

#[test]
fn the_checks_are_named_and_run_when_somebody_asks() {
    let shop = Shop::open();
    let said = page(&shop, As::Reader);
    for check in CHECKS {
        assert!(said.contains(check), "{check}: {said}");
    }
    let head = shop.read(async |read| read.head().await.unwrap());
    assert!(said.contains(&head.hash_hex()), "{said}");
    let said = checked(&shop, As::Officer);
    assert!(
        said.contains("come to 0 mL, exactly. Holds 2026-10-05 07:0"),
        "{said}"
    );
    let (thousands, rest) = (head.seq / 1000, head.seq % 1000);
    let up_to = format!("up to event {thousands},{rest:03}");
    assert!(said.contains(&up_to), "{up_to}: {said}");
    assert!(!said.contains("A check does not hold"), "{said}");
    let runs = shop.read(async |read| read.list_check_runs().await.unwrap());
    assert_eq!(runs.len(), 4);
    assert!(runs.iter().all(|run| run.head_seq == head.seq), "{runs:?}");
    assert_eq!(shop.facts(), head.seq, "a check is no fact");
    shop.book_is_closed();
}

#[test]
fn they_are_seen_and_started_by_those_who_may() {
    let shop = Shop::open();
    for (who, seen, started) in [
        (As::Technician, 403, 403),
        (As::LeadHand, 403, 403),
        (As::Manager, 200, 303),
        (As::Officer, 200, 303),
        (As::Administrator, 200, 303),
        (As::Reader, 200, 403),
        (As::Nobody, 303, 401),
    ] {
        let answer = shop.get(who, "/book-check");
        assert_eq!(answer.status, seen, "{who:?}");
        let offered = answer.body.contains("Check now") || answer.body.contains("Running since");
        assert!(offered || started != 303, "{who:?}");
        assert!(
            started == 303 || !answer.body.contains("Check now"),
            "{who:?}"
        );
        let status = shop.post(who, "/book-check", &[]).status;
        // Nothing was typed, so there is nothing to carry through the sign-on page.
        let led_on = status == 303 && started == 401;
        assert!(status == started || led_on, "{who:?}: {status}");
    }
    shop.book_is_closed();
}

#[test]
fn a_record_that_was_changed_behind_its_back_is_found_and_said() {
    let mut shop = Shop::open();
    shop.stopped(|folder| {
        let file = folder.join(storage::DATABASE);
        let mut bytes = fs::read(&file).unwrap();
        let note = b"hose burst on the road";
        let at = bytes
            .windows(note.len())
            .position(|window| window == note)
            .unwrap();
        bytes[at] = b'n';
        fs::write(&file, bytes).unwrap();
    });
    let said = checked(&shop, As::Administrator);
    assert!(said.contains("A check does not hold"), "{said}");
    assert!(said.contains("Does not hold"), "{said}");
    assert!(said.contains("Nothing was repaired."), "{said}");
    let named = said.split("Fact ").nth(1).unwrap();
    let event = named.split(':').next().unwrap();
    let page = text(&shop.get(As::Officer, &format!("/records/{event}")).body);
    assert!(
        page.contains("nose burst on the road"),
        "the very event is named: {said} {page}"
    );
    let records = text(&shop.get(As::Officer, "/records").body);
    assert!(
        records.contains("The check of the record does not hold"),
        "{records}"
    );
    assert!(records.contains(&format!("Fact {event}: ")), "{records}");
}
