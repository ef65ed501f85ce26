//! The winter: which units freeze first, how many are ready, and what makes enough of them so.

use super::counted::{check, counted};
use super::form::{Form, text};
use super::job::paper::contents;
use super::shop::{As, Shop};

/// What stands in each cell of the table, by the label of its column.
fn cells<'a>(page: &'a str, label: &str) -> Vec<String> {
    let cell = |rest: &'a str| text(rest.split("</td>").next().unwrap());
    let mark = format!("data-label=\"{label}\"");
    let within = page.split(&mark).skip(1);
    within
        .map(|rest| cell(rest.split_once('>').unwrap().1))
        .collect()
}

/// Each count of the list of counts: its word, how many, where it leads.
pub(super) fn counts(page: &str) -> Vec<(String, usize, String)> {
    let list = page.split("<ul class=\"counts\"").nth(1).unwrap();
    let list = list.split("</ul>").next().unwrap();
    let between = |text: &str, from: &str, to: &str| {
        let rest = text.split(from).nth(1).unwrap();
        rest.split(to).next().unwrap().to_owned()
    };
    list.split("<li>")
        .skip(1)
        .map(|entry| {
            let address = between(entry, "href=\"", "\"").replace("&#38;", "&");
            let count = between(entry, "<strong>", "<").parse().unwrap();
            (between(entry, "class=\"word\">", "<"), count, address)
        })
        .collect()
}

fn how_many(page: &str, word: &str) -> usize {
    let found = counts(page).into_iter().find(|(known, ..)| known == word);
    found.map_or(0, |(_, count, _)| count)
}

#[test]
fn every_unit_is_counted_once_and_each_count_leads_to_as_many() {
    let shop = Shop::open();
    let page = shop.get(As::Manager, "/winter");
    assert_eq!(page.status, 200, "{}", page.body);
    let mut all = 0;
    for (word, count, address) in counts(&page.body) {
        let list = shop.get(As::Manager, &address);
        assert_eq!(list.status, 200, "{address}");
        let statuses = cells(&list.body, "Status");
        assert_eq!(statuses.len(), count, "{word}");
        assert!(
            statuses.iter().all(|status| *status == word),
            "{statuses:?}"
        );
        all += count;
    }
    // 6 buses, 16 snowplows, 8 school buses, 5 trucks and 3 generators stand in the upper yard.
    assert_eq!(all, 38);
    let said = text(&page.body);
    let ready = how_many(&page.body, "Ready");
    assert!(
        said.contains(&format!("{ready} of 38 units are ready")),
        "{said}"
    );
    assert!(said.contains("winter low \u{2212}31.0 °C"), "{said}");
    // The other yard lies at the coast.
    assert!(
        said.contains("Harbour Yard (invented) \u{2212}17.0 °C"),
        "{said}"
    );
}

#[test]
fn a_colder_forecast_makes_fewer_ready_and_the_warmest_leaves_what_was_never_proved() {
    let shop = Shop::open();
    let at = |low: &str| {
        let page = shop.get(As::LeadHand, &format!("/winter?low={low}"));
        assert_eq!(page.status, 200, "{low}");
        page.body
    };
    let usual = how_many(&shop.get(As::LeadHand, "/winter").body, "Ready");
    let colder = how_many(&at("-36"), "Ready");
    let warm = at("5");
    assert!(colder < usual, "{colder} {usual}");
    assert!(how_many(&warm, "Ready") > usual);
    // Not one freezes at 5 °C, and an old test is no proof all the same: nobody read 4508 since the spring, and
    // without that reading its last one is from the winter.
    assert_eq!(how_many(&warm, "Freezes"), 0);
    let school_bus = contents(&shop, "4508").place;
    let history = shop
        .read(async |read| read.list_place_history(school_bus, None, 64).await)
        .unwrap();
    let mut tests = history.iter();
    let newest = tests.find(|row| row.job_kind.as_deref() == Some("condition_test"));
    let path = format!("/jobs/{}/void", newest.unwrap().order.key);
    Form::open(&shop, As::Manager, &path)
        .with("reason", "Wrong unit")
        .saved(&shop, As::Manager);
    assert_eq!(
        how_many(&shop.get(As::LeadHand, "/winter").body, "Ready"),
        usual - 1
    );
    let warm = at("5");
    let old = how_many(&warm, "Test too old");
    assert_eq!(old, 1);
    let list = shop.get(As::LeadHand, "/winter?low=5&state=old-test").body;
    assert_eq!(list.matches("url(#old-test)").count(), old);
    let refused = shop.get(As::LeadHand, "/winter?low=cold");
    assert_eq!(refused.status, 422);
    assert!(
        text(&refused.body).contains("Not worked out: 1 thing to put right"),
        "{}",
        refused.body
    );
}

