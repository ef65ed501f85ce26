//! Every figure that counts something leads to the list behind it, whoever looks at it, and no link of a
//! manager's page leads nowhere.

use std::collections::BTreeSet;

use super::browser::unescaped;
use super::counted::{check, counted, main};
use super::form::text;
use super::leaks::unit;
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

/// Who looks, and a unit and a vessel of their yard.
const LOOK: [(As, &str, &str); 7] = [
    (As::Technician, "3307", "Cart A"),
    (As::LeadHand, "3310", "Cart A"),
    (As::Manager, "3308", "Cart A"),
    (As::Officer, "3311", "Cart A"),
    (As::Reader, "3307", "Cart A"),
    (As::HarbourTechnician, "2114", "Cart B"),
    (As::HarbourManager, "2203", "Cart C"),
];

/// What everybody sees of a shop.
const SEEN_BY_ALL: [&str; 16] = [
    "/",
    "/units",
    "/vessels",
    "/due",
    "/due?state=overdue",
    "/winter",
    "/winter?low=-25",
    "/winter/plan",
    "/corrosion",
    "/leaks",
    "/leaks?state=closed",
    "/laboratory",
    "/retrofit",
    "/retrofit?show=done",
    "/jobs-today",
    "/open-questions",
];

/// What those see who look at a shop as a whole.
const LOOKED_BACK: [&str; 4] = ["/figures", "/stock", "/waste", "/waste/containers"];

/// Elements in which a number is no figure of the page: what tells how it was worked out, what is drawn with
/// its table, what is typed, what leads somewhere.
const NOT_TOLD: [&str; 8] = [
    "details", "caption", "figure", "svg", "form", "a", "button", "thead",
];

const COUNTED: [&str; 20] = [
    "unit",
    "units",
    "task",
    "tasks",
    "job",
    "jobs",
    "case",
    "cases",
    "sample",
    "samples",
    "loop",
    "loops",
    "vessel",
    "vessels",
    "leak",
    "leaks",
    "question",
    "questions",
    "container",
    "containers",
];

/// Columns whose whole numbers count nothing that could be listed: days, and the loops of one unit.
const NO_LIST: [&str; 2] = ["Days", "Loops"];

/// A page without some of its elements.
fn without(page: &str, tag: &str) -> String {
    let (open, close) = (format!("<{tag}"), format!("</{tag}>"));
    let mut left = String::new();
    let mut rest = page;
    while let Some(at) = rest.find(&open) {
        let (before, from) = rest.split_at(at);
        left.push_str(before);
        let begins = from[open.len()..].starts_with([' ', '>']);
        if begins && let Some((_, after)) = from.split_once(&close) {
            rest = after;
        } else {
            left.push_str(&open);
            rest = &from[open.len()..];
        }
    }
    left + rest
}

fn is_number(word: &str) -> bool {
    let digits = word.replace(',', "");
    !digits.is_empty() && digits.chars().all(|sign| sign.is_ascii_digit())
}

/// Counts and sums of a page that lead nowhere.
fn unlinked(page: &str) -> Vec<String> {
    let hints = main(page).split("<p class=\"hint\"");
    let mut told = hints
        .enumerate()
        .map(|(n, part)| match part.split_once("</p>") {
            Some((_, after)) if n > 0 => after,
            _ => part,
        })
        .collect::<String>();
    for tag in NOT_TOLD {
        told = without(&told, tag);
    }
    let said = text(&told);
    let words: Vec<&str> = said.split_whitespace().collect();
    let mut found: Vec<String> = words
        .windows(2)
        .filter(|two| {
            let &[number, word] = *two else { return false };
            is_number(number) && COUNTED.contains(&word.trim_end_matches(['.', ',', ':']))
        })
        .map(|two| two.join(" "))
        .collect();
    for (before, after) in [("<strong>", "</strong>"), ("<dd>", "</dd>")] {
        let inside = if before == "<dd>" {
            "class=\"totals\""
        } else {
            ""
        };
        let parts = told.split("</dl>").filter(|part| part.contains(inside));
        let values = parts.flat_map(|part| part.split(before).skip(1));
        let values = values.map(|value| text(value.split(after).next().unwrap()));
        found.extend(values.filter(|value| {
            let sum = before == "<dd>" && value.chars().any(|sign| sign.is_ascii_digit());
            sum || is_number(value.trim())
        }));
    }
    for cell in told.split("<td data-label=\"").skip(1) {
        let (label, rest) = cell.split_once('"').unwrap();
        let value = text(
            rest.split_once('>')
                .unwrap()
                .1
                .split("</td>")
                .next()
                .unwrap(),
        );
        if is_number(value.trim()) && !NO_LIST.contains(&label) {
            found.push(format!("{label}: {value}"));
        }
    }
    found
}

#[test]
fn a_count_or_a_sum_without_a_link_is_seen() {
    let page = |inside: &str| format!("<main id=\"main\">{inside}</main>");
    for (seen, inside) in [
        (1, "<p>4 units wait.</p>"),
        (
            0,
            "<p><a class=\"counted\" href=\"/x\">4</a> units wait.</p>",
        ),
        (1, "<p>1,204 jobs.</p>"),
        (0, "<p class=\"hint\">4 units at a time.</p>"),
        (1, "<p class=\"hint\">4 units at a time.</p><p>5 units</p>"),
        (0, "<details><p>4 units</p></details>"),
        (1, "<ul><li>Ready <strong>23</strong></li></ul>"),
        (
            1,
            "<dl class=\"totals\"><div><dt>Waste</dt><dd>3.5 L</dd></div></dl>",
        ),
        (
            0,
            "<dl class=\"facts\"><div><dt>Waste</dt><dd>3.5 L</dd></div></dl>",
        ),
        (
            1,
            "<table><tr><td data-label=\"Units\" class=\"num\">9</td></tr></table>",
        ),
        (
            0,
            "<table><tr><td data-label=\"Days\" class=\"num\">9</td></tr></table>",
        ),
    ] {
        assert_eq!(unlinked(&page(inside)).len(), seen, "{inside}");
    }
}

/// Whoever looks, and in either yard: each count and each sum leads to a list that is there for them and has
/// as many rows, or comes to as much.
#[test]
fn no_count_or_sum_stands_without_the_list_it_comes_to() {
    let shop = Shop::open();
    for (who, number, vessel) in LOOK {
        let of_unit = unit(&shop, number);
        let vessel = shop.read(async |read| {
            let found = read.find_vessel_by_name(vessel, None).await.unwrap();
            found.unwrap().id
        });
        let mut pages: Vec<String> = SEEN_BY_ALL.map(str::to_owned).to_vec();
        pages.extend([
            format!("{of_unit}/leaks"),
            of_unit,
            format!("/vessels/{vessel}"),
        ]);
        let looks_back = shop.get(who, "/figures").status == 200;
        if looks_back {
            pages.extend(LOOKED_BACK.map(str::to_owned));
        }
        let mut seen = BTreeSet::new();
        for page in &pages {
            let answer = shop.get(who, page);
            assert_eq!(answer.status, 200, "{page} as {who:?}");
            // How waste is summed is the waste pages' own.
            if !page.starts_with("/waste") {
                let unlinked = unlinked(&answer.body);
                assert!(unlinked.is_empty(), "{page} as {who:?}: {unlinked:?}");
            }
            for figure in counted(main(&answer.body)) {
                if seen.insert(figure.clone()) {
                    check(&shop, who, (page, &figure));
                }
            }
        }
        let least = if looks_back { 90 } else { 30 };
        assert!(seen.len() >= least, "{who:?}: {}", seen.len());
    }
}
