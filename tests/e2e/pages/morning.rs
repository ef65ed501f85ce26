//! What comes first on the board: in the order of whoever looks, each count with as many rows behind it.

use domain::book::month::Month;

use super::form::{Form, text};
use super::job::paper::{Paper, contents, fluid, place};
use super::shop::{As, Shop};

/// What a line says, how many it counts, where it leads.
type Line = (String, usize, String);

fn lines(shop: &Shop, who: As) -> Vec<Line> {
    let page = shop.get(who, "/").body;
    let list = page.split("id=\"first\"").nth(1).unwrap();
    let list = list.split("</section>").next().unwrap();
    let entries = list.split("<li>").skip(1);
    entries
        .map(|entry| {
            let said = text(entry.split("<strong>").next().unwrap());
            let count = entry.split("<strong>").nth(1).unwrap();
            let count = count.split('<').next().unwrap().parse().unwrap();
            let address = entry.split("href=\"").nth(1).unwrap();
            let address = address.split('"').next().unwrap().replace("&#38;", "&");
            (said.trim().to_owned(), count, address)
        })
        .collect()
}

fn words(lines: &[Line]) -> Vec<&str> {
    lines.iter().map(|(said, ..)| said.as_str()).collect()
}

/// The rows of a list over all its pages.
fn rows(shop: &Shop, who: As, address: &str) -> usize {
    let mut found = 0;
    for page in 1.. {
        let join = if address.contains('?') { '&' } else { '?' };
        let answer = shop.get(who, &format!("{address}{join}page={page}"));
        assert_eq!(answer.status, 200, "{address}: {}", answer.body);
        let mark = match address {
            address if address.starts_with("/board/") => "data-label=\"How it stands\"",
            "/checking" => "<section class=\"card\">",
            _ => "data-label=\"Status\"",
        };
        found += answer.body.matches(mark).count();
        let said = text(&answer.body);
        if !said.contains(&format!("Page {page} of "))
            || said.contains(&format!("Page {page} of {page}"))
        {
            break;
        }
    }
    found
}

fn on_day(paper: &Paper, day: &str) -> Paper {
    paper.with_all(&[("when", "earlier"), ("day", day), ("time", "08:00")])
}

/// A morning with something of everything: a unit that stands drained, one that was filled short, one that
/// came back, a meter that went backwards, a shipment nobody signed.
fn busy() -> Shop {
    let shop = Shop::open();
    let who = As::Technician;
    let cart = place(&shop, "Cart A").to_string();
    let drained = |unit: &str, volume: &str| {
        Paper::on_unit(&shop, who, (unit, "recover"))
            .with_all(&[
                ("gate_temperature", "20"),
                ("gate_pressure", "0"),
                ("to", &cart),
                ("volume", volume),
            ])
            .saved(&shop, who);
    };
    drained("3304", "40");
    Paper::on_unit(&shop, who, ("3304", "fill"))
        .with_all(&[
            ("source", &cart),
            ("volume", "31"),
            ("how", "poured"),
            ("temperature", "20"),
        ])
        .saved(&shop, who);
    drained("3302", "30");
    let exchange = Paper::on_unit(&shop, who, ("3305", "exchange")).with_all(&[
        ("gate_temperature", "20"),
        ("gate_pressure", "0"),
        ("to", &place(&shop, "D-6").to_string()),
        ("drain_volume", "5"),
        ("fit", "yes"),
        ("intent", "waste"),
        ("source", &fluid(&shop, "concentrate EG 95 % OAT")),
        ("volume", "5"),
        ("mark", "at"),
    ]);
    on_day(&exchange, "2026-09-20").saved(&shop, who);
    let top_up = |unit: &str| {
        Paper::on_unit(&shop, who, (unit, "top_up")).with_all(&[
            ("source", &place(&shop, "D-1").to_string()),
            ("volume", "1.8"),
        ])
    };
    on_day(&top_up("3305"), "2026-10-02").saved(&shop, who);
    // Its odometer showed far more before.
    let misread =
        top_up("3301").with_all(&[("volume", "0.2"), ("mark", "not"), ("distance", "120")]);
    on_day(&misread, "2026-10-04").saved(&shop, who);
    let load = Paper::on_vessel(&shop, As::Manager, ("D-6", "ship")).with_all(&[
        ("volume", "5"),
        ("temperature", "20"),
        ("carrier", "Tarn Valley Reclaim (invented)"),
        ("document", "DEMO-4711"),
        ("destination", "Old Quarry Works (invented)"),
    ]);
    on_day(&load, "2026-10-03").saved(&shop, As::Manager);
    shop
}

