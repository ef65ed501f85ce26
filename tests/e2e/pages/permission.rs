//! Every address, for every role, with what is theirs, another shop's and nowhere: the table of
//! routes says what must come out.

use std::{fs, path::Path};

use domain::{
    fleet::{Role, Tool},
    ids::UnitId,
};
use uuid::Uuid;
use web::{
    intake::derived::unit_code,
    routes::{For, Permission, permissions},
};

use super::browser::Browser;
use super::shop::{As, Shop};

/// One of every role, the manager and technician of the other yard too.
const PEOPLE: [As; 8] = [
    As::Technician,
    As::LeadHand,
    As::Manager,
    As::HarbourManager,
    As::HarbourTechnician,
    As::Officer,
    As::Administrator,
    As::Reader,
];

/// Whether somebody may see or do these also hangs on the job itself: whose it is and of which day.
/// The tests of these pages settle that; here it may come out so as well.
const SETTLED_BY_THE_JOB: [(&str, u16); 11] = [
    ("/jobs/{job}/undo", 403),
    ("/jobs/{job}/void", 403),
    ("/jobs/{job}/correct", 403),
    ("/jobs/{job}/sign", 403),
    // No job of the demonstration has a photo.
    ("/jobs/{job}/photos/{photo}", 404),
    ("/jobs/{job}/photos/{photo}/remove", 403),
    ("/jobs/{job}/photos/{photo}/remove", 404),
    ("/records/{seq}", 404),
    // Which question is answered stands in the form.
    ("/checking", 404),
    ("/checking/ask", 404),
    ("/asked", 404),
];

const ABSENT: Uuid = Uuid::from_u128(0x0bad_0000_0000_4000_8000_0000_0000_0001);

const fn roles(who: As) -> &'static [Role] {
    match who {
        As::Technician | As::OtherTechnician | As::HarbourTechnician => &[Role::Technician],
        As::LeadHand => &[Role::LeadHand, Role::Technician],
        As::Manager | As::HarbourManager => &[Role::Manager],
        As::Officer => &[Role::ComplianceOfficer],
        As::Administrator => &[Role::Administrator],
        As::Reader => &[Role::Reader],
        As::Nobody => &[],
    }
}

const fn stands_everywhere(who: As) -> bool {
    matches!(who, As::Officer | As::Administrator | As::Reader)
}

const fn is_of_the_harbour(who: As) -> bool {
    matches!(who, As::HarbourManager | As::HarbourTechnician)
}

/// Whose a subject is, as seen by whoever asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Whose {
    Own,
    Others,
    Nowhere,
}

/// A subject of each kind that belongs to a yard.
#[derive(Debug)]
struct Subjects {
    unit: Uuid,
    vessel: Uuid,
    job: Uuid,
    seq: i64,
    person: Uuid,
    instrument: Uuid,
    /// Of every yard.
    fluid: Uuid,
    tablet: Uuid,
}

impl Subjects {
    fn of_yard(shop: &Shop, yard: &str) -> Self {
        let tablet = tablet_of_yard(shop, yard);
        shop.read(async |read| {
            let shops = read.list_shops().await.unwrap();
            let shop = shops
                .iter()
                .find(|shop| shop.name.starts_with(yard))
                .unwrap()
                .id;
            let units = read.list_units(shop).await.unwrap();
            let vessels = read.list_vessels(shop).await.unwrap();
            let jobs = read.list_jobs_of_shop(shop, None, 1).await.unwrap();
            let people = read.list_people(shop).await.unwrap();
            let instruments = read.list_instruments(shop).await.unwrap();
            // What is checked with water is one of these.
            let instrument = instruments.iter().find(|it| it.tool == Tool::Refractometer);
            let fluids = read.list_fluids().await.unwrap();
            Self {
                instrument: instrument.unwrap().id.0,
                fluid: fluids.first().unwrap().id.0,
                tablet,
                unit: units.first().unwrap().id.0,
                vessel: vessels.first().unwrap().id.0,
                job: jobs.first().unwrap().order.key.0,
                seq: jobs.first().unwrap().seq,
                person: people.first().unwrap().id.0,
            }
        })
    }
}

/// The tablet at which the people of a yard sign on.
fn tablet_of_yard(shop: &Shop, yard: &str) -> Uuid {
    let technician = if yard == "Upper" {
        As::Technician
    } else {
        As::HarbourTechnician
    };
    shop.get(technician, "/");
    let page = shop.get(As::Administrator, "/tablets").body;
    let row = page.split(&format!("{yard} Yard tablet</th>")).nth(1);
    let id = row.unwrap().split("action=\"/tablets/").nth(1).unwrap();
    id.split('/').next().unwrap().parse().unwrap()
}

/// An address with something in place of `{…}`, and whether that belongs to one shop.
struct Filled {
    path: String,
    is_of_one_shop: bool,
    names_something: bool,
}

