//! `import` and `show`: a week as a shop writes it down, and the book it comes to.

use std::{collections::BTreeMap, process::Stdio};

use crate::{
    server::{program, run},
    week_shop::{JOBS, Shop, UNITS, VESSELS, complaint, job_rows, jobs_of},
};

const EXPECTED_CONTENTS: &str = include_str!("data/week/expected_contents.csv");
const EXPECTED_TOTALS: &str = include_str!("data/week/expected_totals.csv");

/// How far each column may lie off: mL, points, °C, L, kg.
const TOLERANCES: [f64; 5] = [25.0, 0.05, 0.05, 0.03, 0.05];

fn by_place_and_component(csv: &str) -> BTreeMap<(&str, &str), Vec<&str>> {
    csv.lines()
        .skip(1)
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let [place, component, figures @ ..] = cells.as_slice() else {
                unreachable!("a line of less than two cells: {line}");
            };
            assert_eq!(figures.len(), 5, "{line}");
            ((*place, *component), figures.to_vec())
        })
        .collect()
}

#[test]
fn every_figure_of_the_week_is_what_another_program_worked_out() {
    let shop = Shop::of_the_week();
    let shown = shop.show(&["contents", "--csv"]);
    assert_eq!(shown.lines().next(), EXPECTED_CONTENTS.lines().next());
    let (found, expected) = (
        by_place_and_component(&shown),
        by_place_and_component(EXPECTED_CONTENTS),
    );
    assert_eq!(
        found.keys().collect::<Vec<_>>(),
        expected.keys().collect::<Vec<_>>()
    );
    let order = |csv: &str| -> Vec<String> {
        let places = csv.lines().map(|line| line.split(',').next().unwrap());
        places.map(str::to_owned).collect()
    };
    assert_eq!(order(&shown), order(EXPECTED_CONTENTS));
    let mut worst = [0.0_f64; 5];
    for (place, expected) in &expected {
        for ((at, expected), found) in expected.iter().enumerate().zip(&found[place]) {
            assert_eq!(
                expected.is_empty(),
                found.is_empty(),
                "{place:?} column {at}"
            );
            if expected.is_empty() {
                continue;
            }
            let (expected, found): (f64, f64) = (expected.parse().unwrap(), found.parse().unwrap());
            let off = (found - expected).abs();
            assert!(
                off <= TOLERANCES[at] + 1e-9,
                "{place:?} column {at}: {found} for {expected}"
            );
            worst[at] = worst[at].max(off);
        }
    }
    assert_eq!(shop.show(&["totals", "--csv"]), EXPECTED_TOTALS);
    // Seen with cargo test -- --nocapture, for a note on how well the two agree.
    std::io::Write::write_all(
        &mut std::io::stdout(),
        format!("worst differences (mL, points, °C, L, kg): {worst:?}\n").as_bytes(),
    )
    .unwrap();
    shop.verify();
}

#[test]
fn the_same_week_shuffled_and_taken_in_twice_is_the_same_book() {
    let shop = Shop::of_the_week();
    let book = shop.book();
    let said = shop.takes_in(UNITS, VESSELS, JOBS);
    assert!(
        said.contains("written: 0 jobs, 0 cards and openings"),
        "{said}"
    );
    assert_eq!(shop.book(), book);
    shop.verify();

    let mut rows = job_rows();
    rows.reverse();
    for turn in [0, 4, 7] {
        rows.rotate_left(turn);
        rows.swap(1, 9);
        let shuffled = Shop::empty();
        let reversed: Vec<&str> = UNITS
            .lines()
            .skip(1)
            .collect::<Vec<_>>()
            .into_iter()
            .rev()
            .collect();
        let units = format!(
            "{}\n{}\n",
            UNITS.lines().next().unwrap(),
            reversed.join("\n")
        );
        shuffled.takes_in(&units, VESSELS, &jobs_of(rows.iter().copied()));
        assert_eq!(shuffled.book(), book);
        let said = shuffled.takes_in(UNITS, VESSELS, JOBS);
        assert!(
            said.contains("written: 0 jobs, 0 cards and openings"),
            "{said}"
        );
        shuffled.verify();
    }
}

