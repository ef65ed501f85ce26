//! Leak repair and its watch.

use super::paper::{Paper, text, unit_path};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;
const UNIT: &str = "3305";

fn unit_page(shop: &Shop) -> String {
    let path = unit_path(shop, UNIT, "");
    let path = path.trim_end_matches("/jobs/");
    text(&shop.get(TECHNICIAN, path).body)
}

#[test]
fn a_repair_is_watched_for_30_days_and_the_unit_says_until_when() {
    let shop = Shop::open();
    assert!(!unit_page(&shop).contains("Leak watch."));
    let paper = Paper::on_unit(&shop, TECHNICIAN, (UNIT, "leak_repair"))
        .with_all(&[("part", "lower hose"), ("cause", "clamp loose")]);
    assert_eq!(paper.get("watch_days"), "30");
    paper.saved(&shop, TECHNICIAN);
    // The demonstration's today is 2026-10-05.
    let page = text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", paper.get("key")))
            .body,
    );
    for said in [
        "Watched until 2026-11-04.",
        "Log the pressure test",
        "To be watched for 30 days",
    ] {
        assert!(page.contains(said), "{said} in {page}");
    }
    let unit = unit_page(&shop);
    let said = "Mended on 2026-10-05: lower hose. Watched until 2026-11-04.";
    assert!(unit.contains(said), "{unit}");
    shop.book_is_closed();
}

#[test]
fn a_watch_ends_on_its_day_and_with_its_job() {
    let shop = Shop::open();
    let earlier = |day: &str| {
        Paper::on_unit(&shop, TECHNICIAN, (UNIT, "leak_repair")).with_all(&[
            ("part", "lower hose"),
            ("cause", "clamp loose"),
            ("when", "earlier"),
            ("day", day),
            ("time", "08:00"),
        ])
    };
    // Thirty days after 2026-09-05 is today.
    let over = earlier("2026-09-05");
    over.saved(&shop, TECHNICIAN);
    assert!(!unit_page(&shop).contains("Leak watch."));
    let page = text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", over.get("key")))
            .body,
    );
    assert!(page.contains("The watch was over on 2026-10-05."), "{page}");
    let still = earlier("2026-09-06");
    still.saved(&shop, TECHNICIAN);
    assert!(unit_page(&shop).contains("Watched until 2026-10-06."));
    let undo = shop.post(TECHNICIAN, &format!("/jobs/{}/undo", still.get("key")), &[]);
    assert_eq!(undo.status, 303);
    assert!(!unit_page(&shop).contains("Leak watch."));
}

#[test]
fn part_cause_and_a_watch_of_some_days_are_needed() {
    let shop = Shop::open();
    let empty = Paper::on_unit(&shop, TECHNICIAN, (UNIT, "leak_repair"));
    let problems = empty.with("watch_days", "0").refused(&shop, TECHNICIAN);
    for label in ["Which part leaked?", "Why did it leak?", "how many days?"] {
        assert!(problems.join("\n").contains(label), "{label}: {problems:?}");
    }
}
