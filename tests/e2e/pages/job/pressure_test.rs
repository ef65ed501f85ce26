//! Pressure test.

use domain::gate::Breach::AboveRating;
use domain::job::{Account, Details};

use super::paper::{Paper, place, text, unit_path};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

fn opened(shop: &Shop) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, ("3301", "pressure_test")).with_all(&[
        ("pressure_start", "108"),
        ("temperature_start", "41"),
        ("hold", "5"),
        ("pressure_end", "107"),
        ("temperature_end", "39.5"),
        ("gauge_step", "1"),
        ("leak_class", "1"),
        ("leak_place", "pump weep hole"),
    ])
}

#[test]
fn both_ends_are_kept_and_nothing_is_judged() {
    let shop = Shop::open();
    let page = text(
        &shop
            .get(TECHNICIAN, &unit_path(&shop, "3301", "pressure_test"))
            .body,
    );
    assert!(
        page.contains("Lowest rated part on record: 110.0 kPa."),
        "{page}"
    );
    assert!(page.contains("not judged yet") && !page.contains("Show before and after"));
    let saved = opened(&shop).saved(&shop, TECHNICIAN);
    assert!(saved.asked.is_empty() && saved.breaches().is_empty() && saved.job.lines.is_empty());
    assert_eq!(saved.job.place, Some(Account::Loop(place(&shop, "3301"))));
    let Some(Details::PressureTest {
        pressure_start,
        pressure_end,
        temperature_start,
        temperature_end,
        hold_s,
        gauge_step,
        leak_class,
        leak_place,
    }) = &saved.job.details
    else {
        panic!()
    };
    assert_eq!(
        (pressure_start.value.pa(), pressure_end.value.pa(), *hold_s),
        (108_000, 107_000, 300)
    );
    let warm =
        [temperature_start, temperature_end].map(|at| at.as_ref().unwrap().value.millicelsius());
    assert_eq!(warm, [41_000, 39_500]);
    assert_eq!(gauge_step.as_ref().unwrap().value.pa(), 1_000);
    assert_eq!(leak_class.map(u8::from), Some(1));
    assert_eq!(leak_place.as_deref(), Some("pump weep hole"));
    shop.book_is_closed();
}

#[test]
fn nothing_is_pressed_above_the_lowest_rated_part_and_what_happened_is_logged_with_its_mark() {
    let shop = Shop::open();
    for (pressure, found) in [("110.1", "110.1 kPa"), ("20 psi", "137.9 kPa")] {
        let paper = opened(&shop).with("pressure_start", pressure);
        let problems = paper.refused(&shop, TECHNICIAN).join("");
        assert!(
            problems.contains(found) && problems.contains("takes 110.0 kPa"),
            "{problems}"
        );
        let saved = paper.with("happened", "yes").saved(&shop, TECHNICIAN);
        assert_eq!(saved.breaches(), [AboveRating]);
    }
    let below = opened(&shop)
        .with("pressure_start", "0")
        .refused(&shop, TECHNICIAN)
        .join("");
    assert!(below.contains("a test starts above 0"), "{below}");
    let unread = opened(&shop)
        .with("gauge_step", "0")
        .refused(&shop, TECHNICIAN)
        .join("");
    assert!(unread.contains("must be above 0"), "{unread}");
    shop.book_is_closed();
}
