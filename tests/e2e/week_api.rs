//! POST /api/v1/jobs: the same jobs, sent by another program.

use std::{fs, os::unix::fs::PermissionsExt, time::Duration};

use rustix::process::Signal;
use serde_json::{Value, json};

use crate::{
    client::Answer,
    server::Server,
    week_shop::{Shop, UNITS, VESSELS, job_rows, jobs_of},
};

const PATH: &str = "/api/v1/jobs";
const JSON: (&str, &str) = ("Content-Type", "application/json");
const HOST: (&str, &str) = ("Host", "Coolant.example:443");
const KEY: &str = "0f8fad5b-d9cb-469f-a165-70867728950e";

fn post(server: &Server, job: &Value) -> Answer {
    server.send("POST", PATH, &[JSON], &job.to_string())
}

/// Its folder is free for another program once it has ended.
fn ended(server: Server) {
    server.signal(Signal::TERM);
    let status = server.end_within(Duration::from_secs(10)).unwrap();
    assert!(status.success());
    drop(server);
}

fn recover() -> Value {
    json!({
        "key": KEY, "kind": "recover", "when": "2026-10-09 08:15", "unit": "3304",
        "to": "Cart A", "volume": "46.5 L", "temperature": "38 °C", "who": "P9",
    })
}

fn with(mut job: Value, field: &str, value: impl Into<Value>) -> Value {
    job.as_object_mut()
        .unwrap()
        .insert(field.to_owned(), value.into());
    job
}

#[test]
fn a_job_is_recorded_once_however_often_it_is_sent() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let facts = shop.facts();
    let first = post(&server, &recover());
    assert_eq!(first.status, 201, "{}", first.body);
    assert_eq!(first.header("content-type"), Some("application/json"));
    let answer = first.json();
    assert_eq!(answer["key"], KEY);
    // P9 is new and comes first.
    assert_eq!(answer["job"], facts + 2);
    assert_eq!(answer["questions"], json!([]));
    let loops: Vec<&Value> = answer["places"].as_array().unwrap().iter().collect();
    assert_eq!(loops.len(), 2);
    assert_eq!(loops[0]["before"]["shown_l"], 53.851);
    assert!(loops[0]["before"]["freeze_c"].as_f64().unwrap() < -34.0);
    assert!(loops[0]["before"]["strength_plus_minus"].as_f64().unwrap() > 1.0);

    for repeat in [
        post(&server, &recover()),
        server.send(
            "POST",
            PATH,
            &[
                ("Content-Type", "application/json; charset=utf-8"),
                ("Idempotency-Key", &format!("\"{KEY}\"")),
            ],
            &with(recover(), "key", Value::Null).to_string(),
        ),
    ] {
        assert_eq!((repeat.status, &repeat.body), (first.status, &first.body));
    }
    let other = post(&server, &with(recover(), "volume", "46 L"));
    assert_eq!(other.status, 422);
    let problem = other.json();
    assert_eq!(problem["type"], "/problems/key-used-for-another-job");
    let named = format!("job {}", facts + 2);
    assert!(
        problem["detail"].as_str().unwrap().contains(&named),
        "{}",
        other.body
    );
    assert_eq!(shop.facts(), facts + 2);
    assert!(
        shop.show(&["unit", "3304"])
            .contains("46.5 L at 38 °C from 3304 to Cart A")
    );
    ended(server);
    shop.verify();
}

#[test]
fn a_job_of_the_week_that_another_program_sends_late_leads_to_the_same_book() {
    let book = Shop::of_the_week().book();
    for (late, job) in [
        (
            "2026-10-06 13:30,",
            json!({"kind": "recover", "when": "2026-10-06 13:30", "unit": "5603", "to": "Waste D-7",
                   "volume": "20 L", "temperature": "113 °F", "who": "P4", "note": "oily"}),
        ),
        (
            "2026-10-07 11:50,",
            json!({"kind": "fill", "when": "2026-10-07T17:50:00Z", "unit": "2107",
                   "from": "drum d-1", "volume": "1.5 gal", "who": "p2"}),
        ),
        (
            "2026-10-05 07:40,",
            json!({"kind": "receive", "when": "2026-10-05 07:40", "to": "Drum D-2", "volume": "190 L",
                   "fluid": "premix EG 50 % OAT", "who": "P3", "note": "delivery"}),
        ),
    ] {
        let rows = job_rows().into_iter().filter(|row| !row.starts_with(late));
        let shop = Shop::with_jobs(&jobs_of(rows));
        assert_ne!(shop.book(), book);
        let server = Server::start_in(&shop.data(), &[]);
        let answer = post(&server, &with(job, "key", KEY));
        assert!(matches!(answer.status, 201 | 202), "{}", answer.body);
        // The record is read beside the running server.
        assert_eq!(shop.book(), book, "{late}");
        ended(server);
        shop.verify();
    }
}

