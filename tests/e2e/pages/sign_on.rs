//! Signing on and off: what lets people in, what keeps others out, and that nothing typed is lost.

use std::{os::unix::fs::PermissionsExt, path::Path, sync::Arc};

use domain::fact::{By, Fact, Proved, What};
use domain::fleet::{Person, Role, Roles};
use domain::ids::FactKey;
use domain::moment::{Moment, Precision, When};
use storage::{Command, Options, Store, Via};
use uuid::Uuid;

use crate::client::Answer;

use super::browser::{Browser, hidden, tile, unescaped};
use super::shop::{As, Shop};

const WRONG: &str = "not-the-password-of-anybody";

/// What a page holds between its header and its footer.
fn main(html: &str) -> &str {
    let from = html.find("<main").unwrap();
    html.get(from..html.find("</main>").unwrap()).unwrap()
}

/// Every hidden field of a form that goes on to the next page, in order.
fn all_hidden(html: &str) -> Vec<(String, String)> {
    let names = main(html).split("<input type=\"hidden\" name=\"").skip(1);
    names
        .map(|rest| {
            let mut parts = rest.split('"');
            let name = parts.next().unwrap();
            (unescaped(name), unescaped(parts.nth(1).unwrap()))
        })
        .collect()
}

fn post_all(browser: &Browser, path: &str, fields: &[(String, String)]) -> Answer {
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    browser.post(path, &fields)
}

fn leads_to(answer: &Answer) -> Option<&str> {
    (answer.status == 303).then(|| answer.header("location").unwrap())
}

/// Whether somebody is signed on in a browser.
fn is_on(browser: &Browser) -> bool {
    browser.get("/shops").status == 200
}

#[test]
fn in_the_office_a_short_name_and_a_password_lead_back_to_the_page_asked_for() {
    let shop = Shop::open();
    let browser = shop.browser();
    let asked = browser.get("/shops");
    assert_eq!(leads_to(&asked), Some("/sign-on?next=%2Fshops"));
    let page = browser.get("/sign-on?next=%2Fshops");
    assert!(page.body.contains("name=\"password\"") && !page.body.contains("name=\"pin\""));
    let next = hidden(&page.body, "next").unwrap();

    let password = shop.secret(As::Manager, "password").unwrap();
    let fields = [
        ("handle", " p10 "),
        ("password", password.as_str()),
        ("next", &next),
    ];
    assert_eq!(leads_to(&browser.post("/sign-on", &fields)), Some("/shops"));
    let page = browser.get("/shops").body;
    assert!(page.contains("P10") && page.contains("shop manager") && page.contains("Upper Yard"));
}

#[test]
fn a_wrong_password_tells_nothing_about_whose_short_names_there_are() {
    let shop = Shop::open();
    let told = |handle: &str| {
        let answer = shop.browser().sign_on_by_password(handle, WRONG);
        assert_eq!(answer.status, 422);
        assert!(!answer.body.contains(WRONG), "a secret is never put back");
        assert!(answer.all("set-cookie").is_empty());
        assert!(
            answer
                .body
                .contains("<title>Not signed on - Coolant Ledger</title>")
        );
        answer.body.replace(handle, "")
    };
    assert_eq!(told("P10"), told("P99"));
    let nothing = shop.browser().sign_on_by_password("", "");
    assert_eq!(nothing.status, 422);
    assert!(
        nothing
            .body
            .contains("Not signed on yet: 2 things to put right")
    );
}

