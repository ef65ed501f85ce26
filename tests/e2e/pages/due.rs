//! The work that comes round.

use super::form::text;
use super::shop::{As, Shop};
use super::winter::counts;

#[test]
fn what_is_overdue_comes_first_and_each_count_leads_to_its_tasks() {
    let shop = Shop::open();
    let page = shop.get(As::LeadHand, "/due");
    assert_eq!(page.status, 200, "{}", page.body);
    let found = counts(&page.body);
    assert!(
        found.iter().any(|(word, ..)| word == "Overdue"),
        "{found:?}"
    );
    // A test of its strength, and where the class is known its inhibitors and its change, for each of
    // the 38 units of the upper yard, all of one loop.
    let all: usize = found.iter().map(|(_, count, _)| count).sum();
    assert!((38..=38 * 3).contains(&all), "{all}");
    let first = page.body.split("data-label=\"Status\">").nth(1).unwrap();
    assert!(text(first.split("</td>").next().unwrap()).contains("Overdue"));
    let said = text(&page.body);
    assert!(said.contains("h of work."), "{said}");
    assert!(said.contains("% gone by"), "{said}");
}
