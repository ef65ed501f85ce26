//! What every answer has, and the pages that watch over the server.

use crate::server::Server;

const JSON: (&str, &str) = ("Accept", "application/json");
const PAGE: (&str, &str) = ("Accept", "text/html,application/xhtml+xml,*/*;q=0.8");

#[test]
fn a_running_server_says_that_it_is_up_and_ready() {
    let server = Server::start();
    let health = server.get("/healthz");
    assert_eq!((health.status, health.body.as_str()), (200, "ok"));
    let ready = server.get("/readyz");
    assert_eq!(
        (ready.status, ready.body.as_str()),
        (200, r#"{"ready":true}"#)
    );
}

#[test]
fn a_server_that_lost_its_folder_is_not_ready_and_tells_why_only_to_who_may_know() {
    let folder = tempfile::tempdir().unwrap();
    let token_file = folder.path().join("token");
    let token = "0123456789abcdef0123456789abcdef";
    std::fs::write(&token_file, token).unwrap();
    make_private(&token_file);
    let server = Server::start_with(&["--api-token-file", token_file.to_str().unwrap()]);
    std::fs::remove_dir_all(server.data()).unwrap();

    let ready = (0..20_000)
        .map(|_| server.get("/readyz"))
        .find(|answer| answer.status == 503)
        .unwrap();
    assert_eq!(ready.body, r#"{"ready":false}"#);
    assert_eq!(server.get("/healthz").status, 200);
    let told = server.send(
        "GET",
        "/readyz",
        &[("Authorization", &format!("Bearer {token}"))],
        "",
    );
    assert!(
        told.json()["reason"]
            .as_str()
            .unwrap()
            .contains("cannot be looked at"),
        "{}",
        told.body
    );
}

fn make_private(file: &std::path::Path) {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(file, std::fs::Permissions::from_mode(0o600)).unwrap();
}

#[test]
fn the_first_page_anybody_sees_loads_nothing_from_elsewhere() {
    let server = Server::start();
    for (path, next) in [("/", "/sign-on?next=%2F"), ("/sign-on?next=%2F", "/set-up")] {
        let led = server.send("GET", path, &[PAGE], "");
        assert_eq!((led.status, led.header("location")), (303, Some(next)));
    }
    let page = server.send("GET", "/set-up", &[PAGE], "");
    assert_eq!(page.status, 200);
    assert_eq!(
        page.header("content-type"),
        Some("text/html; charset=utf-8")
    );
    assert!(
        page.body
            .contains("Local codes, the maker's instructions and licensed practice come first.")
    );
    for foreign in [
        "http:",
        "https:",
        "<style",
        "style=",
        "onclick",
        "href=\"//",
        "src=\"//",
    ] {
        assert!(!page.body.contains(foreign), "{foreign}");
    }
    for script in page.body.split("<script").skip(1) {
        assert!(
            script.contains(" src=\"/static/"),
            "no script stands in the page: {script}"
        );
    }
}

#[test]
fn an_unknown_address_is_a_problem_for_programs_and_a_page_for_people() {
    let server = Server::start();
    let json = server.send("GET", "/none", &[JSON], "");
    assert_eq!(json.status, 404);
    assert_eq!(
        json.header("content-type"),
        Some("application/problem+json")
    );
    let problem = json.json();
    assert_eq!(problem["status"], 404);
    assert_eq!(problem["type"], "/problems/not-found");
    assert_eq!(
        problem["instance"],
        format!("urn:uuid:{}", json.header("x-request-id").unwrap())
    );

    let page = server.send("GET", "/none", &[PAGE], "");
    assert_eq!(page.status, 404);
    assert_eq!(
        page.header("content-type"),
        Some("text/html; charset=utf-8")
    );
    assert!(page.body.contains("href=\"/\">Go to the start page</a>"));
    assert!(page.body.contains(page.header("x-request-id").unwrap()));
}

#[test]
fn a_method_that_an_address_does_not_take_is_answered_with_what_it_takes() {
    let server = Server::start();
    for method in ["POST", "TRACE", "BREW"] {
        let answer = server.send(method, "/healthz", &[JSON], "");
        assert_eq!(
            (answer.status, answer.header("allow")),
            (405, Some("GET,HEAD")),
            "{method}"
        );
    }
}

#[test]
fn every_answer_carries_the_security_headers() {
    let server = Server::start();
    for (method, path) in [
        ("GET", "/"),
        ("HEAD", "/"),
        ("GET", "/healthz"),
        ("GET", "/readyz"),
        ("GET", "/none"),
        ("PUT", "/"),
    ] {
        let answer = server.send(method, path, &[PAGE], "");
        let policy = answer.header("content-security-policy").unwrap();
        assert!(
            policy.starts_with("default-src 'none'; script-src 'self'"),
            "{method} {path}: {policy}"
        );
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "same-origin"),
            ("cache-control", "no-store"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
        ] {
            assert_eq!(answer.header(name), Some(value), "{method} {path}");
        }
        assert!(
            answer
                .header("permissions-policy")
                .unwrap()
                .starts_with("camera=(self)")
        );
        assert_eq!(answer.header("server"), None);
        assert_eq!(
            answer.header("strict-transport-security"),
            None,
            "this is plain HTTP"
        );
    }
}

#[test]
fn behind_a_proxy_browsers_are_told_to_stay_with_https() {
    let server = Server::start_with(&["--behind-proxy", "--origin", "https://coolant.example"]);
    let answer = server.get("/");
    assert_eq!(
        answer.header("strict-transport-security"),
        Some("max-age=31536000; includeSubDomains")
    );
}

#[test]
fn each_request_is_one_json_line_in_the_log_without_the_address_as_typed() {
    let server = Server::start_with(&["--log-format", "json"]);
    let answer = server.get("/healthz?pin=123456");
    server.get("/none/canary");
    server.signal(rustix::process::Signal::TERM);
    let log = server.log();
    let lines: Vec<serde_json::Value> = log
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let line = lines
        .iter()
        .find(|line| line["span"]["http.route"] == "/healthz")
        .unwrap();
    assert_eq!(line["http.status"], 200);
    assert_eq!(
        line["span"]["request.id"],
        answer.header("x-request-id").unwrap()
    );
    assert!(line["ms"].is_u64());
    assert!(!log.contains("123456") && !log.contains("canary"), "{log}");
}
