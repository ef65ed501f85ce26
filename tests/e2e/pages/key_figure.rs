//! Key figures and the stock of fluid (stories 12 and 16).

use super::form::text;
use super::shop::{As, Shop};

/// Half years of the demonstration's record.
const HALVES: [&str; 3] = [
    "from=2025-04&to=2025-09",
    "from=2025-10&to=2026-03",
    "from=2026-04&to=2026-09",
];

/// What a figure was worked out from, by its name.
fn how(page: &str, name: &str) -> String {
    let row = page
        .split(&format!("<th scope=\"row\">{name}</th>"))
        .nth(1)
        .unwrap_or_else(|| panic!("{name}: {page}"));
    let cell = row.split("data-label=\"How it is got\">").nth(1).unwrap();
    text(cell.split("</td>").next().unwrap())
}

/// The numbers in a sentence, in their order; thousands may stand apart.
fn numbers(sentence: &str) -> Vec<f64> {
    let signs: Vec<char> = sentence.chars().collect();
    let digit = |at: usize| signs.get(at).is_some_and(char::is_ascii_digit);
    let parts_thousands = |at: usize| {
        signs
            .get(at)
            .is_some_and(|sign| sign.is_whitespace() || *sign == ',')
            && at > 0
            && digit(at - 1)
            && (1..4).all(|next| digit(at + next))
            && !digit(at + 4)
    };
    let plain: String = signs
        .iter()
        .enumerate()
        .filter(|(at, _)| !parts_thousands(*at))
        .map(|(_, sign)| sign)
        .collect();
    plain
        .split(|sign: char| !(sign.is_ascii_digit() || sign == '.'))
        .filter_map(|part| part.parse().ok())
        .collect()
}

/// Numerator and denominator of a figure in a half year, of both yards together.
fn of_both(shop: &Shop, name: &str, half: &str, at: (usize, usize)) -> (f64, f64) {
    let mut sum = (0.0, 0.0);
    for who in [As::Manager, As::HarbourManager] {
        let page = shop.get(who, &format!("/figures?{half}"));
        assert_eq!(page.status, 200, "{}", page.body);
        let found = numbers(&how(&page.body, name));
        sum.0 += found.get(at.0).unwrap();
        sum.1 += found.get(at.1).unwrap();
    }
    sum
}

/// Story 16: first-time fill 71 → 93 %, reuse 38 → 67 %, bought ÷ fleet capacity 0.47 → 0.28 a year. What the
/// demonstration gives is held to a tenth of a point, a point and a hundredth, with why it differs.
#[test]
fn it_gets_better_from_half_year_to_half_year() {
    let shop = Shop::open();
    let percent = |name, at| {
        HALVES.map(|half| {
            let (part, whole) = of_both(&shop, name, half, at);
            100.0 * part / whole
        })
    };
    let fills = percent("First-time fill", (0, 1));
    let reuse = percent("Reuse rate", (0, 1));
    let turnover = HALVES.map(|half| {
        let (bought, fleet) = of_both(&shop, "Fleet turnover a year", half, (0, 2));
        let days = of_both(&shop, "Fleet turnover a year", half, (1, 1)).0 / 2.0;
        bought / fleet * 365.0 / days
    });
    let are = |found: [f64; 3], expected: [f64; 3], off: f64| {
        let mut pairs = found.into_iter().zip(expected);
        assert!(
            pairs.all(|(one, other)| (one - other).abs() <= off),
            "{found:?}"
        );
    };
    // 24 of 36, 23 of 29 and 30 of 33. The row's 71 is that of the ordinary exchanges; the first half has
    // the fill with air in it and the one that goes on from it, two more on leaking buses.
    are(fills, [66.7, 79.3, 90.9], 0.1);
    are(reuse, [40.0, 52.7, 64.4], 1.0);
    are(turnover, [0.52, 0.45, 0.28], 0.01);
}

/// Story 12: 61 L issued in the harbour yard and on no job in months 5 to 8, 15 L a month; after the form
/// of the service lane next to nothing.
#[test]
fn litres_on_no_job_are_found_by_month() {
    let shop = Shop::open();
    let stock = |period: &str| {
        let page = shop.get(As::HarbourManager, &format!("/stock?{period}"));
        assert_eq!(page.status, 200, "{}", page.body);
        let said = text(&page.body);
        // "61.0 L on no job, 15.2 L a month."
        let before = said.split(" on no job, ").next().unwrap();
        let litres = before.split_whitespace().rev().nth(1).unwrap();
        let litres: f64 = litres.replace('\u{2212}', "-").parse().unwrap();
        (litres, page.body)
    };
    let (missing, page) = stock("from=2025-08&to=2025-11");
    assert!((59.0..63.0).contains(&missing), "{missing}");
    // Each dip leads to its record and its vessel.
    assert!(page.contains("href=\"/records/") && page.contains("href=\"/vessels/"));
    let (after, _) = stock("from=2025-12&to=2026-09");
    // Ten months at half a litre.
    assert!(after.abs() < 5.5, "{after}");
}

