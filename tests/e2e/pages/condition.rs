//! What the pages say of a loop's condition: margin and chance, what it is made of, what is locked.

use domain::book::component::{Base, Component, InhibitorClass};
use domain::condition::capacity::{DrainMethod, Evidence, Learned};
use domain::condition::policy::Policies;
use domain::condition::readiness::chance;
use domain::condition::{FreezeVerdict, Setting, judge};
use domain::ids::PlaceId;
use domain::moment::Moment;
use domain::quantity::rounding::float;
use domain::quantity::{UnitsOfMeasure, Volume};
use storage::{HistoryRow, PlaceContents};

use super::counted::{check, counted};
use super::form::text;
use super::job::paper::{Paper, contents, place};
use super::leaks::unit;
use super::shop::{As, Shop};

const UNITS: UnitsOfMeasure = UnitsOfMeasure::METRIC;

fn page(shop: &Shop, who: As, path: &str) -> String {
    let answer = shop.get(who, path);
    assert_eq!(answer.status, 200, "{path}: {}", answer.body);
    text(&answer.body)
}

fn of_unit(shop: &Shop, who: As, number: &str) -> String {
    page(shop, who, &unit(shop, number))
}

/// 2026-10-05 07:00 in the upper yard, six hours behind.
fn day_0() -> Moment {
    let at: chrono::DateTime<chrono::Utc> = "2026-10-05T13:00:00Z".parse().unwrap();
    at.into()
}

/// Story 4: three plows that got water all summer. −31 °C and 5 °C to spare is what is wanted.
#[test]
fn story_4_the_verdict_says_its_margin_and_how_unsure_it_is() {
    let shop = Shop::open();
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let low = domain::quantity::Temperature::from_millicelsius(-31_000).unwrap();
    for number in ["3311", "3312", "3315"] {
        let known = contents(&shop, number).known(day_0()).unwrap();
        let setting = Setting {
            winter_low: Some(low),
            capacity_ml: Some(54_000),
            has_open_question: false,
        };
        let judged = judge(&known, setting, day_0(), policy.freeze);
        let margin = low.difference_from(judged.warm_side.unwrap());
        let sure = chance((&known.figures, known.chemistry), Some(low), &policy.winter).unwrap();
        assert!(sure < 0.5, "{number}: {sure}");
        let said = of_unit(&shop, As::Manager, number);
        let margin = format!(
            "Margin {}: the winter low less",
            UNITS.temperature_difference(margin)
        );
        assert!(
            said.replace('\u{a0}', " ").contains(&margin),
            "{margin}: {said}"
        );
        let sure = format!(
            "{} % sure that it freezes no sooner than 5.0 °C below the winter low; 95 % is wanted for the winter.",
            (sure * 100.0).floor()
        );
        assert!(
            said.replace('\u{a0}', " ").contains(&sure),
            "{sure}: {said}"
        );
        // The board has the margin in its row, and /winter the same chance.
        let board = shop.get(As::Manager, "/").body;
        let row = super::leaks::row_of(&board, number)
            .unwrap()
            .replace('\u{a0}', " ");
        let margin = margin.replace("Margin", "margin");
        let margin = margin.split(':').next().unwrap();
        assert!(
            row.contains(&format!("winter low −31.0 °C, {margin}")),
            "{row}"
        );
    }
    // One that is good says so by the same two figures.
    let good = of_unit(&shop, As::Manager, "3301");
    assert!(good.contains("freezes no sooner than 5.0"), "{good}");
}

/// Share of the concentrate that is not of this kind, in percent.
fn foreign(held: &PlaceContents, own: (Base, InhibitorClass)) -> f64 {
    let (mut all, mut of_own) = (0, 0);
    for part in held.contents.parts() {
        match part.component {
            Component::Water => {}
            Component::Concentrate(base, class) => {
                all += part.ml;
                if (base, class) == own {
                    of_own += part.ml;
                }
            }
        }
    }
    float(all - of_own) * 100.0 / float(all)
}