#[test]
fn a_job_that_arrives_late_leads_to_the_same_book_whichever_it_is() {
    let book = Shop::of_the_week().book();
    let rows = job_rows();
    for late in 0..rows.len() {
        let others = rows.iter().enumerate().filter(|(at, _)| *at != late);
        let shop = Shop::with_jobs(&jobs_of(others.map(|(_, row)| *row)));
        assert_ne!(shop.book(), book, "{}", rows[late]);
        let said = shop.takes_in(UNITS, VESSELS, JOBS);
        assert!(said.contains("written: 1 jobs"), "{said}");
        assert_eq!(shop.book(), book, "{}", rows[late]);
        shop.verify();
    }
}

#[test]
fn the_first_days_may_be_taken_in_after_the_later_ones() {
    let book = Shop::of_the_week().book();
    let later = job_rows()
        .into_iter()
        .filter(|row| !row.starts_with("2026-10-05"));
    let shop = Shop::with_jobs(&jobs_of(later));
    let before = shop.facts();
    shop.takes_in(UNITS, VESSELS, JOBS);
    assert_eq!(shop.book(), book);
    // Each of the ten openings is taken back and stated again, and four jobs and a person come in.
    assert_eq!(shop.facts(), before + 20 + 4 + 1);
    let said = shop.takes_in(UNITS, VESSELS, JOBS);
    assert!(
        said.contains("written: 0 jobs, 0 cards and openings"),
        "{said}"
    );
    assert!(
        shop.show(&["unit", "3304"])
            .contains("(voided: an earlier week was imported")
    );
    shop.verify();
}

#[test]
fn two_rows_that_say_the_same_are_two_jobs_and_are_asked_about() {
    let twice =
        "2026-10-05 10:40,top_up,3304,Drum D-2,,\"0,9 L\",,,no,,P1,completion after the fill";
    let rows = job_rows();
    assert!(rows.contains(&twice));
    let shop = Shop::with_jobs(&jobs_of(rows.iter().copied().chain([twice])));
    assert!(
        shop.show(&["totals", "--csv"])
            .contains("topped_up_ml,5393")
    );
    assert!(
        shop.show(&["questions", "--csv"])
            .contains(",logged_twice,")
    );
    shop.verify();
}

