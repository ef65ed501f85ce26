//! Sample, and the result that goes on from it.

use domain::fleet::Tool;
use domain::ids::FactKey;
use domain::job::Line;
use uuid::Uuid;

use super::paper::{Paper, place, text};
use crate::pages::browser::unescaped;
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

fn sampled(shop: &Shop, paper: &Paper) -> Paper {
    let paper = paper.with_all(&[("bottle", "B-17"), ("tests", "freeze point, pH")]);
    paper.saved(shop, TECHNICIAN);
    paper
}

fn page_of(shop: &Shop, paper: &Paper) -> String {
    shop.get(TECHNICIAN, &format!("/jobs/{}", paper.get("key")))
        .body
}

/// Where the page of a sample leads to log its result.
fn way_to_result(page: &str) -> String {
    let before = page.split(">Log its result<").next().unwrap();
    let address = before.rsplit("href=\"").next().unwrap();
    unescaped(address.trim_end_matches('"'))
}

#[test]
fn what_the_laboratory_found_goes_on_from_the_sample() {
    let shop = Shop::open();
    for paper in [
        Paper::on_unit(&shop, TECHNICIAN, ("3305", "sample")),
        Paper::on_vessel(&shop, TECHNICIAN, ("Cart A", "sample")),
        Paper::on_unit(&shop, TECHNICIAN, ("2203", "sample"))
            .with("loop", &place(&shop, "2203 cabin").to_string()),
    ] {
        let sample = sampled(&shop, &paper);
        let page = page_of(&shop, &sample);
        assert!(text(&page).contains("No result yet."), "{page}");
        let result = Paper::open(&shop, TECHNICIAN, &way_to_result(&page));
        assert_eq!(result.get("loop"), sample.get("loop"));
        let result = result.with_all(&[("strength", "52"), ("ph", "8.2")]);
        let result = Paper {
            path: result.path.split('?').next().unwrap().to_owned(),
            ..result
        };
        let saved = result.saved(&shop, TECHNICIAN);
        let key = FactKey(Uuid::parse_str(sample.get("key")).unwrap());
        assert_eq!(saved.job.follows, Some(key));
        for line in &saved.job.lines {
            let Line::Reading(reading) = line else {
                panic!()
            };
            assert_eq!(reading.tool, Tool::Laboratory);
        }
        let page = text(&page_of(&shop, &sample));
        assert!(page.contains("Its result is here."), "{page}");
        assert!(text(&page_of(&shop, &result)).contains("Goes on from an earlier job."));
    }
    shop.book_is_closed();
}

#[test]
fn a_result_cannot_go_on_from_a_job_on_something_else() {
    let shop = Shop::open();
    let sample = sampled(
        &shop,
        &Paper::on_unit(&shop, TECHNICIAN, ("3305", "sample")),
    );
    let key = sample.get("key");
    for other in [key, "00000000-0000-4000-8000-000000000000", "no key"] {
        let test = Paper::on_unit(&shop, TECHNICIAN, ("3306", "condition_test"))
            .with_all(&[("strength", "52"), ("follows", other)]);
        assert_eq!(test.send(&shop, TECHNICIAN).status, 422, "{other}");
    }
}

#[test]
fn after_three_weeks_without_a_result_the_laboratory_is_asked() {
    let shop = Shop::open();
    for (day, said) in [
        ("2026-09-10", "No result after 25 days: ask the laboratory."),
        ("2026-09-20", "No result yet."),
    ] {
        let paper = Paper::on_unit(&shop, TECHNICIAN, ("3305", "sample")).with_all(&[
            ("when", "earlier"),
            ("day", day),
            ("time", "06:00"),
        ]);
        let page = text(&page_of(&shop, &sampled(&shop, &paper)));
        assert!(page.contains(said), "{said} in {page}");
    }
}
