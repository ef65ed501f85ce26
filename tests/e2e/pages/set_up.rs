//! The first start: a code on the terminal, one form, and nobody who was there before.

use super::browser::{Browser, encoded, hidden};
use super::program::Program;
use crate::{client, server::run};

const PASSWORD: &str = "violet kettle on nine trams";

fn serve(folder: &str, more: &[&str]) -> Program {
    let words = [
        &["serve", "--listen", "127.0.0.1:0", "--data", folder],
        more,
    ]
    .concat();
    Program::start(&words, |said| {
        said.iter().any(|line| line.starts_with("set-up code: "))
    })
}

fn code(program: &Program) -> String {
    let line = program
        .said
        .iter()
        .find_map(|line| line.strip_prefix("set-up code: "));
    line.unwrap().to_owned()
}

fn first<'a>(code: &'a str, key: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![
        ("code", code),
        ("step", "first"),
        ("key", key),
        ("opened", "1790000000000"),
        ("site", "Long Valley 7"),
        ("shop", "Heavy bay"),
        ("zone", "America/Denver"),
        ("altitude", "4660"),
        ("altitude_unit", "ft"),
        ("units", "us"),
        ("decimal_mark", "point"),
        ("paper", "letter"),
        ("handle", "A1"),
        ("name", "Orla Fennimore"),
        ("password", PASSWORD),
        ("password_again", PASSWORD),
    ]
}

fn with<'a>(
    mut fields: Vec<(&'a str, &'a str)>,
    name: &str,
    value: &'a str,
) -> Vec<(&'a str, &'a str)> {
    for field in &mut fields {
        if field.0 == name {
            field.1 = value;
        }
    }
    fields
}

/// The key of a second page that was just opened.
fn open(browser: &Browser, code: &str) -> String {
    let page = browser.post("/set-up", &[("code", code)]);
    assert_eq!(page.status, 200, "{}", page.body);
    hidden(&page.body, "key").unwrap()
}

fn facts(folder: &str) -> usize {
    let listed = run(&["show", "record", "--csv", "--data", folder]);
    assert!(listed.status.success(), "{listed:?}");
    String::from_utf8(listed.stdout).unwrap().lines().count() - 1
}

#[test]
fn a_new_server_is_set_up_once_by_whoever_reads_its_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().to_str().unwrap();
    let program = serve(folder, &[]);
    let browser = Browser::new(program.address);
    let code = code(&program);
    assert_eq!(browser.get("/sign-on").header("location"), Some("/set-up"));
    assert!(
        !browser.get("/set-up").body.contains("name=\"site\""),
        "the code comes first"
    );
    let wrong = browser.post("/set-up", &[("code", "7KQM-2XVD-H9PT")]);
    assert_eq!(wrong.status, 422);
    assert!(wrong.body.contains("9 tries are left") && !wrong.body.contains("name=\"site\""));

    let key = open(&browser, &code.to_lowercase());
    let done = browser.post("/set-up", &first(&code, &key));
    assert_eq!(
        (done.status, done.header("location")),
        (303, Some("/")),
        "{}",
        done.body
    );
    let page = browser.get("/shops").body;
    assert!(page.contains("A1") && page.contains("Orla Fennimore") && page.contains("Heavy bay"));
    assert_eq!(facts(folder), 4, "site, shop, person, roles");

    for answer in [
        browser.get("/set-up"),
        browser.post("/set-up", &first(&code, &key)),
    ] {
        assert_eq!(answer.header("location"), Some("/sign-on"));
    }
    assert_eq!(facts(folder), 4);
    let other = Browser::new(program.address);
    assert_eq!(other.sign_on_by_password("A1", PASSWORD).status, 303);
    program.stop();
    let verified = run(&["verify", "--data", folder]);
    assert!(verified.status.success(), "{verified:?}");
}

