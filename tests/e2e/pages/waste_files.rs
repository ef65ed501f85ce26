//! The files of waste as another program reads them, and lists longer than a page.

use std::io::Write;
use std::process::{Command, Stdio};

use uuid::Uuid;

use crate::pages::form::{Form, text};
use crate::pages::job::paper::{Paper, place};
use crate::pages::shop::{As, Shop};

/// The csv module of Python's standard library reads the bytes, strictly, as UTF-8.
const READER: &str = "\
import csv, io, json, sys
sent = io.TextIOWrapper(sys.stdin.buffer, encoding='utf-8', errors='strict', newline='')
json.dump(list(csv.reader(sent, strict=True)), sys.stdout)
";

/// A file as Python's csv reads it.
#[derive(Debug)]
struct File {
    about: Vec<(String, String)>,
    head: Vec<String>,
    rows: Vec<Vec<String>>,
    /// Tables below the first, each with its head.
    others: Vec<Vec<Vec<String>>>,
}

impl File {
    fn read(shop: &Shop, who: As, path: &str) -> Self {
        let answer = shop.get(who, path);
        assert_eq!(answer.status, 200, "{path}");
        let mut python = Command::new("python3")
            .args(["-c", READER])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut into = python.stdin.take().unwrap();
        into.write_all(answer.body.as_bytes()).unwrap();
        drop(into);
        let done = python.wait_with_output().unwrap();
        assert!(done.status.success(), "{path}: {}", answer.body);
        let all: Vec<Vec<String>> = serde_json::from_slice(&done.stdout).unwrap();
        let mut parts = all.split(Vec::is_empty);
        let about = parts.next().unwrap().iter();
        let about = about.map(|row| match row.as_slice() {
            [what, value] => (what.clone(), value.clone()),
            other => panic!("{path}: {other:?}"),
        });
        let about: Vec<_> = about.collect();
        let (head, rows) = parts.next().unwrap().split_first().unwrap();
        let file = Self {
            about,
            head: head.clone(),
            rows: rows.to_vec(),
            others: parts.map(<[Vec<String>]>::to_vec).collect(),
        };
        assert_eq!(file.about_it("rows"), rows.len().to_string(), "{path}");
        assert!(rows.iter().all(|row| row.len() == head.len()), "{path}");
        file
    }

    /// What is checked, by what and what it comes to on either side: every check has to agree.
    fn checks(&self) -> Vec<(String, i64)> {
        let (head, rows) = self.others.last().unwrap().split_first().unwrap();
        assert_eq!(head.first().unwrap(), "check");
        let each = rows.iter().map(|row| {
            let [what, _, one, _, other, agrees] = row.as_slice() else {
                panic!("{row:?}")
            };
            assert_eq!((agrees.as_str(), one), ("yes", other), "{row:?}");
            let figure = if one.contains('.') {
                thousandths(one)
            } else {
                one.parse().unwrap()
            };
            (what.clone(), figure)
        });
        each.collect()
    }

    fn about_it(&self, what: &str) -> &str {
        let found = self.about.iter().find(|(known, _)| known == what);
        &found.unwrap().1
    }

    fn column(&self, name: &str) -> Vec<&str> {
        let at = self.head.iter().position(|head| head == name);
        let at = at.unwrap_or_else(|| panic!("{name}: {:?}", self.head));
        self.rows
            .iter()
            .map(|row| row.get(at).unwrap().as_str())
            .collect()
    }
}

/// The rows of the first table of a page below a caption, cell by cell, without its head.
fn table(html: &str, caption: &str) -> Vec<Vec<String>> {
    let mark = format!("<caption>{caption}</caption>");
    let Some(table) = html.split(&mark).nth(1) else {
        return Vec::new();
    };
    let body = table.split("<tbody>").nth(1).unwrap();
    let body = body.split("</tbody>").next().unwrap();
    let rows = body.split("<tr>").skip(1);
    rows.map(|row| {
        let cells = row.split("<t").skip(1);
        cells
            .map(|cell| text(&format!("<t{}", cell.split("</t").next().unwrap())))
            .collect()
    })
    .collect()
}

