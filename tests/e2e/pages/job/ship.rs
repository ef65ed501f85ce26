//! Ship out: prepared by a manager, signed by the compliance officer.

use domain::fact::{Merged, What};
use domain::job::{Account, Details, Line};

use super::paper::{Paper, contents, place, problems, text, vessel_path};
use crate::pages::form::Form;
use crate::pages::shop::{As, Shop};
use crate::pages::sign_on::append;

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
        "Words on the label: Hazardous Waste: used antifreeze, toxic.",
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

/// D-8 held some 20 L: what is asked about the load stands where it is signed.
#[test]
fn what_is_asked_about_a_load_stands_beside_its_signature() {
    let shop = Shop::open();
    let saved = Paper::on_vessel(&shop, As::Manager, ("D-8", "ship"))
        .with_all(&[
            ("volume", "150"),
            ("temperature", "20"),
            ("carrier", "Tarn Valley Reclaim (invented)"),
            ("document", "DEMO-4713"),
        ])
        .saved(&shop, As::Manager);
    let page = format!("/jobs/{}", saved.row.order.key);
    let page = text(&shop.get(As::Officer, &page).body);
    let before = page.split("Sign this shipment").next().unwrap();
    assert!(before.contains("Not answered yet: "), "{page}");
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

/// The field of what left of a further vessel on the page of D-6.
fn further(shop: &Shop, vessel: &str) -> String {
    format!("further-{}", place(shop, vessel))
}

/// A load out of D-6, D-8 and Cart A on one paper.
fn load_of_three(shop: &Shop) -> Paper {
    load(shop)
        .with(&further(shop, "D-8"), "11")
        .with(&further(shop, "Cart A"), "2.5")
}

/// What a month's list of shipments says of a vessel.
fn lines(shop: &Shop, vessel: &str) -> usize {
    let list = "/waste/lines?month=2026-10&total=shipped";
    let list = text(&shop.get(As::Manager, list).body);
    list.matches(&format!(" {vessel} ")).count()
}

#[test]
fn several_vessels_leave_on_one_paper_as_one_job() {
    let shop = Shop::open();
    let names = ["D-6", "D-8", "Cart A"];
    let held = || names.map(|name| contents(&shop, name).shown_ml);
    let (before, listed) = (held(), names.map(|name| lines(&shop, name)));
    let unsigned = |page: &str| -> usize {
        let count = page.split("Shipments not signed yet ").nth(1).unwrap();
        count.split(' ').next().unwrap().parse().unwrap()
    };
    let waste = || text(&shop.get(As::Manager, "/waste").body);
    let (facts, not_signed) = (shop.facts(), unsigned(&waste()));
    let saved = load_of_three(&shop).saved(&shop, As::Manager);
    assert_eq!(shop.facts(), facts + 1, "one paper, one fact");
    let ends: Vec<(Account, Account)> = saved
        .job
        .lines
        .iter()
        .map(|line| match line {
            Line::Movement(moved) => (moved.from, moved.to),
            _ => panic!("{line:?}"),
        })
        .collect();
    let out_of = |name: &str| (Account::Vessel(place(&shop, name)), Account::Carrier);
    assert_eq!(ends[0], out_of("D-6"), "the vessel of the page first");
    assert_eq!(ends.len(), 3);
    assert!(ends.contains(&out_of("D-8")) && ends.contains(&out_of("Cart A")));
    assert_eq!(saved.kinds_asked(), Vec::<&str>::new());
    let left: Vec<i64> = before.iter().zip(held()).map(|(b, now)| b - now).collect();
    for (left, typed) in left.iter().zip([20_000, 11_000, 2_500]) {
        assert!((left - typed).abs() < 50, "{left} of {typed}");
    }
    for (name, before) in names.iter().zip(listed) {
        assert_eq!(lines(&shop, name), before + 1, "{name}");
    }

    // The page is the sheet that is printed and signed: each vessel, and all of it.
    let path = format!("/jobs/{}", saved.row.order.key);
    let page = text(&shop.get(As::Manager, &path).body);
    for part in [
        "D-6 Ship out: D-6 and 2 more",
        "Next: another job on D-6 Back to the board",
        "Upper Yard (Demonstration, invented), identity number INVENTED-000-0001",
        "All together: 33.5 L,",
        "D-6: 20.0 L,",
        "D-8: 11.0 L,",
        "Cart A: 2.5 L,",
        "D-6: Its oldest waste counts from 2026-04-02: 186 days when it left.",
        "D-8: No start date was on record when it left.",
        "Look again. D-8: No words on a label are on record: look at the container.",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert_eq!(page.matches("Left on the site: ").count(), 1, "{page}");
    // The mass of the whole is that of its lines, each rounded to the gram as reports have it.
    let grams = |name: &str| -> i64 {
        let told = page.split(&format!("{name}: ")).nth(1).unwrap();
        let kilograms = told.split(" L, ").nth(1).unwrap();
        let digits = kilograms.split(" kg").next().unwrap().replace('.', "");
        digits.parse().unwrap()
    };
    let each: i64 = ["D-6: 20.0 L, ", "D-8: 11.0 L, ", "Cart A: 2.5 L, "]
        .map(|line| grams(line.split(": ").next().unwrap()))
        .iter()
        .sum();
    assert_eq!(grams("All together"), each, "{page}");
    // Whoever signs sees the same, whatever shop they stand in.
    let harbour = contents(&shop, "Cart C").shop.unwrap().to_string();
    let chosen = shop.post(As::Officer, "/shops", &[("shop", &harbour)]);
    assert_eq!(chosen.status, 303, "{}", chosen.body);
    let officers = text(&shop.get(As::Officer, &path).body);
    assert!(officers.contains("Harbour Yard"), "{officers}");
    assert!(
        officers.contains("D-8: No start date was on record when it left."),
        "{officers}"
    );
    // One shipment to be signed, with all that left on it.
    let open = waste();
    assert_eq!(unsigned(&open), not_signed + 1);
    assert!(open.contains(": 33.5 L,"), "{open}");
    let sign = format!("{path}/sign");
    assert_eq!(shop.post(As::Officer, &sign, &[]).status, 303);
    assert_eq!(unsigned(&waste()), not_signed);
    let signed = text(&shop.get(As::Manager, &path).body);
    assert!(signed.contains("Signed. P12"), "{signed}");
    assert!(signed.contains("D-8: 11.0 L,"), "{signed}");
    // The year names the paper once, with the mass of all vessels.
    let year = text(&shop.get(As::Manager, "/waste/year?month=2026-10").body);
    assert_eq!(year.matches("DEMO-4711").count(), 1, "{year}");
    // Each vessel's own history has it.
    for name in names {
        let history = format!("/vessels/{}", place(&shop, name));
        let history = shop.get(As::Manager, &history).body;
        assert!(history.contains(&path), "{name}: {history}");
    }
    shop.book_is_closed();
}

#[test]
fn a_load_of_several_is_corrected_and_taken_back_as_one() {
    let shop = Shop::open();
    let names = ["D-6", "D-8", "Cart A"];
    let held = || names.map(|name| contents(&shop, name).shown_ml);
    let before = held();
    // All of D-8 leaves: it is offered again on the form of the correction.
    let all = format!("{}.{:03}", before[1] / 1_000, before[1] % 1_000);
    let first = load_of_three(&shop)
        .with(&further(&shop, "D-8"), &all)
        .with("temperature", "");
    let saved = first.saved(&shop, As::Manager);
    assert_eq!(held()[1], 0);
    let form = shop.get(As::Manager, &format!("/jobs/{}/correct", first.get("key")));
    let paper = first.shown_again(&form);
    assert_eq!(paper.get("volume"), "20 L", "as it was typed");
    assert_eq!(paper.get(&further(&shop, "D-8")), format!("{all} L"));
    assert_eq!(paper.get(&further(&shop, "Cart A")), "2.5 L");
    let as_it_was = paper.with("replace_reason", "Wrong figure");
    // Cart A stayed here, and less of D-8 left.
    let again = as_it_was
        .with(&further(&shop, "Cart A"), "")
        .with(&further(&shop, "D-8"), "3")
        .saved(&shop, As::Manager);
    assert_eq!(again.job.lines.len(), 2);
    let now = held();
    assert_eq!(now[2], before[2], "back in the cart");
    assert!(
        (before[1] - now[1] - 3_000).abs() < 50,
        "{now:?} {before:?}"
    );
    let old = text(
        &shop
            .get(As::Manager, &format!("/jobs/{}", saved.row.order.key))
            .body,
    );
    assert!(!old.contains("Not signed yet."), "{old}");
    let path = format!("/jobs/{}", again.row.order.key);
    assert_eq!(
        shop.post(As::Manager, &format!("{path}/undo"), &[]).status,
        303
    );
    assert_eq!(held(), before, "all of it is back");
    shop.book_is_closed();
}

#[test]
fn a_vessel_goes_on_a_paper_once_and_fresh_coolant_on_none_of_another() {
    let shop = Shop::open();
    let path = vessel_path(&shop, "D-6", "ship");
    let page = shop.get(As::Manager, &path).body;
    for (name, offered) in [
        ("D-8", true),
        ("Cart A", true),
        ("D-6", false),
        ("D-1", false),
    ] {
        assert_eq!(page.contains(&further(&shop, name)), offered, "{name}");
    }
    // Of another yard.
    assert!(!page.contains(&further(&shop, "D-7")));
    for (name, said) in [
        ("D-6", "D-6 is on this paper already"),
        ("D-1", "D-1 holds fresh coolant"),
        ("D-7", "No such vessel is in use in this shop"),
    ] {
        let field = further(&shop, name);
        let paper = load(&shop).with(&field, "1");
        let refused = paper.refused(&shop, As::Manager).join(" ");
        assert!(refused.contains(said), "{refused}");
        let answer = paper.send(&shop, As::Manager);
        assert!(
            answer.body.contains(&format!("href=\"#{field}\"")),
            "{}",
            answer.body
        );
    }
    let twice = load(&shop)
        .and(&further(&shop, "D-8"), "1")
        .send(&shop, As::Manager);
    assert_eq!(twice.status, 422);
    let said = problems(&twice.body).join(" ");
    assert!(said.contains("was sent more than once"), "{said}");
    for nothing in ["0", "-1", "much"] {
        let refused = load(&shop)
            .with(&further(&shop, "D-8"), nothing)
            .refused(&shop, As::Manager)
            .join(" ");
        assert!(refused.contains("How much left of D-8"), "{refused}");
    }
    // More than the book has in one of them is asked about, and the load is logged.
    let saved = load(&shop)
        .with(&further(&shop, "D-8"), "190")
        .saved(&shop, As::Manager);
    assert_eq!(saved.job.lines.len(), 2);
    assert_eq!(saved.kinds_asked().len(), 1, "{:?}", saved.asked);
    shop.book_is_closed();
}

/// "20.512", all that a vessel holds, as it is typed.
fn all_of(shop: &Shop, vessel: &str) -> String {
    let ml = contents(shop, vessel).shown_ml;
    format!("{}.{:03}", ml / 1_000, ml % 1_000)
}

/// The form that corrects a job of D-6, with its paper number alone changed.
fn another_number(shop: &Shop, paper: &Paper) -> Paper {
    let form = shop.get(As::Manager, &format!("/jobs/{}/correct", paper.get("key")));
    assert_eq!(form.status, 200, "{}", form.body);
    paper
        .shown_again(&form)
        .with("document", "DEMO-4712")
        .with("replace_reason", "Wrong number")
}

#[test]
fn a_load_is_corrected_whatever_became_of_its_vessels_since() {
    let shop = Shop::open();
    // Spoilt coolant fell into a drum of fresh coolant, and all of it left with what was in D-8.
    Paper::on_unit(&shop, As::Technician, ("3303", "recover"))
        .with_all(&[
            ("to", &place(&shop, "D-1").to_string()),
            ("volume", "2"),
            ("temperature", "20"),
            ("fit", "no"),
            ("intent", "waste"),
        ])
        .happened()
        .saved(&shop, As::Technician);
    let first = load(&shop)
        .with(&further(&shop, "D-1"), &all_of(&shop, "D-1"))
        .with(&further(&shop, "D-8"), &all_of(&shop, "D-8"));
    let lines = first.saved(&shop, As::Manager).job.lines;
    assert_eq!(lines.len(), 3);
    assert_eq!(contents(&shop, "D-1").unfit_since, None, "gone with it");
    let drum = format!("/vessels/{}", place(&shop, "D-8"));
    Form::open(&shop, As::Manager, &format!("{drum}/retire"))
        .with_all(&[("reason", "rusted through"), ("known", "yes")])
        .saved(&shop, As::Manager);

    let again = another_number(&shop, &first);
    let page = shop.get(As::Manager, &format!("/jobs/{}/correct", first.get("key")));
    let page = text(&page.body);
    assert!(page.contains("How much left of D-8"), "{page}");
    // What is wrong with another field is told alone, with the vessels kept as they were.
    let refused = again.with("carrier", "").refused(&shop, As::Manager);
    assert_eq!(refused.len(), 1, "{refused:?}");
    let saved = again.saved(&shop, As::Manager);
    assert_eq!(saved.job.lines, lines);
    // A load of its own does not take what is retired.
    let problems = load(&shop)
        .with(&further(&shop, "D-8"), "1")
        .refused(&shop, As::Manager)
        .join(" ");
    assert!(problems.contains("No such vessel is in use"), "{problems}");
    shop.book_is_closed();
}

/// Two ids turned out to be one vessel: the load goes by the one that the book means.
#[test]
fn a_load_out_of_a_vessel_that_is_another_one_is_told_as_that_one() {
    let mut shop = Shop::open();
    let paper = load(&shop).with(&further(&shop, "Cart A"), "2.5");
    paper.saved(&shop, As::Manager);
    let [from, into] = ["Cart A", "D-8"].map(|name| place(&shop, name));
    shop.stopped(|data| append(data, |_| What::Merged(Merged { from, into }), "P10"));
    let page = text(
        &shop
            .get(As::Manager, &format!("/jobs/{}", paper.get("key")))
            .body,
    );
    for part in [
        "All together: 22.5 L,",
        "D-6: 20.0 L,",
        "D-8: 2.5 L,",
        "D-8: No start date was on record when it left.",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    let again = another_number(&shop, &paper);
    assert_eq!(again.get(&format!("further-{from}")), "2.5 L");
}
