//! GET /units/{unit}.

use super::address;
use crate::pages::form::{Form, text};
use crate::pages::shop::{As, Shop};

#[test]
fn each_figure_carries_its_spread_and_how_it_was_worked_out() {
    let shop = Shop::open();
    let page = text(&shop.get(As::Reader, &address(&shop, "3301")).body);
    for said in [
        "Unit 3301",
        "Snowplow, engine family vocational diesel 13 L, Upper Yard (invented)",
        "Freeze point",
        "worked out",
        "How this was worked out : Freeze point",
        "fitted to the tables of ASHRAE 2001",
        "± holds in 95 of 100 cases (1.96 standard deviations). A test narrows it.",
        "Contents, of 54.0 L",
        "Since the last test",
        "Strength, target 55.0 %",
        "Volume, last 90 days",
        "Not accounted for",
        "of capacity",
        "History",
        "Needs checking",
    ] {
        assert!(page.contains(said), "{said}: {page}");
    }
}

#[test]
fn the_balance_closes_to_the_tenth_of_a_litre() {
    let shop = Shop::open();
    for number in ["3301", "3304", "3307", "2119"] {
        let place = shop.read(async |read| {
            let unit = read.find_unit_by_number(number).await.unwrap().unwrap();
            unit.loops.first().unwrap().id
        });
        let page = shop.get(As::Reader, &address(&shop, number)).body;
        let table = page
            .split("Volume, last 90 days")
            .nth(1)
            .unwrap()
            .split("</table>")
            .next()
            .unwrap();
        let tenths: Vec<i64> = table
            .split("data-label=\"Volume\">")
            .skip(1)
            .map(|cell| tenths(cell.split('<').next().unwrap()))
            .collect();
        let (closing, lines) = tenths.split_last().unwrap();
        // Six lines, each shown to a tenth: they may be off by as many half tenths.
        assert!(
            (lines.iter().sum::<i64>() - closing).abs() <= 3,
            "{number}: {tenths:?}"
        );
        let held = shop.read(async |read| read.find_place(place).await.unwrap().unwrap().shown_ml);
        assert!((closing * 100 - held).abs() <= 50, "{number}");
    }
}

/// "−0.4 L" in tenths of a litre.
fn tenths(shown: &str) -> i64 {
    let number: String = shown.chars().filter(char::is_ascii_digit).collect();
    let number: i64 = number.parse().unwrap();
    if shown.starts_with('\u{2212}') {
        -number
    } else {
        number
    }
}

#[test]
fn the_history_goes_back_a_page_at_a_time_to_the_opening() {
    let shop = Shop::open();
    let mut path = address(&shop, "2201");
    let mut lines = 0;
    for _ in 0..50 {
        let page = shop.get(As::Reader, &path).body;
        let history = page
            .split("<ol class=\"history\">")
            .nth(1)
            .unwrap()
            .split("</ol>")
            .next()
            .unwrap();
        lines += history.matches("<li").count();
        let Some(older) = page
            .split(">Older</a>")
            .next()
            .filter(|before| before.len() < page.len())
        else {
            assert!(text(history).contains("Opening of the book"), "{history}");
            break;
        };
        path = older
            .rsplit("href=\"")
            .next()
            .unwrap()
            .split('#')
            .next()
            .unwrap()
            .to_owned();
    }
    let all = shop.read(async |read| {
        let unit = read.find_unit_by_number("2201").await.unwrap().unwrap();
        let mut all = 0;
        for circuit in unit.loops {
            let history = read.list_place_history(circuit.id, None, 100_000).await;
            all += history.unwrap().len();
        }
        all
    });
    assert_eq!(lines, all, "every fact stands on exactly one page");
    assert!(lines > 25);
}

#[test]
fn a_unit_with_several_loops_has_a_section_for_each() {
    let shop = Shop::open();
    let unit = address(&shop, "2201");
    let page = text(&shop.get(As::HarbourManager, &unit).body);
    for name in ["battery", "traction", "cabin"] {
        assert!(page.contains(&format!("Loop: {name}")), "{page}");
        assert!(
            page.contains(&format!("Volume, last 90 days: {name}")),
            "{page}"
        );
    }
    assert!(
        page.contains("High voltage. An authorised person isolates it"),
        "{page}"
    );
    assert!(page.contains("Edit unit 2201"), "{page}");
    // Seen from the other yard, its card is not theirs to change.
    let seen = text(&shop.get(As::Manager, &unit).body);
    assert!(
        seen.contains("Loop: battery") && !seen.contains("Edit unit"),
        "{seen}"
    );
}

#[test]
fn a_unit_that_only_jobs_have_named_has_a_page_and_gets_its_card() {
    let shop = Shop::open();
    let job = r#"{"key": "5f0c1d6e-3a57-4c1e-9a2f-0d4a4f6f9b11", "when": "2026-10-05 07:00", "kind": "top_up",
        "unit": "9 <b>999</b>", "from": "D-1", "volume": "0.5 L", "at_mark": "no", "who": "P1"}"#;
    let sent = shop.browser().send(
        ("POST", "/api/v1/jobs"),
        &[("Content-Type", "application/json")],
        job,
    );
    assert_eq!(sent.status, 202, "{}", sent.body);
    let list = shop
        .get(As::Manager, "/units?text=9+%3Cb%3E999%3C%2Fb%3E")
        .body;
    assert!(
        text(&list).contains("9 <b>999</b> is on no list of units, but jobs have named it."),
        "{list}"
    );
    let unit = list
        .split("jobs have named it. <a href=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let page = shop.get(As::Manager, unit);
    assert_eq!(page.status, 200);
    let said = text(&page.body);
    assert!(
        said.contains("Unit 9 <b>999</b>") && said.contains("No card."),
        "{said}"
    );
    assert!(said.contains("0.5 L from D-1"), "{said}");
    assert!(
        !page.body.contains("/jobs/top_up\""),
        "without a card there is no job's form"
    );

    let card = Form::open(&shop, As::Manager, "/units/new").with_all(&[
        ("number", "9 <B>999</B>"),
        ("kind", "tractor"),
        ("loop1_base", "EG"),
        ("loop1_class", "OAT"),
        ("loop1_capacity", "50"),
    ]);
    let said = card.with("loop1_opening", "50").refused(&shop, As::Manager);
    assert_eq!(said.len(), 1);
    assert!(
        said[0].contains("Jobs have named this loop already"),
        "{said:?}"
    );
    assert_eq!(
        card.saved(&shop, As::Manager),
        unit,
        "however its letters are written"
    );
    let said = text(&shop.get(As::Manager, unit).body);
    assert!(
        said.contains("Tractor,") && said.contains("0.5 L from D-1"),
        "{said}"
    );
    shop.book_is_closed();
}