/// "1,207.114 kg (2,661 lb)" as grams; below nothing with a minus of either kind.
fn grams(said: &str) -> i64 {
    let number = said.split(['\u{202F}', ' ']).next().unwrap();
    assert!(said.contains("kg"), "{said}");
    thousandths(&number.replace(',', ""))
}

/// "207.114" as thousandths, exactly.
fn thousandths(said: &str) -> i64 {
    if let Some(above) = said.strip_prefix('-') {
        return -thousandths(above);
    }
    let (whole, rest) = said.split_once('.').unwrap();
    assert_eq!(rest.len(), 3, "{said}");
    format!("{whole}{rest}").parse().unwrap()
}

#[test]
fn what_python_reads_of_the_lines_is_what_the_page_shows() {
    let shop = Shop::open();
    let mut lines = 0;
    for who in [As::Manager, As::HarbourManager] {
        for month in ["2026-07", "2026-08", "2026-09", "2026-10"] {
            let file = File::read(&shop, who, &format!("/waste/lines.csv?month={month}"));
            assert_eq!(file.about_it("period"), month);
            let stream = file.column("stream");
            let of_stream = |name: &str, wanted: &str| -> Vec<&str> {
                let all = file.column(name).into_iter().zip(&stream);
                all.filter(|(_, stream)| **stream == wanted)
                    .map(|(cell, _)| cell)
                    .collect()
            };
            let became = |name: &str| of_stream(name, "became waste");
            let path = format!("/waste/lines?month={month}&total=became_waste");
            let html = shop.get(who, &path).body;
            let shown = table(&html, "Lines in the order of the record");
            lines += shown.len();
            let of_page = |at: usize| shown.iter().map(move |row| row[at].clone());
            let entries = became("day").into_iter().zip(became("event"));
            for ((day, event), entry) in entries.zip(of_page(0)) {
                assert!(entry.starts_with(&format!("{day}, ")), "{day}: {entry}");
                let number = entry.rsplit(' ').next().unwrap().replace(',', "");
                assert_eq!(number, event);
            }
            assert_eq!(became("vessel"), of_page(1).collect::<Vec<_>>());
            let masses: Vec<i64> = became("mass kg").into_iter().map(thousandths).collect();
            let shown_masses: Vec<i64> = of_page(3).map(|said| grams(&said)).collect();
            assert_eq!(masses, shown_masses, "{who:?} {month}");
            let sum: i64 = masses.iter().sum();
            let reclaimed = of_stream("mass kg", "to be reclaimed");
            let reclaimed: i64 = reclaimed.into_iter().map(thousandths).sum();
            let checks = file.checks();
            let generated = [
                ("what became waste".to_owned(), sum),
                ("what is to be reclaimed".to_owned(), reclaimed),
            ];
            assert!(checks.starts_with(&generated), "{checks:?}");
            columns_come_to_the_figures(&shop, (who, month), &file, &checks);
            let densities: Vec<String> = of_page(4)
                .map(|said| said.replace(" kg/m³", "").replace(',', ""))
                .map(|said| said.replace("not known", ""))
                .collect();
            assert_eq!(became("density at 20 °C kg/m³"), densities);
            for (event, said) in became("determination event").into_iter().zip(of_page(6)) {
                match event {
                    "" => assert_eq!(said, "none"),
                    event => assert_eq!(said.replace(',', ""), format!("Event {event}")),
                }
            }
            let foot = html.split("<tfoot>").nth(1).map_or(0, |foot| {
                let cell = foot.split("data-label=\"Mass\">").nth(1).unwrap();
                grams(&text(cell.split("</td>").next().unwrap()))
            });
            assert_eq!(sum, foot, "{who:?} {month}");
            assert_eq!(became("reason and section"), of_page(5).collect::<Vec<_>>());

            let months = format!("/waste/months.csv?month={month}");
            let months = File::read(&shop, who, &months);
            assert_eq!(months.column("month").last(), Some(&month));
            let last = *months.column("became waste kg").last().unwrap();
            assert_eq!(thousandths(last), sum, "{who:?} {month}");
        }
    }
    assert!(lines > 10, "{lines} lines are too few to prove anything");
}