#[test]
fn after_five_wrong_tries_even_the_right_password_has_to_wait_and_nobody_else_does() {
    let shop = Shop::open();
    let browser = shop.browser();
    for _ in 0..4 {
        assert_eq!(browser.sign_on_by_password("P10", WRONG).status, 422);
    }
    let fifth = browser.sign_on_by_password("P10", WRONG);
    assert_eq!(
        (fifth.status, fifth.header("retry-after")),
        (429, Some("30"))
    );
    let password = shop.secret(As::Manager, "password").unwrap();
    let right = browser.sign_on_by_password("P10", &password);
    assert_eq!(right.status, 429);
    let seconds: u32 = right.header("retry-after").unwrap().parse().unwrap();
    assert!((1..=30).contains(&seconds), "{seconds}");
    assert!(!is_on(&browser));
    // A handle of nobody waits in the same way.
    for _ in 0..4 {
        shop.browser().sign_on_by_password("P99", WRONG);
    }
    assert_eq!(shop.browser().sign_on_by_password("P99", WRONG).status, 429);
    assert_eq!(shop.get(As::HarbourManager, "/shops").status, 200);
}

#[test]
fn a_tablet_shows_its_own_people_and_takes_their_pins_and_badges() {
    let shop = Shop::open();
    let browser = shop.browser();
    let link = shop.tablet_link("Upper Yard");
    let path = link
        .split_once("/tablets")
        .map(|(_, rest)| format!("/tablets{rest}"))
        .unwrap();
    let offered = browser.get(&path);
    assert!(offered.body.contains("Upper Yard tablet") && offered.body.contains("180 days"));
    assert_eq!(leads_to(&browser.enrol(&link)), Some("/sign-on"));

    let page = browser.get("/sign-on").body;
    for here in ["P1", "P2", "P3", "P8"] {
        assert!(tile(&page, here).is_some(), "{here}");
    }
    for elsewhere in ["P4", "P9", "P10", "P14"] {
        assert!(tile(&page, elsewhere).is_none(), "{elsewhere}");
    }
    let pin = shop.secret(As::OtherTechnician, "pin").unwrap();
    assert_eq!(leads_to(&browser.sign_on_by_pin("P2", &pin)), Some("/"));
    assert!(browser.get("/shops").body.contains("<strong>P2</strong>"));

    // Somebody else signs on in the same place; their tile comes first from then on.
    let badge = shop.secret(As::LeadHand, "badge").unwrap();
    let scanned = format!("{}\n", badge.to_lowercase());
    assert_eq!(
        leads_to(&browser.post("/sign-on", &[("badge", &scanned)])),
        Some("/")
    );
    assert!(browser.get("/shops").body.contains("<strong>P8</strong>"));
    let page = browser.get("/sign-on").body;
    assert!(page.find("<strong>P8<").unwrap() < page.find("<strong>P1<").unwrap());
}

#[test]
fn a_pin_or_badge_proves_nothing_off_a_tablet() {
    let shop = Shop::open();
    let browser = shop.browser();
    let badge = shop.secret(As::Technician, "badge").unwrap();
    let pin = shop.secret(As::Technician, "pin").unwrap();
    for fields in [
        vec![("badge", badge.as_str())],
        vec![("handle", "P1"), ("password", &pin)],
        vec![("handle", "P1"), ("password", &badge)],
    ] {
        assert_eq!(browser.post("/sign-on", &fields).status, 422, "{fields:?}");
    }
    assert!(!is_on(&browser));
}

#[test]
fn a_wrong_pin_tells_how_many_tries_are_left_and_a_revoked_badge_helps_nobody() {
    let shop = Shop::open();
    let browser = shop.browser();
    browser.enrol(&shop.tablet_link("Upper Yard"));
    let pin = shop.secret(As::Technician, "pin").unwrap();
    let wrong = if pin == "000000" { "000001" } else { "000000" };
    let answer = browser.sign_on_by_pin("P1", wrong);
    assert_eq!(answer.status, 422);
    assert!(
        answer
            .body
            .contains("9 tries are left before it no longer works"),
        "{}",
        answer.body
    );
    let person = tile(&answer.body, "P1").unwrap();
    assert!(
        answer.body.contains(&format!("value=\"{person}\" checked")),
        "the name stays chosen"
    );
    let answer = browser.post("/sign-on", &[("badge", "0123456789ABCDEFGHJKMNPQRS")]);
    assert_eq!(answer.status, 422);
    assert!(
        answer.body.contains("nobody&#39;s badge"),
        "{}",
        answer.body
    );
    assert_eq!(leads_to(&browser.sign_on_by_pin("P1", &pin)), Some("/"));
}