#[test]
fn an_over_draw_is_recorded_and_asked_about_with_its_numbers() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let job = json!({"key": KEY, "kind": "fill", "when": "2026-10-09 17:00", "unit": "3304",
                     "from": "Cart B", "volume": "15 L", "who": "P1"});
    let answer = post(&server, &job);
    assert_eq!(answer.status, 202, "{}", answer.body);
    let questions = answer.json()["questions"].clone();
    let over = questions
        .as_array()
        .unwrap()
        .iter()
        .find(|asked| asked["kind"] == "over_drawn");
    let sentence = over.unwrap()["sentence"].as_str().unwrap().to_owned();
    assert!(
        sentence.contains("15.0 L") && sentence.contains("11.3 L"),
        "{sentence}"
    );
    assert_eq!(post(&server, &job).body, answer.body);
    assert!(shop.show(&["questions"]).contains(&sentence));
    let contents = shop.show(&["contents", "--csv"]);
    assert!(
        contents.contains("not accounted for,EG NOAT,-"),
        "{contents}"
    );
    ended(server);
    shop.verify();
}

#[test]
fn every_field_that_cannot_be_read_is_told_at_once_and_nothing_is_written() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let facts = shop.facts();
    let decimals = format!("0.{}1 L", "0".repeat(39));
    for (field, value) in [
        ("volume", "NaN L"),
        ("volume", "inf L"),
        ("volume", "-1 L"),
        ("volume", "0 L"),
        ("volume", "1e3 L"),
        ("volume", "1000000000000000000 L"),
        ("volume", &decimals),
        ("volume", "46.5"),
        ("volume", "46.5 psi"),
        ("volume", ""),
        ("kind", "drink"),
        ("when", "2026-02-30 10:00"),
        ("when", "2026-03-08 02:30"),
        ("unit", "a\u{0}b"),
        ("note", "a\u{0}b"),
        ("note", "a\u{fffd}b"),
        ("note", &"x".repeat(1_000_000)),
        ("who", &"x".repeat(101)),
        ("unit", &"1 ".repeat(100_000)),
        ("to", ""),
        ("shop", "No Such Yard"),
        ("key", "12"),
        ("replaces", "none"),
        ("fit", "perhaps"),
        ("at_mark", "perhaps"),
        ("unit", "33\u{200b}04"),
        ("to", "Cart \u{202e}A"),
        ("note", "a\rb"),
        ("fluid", "water"),
        ("when", "1989-12-31"),
        ("when", "2201-01-01"),
    ] {
        let answer = post(&server, &with(recover(), field, value));
        assert_eq!(
            answer.status, 422,
            "{field} {:.40}: {:.400}",
            value, answer.body
        );
        assert_eq!(
            answer.header("content-type"),
            Some("application/problem+json")
        );
        let problems = answer.json()["problems"].clone();
        assert_eq!(problems.as_array().unwrap().len(), 1, "{problems}");
        assert_eq!(problems[0]["field"], field, "{problems}");
        assert!(answer.body.len() < 2_000);
    }
    assert_eq!(shop.facts(), facts);
    ended(server);
    shop.verify();
}

#[test]
fn several_fields_are_told_at_once_and_a_job_needs_a_key() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let facts = shop.facts();
    let broken =
        json!({"kind": "recover", "when": "soon", "unit": "3304", "volume": "much", "key": KEY});
    let problems = post(&server, &broken).json()["problems"].clone();
    let fields: Vec<&str> = problems
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it["field"].as_str().unwrap())
        .collect();
    assert_eq!(fields, ["volume", "to", "when"]);
    let keyless = post(&server, &with(recover(), "key", Value::Null));
    assert_eq!(
        (
            keyless.status,
            keyless.json()["problems"][0]["field"].as_str()
        ),
        (422, Some("key"))
    );
    assert_eq!(shop.facts(), facts);
    ended(server);
    shop.verify();
}

