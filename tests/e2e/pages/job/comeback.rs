//! Work that did not last: the pages of both jobs say so, whether or not one was said to go on from the
//! other.

use super::paper::{Paper, fluid, place, text};
use crate::pages::leaks::unit;
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;
const UNIT: &str = "3305";

fn on_day(shop: &Shop, kind: &str, day: &str) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, (UNIT, kind)).with_all(&[
        ("when", "earlier"),
        ("day", day),
        ("time", "08:00"),
    ])
}

fn top_up(shop: &Shop, day: &str, volume: &str) -> Paper {
    on_day(shop, "top_up", day).with_all(&[
        ("source", &place(shop, "D-1").to_string()),
        ("volume", volume),
    ])
}

fn body(shop: &Shop, paper: &Paper) -> String {
    let answer = shop.get(TECHNICIAN, &format!("/jobs/{}", paper.get("key")));
    assert_eq!(answer.status, 200);
    answer.body
}

/// Each says that of the other, and leads to it.
fn are_linked(shop: &Shop, (first, back): (&Paper, &Paper), (came, comes): (&str, &str)) {
    let page = body(shop, first);
    assert!(text(&page).contains(came), "{}", text(&page));
    assert!(page.contains(&format!("href=\"/jobs/{}\"", back.get("key"))));
    let page = body(shop, back);
    assert!(text(&page).contains(comes), "{}", text(&page));
    assert!(page.contains(&format!("href=\"/jobs/{}\"", first.get("key"))));
}

fn exchange(shop: &Shop, day: &str) -> Paper {
    on_day(shop, "exchange", day).with_all(&[
        ("gate_temperature", "20"),
        ("gate_pressure", "0"),
        ("to", &place(shop, "D-6").to_string()),
        ("drain_volume", "5"),
        ("fit", "yes"),
        ("intent", "waste"),
        ("source", &fluid(shop, "concentrate EG 95 % OAT")),
        ("volume", "5"),
        ("mark", "at"),
    ])
}

/// The part and the whole of first-time fill, and how many of the list behind it came back.
fn first_time(shop: &Shop) -> (String, usize) {
    let span = "from=2026-09&to=2026-10";
    let page = shop.get(As::Manager, &format!("/figures?{span}")).body;
    let row = page.split("<th scope=\"row\">First-time fill</th>").nth(1);
    let said = text(row.unwrap().split("</tr>").next().unwrap());
    let list = shop
        .get(As::Manager, &format!("/figures/fills?{span}"))
        .body;
    (
        said,
        text(&list).matches("came back within 30 days").count(),
    )
}

#[test]
fn a_fill_whose_level_is_low_within_30_days_came_back_and_counts_so() {
    let shop = Shop::open();
    let before = first_time(&shop);
    let fill = exchange(&shop, "2026-09-20");
    fill.saved(&shop, TECHNICIAN);
    // A litre is what a first heat cycle takes.
    let little = top_up(&shop, "2026-09-24", "1");
    little.saved(&shop, TECHNICIAN);
    assert!(!text(&body(&shop, &fill)).contains("It came back"));
    assert_eq!(first_time(&shop).1, before.1);
    let low = top_up(&shop, "2026-10-02", "1.8");
    low.saved(&shop, TECHNICIAN);
    are_linked(
        &shop,
        (&fill, &low),
        (
            "It came back: on 2026-10-02 its level was low and took 1.8 L.",
            "Comes back on the drain and refill of 2026-09-20, within 30 days: its level was low and took 1.8 L.",
        ),
    );
    // The little one came back with the same job.
    are_linked(
        &shop,
        (&little, &low),
        (
            "It came back: on 2026-10-02",
            "Comes back on the top up of 2026-09-24",
        ),
    );
    let after = first_time(&shop);
    assert_eq!(after.1, before.1 + 1);
    assert_ne!(after.0, before.0);
    shop.book_is_closed();
}

#[test]
fn what_comes_after_31_days_or_with_the_same_visit_is_no_coming_back() {
    let shop = Shop::open();
    let fill = exchange(&shop, "2026-08-30");
    fill.saved(&shop, TECHNICIAN);
    top_up(&shop, "2026-10-01", "2").saved(&shop, TECHNICIAN);
    assert!(!text(&body(&shop, &fill)).contains("It came back"));
    // Mended after the fill on the same day: that is what it was filled for.
    let second = exchange(&shop, "2026-10-03");
    second.saved(&shop, TECHNICIAN);
    let mended = on_day(&shop, "leak_repair", "2026-10-03").with_all(&[
        ("time", "10:00"),
        ("part", "lower hose"),
        ("cause", "clamp loose"),
    ]);
    mended.saved(&shop, TECHNICIAN);
    assert!(!text(&body(&shop, &second)).contains("It came back"));
}

/// A leak that was mended and is seen again within its watch: both jobs say so, and so does its case.
#[test]
fn a_leak_that_came_back_links_the_repair_and_the_test_that_saw_it() {
    let shop = Shop::open();
    let repair = on_day(&shop, "leak_repair", "2026-09-15")
        .with_all(&[("part", "lower hose"), ("cause", "clamp loose")]);
    repair.saved(&shop, TECHNICIAN);
    let seen = on_day(&shop, "pressure_test", "2026-10-01").with_all(&[
        ("pressure_start", "90"),
        ("temperature_start", "20"),
        ("hold", "10"),
        ("pressure_end", "86"),
        ("temperature_end", "20"),
        ("gauge_step", "0.5"),
        ("leak_class", "2"),
        ("leak_place", "lower hose"),
    ]);
    seen.saved(&shop, TECHNICIAN);
    are_linked(
        &shop,
        (&repair, &seen),
        (
            "It came back: on 2026-10-01 a leak was seen.",
            "Comes back on the leak repair of 2026-09-15, within 30 days: a leak was seen.",
        ),
    );
    let case = shop.get(As::Manager, &format!("{}/leaks", unit(&shop, UNIT)));
    assert!(
        text(&case.body).contains("came back after that repair"),
        "{}",
        text(&case.body)
    );
}