fn fluid(shop: &Shop, name: &str) -> String {
    shop.read(async |read| {
        let fluids = read.list_fluids().await.unwrap();
        let found = fluids.into_iter().find(|fluid| fluid.name == name);
        found.unwrap().id.to_string()
    })
}

/// 4506 holds a trace of OAT; more of it goes in, until its class protects no more.
#[test]
fn a_loop_tells_what_it_is_made_of_from_pure_to_lost() {
    let shop = Shop::open();
    let own = (Base::Eg, InhibitorClass::IatSca);
    let oat = fluid(&shop, "concentrate EG 95 % OAT");
    let place = contents(&shop, "4506").place;
    let rows = shop
        .read(async |read| read.list_place_history(place, None, 100).await)
        .unwrap();
    let last_drain = rows
        .iter()
        .find(|row| row.job_kind.as_deref() == Some("exchange"))
        .unwrap();
    let stays_in = 1.0 - float(last_drain.out_ml) / float(last_drain.shown_before_ml);
    assert!(
        (stays_in - 0.25).abs() < 0.02,
        "a quarter by gravity: {stays_in}"
    );
    let taught = residual_taught(&shop, "4506", &rows);
    let mut seen = Vec::new();
    for litres in ["0", "1.5", "1.5", "4"] {
        if litres != "0" {
            Paper::on_unit(&shop, As::Technician, ("4506", "top_up"))
                .with_all(&[("source", &oat), ("volume", litres), ("mark", "at")])
                .happened()
                .saved(&shop, As::Technician);
        }
        let held = contents(&shop, "4506");
        let share = foreign(&held, own);
        let word = match share {
            share if share < 5.0 => "Pure",
            share if share < 10.0 => "Tainted",
            share if share <= 25.0 => "Mixed",
            _ => "Lost",
        };
        seen.push(word);
        let said = of_unit(&shop, As::Manager, "4506");
        let wanted =
            format!("Foreign coolant: {word} {share:.1} % of its concentrate is not EG IAT+SCA.");
        assert!(said.contains(&wanted), "{wanted}: {said}");
        for part in held.contents.parts() {
            if let Component::Concentrate(base, class) = part.component {
                let all = held.contents.concentrate_ml();
                let line = format!(
                    "{} {} {:.1} % {:.1} L",
                    base.word(),
                    class.word(),
                    float(part.ml) * 100.0 / float(all),
                    float(part.ml) / 1e3
                );
                assert!(said.contains(&line), "{line}: {said}");
            }
        }
        // By what its own drains taught; what it is filled from holds nothing but its own kind.
        let mut left = share;
        let mut exchanges = Vec::new();
        while left >= 5.0 {
            left *= taught / 100.0;
            exchanges.push(left);
        }
        let clean = said.contains("below 5.0 %, to");
        assert_eq!(clean, !exchanges.is_empty(), "{said}");
        if !exchanges.is_empty() {
            let count = match exchanges.len() {
                1 => "1 exchange brings".to_owned(),
                many => format!("{many} exchanges bring"),
            };
            assert!(said.contains(&format!("{count} it below 5.0 %")), "{said}");
            let told = said.split("below 5.0 %, to ").nth(1).unwrap();
            let first = told.split(" %").next().unwrap().parse::<f64>().unwrap();
            assert!((first - exchanges[0]).abs() < 0.2, "{first} {exchanges:?}");
            // Two drains left a quarter in, and a fifth is what was likely before.
            let learned = learned_residual(&said).unwrap();
            assert!(
                (learned - taught).abs() < 0.06,
                "{learned} {taught}: {said}"
            );
            assert!((20.0..25.0).contains(&learned), "{learned}: {said}");
        }
    }
    assert_eq!(seen, ["Pure", "Tainted", "Mixed", "Lost"]);
    shop.book_is_closed();
}