#[test]
fn what_is_not_a_job_in_json_is_refused_before_it_is_read() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let facts = shop.facts();
    let deep = "[".repeat(100_000);
    for body in [
        "",
        "{",
        "null",
        "[]",
        r#"{"volume": NaN}"#,
        r#"{"volume": 46.5}"#,
        r#"{"colour": "green"}"#,
        r#"{"kind": "fill", "kind": "ship"}"#,
        r#"{"note": "\ud800"}"#,
        r#"{"kind": "fill"} {"kind": "ship"}"#,
        &deep,
    ] {
        let answer = server.send("POST", PATH, &[JSON], body);
        assert_eq!(answer.status, 400, "{body:.40}: {}", answer.body);
        let problem = answer.json();
        assert_eq!(problem["type"], "/problems/not-readable");
        assert!(
            problem["detail"]
                .as_str()
                .unwrap()
                .contains("line 1 column"),
            "{problem}"
        );
    }
    let job = recover().to_string();
    for (headers, status, slug) in [
        (&[][..], 415, "not-json"),
        (&[("Content-Type", "text/plain")], 415, "not-json"),
        (&[JSON, ("Sec-Fetch-Site", "cross-site")], 403, "other-site"),
        (&[JSON, ("Sec-Fetch-Site", "same-site")], 403, "other-site"),
    ] {
        let answer = server.send("POST", PATH, headers, &job);
        assert_eq!(answer.status, status, "{}", answer.body);
        assert_eq!(answer.json()["type"], format!("/problems/{slug}"));
    }
    let large = with(recover(), "note", "x".repeat(2 * 1024 * 1024));
    assert_eq!(post(&server, &large).status, 413);
    assert_eq!(shop.facts(), facts);
    let own = server.send(
        "POST",
        PATH,
        &[JSON, ("Sec-Fetch-Site", "same-origin")],
        &job,
    );
    assert_eq!(own.status, 201);
    ended(server);
    shop.verify();
}

#[test]
fn a_time_ahead_of_the_clock_is_kept_as_typed_and_marked() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let answer = post(&server, &with(recover(), "when", "2199-01-01 10:00"));
    assert_eq!(answer.status, 202, "{}", answer.body);
    assert_eq!(answer.json()["questions"][0]["kind"], "clock_not_believed");
    assert!(shop.show(&["unit", "3304"]).contains("2199-01-01 10:00"));
    ended(server);
    shop.verify();
}

#[test]
fn a_unit_and_a_vessel_nobody_has_a_card_for_are_recorded_and_meet_their_cards_later() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let job = with(with(recover(), "unit", "9901"), "to", "Cart Z");
    let without_shop = post(&server, &job);
    assert_eq!(
        without_shop.json()["problems"][0]["field"],
        "shop",
        "{}",
        without_shop.body
    );
    let job = with(job, "shop", "upper yard");
    let answer = post(&server, &job);
    assert_eq!(answer.status, 202, "{}", answer.body);
    assert!(answer.body.contains("place_unknown"));
    assert!(shop.show(&["unit", "9901"]).contains("no card yet"));
    for (what, name) in [
        (&["contents"][..], "Cart Z (no card)"),
        (&["questions"], "9901 (no card)"),
    ] {
        let shown = shop.show(what);
        assert!(shown.contains(name), "{shown}");
    }
    ended(server);

    let units = format!("{UNITS}9901,snowplow,Upper Yard,engine,EG,OAT,60 L,,50 %\n");
    let vessels = format!("{VESSELS}cart z,cart,Upper Yard,150 L,135 L,recovered,EG,OAT,,\n");
    shop.takes_in(&units, &vessels, &jobs_of(job_rows()));
    assert!(!shop.show(&["questions", "--csv"]).contains("place_unknown"));
    let contents = shop.show(&["contents", "--csv"]);
    assert!(
        contents.contains("\n9901,EG OAT,") && contents.contains("\ncart z,EG OAT,"),
        "{contents}"
    );
    shop.verify();
}

#[test]
fn a_shop_that_is_new_is_opened_with_its_zone() {
    let shop = Shop::empty();
    let server = Server::start_in(&shop.data(), &[]);
    let job = json!({"key": KEY, "kind": "receive", "when": "2026-10-05 07:40", "to": "Tank 1",
                     "volume": "12,5 L", "fluid": "water", "shop": "Cold Yard", "who": "Q1"});
    assert_eq!(post(&server, &job).json()["problems"][0]["field"], "shop");
    let with_zone = with(job.clone(), "zone", "America/Anchorage");
    let answer = post(&server, &with_zone);
    assert_eq!(answer.status, 202, "{}", answer.body);
    assert_eq!(post(&server, &with_zone).body, answer.body);
    // What is sent must be the same, not only what it means by now.
    assert_eq!(
        post(&server, &job).json()["type"],
        "/problems/key-used-for-another-job"
    );
    assert!(
        shop.show(&["record", "--csv"])
            .contains(",shop,,Cold Yard,")
    );
    ended(server);
    shop.verify();
}