#[test]
fn each_line_leads_to_a_list_of_as_many_rows_for_every_role() {
    let shop = busy();
    for who in [
        As::Technician,
        As::LeadHand,
        As::Manager,
        As::Officer,
        As::Reader,
        As::HarbourManager,
        As::HarbourTechnician,
    ] {
        let found = lines(&shop, who);
        assert!(found.len() > 6, "{who:?}: {found:?}");
        for (said, count, address) in &found {
            assert_eq!(
                rows(&shop, who, address),
                *count,
                "{who:?}: {said} at {address}"
            );
        }
    }
}

#[test]
fn a_technician_sees_what_they_began_first_an_officer_containers_a_manager_leaks() {
    let shop = busy();
    let due = ["Due work: Overdue", "Due work: Due", "Due work: Never done"];
    let winter = [
        "Winter: Freezes",
        "Winter: Not sure enough",
        "Winter: Too little in it",
    ];
    let laboratory = [
        "Laboratory: Ask the laboratory",
        "Laboratory: No result yet",
    ];
    let begun = ["Drained, not filled since", "Level to check after a fill"];
    let (short, back) = ("Filled short", "Came back within 30 days");
    let leak = "Coolant that goes missing: Leak suspected";
    let (corrosion, meter) = ("Corrosion: Not proven", "Meter went backwards");
    let papers = [
        "Container without a start date",
        "Shipment not signed for a day",
    ];
    // The refractometer for PG was checked with water last week, and not today.
    let instrument = "Instrument to check or renew";
    let technician: [&[&str]; 9] = [
        &["Your jobs today"],
        &begun,
        &[short, back, leak],
        &due,
        &[instrument, corrosion],
        &winter,
        &laboratory,
        &[meter],
        &papers,
    ];
    assert_eq!(words(&lines(&shop, As::Technician)), technician.concat());
    // The officer stands in the other yard.
    let officer = [
        "Container with 14 days left or less",
        "Shipment not signed for a day",
        "Needs checking",
        "Inspection due within 30 days",
        "Laboratory: No result yet",
        "Came back within 30 days",
        "Coolant that goes missing: Leak seen",
        "Corrosion: Act now",
        "Corrosion: Not proven",
        "Due work: Overdue",
        "Due work: Due",
        "Due work: Never done",
        "Winter: Not sure enough",
        "Fresh fluid that runs out soon",
        "Level to check after a fill",
    ];
    assert_eq!(words(&lines(&shop, As::Officer)), officer);
    let manager: [&[&str]; 8] = [
        &[leak, back, short, corrosion],
        &winter,
        &due,
        &["Needs checking"],
        &papers,
        &laboratory,
        &begun,
        &[instrument, meter],
    ];
    assert_eq!(words(&lines(&shop, As::Manager)), manager.concat());
    // The same lines for the manager of that yard, leaks first.
    let harbour = lines(&shop, As::HarbourManager);
    assert_eq!(harbour[0].0, "Coolant that goes missing: Leak seen");
    let mut theirs = words(&harbour);
    let mut officers = officer;
    theirs.sort_unstable();
    officers.sort_unstable();
    assert_eq!(theirs, officers);
}

/// What each line tells of is what happened.
#[test]
fn the_lists_say_what_happened_and_where() {
    let shop = busy();
    let list = |who: As, what: &str| {
        let answer = shop.get(who, &format!("/board/{what}"));
        assert_eq!(answer.status, 200, "{}", answer.body);
        text(&answer.body)
    };
    let technician = As::Technician;
    for (what, said) in [
        (
            "short-fills",
            "3304 9.0 L did not go in, and nothing has made it up since",
        ),
        ("drained", "3302 drained 2026-10-05"),
        ("levels", "3304 filled 2026-10-05"),
        (
            "comebacks",
            "3305 Top up, after the drain and refill of 2026-09-20 2026-10-02",
        ),
        ("not-signed", "Ship out 2026-10-03 08:00 2026-10-03"),
        ("no-start-date", "D-8 holds"),
        ("own-jobs", "Fill, unit 3304"),
    ] {
        let page = list(technician, what);
        assert!(page.contains(said), "{what}: {said} in {page}");
    }
    let meters = list(technician, "meters");
    assert!(
        meters.contains("3301 from ") && meters.contains(" to 120 km 2026-10-04"),
        "{meters}"
    );
    let leaving = list(As::HarbourManager, "leaving");
    assert!(leaving.contains("D-5 9 days left"), "{leaving}");
    let due = list(As::HarbourManager, "inspections");
    assert!(due.contains("Cart C out of date 2026-09-23"), "{due}");
    assert!(due.contains("Cart B due in 30 days 2026-11-04"), "{due}");
    assert_eq!(shop.get(technician, "/board/luck").status, 404);
}

