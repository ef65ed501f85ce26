//! Which rules a site is under, and what a determination has to prove under them.

use super::form::{Form, text};
use super::job::paper::{Paper, place};
use super::shop::{As, Shop};

const WHO: As = As::HarbourManager;

fn page(shop: &Shop, path: &str) -> String {
    let answer = shop.get(WHO, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    text(&answer.body)
}

/// The site of the harbour yard is under these rules from the day of the demonstration on.
fn under(shop: &Shop, rules: &str) {
    Form::open(shop, WHO, "/waste/rules")
        .with_all(&[("rules", rules), ("from", "2026-10-05")])
        .saved(shop, WHO);
}

/// A determination by test, not hazardous unless it says otherwise.
fn by_test(shop: &Shop, fields: &[(&str, &str)]) -> Form {
    Form::open(shop, WHO, "/waste/determination")
        .with_all(&[
            ("covers_from", "2026-10-05"),
            ("hazardous", "no"),
            ("laboratory", "LAB 31 (invented)"),
            ("sampled", "2026-10-01"),
        ])
        .with_all(fields)
}

/// It is refused with one problem, which says all of this.
fn refused(shop: &Shop, fields: &[(&str, &str)], parts: &[&str]) {
    let found = by_test(shop, fields).refused(shop, WHO);
    assert_eq!(found.len(), 1, "{fields:?}: {found:?}");
    let found = found.join(" ");
    for part in parts {
        assert!(found.contains(part), "{part}: {found:?}");
    }
}

fn latest(shop: &Shop) -> String {
    let file = page(shop, "/waste/determinations");
    let (_, rows) = file.split_once("Keep until").unwrap();
    rows.to_owned()
}

/// Regulation (EU) 1357/2014, HP 6: from 25 % by mass on it is 16 01 14*, below it 16 01 15 where
/// nothing else makes it hazardous (from memory).
#[test]
fn under_a_list_of_waste_the_share_and_other_hazards_decide() {
    let shop = Shop::open();
    under(&shop, "eu");
    let lines = ("found", "lead 6.8\nzinc 40");
    refused(
        &shop,
        &[lines],
        &["not given: the share of glycol by mass", "25 %"],
    );
    refused(
        &shop,
        &[("glycol", "8")],
        &["not given: whether another property makes it hazardous"],
    );
    refused(
        &shop,
        &[("glycol", "30"), ("other_hazards", "no")],
        &["By this sheet it is hazardous under eu: 16 01 14*"],
    );
    refused(
        &shop,
        &[("glycol", "8"), ("other_hazards", "yes")],
        &["16 01 14*"],
    );
    by_test(&shop, &[lines, ("glycol", "8"), ("other_hazards", "no")]).saved(&shop, WHO);
    let of = latest(&shop);
    assert!(of.contains("not hazardous: 16 01 15 test"), "{of}");
    assert!(of.contains("Glycol by mass 8 %"), "{of}");
    by_test(&shop, &[("hazardous", "yes"), ("glycol", "48")]).saved(&shop, WHO);
    assert!(latest(&shop).contains("hazardous: 16 01 14* test"));
    // A share is no more than the whole.
    let found = by_test(&shop, &[("glycol", "100.5"), ("other_hazards", "no")]).refused(&shop, WHO);
    assert!(found[0].contains("no number from 0 to 100"), "{found:?}");
}

/// Rules that hold no figure leave it to whoever signs.
#[test]
fn under_rules_without_figures_a_sheet_is_taken_as_it_is_signed() {
    let shop = Shop::open();
    under(&shop, "ca");
    by_test(&shop, &[("found", "lead 6.8"), ("ph", "8.1")]).saved(&shop, WHO);
    let of = latest(&shop);
    assert!(of.contains("not hazardous test"), "{of}");
    assert!(of.contains("these rules have no limit for it"), "{of}");
    assert!(of.contains("no end yet"), "{of}");
}

#[test]
fn a_criterion_for_ethylene_glycol_asks_for_the_share() {
    let shop = Shop::open();
    under(&shop, "us-state-eg-criterion");
    let lead = ("found", "lead 0.4");
    refused(
        &shop,
        &[lead],
        &["not given: the share of ethylene glycol by mass", "10 %"],
    );
    refused(
        &shop,
        &[lead, ("glycol", "50")],
        &["By this sheet it is hazardous", "state rule (EG >= 10 %)"],
    );
    refused(&shop, &[lead, ("glycol", "10")], &["state rule"]);
    refused(
        &shop,
        &[("glycol", "9")],
        &["not given: a result for any of the analytes"],
    );
    by_test(&shop, &[lead, ("glycol", "9.9")]).saved(&shop, WHO);
    under(&shop, "us-state-presumed-hazardous");
    let known = [
        ("laboratory", ""),
        ("sampled", ""),
        ("knowledge", "new units only"),
    ];
    refused(&shop, &known, &["whatever is known of it"]);
    by_test(&shop, &known)
        .with("hazardous", "yes")
        .saved(&shop, WHO);
    assert!(latest(&shop).contains("hazardous knowledge new units only"));
}

/// Cases T18 and T19, and how laboratories write what they did not find. Lead carries D008 from
/// 5.0 mg/L on; a total of liquid with less than 0.5 % of solids is its own extract (40 CFR 261.24).
#[test]
fn a_sheet_is_read_as_it_is_printed() {
    let shop = Shop::open();
    for (line, part) in [
        (
            "lead ND (RL 10)",
            "the reporting limit 10 mg/L is above the limit 5 mg/L",
        ),
        (
            "lead ND <5001 ug/L",
            "the reporting limit 5.001 mg/L is above",
        ),
        ("lead <10 mg/L", "the reporting limit 10 mg/L is above"),
        ("lead ND", "no reporting limit is given"),
        ("lead not detected", "no reporting limit is given"),
        ("lead 5000 ug/L by EPA 6010D", "D008"),
        ("lead 6.8 ppm", "D008"),
    ] {
        refused(&shop, &[("found", line)], &[part]);
    }
    for line in ["lead", "lead some", "6.8", "lead 6.8 mg/kg"] {
        let found = by_test(&shop, &[("found", line)]).refused(&shop, WHO);
        assert!(found[0].contains("is no line like"), "{line}: {found:?}");
    }
    let total = |solids| {
        [
            ("found", "lead 6.0"),
            ("portion", "total"),
            ("solids", solids),
        ]
    };
    refused(&shop, &total("0.1"), &["D008"]);
    refused(&shop, &total("0.5"), &["only an extract decides"]);
    refused(&shop, &total(""), &["only an extract decides"]);
    let found = by_test(&shop, &total("0.1"))
        .with("portion", "extract")
        .refused(&shop, WHO);
    assert!(found[0].contains("belongs to a total"), "{found:?}");
    let unnamed = by_test(&shop, &[("laboratory", ""), ("found", "lead 0.1")]).refused(&shop, WHO);
    assert!(unnamed[0].contains("give its laboratory"), "{unnamed:?}");

    by_test(
        &shop,
        &[
            (
                "found",
                "lead ND (RL 0.05) by EPA 6010D\ncadmium 40 ug/L\nbenzene ND <0.1",
            ),
            ("sample", "S-7"),
            ("portion", "total"),
            ("solids", "0.2"),
        ],
    )
    .saved(&shop, WHO);
    let of = latest(&shop);
    for part in [
        "LAB 31 (invented), sample S-7, sampled 2026-10-01",
        "lead ND (RL 0.05) mg/L by EPA 6010D (limit 5, D008)",
        "cadmium 40 ug/L (limit 1, D006)",
        "Analysed total, solids 0.2 %",
    ] {
        assert!(of.contains(part), "{part}: {of}");
    }
}

/// A choice of rules counts from its day on: what was signed under the old ones stays as it was, and so
/// does what a closed month comes to by now.
#[test]
fn rules_never_reach_back_into_a_closed_month() {
    let shop = Shop::open();
    let closing = "/waste/close?month=2026-09";
    Form::open(&shop, As::Officer, closing).saved(&shop, As::Officer);
    let signed = page(&shop, closing);
    assert!(signed.contains("Nothing changed since."), "{signed}");
    let statement = |page: &str| page.split_once("Totals").unwrap().1.to_owned();
    let form = Form::open(&shop, WHO, "/waste/rules").with("rules", "us-state-universal-waste");
    for from in ["2026-09-30", "2026-07-15", "2025-01-01"] {
        let found = form.with("from", from).refused(&shop, WHO);
        assert_eq!(found.len(), 1, "{from}: {found:?}");
        assert!(
            found[0].contains("2026-09 is closed") && found[0].contains("2026-10-01"),
            "{found:?}"
        );
    }
    form.with("from", "2026-10-01").saved(&shop, WHO);
    let now = page(&shop, "/waste");
    assert!(now.contains("Rules: us-state-universal-waste"), "{now}");
    let after = page(&shop, closing);
    assert!(after.contains("Nothing changed since."), "{after}");
    assert!(after.contains("Rules: us-fed-2026."), "{after}");
    let head = |page: &str| page.split("Record up to").next().unwrap().to_owned();
    assert_eq!(head(&statement(&after)), head(&statement(&signed)));
    let september = page(&shop, "/waste?month=2026-09");
    assert!(september.contains("Rules: us-fed-2026"), "{september}");
    shop.book_is_closed();
}

/// Rules without classes are told from none.
#[test]
fn no_page_says_that_no_rules_were_chosen_where_they_were() {
    let shop = Shop::open();
    under(&shop, "eu");
    for path in [
        "/waste",
        "/waste/year",
        "/waste/containers",
        "/waste/lines?month=2026-10&total=became_waste",
        "/waste/close?month=2026-10",
        "/waste/determinations",
    ] {
        let said = page(&shop, path).to_lowercase();
        for word in ["no rules", "none chosen", "no rules chosen"] {
            assert!(!said.contains(word), "{path}: {word}: {said}");
        }
    }
    let containers = page(&shop, "/waste/containers");
    assert!(
        containers.contains("No clocks in these rules"),
        "{containers}"
    );
    let year = page(&shop, "/waste/year");
    assert!(year.contains("these rules have none"), "{year}");
    let closing = page(&shop, "/waste/close?month=2026-10");
    assert!(
        closing.contains("No class: the rules eu have none."),
        "{closing}"
    );
}

fn file(shop: &Shop, path: &str) -> String {
    let answer = shop.get(WHO, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    answer.body
}

/// Ships some of a drum of the harbour yard, with all its papers.
fn ship(shop: &Shop, drum: &str, treatment: &str) {
    Paper::on_vessel(shop, WHO, (drum, "ship"))
        .with_all(&[
            ("volume", "7"),
            ("temperature", "20"),
            ("carrier", "Tarn Valley Reclaim (invented)"),
            ("document", "NOTE-7"),
            ("destination", "Old Quarry Works (invented)"),
            ("treatment", treatment),
        ])
        .happened()
        .saved(shop, WHO);
}

/// The same data as a register asks for it: what by its entry in the list of waste, where from, with
/// whom, where to, for which treatment, by which paper (2008/98/EC art. 35(1)).
#[test]
fn what_was_shipped_is_told_in_the_words_of_the_rules() {
    for (rules, entries, paper) in [
        ("eu", ["16 01 14*", "16 01 15"], "Identification document"),
        ("uk", ["16 01 14*", "16 01 15"], "Consignment note"),
        ("ca", ["", ""], "Movement document"),
    ] {
        let shop = Shop::open();
        under(&shop, rules);
        // The knowledge of the demonstration says hazardous, of all coolant of the site.
        ship(&shop, "D-5", "R2");
        let sheet = [("glycol", "8"), ("other_hazards", "no"), ("ph", "8.1")];
        by_test(&shop, &sheet)
            .with("of", &place(&shop, "D-7").to_string())
            .saved(&shop, WHO);
        ship(&shop, "D-7", "R13");
        let said = file(&shop, "/waste/streams.csv?month=2026-10");
        let (_, sent) = said
            .split_once("list entry,origin,facility,carrier,")
            .unwrap();
        assert!(
            sent.starts_with(&format!("treatment or method code,{paper},shipped kg")),
            "{sent}"
        );
        let site = said.split("\r\nsite,").nth(1).unwrap();
        let site = site.split("\r\n").next().unwrap().trim_matches('"');
        let [hazardous, other] = entries;
        for (entry, code) in [(hazardous, "R2"), (other, "R13")] {
            let row = format!(
                "\r\n{entry},\"{site}\",Old Quarry Works (invented),Tarn Valley Reclaim (invented),{code},NOTE-7,7."
            );
            assert!(sent.contains(&row), "{row}: {sent}");
        }
        let year = page(&shop, "/waste/year");
        assert!(
            year.contains(&format!("Treatment code {paper} Mass")),
            "{year}"
        );
        let words = "Old Quarry Works (invented) Tarn Valley Reclaim (invented) R13 NOTE-7";
        assert!(year.contains(words), "{year}");
        let has_list = year.contains("Entry Origin Facility");
        assert_eq!(has_list, rules != "ca", "{year}");
        if has_list {
            let row = format!("{other} {site} {words}");
            assert!(year.contains(&row), "{row}: {year}");
        }
    }
}

/// Decides on all that a vessel of the upper yard holds.
fn decide(shop: &Shop, vessel: &str, fitness: &str) {
    let path = format!("/vessels/{}/decide", place(shop, vessel));
    Form::open(shop, As::Manager, &path)
        .with_all(&[
            ("fitness", fitness),
            ("reason", "by a test strip (invented)"),
        ])
        .saved(shop, As::Manager);
}

/// A figure of the month that runs in the upper yard, by its column, g.
pub(super) fn figure(shop: &Shop, name: &str) -> i64 {
    let said = shop
        .get(As::Manager, "/waste/months.csv?month=2026-10")
        .body;
    let table = said.split_once("\r\n\r\n").unwrap().1;
    let (head, last) = (table.lines().next(), table.lines().next_back());
    let at = head.unwrap().split(',').position(|it| it == name).unwrap();
    let figure = last.unwrap().split(',').nth(at).unwrap();
    figure.replace('.', "").parse().unwrap()
}

/// The rows of the list of the month in the upper yard with this word for their stream.
fn listed(shop: &Shop, stream: &str) -> Vec<Vec<String>> {
    let said = shop.get(As::Manager, "/waste/lines.csv?month=2026-10").body;
    // What stands above, the table, the checks.
    let table = said.split("\r\n\r\n").nth(1).unwrap();
    let mut table = csv::Reader::from_reader(table.as_bytes());
    let rows = table.records().map(|row| row.unwrap());
    rows.map(|row| row.iter().map(str::to_owned).collect::<Vec<_>>())
        .filter(|row| row.get(4).is_some_and(|it| it == stream))
        .collect()
}

fn go_round(shop: &Shop) {
    let cart = place(shop, "Cart A").to_string();
    Paper::on_unit(shop, As::Technician, ("3303", "fill"))
        .with_all(&[("how", "poured"), ("source", &cart), ("volume", "20")])
        .happened()
        .saved(shop, As::Technician);
    drain(shop);
}

fn drain(shop: &Shop) {
    let cart = place(shop, "Cart A").to_string();
    Paper::on_unit(shop, As::Technician, ("3303", "recover"))
        .with_all(&[
            ("gate_temperature", "20"),
            ("gate_pressure", "0"),
            ("to", &cart),
            ("volume", "20"),
            ("fit", "yes"),
            ("intent", "reclaim"),
        ])
        .happened()
        .saved(shop, As::Technician);
}

/// Cases G15, G16 and G18 through the pages: coolant that is put back counts nothing (40 CFR
/// 261.1(c)(1)), what is to be reclaimed counts once in the month (262.13(d)(3)), and shipping is no
/// generation (262.13(d)(1)). Each stands on the list with its section.
#[test]
fn what_goes_round_counts_once_and_every_way_stands_on_the_list() {
    let shop = Shop::open();
    let counted = || figure(&shop, "counted coolant kg");
    let not = |stream: &str, section: &str| {
        let rows = listed(&shop, stream);
        assert!(!rows.is_empty(), "{stream}");
        for row in rows {
            // In no column that a figure of the month is the sum of, but in the one of its own.
            assert_eq!(row[8..12].join(""), "", "{row:?}");
            assert_eq!(row[12], row[7], "{row:?}");
            let why = format!("does not count, {section}");
            assert_eq!(row[13], why, "{row:?}");
        }
    };
    let first = counted();
    drain(&shop);
    decide(&shop, "Cart A", "reuse");
    go_round(&shop);
    assert_eq!(counted(), first, "put back");
    not("put back", "261.1(c)(1); 261.2");

    decide(&shop, "Cart A", "reclaim");
    let to_reclaim = listed(&shop, "to be reclaimed");
    let mass: i64 = to_reclaim[0][7].replace('.', "").parse().unwrap();
    assert!(mass > 20_000, "{to_reclaim:?}");
    assert_eq!(to_reclaim[0][8], to_reclaim[0][7], "counted in full");
    assert_eq!(counted(), first + mass);
    decide(&shop, "Cart A", "reuse");
    decide(&shop, "Cart A", "reclaim");
    assert_eq!(counted(), first + mass, "decided once more");
    go_round(&shop);
    assert_eq!(counted(), first + mass, "drained, and nothing decided yet");
    decide(&shop, "Cart A", "reclaim");
    let again = listed(&shop, "reclaimed once more");
    let again_g: i64 = again[0][7].replace('.', "").parse().unwrap();
    assert!(again_g > 5_000, "{again:?}");
    let more = counted() - first - mass;
    // What the unit held beside it was drained for the first time: 20 L at a little over 1 kg/L.
    assert!(
        (1..20 * 1_150 - again_g).contains(&more),
        "{more} {again_g}"
    );
    not("reclaimed once more", "262.13(d)(3)");
    not("put back after reclaiming", "262.13(d)(3)");

    let before = counted();
    Paper::on_vessel(&shop, As::Manager, ("D-6", "ship"))
        .with_all(&[
            ("volume", "9"),
            ("temperature", "20"),
            ("carrier", "Tarn Valley Reclaim (invented)"),
            ("document", "DEMO-18"),
        ])
        .happened()
        .saved(&shop, As::Manager);
    assert_eq!(counted(), before, "shipped");
    not("shipped from storage", "262.13(d)(1)");
    let month = text(&shop.get(As::Manager, "/waste").body);
    for part in [
        "On the list, and not counted",
        "Put back into units",
        "(261.1(c)(1); 261.2)",
        "Reclaimed once more",
        "(262.13(d)(3))",
        "Shipped from storage",
        "(262.13(d)(1))",
    ] {
        assert!(month.contains(part), "{part}: {month}");
    }
    for total in ["reused", "reclaimed_again", "shipped", "reclaimed"] {
        let path = format!("/waste/lines?month=2026-10&total={total}");
        let list = text(&shop.get(As::Manager, &path).body);
        assert!(
            list.contains("Check: these lines come to the book's total"),
            "{list}"
        );
        let word = if total == "reclaimed" {
            " counts, "
        } else {
            "does not count, "
        };
        assert!(list.contains(word), "{total}: {list}");
    }
    shop.book_is_closed();
}

/// A fill goes by the batch it was taken out of: told of after its vessel was decided on, it happened before
/// that, and put back coolant that nobody had decided on.
#[test]
fn a_later_decision_on_the_vessel_changes_nothing_of_an_earlier_fill() {
    let shop = Shop::open();
    decide(&shop, "Cart A", "reclaim");
    let cart = place(&shop, "Cart A").to_string();
    let fill = |volume: &str, when: &[(&str, &str)]| {
        Paper::on_unit(&shop, As::Technician, ("3303", "fill"))
            .with_all(&[("how", "poured"), ("source", &cart), ("volume", volume)])
            .with_all(when)
            .happened()
            .saved(&shop, As::Technician);
    };
    let of = |stream: &str| listed(&shop, stream).len();
    let (before, reclaimed) = (of("put back"), of("put back after reclaiming"));
    let earlier = [
        ("when", "earlier"),
        ("day", "2026-10-05"),
        ("time", "06:30"),
    ];
    fill("1", &earlier);
    assert_eq!(of("put back"), before + 1);
    assert_eq!(of("put back after reclaiming"), reclaimed);
    fill("1", &[]);
    assert_eq!(of("put back"), before + 1);
    assert_eq!(of("put back after reclaiming"), reclaimed + 1);
    let page = text(
        &shop
            .get(As::Manager, "/waste/lines?month=2026-10&total=reused")
            .body,
    );
    assert!(
        page.contains("does not count, 261.1(c)(1); 261.2"),
        "{page}"
    );
    assert!(page.contains("does not count, 262.13(d)(3)"), "{page}");
    shop.book_is_closed();
}

/// The number a site is known by heads its reports from the day it was stated for, in the page and the file.
#[test]
fn the_identity_number_of_the_site_heads_its_reports() {
    let shop = Shop::open();
    let head = "identity number INVENTED-000-0001";
    for page in ["/waste", "/waste/containers", "/waste/year"] {
        let page = text(&shop.get(As::Manager, page).body);
        assert!(page.contains(head), "{page}");
    }
    let file = |month: &str| {
        let path = format!("/waste/lines.csv?month={month}");
        shop.get(As::Manager, &path).body
    };
    assert!(file("2026-10").contains("site identity number,INVENTED-000-0001\r\n"));
    let form = Form::open(&shop, As::Manager, "/waste/rules");
    assert_eq!(form.get("number"), "INVENTED-000-0001");
    form.with_all(&[("number", "=NUMBER(2)"), ("from", "2026-10-01")])
        .saved(&shop, As::Manager);
    assert!(file("2026-10").contains("site identity number,'=NUMBER(2)\r\n"));
    assert!(file("2026-09").contains("site identity number,INVENTED-000-0001\r\n"));
    // Of several in one period each stands with its days.
    Form::open(&shop, As::Manager, "/waste/rules")
        .with_all(&[("number", "NUMBER-3"), ("from", "2026-10-04")])
        .saved(&shop, As::Manager);
    let both = "=NUMBER(2) from 2026-10-01 to 2026-10-03; NUMBER-3 from 2026-10-04 to 2026-10-31";
    let of_month = file("2026-10");
    assert!(
        of_month.contains(&format!("site identity number,'{both}\r\n")),
        "{of_month}"
    );
    let year = text(&shop.get(As::Manager, "/waste/year?month=2026-10").body);
    assert!(
        year.contains(&format!(" to 2026-09-30; {both}. ")),
        "{year}"
    );
    let now = text(&shop.get(As::Manager, "/waste/containers").body);
    assert!(now.contains("identity number NUMBER-3. "), "{now}");
}

/// Case G19: recycled coolant leaves the count of a state that sees it as universal waste, and the
/// total of the stream stays.
#[test]
fn what_is_recycled_leaves_the_count_where_the_rules_say_so() {
    let shop = Shop::open();
    under(&shop, "us-state-universal-waste");
    let by_knowledge = |recycled: &str| {
        Form::open(&shop, WHO, "/waste/determination")
            .with_all(&[
                ("of", place(&shop, "D-7").to_string().as_str()),
                ("covers_from", "2026-10-05"),
                ("hazardous", "yes"),
                ("recycled", recycled),
                ("knowledge", "soldered radiators (invented)"),
            ])
            .saved(&shop, WHO);
    };
    by_knowledge("other");
    let cart = place(&shop, "Cart B").to_string();
    let d7 = place(&shop, "D-7").to_string();
    Paper::open(&shop, WHO, &format!("/vessels/{cart}/jobs/move"))
        .with_all(&[("to", &d7), ("volume", "8")])
        .happened()
        .saved(&shop, WHO);
    let of_d7 = || {
        let list = page(&shop, "/waste/lines?month=2026-10&total=became_waste");
        let row = list
            .split(" D-7 ")
            .nth(1)
            .unwrap_or_else(|| panic!("no D-7: {list}"));
        row.split("job").next().unwrap().to_owned()
    };
    assert!(of_d7().contains(" counts, "), "{}", of_d7());
    by_knowledge("recycled");
    let said = of_d7();
    assert!(
        said.contains("does not count, 262.13(c)(6) + state rule"),
        "{said}"
    );
    assert!(latest(&shop).contains("hazardous, recycled knowledge"));
}