/// What the drains on record teach of the part that stays in the loop of a unit, percent: what came out at each,
/// taken in one by one.
fn residual_taught(shop: &Shop, number: &str, rows: &[HistoryRow]) -> f64 {
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    let held = contents(shop, number);
    let loops = shop.read(async |read| read.list_loop_figures(held.shop.unwrap()).await);
    let loops = loops.unwrap();
    let card = loops.iter().find(|known| known.place == held.place);
    let capacity = Volume::from_ml(card.unwrap().capacity_ml.unwrap()).unwrap();
    let drains = rows
        .iter()
        .filter(|row| row.job_kind.as_deref() == Some("exchange"));
    let mut learned = Learned::nominal(capacity, &policy.capacity);
    for row in drains {
        let missing = (capacity.ml() - row.shown_before_ml).max(0);
        learned = learned.with(Evidence::Drained {
            method: DrainMethod::Gravity,
            recovered: Volume::from_ml(row.out_ml).unwrap(),
            missing: Volume::from_ml(missing).unwrap(),
        });
    }
    assert_eq!(learned.jobs(), 2);
    learned.residual_share(DrainMethod::Gravity).unwrap().part * 100.0
}

/// "each leaves part of the old coolant in (22.4 % ± 4.9 %, learned from 2 drains of this loop at its drain)".
fn learned_residual(said: &str) -> Option<f64> {
    let told = said.split("part of the old coolant in (").nth(1)?;
    let told = told.split(')').next()?;
    let (figure, drains) = told.split_once(", learned from ")?;
    assert!(drains.contains("of this loop"), "{told}");
    let (share, spread) = figure.split_once(" % ± ")?;
    assert!(spread.trim_end_matches(" %").parse::<f64>().unwrap() > 0.0);
    Some(share.parse().unwrap())
}

/// A vessel has the same card; what it is kept for is its own kind.
#[test]
fn a_vessel_tells_what_it_is_made_of() {
    let shop = Shop::open();
    for (name, who) in [
        ("Cart A", As::Manager),
        ("T-1 (reuse tank)", As::HarbourManager),
    ] {
        let held = contents(&shop, name);
        let said = page(&shop, who, &format!("/vessels/{}", held.place));
        let all = held.contents.concentrate_ml();
        let mut kinds = 0;
        for part in held.contents.parts() {
            if let Component::Concentrate(base, class) = part.component {
                let share = float(part.ml) * 100.0 / float(all);
                let litres = float(part.ml) / 1e3;
                let line = format!(
                    "{} {} {share:.1} % {litres:.1} L",
                    base.word(),
                    class.word()
                );
                assert!(said.contains(&line), "{line}: {said}");
                kinds += 1;
            }
        }
        assert!(kinds > 0, "{held:?}");
        assert!(said.contains("Foreign coolant: "), "{said}");
    }
    // What is kept for waste is made of everything, and is of no kind.
    let waste = contents(&shop, "Cart C");
    let said = page(
        &shop,
        As::HarbourManager,
        &format!("/vessels/{}", waste.place),
    );
    assert!(said.contains("By inhibitor class"), "{said}");
    assert!(!said.contains("Foreign coolant: "), "{said}");
}

