//! What holds for every kind: who may log, a job sent twice, another name, another time.

use domain::moment::Precision;

use super::paper::{Paper, contents, fluid, place, problems, text, unit_path, vessel_path};
use crate::pages::browser::hidden;
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;
const ON_UNITS: [&str; 14] = [
    "top_up",
    "recover",
    "fill",
    "exchange",
    "correct",
    "condition_test",
    "pressure_test",
    "fit_coupling",
    "flush",
    "cap_test",
    "leak_repair",
    "filter_change",
    "sample",
    "spill",
];
const ON_VESSELS: [&str; 8] = [
    "move",
    "dip",
    "condition_test",
    "receive",
    "clean_out",
    "inspect",
    "sample",
    "spill",
];

fn paths(shop: &Shop) -> Vec<String> {
    let units = ON_UNITS.iter().map(|kind| unit_path(shop, "3301", kind));
    let vessels = ON_VESSELS
        .iter()
        .map(|kind| vessel_path(shop, "Cart A", kind));
    units.chain(vessels).collect()
}

#[test]
fn only_those_who_log_jobs_get_a_form_and_only_for_vessels_of_their_own_shop() {
    let shop = Shop::open();
    let facts = shop.facts();
    for path in paths(&shop) {
        for who in [As::Officer, As::Reader, As::Administrator] {
            assert_eq!(shop.get(who, &path).status, 403, "{who:?} {path}");
            assert_eq!(
                shop.post(who, &path, &[("volume", "1")]).status,
                403,
                "{who:?} {path}"
            );
        }
        assert_eq!(shop.get(As::Nobody, &path).status, 303, "{path}");
        for who in [TECHNICIAN, As::LeadHand, As::Manager] {
            assert_eq!(shop.get(who, &path).status, 200, "{who:?} {path}");
        }
        let elsewhere = if path.starts_with("/vessels") {
            404
        } else {
            200
        };
        assert_eq!(
            shop.get(As::HarbourTechnician, &path).status,
            elsewhere,
            "{path}"
        );
        let absent = path.replace(&path[7..20], "00000000-0000");
        for wrong in [absent, path.replace("/jobs/", "/jobs/no_")] {
            assert_eq!(shop.get(TECHNICIAN, &wrong).status, 404, "{wrong}");
            assert_eq!(shop.post(TECHNICIAN, &wrong, &[]).status, 404, "{wrong}");
        }
    }
    for (kind, path) in [
        ("move", unit_path(&shop, "3301", "move")),
        ("fill", vessel_path(&shop, "Cart A", "fill")),
    ] {
        assert_eq!(
            shop.get(TECHNICIAN, &path).status,
            404,
            "{kind} is not done on that"
        );
    }
    assert_eq!(shop.facts(), facts);
    // Another shop's vessel cannot be slipped into a form either.
    let foreign = place(&shop, "Cart B").to_string();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3301", "top_up"))
        .with_all(&[("source", &foreign), ("volume", "1")]);
    assert!(
        paper
            .refused(&shop, TECHNICIAN)
            .join("")
            .contains("No such vessel is in use in this shop")
    );
    shop.book_is_closed();
}

#[test]
fn the_kinds_are_listed_with_what_they_are_for() {
    let shop = Shop::open();
    let unit = unit_path(&shop, "3301", "");
    let page = shop.get(TECHNICIAN, unit.trim_end_matches('/')).body;
    for kind in ON_UNITS {
        assert!(page.contains(&format!("href=\"{unit}{kind}\"")), "{kind}");
    }
    let vessel = vessel_path(&shop, "Cart A", "");
    let page = shop.get(TECHNICIAN, vessel.trim_end_matches('/')).body;
    for kind in ON_VESSELS {
        assert!(page.contains(&format!("href=\"{vessel}{kind}\"")), "{kind}");
    }
    assert_eq!(shop.get(As::Reader, unit.trim_end_matches('/')).status, 403);
}