/// The list behind the number of dips holds as many jobs, those at which the book agreed too; what differs
/// by nothing, as it is shown, is no difference.
#[test]
fn the_number_of_dips_leads_to_all_of_them() {
    let shop = Shop::open();
    let page = shop.get(As::HarbourManager, "/stock?from=2025-08&to=2025-11");
    let mut seen = 0;
    for cell in page
        .body
        .split("data-label=\"Dips\" class=\"num\">")
        .skip(1)
    {
        let cell = cell.split("</td>").next().unwrap();
        let address = cell.split("href=\"").nth(1).unwrap();
        let address = address.split('"').next().unwrap().replace("&#38;", "&");
        let list = shop.get(As::HarbourManager, &address);
        assert_eq!(list.status, 200, "{address}");
        let rows = list.body.matches("<th scope=\"row\">").count();
        assert_eq!(rows.to_string(), text(cell), "{address}");
        seen += rows;
    }
    assert!(seen > 3, "{seen}");
    let differing = page.body.split("id=\"dips\"").nth(1).unwrap();
    let missing: Vec<String> = differing
        .split("data-label=\"Missing\" class=\"num\">")
        .skip(1)
        .map(|cell| text(cell.split("</td>").next().unwrap()))
        .collect();
    assert!(!missing.is_empty());
    assert!(!missing.iter().any(|cell| cell == "0.0 L"), "{missing:?}");
}

/// The jobs behind the share are as many as it says.
#[test]
fn jobs_taken_back_are_listed_as_the_jobs_they_are() {
    let shop = Shop::open();
    let span = "from=2025-10&to=2026-10";
    let page = shop.get(As::Manager, &format!("/figures?{span}"));
    let said = numbers(&how(&page.body, "Jobs taken back"));
    assert!(said[0] > 0.0 && said[0] <= said[1], "{said:?}");
    let list = shop.get(As::Manager, &format!("/figures/taken-back?{span}"));
    let rows = list
        .body
        .matches("<th scope=\"row\"><a href=\"/jobs/")
        .count();
    assert_eq!(rows.to_string(), said[0].to_string());
}

#[test]
fn each_figure_leads_to_a_list_that_is_there() {
    let shop = Shop::open();
    let page = shop.get(As::Manager, "/figures");
    assert_eq!(page.status, 200);
    let main = page
        .body
        .split("<main")
        .nth(1)
        .unwrap()
        .split("</main>")
        .next()
        .unwrap();
    let mut seen = 0;
    for cell in main.split("data-label=\"Figure\" class=\"num\">").skip(1) {
        let cell = cell.split("</td>").next().unwrap();
        if text(cell) == "not recorded" && !cell.contains("href") {
            continue;
        }
        let address = cell
            .split("href=\"")
            .nth(1)
            .unwrap_or_else(|| panic!("no link: {cell}"));
        let address = address.split('"').next().unwrap().replace("&#38;", "&");
        let list = shop.get(As::Manager, &address);
        assert_eq!(list.status, 200, "{address}");
        seen += 1;
    }
    assert!(seen > 18, "{seen}");
    // What is shown for a month is what its jobs come to.
    let list = shop
        .get(As::Manager, "/figures/recovered?from=2026-09&to=2026-09")
        .body;
    let cell = |label: &str| -> Vec<f64> {
        list.split(&format!("data-label=\"{label}\""))
            .skip(1)
            .map(|rest| {
                text(
                    rest.split_once('>')
                        .unwrap()
                        .1
                        .split("</td>")
                        .next()
                        .unwrap(),
                )
            })
            .map(|cell| numbers(&cell)[0])
            .collect()
    };
    let (month, jobs) = (cell("Volume"), cell("Counts"));
    assert!(month.len() == 1 && !jobs.is_empty());
    assert!(
        (month[0] - jobs.iter().sum::<f64>()).abs()
            < 0.06 * (1.0 + f64::from(u32::try_from(jobs.len()).unwrap())),
        "{month:?} {jobs:?}"
    );
}

#[test]
fn what_is_not_on_record_says_so_and_odd_months_are_named() {
    let shop = Shop::open();
    let said = text(&shop.get(As::Officer, "/figures").body);
    assert!(said.contains("not recorded"), "{said}");
    assert!(
        said.contains("no minutes are kept with an exchange"),
        "{said}"
    );
    assert_eq!(shop.get(As::Manager, "/figures?from=spring").status, 422);
    assert_eq!(
        shop.get(As::Manager, "/stock?from=2026-09&to=2026-01")
            .status,
        422
    );
    assert_eq!(shop.get(As::Manager, "/figures/luck").status, 404);
    assert_eq!(shop.get(As::Technician, "/figures").status, 403);
}
