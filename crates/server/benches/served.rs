//! How long the whole program takes for its pages, over HTTP, at 10,000 units and as many facts as are
//! asked for with `PAGES_FACTS`, while it takes in jobs beside.
//!
//! The record is the one of the storage crate's benchmark, with a site under rules added to it, and all
//! of its months closed but the last two. A request is measured from the connection to the last byte.
//! `PAGES_ONLY` names parts of addresses, by commas: no other page is asked for.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    reason = "a benchmark prints its figures and stops when its scene is wrong"
)]

#[path = "../../../tests/e2e/pages/browser.rs"]
#[expect(dead_code, reason = "it serves the tests too")]
mod browser;
#[path = "../../../tests/e2e/client.rs"]
#[expect(dead_code, reason = "it serves the tests too")]
mod client;
#[path = "../../storage/benches/fleet/mod.rs"]
mod fleet;
#[path = "../../storage/benches/fleet/record.rs"]
mod record;

use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use browser::{Browser, hidden, unescaped};
use domain::book::month::Month;
use domain::fact::What;
use domain::fleet::{Role, Roles};
use domain::ids::FactKey;
use domain::moment::Moment;
use domain::quantity::Temperature;
use domain::waste::{Basis, Determination, Hazardous, ProfileChosen};
use domain::words::Text;
use fleet::shop::{self, PERSON, SITE, START, fact};
use fleet::{Numbers, UNITS, VESSELS, a_vessel, id, opened};
use record::{first_month, made};
use storage::Via;
use uuid::Uuid;

const PROGRAM: &str = env!("CARGO_BIN_EXE_coolant-ledger");
const PASSWORD: &str = "violet kettle on nine trams";
const ROUNDS: usize = 200;
/// Of pages that take long.
const FEW: usize = 30;
/// A thousand times as often as in the record.
const WRITES_APART: Duration = Duration::from_millis(250);
const RULES_FROM: &str = "2016-01-01";

/// Cards the record of the storage benchmark has none of, and what the site stated.
fn stated() -> Vec<What> {
    let from = RULES_FROM.parse().unwrap();
    let mut all = shop::site_cards();
    for what in &mut all {
        if let What::Shop(shop) = what {
            shop.winter_low = Some(Temperature::from_millicelsius(-31_000).unwrap());
        }
    }
    all.extend([
        What::Roles(Roles {
            person: PERSON,
            shop: None,
            roles: vec![Role::Manager, Role::ComplianceOfficer, Role::Administrator],
        }),
        What::ProfileChosen(ProfileChosen {
            site: SITE,
            jurisdiction: "us-fed".to_owned(),
            from,
            way: None,
            on_hold: false,
            number: None,
        }),
        What::Determination(Determination {
            site: SITE,
            vessel: None,
            covers_from: from,
            hazardous: Hazardous::Yes,
            codes: Vec::new(),
            recycled: None,
            basis: Basis::Knowledge(Text::plain("invented").unwrap()),
        }),
    ]);
    all
}

/// Puts in what was stated, which is there already in a record that was used before.
async fn state(folder: &Path) {
    let store = opened(folder).await;
    for (n, what) in (0_u64..).zip(stated()) {
        let key = FactKey(Uuid::from_u64_pair(0x5e72_ed00, n));
        let command = storage::Command::plain(key, fact(START, what), Via::Form);
        store.append(command).await.unwrap();
    }
    store.settled().await;
    store.close().await.unwrap();
}

/// The running program; it is ended with the benchmark.
struct Running {
    child: Child,
    address: SocketAddr,
    code: String,
}

impl Running {
    fn start(folder: &Path) -> Self {
        let began = Instant::now();
        let mut child = Command::new(PROGRAM)
            .args(["serve", "--listen", "127.0.0.1:0", "--new-set-up-code"])
            .arg("--data")
            .arg(folder)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let (mut address, mut code) = (None, None);
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        while address.is_none() || code.is_none() {
            let line = lines.next().unwrap().unwrap();
            if let Some(origin) = line.strip_prefix("listening on ") {
                address = origin.rsplit("//").next().unwrap().parse().ok();
            }
            if let Some(said) = line.strip_prefix("set-up code: ") {
                code = Some(said.to_owned());
            }
        }
        println!("ready in {:.1} s", began.elapsed().as_secs_f64());
        Self {
            child,
            address: address.unwrap(),
            code: code.unwrap(),
        }
    }