#[test]
fn over_the_network_a_token_is_needed() {
    let shop = Shop::of_the_week();
    let job = recover().to_string();
    let proxy = ["--behind-proxy", "--origin", "https://coolant.example"];
    let server = Server::start_in(&shop.data(), &proxy);
    let elsewhere = server.send("POST", PATH, &[JSON], &job);
    assert_eq!(elsewhere.status, 421, "{}", elsewhere.body);
    let answer = server.send("POST", PATH, &[JSON, HOST], &job);
    assert_eq!(answer.status, 403);
    assert!(
        answer.json()["detail"]
            .as_str()
            .unwrap()
            .contains("--api-token-file")
    );
    ended(server);

    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("token");
    let token = "0123456789abcdef0123456789abcdef";
    fs::write(&file, token).unwrap();
    fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).unwrap();
    let flags = [&proxy[..], &["--api-token-file", file.to_str().unwrap()]].concat();
    let server = Server::start_in(&shop.data(), &flags);
    for wrong in [
        "Bearer 0123456789abcdef0123456789abcdee",
        "Basic 0123456789abcdef0123456789abcdef",
    ] {
        let answer = server.send("POST", PATH, &[JSON, HOST, ("Authorization", wrong)], &job);
        assert_eq!(answer.status, 401);
        assert_eq!(answer.header("www-authenticate"), Some("Bearer"));
    }
    assert_eq!(server.send("POST", PATH, &[JSON, HOST], &job).status, 401);
    let bearer = format!("Bearer {token}");
    let answer = server.send(
        "POST",
        PATH,
        &[JSON, HOST, ("Authorization", &bearer)],
        &job,
    );
    assert_eq!(answer.status, 201, "{}", answer.body);
    ended(server);
    shop.verify();
}

#[test]
fn a_request_to_a_name_that_is_not_the_servers_is_refused_on_every_address() {
    let server = Server::start();
    for host in ["a", "evil.example:80", "192.168.0.7"] {
        for path in [
            "/",
            "/healthz",
            "/readyz",
            "/problems/refused",
            PATH,
            "/none",
        ] {
            let answer = server.send("GET", path, &[("Host", host), JSON], "");
            assert_eq!(answer.status, 421, "{host} {path}: {}", answer.body);
            assert_eq!(answer.json()["type"], "/problems/misdirected");
        }
    }
    for host in ["localhost:1", "127.0.0.1", "[::1]:8080"] {
        assert_eq!(
            server.send("GET", "/healthz", &[("Host", host)], "").status,
            200
        );
    }
}

#[test]
fn an_offset_is_bounded_and_not_said_twice() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    for (when, minutes) in [
        ("2026-10-09 08:15", 1_081),
        ("2026-10-09 08:15", -1_081),
        ("2026-10-09T08:15:00Z", 60),
    ] {
        let job = with(with(recover(), "when", when), "utc_offset_min", minutes);
        let answer = post(&server, &job);
        assert_eq!(
            answer.json()["problems"][0]["field"],
            "utc_offset_min",
            "{}",
            answer.body
        );
    }
    let job = with(
        with(recover(), "utc_offset_min", -360),
        "note",
        "one\r\ntwo",
    );
    assert_eq!(post(&server, &job).status, 201);
    assert!(shop.show(&["unit", "3304"]).contains("note: one\n    two"));
    ended(server);
    shop.verify();
}

#[test]
fn a_job_of_today_of_which_only_the_day_is_told_is_believed() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let answer = post(
        &server,
        &with(recover(), "key", "0f8fad5b-d9cb-469f-a165-70867728950f"),
    );
    assert_eq!(answer.status, 201, "{}", answer.body);
    // Whatever the clock shows, one of these zones has not come to noon yet.
    for (zone, key) in [("Pacific/Kiritimati", 1), ("Pacific/Pago_Pago", 2)] {
        let now = web::Clock::system().now();
        let today = now
            .with_timezone(&zone.parse::<chrono_tz::Tz>().unwrap())
            .date_naive();
        let job = json!({"key": format!("0f8fad5b-d9cb-469f-a165-70867728951{key}"), "kind": "receive",
                         "when": today.to_string(), "to": "Tank 1", "volume": "12 L", "fluid": "water",
                         "shop": format!("Yard {key}"), "zone": zone});
        let answer = post(&server, &job);
        assert!(
            !answer.body.contains("clock_not_believed"),
            "{}",
            answer.body
        );
        assert_eq!(post(&server, &job).body, answer.body);
    }
    ended(server);
    shop.verify();
}