/// A line goes once what it tells of is done.
#[test]
fn what_is_done_leaves_the_board() {
    let shop = busy();
    let who = As::Technician;
    let count = |who: As, code: &str| {
        let address = format!("/board/{code}");
        let found = lines(&shop, who)
            .into_iter()
            .find(|(.., to)| *to == address);
        found.map_or(0, |(_, count, _)| count)
    };
    let before = ["drained", "short-fills", "levels", "nearly-empty"].map(|code| count(who, code));
    let fill = |unit: &str, volume: &str| {
        Paper::on_unit(&shop, who, (unit, "fill")).with_all(&[
            ("source", &place(&shop, "Cart A").to_string()),
            ("volume", volume),
            ("how", "poured"),
            ("temperature", "20"),
        ])
    };
    fill("3302", "30").saved(&shop, who);
    fill("3304", "9").saved(&shop, who);
    let after = ["drained", "short-fills", "levels", "nearly-empty"].map(|code| count(who, code));
    // The cart gave what it had taken: 12.5 L of 150 L are left in it.
    assert_eq!(
        after,
        [before[0] - 1, before[1] - 1, before[2] + 1, before[3] + 1]
    );
    let waiting = count(As::Officer, "not-signed");
    // Of the officer's yard, the newest.
    let shipments = shop.get(As::Officer, "/board/not-signed").body;
    let job = shipments.split("href=\"/jobs/").last().unwrap();
    let job = job.split('"').next().unwrap();
    let signed = shop.post(As::Officer, &format!("/jobs/{job}/sign"), &[]);
    assert_eq!(signed.status, 303, "{}", signed.body);
    assert_eq!(count(As::Officer, "not-signed"), waiting - 1);
}

/// What the shop works with and measures with. OAT ready mixed lies in D-1 alone on the hill: what went out of it
/// in the last two months and what it holds give the days left; half a drum less, and it is told.
#[test]
fn fresh_fluid_that_runs_out_and_instruments_to_check_are_told_with_their_days() {
    let shop = Shop::open();
    let manager = As::Manager;
    let days_left = || {
        let list = text(&shop.get(manager, "/board/stock").body);
        let told = list.split("EG OAT, ready mixed ").nth(1)?;
        let told = told.split(" day").next()?;
        Some(told.parse::<i64>().unwrap())
    };
    let expected = || {
        let held = contents(&shop, "D-1");
        let since = Month::of("2026-08-01".parse().unwrap());
        let used = shop.read(async |read| read.list_stock_use(held.shop.unwrap(), since).await);
        let used = used.unwrap();
        let own = used.iter().find(|used| used.vessel == held.place).unwrap();
        // From 1 August to 5 October.
        held.shown_ml * 65 / (own.to_units_ml + own.to_vessels_ml)
    };
    let first = expected();
    assert_eq!(days_left(), (first <= 14).then_some(first));
    let cart = place(&shop, "Cart A").to_string();
    let litres = contents(&shop, "D-1").shown_ml / 1_000 - 1;
    Paper::on_vessel(&shop, As::Technician, ("D-1", "move"))
        .with_all(&[
            ("to", &cart),
            ("volume", &litres.to_string()),
            ("temperature", "20"),
        ])
        .saved(&shop, As::Technician);
    let left = expected();
    assert!(left < 14, "{left}");
    assert_eq!(days_left(), Some(left));
    let found = lines(&shop, manager);
    let line = |what: &str| found.iter().find(|(said, ..)| said == what).unwrap();
    let (_, count, address) = line("Fresh fluid that runs out soon");
    assert_eq!(
        (*count, address.as_str()),
        (rows(&shop, manager, address), "/board/stock")
    );

    // The zero check of the refractometer for PG was due; checked today, it is no longer told.
    let instruments = |who: As| text(&shop.get(who, "/board/instruments").body);
    let list = instruments(As::Technician);
    assert!(list.contains("R-3 zero check due since "), "{list}");
    let body = shop.get(As::Technician, "/board/instruments").body;
    let address = body.split("href=\"/instruments/").nth(1).unwrap();
    let address = format!("/instruments/{}", address.split('"').next().unwrap());
    Form::open(&shop, As::Technician, &address)
        .with("reads", "0")
        .saved(&shop, As::Technician);
    let list = instruments(As::Technician);
    assert!(!list.contains("R-3"), "{list}");
    // Whoever only reads is led nowhere they may not go.
    let body = shop.get(As::Reader, "/board/instruments").body;
    assert!(!body.contains("href=\"/instruments/"), "{body}");
}