    fn sign_on(&self) -> Browser {
        let browser = Browser::new(self.address);
        let page = browser.post("/set-up", &[("code", &self.code)]).body;
        let who = PERSON.0.to_string();
        let fields = [
            ("code", self.code.as_str()),
            ("step", "on_record"),
            ("key", &hidden(&page, "key").unwrap()),
            ("opened", "1790000000000"),
            ("who", &who),
            ("password", PASSWORD),
            ("password_again", PASSWORD),
        ];
        let answer = browser.post("/set-up", &fields);
        assert_eq!(answer.status, 303, "{}", answer.body);
        browser
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

/// A server that has just begun reads what was done to its units; until then it may ask for patience.
fn wait_for_board(browser: &Browser) {
    let began = Instant::now();
    while browser.get("/").status == 503 {
        assert!(began.elapsed() < Duration::from_mins(5), "no board");
    }
    println!(
        "the first board after {:.1} s",
        began.elapsed().as_secs_f64()
    );
}

/// Closes every month of the record from the first to the last, as the officer does.
fn close_months(browser: &Browser, (first, last): (Month, Month)) {
    let began = Instant::now();
    let all = std::iter::successors(Some(first), |month| Some(month.after()))
        .take_while(|month| *month <= last);
    let (mut closed, mut proved) = (0, Instant::now());
    for month in all {
        let page = browser.get(&format!("/waste/close?month={month}")).body;
        if page.contains("Signed by") {
            continue;
        }
        let Some(form) = page
            .split("<form")
            .find(|form| form.contains("action=\"/waste/close\""))
        else {
            panic!("nothing to sign in {month}");
        };
        let fields: Vec<(String, String)> = form
            .split("<input type=\"hidden\" name=\"")
            .skip(1)
            .map(|tag| {
                let (name, rest) = tag.split_once("\" value=\"").unwrap();
                (name.to_owned(), unescaped(rest.split('"').next().unwrap()))
            })
            .collect();
        let fields: Vec<(&str, &str)> = fields
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        if proved.elapsed() > Duration::from_mins(1) {
            let answer = browser.post("/prove", &[("password", PASSWORD), ("next", "/waste")]);
            assert_eq!(answer.status, 303, "who closes is asked for again");
            proved = Instant::now();
        }
        let answer = browser.post("/waste/close", &fields);
        assert_eq!(answer.status, 303, "{month}");
        closed += 1;
    }
    println!(
        "{closed} months closed in {:.1} s",
        began.elapsed().as_secs_f64()
    );
}

fn part(sorted: &[Duration], percent: usize) -> f64 {
    let at = (sorted.len() * percent / 100).min(sorted.len() - 1);
    1e3 * sorted[at].as_secs_f64()
}

fn is_asked_for(name: &str) -> bool {
    let Ok(only) = std::env::var("PAGES_ONLY") else {
        return true;
    };
    only.split(',')
        .any(|part| name == part || (part.len() > 1 && name.contains(part)))
}

/// Asks for a page again and again and prints how long it took.
fn timed(browser: &Browser, (name, rounds): (&str, usize), path: impl Fn(u64) -> String) {
    if !is_asked_for(name) {
        return;
    }
    let mut numbers = Numbers(7);
    let mut took = Vec::new();
    let (mut bytes, mut first) = (0, None);
    for _ in 0..rounds {
        let path = path(numbers.next());
        let began = Instant::now();
        let answer = browser.get(&path);
        let each = began.elapsed();
        assert_eq!(answer.status, 200, "{path}");
        bytes = answer.bytes.len();
        first.get_or_insert(each);
        took.push(each);
    }
    took.sort_unstable();
    println!(
        "  {name:<28} p50 {:7.1} ms  p99 {:7.1} ms  first {:7.1} ms  {:5} kB",
        part(&took, 50),
        part(&took, 99),
        1e3 * first.unwrap().as_secs_f64(),
        bytes / 1_000
    );
}

/// Sends condition tests as another program does until it is told to stop.
fn write(address: SocketAddr, is_over: &AtomicBool) -> (usize, Duration) {
    let mut numbers = Numbers(13);
    let (mut written, mut longest) = (0, Duration::ZERO);
    while !is_over.load(Ordering::Relaxed) {
        let job = serde_json::json!({
            "key": Uuid::new_v4(), "kind": "condition_test", "when": "2026-10-04 08:15",
            "unit": numbers.below(UNITS).to_string(), "shop": "Heavy bay",
            "reading": "50 %", "scale": "EG", "who": "P3",
        });
        let (host, body) = (address.to_string(), job.to_string());
        let length = body.len().to_string();
        let headers = [
            ("Host", host.as_str()),
            ("Content-Type", "application/json"),
            ("Content-Length", length.as_str()),
        ];
        let request = client::request("POST", "/api/v1/jobs", &headers, &body);
        let began = Instant::now();
        let answer = client::send_raw(address, &request);
        // 202: taken in, and something about it is asked.
        assert!(matches!(answer.status, 201 | 202), "{}", answer.body);
        longest = longest.max(began.elapsed());
        written += 1;
        std::thread::park_timeout(WRITES_APART);
    }
    (written, longest)
}

fn pages(browser: &Browser) {
    let plain = |path: &'static str| move |_| path.to_owned();
    for path in [
        "/",
        "/units",
        "/units?status=act",
        "/winter",
        "/winter/plan",
        "/corrosion",
        "/leaks",
        "/due",
        "/stock",
        "/laboratory",
        "/vessels",
        "/checking",
        "/records",
        "/labels",
    ] {
        timed(browser, (path, ROUNDS), plain(path));
    }
    for path in ["/retrofit", "/figures"] {
        timed(browser, (path, FEW), plain(path));
    }
    timed(browser, ("a unit", ROUNDS), |n| {
        format!("/units/{}", id(3, n % UNITS))
    });
    timed(browser, ("a vessel", ROUNDS), |n| {
        format!("/vessels/{}", a_vessel(n % VESSELS).place().unwrap())
    });
}

fn waste(browser: &Browser, (first, last): (Month, Month)) {
    let years = [
        ("the last year", format!("month={last}")),
        ("the first year", format!("year={}", first.year() + 1)),
    ];
    for (name, asked) in &years {
        for page in ["/waste/year", "/waste/streams.csv", "/waste/months.csv"] {
            let name = format!("{page}, {name}");
            timed(browser, (&name, ROUNDS), |_| format!("{page}?{asked}"));
        }
    }
    for month in [last.after(), last, first.after()] {
        for page in ["/waste", "/waste/close"] {
            let name = format!("{page}, {month}");
            timed(browser, (&name, FEW), |_| format!("{page}?month={month}"));
        }
    }
    timed(browser, ("/waste/containers", FEW), |_| {
        "/waste/containers".to_owned()
    });
    timed(browser, ("/waste/lines", FEW), |_| {
        format!("/waste/lines?month={last}&total=recovered")
    });
}

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() {
    let asked = std::env::var("PAGES_FACTS").unwrap_or_else(|_| "100000".to_owned());
    let facts: i64 = asked.trim().parse().unwrap();
    let folder = made(facts).await;
    state(&folder).await;
    let running = Running::start(&folder);
    let browser = running.sign_on();
    wait_for_board(&browser);
    let now = Month::of(Moment(START).date_at_offset(-360).unwrap());
    let last = now.before();
    let first = first_month(facts);
    close_months(&browser, (first, last.before()));
    println!("nothing else is asked for:");
    waste(&browser, (first, last));
    pages(&browser);
    println!("while jobs are taken in:");
    let is_over = AtomicBool::new(false);
    let (written, longest) = std::thread::scope(|scope| {
        let writing = scope.spawn(|| write(running.address, &is_over));
        waste(&browser, (first, last));
        pages(&browser);
        is_over.store(true, Ordering::Relaxed);
        writing.join().unwrap()
    });
    println!(
        "  {written} jobs taken in, the longest in {:.1} ms",
        1e3 * longest.as_secs_f64()
    );
}
