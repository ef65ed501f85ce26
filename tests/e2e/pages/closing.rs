//! Closing a month of a site: what is signed is what was shown, once, and stays.

use super::form::{Form, problems, text};
use super::job::paper::Paper;
use super::shop::{As, Shop};

const PAGE: &str = "/waste/close?month=2026-09";

fn page(shop: &Shop, who: As, path: &str) -> String {
    let answer = shop.get(who, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    text(&answer.body)
}

/// The part of a page from one heading to another.
fn between<'a>(page: &'a str, from: &str, to: &str) -> &'a str {
    let rest = page
        .split_once(from)
        .unwrap_or_else(|| panic!("no {from}: {page}"))
        .1;
    rest.split_once(to)
        .unwrap_or_else(|| panic!("no {to}: {page}"))
        .0
}

fn other_waste(shop: &Shop, month: &str, mass: &str) {
    Form::open(
        shop,
        As::HarbourManager,
        &format!("/waste/other?month={month}"),
    )
    .with_all(&[
        ("none", "yes"),
        ("name", "lamp oil (invented)"),
        ("mass", mass),
        ("acute", "no"),
    ])
    .saved(shop, As::HarbourManager);
}

fn ship_late(shop: &Shop) {
    Paper::on_vessel(shop, As::HarbourManager, ("D-7", "ship"))
        .with_all(&[
            ("volume", "7"),
            ("temperature", "20"),
            ("carrier", "Tarn Valley Reclaim (invented)"),
            ("document", "DEMO-LATE"),
            ("when", "earlier"),
            ("day", "2026-09-14"),
            ("time", "10:00"),
        ])
        .happened()
        .saved(shop, As::HarbourManager);
}

#[test]
fn a_month_is_closed_once_by_the_officer_and_stays_as_it_was_signed() {
    let shop = Shop::open();
    let open = page(&shop, As::HarbourManager, "/waste?month=2026-09");
    assert!(
        open.contains("2026-09 is over and not closed yet."),
        "{open}"
    );
    let seen = page(&shop, As::HarbourManager, PAGE);
    assert!(seen.contains("The compliance officer signs it."), "{seen}");
    assert!(!seen.contains("Sign and close"), "{seen}");
    let form = Form::open(&shop, As::Officer, PAGE);
    assert_eq!(form.send(&shop, As::HarbourManager).status, 403);

    // Somebody logs a job of the month meanwhile: the officer signs what they saw, or looks again.
    ship_late(&shop);
    let facts = shop.facts();
    let answer = form.send(&shop, As::Officer);
    assert_eq!(answer.status, 422);
    assert!(
        problems(&answer.body)[0].contains("The figures changed"),
        "{}",
        answer.body
    );
    assert!(
        problems(&answer.body)[0].contains("one entry of 2026-09 came in"),
        "{}",
        answer.body
    );
    let came = text(&answer.body);
    let came = between(&came, "What came in meanwhile", "Local rules");
    assert!(came.contains("Event "), "{came}");
    assert!(answer.body.contains(&format!("/records/{facts}\"")));
    assert_eq!(shop.facts(), facts, "nothing is written");

    // What comes in about another month meanwhile is none of it.
    let form = Form::on("/waste/close", &answer);
    other_waste(&shop, "2026-10", "1 kg");
    let facts = facts + 1;
    let before = text(&answer.body);
    assert_eq!(form.saved(&shop, As::Officer), PAGE);
    assert_eq!(form.saved(&shop, As::Officer), PAGE, "sent twice");
    assert_eq!(shop.facts(), facts + 1);
    let signed = page(&shop, As::HarbourManager, PAGE);
    assert!(
        signed.contains("Closed. Signed by P12, 2026-10-05"),
        "{signed}"
    );
    assert!(signed.contains("Nothing changed since."), "{signed}");
    let parts = [
        ("Totals", "The links lead"),
        ("What the month counts as", "Vessels:"),
        ("Mass at last", "so a row always closes"),
    ];
    for (from, to) in &parts[1..] {
        assert_eq!(between(&signed, from, to), between(&before, from, to));
    }

    ship_late(&shop);
    let after = page(&shop, As::HarbourManager, PAGE);
    let changed = between(&after, "What changed since", "Totals");
    assert!(changed.contains("Shipped: +7.0"), "{changed}");
    for (from, to) in parts {
        assert_eq!(
            between(&signed, from, to),
            between(&after, from, to),
            "as signed"
        );
    }
    for path in ["/waste?month=2026-09", "/waste"] {
        assert!(
            page(&shop, As::HarbourManager, path).contains("Shipped: +7.0"),
            "{path}"
        );
    }
    shop.book_is_closed();
}