#[test]
fn a_manager_needs_the_password_on_a_tablet_too() {
    let shop = Shop::open();
    let browser = shop.browser();
    browser.enrol(&shop.tablet_link("Upper Yard"));
    let password = shop.secret(As::Manager, "password").unwrap();
    assert_eq!(
        leads_to(&browser.sign_on_by_password("P10", &password)),
        Some("/")
    );
    assert!(browser.get("/shops").body.contains("shop manager"));
}

#[test]
fn the_way_back_never_leads_to_another_site() {
    let shop = Shop::open();
    let password = shop.secret(As::Reader, "password").unwrap();
    for next in [
        "//elsewhere.example",
        "/\\elsewhere.example",
        "https://elsewhere.example/",
        "/%2F/elsewhere.example",
        "/unknown",
        "/sign-on",
        "/shops\r\nSet-Cookie: a=b",
        "javascript:alert(1)",
    ] {
        let fields = [
            ("handle", "P14"),
            ("password", password.as_str()),
            ("next", next),
        ];
        let answer = shop.browser().post("/sign-on", &fields);
        assert_eq!(leads_to(&answer), Some("/"), "{next:?}");
    }
    let look = [("look", "night"), ("here", "//elsewhere.example")];
    assert_eq!(leads_to(&shop.browser().post("/look", &look)), Some("/"));
}

#[test]
fn a_session_is_new_at_each_sign_on_and_ends_with_the_sign_off() {
    let shop = Shop::open();
    let browser = shop.browser();
    let planted = "0123456789ABCDEFGHJKMNPQRSTVWXYZ0123456789ABCDEFGHJK";
    browser.set_cookie("session", planted);
    assert!(!is_on(&browser));
    let password = shop.secret(As::Officer, "password").unwrap();
    browser.sign_on_by_password("P12", &password);
    let first = browser.cookie("session").unwrap();
    assert_ne!(first, planted);
    assert!(is_on(&browser));
    browser.sign_on_by_password("P12", &password);
    let second = browser.cookie("session").unwrap();
    assert_ne!(second, first);

    let other = shop.browser();
    other.set_cookie("session", &first);
    assert!(!is_on(&other), "the session before it is no longer one");
    let off = browser.post("/sign-off", &[]);
    assert_eq!(leads_to(&off), Some("/sign-on"));
    assert_eq!(
        off.header("clear-site-data"),
        Some("\"cache\""),
        "never storage or cookies"
    );
    assert_eq!(browser.cookie("session"), None);
    other.set_cookie("session", &second);
    assert!(
        !is_on(&other),
        "a stolen cookie is of no use after the sign-off"
    );
}

#[test]
fn cookies_of_plain_http_are_for_no_script_and_no_other_site() {
    let shop = Shop::open();
    let browser = shop.browser();
    let enrolled = browser.enrol(&shop.tablet_link("Upper Yard"));
    let tablet = enrolled.all("set-cookie").join("\n");
    assert!(tablet.starts_with("tablet="), "{tablet}");
    assert!(
        tablet.ends_with("; HttpOnly; SameSite=Strict; Path=/; Max-Age=15552000"),
        "{tablet}"
    );
    let password = shop.secret(As::Officer, "password").unwrap();
    let on = browser.sign_on_by_password("P12", &password);
    let session = on.all("set-cookie").join("\n");
    assert!(session.starts_with("session="), "{session}");
    assert!(
        session.ends_with("; HttpOnly; SameSite=Strict; Path=/"),
        "{session}"
    );
}

