//! Fit coupling.

use domain::gate::Breach::{GateNotMeasured, OpenedHot};
use domain::job::{Account, Details, LeakClass, Line};

use super::paper::{Paper, contents, place, problems as problems_of, text, unit_path};
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;
const UNIT: &str = "3307";

fn opened(shop: &Shop) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, (UNIT, "fit_coupling")).with_all(&[
        ("gate_temperature", "22"),
        ("gate_pressure", "0"),
        ("port", "radiator drain, lowest"),
        ("thread_found", "3/8-18 NPT"),
        ("leak_class", "not_checked"),
    ])
}

fn class(class: u8) -> LeakClass {
    LeakClass::try_from(class).unwrap()
}

#[test]
fn a_coupling_is_fitted_with_the_vacuum_the_leak_check_and_what_ran_out() {
    let shop = Shop::open();
    let before = contents(&shop, UNIT).shown_ml;
    let paper = opened(&shop).with_all(&[
        ("vacuum", "20"),
        ("vacuum_unit", "inHg"),
        ("thread_recorded", "M18×1.5"),
        ("minutes", "41"),
        ("leak_class", "1"),
        ("lost", "0.4"),
    ]);
    let foreseen = paper.with("preview", "yes").send(&shop, TECHNICIAN);
    assert!(text(&foreseen.body).contains(&format!("{UNIT}, contents")));
    let saved = paper.saved(&shop, TECHNICIAN);
    let Some(Details::FitCoupling {
        port,
        thread_found,
        thread_recorded,
        vacuum,
        leak_class,
        minutes,
    }) = &saved.job.details
    else {
        panic!()
    };
    assert_eq!(
        (port.as_str(), *minutes),
        ("radiator drain, lowest", Some(41))
    );
    assert_eq!(
        (thread_found.as_str(), thread_recorded.as_deref()),
        ("3/8-18 NPT", Some("M18×1.5"))
    );
    // 20 inHg at 3.386389 kPa each (NIST SP 811, inch of mercury at 0 °C; from memory).
    assert_eq!(vacuum.as_ref().unwrap().value.pa(), 67_728);
    assert_eq!(*leak_class, Some(class(1)));
    let [Line::Movement(lost)] = &saved.job.lines[..] else {
        panic!()
    };
    assert_eq!(
        (lost.from, lost.to),
        (Account::Loop(place(&shop, UNIT)), Account::Spilled)
    );
    let missing = before - contents(&shop, UNIT).shown_ml;
    assert!((missing - 400).abs() < 5, "{missing}");
    assert!(
        saved.breaches().is_empty() && saved.asked.is_empty(),
        "{saved:?}"
    );
    let page = text(
        &shop
            .get(TECHNICIAN, &format!("/jobs/{}", paper.get("key")))
            .body,
    );
    for said in [
        "Vacuum while the port was open 20 inHg = 67.7 kPa",
        "Leak seen at it class 1: wet, no drops",
        "Working time 41 min",
    ] {
        assert!(page.contains(said), "{said} in {page}");
    }
    shop.book_is_closed();
}

#[test]
fn most_of_it_may_be_left_open_and_the_book_does_not_move_then() {
    let shop = Shop::open();
    let before = contents(&shop, UNIT).shown_ml;
    let saved = opened(&shop).saved(&shop, TECHNICIAN);
    let Some(Details::FitCoupling {
        vacuum,
        leak_class,
        minutes,
        ..
    }) = &saved.job.details
    else {
        panic!()
    };
    assert!(vacuum.is_none() && leak_class.is_none() && minutes.is_none());
    assert!(saved.job.lines.is_empty());
    assert_eq!(contents(&shop, UNIT).shown_ml, before);
    shop.book_is_closed();
}