#[test]
fn only_what_cannot_be_true_is_refused() {
    let shop = Shop::open();
    let form = Form::open(&shop, As::Officer, PAGE);
    let facts = shop.facts();
    for (month, said) in [
        ("2026-10", "its last day, 2026-10-31, is not over yet"),
        ("2026-07", "it is closed already"),
        ("2026-13", "Is to be written like 2026-09"),
    ] {
        let answer = form.with("month", month).send(&shop, As::Officer);
        assert_eq!(answer.status, 422, "{month}");
        let found = problems(&answer.body);
        assert!(found[0].contains(said), "{month}: {found:?}");
    }
    let running = page(&shop, As::Officer, "/waste/close?month=2026-10");
    assert!(running.contains("It cannot be closed."), "{running}");

    shop.let_the_proof_lapse(As::Officer);
    let asked = form.send(&shop, As::Officer);
    assert_eq!(asked.status, 401, "{}", asked.body);
    assert_eq!(shop.facts(), facts, "nothing is written");
    let password = shop.secret(As::Officer, "password").unwrap();
    let shown = Form::on("/prove", &asked)
        .with("password", &password)
        .send(&shop, As::Officer);
    Form::on("/waste/close", &shown).saved(&shop, As::Officer);
    assert_eq!(shop.facts(), facts + 1);
    shop.book_is_closed();
}

#[test]
fn a_site_closes_with_all_its_shops_and_names_what_is_open() {
    let shop = Shop::open();
    let (site, stands) = shop.read(async |read| {
        let stands = read.find_person_by_handle("P11").await.unwrap().unwrap();
        let own = read.find_shop(stands.shop.unwrap()).await.unwrap().unwrap();
        let sites = read.list_sites().await.unwrap();
        let site = sites.into_iter().find(|site| site.id == own.site).unwrap();
        (site, own)
    });
    Form::open(&shop, As::Administrator, "/settings/shops/new")
        .with_all(&[
            ("site", &site.name),
            ("shop", "North Bay (invented)"),
            ("zone", "America/Denver"),
            ("altitude", "1500"),
        ])
        .saved(&shop, As::Administrator);
    let before = page(&shop, As::Officer, PAGE);
    assert!(before.contains("Vessels: North Bay (invented)"), "{before}");
    let left = between(&before, "Left open", "Waste containers");
    Form::open(&shop, As::Officer, PAGE).saved(&shop, As::Officer);
    let signed = page(&shop, As::Officer, PAGE);
    assert_eq!(between(&signed, "Left open", "Waste containers"), left);
    let closings = shop.read(async |read| {
        let month = "2026-09".to_owned().try_into().unwrap();
        let north = read
            .find_shop_by_name("North Bay (invented)")
            .await
            .unwrap()
            .unwrap();
        let mut all = read.list_month_closings(stands.id, month).await.unwrap();
        all.extend(read.list_month_closings(north.id, month).await.unwrap());
        all
    });
    assert_eq!(closings.len(), 2);
    assert_eq!(closings[0], closings[1], "one fact for both");
    // A month that a shop had closed for itself before leaves the new one out, and says so.
    let july = page(&shop, As::Officer, "/waste/close?month=2026-07");
    assert!(
        july.contains("North Bay (invented) came to the site later"),
        "{july}"
    );
    shop.book_is_closed();
}

/// The statement is true of the head of the record it names: it lies right behind that head.
#[test]
fn nothing_comes_between_a_statement_and_its_signature() {
    let shop = Shop::open();
    let form = Form::open(&shop, As::Officer, PAGE);
    // It is drawn up anew at the head it is signed at: this moves nothing of the month.
    other_waste(&shop, "2026-10", "1 kg");
    form.saved(&shop, As::Officer);
    let (seq, head) = shop.read(async |read| {
        let officer = read.find_person_by_handle("P11").await.unwrap().unwrap();
        let month = "2026-09".to_owned().try_into().unwrap();
        let own = read.list_month_closings(officer.shop.unwrap(), month).await;
        let seq = own.unwrap()[0];
        let row = read.find_fact_at(seq).await.unwrap().unwrap();
        let domain::fact::What::MonthClosed(closed) = row.fact().unwrap().what else {
            panic!("no closing")
        };
        (seq, closed.statement.head_seq)
    });
    assert_eq!((seq, head), (shop.facts(), shop.facts() - 1));
}

/// The statements of the demonstration are those a page would have drawn up: nothing differs but what
/// its stories changed late.
#[test]
fn the_closings_of_the_demonstration_are_what_the_page_draws_up() {
    let shop = Shop::open();
    let mut changed = Vec::new();
    for who in [As::Manager, As::HarbourManager] {
        for (year, first, last) in [(2025, 4, 12), (2026, 1, 8)] {
            for month in first..=last {
                let path = format!("/waste/close?month={year}-{month:02}");
                let closing = page(&shop, who, &path);
                assert!(closing.contains("Closed. Signed by P12"), "{closing}");
                assert!(!closing.contains("closed shop by shop"), "{path}");
                assert!(closing.contains("Rules: us-fed"), "{path}: {closing}");
                if !closing.contains("Nothing changed since.") {
                    let list = between(&closing, "never in the statement:", "Totals");
                    changed.push(format!("{who:?} {year}-{month:02} {}", list.trim()));
                }
            }
        }
    }
    let months: Vec<&str> = changed
        .iter()
        .map(|it| it.split(" Recovered").next().unwrap())
        .collect();
    assert_eq!(months, ["Manager 2026-07"], "{changed:#?}");
}