/// A row that cannot be read, the column at fault, and a part of what is said.
const UNREADABLE: [(&str, &str, &str); 38] = [
    (
        "2006-10-05,receive,,,Drum D-2,5 L,,water,,,P3,",
        "when",
        "2006-10-05 stands more than a year before the next job, 2026-10-05: see the year",
    ),
    (
        "2062-10-05,receive,,,Drum D-2,5 L,,water,,,P3,",
        "when",
        "2062-10-05 stands more than a year after the last other job, 2026-10-09: see the year",
    ),
    (
        "1026-10-05,receive,,,Drum D-2,5 L,,water,,,P3,",
        "when",
        "only 1990 to 2200",
    ),
    (
        "2026-10-05,condition_test,3304,,,,20 °C,,,,P3,",
        "temperature",
        "has no use for it",
    ),
    (
        "2026-10-05,condition_test,3304,,,,,water,,,P3,",
        "fluid",
        "has no use for it",
    ),
    (
        "2026-10-05,condition_test,3304,Cart A,,,,,,,P3,",
        "from",
        "named already",
    ),
    (
        "2026-10-05,recover,3304,,Cart A,5 L,,water,,,P3,",
        "fluid",
        "the book knows",
    ),
    (
        "2026-10-05,recover,3304,,Cart\u{200b}A,5 L,,,,,P3,",
        "to",
        "U+200B",
    ),
    (
        "yesterday,receive,,,Drum D-2,190 L,,water,,,P3,",
        "when",
        "2026-10-05 07:40",
    ),
    (
        "2026-03-08 02:30,receive,,,Drum D-2,190 L,,water,,,P3,",
        "when",
        "2026-03-08 03:00",
    ),
    (",receive,,,Drum D-2,190 L,,water,,,P3,", "when", "say when"),
    (
        "2026-10-05,drain,,,Drum D-2,190 L,,water,,,P3,",
        "kind",
        "recover, fill",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,190,,water,,,P3,",
        "volume",
        "say the unit",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,many L,,water,,,P3,",
        "volume",
        "number",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,0 L,,water,,,P3,",
        "volume",
        "above 0",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,-5 L,,water,,,P3,",
        "volume",
        "0.0 L",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,1000000000000000000 L,,water,,,P3,",
        "volume",
        "19 digits",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,NaN,,water,,,P3,",
        "volume",
        "number",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,,,water,,,P3,",
        "volume",
        "needs a volume",
    ),
    (
        "2026-10-05,receive,,,,5 L,,water,,,P3,",
        "to",
        "needs the vessel",
    ),
    (
        "2026-10-05,receive,,,3304,5 L,,water,,,P3,",
        "to",
        "column unit",
    ),
    (
        "2026-10-05,receive,,Cart A,Drum D-2,5 L,,water,,,P3,",
        "from",
        "supplier",
    ),
    (
        "2026-10-05,recover,,,Cart A,5 L,,,,,P3,",
        "unit",
        "needs the unit",
    ),
    (
        "2026-10-05,recover,3304,Cart B,Cart A,5 L,,,,,P3,",
        "from",
        "leave it empty",
    ),
    (
        "2026-10-05,fill,3304,,,5 L,,,,,P3,",
        "from",
        "needs the vessel",
    ),
    (
        "2026-10-05,move,,Cart A,cart a,5 L,,,,,P3,",
        "to",
        "same vessel",
    ),
    ("2026-10-05,ship,,,,5 L,,,,,P3,", "from", "needs the vessel"),
    (
        "2026-10-05,spill,3304,Cart A,,5 L,,,,,P3,",
        "from",
        "one of them",
    ),
    (
        "2026-10-05,condition_test,3304,,,5 L,,,,,P3,",
        "volume",
        "moves no fluid",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,5 L,warm,water,,,P3,",
        "temperature",
        "number",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,5 L,9000 °C,water,,,P3,",
        "temperature",
        "400.0",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,5 L,,antifreeze,,,P3,",
        "fluid",
        "strength",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,5 L,,EG 120 % OAT,,,P3,",
        "fluid",
        "100.0 %",
    ),
    (
        "2026-10-05,top_up,3304,,,5 L,,water,perhaps,,P3,",
        "at_mark",
        "yes, no",
    ),
    (
        "2026-10-05,top_up,3304,,,5 L,,water,yes,far,P3,",
        "meter",
        "number",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,5 L,,water,,,P\u{0}3,",
        "who",
        "U+0000",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,5 L,,water,,,P3,a\u{0}b",
        "note",
        "U+0000",
    ),
    (
        "2026-10-05,receive,,,Drum D-2,5 L,,water,,,P3,a\u{fffd}b",
        "note",
        "U+FFFD",
    ),
];

#[test]
fn what_cannot_be_read_is_named_by_file_line_and_column_and_nothing_is_written() {
    let shop = Shop::empty();
    for (row, column, part) in UNREADABLE {
        let rows = job_rows().into_iter().chain([row]);
        let output = shop.import(UNITS, VESSELS, jobs_of(rows).as_bytes());
        let said = complaint(&output);
        assert_eq!(output.status.code(), Some(2), "{row}: {said}");
        let place = format!("jobs.csv line 17, column {column}: ");
        assert!(
            said.contains(&place) && said.contains(part),
            "{row}: {said}"
        );
        assert_eq!(said.lines().count(), 2, "{row}: {said}");
        assert!(output.stdout.is_empty());
    }
    assert_eq!(shop.facts(), 0);
    assert!(shop.show(&["record"]).starts_with("No facts yet"));
    shop.verify();
}