/// A form of every kind, filled in, with a field that can be changed.
fn filled_in(shop: &Shop) -> Vec<(Paper, &'static str)> {
    let filled =
        |path: &str, values: &[(&str, &str)]| Paper::open(shop, TECHNICIAN, path).with_all(values);
    let unit = |kind: &str, values: &[(&str, &str)]| filled(&unit_path(shop, "3305", kind), values);
    let vessel =
        |kind: &str, values: &[(&str, &str)]| filled(&vessel_path(shop, "Cart A", kind), values);
    let cart = place(shop, "Cart A").to_string();
    let waste = place(shop, "D-6").to_string();
    let gate = [
        ("gate_temperature", "30"),
        ("gate_pressure", "0"),
        ("volume", "3"),
        ("to", &cart),
    ];
    let held = [
        ("pressure_start", "100"),
        ("hold", "5"),
        ("pressure_end", "100"),
    ];
    let exchanged = [
        &gate[..],
        &[("drain_volume", "3"), ("source", "water"), ("mark", "at")],
    ]
    .concat();
    let fitted = [
        &gate[..2],
        &[
            ("port", "radiator drain"),
            ("thread_found", "3/8-18 NPT"),
            ("leak_class", "0"),
            ("lost", "0.2"),
        ],
    ]
    .concat();
    let rinsed = [
        &gate[..2],
        &[
            ("rinses", "1"),
            ("water", "2"),
            ("to", &waste),
            ("volume", "2"),
        ],
    ]
    .concat();
    let cap = [
        &gate[..2],
        &[("stamped", "110"), ("opened_at", "108"), ("holds", "yes")],
    ]
    .concat();
    let filter = [&gate[..2], &[("charged", "no")]].concat();
    let bottle = [("bottle", "B-1"), ("tests", "pH")];
    let mended = [("part", "lower hose"), ("cause", "clamp loose")];
    let premix = fluid(shop, "premix EG 55 % OAT");
    let delivered = Paper::on_vessel(shop, TECHNICIAN, ("D-1", "receive"))
        .with_all(&[("fluid", &premix), ("volume", "5")]);
    let passed = [("passed", "yes"), ("next_due", "2027-10-05")];
    let cleaned = [("rinses", "2"), ("happened", "yes")];
    vec![
        (unit("flush", &rinsed), "rinses"),
        (unit("cap_test", &cap), "opened_at"),
        (unit("leak_repair", &mended), "watch_days"),
        (unit("filter_change", &filter), "note"),
        (unit("sample", &bottle), "bottle"),
        (vessel("sample", &bottle), "tests"),
        (unit("spill", &[("volume", "0.5")]), "volume"),
        (vessel("spill", &[("volume", "0.5")]), "volume"),
        (delivered, "volume"),
        (vessel("inspect", &passed), "note"),
        (unit("recover", &gate), "volume"),
        (unit("exchange", &exchanged), "volume"),
        (unit("correct", &exchanged), "drain_volume"),
        (unit("fit_coupling", &fitted), "lost"),
        (
            unit(
                "fill",
                &[("how", "poured"), ("source", &cart), ("volume", "3")],
            ),
            "volume",
        ),
        (
            unit("top_up", &[("source", &cart), ("volume", "1")]),
            "volume",
        ),
        (unit("condition_test", &[("strength", "55")]), "strength"),
        (unit("pressure_test", &held), "pressure_start"),
        (vessel("move", &[("to", &waste), ("volume", "2")]), "volume"),
        (vessel("dip", &[("volume", "11")]), "volume"),
        (vessel("clean_out", &cleaned), "rinses"),
    ]
}

#[test]
fn a_job_sent_twice_is_one_job_and_its_key_stands_for_nothing_else() {
    let shop = Shop::open();
    for (paper, changed) in filled_in(&shop) {
        let facts = shop.facts();
        let first = paper.saved(&shop, TECHNICIAN);
        paper.saved(&shop, TECHNICIAN);
        assert_eq!(shop.facts(), facts + 1, "{}", paper.path);
        let other = paper.with(changed, "4");
        let answer = other.send(&shop, TECHNICIAN);
        assert_eq!(answer.status, 422, "{}", paper.path);
        let said = text(&answer.body);
        assert!(
            said.contains(&format!("Already saved as job {}", first.row.seq)),
            "{said}"
        );
        assert!(
            answer
                .body
                .contains(&format!("<a href=\"/jobs/{}\">", paper.get("key")))
        );
        assert_eq!(other.shown_again(&answer).get(changed), "4");
        assert_eq!(shop.facts(), facts + 1);
        // The other way on: these values as another job, once however often it is sent.
        let fresh = answer
            .body
            .split("name=\"fresh_key\" value=\"")
            .nth(1)
            .unwrap();
        let fresh = fresh.split('"').next().unwrap();
        let another = other.shown_again(&answer).with("fresh_key", fresh);
        for _ in 0..2 {
            let answer = another.send(&shop, TECHNICIAN);
            assert_eq!(answer.status, 303, "{:?}", problems(&answer.body));
            assert_eq!(
                answer.header("location"),
                Some(format!("/jobs/{fresh}").as_str())
            );
        }
        assert_eq!(shop.facts(), facts + 2, "{}", paper.path);
    }
    shop.book_is_closed();
}

#[test]
fn a_job_that_emptied_its_vessel_is_known_when_it_is_sent_again() {
    let shop = Shop::open();
    let facts = shop.facts();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3305", "top_up")).with_all(&[
        ("source", &place(&shop, "D-1").to_string()),
        ("volume", "20.5"),
        ("mark", "not"),
    ]);
    for _ in 0..2 {
        paper.saved(&shop, TECHNICIAN);
    }
    assert_eq!(shop.facts(), facts + 1);
    assert!(
        contents(&shop, "D-1").shown_ml <= 0,
        "a new form would not offer it"
    );
    shop.book_is_closed();
}