/// Every line stands in one column, and each column comes to the figure of that name on the page of the
/// month, to the gram; what was only moved comes to the totals of the book.
fn columns_come_to_the_figures(
    shop: &Shop,
    (who, month): (As, &str),
    file: &File,
    checks: &[(String, i64)],
) {
    let sum = |column: &str| -> i64 {
        let cells = file.column(column).into_iter();
        cells.filter(|cell| !cell.is_empty()).map(thousandths).sum()
    };
    let page = shop.get(who, &format!("/waste?month={month}")).body;
    let of_page = |what: &str| {
        let entry = page.split(&format!("<dt>{what}</dt>")).nth(1)?;
        Some(grams(&text(entry.split("</dd>").next().unwrap())))
    };
    let check = |what: &str| {
        let found = checks.iter().find(|(known, _)| known == what);
        found.unwrap_or_else(|| panic!("{what}: {checks:?}")).1
    };
    let figures = [
        ("counted kg", "Coolant that counts"),
        ("not counted kg", "Coolant that does not count"),
        ("perhaps counted kg", "Coolant undecided or not determined"),
        ("outside any class kg", "Coolant outside any class"),
    ];
    let mut all = 0;
    for (column, what) in figures {
        let own = sum(column);
        // What is seldom there is left out of the page where it is not.
        assert_eq!(own, of_page(what).unwrap_or(0), "{who:?} {month} {what}");
        assert_eq!(own, check(&format!("\u{201C}{what}\u{201D}")));
        all += own;
    }
    let mut moved = 0;
    for what in [
        "Put back into units",
        "Reclaimed once more",
        "Shipped from storage",
    ] {
        let own = check(&format!("only moved: \u{201C}{what}\u{201D}"));
        assert_eq!(own, of_page(what).unwrap_or(0), "{who:?} {month} {what}");
        moved += own;
    }
    assert_eq!(sum("only moved kg"), moved, "{who:?} {month}");
    assert_eq!(sum("mass kg"), all + moved, "{who:?} {month}");
}

#[test]
fn what_python_reads_of_the_containers_is_what_the_page_shows() {
    let shop = Shop::open();
    for who in [As::Manager, As::HarbourManager] {
        let file = File::read(&shop, who, "/waste/containers.csv");
        let shown = table(
            &shop.get(who, "/waste/containers").body,
            "What has to be seen to first",
        );
        assert!(shown.len() > 1);
        assert_eq!(file.rows.len(), shown.len());
        let of_page = |at: usize| shown.iter().map(move |row| row[at].clone());
        for (name, heading) in file.column("container").into_iter().zip(of_page(0)) {
            assert!(heading.starts_with(name), "{name}: {heading}");
        }
        assert_eq!(file.column("start date"), of_page(2).collect::<Vec<_>>());
        let limits = file.column("has to leave by").into_iter();
        for ((day, section), shown) in limits.zip(file.column("section")).zip(of_page(3)) {
            let joined = match (day, section) {
                ("", "") => "none".to_owned(),
                ("", section) => format!("none, by {section}"),
                (day, section) => format!("{day}, by {section}"),
            };
            assert_eq!(joined, shown);
        }
        let on_site = &file.others[0][0];
        assert_eq!(on_site[0], "on the site");
        let held: i64 = file
            .column("mass kg")
            .into_iter()
            .filter(|mass| !mass.is_empty())
            .map(thousandths)
            .sum();
        assert_eq!(
            file.checks(),
            [("what these containers hold".to_owned(), held)]
        );
        let html = text(&shop.get(who, "/waste/containers").body);
        assert!(
            html.contains("Check: what these containers hold is "),
            "{html}"
        );
        assert_eq!(file.column("place"), of_page(6).collect::<Vec<_>>());
        let words = file.column("words and codes");
        assert_eq!(words, of_page(7).collect::<Vec<_>>());
        assert_eq!(file.column("look"), of_page(8).collect::<Vec<_>>());
        for (mass, shown) in file.column("mass kg").into_iter().zip(of_page(5)) {
            match mass {
                "" => assert_eq!(shown, "not known"),
                known => assert_eq!(thousandths(known), grams(&shown)),
            }
        }
    }
}