#[test]
fn whatever_is_wrong_is_named_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().to_str().unwrap();
    let program = serve(folder, &[]);
    let browser = Browser::new(program.address);
    let code = code(&program);
    let key = open(&browser, &code);
    let long = "x".repeat(101);
    for (name, typed, problem) in [
        ("site", "", "was typed here, and it is needed"),
        ("site", "a\u{0}b", "U+0000"),
        ("shop", long.as_str(), "the most taken is 100"),
        ("zone", "", "was chosen here, and it is needed"),
        ("zone", "Mars/Olympus", "not a time zone"),
        ("altitude", "high", "not a whole number from"),
        ("altitude", "NaN", "not a whole number from"),
        ("altitude", "1000000000000000000", "not a whole number from"),
        ("altitude", "1.5", "not a whole number from"),
        ("altitude_unit", "yd", "not one of the answers"),
        ("units", "", "was chosen here, and it is needed"),
        ("paper", "A3", "not one of the answers"),
        ("handle", "", "was typed here, and it is needed"),
        ("handle", "A\u{200b}1", "U+200B"),
        ("name", "", "was typed here, and it is needed"),
        ("password", "short", "is not the same"),
        ("password_again", "", "is not the same"),
        ("key", "", "no key of its own"),
    ] {
        let answer = browser.post("/set-up", &with(first(&code, &key), name, typed));
        assert_eq!(answer.status, 422, "{name}: {typed}");
        assert!(
            answer.body.contains(problem),
            "{name}: {typed}: {}",
            answer.body
        );
        assert!(
            answer.body.contains("Not set up yet: 1 thing to put right"),
            "{name}: {typed}"
        );
        assert!(
            !answer.body.contains(PASSWORD),
            "a secret is never put back"
        );
        if name != "site" {
            assert!(
                answer.body.contains("Long Valley 7"),
                "what was typed stays"
            );
        }
    }
    let weak = "Heavy bay heavy bay";
    let fields = with(
        with(first(&code, &key), "password", weak),
        "password_again",
        weak,
    );
    let answer = browser.post("/set-up", &fields);
    assert!(
        answer.body.contains("words that others would try"),
        "{}",
        answer.body
    );
    let mut more = first(&code, &key);
    more.push(("role", "administrator"));
    assert!(
        browser
            .post("/set-up", &more)
            .body
            .contains("no field &#34;role&#34;")
    );
    assert_eq!(facts(folder), 0);
}

#[test]
fn the_form_sent_twice_sets_up_once() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().to_str().unwrap();
    let program = serve(folder, &[]);
    let code = code(&program);
    let browser = Browser::new(program.address);
    let key = open(&browser, &code);
    let answers = std::thread::scope(|scope| {
        let sent = || Browser::new(program.address).post("/set-up", &first(&code, &key));
        let both = [scope.spawn(sent), scope.spawn(sent)];
        both.map(|one| one.join().unwrap().status)
    });
    assert_eq!(answers, [303, 303]);
    assert_eq!(facts(folder), 4);
}

#[test]
fn ten_wrong_codes_void_the_right_one_until_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().to_str().unwrap();
    let program = serve(folder, &[]);
    let browser = Browser::new(program.address);
    let before = code(&program);
    for _ in 0..10 {
        assert_eq!(
            browser
                .post("/set-up", &[("code", "AAAA-AAAA-AAAA")])
                .status,
            422
        );
    }
    let answer = browser.post("/set-up", &[("code", &before)]);
    assert_eq!(answer.status, 422);
    assert!(answer.body.contains("no longer counts"), "{}", answer.body);
    program.stop();
    let again = serve(folder, &[]);
    let browser = Browser::new(again.address);
    assert_eq!(browser.post("/set-up", &[("code", &before)]).status, 422);
    open(&browser, &code(&again));
}

#[test]
fn a_lost_password_is_replaced_by_whoever_can_start_the_program() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path().to_str().unwrap();
    let program = serve(folder, &[]);
    let browser = Browser::new(program.address);
    let key = open(&browser, &code(&program));
    assert_eq!(
        browser
            .post("/set-up", &first(&code(&program), &key))
            .status,
        303
    );
    program.stop();

    let program = serve(folder, &["--new-set-up-code"]);
    let browser = Browser::new(program.address);
    let code = code(&program);
    let page = browser.post("/set-up", &[("code", &code)]).body;
    assert!(page.contains("A1 Orla Fennimore") && !page.contains("A new administrator"));
    let person = page.split("name=\"who\" value=\"").nth(1).unwrap();
    let person = person.split('"').next().unwrap();
    let new = "seven otters read at dusk";
    let fields = [
        ("code", code.as_str()),
        ("step", "on_record"),
        ("key", &hidden(&page, "key").unwrap()),
        ("opened", "1790000000000"),
        ("who", person),
        ("password", new),
        ("password_again", new),
    ];
    assert_eq!(browser.post("/set-up", &fields).status, 303);
    let other = Browser::new(program.address);
    assert_eq!(other.sign_on_by_password("A1", PASSWORD).status, 422);
    assert_eq!(other.sign_on_by_password("A1", new).status, 303);
    assert_eq!(facts(folder), 4, "a password is no fact");
}

