//! Plans: worked out from what is on record, handed over to the job, stopped where it must not begin.

use domain::quantity::rounding::float;

use super::paper::{Paper, contents, place, problems, text, unit_path};
use crate::pages::browser::encoded;
use crate::pages::shop::{As, Shop};

const TECHNICIAN: As = As::Technician;

/// The page of a plan with these fields in its address.
fn plan(
    shop: &Shop,
    who: As,
    (unit, kind): (&str, &str),
    fields: &[(&str, &str)],
) -> (u16, String) {
    let jobs = unit_path(shop, unit, "");
    let unit = jobs.trim_end_matches("/jobs/");
    let answer = shop.get(who, &format!("{unit}/plans/{kind}?{}", encoded(fields)));
    (answer.status, answer.body)
}

/// Where "Use these values" leads.
fn begins(html: &str) -> Option<String> {
    let before = html.split(">Use these values<").next()?;
    if before.len() == html.len() {
        return None;
    }
    let address = before.rsplit("href=\"").next()?.split('"').next()?;
    Some(address.replace("&amp;", "&").replace("&#38;", "&"))
}

#[test]
fn a_draw_is_planned_from_the_record_started_and_compared_afterwards() {
    let shop = Shop::open();
    let (status, html) = plan(&shop, TECHNICIAN, ("3304", "draw"), &[]);
    assert_eq!(status, 200);
    let said = text(&html);
    assert!(
        said.contains("Nothing is worked out yet"),
        "nobody measured it: {said}"
    );
    let cart = place(&shop, "Cart A").to_string();
    let fields = [
        ("work_out", "yes"),
        ("to", cart.as_str()),
        ("volume", "54"),
        ("lift", "1"),
        ("temperature", "20"),
    ];
    let (status, html) = plan(&shop, TECHNICIAN, ("3304", "draw"), &fields);
    assert_eq!(status, 200);
    let said = text(&html);
    assert!(said.contains("Pull to a vacuum of"), "{said}");
    assert!(said.contains("Boyle"), "every figure says how: {said}");
    assert!(!said.contains("Do not start"), "{said}");

    let paper = Paper::open(&shop, TECHNICIAN, &begins(&html).unwrap());
    assert!(!paper.get("planned_out").is_empty());
    assert!(!paper.get("planned_vacuum").is_empty());
    assert_eq!(
        format!("{} {}", paper.get("volume"), paper.get("volume_unit")),
        paper.get("planned_out")
    );
    let saved = Paper {
        path: unit_path(&shop, "3304", "recover"),
        ..paper
    }
    .with_all(&[
        ("gate_temperature", "30"),
        ("gate_pressure", "0"),
        ("to", &place(&shop, "Cart A").to_string()),
        ("volume", "30"),
    ]);
    let key = saved.get("key").to_owned();
    let saved = saved.saved(&shop, TECHNICIAN);
    let planned = saved.job.planned.unwrap();
    assert!(planned.out.unwrap().ml() > 30_000, "{planned:?}");
    let page = text(&shop.get(TECHNICIAN, &format!("/jobs/{key}")).body);
    assert!(page.contains("Planned and done"), "{page}");
    assert!(page.contains("30.0 L"), "{page}");
    // What was planned moves nothing.
    assert!(saved.row.moved.iter().any(|moved| moved.shown_ml > 29_000));
    shop.book_is_closed();
}

#[test]
fn what_must_not_begin_is_stopped_with_its_reasons_and_can_still_be_logged() {
    let shop = Shop::open();
    let cart = place(&shop, "Cart A").to_string();
    let ask = |more: &[(&str, &str)]| {
        let mut fields = vec![
            ("work_out", "yes"),
            ("to", cart.as_str()),
            ("volume", "20"),
            ("lift", "1"),
            ("temperature", "20"),
        ];
        fields.retain(|(name, _)| more.iter().all(|(other, _)| other != name));
        fields.extend(more);
        let (status, html) = plan(&shop, TECHNICIAN, ("3304", "draw"), &fields);
        assert_eq!(status, 200);
        html
    };
    assert!(begins(&ask(&[])).is_some());
    for (more, reason) in [
        (
            ("temperature", "60"),
            "a system is opened only below 50.0 °C",
        ),
        (("vacuum", "25.5 inHg"), "is all the air there is"),
        (("vacuum", "2"), "does not carry this column"),
        (("volume", "400"), "do not fit"),
    ] {
        let html = ask(&[more]);
        let said = text(&html);
        assert!(said.contains("Do not start"), "{more:?}: {said}");
        assert!(said.contains(reason), "{more:?}: {said}");
        assert_eq!(begins(&html), None, "{more:?}");
        assert!(said.contains("It has already happened: log it"), "{said}");
        assert!(
            html.contains("/jobs/recover?"),
            "what was typed goes along: {more:?}"
        );
    }
    // A vessel that is not offered is a reason as well.
    let fresh = place(&shop, "D-1").to_string();
    let said = text(&ask(&[("to", &fresh)]));
    assert!(
        said.contains("D-1 should not be used: kept for fresh coolant"),
        "{said}"
    );
}