/// Every month of the year's table, closed or not, says in the file what it says on the page.
#[test]
fn what_python_reads_of_the_months_is_what_the_page_shows() {
    let shop = Shop::open();
    for who in [As::Manager, As::HarbourManager] {
        let file = File::read(&shop, who, "/waste/months.csv?year=2026");
        let html = shop.get(who, "/waste/year?year=2026").body;
        let mut shown = table(&html, "Latest first; every figure leads to its list");
        shown.reverse();
        assert_eq!(shown.len(), 10);
        let of_page = |at: usize| shown.iter().map(move |row| row[at].clone());
        assert_eq!(file.column("month"), of_page(0).collect::<Vec<_>>());
        for (at, name) in [
            (1, "counted coolant kg"),
            (2, "perhaps counted coolant kg"),
            (3, "other hazardous waste kg"),
            (4, "other acute kg"),
        ] {
            let of_file: Vec<i64> = file.column(name).into_iter().map(thousandths).collect();
            let of_page: Vec<i64> = of_page(at).map(|said| grams(&said)).collect();
            assert_eq!(of_file, of_page, "{who:?}: {name}");
        }
        let classes = file
            .column("class")
            .into_iter()
            .zip(file.column("rose from"));
        let classes = classes.map(|(class, rose)| match rose {
            "" => class.to_owned(),
            rose => format!("{class}, rose from {rose}"),
        });
        assert!(classes.eq(of_page(5)), "{who:?}");
        assert_eq!(
            file.column("class in the worst case"),
            of_page(6).collect::<Vec<_>>()
        );
        assert_eq!(file.column("rules"), of_page(7).collect::<Vec<_>>());
        let head = text(&html);
        let rules = file.about_it("rules");
        assert!(
            rules.starts_with("us-fed-2026 from 2026-01-01: "),
            "{rules}"
        );
        assert!(head.contains(&format!("Rules: {rules}.")), "{head}");
    }
}

#[test]
fn what_python_reads_of_the_streams_is_what_the_page_shows() {
    let shop = Shop::open();
    for who in [As::Manager, As::HarbourManager] {
        let file = File::read(&shop, who, "/waste/streams.csv?year=2026");
        let html = shop.get(who, "/waste/year?year=2026").body;
        let caption =
            "What was there at first, and came in, less what went out is what was there at last";
        let shown = table(&html, caption);
        // The page has a column a stream, the file a row.
        for (n, row) in shown.iter().enumerate() {
            let of_file = file.rows.iter().map(|stream| thousandths(&stream[n + 1]));
            let of_page = row[1..]
                .iter()
                .map(|said| grams(&said.replace('\u{2212}', "-")));
            assert!(of_file.eq(of_page), "{who:?}: {row:?}");
        }
        assert_eq!(file.head.len(), shown.len() + 2);
        let (_, sent) = file.others[0].split_first().unwrap();
        // Federal rules have no list of waste: the page leaves out entry and origin.
        let origin = file.about_it("site");
        let of_page = table(&html, &format!("Shipped out of {origin}"));
        assert_eq!(
            file.about_it("rows of facilities and carriers"),
            sent.len().to_string()
        );
        assert_eq!(sent.len(), of_page.len());
        for (row, shown) in sent.iter().zip(&of_page) {
            assert_eq!((row[0].as_str(), row[1].as_str()), ("", origin));
            assert_eq!(row[2..5], shown[..3]);
            assert_eq!(row[5], shown[3].replace(", ", " "));
            assert_eq!(thousandths(&row[6]), grams(&shown[4]));
        }
        let checks = file.checks();
        assert_eq!(checks.len(), 8, "{checks:?}");
        let said = text(&html);
        assert_eq!(said.matches("Check: ").count(), 8, "{said}");
        assert!(
            checks
                .iter()
                .any(|(what, vessels)| what.contains("close in mL") && *vessels > 0)
        );
    }
}