/// Story 3: 9 L of OAT in 4506, and the exchanges that brought it back, with the nitrite read meanwhile.
#[test]
fn story_3_the_foreign_part_falls_from_exchange_to_exchange_beside_the_nitrite() {
    let shop = Shop::open();
    let said = of_unit(&shop, As::Manager, "4506");
    let course = said.split("How that came about").nth(1).unwrap();
    let shares = |what: &str| -> Vec<(f64, f64, String)> {
        let line = |rest: &str| {
            let mut words = rest.split(" % → ");
            let before = words.next().unwrap().trim().parse().unwrap();
            let (after, state) = words.next().unwrap().split_once(" %, ").unwrap();
            let state = state.split(' ').next().unwrap().to_owned();
            (before, after.parse().unwrap(), state)
        };
        course.split(what).skip(1).map(line).collect()
    };
    let near = |found: &(f64, f64, String), (before, after, state): (f64, f64, &str)| {
        assert!((found.0 - before).abs() < 1.5, "{found:?} {before}");
        assert!((found.1 - after).abs() < 1.5, "{found:?} {after}");
        assert_eq!(found.2, state, "{found:?}");
    };
    let [second, first] = &shares("2025-11-24 Drain and refill")
        .into_iter()
        .chain(shares("2025-11-10 Drain and refill"))
        .collect::<Vec<_>>()[..]
    else {
        panic!("{course}")
    };
    near(second, (6.0, 1.5, "pure"));
    near(first, (24.0, 6.0, "tainted"));
    near(&shares("2025-10-14 Top up")[0], (0.0, 24.0, "mixed"));
    // The newest first, each in its place between the exchanges.
    let at = |part: &str| {
        course
            .find(part)
            .unwrap_or_else(|| panic!("{part}: {course}"))
    };
    let order = [
        at("nitrite 1500 ppm"),
        at("2025-11-24 Drain and refill"),
        at("2025-11-10 Drain and refill"),
        at("nitrite 820 ppm"),
        at("nitrite 1080 ppm"),
        at("2025-10-14 Top up"),
        at("nitrite 1450 ppm"),
    ];
    assert!(order.is_sorted(), "{order:?}: {course}");
}

/// Story 13: 4 → 38 → 120 µS/cm; the loop is locked, and takes nothing but its own coolant.
#[test]
fn story_13_the_battery_loop_is_locked_and_takes_a_dedicated_refill_only() {
    let shop = Shop::open();
    let said = of_unit(&shop, As::HarbourManager, "2203");
    let trend = "battery: conductivity 4.2 → 38 → 120 µS/cm, outside its limits";
    assert!(said.contains(trend), "{said}");
    assert!(
        said.contains("Locked. The battery loop: conductivity 120 µS/cm"),
        "{said}"
    );
    assert!(
        said.contains("at most 100 µS/cm is wanted. Dedicated refill only"),
        "{said}"
    );
    // Its other loops are not.
    assert_eq!(said.matches("Locked.").count(), 1);

    let battery: PlaceId = contents(&shop, "2203 battery").place;
    let own = fluid(&shop, "premix EG 50 % EV low-conductivity");
    for kind in ["top_up", "fill"] {
        let paper = Paper::on_unit(&shop, As::HarbourTechnician, ("2203", kind))
            .with_all(&[("loop", &battery.to_string()), ("volume", "1")]);
        let paper = if kind == "top_up" {
            paper.with("mark", "not")
        } else {
            paper
        };
        for source in [
            fluid(&shop, "premix EG 50 % NOAT"),
            "water".to_owned(),
            "not_known".to_owned(),
        ] {
            let gated = paper
                .with("source", &source)
                .refused(&shop, As::HarbourTechnician);
            let why = gated
                .iter()
                .find(|why| why.to_lowercase().contains("dedicated refill only"));
            let why = why.unwrap_or_else(|| panic!("{kind} {source}: {gated:?}"));
            assert!(
                why.contains("it is locked: conductivity 120 µS/cm"),
                "{why}"
            );
            assert!(why.contains("\"It has already happened\""), "{why}");
        }
        let fits = paper
            .with("source", &own)
            .send(&shop, As::HarbourTechnician);
        let fits = text(&fits.body);
        assert!(
            !fits.to_lowercase().contains("dedicated refill only"),
            "{kind}: {fits}"
        );
    }
    // What has happened all the same is logged, with its mark.
    let saved = Paper::on_unit(&shop, As::HarbourTechnician, ("2203", "top_up"))
        .with_all(&[
            ("loop", &battery.to_string()),
            ("source", "water"),
            ("volume", "0.5"),
            ("mark", "not"),
        ])
        .happened()
        .saved(&shop, As::HarbourTechnician);
    assert_eq!(saved.breaches(), [domain::gate::Breach::FluidNotOffered]);
    shop.book_is_closed();
}