#[test]
fn a_used_link_and_an_unknown_one_enrol_nothing() {
    let shop = Shop::open();
    let browser = shop.browser();
    assert_eq!(
        browser
            .get("/tablets/enrol?code=0123456789ABCDEFGHJKMNPQRS")
            .status,
        404
    );
    assert_eq!(
        browser.enrol("x?code=0123456789ABCDEFGHJKMNPQRS").status,
        404
    );
    assert_eq!(browser.cookie("tablet"), None);
}

#[test]
fn a_form_page_keeps_a_tablet_signed_on_for_longer() {
    let shop = Shop::open();
    let idle = |path: &str| {
        let page = shop.get(As::Technician, path).body;
        let ms = page.split("data-idle-ms=\"").nth(1).unwrap();
        ms.split('"').next().unwrap().parse::<i64>().unwrap()
    };
    assert_eq!(idle("/"), 5 * 60_000);
    assert_eq!(idle("/shops"), 10 * 60_000, "its own address takes a form");
    assert_eq!(shop.post(As::Technician, "/session/stay", &[]).status, 204);
    assert_eq!(idle("/"), 5 * 60_000);
    let office = shop.get(As::Manager, "/shops").body;
    assert!(office.contains("data-idle-ms=\"1800000\""));
    assert_eq!(shop.post(As::Nobody, "/session/stay", &[]).status, 303);
}

#[test]
fn the_look_is_kept_on_the_device_signed_on_or_not() {
    let shop = Shop::open();
    let browser = shop.browser();
    let answer = browser.post("/look", &[("look", "night"), ("here", "/help")]);
    assert_eq!(leads_to(&answer), Some("/help"));
    assert!(browser.get("/help").body.contains("data-look=\"night\""));
    assert!(browser.get("/sign-on").body.contains("data-look=\"night\""));
    browser.post("/look", &[("look", "<script>"), ("here", "/help")]);
    assert!(browser.get("/help").body.contains("data-look=\"auto\""));
}

#[test]
fn those_of_every_shop_choose_one_and_others_cannot() {
    let shop = Shop::open();
    let ids = shop.read(async |read| {
        let shops = read.list_shops().await.unwrap();
        shops
            .into_iter()
            .map(|shop| (shop.name, shop.id.to_string()))
            .collect::<Vec<_>>()
    });
    let harbour = &ids
        .iter()
        .find(|(name, _)| name.starts_with("Harbour"))
        .unwrap()
        .1;
    let upper = &ids
        .iter()
        .find(|(name, _)| name.starts_with("Upper"))
        .unwrap()
        .1;
    for id in [upper, harbour] {
        assert_eq!(
            shop.post(As::Officer, "/shops", &[("shop", id)]).status,
            303
        );
        let page = shop.get(As::Officer, "/shops").body;
        assert!(page.contains(&format!("value=\"{id}\" checked")));
    }
    let absent = "00000000-0000-4000-8000-000000000000";
    for typed in ["", "words", absent] {
        let answer = shop.post(As::Officer, "/shops", &[("shop", typed)]);
        assert_eq!(answer.status, 422, "{typed}");
    }
    let refused = shop.post(As::Manager, "/shops", &[("shop", harbour)]);
    assert_eq!(refused.status, 422);
    assert!(
        refused.body.contains("P10 belongs to Upper Yard"),
        "{}",
        refused.body
    );
}

#[test]
fn who_shows_once_more_who_they_are_is_led_on() {
    let shop = Shop::open();
    let password = shop.secret(As::Manager, "password").unwrap();
    let page = shop.get(As::Manager, "/prove?next=%2Fshops").body;
    assert!(page.contains("name=\"password\"") && !page.contains("name=\"pin\""));
    let wrong = shop.post(
        As::Manager,
        "/prove",
        &[("password", WRONG), ("next", "/shops")],
    );
    assert_eq!(wrong.status, 422);
    assert_eq!(hidden(&wrong.body, "next").as_deref(), Some("/shops"));
    let right = shop.post(
        As::Manager,
        "/prove",
        &[("password", &password), ("next", "/shops")],
    );
    assert_eq!(leads_to(&right), Some("/shops"));

    let other = shop.secret(As::OtherTechnician, "badge").unwrap();
    let answer = shop.post(As::Technician, "/prove", &[("badge", &other)]);
    assert_eq!(answer.status, 422);
    assert!(
        answer.body.contains("another person&#39;s"),
        "{}",
        answer.body
    );
    let own = shop.secret(As::Technician, "badge").unwrap();
    assert_eq!(
        leads_to(&shop.post(As::Technician, "/prove", &[("badge", &own)])),
        Some("/")
    );
}