#[test]
fn what_python_reads_of_looks_and_determinations_is_what_the_pages_show() {
    let shop = Shop::open();
    for who in [As::Manager, As::HarbourManager] {
        let span = "from=2025-01-01&to=2026-10-05";
        let file = File::read(&shop, who, &format!("/waste/looks.csv?{span}"));
        assert_eq!(file.about_it("period"), "2025-01-01 to 2026-10-05");
        let rules = file.about_it("rules");
        assert!(rules.contains("us-fed-2026 from 2025-0"), "{rules}");
        let html = shop.get(who, &format!("/waste/looks?{span}")).body;
        let caption = html.split("<caption>").nth(1).unwrap();
        let caption = caption.split("</caption>").next().unwrap();
        let shown = table(&html, caption);
        assert!(!shown.is_empty() && shown.len() == file.rows.len());
        for (at, name) in ["day", "person", "container", "found", "corrected on"]
            .iter()
            .enumerate()
        {
            let of_page: Vec<&str> = shown.iter().map(|row| row[at].as_str()).collect();
            assert_eq!(file.column(name), of_page, "{who:?}");
        }
        let file = File::read(&shop, who, "/waste/determinations.csv");
        let html = shop.get(who, "/waste/determinations").body;
        let shown = table(&html, "Latest first");
        assert!(!shown.is_empty() && shown.len() == file.rows.len());
        for (at, name) in file.head.iter().enumerate().take(8) {
            let of_page: Vec<&str> = shown.iter().map(|row| row[at].as_str()).collect();
            assert_eq!(file.column(name), of_page, "{who:?}");
        }
    }
}

/// Words are what they are on the page, on the label and in the file, where a spreadsheet would run
/// what begins like a formula.
#[test]
fn words_that_want_to_be_programs_stay_words() {
    let shop = Shop::open();
    let drum = place(&shop, "D-6");
    let entry = format!("/vessels/{drum}/container");
    let texts: Vec<String> =
        serde_json::from_str(include_str!("../data/hostile_texts.json")).unwrap();
    for hostile in &texts {
        Form::open(&shop, As::Manager, &entry)
            .with_all(&[("what", "words"), ("words", hostile)])
            .saved(&shop, As::Manager);
        let file = File::read(&shop, As::Manager, "/waste/containers.csv");
        let of = file.column("container").iter().position(|it| *it == "D-6");
        let cell = file.column("words and codes")[of.unwrap()];
        let kept = cell.split("; D0").next().unwrap();
        let is_formula = hostile.starts_with(['=', '+', '-', '@', '\t', '\r']);
        let meant = if is_formula {
            format!("'{hostile}")
        } else {
            hostile.clone()
        };
        assert_eq!(kept, meant);
        let said = hostile.split_whitespace().collect::<Vec<_>>().join(" ");
        for path in [
            "/waste/containers".to_owned(),
            format!("/vessels/{drum}/label"),
        ] {
            let html = shop.get(As::Manager, &path).body;
            assert!(text(&html).contains(&said), "{path}: {said}");
            let is_markup = hostile.contains('<');
            assert!(
                !is_markup || !html.contains(hostile.as_str()),
                "{path}: {said}"
            );
        }
    }
}

