//! The programme of fitted drains (story 11).

use super::counted::counted;
use super::form::text;
use super::shop::{As, Shop};

/// The figure that stands beside a word in the list of counts, as "25 of 38", and where it leads.
fn count(page: &str, word: &str) -> (usize, usize, String) {
    let list = page.split("<ul class=\"counts\"").nth(1).unwrap();
    let mut entries = list.split("<li>");
    let entry = entries.find(|entry| entry.contains(&format!(">{word} <strong>")));
    let entry = entry.unwrap().split("</li>").next().unwrap();
    let counted = counted(entry).remove(0);
    let whole = entry.rsplit(" of ").next().unwrap();
    (
        counted.rows.unwrap(),
        whole.trim().parse().unwrap(),
        counted.address,
    )
}

fn numbers(page: &str) -> Vec<String> {
    page.split("<th scope=\"row\"><a href=\"/units/")
        .skip(1)
        .map(|row| {
            row.split('>')
                .nth(1)
                .unwrap()
                .split('<')
                .next()
                .unwrap()
                .to_owned()
        })
        .collect()
}

/// 50 of 84 units, 68 minutes at the first and 41 at the last, four threads that were listed otherwise.
#[test]
fn both_yards_together_have_the_fittings_of_the_story() {
    let shop = Shop::open();
    let (mut fitted, mut units, mut differ) = (0, 0, 0);
    let mut minutes = Vec::new();
    for who in [As::Manager, As::HarbourManager] {
        let page = shop.get(who, "/retrofit");
        assert_eq!(page.status, 200, "{}", page.body);
        let (done, scope, address) = count(&page.body, "Fitted");
        let list = shop.get(who, &address);
        assert_eq!(numbers(&list.body).len(), done);
        let (left, of, address) = count(&page.body, "Not yet");
        assert_eq!((left + done, of), (scope, scope));
        assert_eq!(numbers(&shop.get(who, &address).body).len(), left);
        fitted += done;
        units += scope;
        let said = text(&page.body);
        differ += said.matches("found M18").count();
        let timed = said.split("Working time: ").nth(1).unwrap();
        for part in timed.split(" min").take(2) {
            minutes.push(part.rsplit(' ').next().unwrap().parse::<i64>().unwrap());
        }
    }
    assert_eq!((fitted, units, differ), (50, 84, 4));
    // The first of the programme stood in the harbour yard, the last in the upper one.
    assert_eq!(minutes, [69, 41, 68, 44]);
}

#[test]
fn the_end_is_read_off_the_pace_and_a_plan_that_is_missed_is_said() {
    let shop = Shop::open();
    let said = |path: &str| text(&shop.get(As::LeadHand, path).body);
    let usual = said("/retrofit");
    assert!(usual.contains("at this pace all by 20"), "{usual}");
    let missed = said("/retrofit?by=2026-10-06");
    assert!(
        missed.contains("At this pace the end of the plan, 2026-10-06, is missed by"),
        "{missed}"
    );
    let late = said("/retrofit?by=2099-01-01");
    assert!(!late.contains("is missed"), "{late}");
    assert!(
        late.contains("Gauge the thread at the unit before a fitting is turned in"),
        "{late}"
    );
    assert_eq!(shop.get(As::LeadHand, "/retrofit?by=soon").status, 422);
}

#[test]
fn units_come_by_next_visit_or_by_payback_and_lead_to_the_job() {
    let shop = Shop::open();
    let cells = |path: &str, label: &str| -> Vec<String> {
        let page = shop.get(As::Technician, path).body;
        page.split(&format!("data-label=\"{label}\""))
            .skip(1)
            .map(|rest| {
                text(
                    rest.split_once('>')
                        .unwrap()
                        .1
                        .split("</td>")
                        .next()
                        .unwrap(),
                )
            })
            .collect()
    };
    let visits = cells("/retrofit", "Next visit, expected");
    assert!(
        visits.len() > 3 && visits.is_sorted_by(|one, other| one[..10] <= other[..10]),
        "{visits:?}"
    );
    let paid = cells("/retrofit?order=payback", "Paid back in");
    let months: Vec<i64> = paid
        .iter()
        .filter_map(|cell| cell.strip_suffix(" months")?.parse().ok())
        .collect();
    assert!(!months.is_empty() && months.is_sorted(), "{paid:?}");
    let page = shop.get(As::Technician, "/retrofit").body;
    let log = page
        .split("class=\"button\" href=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    assert_eq!(shop.get(As::Technician, log).status, 200, "{log}");
    // Whoever only reads is not sent to a form that is not theirs.
    assert!(
        !shop
            .get(As::Reader, "/retrofit")
            .body
            .contains("/jobs/fit_coupling")
    );
}

/// The file holds every unit in scope, those to fit first, and fits the page.
#[test]
fn the_programme_is_saved_as_a_file() {
    let shop = Shop::open();
    let page = shop.get(As::Manager, "/retrofit").body;
    let (done, all, _) = count(&page, "Fitted");
    let file = shop.get(As::Manager, "/retrofit.csv");
    assert_eq!(file.status, 200);
    let lines: Vec<Vec<&str>> = file
        .body
        .lines()
        .map(|line| line.split(',').collect())
        .collect();
    // A comma stands in the head of the column of visits.
    assert!(
        file.body
            .starts_with("unit,kind,fitted on,\"next visit, expected\",")
    );
    assert_eq!(lines.len(), all + 1);
    let fitted = |line: &Vec<&str>| !line[2].is_empty();
    assert_eq!(lines[1..].iter().filter(|line| fitted(line)).count(), done);
    assert!(lines[1..].iter().map(fitted).is_sorted());
    let first = shop.get(As::Manager, "/retrofit?order=payback").body;
    assert_eq!(numbers(&first)[0], lines[1][0]);
    let buses = shop.get(As::Manager, "/retrofit.csv?kind=transit+bus").body;
    assert!(
        buses
            .lines()
            .skip(1)
            .all(|line| line.contains(",transit bus,")),
        "{buses}"
    );
    assert!(buses.lines().count() > 1 && buses.lines().count() < all);
}