#[test]
fn where_which_thread_and_the_leak_check_are_asked_for_and_no_vacuum_is_none() {
    let shop = Shop::open();
    let empty = Paper::on_unit(&shop, TECHNICIAN, (UNIT, "fit_coupling"));
    let problems = empty.refused(&shop, TECHNICIAN).join("\n");
    for label in [
        "Coolant temperature before opening",
        "Gauge pressure before opening",
        "Port and the thread found in it",
        "Leak check at the coupling",
    ] {
        assert!(problems.contains(label), "{label} in {problems}");
    }
    let another = empty.with("alike", "another").refused(&shop, TECHNICIAN);
    for label in ["Which port?", "Thread found"] {
        assert!(another.join("").contains(label), "{label} in {another:?}");
    }
    for (field, value) in [
        ("vacuum", "0"),
        ("lost", "0"),
        ("minutes", "0"),
        ("minutes", "1441"),
        ("leak_class", "4"),
    ] {
        let refused = opened(&shop).with(field, value);
        // An answer that is not offered does not stay chosen.
        let answer = refused.send(&shop, TECHNICIAN);
        assert_eq!(answer.status, 422, "{field} {value}");
    }
    shop.book_is_closed();
}

#[test]
fn a_port_fitted_before_is_one_answer_with_its_thread() {
    let shop = Shop::open();
    let typed = opened(&shop).with_all(&[("port", "=block drain"), ("thread_found", "M22×1.5")]);
    typed.saved(&shop, TECHNICIAN);
    let html = shop
        .get(TECHNICIAN, &unit_path(&shop, UNIT, "fit_coupling"))
        .body;
    let chosen = r#"["=block drain","M22×1.5"]"#;
    assert!(html.contains("=block drain, M22×1.5"), "{html}");
    assert!(
        html.contains("radiator drain, lowest, 3/8-18 NPT"),
        "{html}"
    );
    let alike = opened(&shop)
        .with_all(&[("port", ""), ("thread_found", ""), ("alike", chosen)])
        .saved(&shop, TECHNICIAN);
    let Some(Details::FitCoupling {
        port, thread_found, ..
    }) = alike.job.details
    else {
        panic!()
    };
    assert_eq!(
        (port.as_str(), thread_found.as_str()),
        ("=block drain", "M22×1.5")
    );
    let both = opened(&shop).with("alike", chosen);
    let problems = both.refused(&shop, TECHNICIAN).join("");
    assert!(problems.contains("another typed"), "{problems}");
    let before = shop.facts();
    for (answer, said) in [
        ("[1]", "none of the ports offered"),
        (r#"["\u0007","x"]"#, "Which port?"),
    ] {
        let made_up = [("alike", answer), ("port", ""), ("thread_found", "")];
        let refused = opened(&shop).with_all(&made_up).send(&shop, TECHNICIAN);
        assert_eq!(refused.status, 422);
        let problems = problems_of(&refused.body).join("");
        assert!(problems.contains(said), "{said} in {problems}");
    }
    assert_eq!(shop.facts(), before, "nothing is written");
    shop.book_is_closed();
}

#[test]
fn a_hot_loop_is_not_opened_and_what_happened_is_logged_with_its_mark() {
    let shop = Shop::open();
    for (temperature, breach) in [("70", OpenedHot), ("", GateNotMeasured)] {
        let paper = opened(&shop).with("gate_temperature", temperature);
        let problems = paper.refused(&shop, TECHNICIAN).join("");
        assert!(
            problems.contains("\"It has already happened\""),
            "{problems}"
        );
        let saved = paper.happened().saved(&shop, TECHNICIAN);
        assert_eq!(saved.breaches(), [breach]);
    }
    shop.book_is_closed();
}

#[test]
fn the_page_says_since_when_there_is_one_and_takes_the_vacuum_from_its_address() {
    let shop = Shop::open();
    let yard = contents(&shop, "Cart A").shop.unwrap();
    let fitted = shop.read(async |read| read.list_units(yard).await.unwrap());
    let (unit, since) = fitted
        .iter()
        .find_map(|unit| match &unit.loops[..] {
            [only] => Some((unit.number.clone(), only.coupling_fitted?)),
            _ => None,
        })
        .unwrap();
    let path = unit_path(&shop, &unit, "fit_coupling");
    let paper = Paper::open(&shop, TECHNICIAN, &format!("{path}?vacuum=18.5+kPa"));
    assert_eq!(paper.get("vacuum"), "18.5 kPa");
    let said = text(&shop.get(TECHNICIAN, &path).body);
    let sentence = format!("A coupling is on record since {since}.");
    assert!(said.contains(&sentence), "{sentence} in {said}");
}
