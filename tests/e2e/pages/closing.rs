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
    assert_eq!(shop.facts(), facts, "nothing is written");

    let form = Form::on("/waste/close", &answer);
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