fn fill(pattern: &str, subjects: &Subjects, whose: Whose) -> Filled {
    let mut filled = Filled {
        path: String::new(),
        is_of_one_shop: false,
        names_something: false,
    };
    let id = |id: Uuid| if whose == Whose::Nowhere { ABSENT } else { id }.to_string();
    for part in pattern.split('/').skip(1) {
        let (value, is_of_one_shop) = match part {
            // Units are seen and worked on in every shop; their cards are their own shop's.
            "{unit}" => (id(subjects.unit), is_about_the_card(pattern)),
            "{vessel}" => (id(subjects.vessel), true),
            "{job}" => (id(subjects.job), true),
            "{code}" if whose == Whose::Nowhere => ("00000000".to_owned(), false),
            "{code}" => (unit_code(UnitId(subjects.unit)), false),
            "{photo}" => (ABSENT.to_string(), true),
            "{person}" => (id(subjects.person), true),
            "{instrument}" => (id(subjects.instrument), true),
            "{fluid}" => (id(subjects.fluid), false),
            "{tablet}" => (id(subjects.tablet), true),
            "{seq}" if whose == Whose::Nowhere => ("99999999".to_owned(), true),
            "{seq}" => (subjects.seq.to_string(), true),
            "{what}" if pattern.starts_with("/board/") => ("comebacks".to_owned(), false),
            "{what}" => ("fills".to_owned(), false),
            "{kind}" if pattern.contains("/plans/") => ("draw".to_owned(), false),
            "{kind}" if pattern.starts_with("/units/") || pattern.starts_with("/offline/") => {
                ("top_up".to_owned(), false)
            }
            "{kind}" => ("dip".to_owned(), false),
            plain => {
                assert!(
                    !plain.contains('{'),
                    "say in this test what stands for {plain} in {pattern}"
                );
                (plain.to_owned(), false)
            }
        };
        filled.names_something |= part.starts_with('{') && !["{kind}", "{what}"].contains(&part);
        filled.is_of_one_shop |= is_of_one_shop;
        filled.path.push('/');
        filled.path.push_str(&value);
    }
    filled
}

fn is_about_the_card(pattern: &str) -> bool {
    pattern.ends_with("/edit") || pattern.ends_with("/retire")
}

/// Asks in the way of a route; a form has one field that no form knows, so nothing is ever saved.
fn ask(browser: &Browser, route: &Permission, path: &str) -> crate::client::Answer {
    if route.method == "POST" {
        browser.post(path, &[("no_such_field", "x")])
    } else {
        browser.get(path)
    }
}

/// Routes that need somebody, with the roles they are for; none means any.
fn guarded() -> Vec<(Permission, Option<&'static [Role]>)> {
    permissions()
        .into_iter()
        .filter_map(|route| match route.roles {
            For::Anybody | For::Program | For::Tablet => None,
            For::SignedOn => Some((route, None)),
            For::Roles(roles) => Some((route, Some(roles))),
        })
        .collect()
}

#[test]
fn a_person_reaches_what_the_table_says_and_what_is_their_shops() {
    let shop = Shop::open();
    let upper = Subjects::of_yard(&shop, "Upper");
    let harbour = Subjects::of_yard(&shop, "Harbour");
    let facts = shop.facts();
    let mut asked = 0;
    for who in PEOPLE {
        let browser = shop.signed_on(who);
        let (own, others) = if is_of_the_harbour(who) {
            (&harbour, &upper)
        } else {
            (&upper, &harbour)
        };
        for (route, allowed) in guarded() {
            let may =
                allowed.is_none_or(|allowed| roles(who).iter().any(|role| allowed.contains(role)));
            for (whose, subjects) in [
                (Whose::Own, own),
                (Whose::Others, others),
                (Whose::Nowhere, own),
            ] {
                let filled = fill(route.path, subjects, whose);
                let status = ask(&browser, &route, &filled.path).status;
                let told = format!(
                    "{who:?} {} {} ({whose:?}): {status}",
                    route.method, filled.path
                );
                let hidden =
                    whose == Whose::Others && filled.is_of_one_shop && !stands_everywhere(who);
                if !may {
                    assert_eq!(status, 403, "{told}");
                } else if hidden || (whose == Whose::Nowhere && filled.names_something) {
                    assert_eq!(status, 404, "{told}");
                } else {
                    let settled = SETTLED_BY_THE_JOB.contains(&(route.path, status));
                    assert!(
                        settled || (status < 500 && ![401, 403, 404].contains(&status)),
                        "{told}"
                    );
                }
                asked += 1;
            }
        }
    }
    assert_eq!(shop.facts(), facts, "nothing was saved by any of it");
    assert_eq!(asked, PEOPLE.len() * guarded().len() * 3);
    shop.book_is_closed();
}