/// Draws a tenth of a litre into the cart, at a time of the shop's own.
fn drawn(shop: &Shop, paper: &Paper, n: usize) {
    let litres = format!("0.{}", 1 + n % 9);
    let key = Uuid::new_v4().to_string();
    let answer = paper
        .with_all(&[("key", &key), ("volume", &litres)])
        .send(shop, As::Technician);
    assert_eq!(answer.status, 303, "{}", answer.body);
}

#[test]
fn more_lines_than_a_page_are_all_listed_once_and_come_to_the_total() {
    let shop = Shop::open();
    let before = table(
        &shop
            .get(As::Manager, "/waste/lines?month=2026-10&total=recovered")
            .body,
        "Lines in the order of the record",
    );
    let paper = Paper::on_unit(&shop, As::Technician, ("3303", "recover")).with_all(&[
        ("gate_temperature", "20"),
        ("gate_pressure", "0"),
        ("to", &place(&shop, "Cart A").to_string()),
        ("happened", "yes"),
    ]);
    for n in 0..205 {
        drawn(&shop, &paper, n);
    }
    let mut path = "/waste/lines?month=2026-10&total=recovered".to_owned();
    let (mut pages, mut all) = (0, Vec::new());
    loop {
        let html = shop.get(As::Manager, &path).body;
        pages += 1;
        let rows = table(&html, "Lines in the order of the record");
        assert!(rows.len() <= 200);
        all.extend(rows);
        let Some(more) = html
            .split("\">More lines</a>")
            .next()
            .filter(|part| part.len() < html.len())
        else {
            break;
        };
        path = more
            .rsplit("href=\"")
            .next()
            .unwrap()
            .replace("&#38;", "&")
            .replace("&amp;", "&");
    }
    assert_eq!(pages, 2);
    assert_eq!(all.len(), before.len() + 205);
    let mut entries: Vec<&String> = all.iter().map(|row| &row[0]).collect();
    entries.sort();
    entries.dedup();
    assert_eq!(entries.len(), all.len(), "no line stands on two pages");
    let sum: i64 = all.iter().map(|row| grams(&row[3])).sum();
    let month = text(&shop.get(As::Manager, "/waste?month=2026-10").body);
    let total = month.split("Recovered from units ").nth(1).unwrap();
    let total = total.split(", ").nth(1).unwrap();
    assert_eq!(grams(total), sum);
}

/// Decision 8: a month holds what happened in it by the shop's own clock, whatever day it was at
/// Greenwich: of half an hour before and after midnight one is another day there, wherever the shop
/// stands but on that meridian.
#[test]
fn the_last_half_hour_of_a_month_counts_in_it_by_the_clock_of_the_shop() {
    let shop = Shop::open();
    let lines = |month: &str| {
        let path = format!("/waste/lines?month={month}&total=became_waste");
        table(
            &shop.get(As::Manager, &path).body,
            "Lines in the order of the record",
        )
    };
    for (day, time, month) in [
        ("2026-09-30", "23:30", "2026-09"),
        ("2026-10-01", "00:30", "2026-10"),
    ] {
        let before = lines(month).len();
        Paper::on_unit(&shop, As::Technician, ("3303", "recover"))
            .with_all(&[
                ("gate_temperature", "20"),
                ("gate_pressure", "0"),
                ("to", &place(&shop, "D-6").to_string()),
                ("volume", "0.5"),
                ("fit", "no"),
                ("intent", "waste"),
                ("when", "earlier"),
                ("day", day),
                ("time", time),
                ("happened", "yes"),
            ])
            .saved(&shop, As::Technician);
        let after = lines(month);
        assert_eq!(after.len(), before + 1, "{month}");
        let on_that_day = format!("{day}, job");
        assert!(after.iter().any(|row| row[0].starts_with(&on_that_day)));
        let file = File::read(
            &shop,
            As::Manager,
            &format!("/waste/lines.csv?month={month}"),
        );
        assert!(file.column("day").contains(&day));
    }
    shop.book_is_closed();
}
