//! Every figure that counts something leads to the list behind it, and no link of a manager's page
//! leads nowhere.

use std::collections::BTreeSet;

use super::browser::unescaped;
use super::form::text;
use super::shop::{As, Shop};
use super::winter::counts;

/// The pages a manager looks at in the morning.
const PAGES: [&str; 9] = [
    "/",
    "/winter",
    "/winter/plan",
    "/leaks",
    "/leaks?state=closed",
    "/corrosion",
    "/laboratory",
    "/laboratory/file",
    "/due",
];

fn links(page: &str) -> BTreeSet<String> {
    let main = page.split("<main").nth(1).unwrap();
    let hrefs = main.split("href=\"").skip(1);
    hrefs
        .map(|rest| unescaped(rest.split('"').next().unwrap()))
        .filter(|address| address.starts_with('/') && !address.starts_with("/static/"))
        .collect()
}

#[test]
fn no_link_of_the_managers_pages_leads_nowhere() {
    let shop = Shop::open();
    let mut seen = BTreeSet::new();
    for page in PAGES {
        let answer = shop.get(As::Manager, page);
        assert_eq!(answer.status, 200, "{page}");
        seen.extend(links(&answer.body));
    }
    assert!(seen.len() > 60, "{seen:?}");
    for address in &seen {
        let answer = shop.get(As::Manager, address);
        assert_eq!(answer.status, 200, "{address}");
        assert!(answer.body.contains("<h1"), "{address}");
    }
}

#[test]
fn each_count_on_the_board_leads_to_a_list_that_counts_the_same() {
    let shop = Shop::open();
    let board = shop.get(As::Manager, "/").body;
    let mut checked = 0;
    for entry in board.split("<li>").skip(1) {
        let entry = entry.split("</li>").next().unwrap();
        let Some(count) = entry.split("<strong>").nth(1) else {
            continue;
        };
        let count: usize = count.split('<').next().unwrap().parse().unwrap();
        let address = entry.split("href=\"").nth(1);
        let address = address.unwrap_or_else(|| panic!("a count without a link: {entry}"));
        let address = unescaped(address.split('"').next().unwrap());
        let word = entry.split("class=\"word\">").nth(1).unwrap();
        let word = word.split('<').next().unwrap();
        let list = shop.get(As::Manager, &address).body;
        let said = text(&list);
        if address.starts_with("/units") {
            let units = if count == 1 { "unit" } else { "units" };
            assert!(
                said.contains(&format!("{count} {units} found")),
                "{address}"
            );
        } else if address.starts_with("/board/") {
            assert!(said.contains(&format!("{count} in Upper Yard")), "{said}");
            let rows = list.matches("data-label=\"How it stands\"").count();
            assert_eq!(rows, count.min(50), "{address}");
        } else if address == "/checking" {
            let rows = list.matches("<section class=\"card\">").count();
            assert_eq!(rows, count, "{address}");
        } else {
            let same = counts(&list)
                .into_iter()
                .find(|(known, ..)| known == word)
                .unwrap_or_else(|| panic!("{address} does not count {word}"));
            assert_eq!((same.1, same.2), (count, address.clone()));
            // A page shows fifty at the most.
            let rows = list.matches("data-label=\"Status\"").count();
            assert_eq!(rows, count.min(50), "{address}");
        }
        checked += 1;
    }
    assert!(checked >= 8, "{checked}");
}
