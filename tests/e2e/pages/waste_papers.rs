//! What is stated beside the book about papers, clocks and empty containers, and the texts people type.

use super::form::{Form, text};
use super::job::paper::{Paper, place};
use super::shop::{As, Shop};
use super::waste_rules::figure;

const WHO: As = As::HarbourManager;

fn page(shop: &Shop, path: &str) -> String {
    let answer = shop.get(WHO, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    text(&answer.body)
}

fn rules(shop: &Shop, fields: &[(&str, &str)]) -> Form {
    Form::open(shop, WHO, "/waste/rules").with_all(fields)
}

/// What is known of the coolant in D-7, from today on.
fn determine(shop: &Shop, knowledge: &str) {
    Form::open(shop, WHO, "/waste/determination")
        .with_all(&[
            ("of", place(shop, "D-7").to_string().as_str()),
            ("covers_from", "2026-10-05"),
            ("hazardous", "yes"),
            ("knowledge", knowledge),
        ])
        .saved(shop, WHO);
}

fn ship(shop: &Shop, carrier: &str, document: &str, to: &str) {
    Paper::on_vessel(shop, WHO, ("D-7", "ship"))
        .with_all(&[
            ("volume", "7"),
            ("temperature", "20"),
            ("carrier", carrier),
            ("document", document),
            ("destination", to),
        ])
        .happened()
        .saved(shop, WHO);
}

fn kg(g: i64) -> String {
    format!("{}.{:03} kg", g / 1_000, g % 1_000)
}

#[test]
fn the_worst_case_and_what_is_left_are_told_with_their_masses() {
    let shop = Shop::open();
    // 100 kg and 1,000 kg, 40 CFR 262.13 table 1.
    let other = |mass: &str| {
        Form::open(&shop, As::Manager, "/waste/other?month=2026-10")
            .with_all(&[
                ("none", "yes"),
                ("name", "lamp oil (invented)"),
                ("mass", mass),
                ("acute", "no"),
            ])
            .saved(&shop, As::Manager);
    };
    let told = |left: &str, limit_g: i64| {
        let counts = figure(&shop, "counted coolant kg");
        let firm = counts + figure(&shop, "other hazardous waste kg");
        let perhaps = figure(&shop, "perhaps counted coolant kg");
        assert!(perhaps > 0 && firm < limit_g, "{firm} {perhaps}");
        let class = if firm + perhaps > 100_000 {
            "SQG"
        } else {
            "VSQG"
        };
        let month = text(&shop.get(As::Manager, "/waste").body);
        let worst = format!("({class}) with {}", kg(firm + perhaps));
        assert!(
            month.contains("Worst case: ") && month.contains(&worst),
            "{worst}: {month}"
        );
        let left = format!("{left} {}", kg(limit_g - firm));
        assert!(month.contains(&left), "{left}: {month}");
    };
    // What is drained with nobody saying whether it is fit counts in the worst case.
    Paper::on_unit(&shop, As::Technician, ("3303", "recover"))
        .with_all(&[
            ("gate_temperature", "20"),
            ("gate_pressure", "0"),
            ("to", &place(&shop, "Cart A").to_string()),
            ("volume", "20"),
        ])
        .happened()
        .saved(&shop, As::Technician);
    other("1 kg");
    told("Left before more than the smallest class may have", 100_000);
    other("150 kg");
    told("Left until the next class begins", 1_000_000);
}

/// 40 CFR 262.11(f): three years from the day the waste was last sent away; one state asks for five;
/// no end while a dispute is open (262.40(d)).
#[test]
fn papers_have_an_end_once_another_determination_stands_and_none_while_on_hold() {
    let shop = Shop::open();
    let of_first = || {
        let file = page(&shop, "/waste/determinations");
        let row = file.split("first batch (invented)").nth(1).unwrap();
        row.split_whitespace().take(9).collect::<Vec<_>>().join(" ")
    };
    determine(&shop, "first batch (invented)");
    ship(&shop, "Tarn Valley Reclaim (invented)", "DEMO-K", "");
    assert!(
        of_first().contains("2026-10-05 no end yet"),
        "{}",
        of_first()
    );
    determine(&shop, "second batch (invented)");
    assert!(
        of_first().contains("2026-10-05 2029-10-05"),
        "{}",
        of_first()
    );
    rules(&shop, &[("rules", "us-state-5y"), ("from", "2026-10-05")]).saved(&shop, WHO);
    assert!(
        of_first().contains("2026-10-05 2031-10-05"),
        "{}",
        of_first()
    );
    let form = rules(&shop, &[("hold", "yes")]);
    assert_eq!(
        form.get("rules"),
        "us-state-5y",
        "the present choice is filled in"
    );
    form.saved(&shop, WHO);
    assert!(of_first().contains("on hold: no end"), "{}", of_first());
    assert_eq!(rules(&shop, &[]).get("hold"), "yes");
    rules(&shop, &[("hold", "no")]).saved(&shop, WHO);
    assert!(
        of_first().contains("2026-10-05 2031-10-05"),
        "{}",
        of_first()
    );
}

/// Case A02: 270 days where the way to the facility is over 200 miles, 40 CFR 262.16(c).
#[test]
fn a_far_facility_gives_a_small_generator_more_days() {
    let shop = Shop::open();
    let d5 = || {
        let all = page(&shop, "/waste/containers");
        let row = all.split("D-5 waste container").nth(1).unwrap();
        row.split_whitespace()
            .take(16)
            .collect::<Vec<_>>()
            .join(" ")
    };
    assert!(
        d5().contains("9 days left 2026-04-17 2026-10-14, by 262.16(b)"),
        "{}",
        d5()
    );
    rules(&shop, &[("way", "200 mi")]).saved(&shop, WHO);
    assert!(d5().contains("2026-10-14"), "over, not at: {}", d5());
    rules(&shop, &[("way", "322 km")]).saved(&shop, WHO);
    assert!(d5().contains("2027-01-12, by 262.16(c)"), "{}", d5());
    for way in ["322", "far", "-1 mi"] {
        let found = rules(&shop, &[("way", way)]).refused(&shop, WHO);
        assert_eq!(found.len(), 1, "{way}: {found:?}");
    }
}

/// 40 CFR 261.7(b), from memory: empty with no more than one inch in it, or 3 % of up to 119 gal.
#[test]
fn a_container_is_empty_by_what_is_left_in_it() {
    let shop = Shop::open();
    let vessel = format!("/vessels/{}/container", place(&shop, "D-5"));
    let emptied = |left: &str| {
        Form::open(&shop, WHO, &vessel).with_all(&[("what", "closed"), ("left", left)])
    };
    for (left, part) in [
        ("", ""),
        ("26 mm", "by 261.7(b)"),
        ("3.1 %", "by 261.7(b)"),
        ("a little", ""),
    ] {
        let found = emptied(left).refused(&shop, WHO);
        assert_eq!(found.len(), 1, "{left}: {found:?}");
        assert!(found[0].contains(part), "{left}: {found:?}");
    }
    assert!(page(&shop, "/waste/containers").contains("2026-04-17"));
    emptied("1 in").saved(&shop, WHO);
    assert!(!page(&shop, "/waste/containers").contains("2026-04-17"));
    let entry = page(&shop, &format!("/records/{}", shop.facts()));
    assert!(
        entry.contains("1 in left in it, empty by 261.7(b)"),
        "{entry}"
    );
}

/// What people type about waste is the text it is, on every page and in every file.
#[test]
fn hostile_texts_stay_text_about_waste() {
    let shop = Shop::open();
    let texts: Vec<String> =
        serde_json::from_str(include_str!("../data/hostile_texts.json")).unwrap();
    for hostile in &texts {
        determine(&shop, hostile);
        Form::open(&shop, WHO, "/waste/other?month=2026-10")
            .with_all(&[
                ("none", "yes"),
                ("name", hostile),
                ("mass", "0.001"),
                ("acute", "no"),
            ])
            .saved(&shop, WHO);
        ship(&shop, hostile, hostile, hostile);
        let words: Vec<&str> = hostile.split_whitespace().collect();
        let words = words.join(" ").replace('\0', "\u{FFFD}");
        for path in ["/waste", "/waste/determinations", "/waste/year"] {
            let answer = shop.get(WHO, path);
            assert!(text(&answer.body).contains(&words), "{path}: {hostile:?}");
        }
        for path in [
            "/waste/determinations.csv",
            "/waste/streams.csv",
            "/waste/lines.csv",
            "/waste/months.csv",
        ] {
            let file = shop.get(WHO, path);
            assert_eq!(file.status, 200, "{path}: {hostile:?}");
            if hostile.starts_with(['=', '+', '-', '@', '\t', '\r']) {
                for before in [",", "\n", ",\"", "\n\""] {
                    let cell = format!("{before}{hostile}");
                    assert!(!file.body.contains(&cell), "{path}: {hostile:?}");
                }
            }
        }
    }
}