#[test]
fn everything_wrong_with_all_three_files_is_told_at_once() {
    let shop = Shop::empty();
    let units = UNITS
        .replace("54 L", "54")
        .replace("plow,Upper Yard,engine,EG", "plow,,engine,XG");
    let vessels = VESSELS
        .replace("Cart B,cart", "cart a,barrow")
        .replace("31 %", "131 %");
    let rows = job_rows();
    let mut jobs = jobs_of(rows.iter().copied().chain(["a,b,c"])).into_bytes();
    jobs.extend_from_slice(b"2026-10-05,receive,,,Drum D-2,5 L,38 \xb0C,water,,,P3,\n");
    let output = shop.import(&units, &vessels, &jobs);
    let said = complaint(&output);
    assert_eq!(output.status.code(), Some(2));
    for part in [
        "units.csv line 3, column shop: ",
        "units.csv line 3, column base: ",
        "units.csv line 3, column capacity: ",
        "vessels.csv line 3, column kind: ",
        "vessels.csv line 6, column opening_strength: ",
        "jobs.csv line 17: the line has 3 fields",
        "jobs.csv line 18, column temperature: ",
    ] {
        assert!(said.contains(part), "{part} is missing in: {said}");
    }
    for (file, columns) in [
        (
            jobs_of([]).replace(",who,", ",whom,"),
            ["whom", "who is missing"],
        ),
        (String::new(), ["is empty", "when, kind"]),
        (
            jobs_of([]).replace("unit,", "unit,unit,"),
            ["unit stands here twice", "jobs.csv line 1"],
        ),
    ] {
        let said = complaint(&shop.import(UNITS, VESSELS, file.as_bytes()));
        assert!(columns.iter().all(|part| said.contains(part)), "{said}");
    }
    assert_eq!(
        run(&[
            "import",
            "--data",
            "/dev/null/x",
            "--units",
            "no",
            "--vessels",
            "no",
            "--jobs",
            "no"
        ])
        .status
        .code(),
        Some(2)
    );
    let output = shop.import_words(UNITS, VESSELS, JOBS.as_bytes());
    let words: Vec<&str> = output
        .iter()
        .map(|word| {
            if word == "America/Denver" {
                "Utopia"
            } else {
                word
            }
        })
        .collect();
    let output = run(&words);
    assert!(complaint(&output).contains("time zone") && output.status.code() == Some(2));
}

#[test]
fn an_import_that_is_cut_off_is_finished_by_running_it_again() {
    let jobs: Vec<String> = (0..1_300)
        .flat_map(|n| {
            let (day, hour, minute) = (5 + n / 600, n / 60 % 10, n % 60);
            let at = |hour: i32| format!("2026-10-{day:02} {hour:02}:{minute:02}");
            [
                format!(
                    "{},receive,,,Drum D-2,{}.5 L,,premix EG 50 % OAT,,,P3,",
                    at(hour),
                    n % 90 + 1
                ),
                format!(
                    "{},ship,,Drum D-2,,{}.5 L,,,,,P5,",
                    at(hour + 10),
                    n % 90 + 1
                ),
            ]
        })
        .collect();
    let jobs = jobs_of(jobs.iter().map(String::as_str));
    let whole = Shop::with_jobs(&jobs);
    let shop = Shop::empty();
    let words = shop.import_words(UNITS, VESSELS, jobs.as_bytes());
    // A limit on the size of files ends the program in the middle of a write, wherever that is.
    let mut cut_off = 0;
    for blocks in [3_000, 8_000, 12_000, 16_000] {
        let program = program().get_program().to_owned();
        let status = std::process::Command::new("sh")
            .args([
                "-c",
                "ulimit -f \"$1\"; shift; exec \"$@\"",
                "sh",
                &blocks.to_string(),
            ])
            .arg(program)
            .args(&words)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .unwrap();
        let jobs_there = shop.show(&["record", "--csv"]).matches(",job,").count();
        if !status.success() && jobs_there > 0 && jobs_there < 2_600 {
            cut_off += 1;
        }
    }
    assert!(
        cut_off > 0,
        "no limit cut the import off between its transactions"
    );
    shop.takes_in(UNITS, VESSELS, &jobs);
    assert_eq!(shop.book(), whole.book());
    assert_eq!(shop.facts(), whole.facts());
    shop.verify();
}