/// Story 4: three snowplows that were topped up with water all summer.
#[test]
fn units_topped_up_with_water_are_not_ready_and_the_plan_names_their_litres() {
    let shop = Shop::open();
    let plan = text(&shop.get(As::Manager, "/winter/plan?wanted=100").body);
    for number in ["3311", "3312", "3315"] {
        let of = plan
            .split(&format!("{number} snowplow"))
            .nth(1)
            .unwrap_or_else(|| panic!("{number}: {plan}"));
        let of = of.split('.').take(8).collect::<Vec<_>>().join(".");
        assert!(of.contains("L of concentrate"), "{number}: {of}");
        assert!(
            of.starts_with(" Freezes") || of.starts_with(" Not sure enough"),
            "{number}: {of}"
        );
    }
    assert!(
        plan.contains("Let each unit cool before its cap is opened."),
        "{plan}"
    );
}

#[test]
fn the_plan_says_what_it_reaches_and_less_is_asked_for_less() {
    let shop = Shop::open();
    let rows = |path: &str| {
        let page = shop.get(As::Manager, path);
        assert_eq!(page.status, 200, "{path}: {}", page.body);
        (cells(&page.body, "What to do").len(), text(&page.body))
    };
    let (usual, said) = rows("/winter/plan");
    let (few, _) = rows("/winter/plan?wanted=70");
    assert!(few < usual, "{few} {usual}");
    assert!(said.contains("Concentrate, expected"), "{said}");
    assert!(said.contains("our own default, no source"), "{said}");
    let (_, none) = rows("/winter/plan?wanted=1");
    assert!(
        none.contains("Nothing to do that could be planned."),
        "{none}"
    );
    assert_eq!(shop.get(As::Manager, "/winter/plan?wanted=0").status, 422);
    assert_eq!(
        shop.get(
            As::Manager,
            "/winter?shop=0bad0000-0000-4000-8000-000000000001"
        )
        .status,
        404
    );
}

/// The coverage of day 0 as the page has it: 25 of 38 units of the hill are ready and 44 of 46 at the coast,
/// and the figures alone are sure of as many, so that none waits for a test or an answer alone. The list behind
/// each count is as long.
#[test]
fn the_coverage_of_day_0_stands_on_the_page() {
    let shop = Shop::open();
    for (who, sure, units, percent) in [(As::Manager, 25, 38, 65), (As::HarbourManager, 44, 46, 95)]
    {
        let page = shop.get(who, "/winter").body;
        let said = text(&page);
        // The percent is cut off, so that 94.9 % is no 95 %.
        let ready = format!("{sure} of {units} units are ready: {percent} %.");
        assert!(said.contains(&ready), "{said}");
        let told = format!("{sure} of {units} are at least 95 % sure by strength alone");
        assert!(said.contains(&told), "{said}");
        let counted = counted(&page);
        let of = |only: &str| {
            let behind = format!("&only={only}");
            let mut all = counted.iter();
            all.find(|figure| figure.address.ends_with(&behind))
                .unwrap()
        };
        assert_eq!(of("sure").rows, Some(sure));
        check(&shop, who, ("/winter", of("sure")));
        check(&shop, who, ("/winter", of("short")));
        assert_eq!(how_many(&page, "Ready"), sure);
        let short = shop.get(who, &of("short").address).body;
        for spare in cells(&short, "Left of the line it freezes") {
            // "4.1 °C to spare" is less than 5, "2.0 °C too warm" is too.
            let number: f64 = spare.split(' ').next().unwrap().parse().unwrap();
            assert!(number < 5.0 || spare.contains("too warm"), "{spare}");
        }
    }
}

/// Each step leads to the plan of its correction, on its unit.
#[test]
fn each_step_of_the_winter_leads_to_the_plan_of_its_correction() {
    let shop = Shop::open();
    for path in ["/winter", "/winter/plan"] {
        let page = shop.get(As::Manager, path).body;
        let plans: Vec<&str> = page
            .split("href=\"")
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap())
            .filter(|address| address.contains("/plans/correction"))
            .collect();
        assert!(plans.len() > 5, "{path}: {plans:?}");
        for plan in plans {
            let planned = shop.get(As::Manager, plan);
            assert_eq!(planned.status, 200, "{plan}");
            assert!(text(&planned.body).contains("Plan a correction"), "{plan}");
        }
    }
}
