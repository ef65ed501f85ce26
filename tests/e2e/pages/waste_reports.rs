//! The reports on waste: they agree with the book, and every file says whose figures it holds.

use super::form::{Form, problems, text};
use super::job::paper::{Paper, place};
use super::shop::{As, Shop};

fn page(shop: &Shop, who: As, path: &str) -> String {
    let answer = shop.get(who, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    text(&answer.body)
}

/// The rows of a file below its head, cell by cell. None of these cells holds a comma.
fn rows(shop: &Shop, who: As, path: &str) -> Vec<Vec<String>> {
    let answer = shop.get(who, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    for part in [
        "report,",
        "site,",
        "period,",
        "rules,",
        "made at,",
        "rows,",
        "filter,",
        "record head,",
    ] {
        assert!(
            answer.body.contains(part),
            "{part} in {path}: {}",
            answer.body
        );
    }
    let table = answer.body.split_once("\r\n\r\n").unwrap().1;
    let cells = |row: &str| row.split(',').map(str::to_owned).collect();
    table.lines().map(cells).collect()
}

/// "207.114" in grams.
fn grams(kg: &str) -> i64 {
    let (whole, part) = kg.trim_start_matches('-').split_once('.').unwrap();
    assert_eq!(part.len(), 3, "{kg}");
    let g: i64 = format!("{whole}{part}").parse().unwrap();
    if kg.starts_with('-') { -g } else { g }
}

#[test]
fn where_the_coolant_went_closes_to_the_gram_and_agrees_with_the_book() {
    let shop = Shop::open();
    for who in [As::Manager, As::HarbourManager] {
        for asked in ["year=2025", "year=2026", "month=2026-08"] {
            let path = format!("/waste/streams.csv?{asked}");
            let rows = rows(&shop, who, &path);
            let streams: Vec<_> = rows
                .iter()
                .filter(|row| row.len() == 13 && row[0] != "stream")
                .collect();
            assert_eq!(streams.len(), 2, "{rows:?}");
            for row in streams {
                let g: Vec<i64> = row[1..9].iter().map(|kg| grams(kg)).collect();
                let [
                    at_first,
                    came_in,
                    into_units,
                    shipped,
                    other,
                    corrected,
                    mixing,
                    at_last,
                    ..,
                ] = g[..]
                else {
                    panic!("{row:?}")
                };
                let out = into_units + shipped + other;
                assert_eq!(
                    at_first + came_in - out + corrected + mixing,
                    at_last,
                    "{row:?}"
                );
                // Mixing changes no mass: what is left is the density curve, below one part in a
                // hundred of what was there and moved (common practice, no source).
                assert!(mixing.abs() * 100 <= at_first + came_in + out, "{row:?}");
            }
            let checks: Vec<_> = rows
                .iter()
                .skip_while(|row| row[0] != "check")
                .skip(1)
                .collect();
            assert!(checks.len() >= 4, "{rows:?}");
            for check in checks {
                let agrees = check.last().unwrap();
                assert_eq!(agrees, "yes", "{who:?} {asked}: {check:?}");
            }
            let html = page(&shop, who, &format!("/waste/year?{asked}"));
            assert!(!html.contains("is to be checked"), "{html}");
        }
    }
}

#[test]
fn a_year_says_where_the_class_rose_and_every_figure_leads_to_its_lines() {
    let shop = Shop::open();
    let rank = |code: &str| ["", "VSQG", "SQG", "LQG"].iter().position(|it| *it == code);
    for who in [As::Manager, As::HarbourManager] {
        let all = rows(&shop, who, "/waste/months.csv?month=2026-09");
        let column = |name: &str| all[0].iter().position(|it| it.starts_with(name)).unwrap();
        let (class, rose) = (column("class"), column("rose from"));
        let months = &all[1..];
        assert_eq!(months.len(), 12);
        let year = page(&shop, who, "/waste/year?month=2026-09");
        for pair in months.windows(2) {
            let (before, now) = (&pair[0], &pair[1]);
            let rises = !before[class].is_empty() && rank(&now[class]) > rank(&before[class]);
            assert_eq!(now[rose] == before[class], rises, "{pair:?}");
            let said = format!("rose from {}", before[class]);
            assert!(!rises || year.contains(&said), "{said}");
        }
        let september = months.last().unwrap();
        for (figure, name) in [
            ("coolant_firm", "counted coolant kg"),
            ("coolant_perhaps", "perhaps counted coolant kg"),
            ("coolant_not_counted", "not counted coolant kg"),
        ] {
            let path = format!("/waste/lines?month=2026-09&figure={figure}");
            let month = shop.get(who, "/waste?month=2026-09").body;
            let link = path.replace('&', "&#38;");
            assert!(month.contains(&link) || month.contains(&path), "{link}");
            let list = page(&shop, who, &path);
            let kg = &september[column(name)];
            let said = format!("come to the figure of the month to the gram, {kg}");
            assert!(list.contains(&said), "{said}: {list}");
        }
    }
}

fn look(shop: &Shop, drum: &str, found: &str) {
    let entry = format!("/vessels/{}/container", place(shop, drum));
    Form::open(shop, As::Technician, &entry)
        .with_all(&[("what", "look"), ("found", found)])
        .saved(shop, As::Technician);
}

#[test]
fn the_log_of_looks_says_what_was_amiss_and_when_it_was_good_again() {
    let shop = Shop::open();
    look(&shop, "D-6", "=lid open");
    let path = "/waste/looks?from=2026-10-05&to=2026-10-05";
    let open = page(&shop, As::Manager, path);
    assert!(open.contains("1 looks, something amiss in 1"), "{open}");
    assert!(open.contains("D-6 =lid open not yet"), "{open}");
    look(&shop, "D-6", "");
    let good = page(&shop, As::Manager, path);
    assert!(good.contains("D-6 =lid open 2026-10-05"), "{good}");
    let file = rows(
        &shop,
        As::Manager,
        "/waste/looks.csv?from=2026-10-05&to=2026-10-05",
    );
    let amiss = file.iter().find(|row| row[3].contains("lid open")).unwrap();
    assert_eq!(
        amiss[..5],
        ["2026-10-05", "P1", "D-6", "'=lid open", "2026-10-05"]
    );
    let wrong = shop.get(As::Manager, "/waste/looks?from=2026-10-05&to=2026-10-01");
    assert!(
        problems(&wrong.body)[0].contains("is after"),
        "{}",
        wrong.body
    );
}

/// Lead: D008 at 5.0 mg/L, 40 CFR 261.24 table 1. Papers are kept for three years from the day the
/// waste was last sent away, 40 CFR 262.11(f).
#[test]
fn the_file_of_determinations_holds_grounds_and_how_long_they_are_kept() {
    let shop = Shop::open();
    Form::open(&shop, As::Officer, "/waste/determination")
        .with_all(&[
            ("of", &place(&shop, "D-7").to_string()),
            ("covers_from", "2026-10-05"),
            ("laboratory", "LAB 12 (invented)"),
            ("sampled", "2026-09-30"),
            ("found", "lead 6.8\ncadmium <0.2"),
            ("ph", "8.1"),
            ("hazardous", "yes"),
            ("codes", "D008"),
        ])
        .saved(&shop, As::Officer);
    let path = "/waste/determinations";
    let all = page(&shop, As::HarbourManager, path);
    let own = all
        .split_once("D-7 2026-10-05 hazardous: D008 test")
        .unwrap()
        .1;
    for part in [
        "lead 6.8 mg/L (limit 5, D008)",
        "cadmium <0.2 mg/L (limit 1, D006)",
        "pH 8.1",
        "P12, 2026-10-05 none yet no end yet",
    ] {
        assert!(own.contains(part), "{part}: {own}");
    }
    Paper::on_vessel(&shop, As::HarbourManager, ("D-7", "ship"))
        .with_all(&[
            ("volume", "7"),
            ("temperature", "20"),
            ("carrier", "Tarn Valley Reclaim (invented)"),
            ("document", "DEMO-NOW"),
        ])
        .happened()
        .saved(&shop, As::HarbourManager);
    let kept = page(&shop, As::HarbourManager, path);
    // It still says what the waste of today is: its papers have no end yet.
    assert!(
        kept.contains("P12, 2026-10-05 2026-10-05 no end yet"),
        "{kept}"
    );
    let file = shop
        .get(As::HarbourManager, "/waste/determinations.csv")
        .body;
    assert!(file.contains("R5 determination file"), "{file}");
    assert!(file.contains("no end yet"), "{file}");
}

/// Story 15: a reading typed −34 for −37, found after its month was closed. The job is voided with a
/// reason, the statement stays, and the change shows as an adjustment in the open month.
#[test]
fn the_misread_digit_in_a_closed_month_is_an_adjustment_in_the_open_one() {
    let shop = Shop::open();
    let july = page(&shop, As::Manager, "/waste/close?month=2026-07");
    assert!(july.contains("Closed. Signed by P12"), "{july}");
    let changed = july.split_once("What changed since").unwrap().1;
    let changed = changed.split_once("Totals").unwrap().0;
    let (_, list) = changed.split_once("never in the statement:").unwrap();
    assert!(list.contains("Recovered from units:"), "{list}");
    let open = page(&shop, As::Manager, "/waste");
    let (_, adjusted) = open.split_once("Adjustments to closed months").unwrap();
    assert!(
        adjusted.contains(&format!("2026-07 {}", list.trim())),
        "{adjusted}: {list}"
    );
    let fact = shop.read(async |read| {
        let filter = storage::TrailFilter {
            kind: Some("void".to_owned()),
            ..storage::TrailFilter::default()
        };
        let rows = read.list_trail(&filter, None, 10).await.unwrap();
        rows.last().unwrap().fact().unwrap()
    });
    let domain::fact::What::Void(of) = fact.what else {
        panic!("no void")
    };
    let voided = page(&shop, As::Manager, &format!("/jobs/{}", of.job));
    assert!(voided.contains("2026-07"), "{voided}");
    assert!(voided.contains("Voided by"), "{voided}");
    assert!(
        voided.contains("freeze point \u{2212}34.0 °C"),
        "what was typed stays: {voided}"
    );
    let reason = "Reason: 4 typed for 7: the sheet on the clipboard says -37";
    assert!(voided.contains(reason), "{voided}");
    // The month lists it as taken back, beside the one that was logged anew for its day.
    let month = shop.get(As::Manager, "/waste?month=2026-07").body;
    let list = month.split("Taken back in 2026-07").nth(1).unwrap();
    let list = list.split("</section>").next().unwrap();
    assert!(list.contains(&format!("/jobs/{}", of.job)), "{list}");
    let anew = shop.read(async |read| {
        let job = read.find_job(of.job).await.unwrap().unwrap();
        let day = job.local_date.clone();
        let jobs = read.list_jobs_of_unit(job.unit.unwrap(), None, 200).await;
        let mut jobs = jobs.unwrap().into_iter();
        jobs.find(|it| it.local_date == day && it.standing == "posted")
            .unwrap()
            .order
            .key
    });
    let anew = page(&shop, As::Manager, &format!("/jobs/{anew}"));
    assert!(anew.contains("freeze point \u{2212}37.0 °C"), "{anew}");
}
