//! Ship out: prepared by a manager, signed by the compliance officer.

use domain::job::{Account, Details, Line};

use super::paper::{Paper, contents, place, text, vessel_path};
use crate::pages::shop::{As, Shop};

fn load(shop: &Shop) -> Paper {
    Paper::on_vessel(shop, As::Manager, ("D-6", "ship")).with_all(&[
        ("volume", "20"),
        ("temperature", "20"),
        ("carrier", "Tarn Valley Reclaim (invented)"),
        ("document", "DEMO-4711"),
        ("destination", "Old Quarry Works (invented)"),
    ])
}

#[test]
fn a_shipment_leaves_with_its_paper_and_is_signed_once() {
    let shop = Shop::open();
    let before = contents(&shop, "D-6").shown_ml;
    let saved = load(&shop).saved(&shop, As::Manager);
    let [Line::Movement(moved)] = &saved.job.lines[..] else {
        panic!()
    };
    let own = Account::Vessel(place(&shop, "D-6"));
    assert_eq!((moved.from, moved.to), (own, Account::Carrier));
    let Some(Details::Ship {
        carrier, document, ..
    }) = &saved.job.details
    else {
        panic!()
    };
    assert_eq!(carrier, "Tarn Valley Reclaim (invented)");
    assert_eq!(document, "DEMO-4711");
    let left = before - contents(&shop, "D-6").shown_ml;
    assert!((left - 20_000).abs() < 50, "{left}");

    let page = format!("/jobs/{}", saved.row.order.key);
    let prepared = text(&shop.get(As::Manager, &page).body);
    assert!(prepared.contains("Not signed yet."), "{prepared}");
    assert!(!prepared.contains("Sign this shipment"));
    // What the officer signs: how much by volume and mass with the density that makes the one of the
    // other, and what to look at before.
    let line = text(
        &shop
            .get(As::Manager, "/waste/lines?month=2026-10&total=shipped")
            .body,
    );
    let line = line.split(" D-6 ").nth(1).unwrap();
    let [volume, mass, density] = ["20.0 L", "kg", "kg/m³"].map(|end| {
        let upto = line.split(end).next().unwrap();
        format!(
            "{}{end}",
            upto.rsplit(|it: char| it.is_alphabetic()).next().unwrap()
        )
    });
    let load = format!("{},{},{} at 20 °C", volume.trim(), mass, density);
    for part in [
        load.as_str(),
        "Its oldest waste counts from 2026-04-02: 186 days when it left.",
        "Words on the label: used antifreeze.",
        "Determined to be hazardous: D008.",
        "Left on the site: ",
    ] {
        assert!(prepared.contains(part), "{part}: {prepared}");
    }
    let open = text(&shop.get(As::Manager, "/waste").body);
    assert!(open.contains(", 1 not signed yet"), "{open}");
    let unsigned = |page: &str| -> usize {
        let count = page.split("Shipments not signed yet ").nth(1).unwrap();
        count.split(' ').next().unwrap().parse().unwrap()
    };
    let not_signed = unsigned(&open);
    assert!(
        open.contains(&format!(": {},{}", volume.trim(), mass)),
        "{open}"
    );
    let officers = shop.get(As::Officer, &page).body;
    let sign = format!("{page}/sign");
    if officers.contains("Sign this shipment") {
        assert_eq!(shop.post(As::Officer, &sign, &[]).status, 303);
    } else {
        panic!("{officers}");
    }
    let facts = shop.facts();
    assert_eq!(shop.post(As::Officer, &sign, &[]).status, 303);
    assert_eq!(shop.facts(), facts, "signed once");
    let signed = text(&shop.get(As::Manager, &page).body);
    assert!(signed.contains("Signed. P12"), "{signed}");
    assert!(signed.contains(&load), "{signed}");
    let open = text(&shop.get(As::Manager, "/waste").body);
    assert!(
        !open.contains("1 not signed yet") && unsigned(&open) == not_signed - 1,
        "{open}"
    );
    shop.book_is_closed();
}

#[test]
fn who_signs_shows_once_more_who_they_are() {
    let shop = Shop::open();
    let saved = load(&shop).saved(&shop, As::Manager);
    shop.get(As::Officer, "/");
    shop.let_the_proof_lapse(As::Officer);
    let facts = shop.facts();
    let sign = format!("/jobs/{}/sign", saved.row.order.key);
    assert_eq!(shop.post(As::Officer, &sign, &[]).status, 401);
    assert_eq!(shop.post(As::Manager, &sign, &[]).status, 403);
    assert_eq!(shop.facts(), facts);
}

#[test]
fn technicians_are_not_offered_it_and_the_paper_has_its_number() {
    let shop = Shop::open();
    let path = vessel_path(&shop, "D-6", "ship");
    assert_eq!(shop.get(As::Technician, &path).status, 403);
    let kinds = path.trim_end_matches("/ship");
    assert!(!shop.get(As::Technician, kinds).body.contains("Ship out"));
    assert!(shop.get(As::Manager, kinds).body.contains("Ship out"));
    let problems = load(&shop)
        .with_all(&[("document", ""), ("carrier", "")])
        .refused(&shop, As::Manager)
        .join(" ");
    assert!(problems.contains("Carrier"), "{problems}");
    assert!(
        problems.contains("Number of the shipping paper"),
        "{problems}"
    );
}