#[test]
fn a_plan_that_cannot_be_read_says_what_to_put_right_and_keeps_what_was_typed() {
    let shop = Shop::open();
    let (status, html) = plan(
        &shop,
        TECHNICIAN,
        ("3304", "fill"),
        &[
            ("work_out", "yes"),
            ("volume", "much"),
            ("margin", "-5"),
            ("filler", "ajar"),
            ("lift", "1.5"),
            ("hack", "1"),
        ],
    );
    assert_eq!(status, 422);
    let found = problems(&html).join("\n");
    assert!(found.contains("\"much\""), "{found}");
    assert!(found.contains("must not be below 0"), "{found}");
    assert!(found.contains("\"ajar\""), "{found}");
    assert!(found.contains("no field \"hack\""), "{found}");
    assert!(text(&html).contains("Not worked out yet: "));
    assert!(html.contains("value=\"much\""));
    assert!(begins(&html).is_none());
}

#[test]
fn a_fill_is_charged_below_every_limit_and_never_against_an_unrated_loop() {
    let shop = Shop::open();
    let cart = place(&shop, "D-3").to_string();
    let held = contents(&shop, "D-3").shown_ml;
    let volume = (held / 2).to_string() + " mL";
    let fields = [
        ("work_out", "yes"),
        ("source", cart.as_str()),
        ("volume", volume.as_str()),
        ("lift", "1.5"),
        ("margin", "35"),
        ("filler", "open"),
        ("temperature", "20"),
    ];
    // A drum bears no pressure: none is on record.
    let (_, html) = plan(&shop, TECHNICIAN, ("3304", "fill"), &fields);
    let said = text(&html);
    assert!(
        said.contains("What pressure the tank bears is not on record"),
        "{said}"
    );

    let cart = place(&shop, "Cart A").to_string();
    let mut fields = fields;
    fields[1].1 = &cart;
    fields[2].1 = "5";
    let full = plan(&shop, TECHNICIAN, ("3304", "fill"), &fields);
    assert!(text(&full.1).contains("do not fit"), "{}", text(&full.1));
    let drained = Paper::on_unit(&shop, TECHNICIAN, ("3304", "recover")).with_all(&[
        ("gate_temperature", "30"),
        ("gate_pressure", "0"),
        ("to", &cart),
        ("volume", "10"),
    ]);
    drained.saved(&shop, TECHNICIAN);
    let mut shut = fields;
    shut[5].1 = "shut";
    let (_, html) = plan(&shop, TECHNICIAN, ("3304", "fill"), &shut);
    assert!(text(&html).contains("Only with the filler open"));
    let (_, html) = plan(&shop, TECHNICIAN, ("3304", "fill"), &fields);
    let said = text(&html);
    assert!(said.contains("Never above 248.4 kPa"), "{said}");
    assert!(said.contains("Charge to"), "{said}");
    let address = begins(&html).unwrap();
    let paper = Paper::open(&shop, TECHNICIAN, &address);
    assert_eq!(paper.get("how"), "pushed");
    assert_eq!(paper.get("planned_in"), "5.0 L");
    assert!(!paper.get("planned_charge").is_empty());
}

