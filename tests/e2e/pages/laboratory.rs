//! A laboratory's file: shown first, taken in once, a bad row told by its column.

use domain::fleet::Tool;
use domain::ids::FactKey;
use domain::job::{Details, JobKind, Line, Measured};
use uuid::Uuid;

use super::browser::{hidden, unescaped};
use super::form::Form;
use super::job::paper::{Paper, Saved, contents, problems, text, unit_path};
use super::shop::{As, Shop};
use crate::client::Answer;

/// Sends the file, or the text that was shown, as the page does.
fn send(shop: &Shop, who: As, (field, file): (&str, &[u8])) -> Answer {
    let mut body = format!(
        "--edge\r\nContent-Disposition: form-data; name=\"{field}\"; filename=\"results.csv\"\r\n\
         Content-Type: text/csv\r\n\r\n"
    )
    .into_bytes();
    body.extend(file);
    body.extend(b"\r\n--edge--\r\n");
    let headers = [
        ("Content-Type", "multipart/form-data; boundary=edge"),
        ("Sec-Fetch-Site", "same-origin"),
    ];
    shop.with_browser(who, |browser| {
        let request = browser.request(("POST", "/laboratory/file"), &headers, &body);
        browser.send_as_it_is(&request)
    })
}

fn states(page: &Answer) -> Vec<String> {
    let cells = page.body.split("data-label=\"State\">").skip(1);
    let cell = |cell: &str| text(cell.split("</td>").next().unwrap()).trim().to_owned();
    cells.map(cell).collect()
}

/// A sample of a unit, taken so many days before the demonstration's today.
fn sampled(shop: &Shop, unit: &str, bottle: &str) -> FactKey {
    let paper = Paper::on_unit(shop, As::Technician, (unit, "sample")).with_all(&[
        ("bottle", bottle),
        ("tests", "all"),
        ("when", "earlier"),
        ("day", "2026-09-20"),
        ("time", "06:00"),
    ]);
    paper.saved(shop, As::Technician);
    FactKey(Uuid::parse_str(paper.get("key")).unwrap())
}

const FILE: &str = "sample,report,reported_on,unit,freeze_point_c,glycol_percent,ph,sulphate_ppm,iron_ppm\r\n\
    b-17,L-1,2026-09-28,3305,-44.5,55,6.7,520,<5\r\n\
    B-18,L-2,2026-09-28,3306,-36,,8.4,60,high\r\n\
    B-19,L-3,2026-09-28,3306,-36,,8.4,60,4\r\n\
    NONE,L-4,2026-09-28,,-36,,8.4,60,4\r\n";

#[test]
fn a_file_is_shown_first_and_taken_in_once() {
    let shop = Shop::open();
    let sample = sampled(&shop, "3305", "B-17");
    sampled(&shop, "3306", "B-18");
    sampled(&shop, "3301", "B-19");
    let (facts, before) = (shop.facts(), contents(&shop, "3305"));

    let page = send(&shop, As::Manager, ("file", FILE.as_bytes()));
    assert_eq!(page.status, 200, "{}", problems(&page.body).join("\n"));
    let not = "Not taken in";
    assert_eq!(states(&page), ["Can be taken in", not, not, not]);
    let said = text(&page.body);
    for said_of in [
        "1 of 4 rows can be taken in. Nothing is saved yet.",
        "unit 3305, taken 2026-09-20",
        "sulphate 520 ppm",
        "iron_ppm: \"high\" is not a number",
        "the bottle is of unit 3301",
        "no bottle of Upper Yard (invented) has this number",
        "glycol 55 % pH 6.7",
    ] {
        assert!(said.contains(said_of), "{said_of} in {said}");
    }
    assert_eq!(shop.facts(), facts, "nothing is saved by looking");

    let shown = unescaped(&hidden(&page.body, "text").unwrap());
    let page = send(&shop, As::Manager, ("text", shown.as_bytes()));
    assert_eq!(states(&page), ["Taken in", not, not, not]);
    assert_eq!(shop.facts(), facts + 1);

    // It goes on from its sample, counts from the moment that was taken, and each figure is there once.
    let row = shop.read(async |read| {
        let unit = read.find_unit_by_number("3305").await.unwrap().unwrap();
        let found = read.find_samples(unit.shop, &["b-17"]).await.unwrap();
        found[0].result.unwrap()
    });
    let saved = Saved::find(&shop, &row.to_string());
    assert_eq!(saved.job.kind, JobKind::ConditionTest);
    assert_eq!(saved.job.follows, Some(sample));
    assert!(
        matches!(&saved.job.details, Some(Details::Laboratory { report: Some(number), .. }) if number == "L-1")
    );
    let moving = saved.job.lines.iter().filter(|line| match line {
        Line::Reading(reading) => {
            assert_eq!(reading.tool, Tool::Laboratory);
            !matches!(reading.measured, Measured::Other { .. })
        }
        _ => panic!("{line:?}"),
    });
    assert_eq!((moving.count(), saved.job.lines.len()), (1, 5));
    let after = contents(&shop, "3305");
    assert_ne!(after.fraction_millionths, before.fraction_millionths);

    // The hint stands on the result's page and on the unit's, with its evidence and how sure the rule is.
    let job = text(&shop.get(As::Reader, &format!("/jobs/{row}")).body);
    let unit = shop.read(async |read| read.find_unit_by_number("3305").await.unwrap().unwrap().id);
    let unit = text(&shop.get(As::Technician, &format!("/units/{unit}")).body);
    for page in [&job, &unit] {
        for said in [
            "Combustion gas may be getting",
            "pH 6.7, below 7",
            "A hint, not a finding",
        ] {
            assert!(page.contains(said), "{said} in {page}");
        }
    }

    // The same file again, in either of the two ways, adds nothing.
    let again = send(&shop, As::Manager, ("file", FILE.as_bytes()));
    assert_eq!(states(&again)[0], "On record already");
    assert_eq!(hidden(&again.body, "text"), None);
    let again = send(&shop, As::Manager, ("text", shown.as_bytes()));
    assert_eq!(states(&again)[0], "On record already");
    // Another sheet of the same bottle does not stand beside the first unseen.
    let other = FILE.replace("L-1", "L-9");
    let other = send(&shop, As::Manager, ("file", other.as_bytes()));
    assert!(text(&other.body).contains("it has a result already"));
    assert_eq!(shop.facts(), facts + 1);
    shop.book_is_closed();
}