#[test]
fn what_was_never_read_of_the_inhibitors_says_so() {
    let shop = Shop::open();
    let read = of_unit(&shop, As::Manager, "4506");
    assert!(read.contains("Inhibitor, nitrite 1"), "{read}");
    assert!(read.contains("pH 9.1"), "{read}");
    let battery = of_unit(&shop, As::HarbourManager, "2203");
    assert!(
        battery.contains("Inhibitor, conductivity 120 µS/cm"),
        "{battery}"
    );
    assert!(battery.contains("pH Not recorded"), "{battery}");
    let fresh = of_unit(&shop, As::Manager, "3306");
    assert!(fresh.contains("Coolant age"), "{fresh}");
}

/// Every line of the policy, with its figure, source and standing, and what belongs to the book.
#[test]
fn every_line_that_is_judged_by_stands_on_the_policy_page() {
    let shop = Shop::open();
    let said = page(&shop, As::Reader, "/policy");
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    assert!(
        said.contains("Trade defaults of 2026 (trade-2026), in force from 2026-01-01 on."),
        "{said}"
    );
    let mut lines = 0;
    for row in &policy.rows {
        if ["about", "effective_from"].contains(&row.field.as_str()) {
            continue;
        }
        let figure = text(&row.figure.value);
        let line = [figure.as_str(), &row.figure.section, row.standing()];
        let line: Vec<&str> = line.into_iter().filter(|part| !part.is_empty()).collect();
        let line = line.join(" ");
        assert!(said.contains(&line), "{line}: {said}");
        lines += 1;
    }
    assert!(lines > 100, "{lines}");
    assert!(
        said.contains("trade default, confirm with the engine maker"),
        "{said}"
    );
    assert!(
        said.contains("A top-up completes a fill within 7 d"),
        "{said}"
    );
    assert!(
        said.contains("what was missing at the fill and 1.3 L"),
        "{said}"
    );
    assert_eq!(
        shop.get(As::Reader, "/policy?version=trade-1900").status,
        404
    );
    let one = page(&shop, As::Technician, "/policy?version=trade-2026");
    assert!(one.contains("in force"), "{one}");
    for (path, link) in [
        (unit(&shop, "3301"), "/policy#freeze"),
        (unit(&shop, "3301"), "/policy#corrosion"),
        ("/".to_owned(), "/policy#freeze"),
        ("/units".to_owned(), "/policy#freeze"),
        ("/corrosion".to_owned(), "/policy#corrosion"),
        ("/winter".to_owned(), "/policy#winter"),
        ("/leaks".to_owned(), "/policy#leak"),
        ("/due".to_owned(), "/policy#due"),
        ("/retrofit".to_owned(), "/policy#retrofit"),
    ] {
        let body = shop.get(As::Manager, &path).body;
        assert!(body.contains(&format!("href=\"{link}\"")), "{path}");
    }
}

/// A version that asks for a wider margin judges from its day on; the record stays as it is.
#[test]
fn one_record_judged_under_two_versions_gives_two_verdicts_and_does_not_change() {
    let shop = Shop::open();
    let table = format!(
        "{}trade-2027,like,trade-2026,,choice\n\
         trade-2027,about,A wider margin,,choice\n\
         trade-2027,effective_from,2027-01-01,,choice\n\
         trade-2027,freeze_margin_watch,20 °C,,choice\n",
        include_str!("../../../crates/domain/tables/condition_policy.csv")
    );
    let policies = Policies::read(&table).unwrap();
    let head = |shop: &Shop| shop.read(async |read| read.head().await.unwrap());
    let before = head(&shop);
    let known = contents(&shop, "3301").known(day_0()).unwrap();
    let setting = Setting {
        winter_low: domain::quantity::Temperature::from_millicelsius(-31_000).ok(),
        capacity_ml: Some(54_000),
        has_open_question: false,
    };
    let on = |day: &str| {
        let policy = policies.in_force(day.parse().unwrap()).unwrap();
        judge(&known, setting, day_0(), policy.freeze).verdict
    };
    assert_eq!(
        [on("2026-12-31"), on("2027-01-01")],
        [FreezeVerdict::Ready, FreezeVerdict::CheckSoon]
    );
    assert_eq!(head(&shop), before);
    shop.book_is_closed();
}