#[test]
fn nobody_is_led_to_the_sign_on_page_from_everywhere() {
    let shop = Shop::open();
    let subjects = Subjects::of_yard(&shop, "Upper");
    let facts = shop.facts();
    let browser = shop.browser();
    for (route, _) in guarded() {
        for whose in [Whose::Own, Whose::Nowhere] {
            let path = fill(route.path, &subjects, whose).path;
            let answer = ask(&browser, &route, &path);
            if route.method == "GET" {
                assert_eq!(answer.status, 303, "{path}");
                assert!(
                    answer
                        .header("location")
                        .unwrap()
                        .starts_with("/sign-on?next="),
                    "{path}"
                );
            } else {
                assert_eq!(answer.status, 401, "{path}");
                assert!(answer.body.contains("Nothing is lost"), "{path}");
            }
        }
    }
    assert_eq!(shop.facts(), facts);
}

#[test]
fn another_shops_things_look_as_if_they_were_not_there() {
    let shop = Shop::open();
    let harbour = Subjects::of_yard(&shop, "Harbour");
    let browser = shop.signed_on(As::Manager);
    let without_its_number = |answer: crate::client::Answer| {
        let id = answer.header("x-request-id").unwrap().to_owned();
        (answer.status, answer.body.replace(&id, ""))
    };
    let theirs = browser.get(&format!("/vessels/{}", harbour.vessel));
    let absent = browser.get(&format!("/vessels/{ABSENT}"));
    assert_eq!(without_its_number(theirs), without_its_number(absent));
}

#[test]
fn a_form_from_another_site_does_nothing() {
    let shop = Shop::open();
    let subjects = Subjects::of_yard(&shop, "Upper");
    let facts = shop.facts();
    let browser = shop.signed_on(As::Manager);
    for route in permissions()
        .into_iter()
        .filter(|route| route.method == "POST")
    {
        let path = fill(route.path, &subjects, Whose::Own).path;
        let foreign = browser.post_from("https://elsewhere.example", &path, &[("a", "b")]);
        assert_eq!(foreign.status, 403, "{path}");
        let fetched = browser.send(("POST", &path), &[("Sec-Fetch-Site", "cross-site")], "");
        assert_eq!(fetched.status, 403, "{path}");
        // A page of another site can send plain text without asking first.
        let plain = [("Origin", "null"), ("Content-Type", "text/plain")];
        assert_eq!(
            browser.send(("POST", &path), &plain, "{}").status,
            403,
            "{path}"
        );
    }
    assert_eq!(
        browser.get("/shops").status,
        200,
        "they are still signed on"
    );
    assert_eq!(shop.facts(), facts);
}

#[test]
fn every_address_carries_the_headers_that_keep_others_out() {
    let shop = Shop::open();
    let subjects = Subjects::of_yard(&shop, "Upper");
    let browser = shop.signed_on(As::Manager);
    for route in permissions() {
        // Kept by browsers for good, or asked for anew each time.
        let is_kept = ["/static/{name}", "/worker.js"].contains(&route.path);
        if is_kept || route.path == "/problems/{slug}" {
            continue;
        }
        let path = fill(route.path, &subjects, Whose::Own).path;
        let answer = ask(&browser, &route, &path);
        let told = format!("{} {path}", route.method);
        let policy = answer.header("content-security-policy").unwrap();
        for rule in [
            "default-src 'none'",
            "script-src 'self'",
            "frame-ancestors 'none'",
            "base-uri 'none'",
        ] {
            assert!(policy.contains(rule), "{told}: {policy}");
        }
        for unsafe_rule in ["unsafe-inline", "unsafe-eval", "data:", "http"] {
            assert!(!policy.contains(unsafe_rule), "{told}: {policy}");
        }
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "same-origin"),
            ("cache-control", "no-store"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
        ] {
            assert_eq!(answer.header(name), Some(value), "{told}");
        }
        assert_eq!(answer.header("server"), None, "{told}");
        if let Some(kind) = answer
            .header("content-type")
            .filter(|kind| kind.starts_with("text/"))
        {
            assert!(kind.ends_with("charset=utf-8"), "{told}: {kind}");
        }
        // Signing off is one of the addresses.
        if route.path == "/sign-off" || route.path == "/tablets/enrol" {
            let password = shop.secret(As::Manager, "password").unwrap();
            browser.sign_on_by_password("P10", &password);
        }
    }
}

#[test]
fn routes_are_written_down_in_one_place() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../web/src");
    let mut folders = vec![source.clone()];
    let mut found = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path != source.join("routes.rs")
                && !path.ends_with("tests.rs")
                && fs::read_to_string(&path).is_ok_and(|text| text.contains(".route("))
            {
                found.push(path);
            }
        }
    }
    assert!(
        found.is_empty(),
        "put these into the table of routes.rs: {found:?}"
    );
}