/// What is no file of results is told in words with its place; nothing is saved.
#[test]
fn a_file_that_is_none_is_answered_clearly() {
    let shop = Shop::open();
    let facts = shop.facts();
    let columns: Vec<String> = (0..100).map(|n| format!("c{n}")).collect();
    for (file, said) in [
        (&b"sample,ph\nB-\xff\xfe,8\n"[..], "Line 2 is not UTF-8"),
        (columns.join(",").as_bytes(), "100 columns"),
        (
            b"sample,colour\nB-1,red\n",
            "none of the names listed below",
        ),
        (b"", "Nothing is chosen"),
        (b"PK\x03\x04 no text", "no column sample"),
    ] {
        let page = send(&shop, As::Manager, ("file", file));
        assert_eq!(page.status, 422, "{said}");
        let told = text(&page.body);
        assert!(told.contains(said), "{said} in {told}");
    }
    let formula = send(
        &shop,
        As::Manager,
        ("file", b"sample,ph\n\"=cmd|'x'!A1\",8\n"),
    );
    assert!(text(&formula.body).contains("begins like a formula"));
    let script = send(
        &shop,
        As::Manager,
        ("file", b"sample,ph\n<script>x</script>,8\n"),
    );
    assert!(!script.body.contains("<script>x"));
    let large = vec![b'x'; 3 * 1024 * 1024];
    assert_eq!(send(&shop, As::Manager, ("file", &large)).status, 413);
    assert_eq!(
        send(&shop, As::Technician, ("file", FILE.as_bytes())).status,
        403
    );
    assert_eq!(shop.facts(), facts);
}

/// A result that was logged by hand does not leave the row of a file to another bottle of the same number.
#[test]
fn a_row_goes_to_no_bottle_that_could_be_another() {
    let shop = Shop::open();
    let done = sampled(&shop, "3305", "B-30");
    sampled(&shop, "3306", "B-30");
    let path = format!(
        "{}?follows={done}&instrument=other&tool=laboratory",
        unit_path(&shop, "3305", "condition_test")
    );
    let result =
        Paper::open(&shop, As::Technician, &path).with_all(&[("strength", "52"), ("ph", "8.2")]);
    let result = Paper {
        path: unit_path(&shop, "3305", "condition_test"),
        ..result
    };
    assert_eq!(result.saved(&shop, As::Technician).job.follows, Some(done));
    let facts = shop.facts();

    let file =
        |unit: &str| format!("sample,report,reported_on,unit,ph\nB-30,L-1,2026-09-28,{unit},8.4\n");
    for (unit, state, says) in [
        ("", "Not taken in", "2 bottles have this number"),
        ("3305", "Not taken in", "it has a result already"),
        ("3306", "Can be taken in", "unit 3306, taken 2026-09-20"),
    ] {
        let page = send(&shop, As::Manager, ("file", file(unit).as_bytes()));
        assert_eq!(states(&page), [state], "{unit}");
        let said = text(&page.body);
        assert!(said.contains(says), "{says} in {said}");
    }
    assert_eq!(shop.facts(), facts, "nothing is saved by looking");
}