#[test]
fn every_plan_opens_for_whoever_may_see_the_unit_and_starts_for_whoever_works() {
    let shop = Shop::open();
    for kind in ["draw", "fill", "correction", "plug_swap", "pressure_test"] {
        for who in [
            TECHNICIAN,
            As::LeadHand,
            As::Manager,
            As::Officer,
            As::Reader,
        ] {
            let (status, html) = plan(&shop, who, ("3304", kind), &[]);
            assert_eq!(status, 200, "{kind} {who:?}: {:?}", problems(&html));
            let works = matches!(who, TECHNICIAN | As::LeadHand | As::Manager);
            assert!(works || begins(&html).is_none(), "{kind} {who:?}");
        }
        let (status, _) = plan(&shop, As::Nobody, ("3304", kind), &[]);
        assert_eq!(status, 303);
    }
    let (status, _) = plan(&shop, TECHNICIAN, ("3304", "no_such_plan"), &[]);
    assert_eq!(status, 404);
}

#[test]
fn a_correction_reaches_its_target_or_says_how_near_it_gets() {
    let shop = Shop::open();
    let held = contents(&shop, "3304");
    let now = float(held.fraction_millionths) / 1e6;
    let fields = |target: &'static str, most: &'static str| {
        [
            ("work_out", "yes"),
            ("target", target),
            ("source", "water"),
            ("present", "50"),
            ("capacity", "50"),
            ("most_drained", most),
            ("temperature", "20"),
        ]
    };
    let (status, html) = plan(&shop, TECHNICIAN, ("3304", "correction"), &fields("30", ""));
    assert_eq!(status, 200);
    let said = text(&html);
    // 50 L × (0.30 − now) ÷ (0 − now)
    let litres = 50.0 * (0.30 - now) / (0.0 - now);
    assert!(
        said.contains(&format!("Take out {litres:.1} L")),
        "{litres} {said}"
    );
    assert!(said.contains("Comes to 30.0 %"), "{said}");

    let (_, html) = plan(&shop, TECHNICIAN, ("3304", "correction"), &fields("70", ""));
    let said = text(&html);
    assert!(
        said.contains("70.0 % cannot be reached with this fluid"),
        "{said}"
    );

    let (_, html) = plan(
        &shop,
        TECHNICIAN,
        ("3304", "correction"),
        &fields("30", "5"),
    );
    let said = text(&html);
    assert!(
        said.contains("times in all, the last one in part"),
        "{said}"
    );
}

#[test]
fn a_planned_correction_and_a_planned_plug_swap_are_done_with_their_figures() {
    let shop = Shop::open();
    let gate = [("gate_temperature", "20"), ("gate_pressure", "0")];
    let waste = place(&shop, "D-6").to_string();
    let values = [
        ("work_out", "yes"),
        ("target", "30"),
        ("source", "water"),
        ("present", "50"),
        ("capacity", "50"),
        ("most_drained", ""),
        ("temperature", "20"),
    ];
    let cart = place(&shop, "Cart A").to_string();
    let swap = [
        ("work_out", "yes"),
        ("by", cart.as_str()),
        ("column", "1.5"),
        ("temperature", "20"),
    ];
    let coupling = [
        ("port", "radiator drain, lowest"),
        ("thread_found", "3/8-18 NPT"),
        ("leak_class", "0"),
    ];
    for (kind, values, job, typed, planned) in [
        (
            "correction",
            &values[..],
            "correct",
            &[("to", waste.as_str())][..],
            &[("drain_volume", "planned_out"), ("volume", "planned_in")][..],
        ),
        (
            "plug_swap",
            &swap[..],
            "fit_coupling",
            &coupling,
            &[("vacuum", "planned_vacuum")],
        ),
    ] {
        let (_, html) = plan(&shop, TECHNICIAN, ("3304", kind), values);
        let paper = Paper::open(&shop, TECHNICIAN, &begins(&html).unwrap());
        for (field, planned) in planned {
            let with_unit = format!(
                "{} {}",
                paper.get(field),
                paper.get(&format!("{field}_unit"))
            );
            assert_eq!(with_unit, paper.get(planned), "{kind} {field}");
        }
        let paper = Paper {
            path: unit_path(&shop, "3304", job),
            ..paper
        }
        .with_all(&gate)
        .with_all(typed);
        let key = paper.get("key").to_owned();
        let saved = paper.saved(&shop, TECHNICIAN);
        assert!(saved.job.planned.is_some(), "{kind}");
        let page = shop.get(TECHNICIAN, &format!("/jobs/{key}")).body;
        assert!(text(&page).contains("Planned and done"), "{kind}");
        assert!(!text(&page).contains("not recorded"), "{kind}");
    }
    shop.book_is_closed();
}