/// A closed month of the year's table is as it was signed; what came after stands beside it.
#[test]
fn a_year_shows_closed_months_as_signed_and_what_changed_since() {
    let shop = Shop::open();
    let year = page(&shop, As::HarbourManager, "/waste/year?year=2026");
    assert!(year.contains("2026-08 "), "{year}");
    assert!(year.contains("as signed"), "{year}");
    Form::open(&shop, As::Officer, PAGE).saved(&shop, As::Officer);
    let row = |page: &str| between(page, " 2026-09 ", " 2026-08 ").to_owned();
    let before = row(&page(&shop, As::HarbourManager, "/waste/year?year=2026"));
    assert!(before.contains("as signed"), "{before}");
    assert!(!before.contains("changed since"), "{before}");
    let solvent = |page: &str| {
        let sums = between(page, "Together", "A closed month shows");
        sums.to_owned()
    };
    let sums = solvent(&page(&shop, As::HarbourManager, "/waste/year?year=2026"));
    other_waste(&shop, "2026-09", "50 kg");
    let year = page(&shop, As::HarbourManager, "/waste/year?year=2026");
    let after = row(&year);
    assert!(after.contains("as signed , changed since"), "{after}");
    assert_eq!(after.replace(" , changed since", ""), before);
    assert_eq!(solvent(&year), sums, "the sums are those of what is shown");
    let since = between(
        &year,
        "What changed since a month was closed",
        "Where the coolant",
    );
    assert!(
        since.contains("2026-09 : Other hazardous waste: +50"),
        "{since}"
    );
    let months = shop
        .get(As::HarbourManager, "/waste/months.csv?year=2026")
        .body;
    let september = months
        .lines()
        .find(|row| row.starts_with("2026-09,"))
        .unwrap();
    let head = months
        .lines()
        .find(|row| row.starts_with("month,"))
        .unwrap();
    let column = head.split(',').position(|name| name == "closed").unwrap();
    assert_eq!(september.split(',').nth(column), Some("yes"), "{september}");
    let kg = |name: &str| -> i64 {
        let column = head.split(',').position(|it| it == name).unwrap();
        let told = september.split(',').nth(column).unwrap();
        told.replace('.', "").parse().unwrap()
    };
    // In grams: the file tells what was signed, as the page does; what was entered late stands beside it.
    for (figure, late) in [
        ("counted coolant kg", 0),
        ("perhaps counted coolant kg", 0),
        ("not counted coolant kg", 0),
        ("other hazardous waste kg", 50_000),
        ("other acute kg", 0),
    ] {
        let now = kg(&format!("as it stands now: {figure}"));
        assert_eq!(now - kg(figure), late, "{figure}: {september}");
    }
}

/// Neither a year nor a month that the record does not reach is worked out.
#[test]
fn a_year_and_a_month_are_within_the_record() {
    let shop = Shop::open();
    for (asked, shown) in [
        ("/waste/year?year=1850", "Waste, 2025-04 to 2025-12"),
        ("/waste/year?year=-200000", "Waste, 2025-04 to 2025-12"),
        ("/waste/year?year=9999", "Waste, 2026-01 to 2026-10"),
        ("/waste/year?month=2025-07", "Waste, 2025-04 to 2025-07"),
        ("/waste/year?month=9999-12", "Waste, 2025-11 to 2026-10"),
        ("/waste?month=1850-01", "Waste in 2025-04"),
        ("/waste?month=9999-12", "Waste in 2026-10"),
        (
            "/waste/lines?month=1850-01&total=bought",
            "Bought in 2025-04",
        ),
        ("/waste/close?month=1850-01", "Closing of 2025-04"),
    ] {
        let shown_as = page(&shop, As::Manager, asked);
        assert!(shown_as.contains(shown), "{asked}: {shown_as}");
    }
    let first = page(&shop, As::Manager, "/waste/year?year=2025");
    assert!(!first.contains(" 2024 "), "{first}");
    let form = Form::open(&shop, As::Officer, PAGE);
    let facts = shop.facts();
    let answer = form.with("month", "2025-03").send(&shop, As::Officer);
    assert_eq!(answer.status, 422);
    let found = problems(&answer.body);
    assert!(
        found[0].contains("the record of this site begins with 2025-04"),
        "{found:?}"
    );
    assert_eq!(shop.facts(), facts);
}