/// What somebody typed on the page of a top-up, with what the page put in itself.
fn top_up(shop: &Shop, browser: &Browser) -> (String, Vec<(String, String)>) {
    let (unit, drum) = shop.read(async |read| {
        let unit = read.find_unit_by_number("3301").await.unwrap().unwrap();
        let drum = read
            .find_vessel_by_name("D-1", Some(unit.shop))
            .await
            .unwrap()
            .unwrap();
        (unit.id.to_string(), drum.id.to_string())
    });
    let path = format!("/units/{unit}/jobs/top_up");
    let page = browser.get(&path).body;
    let fields = [
        ("key", hidden(&page, "key").unwrap()),
        ("opened", hidden(&page, "opened").unwrap()),
        ("source", drum),
        ("volume", "0.5".to_owned()),
        ("volume_unit", "L".to_owned()),
        ("mark", "at".to_owned()),
        ("when", "now".to_owned()),
        ("note", NOTE.to_owned()),
    ];
    let fields = fields.map(|(name, value)| (name.to_owned(), value));
    (path, fields.to_vec())
}

/// As a browser sends lines, with everything that a page has to write differently.
const NOTE: &str = "two lines & \"quotes\" <b>\r\nsecond: 2.5 L + 'more'";

#[test]
fn a_form_sent_after_the_session_ended_comes_back_whole_and_is_saved_once() {
    let shop = Shop::open();
    let browser = shop.signed_on(As::Technician);
    let (path, fields) = top_up(&shop, &browser);
    let facts = shop.facts();
    browser.drop_cookie("session");
    let asked = post_all(&browser, &path, &fields);
    assert_eq!(asked.status, 401);
    assert!(asked.body.contains("Nothing is lost"), "{}", asked.body);

    // The page carries all of it, past a wrong PIN and to somebody else.
    let person = tile(&asked.body, "P2").unwrap();
    let sign_on = |page: &str, pin: &str| {
        let mut all = all_hidden(page);
        all.push(("person".to_owned(), person.clone()));
        all.push(("pin".to_owned(), pin.to_owned()));
        post_all(&browser, "/sign-on", &all)
    };
    let right = shop.secret(As::OtherTechnician, "pin").unwrap();
    let again = sign_on(
        &asked.body,
        if right == "000000" {
            "000001"
        } else {
            "000000"
        },
    );
    assert_eq!(again.status, 422);
    let offered = sign_on(&again.body, &right);
    assert_eq!(offered.status, 200, "{}", offered.body);
    assert!(offered.body.contains("Save what was on the form?"));
    assert!(
        offered.body.contains("It goes under <strong>P2</strong>"),
        "{}",
        offered.body
    );
    let kept = all_hidden(&offered.body);
    assert_eq!(kept, fields);
    assert_eq!(
        shop.facts(),
        facts,
        "nothing is saved before somebody says so"
    );

    let saved = post_all(&browser, &path, &kept);
    assert_eq!(saved.status, 303, "{}", saved.body);
    assert_eq!(
        leads_to(&post_all(&browser, &path, &kept)),
        leads_to(&saved)
    );
    assert_eq!(shop.facts(), facts + 1);
    assert_eq!(note_of(&shop, facts + 1), NOTE.replace("\r\n", "\n"));
    shop.book_is_closed();
}

