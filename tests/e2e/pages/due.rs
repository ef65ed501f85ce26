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
    // A test of its strength and a check before winter, and where the class is known its inhibitors and its change, for each of
    // the 38 units of the upper yard, all of one loop.
    let all: usize = found.iter().map(|(_, count, _)| count).sum();
    assert!((38..=38 * 4).contains(&all), "{all}");
    let first = page.body.split("data-label=\"Status\">").nth(1).unwrap();
    assert!(text(first.split("</td>").next().unwrap()).contains("Overdue"));
    let said = text(&page.body);
    assert!(said.contains("h of work."), "{said}");
    assert!(said.contains("% gone by"), "{said}");
}

/// A lead hand puts the first overdue work off: it stands as put off with name, reason and day, there
/// and on the unit's page, no longer as overdue; an earlier day takes it back to the list.
#[test]
fn work_is_put_off_with_a_reason_until_a_day_and_no_further() {
    let shop = Shop::open();
    let list = shop.get(As::LeadHand, "/due?state=overdue").body;
    let link = list.split("/put-off?work=").nth(1).unwrap();
    let work = link.split('"').next().unwrap().to_owned();
    let unit = list.split("/put-off?work=").next().unwrap();
    let unit = unit.rsplit("href=\"").next().unwrap().to_owned();
    let path = format!("{unit}/put-off");
    assert!(
        !shop
            .get(As::Technician, "/due?state=overdue")
            .body
            .contains("/put-off"),
        "a technician is not offered it"
    );
    let asked = shop.get(As::LeadHand, &format!("{path}?work={work}"));
    assert_eq!(asked.status, 200, "{}", asked.body);
    let work = work.replace("%2F", "/");
    let key = |body: &str| {
        let at = body.split("name=\"key\" value=\"").nth(1).unwrap();
        at.split('"').next().unwrap().to_owned()
    };
    let facts = shop.facts();
    let send = |until: &str, reason: &str| {
        let key = key(&shop.get(As::LeadHand, &path).body);
        let fields = [
            ("key", key.as_str()),
            ("work", work.as_str()),
            ("until", until),
            ("reason", reason),
        ];
        shop.post(As::LeadHand, &path, &fields)
    };
    // Today is 5 October 2026, the last day 90 days on.
    for (until, reason, said) in [
        (
            "2026-10-04",
            "parts",
            "until a day from 2026-10-05 to 2027-01-03",
        ),
        (
            "2027-01-04",
            "parts",
            "until a day from 2026-10-05 to 2027-01-03",
        ),
        ("2026-10-20", " ", "Why?"),
        ("", "parts", "No day was typed"),
    ] {
        let refused = send(until, reason);
        assert_eq!(refused.status, 422, "{until} {reason}");
        assert!(text(&refused.body).contains(said), "{}", refused.body);
    }
    assert_eq!(shop.facts(), facts, "nothing was saved");
    let before = counts(&shop.get(As::LeadHand, "/due").body);
    let count = |of: &[(String, usize, String)], word: &str| {
        let found = of.iter().find(|(known, ..)| known == word);
        found.map_or(0, |(_, count, _)| *count)
    };
    let saved = send("2026-10-20", "The radiator is awaited");
    assert_eq!(saved.status, 303, "{}", saved.body);
    let after = counts(&shop.get(As::LeadHand, "/due").body);
    assert_eq!(count(&after, "Overdue") + 1, count(&before, "Overdue"));
    assert_eq!(count(&after, "Put off"), count(&before, "Put off") + 1);
    for page in ["/due?state=put-off", unit.as_str()] {
        let said = text(&shop.get(As::Manager, page).body);
        assert!(
            said.contains("Put off until 2026-10-20 by P")
                && said.contains("The radiator is awaited"),
            "{page}: {said}"
        );
    }
    let trail = text(&shop.get(As::Officer, "/records").body);
    assert!(trail.contains("due work put off"), "{trail}");
    assert!(trail.contains("The radiator is awaited"), "{trail}");
    shop.book_is_closed();
}