/// A sample is corrected after its result came: the result stays with it, on its page and in the list.
#[test]
fn a_result_stays_with_a_sample_that_was_corrected() {
    let shop = Shop::open();
    let first = sampled(&shop, "3305", "B-31");
    let file = b"sample,report,reported_on,unit,ph\nB-31,L-1,2026-09-28,3305,8.4\n";
    let shown = send(&shop, As::Manager, ("file", file));
    let shown = unescaped(&hidden(&shown.body, "text").unwrap());
    assert_eq!(
        states(&send(&shop, As::Manager, ("text", shown.as_bytes()))),
        ["Taken in"]
    );
    let result_of = |bottle: &str| {
        shop.read(async |read| {
            let unit = read.find_unit_by_number("3305").await.unwrap().unwrap();
            let found = read.find_samples(unit.shop, &[bottle]).await.unwrap();
            found
                .iter()
                .map(|sample| (sample.key, sample.result))
                .collect::<Vec<_>>()
        })
    };
    let [(_, Some(result))] = result_of("B-31")[..] else {
        panic!("one sample with its result")
    };

    let mut sample = first;
    for bottle in ["B-32", "B-31"] {
        let path = unit_path(&shop, "3305", "sample");
        let page = shop.get(As::Manager, &format!("/jobs/{sample}/correct"));
        let paper = Paper::open(&shop, As::Manager, &path).shown_again(&page);
        assert_eq!(paper.get("replaces"), sample.to_string());
        let paper = paper.with_all(&[("bottle", bottle), ("replace_reason", "Wrong figure")]);
        paper.saved(&shop, As::Manager);
        sample = FactKey(Uuid::parse_str(paper.get("key")).unwrap());
        assert_eq!(result_of(bottle), [(sample, Some(result))]);
    }
    assert_eq!(
        result_of("B-32"),
        [],
        "what was corrected is not listed beside its correction"
    );
    let page = shop.get(As::Technician, &format!("/jobs/{sample}")).body;
    let said = text(&page);
    assert!(said.contains("Its result is here."), "{said}");
    assert!(page.contains(&format!("href=\"/jobs/{result}\"")), "{page}");
    let list = shop.get(As::Technician, "/laboratory").body;
    assert!(list.contains(&format!("href=\"/jobs/{result}\"")), "{list}");

    // Its row is known again, and stays out once its result is voided.
    let state = |shop: &Shop| states(&send(shop, As::Manager, ("file", file)));
    assert_eq!(state(&shop), ["On record already"]);
    Form::open(&shop, As::Manager, &format!("/jobs/{result}/void"))
        .with("reason", "Entered twice")
        .saved(&shop, As::Manager);
    assert_eq!(state(&shop), ["Not taken in"]);
    shop.book_is_closed();
}

/// Somebody voids a result: its row of the file does not come back by the file, and is not told as on record.
#[test]
fn a_row_whose_result_was_voided_is_told_so() {
    let shop = Shop::open();
    sampled(&shop, "3305", "B-34");
    let file = b"sample,report,reported_on,unit,ph\nB-34,L-1,2026-09-28,3305,8.4\n";
    let shown = send(&shop, As::Manager, ("file", file));
    let shown = unescaped(&hidden(&shown.body, "text").unwrap());
    send(&shop, As::Manager, ("text", shown.as_bytes()));
    let result = shop.read(async |read| {
        let unit = read.find_unit_by_number("3305").await.unwrap().unwrap();
        read.find_samples(unit.shop, &["B-34"]).await.unwrap()[0]
            .result
            .unwrap()
    });
    Form::open(&shop, As::Manager, &format!("/jobs/{result}/void"))
        .with("reason", "Entered twice")
        .saved(&shop, As::Manager);
    let facts = shop.facts();
    for field in ["file", "text"] {
        let page = send(&shop, As::Manager, (field, file));
        assert_eq!(states(&page), ["Not taken in"], "{field}");
        let said = text(&page.body);
        assert!(said.contains("the result of this row was voided"), "{said}");
    }
    assert_eq!(shop.facts(), facts);
    shop.book_is_closed();
}