#[test]
fn a_record_without_anybody_who_can_sign_on_gets_a_new_administrator() {
    let folder = tempfile::tempdir().unwrap();
    import_a_week(folder.path());
    let folder = folder.path().to_str().unwrap();
    let before = facts(folder);
    let program = serve(folder, &[]);
    let browser = Browser::new(program.address);
    let code = code(&program);
    let page = browser.post("/set-up", &[("code", &code)]).body;
    assert!(page.contains("A new administrator") && !page.contains("name=\"site\""));
    let key = hidden(&page, "key").unwrap();
    let fields = [
        ("code", code.as_str()),
        ("step", "on_record"),
        ("key", &key),
        ("opened", "1790000000000"),
        ("who", "new"),
        ("handle", "A1"),
        ("name", "Orla Fennimore"),
        ("password", PASSWORD),
        ("password_again", PASSWORD),
    ];
    assert_eq!(browser.post("/set-up", &fields).status, 303);
    assert!(browser.get("/shops").body.contains("Yard"));
    assert_eq!(facts(folder), before + 2, "person and roles");
}

#[test]
fn over_https_the_session_is_kept_for_this_very_host() {
    let folder = tempfile::tempdir().unwrap();
    let tls = folder.path().join("tls");
    let tls_folder = tls.display().to_string();
    let made = run(&[
        "certificate",
        "--out",
        &tls_folder,
        "--name",
        "coolant.test",
        "127.0.0.1",
    ]);
    assert!(made.status.success(), "{made:?}");
    let file = |name: &str| tls.join(name).display().to_string();
    let data = folder.path().join("data").display().to_string();
    let (certificate, key) = (file("server.crt"), file("server.key"));
    let program = serve(&data, &["--certificate", &certificate, "--key", &key]);
    let post = |fields: &[(&str, &str)]| {
        let form = ("Content-Type", "application/x-www-form-urlencoded");
        let request = client::request("POST", "/set-up", &[form], &encoded(fields));
        client::send_trusting(program.address, &tls.join("authority.crt"), &request)
    };
    let code = code(&program);
    let page = post(&[("code", &code)]);
    let key = hidden(&page.body, "key").unwrap();
    let done = post(&first(&code, &key));
    assert_eq!(done.status, 303, "{}", done.body);
    let cookie = done.all("set-cookie").join("\n");
    assert!(cookie.starts_with("__Host-session="), "{cookie}");
    assert!(
        cookie.ends_with("; HttpOnly; SameSite=Strict; Secure; Path=/"),
        "{cookie}"
    );
    assert!(done.header("strict-transport-security").is_some());
}

fn import_a_week(folder: &std::path::Path) {
    let mut words = vec!["import".to_owned(), "--zone".to_owned(), "UTC".to_owned()];
    for (name, text) in [
        (
            "units",
            "unit,kind,shop,loop,base,class,capacity,cap_rating,opening_strength\n\
             1,truck,Yard,engine,EG,OAT,40 L,,50 %\n",
        ),
        (
            "vessels",
            "vessel,kind,shop,capacity,fill_limit,holds,base,class,opening_volume,opening_strength\n\
             V,drum,Yard,208 L,,fresh,EG,OAT,100 L,50 %\n",
        ),
        (
            "jobs",
            "when,kind,unit,from,to,volume,temperature,fluid,at_mark,meter,who,note\n",
        ),
    ] {
        let file = folder.join(format!("{name}.csv"));
        std::fs::write(&file, text).unwrap();
        words.extend([format!("--{name}"), file.display().to_string()]);
    }
    words.extend(["--data".to_owned(), folder.display().to_string()]);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let imported = run(&words);
    assert!(imported.status.success(), "{imported:?}");
}