/// The note of the job with a number.
fn note_of(shop: &Shop, seq: i64) -> String {
    shop.read(async |read| {
        let row = read.find_fact_at(seq).await.unwrap().unwrap();
        let What::Job(job) = row.fact().unwrap().what else {
            return String::new();
        };
        let note = job.note.unwrap();
        read.find_text(note.digest().unwrap())
            .await
            .unwrap()
            .unwrap()
    })
}

#[test]
fn a_role_that_was_taken_away_counts_at_the_next_request_and_so_does_a_person_who_left() {
    let mut shop = Shop::open();
    let officer = shop.signed_on(As::Officer).cookie("session").unwrap();
    let manager = shop.signed_on(As::Manager).cookie("session").unwrap();
    let facts = [("P10", Some(vec![Role::Reader])), ("P12", None)];
    shop.stopped(|data| {
        for (handle, roles) in facts {
            append(
                data,
                |person| match roles {
                    Some(roles) => What::Roles(Roles {
                        person: person.id,
                        shop: person.shop,
                        roles,
                    }),
                    None => What::Person(Person {
                        active: false,
                        ..person
                    }),
                },
                handle,
            );
        }
    });
    let with = |session: &str| {
        let browser = shop.browser();
        browser.set_cookie("session", session);
        browser
    };
    assert_eq!(
        with(&manager).get("/vessels").status,
        200,
        "a reader still sees"
    );
    assert_eq!(
        with(&manager).get("/vessels/new").status,
        403,
        "but is no manager any more"
    );
    assert_eq!(
        with(&officer).get("/vessels").status,
        303,
        "who left is signed on nowhere"
    );
    let password = shop.secret(As::Officer, "password").unwrap();
    assert_eq!(
        shop.browser().sign_on_by_password("P12", &password).status,
        422
    );
}

/// Records something about a person while no program serves the folder.
pub(crate) fn append(data: &Path, what: impl FnOnce(Person) -> What, handle: &str) {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(async {
        let now = Arc::new(|| Moment(1_791_300_000_000));
        let options = Options::new(data, now, Arc::new(|_: &str| ()));
        let store = Store::open(options).await.unwrap();
        let mut read = store.read().await.unwrap();
        let person = read.find_person_by_handle(handle).await.unwrap().unwrap();
        drop(read);
        let at = Moment(1_791_300_000_000);
        let fact = Fact {
            when: When {
                happened_at: at,
                precision: Precision::Minute,
                local_date: at.utc().unwrap().date_naive(),
                utc_offset_min: 0,
                made_at: at,
                clock_offset_ms: 0,
            },
            by: By {
                person: None,
                proved: Proved::Unconfirmed,
            },
            what: what(person),
        };
        let key = FactKey(Uuid::new_v4());
        store
            .append(Command::plain(key, fact, Via::Program))
            .await
            .unwrap();
        store.close().await.unwrap();
    });
}

#[test]
fn the_demonstration_tells_the_same_secrets_at_each_start_and_nobody_else_can_read_them() {
    let mut shop = Shop::open();
    let told = |shop: &Shop| -> Vec<String> {
        let said = shop.program.said.iter();
        said.filter(|line| line.starts_with("sign-on: "))
            .cloned()
            .collect()
    };
    let before = told(&shop);
    assert_eq!(before.len(), 14, "{before:?}");
    shop.stopped(|data| {
        for name in ["demonstration-sign-on.txt", "access.key", "access.db"] {
            let mode = std::fs::metadata(data.join(name))
                .unwrap()
                .permissions()
                .mode();
            assert_eq!(mode & 0o777, 0o600, "{name}");
        }
    });
    assert_eq!(told(&shop), before);
    assert_eq!(shop.get(As::Technician, "/shops").status, 200);

    // Without the key no secret fits any more, so all of them are made anew.
    shop.stopped(|data| std::fs::remove_file(data.join("access.key")).unwrap());
    assert_ne!(told(&shop), before);
    assert_eq!(shop.get(As::Technician, "/shops").status, 200);
}