#[test]
fn somebody_elses_repeat_of_a_form_does_not_pass_for_the_first_ones() {
    let shop = Shop::open();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3306", "top_up")).with("volume", "1");
    paper.saved(&shop, TECHNICIAN);
    let answer = paper.send(&shop, As::OtherTechnician);
    assert_eq!(answer.status, 422);
    assert!(text(&answer.body).contains("Already saved as job"));
    shop.book_is_closed();
}

#[test]
fn not_me_carries_the_form_through_the_sign_on_page() {
    let shop = Shop::open();
    let facts = shop.facts();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3306", "top_up"))
        .with_all(&[("volume", "1.5"), ("note", "slow leak?")]);
    assert!(
        shop.get(TECHNICIAN, &paper.path)
            .body
            .contains("It goes under <strong>P1, ")
    );
    let answer = paper.with("not_me", "yes").send(&shop, TECHNICIAN);
    assert_eq!(answer.status, 401);
    assert_eq!(
        hidden(&answer.body, "kept_path").as_deref(),
        Some(paper.path.as_str())
    );
    assert_eq!(hidden(&answer.body, "kept:volume").as_deref(), Some("1.5"));
    assert_eq!(
        hidden(&answer.body, "kept:note").as_deref(),
        Some("slow leak?")
    );
    assert_eq!(hidden(&answer.body, "kept:not_me"), None);
    assert_eq!(shop.facts(), facts);
}

#[test]
fn a_job_of_another_time_is_entered_with_its_time_and_never_one_ahead() {
    let shop = Shop::open();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3306", "top_up"))
        .with_all(&[("volume", "1"), ("when", "earlier")]);
    let saved = paper
        .with_all(&[("day", "2026-10-04"), ("time", "16:20")])
        .saved(&shop, TECHNICIAN);
    assert_eq!(saved.row.local_date, "2026-10-04");
    let day_only = Paper::on_unit(&shop, TECHNICIAN, ("3308", "top_up"))
        .with_all(&[("volume", "1"), ("when", "earlier"), ("day", "2026-10-03")])
        .saved(&shop, TECHNICIAN);
    assert_eq!(
        day_only.row.precision,
        format!("{:?}", Precision::Day).to_lowercase()
    );
    for (day, time) in [
        ("2026-10-05", "23:59"),
        ("2027-10-05", ""),
        ("2026-10-06", "07:00"),
    ] {
        let ahead = paper
            .with_all(&[("day", day), ("time", time)])
            .refused(&shop, TECHNICIAN)
            .join("");
        assert!(
            ahead.contains("ahead of the server's clock; at most 10 minutes"),
            "{ahead}"
        );
        assert!(ahead.contains(day), "{ahead}");
    }
    let slip = paper
        .with_all(&[("when", "now"), ("time", "06:30")])
        .refused(&shop, TECHNICIAN)
        .join("");
    assert!(
        slip.contains("06:30") && slip.contains("Now is chosen"),
        "{slip}"
    );
    shop.book_is_closed();
}

#[test]
fn meters_and_notes_are_kept_with_the_job_and_fields_of_no_form_are_refused() {
    let shop = Shop::open();
    let paper = Paper::on_unit(&shop, TECHNICIAN, ("3306", "top_up")).with_all(&[
        ("volume", "1"),
        ("distance", "121,400"),
        ("hours", "8210.5"),
        ("note", "two\r\nlines"),
    ]);
    let saved = paper.saved(&shop, TECHNICIAN);
    assert_eq!(saved.job.meters.len(), 2);
    let digest = saved.row.note_digest.unwrap();
    let note = shop.read(async |read| read.find_text(&digest).await.unwrap());
    assert_eq!(note.as_deref(), Some("two\nlines"));
    let slipped = Paper::on_unit(&shop, TECHNICIAN, ("3306", "top_up"))
        .with_all(&[("volume", "1"), ("person", "P9")]);
    let answer = slipped.send(&shop, TECHNICIAN);
    assert_eq!(answer.status, 422);
    assert!(
        problems(&answer.body)
            .join("")
            .contains("he form has no field \"person\"")
    );
    let used = contents(&shop, "3306").used_up_ml;
    let keyless = Paper::on_unit(&shop, TECHNICIAN, ("3306", "top_up"))
        .with("volume", "1")
        .without("key");
    let answer = keyless.send(&shop, TECHNICIAN);
    assert!(
        problems(&answer.body)
            .join("")
            .contains("had no key of its own")
    );
    assert!(!keyless.shown_again(&answer).get("key").is_empty());
    assert_eq!(contents(&shop, "3306").used_up_ml, used);
    shop.book_is_closed();
}