#[test]
fn a_unit_of_several_loops_is_told_apart_and_a_card_that_changed_counts_from_the_files_first_day() {
    let units = "loop,unit,kind,shop,base,class,capacity,cap_rating,opening_strength\n\
        battery,8801,electric bus,Harbour Yard,EG,EV low-conductivity,30 L,,50 %\n\
        Engine,8801,electric bus,harbour yard,EG,NOAT,70 L,15 psi,\n";
    let rows = [
        "2026-10-05 08:00,recover,8801,,Cart B,5 L,,,,,P1,",
        "2026-10-05 09:00,condition_test,8801,,,,,,,,P1,looked at it",
    ];
    let shop = Shop::empty();
    shop.takes_in(units, VESSELS, &jobs_of(rows));
    let shown = shop.show(&["contents", "--csv"]);
    assert!(
        shown.contains("8801 battery,EG EV low-conductivity,"),
        "{shown}"
    );
    assert!(shown.contains("8801 Engine,EG NOAT,"), "{shown}");
    // Nobody said how strong the engine's coolant is, so it has no freeze point.
    assert!(
        shown
            .lines()
            .any(|line| line.starts_with("8801 Engine,water,") && line.contains(",50.00,,65.0")),
        "{shown}"
    );
    let unit = shop.show(&["unit", "8801"]);
    assert!(
        unit.contains("No test yet") && unit.contains("note: looked at it"),
        "{unit}"
    );

    let facts = shop.facts();
    let larger = units.replace("70 L", "72 L");
    let said = shop.takes_in(
        &larger,
        VESSELS,
        &jobs_of(["2026-10-13 08:00,recover,8801,,Cart B,5 L,,,,,P1,"]),
    );
    assert!(
        said.contains("written: 1 jobs, 1 cards and openings"),
        "{said}"
    );
    let said = shop.takes_in(units, VESSELS, &jobs_of(rows));
    assert!(
        said.contains("written: 0 jobs, 0 cards and openings"),
        "{said}"
    );
    assert_eq!(shop.facts(), facts + 2);

    // A further column: the air above the coolant, where somebody knows it.
    let with_air = units
        .replace("opening_strength\n", "opening_strength,air_space\n")
        .replace("50 %\n", "50 %,1.2 L\n")
        .replace("15 psi,\n", "15 psi,,\n");
    let said = shop.takes_in(
        &with_air,
        VESSELS,
        &jobs_of(["2026-10-14 08:00,recover,8801,,Cart B,5 L,,,,,P1,"]),
    );
    assert!(
        said.contains("written: 1 jobs, 1 cards and openings"),
        "{said}"
    );
    let data = shop.data();
    let record = run(&["export-record", "--data", data.to_str().unwrap()]);
    let record = String::from_utf8(record.stdout).unwrap();
    assert_eq!(
        record
            .matches(r#"\"air_space\":{\"ml\":1200,\"typed\":\"1.2 L\"}"#)
            .count(),
        1,
        "{record}"
    );

    let jobs = jobs_of([]).replace(",note", ",note,loop");
    let jobs = format!("{jobs}2026-10-06 08:00,recover,8801,,Cart B,5 L,,,,,P1,,battery\n");
    shop.takes_in(units, VESSELS, &jobs);
    assert!(
        shop.show(&["vessel", "CART  b"])
            .contains("from 8801 battery to Cart B")
    );
    shop.verify();
}

#[test]
fn everything_is_shown_for_people_and_for_programs() {
    let shop = Shop::of_the_week();
    let unit = shop.show(&["unit", "2107"]);
    for part in [
        "Unit 2107, transit bus",
        "No test yet",
        "2026-10-06 09:10  top up",
        "2 qt from supplier (water) to 2107",
        "note: no premix at the island",
        "15 gal at 41 °C from 2107 to Cart B",
        ", P2",
        "\u{2212}35.9 °C ± ",
    ] {
        assert!(unit.contains(part), "{part} is missing in: {unit}");
    }
    assert!(
        unit.lines().all(|line| line.chars().count() <= 100),
        "{unit}"
    );
    let us = shop.show(&["unit", "2107", "--units-of-measure", "us"]);
    assert!(
        us.contains("18.8 US gal") && us.contains("\u{2212}33 °F ± "),
        "{us}"
    );
    let vessel = shop.show(&["vessel", "Waste D-7", "--csv"]);
    assert!(
        vessel
            .lines()
            .nth(1)
            .unwrap()
            .starts_with("2026-10-09 14:00,"),
        "{vessel}"
    );
    assert!(vessel.contains(",no_start_date"), "{vessel}");
    let questions = shop.show(&["questions"]);
    assert!(
        questions.contains("Job ") && questions.contains("has no start date on record"),
        "{questions}"
    );
    shop.verify();
}

#[test]
fn totals_are_shown_for_a_month_and_for_a_shop_and_a_name_nobody_knows_is_refused() {
    let shop = Shop::of_the_week();
    let totals = shop.show(&["totals"]);
    for part in [
        "Recovered from units",
        "123.3 L",
        "130.8 kg",
        "Spilled",
        "Used up",
    ] {
        assert!(totals.contains(part), "{part} is missing in: {totals}");
    }
    assert_eq!(
        shop.show(&["totals", "--csv", "--month", "2026-10"]),
        EXPECTED_TOTALS
    );
    let of_shop = |shop_name: &str| shop.show(&["totals", "--csv", "--shop", shop_name]);
    assert!(of_shop("upper yard").contains("recovered_ml,46500"));
    assert!(of_shop("Harbour Yard").contains("recovered_ml,76781"));
    assert!(
        shop.show(&["totals", "--month", "2026-11"])
            .contains("Nothing moved")
    );
    let record = shop.show(&["record"]);
    assert!(
        record.contains("recover 3304") && record.contains("P1"),
        "{record}"
    );
    for words in [["unit", "0815"], ["vessel", "Cart Z"]] {
        let output = shop.try_show(&words);
        assert_eq!(output.status.code(), Some(2));
        assert!(complaint(&output).contains(words[1]));
    }
    assert_eq!(Shop::empty().try_show(&["contents"]).status.code(), Some(2));
    shop.verify();
}

#[test]
fn a_name_that_begins_like_a_formula_is_harmless_in_a_spreadsheet() {
    let shop = Shop::empty();
    let vessels = VESSELS.replace("Cart A", "=cmd()");
    shop.takes_in(
        UNITS,
        &vessels,
        &jobs_of(["2026-10-05,receive,,,=CMD(),5 L,,water,,,@P3,-1+1"]),
    );
    assert!(
        shop.show(&["contents", "--csv"])
            .contains("\n'=cmd(),water,5000,")
    );
    let history = shop.show(&["vessel", "=cmd()", "--csv"]);
    assert!(history.contains(",'@P3,'-1+1,"), "{history}");
    shop.verify();
}

const TWO_CARTS: &str = "vessel,kind,shop,capacity,fill_limit,holds,base,class,opening_volume,opening_strength\n\
    Cart A,cart,Upper Yard,150 L,135 L,recovered,EG,OAT,10 L,50 %\n\
    cart a,cart,Harbour Yard,150 L,135 L,recovered,EG,NOAT,20 L,40 %\n\
    Cart B,cart,Harbour Yard,150 L,135 L,recovered,EG,NOAT,,\n";

#[test]
fn two_shops_may_have_a_vessel_of_one_name_and_each_means_its_own() {
    let shop = Shop::empty();
    let rows = [
        "2026-10-05 08:00,recover,3304,,Cart A,5 L,,,,,P1,",
        "2026-10-05 08:00,recover,2107,,Cart A,6 L,,,,,P1,",
        // Upper Yard has no Cart B, so it can only be the one at the harbour.
        "2026-10-05 09:00,recover,3304,,Cart B,7 L,,,,,P1,",
    ];
    shop.takes_in(UNITS, TWO_CARTS, &jobs_of(rows));
    let contents = shop.show(&["contents"]);
    for part in [
        "Cart A (Upper Yard)",
        "cart a",
        "Cart B",
        "15.0 L",
        "26.0 L",
    ] {
        assert!(contents.contains(part), "{part} is missing in: {contents}");
    }
    // Two shops, two people.
    assert_eq!(
        shop.show(&["record", "--csv"]).matches(",person,").count(),
        2
    );
    let which = shop.try_show(&["vessel", "CART A"]);
    assert!(
        complaint(&which).contains("--shop: Harbour Yard, Upper Yard"),
        "{}",
        complaint(&which)
    );
    let upper = shop.show(&["vessel", "CART A", "--shop", "upper yard"]);
    assert!(upper.contains("5 L from 3304"), "{upper}");

    let jobs = jobs_of([]).replace(",note", ",note,shop");
    let third = "2026-10-06,receive,,,Cart A,5 L,,water,,,P3,,";
    let output = shop.import(UNITS, TWO_CARTS, format!("{jobs}{third}\n").as_bytes());
    let said = complaint(&output);
    assert!(
        said.contains("line 2, column to: ")
            && said.contains("(Harbour Yard, Upper Yard); say in shop"),
        "{said}"
    );
    let said = shop.takes_in(UNITS, TWO_CARTS, &format!("{jobs}{third}harbour yard\n"));
    assert!(
        said.contains("written: 1 jobs") && !said.contains("left out"),
        "{said}"
    );
    shop.verify();
}

#[test]
fn a_vessel_twice_in_one_shop_is_refused_and_an_opening_that_is_left_out_is_told() {
    let shop = Shop::empty();
    let twice = format!("{VESSELS}CART  b,cart,harbour yard,150 L,135 L,recovered,EG,NOAT,,\n");
    let said = complaint(&shop.import(UNITS, &twice, JOBS.as_bytes()));
    assert!(
        said.contains("vessels.csv line 7, column vessel: ") && said.contains("in the same shop"),
        "{said}"
    );
    shop.takes_in(UNITS, VESSELS, JOBS);
    let (units, vessels) = (
        UNITS.replace("16 psi,48 %", "16 psi,40 %"),
        VESSELS.replace("30 L,50 %", "31 L,50 %"),
    );
    let said = shop.takes_in(&units, &vessels, JOBS);
    assert_eq!(said.matches("left out: ").count(), 2, "{said}");
    for part in [
        "left out: units.csv line 3: ",
        "left out: vessels.csv line 3: ",
    ] {
        assert!(said.contains(part), "{part} is missing in: {said}");
    }
    shop.verify();
}

#[test]
fn a_large_fleet_is_read_fast() {
    let rows = (0..6_000).map(|n| format!("{n},bus,Upper Yard,engine,EG,OAT,54 L,,\n"));
    let head = format!("{}\n", UNITS.lines().next().unwrap());
    let units = [head].into_iter().chain(rows).collect::<Vec<_>>().concat();
    let shop = Shop::empty();
    let begun = std::time::Instant::now();
    // The last row is wrong, so that everything is read and nothing written.
    let wrong = jobs_of(["2026-10-05,receive,,,Drum D-2,5,,water,,,P3,"]);
    let output = shop.import(&units, VESSELS, wrong.as_bytes());
    assert_eq!(output.status.code(), Some(2), "{}", complaint(&output));
    assert!(begun.elapsed().as_secs() < 3, "{:?}", begun.elapsed());
    shop.verify();
}

#[test]
fn a_file_may_hold_readings() {
    let shop = Shop::of_the_week();
    let head = jobs_of([]).replace(",note", ",note,reading,tool,scale");
    let row = "2026-10-09 15:00,condition_test,3304,,,,,,,,P1,";
    let jobs = format!("{head}{row},\u{2212}30 °F,hydrometer,EG\n");
    let said = shop.takes_in(UNITS, VESSELS, &jobs);
    assert!(said.contains("written: 1 jobs"), "{said}");
    let unit = shop.show(&["unit", "3304"]);
    assert!(
        unit.contains("read: freezes at \u{2212}30 °F (hydrometer, EG scale)"),
        "{unit}"
    );
    let said = complaint(&shop.import(
        UNITS,
        VESSELS,
        format!("{head}{row},,hydrometer,\n").as_bytes(),
    ));
    assert!(said.contains("line 2, column tool: "), "{said}");
    shop.verify();
}