/// The drawing of a page whose title has this id.
fn drawing(page: &str, id: &str) -> String {
    let after = page.split(&format!("id=\"{id}\"")).nth(1);
    let after = after.unwrap_or_else(|| panic!("{id}: {page}"));
    after.split("</svg>").next().unwrap().to_owned()
}

/// The texts of a drawing that end at an x, each with its y.
fn ticks(drawn: &str, x: &str) -> Vec<(String, String)> {
    let start = format!("<text x=\"{x}\" y=\"");
    let of = |rest: &str| {
        let (y, rest) = rest.split_once('"').unwrap();
        let said = rest.split_once('>').unwrap().1;
        (y.to_owned(), said.split('<').next().unwrap().to_owned())
    };
    drawn.split(&start).skip(1).map(of).collect()
}

#[test]
fn the_strength_chart_has_freeze_points_at_its_right_and_tells_what_was_read() {
    let shop = Shop::open();
    let body = shop.get(As::Manager, &unit(&shop, "3307")).body;
    let drawn = drawing(&body, "strength-0-title");
    assert!(drawn.contains(">Winter low −31.0 °C</text>"), "{drawn}");
    let (left, right) = (ticks(&drawn, "60"), ticks(&drawn, "392"));
    let ((_, label), right) = right.split_first().unwrap();
    assert_eq!(label, "freezes, °C");
    assert!(right.len() >= 2, "{drawn}");
    for (y, shown) in right {
        let (_, percent) = left.iter().find(|(at, _)| at == y).unwrap();
        let share = percent.parse::<f64>().unwrap() / 100.0;
        let strength = domain::quantity::FractionByVolume::from_ratio(share).unwrap();
        let point = domain::fluid::freeze_point(domain::fluid::Glycol::Eg, strength).temperature();
        let shown: f64 = shown.replace('−', "-").parse().unwrap();
        let wanted = f64::from(point.millicelsius()) / 1e3;
        assert!(
            (shown - wanted).abs() <= 0.5,
            "{percent} %: {shown} {wanted}"
        );
    }
    // Full dots were read, hollow ones worked out; a dashed line leads to what was worked out.
    let place = contents(&shop, "3307").place;
    let mut rows = shop
        .read(async |read| read.list_place_history(place, None, 64).await)
        .unwrap();
    rows.retain(|row| row.standing == "posted");
    let read = rows
        .iter()
        .filter(|row| row.job_kind.as_deref() == Some("condition_test"))
        .filter(|row| row.sigma_after_millionths < row.sigma_before_millionths)
        .count();
    let dots = drawn.matches("a5.5 5.5 0 1 0 11 0").count();
    let hollow = drawn.matches("class=\"gauge-ticks hatch-ground\"").count();
    assert!(read > 0 && hollow > 0, "{read} {hollow}");
    assert_eq!(dots - hollow, read, "{drawn}");
    let dashed = drawn.split("class=\"gauge-limit\"").skip(1);
    let dashed: Vec<&str> = dashed.map(|path| path.split('>').next().unwrap()).collect();
    assert_eq!(
        dashed.len(),
        2,
        "the winter low and what was worked out: {drawn}"
    );
}

#[test]
fn the_pressure_chart_has_its_pass_line_and_says_what_the_temperature_did() {
    let shop = Shop::open();
    let body = shop.get(As::Manager, &unit(&shop, "3307")).body;
    let drawn = drawing(&body, "plot-title");
    assert!(drawn.contains(">passes above "), "{drawn}");
    assert!(drawn.contains("fill=\"url(#plot-hatch)\""), "{drawn}");
    assert!(drawn.contains("that is not told from none"), "{drawn}");
    let said = text(&body);
    assert!(
        said.contains("the change of temperature did ")
            || said.contains("no temperature was read at both ends"),
        "{said}"
    );
}

