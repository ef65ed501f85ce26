//! Recover.

use domain::gate::Breach::{
    GateNotMeasured, NoStartDate, OpenedHot, OpenedUnderPressure, VesselNotOffered,
};
use domain::job::{Fit, Intent, Line, Looks};

use super::paper::{Paper, Saved, contents, place, text, unit_path};
use crate::pages::form::Form;
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

fn opened(shop: &Shop) -> Paper {
    Paper::on_unit(shop, TECHNICIAN, ("3303", "recover")).with_all(&[
        ("gate_temperature", "38"),
        ("gate_pressure", "0"),
        ("to", &place(shop, "Cart A").to_string()),
        ("volume", "20"),
    ])
}

fn movements(saved: &Saved) -> Vec<(String, Fit, Intent)> {
    let lines = saved.job.lines.iter();
    lines
        .map(|line| {
            let Line::Movement(movement) = line else {
                panic!()
            };
            (movement.volume.typed.clone(), movement.fit, movement.intent)
        })
        .collect()
}

#[test]
fn coolant_is_drawn_into_a_cart_at_the_temperature_of_the_gate() {
    let shop = Shop::open();
    let cart = contents(&shop, "Cart A").shown_ml;
    let paper = opened(&shop)
        .and("looks[]", "clear")
        .with_all(&[("fit", "yes"), ("intent", "reuse")]);
    let said = text(&paper.with("preview", "yes").send(&shop, TECHNICIAN).body);
    assert!(said.contains("Cart A, contents 12.5 L 32.3 L"), "{said}");
    let saved = paper.saved(&shop, TECHNICIAN);
    assert_eq!(
        movements(&saved),
        [("20 L".to_owned(), Fit::Yes, Intent::Reuse)]
    );
    assert_eq!(
        saved
            .job
            .gate_temperature
            .as_ref()
            .unwrap()
            .value
            .millicelsius(),
        38_000
    );
    assert_eq!(saved.job.gate_pressure.as_ref().unwrap().value.pa(), 0);
    assert_eq!(saved.job.looks, [Looks::Clear]);
    assert!(
        saved.breaches().is_empty() && saved.asked.is_empty(),
        "{saved:?}"
    );
    // 20 L at 38 °C are 19.8 L at 20 °C.
    let after = contents(&shop, "Cart A").shown_ml;
    assert!((after - cart - 19_780).abs() < 60, "{cart} {after}");
    shop.book_is_closed();
}

#[test]
fn a_hot_system_or_one_under_pressure_is_not_opened_and_what_happened_is_logged_with_its_mark() {
    let shop = Shop::open();
    for (temperature, pressure, named, breaches) in [
        ("63", "0", vec!["63.0 °C", "50.0 °C"], vec![OpenedHot]),
        ("50", "0", vec!["50.0 °C"], vec![OpenedHot]),
        (
            "20",
            "12",
            vec!["12.0 kPa", "only at 0"],
            vec![OpenedUnderPressure],
        ),
        (
            "",
            "",
            vec!["below 50.0 °C", "known to be 0"],
            vec![GateNotMeasured],
        ),
        (
            "145 °F",
            "2 psi",
            vec!["62.8 °C", "13.8 kPa"],
            vec![OpenedHot, OpenedUnderPressure],
        ),
    ] {
        let paper = opened(&shop).with_all(&[
            ("gate_temperature", temperature),
            ("gate_pressure", pressure),
            ("volume", "1"),
        ]);
        let problems = paper.refused(&shop, TECHNICIAN).join("\n");
        for number in named {
            assert!(problems.contains(number), "{number} in {problems}");
        }
        assert!(
            problems.contains("\"It has already happened\""),
            "{problems}"
        );
        let saved = paper.happened().saved(&shop, TECHNICIAN);
        assert_eq!(saved.breaches(), breaches);
    }
    shop.book_is_closed();
}

#[test]
fn when_one_vessel_is_not_enough_a_second_takes_the_rest() {
    let shop = Shop::open();
    let second = place(&shop, "D-6").to_string();
    let saved = opened(&shop)
        .with_all(&[
            ("second_to", &second),
            ("second_volume", "5.5"),
            ("temperature", "41"),
        ])
        .saved(&shop, TECHNICIAN);
    let volumes: Vec<String> = movements(&saved)
        .into_iter()
        .map(|(volume, ..)| volume)
        .collect();
    assert_eq!(volumes, ["20 L", "5.5 L"]);
    let half = opened(&shop)
        .with("second_volume", "5.5")
        .refused(&shop, TECHNICIAN);
    assert!(half.join("").contains("second vessel"), "{half:?}");
    let same = opened(&shop)
        .with_all(&[
            ("second_to", &place(&shop, "Cart A").to_string()),
            ("second_volume", "5.5"),
        ])
        .refused(&shop, TECHNICIAN);
    assert!(same.join("").contains("the first one again"), "{same:?}");
    shop.book_is_closed();
}