#[test]
fn a_reading_shifts_the_strength_and_one_far_off_waits_until_it_is_answered() {
    let shop = Shop::of_the_week();
    let server = Server::start_in(&shop.data(), &[]);
    let key = |n: u8| format!("0f8fad5b-d9cb-469f-a165-7086772895{n:02}");
    let test = |n: u8, reading: &str| {
        json!({"key": key(n), "kind": "condition_test", "when": format!("2026-10-09 15:{n:02}"),
               "unit": "3304", "reading": reading, "scale": "EG", "who": "P1"})
    };
    let near = post(&server, &test(10, "50 %"));
    assert_eq!(near.status, 201, "{}", near.body);
    let place = near.json()["places"][0].clone();
    let strength = |side: &str| place[side]["strength_pct"].as_f64().unwrap();
    assert!(strength("after") > strength("before") + 0.5, "{place}");

    let far = post(&server, &test(20, "10 °F"));
    assert_eq!(far.status, 202, "{}", far.body);
    let asked = far.json()["questions"][0].clone();
    assert_eq!(asked["kind"], "reading_far_off");
    let answer = json!({"key": key(30), "kind": "answer", "replaces": key(20), "line": asked["line"],
                        "question": "reading_far_off", "decision": "accept", "who": "P1"});
    let wrong = post(&server, &with(answer.clone(), "question", "over_drawn"));
    assert_eq!(
        wrong.json()["problems"][0]["field"],
        "question",
        "{}",
        wrong.body
    );
    let answered = post(&server, &answer);
    assert_eq!(answered.status, 201, "{}", answered.body);
    assert_eq!(post(&server, &answer).body, answered.body);
    assert!(
        !shop
            .show(&["questions", "--csv"])
            .contains("reading_far_off")
    );

    let void = json!({"key": key(40), "kind": "void", "replaces": key(20)});
    let why = post(&server, &void);
    assert_eq!(
        why.json()["problems"][0]["field"],
        "replace_reason",
        "{}",
        why.body
    );
    let void = with(void, "replace_reason", "another unit's");
    assert_eq!(
        post(&server, &with(void.clone(), "volume", "1 L")).status,
        422
    );
    assert_eq!(post(&server, &void).status, 201);
    assert!(
        shop.show(&["unit", "3304"])
            .contains("(voided: another unit's)")
    );
    for (field, value) in [("reading", "green"), ("tool", "nose"), ("scale", "OAT")] {
        let answer = post(&server, &with(test(50, "50 %"), field, value));
        assert_eq!(
            answer.json()["problems"][0]["field"],
            field,
            "{}",
            answer.body
        );
    }
    ended(server);
    shop.verify();
}

#[test]
fn a_job_sent_again_is_answered_as_before_whatever_its_names_mean_by_now() {
    let shop = Shop::empty();
    let server = Server::start_in(&shop.data(), &[]);
    let key = |n: u8| format!("0f8fad5b-d9cb-469f-a165-7086772895{n:02}");
    let receive = |n: u8| {
        json!({"key": key(n), "kind": "receive", "when": "2026-10-05 07:40", "to": "Tank 1",
               "volume": "12 L", "fluid": "water"})
    };
    let opened = |n: u8, name: &str| with(with(receive(n), "shop", name), "zone", "America/Denver");
    assert_eq!(post(&server, &opened(10, "North Yard")).status, 202);
    // The only shop is meant.
    let first = post(&server, &receive(11));
    assert!(matches!(first.status, 201 | 202), "{}", first.body);
    assert_eq!(post(&server, &opened(12, "South Yard")).status, 202);
    let again = post(&server, &receive(11));
    assert_eq!((again.status, &again.body), (first.status, &first.body));
    // A new one has to say which.
    assert_eq!(post(&server, &receive(13)).status, 422);
    assert_eq!(
        post(&server, &with(receive(11), "volume", "13 L")).status,
        422
    );
    ended(server);
    shop.verify();
}