#[test]
fn the_use_chart_marks_the_day_the_leak_rule_began_to_suspect() {
    let shop = Shop::open();
    let triangle = "l7 12h-14z";
    let leaker = shop.get(As::Manager, &unit(&shop, "3307")).body;
    let drawn = drawing(&leaker, "use-0-title");
    assert_eq!(drawn.matches(triangle).count(), 1, "{drawn}");
    assert!(drawn.contains("began to suspect"), "{drawn}");
    assert!(drawn.contains("lower limit"), "{drawn}");
    let sound = shop.get(As::Manager, &unit(&shop, "3301")).body;
    if sound.contains("id=\"use-0-title\"") {
        assert_eq!(drawing(&sound, "use-0-title").matches(triangle).count(), 0);
    }
}

/// A loop is held against the loop of the same name in units of its engine family.
#[test]
fn a_loop_stands_out_among_its_sisters_or_has_too_few() {
    let shop = Shop::open();
    let of = |number: &str, who: As| page(&shop, who, &format!("{}/leaks", unit(&shop, number)));
    let pump = of("2114", As::HarbourManager);
    assert!(pump.contains("it stands out."), "{pump}");
    let generator = of("7801", As::Manager);
    assert!(
        generator.contains("have the same engine family and a loop of this name on their cards"),
        "{generator}"
    );
}

/// The line that says which reading a strength rests on: its job, what moved since with the list of it, and
/// one that waits with how far off it is.
#[test]
fn a_page_says_which_reading_its_strength_rests_on() {
    let shop = Shop::open();
    let who = As::Technician;
    let read = |freeze: &str| {
        Paper::on_unit(&shop, who, ("3301", "condition_test"))
            .with("freeze", freeze)
            .saved(&shop, who)
    };
    read("43.5");
    let address = unit(&shop, "3301");
    let today = "2026-10-05";
    let body = shop.get(who, &address).body;
    let said = text(&body);
    let governs = format!("Rests on the refractometer reading of {today} , freezes at -43.5 °C: 5");
    assert!(said.contains(&governs), "{said}");
    assert!(
        said.contains("after it, and nothing went in or out since."),
        "{said}"
    );
    let waits = read("25");
    for litres in ["0.3", "0.4"] {
        Paper::on_unit(&shop, who, ("3301", "top_up"))
            .with_all(&[
                ("source", &place(&shop, "D-1").to_string()),
                ("volume", litres),
                ("mark", "not"),
            ])
            .saved(&shop, who);
    }
    let body = shop.get(who, &address).body;
    let said = text(&body);
    assert!(said.contains(&governs), "{said}");
    assert!(said.contains("after it, and 2 jobs since."), "{said}");
    let figures = counted(&body);
    let since = figures
        .iter()
        .find(|figure| figure.address.starts_with("#since-"))
        .unwrap();
    assert_eq!(since.rows, Some(2));
    check(&shop, who, (&address, since));
    let kept =
        format!("The refractometer reading of {today} , freezes at -25 °C: kept, does not count: ");
    let told = said.split(&kept).nth(1).unwrap_or_else(|| panic!("{said}"));
    let (off, rest) = told
        .split_once(" σ off, and beyond 3 σ it waits; asked: ")
        .unwrap();
    assert!(off.parse::<f64>().unwrap() > 3.0, "{off}");
    assert!(
        rest.starts_with("the reading says 40.") && rest.contains(", the book expected 5"),
        "{rest}"
    );
    assert!(body.contains(&format!("href=\"/jobs/{}\"", waits.row.order.key)));
    // A cart that was never read rests on what was put in.
    let cart = contents(&shop, "Cart A").place;
    let said = page(&shop, As::Manager, &format!("/vessels/{cart}"));
    let put_in = "Rests on what was put in, more than on any reading: most of it by the ";
    assert!(
        said.contains(put_in),
        "{}",
        &said[said.find("Rests on").unwrap()..]
    );
}
