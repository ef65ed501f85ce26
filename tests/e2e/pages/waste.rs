//! What a month of a site comes to, its lists, its containers and its files.

use domain::ids::FactKey;
use uuid::Uuid;

use crate::pages::counted::{check, counted, main};
use crate::pages::form::Form;
use crate::pages::job::paper::{Paper, contents, place, text};
use crate::pages::shop::{As, Shop};

/// A month's list of totals: word, and what stands behind it.
fn page(shop: &Shop, who: As, path: &str) -> String {
    let answer = shop.get(who, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    text(&answer.body)
}

fn card(shop: &Shop, who: As, path: &str, fields: &[(&str, &str)]) -> crate::client::Answer {
    let opened = shop.get(who, path);
    assert_eq!(opened.status, 200, "{path}: {}", opened.body);
    let key = opened
        .body
        .split("name=\"key\" value=\"")
        .nth(1)
        .and_then(|rest| rest.split('"').next())
        .unwrap()
        .to_owned();
    let mut all = vec![("key", key.as_str())];
    all.extend(fields);
    shop.post(who, path, &all)
}

#[test]
fn every_total_leads_to_lines_that_come_to_it_to_the_gram() {
    let shop = Shop::open();
    for who in [As::Manager, As::HarbourManager] {
        for month in ["2026-08", "2026-09"] {
            let html = shop.get(who, &format!("/waste?month={month}")).body;
            for total in [
                "recovered",
                "reused",
                "reclaimed",
                "became_waste",
                "shipped",
                "bought",
            ] {
                let path = format!("/waste/lines?month={month}&total={total}");
                let link = path.replace('&', "&#38;");
                assert!(html.contains(&link) || html.contains(&path), "{link}");
                let list = page(&shop, who, &path);
                assert!(
                    list.contains("Check: these lines come to the book's total"),
                    "{path}: {list}"
                );
                assert!(!list.contains("is to be checked"), "{list}");
            }
        }
    }
}

#[test]
fn the_class_stands_on_the_rules_chosen_and_says_what_it_lacks() {
    let shop = Shop::open();
    // The demonstration chose the federal rules and states other waste at the end of a month.
    let now = page(&shop, As::HarbourManager, "/waste");
    assert!(now.contains("Coolant only, incomplete"), "{now}");
    assert!(now.contains("us-fed-2026"), "{now}");
    assert!(now.contains("Local rules and licensed practice come first."));
    let before = page(&shop, As::HarbourManager, "/waste?month=2026-09");
    assert!(
        before.contains("Small quantity generator (SQG)"),
        "{before}"
    );
    assert!(!before.contains("incomplete"), "{before}");
    let hill = page(&shop, As::Manager, "/waste?month=2026-09");
    assert!(
        hill.contains("Very small quantity generator (VSQG)"),
        "{hill}"
    );
    // Other waste of a month before the rules were chosen: the record of the site begins there.
    let stated = [
        ("month", "2025-01"),
        ("none", "yes"),
        ("name", "lamp oil (invented)"),
        ("mass", "1 kg"),
        ("acute", "no"),
    ];
    let answer = card(&shop, As::Manager, "/waste/other", &stated);
    assert_eq!(answer.status, 303, "{}", answer.body);
    let early = page(&shop, As::Manager, "/waste?month=2025-01");
    assert!(early.contains("No class is told."), "{early}");

    let answer = card(
        &shop,
        As::Manager,
        "/waste/other",
        &[
            ("month", "2026-10"),
            ("none", "yes"),
            ("name", "=HYPERLINK(1)"),
            ("mass", "0.0001 t"),
            ("acute", "no"),
        ],
    );
    assert_eq!(answer.status, 422, "no unit of the list");
    let answer = card(
        &shop,
        As::Manager,
        "/waste/other",
        &[
            ("month", "2026-10"),
            ("none", "yes"),
            ("name", "<b>solvent</b>"),
            ("mass", "1000.001"),
            ("acute", "no"),
        ],
    );
    assert_eq!(answer.status, 303, "{}", answer.body);
    let html = shop.get(As::Manager, "/waste?month=2026-10").body;
    assert!(html.contains("Large quantity generator (LQG)"), "{html}");
    assert!(!html.contains("<b>solvent</b>"));
}

#[test]
fn fluid_becomes_waste_once_on_the_day_it_is_decided() {
    let shop = Shop::open();
    let total = |measure: &str| {
        let path = format!("/waste/lines?month=2026-10&total={measure}");
        page(&shop, As::Manager, &path)
    };
    let before = total("became_waste");
    let held = contents(&shop, "Cart A").shown_ml;
    assert!(held > 0);
    let vessel = place(&shop, "Cart A");
    let decide = format!("/vessels/{vessel}/decide");
    let answer = card(
        &shop,
        As::Manager,
        &decide,
        &[("fitness", "waste"), ("reason", "too weak by now")],
    );
    assert_eq!(answer.status, 303, "{}", answer.body);
    let after = total("became_waste");
    assert_ne!(before, after);
    assert!(after.contains("Cart A"), "{after}");
    // Moved on to the drum it is counted no second time.
    Paper::on_vessel(&shop, As::Manager, ("Cart A", "move"))
        .with_all(&[("to", &place(&shop, "D-6").to_string()), ("volume", "5")])
        .happened()
        .saved(&shop, As::Manager);
    assert_eq!(total("became_waste").matches("Cart A").count(), 1);
    assert!(!total("became_waste").contains("to be checked"));
    shop.book_is_closed();
}

/// Story 9: a drum 171 days old and 93 % full, and one without a date.
#[test]
fn the_drum_with_nine_days_left_and_the_one_without_a_date_stand_first() {
    let shop = Shop::open();
    let coast = page(&shop, As::HarbourManager, "/waste/containers");
    assert!(coast.contains("D-5 waste container"), "{coast}");
    let of_d5 = coast.split("D-5 waste container").nth(1).unwrap();
    assert!(
        of_d5.starts_with(" Look or write on D-5 9 days left 2026-04-17 2026-10-14, by 262.16(b)"),
        "{of_d5}"
    );
    assert!(of_d5.contains(" 193.5 L, 93.0 % of 208.0 L "), "{of_d5}");
    // The same clock and how full it is where the vessels are looked through.
    for path in ["/vessels", "/vessels?look=yes"] {
        let vessels = page(&shop, As::HarbourManager, path);
        let told: Vec<&str> = vessels.split(" D-5 ").collect();
        assert_eq!(
            told.len(),
            3,
            "as a gauge and as a row of the list: {vessels}"
        );
        for of_d5 in &told[1..] {
            let upto = of_d5.split("Nearly full").next().unwrap();
            assert!(upto.ends_with(" 9 days left "), "{path}: {of_d5}");
        }
        assert!(
            told[1].contains("193.5 L of 208.0 L"),
            "{path}: {}",
            told[1]
        );
    }
    let own = format!("/vessels/{}", place(&shop, "D-5"));
    let own = page(&shop, As::HarbourManager, &own);
    let line = "Clock: 9 days left Has to leave by 2026-10-14, by 262.16(b).";
    assert!(own.contains(line), "{own}");
    let hill = page(&shop, As::Manager, "/waste/containers");
    let of_d8 = hill.split("D-8 waste container").nth(1).unwrap();
    assert!(
        of_d8.starts_with(" Look or write on D-8 No start date"),
        "{of_d8}"
    );

    let entry = format!("/vessels/{}/container", place(&shop, "D-8"));
    let late = card(
        &shop,
        As::Technician,
        &entry,
        &[("what", "start"), ("day", "2026-10-06")],
    );
    assert_eq!(late.status, 422, "not later than today");
    let dated = card(
        &shop,
        As::Technician,
        &entry,
        &[("what", "start"), ("day", "2026-09-21")],
    );
    assert_eq!(dated.status, 303, "{}", dated.body);
    let hill = page(&shop, As::Manager, "/waste/containers");
    assert!(!hill.contains("No start date"), "{hill}");
}

#[test]
fn a_satellite_area_is_over_its_limit_by_the_sum_of_its_containers() {
    let shop = Shop::open();
    // The same area, whatever its name is typed like.
    for (drum, area) in [("D-5", "bay 4"), ("D-7", " Bay 4")] {
        let entry = format!("/vessels/{}/container", place(&shop, drum));
        let placed = card(
            &shop,
            As::HarbourManager,
            &entry,
            &[("what", "satellite"), ("area", area)],
        );
        assert_eq!(placed.status, 303, "{}", placed.body);
    }
    let with = |drum: &str, litres: &str| {
        Paper::on_vessel(&shop, As::HarbourManager, (drum, "dip"))
            .with_all(&[("volume", litres), ("temperature", "20")])
            .saved(&shop, As::HarbourManager);
        page(&shop, As::HarbourManager, "/waste/containers")
    };
    with("D-5", "100");
    // 55 US gal are 208.198 L (40 CFR 262.15; the gallon by definition).
    let within = with("D-7", "108.1");
    assert!(within.contains("Within the limit"), "{within}");
    assert!(!within.contains("Over the limit"), "{within}");
    let coast = with("D-7", "108.3");
    // Cases A12 and A13: three calendar days from the day it went over; what is moved out is dated with
    // the day it is moved.
    let over = "Over the limit: move the excess by 2026-10-08, by 262.15(a)(6)";
    assert!(coast.contains(over), "{coast}");
    assert_eq!(coast.matches("Satellite area").count(), 1, "{coast}");
    assert!(coast.contains("No clock in a satellite area"), "{coast}");
    let d5 = place(&shop, "D-5");
    let entry = format!("/vessels/{d5}/container");
    let moved = card(&shop, As::HarbourManager, &entry, &[("what", "central")]);
    assert_eq!(moved.status, 303, "{}", moved.body);
    let offered = moved.header("location").unwrap().to_owned();
    assert_eq!(offered, format!("{entry}?what=start&day=2026-10-05"));
    let form = Form::open(&shop, As::HarbourManager, &offered);
    assert_eq!(form.get("day"), "2026-10-05");
    form.saved(&shop, As::HarbourManager);
    let coast = page(&shop, As::HarbourManager, "/waste/containers");
    assert!(!coast.contains("Over the limit"), "{coast}");
    let of_d5 = coast.split("D-5 waste container").nth(1).unwrap();
    let clock = " Look or write on D-5 No clock for this class 2026-10-05";
    assert!(of_d5.starts_with(clock), "{of_d5}");
}

/// Case A08: a very small generator with 1,000 kg on the site is under the conditions of a small one
/// from the day that was reached, not from the start date of a drum that stood there long before.
#[test]
fn a_clock_by_mass_alone_counts_from_the_day_the_mass_was_reached() {
    let shop = Shop::open();
    let tank = Form::open(&shop, As::Manager, "/vessels/new")
        .with_all(&[
            ("name", "Tank W"),
            ("kind", "tank"),
            ("holds", "waste"),
            ("base", "EG"),
            ("class", "OAT"),
            ("capacity", "1500"),
        ])
        .saved(&shop, As::Manager);
    let entry = format!("{tank}/container");
    Form::open(&shop, As::Manager, &entry)
        .with_all(&[("what", "start"), ("day", "2026-01-02")])
        .saved(&shop, As::Manager);
    let dip = |day: &str, litres: &str| {
        Paper::open(&shop, As::Manager, &format!("{tank}/jobs/dip"))
            .with_all(&[
                ("volume", litres),
                ("temperature", "20"),
                ("when", "earlier"),
                ("day", day),
                ("time", "12:00"),
                ("happened", "yes"),
            ])
            .saved(&shop, As::Manager);
        let list = page(&shop, As::Manager, "/waste/containers");
        let of_tank = list
            .split(" Look or write on Tank W ")
            .nth(1)
            .unwrap()
            .to_owned();
        (list, of_tank)
    };
    let (_, below) = dip("2026-05-20", "700");
    assert!(
        below.contains("No clock for this class 2026-01-02"),
        "{below}"
    );
    let (list, above) = dip("2026-06-10", "1100");
    let clock = "63 days left 2026-01-02 2026-12-07, by 262.16(b)";
    assert!(above.starts_with(clock), "{above}");
    let passed = "More came to lie there on 2026-06-10: the conditions of the next class apply from that day.";
    assert!(list.contains(passed), "{list}");
    let of_vessel = page(&shop, As::Manager, &tank);
    let line = "Clock: 63 days left Has to leave by 2026-12-07, by 262.16(b).";
    assert!(of_vessel.contains(line), "{of_vessel}");
}

#[test]
fn a_sheet_that_proves_coolant_hazardous_cannot_stand_under_the_opposite() {
    let shop = Shop::open();
    let facts = shop.facts();
    let sheet = [
        ("of", "all"),
        ("covers_from", "2026-10-01"),
        ("laboratory", "LAB 12 (invented)"),
        ("sampled", "2026-09-30"),
        ("found", "lead 6.8\ncadmium <0.2"),
        ("ph", "8.1"),
    ];
    let mut not = sheet.to_vec();
    not.push(("hazardous", "no"));
    let answer = card(&shop, As::Officer, "/waste/determination", &not);
    assert_eq!(answer.status, 422);
    assert!(text(&answer.body).contains("D008"), "{}", answer.body);
    let mut yes = sheet.to_vec();
    yes.extend([("hazardous", "yes"), ("codes", "d008")]);
    let answer = card(&shop, As::Officer, "/waste/determination", &yes);
    assert_eq!(answer.status, 303, "{}", answer.body);
    assert_eq!(shop.facts(), facts + 1);
}

#[test]
fn files_say_whose_figures_they_are_and_agree_with_the_page() {
    let shop = Shop::open();
    for path in [
        "/waste/lines.csv?month=2026-09",
        "/waste/months.csv?month=2026-09",
        "/waste/containers.csv",
    ] {
        let answer = shop.get(As::HarbourManager, path);
        assert_eq!(answer.status, 200, "{path}");
        assert_eq!(
            answer.header("content-type"),
            Some("text/csv; charset=utf-8")
        );
        for part in [
            "site,",
            "period,",
            "rules,us-fed-2026",
            "made at,",
            "rows,",
            "record head,",
        ] {
            assert!(
                answer.body.contains(part),
                "{part} in {path}: {}",
                answer.body
            );
        }
    }
    let months = shop
        .get(As::HarbourManager, "/waste/months.csv?month=2026-09")
        .body;
    let rows: Vec<&str> = months
        .lines()
        .filter(|row| row.starts_with("202"))
        .collect();
    assert_eq!(rows.len(), 12);
    let head = months
        .lines()
        .find(|row| row.starts_with("month,"))
        .unwrap();
    let check = head
        .split(',')
        .position(|name| name == "lines come to the total")
        .unwrap();
    let comes = |row: &&str| row.split(',').nth(check) == Some("yes");
    assert!(rows.iter().all(comes), "{months}");
    let list = page(
        &shop,
        As::HarbourManager,
        "/waste/lines?month=2026-09&total=became_waste",
    );
    let september = rows.last().unwrap();
    let kg = september.split(',').nth(7).unwrap();
    assert!(list.contains(&format!("to the gram, {kg}")), "{kg}: {list}");
}

/// Story 15 and decision 11: a closed month is never opened again. What comes late shows as an
/// adjustment, on its own page and on that of the present month.
#[test]
fn a_late_job_changes_a_closed_month_by_an_adjustment_only() {
    let shop = Shop::open();
    let path = "/waste?month=2026-07";
    let before = page(&shop, As::Manager, path);
    assert!(
        before.contains("The statement of 2026-07 was signed by P12"),
        "{before}"
    );
    let open = page(&shop, As::Manager, "/waste");
    assert!(!open.contains("Shipped: +7.0"), "{open}");
    Paper::on_vessel(&shop, As::Manager, ("D-6", "ship"))
        .with_all(&[
            ("volume", "7"),
            ("temperature", "20"),
            ("carrier", "Tarn Valley Reclaim (invented)"),
            ("document", "DEMO-LATE"),
            ("when", "earlier"),
            ("day", "2026-07-14"),
            ("time", "10:00"),
        ])
        .happened()
        .saved(&shop, As::Manager);
    let after = page(&shop, As::Manager, path);
    assert!(after.contains("Shipped: +7.0"), "{after}");
    assert!(after.contains("The statement of 2026-07 was signed by P12"));
    let open = page(&shop, As::Manager, "/waste");
    assert!(open.contains("Adjustments to closed months"), "{open}");
    assert!(open.contains("Shipped: +7.0"), "{open}");
    shop.book_is_closed();
}

/// Every figure of the month that wants somebody's eye leads to a page that is there; a job that was taken
/// back is listed and counts in nothing.
#[test]
fn what_wants_an_eye_leads_to_its_list_and_what_was_taken_back_is_not_hidden() {
    let shop = Shop::open();
    let html = shop.get(As::Manager, "/waste?month=2026-09").body;
    let figures = html.split("<dl class=\"facts\">").nth(1).unwrap();
    let figures = figures.split("</dl>").next().unwrap();
    let said = text(figures);
    // 26.345 kg counts, of 100 kg.
    assert!(
        said.contains("Share of the limit used 26.3 % of 100.000 kg"),
        "{said}"
    );
    let links: Vec<String> = figures
        .split("href=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap().replace("&#38;", "&"))
        .collect();
    assert!(links.len() >= 4, "{said}");
    for link in links {
        match link.strip_prefix('#') {
            Some(id) => assert!(html.contains(&format!("id=\"{id}\"")), "{link}"),
            None => assert_eq!(shop.get(As::Manager, &link).status, 200, "{link}"),
        }
    }
    let total = |path: &str, of: &str| {
        let page = page(&shop, As::Manager, path);
        let total = page.split(of).nth(1).unwrap();
        total
            .split(" L")
            .next()
            .unwrap()
            .trim()
            .parse::<f64>()
            .unwrap()
    };
    let now = page(&shop, As::Manager, "/waste");
    assert!(
        now.contains("Oldest waste on the site D-6, 186 days"),
        "{now}"
    );
    let before = total("/waste", "Recovered from units");
    let saved = Paper::on_unit(&shop, As::Technician, ("3303", "recover"))
        .with_all(&[
            ("gate_temperature", "20"),
            ("gate_pressure", "0"),
            ("to", &place(&shop, "Cart A").to_string()),
            ("volume", "2"),
            ("happened", "yes"),
        ])
        .saved(&shop, As::Technician);
    let job = format!("/jobs/{}", saved.row.order.key);
    assert!((total("/waste", "Recovered from units") - before - 2.0).abs() < 0.11);
    let voided = shop.post(As::Technician, &format!("{job}/undo"), &[]);
    assert_eq!(voided.status, 303, "{}", voided.body);
    let after = shop.get(As::Manager, "/waste").body;
    let list = after.split("Taken back in 2026-10").nth(1).unwrap();
    let list = list.split("</section>").next().unwrap();
    assert!(list.contains(&format!("href=\"{job}\"")), "{list}");
    assert!((total("/waste", "Recovered from units") - before).abs() < 0.11);
}

/// 40 CFR 262.16(b)(6), second-hand: the words are data of the rules; other words are told apart from them.
#[test]
fn a_label_says_which_words_the_rules_ask_for() {
    let shop = Shop::open();
    let drum = place(&shop, "D-6");
    let label = format!("/vessels/{drum}/label");
    let asked = "The rules of this site ask for the words \u{201C}Hazardous Waste\u{201D}, the kind of hazard and the start date, by 262.16(b)(6); 262.17(a)(5)";
    let other = "Other words are stated.";
    let write = |words: &str| {
        Form::open(&shop, As::Manager, &format!("/vessels/{drum}/container"))
            .with_all(&[("what", "words"), ("words", words)])
            .saved(&shop, As::Manager);
    };
    let shipped = page(&shop, As::Manager, &label);
    assert!(
        !shipped.contains(other),
        "the demonstration's own: {shipped}"
    );
    write("used antifreeze");
    let before = page(&shop, As::Manager, &label);
    assert!(before.contains(asked), "{before}");
    assert!(before.contains(other), "used antifreeze: {before}");
    write("HAZARDOUS WASTE, toxic");
    let after = page(&shop, As::Manager, &label);
    assert!(after.contains(asked), "{after}");
    assert!(!after.contains(other), "{after}");
    // What is kept for reuse is labelled as what it is; no rule of waste asks for words on it.
    let cart = format!("/vessels/{}/label", place(&shop, "Cart A"));
    let cart = page(&shop, As::Manager, &cart);
    assert!(!cart.contains("ask for the words"), "{cart}");
}

/// A cart is a container: once what is unfit went into it, it stands in the list and asks for a date.
#[test]
fn a_recovery_cart_with_unfit_coolant_is_a_waste_container() {
    let shop = Shop::open();
    let containers = || page(&shop, As::Manager, "/waste/containers");
    assert!(!containers().contains("Cart A"));
    Paper::on_unit(&shop, As::Technician, ("3303", "recover"))
        .with_all(&[
            ("gate_temperature", "20"),
            ("gate_pressure", "0"),
            ("to", &place(&shop, "Cart A").to_string()),
            ("volume", "2"),
            ("fit", "no"),
            ("intent", "waste"),
            ("happened", "yes"),
        ])
        .saved(&shop, As::Technician);
    let listed = containers();
    let cart = listed.split(" Cart A cart ").nth(1).unwrap();
    assert!(
        cart.starts_with("Look or write on Cart A No start date"),
        "{cart}"
    );
    let label = format!("/vessels/{}/label", place(&shop, "Cart A"));
    let label = page(&shop, As::Manager, &label);
    assert!(
        label.contains("ask for the words \u{201C}Hazardous Waste\u{201D}"),
        "{label}"
    );
}

/// The questions of the page of a month are those about that month, and so is the list they lead to; other
/// months' stand on their own pages.
#[test]
fn the_questions_of_a_month_lead_to_the_questions_of_that_month() {
    let shop = Shop::open();
    let mut seen = std::collections::BTreeSet::new();
    for (who, month) in [
        (As::Manager, "2026-10"),
        (As::Reader, "2026-10"),
        (As::Officer, "2026-09"),
        (As::Officer, "2026-08"),
    ] {
        let path = format!("/waste?month={month}");
        let page = shop.get(who, &path).body;
        let figure = counted(main(&page))
            .into_iter()
            .find(|it| it.address.starts_with("/open-questions"))
            .unwrap();
        assert_eq!(figure.address, format!("/open-questions?month={month}"));
        check(&shop, who, (&path, &figure));
        let own = shop.get(who, &figure.address).body;
        assert!(own.contains(&format!("<a href=\"{path}\">Waste in {month}</a>")));
        assert!(
            text(&own).contains(&format!("About {month}, all shops of the site")),
            "{own}"
        );
        for job in own.split("href=\"/jobs/").skip(1) {
            let job = job.split('"').next().unwrap();
            seen.insert((month, job.to_owned()));
            let key = FactKey(Uuid::parse_str(job).unwrap());
            let row = shop.read(async |read| read.find_job(key).await.unwrap().unwrap());
            assert!(
                row.local_date.starts_with(month),
                "{job}: {}",
                row.local_date
            );
        }
    }
    assert!(!seen.is_empty());
}

#[test]
fn a_month_of_questions_that_cannot_be_read_is_refused() {
    let shop = Shop::open();
    for typed in ["2026-13", "october"] {
        let answer = shop.get(As::Manager, &format!("/open-questions?month={typed}"));
        assert_eq!(answer.status, 422, "{}", answer.body);
        let said = text(&answer.body);
        let why = format!("\"{typed}\" is not a month written as 2026-10");
        assert!(said.contains(&why), "{said}");
    }
    let own = page(&shop, As::Manager, "/open-questions?month=");
    assert!(own.contains("Shop board"), "{own}");
}
