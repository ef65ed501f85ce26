//! Key figures and the stock of fluid (stories 12 and 16).

use std::collections::BTreeSet;

use super::counted::{check, counted, main};
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

/// The cell of a line, by what its column says.
fn cell(row: &str, label: &str) -> String {
    let cell = row.split(&format!("data-label=\"{label}\"")).nth(1);
    let cell = cell.unwrap_or_else(|| panic!("{label}: {row}"));
    let cell = cell.split_once('>').unwrap().1;
    cell.split("</td>").next().unwrap().to_owned()
}

fn lines(page: &str) -> Vec<(String, String)> {
    let rows = main(page).split("<tr><th scope=\"row\">").skip(1);
    rows.map(|row| {
        let row = row.split("</tr>").next().unwrap();
        let (name, rest) = row.split_once("</th>").unwrap();
        (text(name), rest.to_owned())
    })
    .collect()
}

/// Every figure, and everything it was worked out from, is what the list behind it adds up to; one without
/// a figure says why.
#[test]
fn each_figure_is_what_its_lists_add_up_to() {
    let shop = Shop::open();
    for (who, span) in [
        (As::Manager, HALVES[2]),
        (As::HarbourManager, "from=2025-08&to=2026-02"),
    ] {
        let page = shop.get(who, &format!("/figures?{span}"));
        assert_eq!(page.status, 200);
        let mut seen = BTreeSet::new();
        let mut missing = Vec::new();
        for (name, row) in lines(&page.body) {
            let figure = counted(&cell(&row, "Figure"));
            let how = cell(&row, "How it is got");
            if figure.is_empty() {
                assert_eq!(text(&cell(&row, "Figure")), "not recorded", "{name}");
                assert!(!text(&how).is_empty(), "{name}");
                missing.push(name.clone());
            }
            seen.extend(figure);
            seen.extend(counted(&how));
        }
        assert!(missing.contains(&"Minutes per exchange, with and without fitting".to_owned()));
        assert!(missing.len() <= 4, "{missing:?}");
        assert!(seen.len() > 40, "{seen:?}");
        for figure in &seen {
            check(&shop, who, ("/figures", figure));
        }
    }
}

/// What follows from the lists by hand: a quotient is its parts, in the unit it says.
#[test]
fn a_figure_follows_from_its_parts() {
    let shop = Shop::open();
    let page = shop
        .get(As::HarbourManager, &format!("/figures?{}", HALVES[2]))
        .body;
    let all = lines(&page);
    let line = |name: &str| {
        let (_, row) = all.iter().find(|(known, _)| known == name).unwrap();
        let value = numbers(&text(&cell(row, "Figure")))[0];
        let parts = counted(&cell(row, "How it is got"));
        let parts = parts.into_iter().map(|part| {
            let sum = part.sum.or(part.rows.map(|rows| rows.try_into().unwrap()));
            f64::from(i32::try_from(sum.unwrap()).unwrap())
        });
        (value, parts.collect::<Vec<f64>>())
    };
    let near = |name: &str, wanted: &dyn Fn(&[f64]) -> f64, within: f64| {
        let (value, parts) = line(name);
        let wanted = wanted(&parts);
        assert!(
            (value - wanted).abs() <= within,
            "{name}: {value} {wanted} {parts:?}"
        );
        assert!(wanted > 0.0, "{name}: {parts:?}");
    };
    // Hundredths over metres, for 1,000 km.
    near(
        "Coolant cost by distance, in the shop's currency",
        &|of| of[0] / 100.0 / of[1] * 1e6,
        0.006,
    );
    // mL over metres, for 10,000 km and for 1,000,000 km in L.
    near(
        "Topped up by distance",
        &|of| of[0] / 1e3 / of[1] * 1e7,
        0.006,
    );
    near("Waste by distance", &|of| of[0] / 1e3 / of[1] * 1e9, 0.51);
    near(
        "Balance error of these months",
        &|of| 100.0 * of[0].abs() / (of[1] + of[2]),
        0.06,
    );
    near("Lost", &|of| of.iter().sum::<f64>() / 1e3, 0.06);
    near("Due work done on time", &|of| 100.0 * of[0] / of[1], 0.06);
    for name in ["meter", "what went in", "level at the end"] {
        near(
            &format!("Record complete: {name}"),
            &|of| 100.0 * of[0] / of[1],
            0.06,
        );
    }
    let upper = shop
        .get(As::Manager, "/figures?from=2025-10&to=2026-09")
        .body;
    let all = lines(&upper);
    let days = |name: &str| {
        let (_, row) = all.iter().find(|(known, _)| known == name).unwrap();
        let parts = counted(&cell(row, "How it is got"));
        let value = numbers(&text(&cell(row, "Figure")))[0];
        let (sum, rows) = (parts[0].sum.unwrap(), parts[1].rows.unwrap());
        let mean = f64::from(i32::try_from(sum).unwrap()) / f64::from(u32::try_from(rows).unwrap());
        assert!((value - mean).abs() < 0.06, "{name}: {value} {mean}");
        (sum, rows)
    };
    // 3307 was suspected on 2026-05-11 and mended on 2026-07-14, 4510 on 2025-12-22 and 12-29: 64 and 7.
    assert_eq!(days("Leak flagged to repaired, mean"), (64 + 7, 2));
    assert!(days("Laboratory turnaround, mean").0 > 0);
}

/// A month of the year's table is what the same month comes to alone, in a table and a drawing.
#[test]
fn a_figure_has_its_year_month_by_month() {
    let shop = Shop::open();
    let year = shop.get(As::HarbourManager, "/figures/recovered/months?to=2026-09");
    assert_eq!(year.status, 200, "{}", year.body);
    let months = lines(&year.body);
    assert_eq!(months.len(), 12, "{months:?}");
    assert_eq!(
        (months[0].0.as_str(), months[11].0.as_str()),
        ("2026-09", "2025-10")
    );
    assert!(year.body.contains("<svg class=\"plot\""));
    for (month, row) in [&months[0], &months[5]] {
        let figure = counted(&cell(row, "Figure")).remove(0);
        check(
            &shop,
            As::HarbourManager,
            ("/figures/recovered/months", &figure),
        );
        let alone = shop.get(
            As::HarbourManager,
            &format!("/figures?from={month}&to={month}"),
        );
        let alone = lines(&alone.body);
        let (_, row) = alone.iter().find(|(name, _)| name == "Recovered").unwrap();
        assert_eq!(text(&cell(row, "Figure")), figure.shown, "{month}");
    }
    let none = shop.get(As::Manager, "/figures/minutes/months?to=2026-09");
    assert_eq!(none.status, 200);
    assert!(!none.body.contains("<svg class=\"plot\""));
    assert_eq!(shop.get(As::Manager, "/figures/luck/months").status, 404);
    assert_eq!(
        shop.get(As::Technician, "/figures/reuse/months").status,
        403
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