#[test]
fn oil_in_it_goes_to_waste_or_quarantine_and_never_counts_as_fit() {
    let shop = Shop::open();
    let oily = opened(&shop).and("looks[]", "oil");
    let problems = oily
        .with("fit", "yes")
        .with("intent", "reuse")
        .refused(&shop, TECHNICIAN)
        .join("\n");
    assert!(
        problems.contains("Cart A should not be used: kept for coolant that is used again"),
        "{problems}"
    );
    assert!(problems.contains("\"oil in it\" was ticked"), "{problems}");
    let waste = oily
        .with("to", &place(&shop, "D-6").to_string())
        .with("intent", "waste")
        .saved(&shop, TECHNICIAN);
    assert_eq!(
        movements(&waste),
        [("20 L".to_owned(), Fit::No, Intent::Waste)]
    );
    assert!(waste.breaches().is_empty());
    let into_reuse = opened(&shop)
        .and("looks[]", "oil")
        .happened()
        .with("volume", "2")
        .saved(&shop, TECHNICIAN);
    assert_eq!(into_reuse.breaches(), [VesselNotOffered]);
    assert!(into_reuse.kinds_asked().contains(&"unfit_into_reuse"));
    let both = opened(&shop)
        .and("looks[]", "clear")
        .and("looks[]", "rust")
        .refused(&shop, TECHNICIAN)
        .join("");
    assert!(both.contains("Both clear and rusty"), "{both}");
    shop.book_is_closed();
}

/// Decision 2: what is not begun is logged all the same once it has happened.
#[test]
fn a_container_without_a_start_date_is_not_filled_but_what_went_in_is_logged() {
    let shop = Shop::open();
    let drum = place(&shop, "D-8").to_string();
    let paper = opened(&shop).with_all(&[("to", &drum), ("fit", "no"), ("intent", "waste")]);
    let problems = paper.refused(&shop, TECHNICIAN).join("\n");
    assert!(
        problems.contains("D-8 carries no start date: write one on it"),
        "{problems}"
    );
    let logged = paper
        .with_all(&[("happened", "yes"), ("volume", "2")])
        .saved(&shop, TECHNICIAN);
    assert_eq!(logged.breaches(), [NoStartDate]);
    assert!(logged.kinds_asked().contains(&"no_start_date"));
    let said = text(&shop.get(As::LeadHand, "/checking").body);
    assert!(said.contains("D-8 has no start date"), "{said}");
    let asked = format!("work_out=yes&to={drum}&volume=20&lift=1&temperature=20");
    let draw = unit_path(&shop, "3303", "").replace("/jobs/", &format!("/plans/draw?{asked}"));
    let plan = text(&shop.get(TECHNICIAN, &draw).body);
    assert!(plan.contains("it carries no start date"), "{plan}");

    let entry = format!("/vessels/{drum}/container");
    Form::open(&shop, TECHNICIAN, &entry)
        .with_all(&[("what", "start"), ("day", "2026-10-05")])
        .saved(&shop, TECHNICIAN);
    let vessel = text(&shop.get(TECHNICIAN, &format!("/vessels/{drum}")).body);
    assert!(vessel.contains("Start date 2026-10-05"), "{vessel}");
    assert!(!vessel.contains("No start date"), "{vessel}");
    let begun = opened(&shop)
        .with_all(&[("to", &drum), ("fit", "no"), ("intent", "waste")])
        .with("volume", "3")
        .saved(&shop, TECHNICIAN);
    assert!(begun.breaches().is_empty() && !begun.kinds_asked().contains(&"no_start_date"));
    shop.book_is_closed();
}

#[test]
fn more_than_the_unit_holds_and_more_than_fits_are_asked_about_with_the_numbers() {
    let shop = Shop::open();
    let paper = opened(&shop).with("volume", "140");
    let said = text(&paper.with("preview", "yes").send(&shop, TECHNICIAN).body);
    assert!(said.contains("the book held 54.4 L."), "{said}");
    let saved = paper.saved(&shop, TECHNICIAN);
    let kinds = saved.kinds_asked();
    assert!(
        kinds.contains(&"over_drawn") && kinds.contains(&"over_filled"),
        "{kinds:?}"
    );
    shop.book_is_closed();
}

/// What a page asks before it goes on to the next step.
fn checked(paper: &Paper, shop: &Shop) -> Vec<(String, bool)> {
    let facts = shop.facts();
    let answer = paper.with("check", "yes").send(shop, TECHNICIAN);
    assert_eq!(answer.status, 200, "{}", answer.body);
    assert_eq!(shop.facts(), facts, "nothing is written");
    let problems: Vec<serde_json::Value> = serde_json::from_str(&answer.body).unwrap();
    let said = problems.iter().map(|problem| {
        assert!(!problem["text"].as_str().unwrap().is_empty());
        let field = problem["field"].as_str().unwrap().to_owned();
        (field, problem["gate"].as_bool().unwrap())
    });
    said.collect()
}

#[test]
fn a_gate_is_told_at_its_step_and_apart_from_what_is_only_missing() {
    let shop = Shop::open();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3304", "recover"))
        .with_all(&[("gate_temperature", "80"), ("gate_pressure", "0")]);
    let said = checked(&paper, &shop);
    let of = |said: &[(String, bool)], name: &str| {
        let found = said.iter().find(|(field, _)| field == name);
        found.map(|(_, gate)| *gate)
    };
    assert_eq!(of(&said, "gate_temperature"), Some(true));
    assert_eq!(of(&said, "gate_pressure"), None);
    assert_eq!(of(&said, "to"), Some(false), "chosen later: no gate");
    let happened = checked(&paper.happened(), &shop);
    assert_eq!(of(&happened, "gate_temperature"), None);
    assert_eq!(of(&happened, "to"), Some(false));
    let unreadable = checked(&paper.with("gate_temperature", "warm"), &shop);
    assert_eq!(of(&unreadable, "gate_temperature"), Some(false));
    let cold = paper.with("gate_temperature", "30");
    assert_eq!(of(&checked(&cold, &shop), "gate_temperature"), None);
}
