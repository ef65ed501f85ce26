//! Jobs that were saved on a tablet without network, as its script sends them later.

use domain::moment::MINUTE_MS;
use serde_json::{Value, json};
use uuid::Uuid;

use super::browser::{Browser, encoded};
use super::form::text;
use super::job::paper::{Paper, contents, place, unit_path};
use super::shop::{As, Shop};
use crate::client::Answer;

const TECHNICIAN: As = As::Technician;
const OTHER: As = As::OtherTechnician;

/// A job as the tablet of somebody keeps it.
struct Job {
    who: As,
    form: Paper,
    body: Value,
}

impl Job {
    fn of(shop: &Shop, who: As, form: Paper) -> Self {
        let fields: Vec<(&str, &str)> = form
            .fields
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect();
        let page = shop.get(who, "/").body;
        let person = page.split("data-person=\"").nth(1).unwrap();
        let now = now(shop, who);
        let body = json!({
            "format": 1, "key": form.get("key"), "sequence": 1, "store": Uuid::from_u128(7),
            "address": form.path, "fields": encoded(&fields),
            "person": person.split('"').next().unwrap(), "proved": "pin",
            "opened_at": now - 1000, "saved_at": now, "clock_offset_ms": 0,
        });
        Self { who, form, body }
    }

    /// A top-up from a drum.
    fn top_up(shop: &Shop, who: As, number: &str, volume: &str) -> Self {
        let form = Paper::open(shop, who, &unit_path(shop, number, "top_up"))
            .with("source", &place(shop, "D-1").to_string())
            .with("volume", volume);
        Self::of(shop, who, form)
    }

    fn with(mut self, name: &str, value: impl Into<Value>) -> Self {
        let fields = self.body.as_object_mut().unwrap();
        fields.insert(name.to_owned(), value.into());
        self
    }

    fn key(&self) -> &str {
        self.form.get("key")
    }

    fn send(&self, shop: &Shop) -> Answer {
        shop.with_browser(self.who, |tablet| {
            post(tablet, "/tablet/jobs", &self.body.to_string())
        })
    }
}

fn post(tablet: &Browser, path: &str, body: &str) -> Answer {
    let headers = [
        ("Content-Type", "application/json"),
        ("Sec-Fetch-Site", "same-origin"),
    ];
    tablet.send(("POST", path), &headers, body)
}

fn contact(shop: &Shop, who: As, store: u128, waiting: u32) -> Answer {
    let told = json!({ "store": Uuid::from_u128(store), "waiting": waiting, "now_ms": 0 });
    shop.with_browser(who, |tablet| {
        post(tablet, "/tablet/contact", &told.to_string())
    })
}

/// What the server says the time is.
fn now(shop: &Shop, who: As) -> i64 {
    let told = contact(shop, who, 7, 0).json();
    told.get("now_ms").and_then(Value::as_i64).unwrap()
}

#[test]
fn a_job_whose_answer_was_lost_is_on_record_once_whichever_way_it_comes_again() {
    let shop = Shop::open();
    let drum = contents(&shop, "D-1").shown_ml;
    let straight = Job::top_up(&shop, TECHNICIAN, "3301", "1.5");
    let fields = straight.body["fields"].as_str().unwrap().to_owned();
    let saved = shop.with_browser(TECHNICIAN, |tablet| {
        let headers = [
            ("Content-Type", "application/x-www-form-urlencoded"),
            ("Sec-Fetch-Site", "same-origin"),
            ("Accept", "application/json"),
        ];
        tablet.send(("POST", &straight.form.path), &headers, &fields)
    });
    assert_eq!(saved.status, 201, "{}", saved.body);
    assert_eq!(saved.json()["key"], straight.key());
    assert!(saved.header("x-app-version").is_some());
    let facts = shop.facts();
    for _ in 0..2 {
        let again = straight.send(&shop);
        assert_eq!(again.status, 201, "{}", again.body);
        assert_eq!(again.json()["state"], "accepted");
        assert_eq!(again.json()["address"], format!("/jobs/{}", straight.key()));
    }
    let later = Job::top_up(&shop, TECHNICIAN, "3302", "2.0");
    let first = later.send(&shop);
    assert_eq!(first.status, 201, "{}", first.body);
    assert_eq!(later.send(&shop).body, first.body);
    later.form.saved(&shop, TECHNICIAN);
    assert_eq!(shop.facts(), facts + 1);
    let left = contents(&shop, "D-1").shown_ml;
    assert!((left - drum + 3_500).abs() <= 1, "{left} of {drum}");

    let other = Job::of(&shop, TECHNICIAN, later.form.with("volume", "9"));
    let refused = other.send(&shop);
    assert_eq!(refused.status, 422);
    assert_eq!(refused.json()["state"], "used_for_another");
    assert_eq!(later.send(&shop).body, first.body, "the first is unharmed");
    shop.book_is_closed();
}

#[test]
fn one_that_is_returned_or_not_readable_keeps_no_other_back() {
    let shop = Shop::open();
    let empty = Job::top_up(&shop, TECHNICIAN, "3301", "");
    let answer = empty.send(&shop);
    assert_eq!(answer.status, 422);
    assert_eq!(answer.json()["state"], "returned");
    assert_eq!(answer.json()["problems"][0]["field"], "volume");
    let later = Job::top_up(&shop, TECHNICIAN, "3301", "1.1").with("format", 2);
    let answer = later.send(&shop);
    assert_eq!(
        (answer.status, &answer.json()["state"]),
        (400, &json!("not_readable"))
    );
    let stranger = Job::top_up(&shop, TECHNICIAN, "3301", "1.2")
        .with("person", Uuid::from_u128(9).to_string());
    assert_eq!(stranger.send(&shop).json()["state"], "returned");
    // Nobody is signed on any more, which a tablet does not need.
    let job = Job::top_up(&shop, TECHNICIAN, "3301", "1.3");
    shop.with_browser(TECHNICIAN, |tablet| tablet.drop_cookie("session"));
    assert_eq!(job.send(&shop).status, 201);
    // What the first format lacked.
    let mut old = Job::top_up(&shop, OTHER, "3302", "1.4").with("format", 0);
    let fields = old.body.as_object_mut().unwrap();
    for name in ["sequence", "store", "clock_offset_ms"] {
        fields.remove(name);
    }
    assert_eq!(old.send(&shop).status, 201);
}

#[test]
fn what_changed_meanwhile_is_asked_about_and_never_refused() {
    let shop = Shop::open();
    let job = Job::top_up(&shop, TECHNICIAN, "3303", "90");
    let answer = job.send(&shop);
    assert_eq!(answer.status, 202, "{}", answer.body);
    let told = answer.json();
    assert_eq!(told["state"], "needs_checking");
    assert!(!told["questions"].as_array().unwrap().is_empty());
    assert_eq!(job.send(&shop).body, answer.body);
    // A unit that is on no list: kept, and asked about.
    let mut lost = Job::top_up(&shop, TECHNICIAN, "3304", "1.9");
    lost.body["address"] = json!(format!("/units/{}/jobs/top_up", Uuid::from_u128(77)));
    assert_eq!(lost.send(&shop).status, 202);
    shop.book_is_closed();
}

#[test]
fn two_tablets_that_log_the_same_are_asked_and_a_wrong_clock_is_put_right() {
    let shop = Shop::open();
    assert_eq!(
        Job::top_up(&shop, TECHNICIAN, "3305", "2.2")
            .send(&shop)
            .status,
        201
    );
    let twice = Job::top_up(&shop, OTHER, "3305", "2.2").send(&shop);
    assert_eq!(twice.status, 202);
    assert!(twice.body.contains("ogged twice"), "{}", twice.body);

    let hours = 3 * 60 * MINUTE_MS;
    let ahead = |job: Job| {
        let saved = job.body["saved_at"].as_i64().unwrap() + hours;
        job.with("saved_at", saved)
            .with("opened_at", saved - 1000)
            .with("clock_offset_ms", -hours)
    };
    let job = ahead(Job::top_up(&shop, TECHNICIAN, "3306", "1.6"));
    assert_eq!(job.send(&shop).status, 201, "corrected, it lies at now");
    let not_heard = Job::top_up(&shop, TECHNICIAN, "3307", "1.7");
    let not_heard = ahead(not_heard).with("clock_offset_ms", Value::Null);
    let answer = not_heard.send(&shop);
    assert_eq!(
        answer.status, 202,
        "not believed, and not proved: {}",
        answer.body
    );
    shop.book_is_closed();
}

#[test]
fn a_name_that_nobody_proved_is_to_be_confirmed() {
    let shop = Shop::open();
    let named = Job::top_up(&shop, TECHNICIAN, "3301", "1.5").with("proved", "unconfirmed");
    let answer = named.send(&shop);
    assert_eq!(answer.status, 202, "{}", answer.body);
    assert!(answer.body.contains("nobody showed"), "{}", answer.body);
    // It says PIN, but nobody by that name was ever signed on at this tablet.
    let claimed = Job::top_up(&shop, TECHNICIAN, "3302", "1.5");
    let p2 = Job::top_up(&shop, OTHER, "3302", "1.5").body["person"].clone();
    assert_eq!(claimed.with("person", p2).send(&shop).status, 202);
    let page = text(&shop.get(As::LeadHand, "/checking").body);
    assert!(page.contains("name was chosen on a tablet"), "{page}");
}

#[test]
fn a_void_that_waited_takes_out_the_job_that_waited_before_it() {
    let shop = Shop::open();
    let drum = contents(&shop, "D-1").shown_ml;
    let job = Job::top_up(&shop, TECHNICIAN, "3301", "3.5");
    let void = Paper {
        path: format!("/jobs/{}/void", job.key()),
        fields: vec![("reason".to_owned(), "Wrong unit".to_owned())],
    };
    let void = Job::of(&shop, TECHNICIAN, void).with("key", Uuid::from_u128(78).to_string());
    assert_eq!(void.send(&shop).status, 422, "not on record yet");
    assert_eq!(job.send(&shop).status, 201);
    for _ in 0..2 {
        let answer = void.send(&shop);
        assert_eq!(answer.status, 201, "{}", answer.body);
        assert_eq!(answer.json()["key"], void.body["key"]);
    }
    assert_eq!(contents(&shop, "D-1").shown_ml, drum);
    let page = shop.get(TECHNICIAN, &format!("/jobs/{}", job.key()));
    assert_eq!(page.status, 200);
    assert!(text(&page.body).contains("Wrong unit"));
    shop.book_is_closed();
}

#[test]
fn a_name_that_nobody_proved_takes_back_no_job_that_was_proved() {
    let shop = Shop::open();
    let logged = Paper::open(&shop, As::Manager, &unit_path(&shop, "3301", "top_up"))
        .with("source", &place(&shop, "D-1").to_string())
        .with("volume", "3.5");
    let saved = logged.saved(&shop, As::Manager);
    let manager = json!(saved.row.person.unwrap().0);
    let facts = shop.facts();
    let void = |job: &str, key: u128, person: &Value| {
        let paper = Paper {
            path: format!("/jobs/{job}/void"),
            fields: vec![("reason".to_owned(), "Wrong unit".to_owned())],
        };
        Job::of(&shop, TECHNICIAN, paper)
            .with("key", Uuid::from_u128(key).to_string())
            .with("person", person.clone())
    };
    // Whoever holds the tablet can write any name and any proof into what it sends.
    for (key, proved) in [(90, "unconfirmed"), (91, "pin"), (92, "password")] {
        let claimed = void(logged.get("key"), key, &manager).with("proved", proved);
        let answer = claimed.send(&shop);
        assert_eq!(answer.status, 422, "{proved}: {}", answer.body);
        assert_eq!(answer.json()["state"], "returned");
    }
    assert_eq!(shop.facts(), facts, "nothing was taken out");
    // What went in under a chosen name goes out under it.
    let named = Job::top_up(&shop, TECHNICIAN, "3302", "1.5")
        .with("person", manager.clone())
        .with("proved", "unconfirmed");
    assert_eq!(named.send(&shop).status, 202, "kept, name to confirm");
    let void = void(named.key(), 93, &manager).with("proved", "unconfirmed");
    let answer = void.send(&shop);
    assert_eq!(answer.status, 201, "{}", answer.body);
    shop.book_is_closed();
}

#[test]
fn whoever_a_chosen_name_belongs_to_says_whether_it_was_them() {
    let shop = Shop::open();
    let open = |shop: &Shop| {
        let page = text(&shop.get(As::LeadHand, "/checking").body);
        page.matches("name was chosen on a tablet").count()
    };
    let before = open(&shop);
    let keys: Vec<String> = ["3301", "3302"]
        .iter()
        .map(|number| {
            let job = Job::top_up(&shop, TECHNICIAN, number, "1.5").with("proved", "unconfirmed");
            assert_eq!(job.send(&shop).status, 202);
            job.key().to_owned()
        })
        .collect();
    assert_eq!(open(&shop), before + 2);
    let board = text(&shop.get(TECHNICIAN, "/").body);
    let told = "2 jobs are to be confirmed under your name.";
    assert!(board.contains(told), "{board}");
    assert!(!text(&shop.get(OTHER, "/").body).contains("under your name"));

    let fields = |key: &str| {
        [
            ("job", key),
            ("line", "0"),
            ("kind", "name_to_confirm"),
            ("back", "asked"),
            ("said_before", "0"),
        ]
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .to_vec()
    };
    let was_me = Paper {
        path: "/checking".to_owned(),
        fields: fields(&keys[0]),
    }
    .and("decision", "accept");
    assert_eq!(was_me.send(&shop, OTHER).status, 403, "it is another's");
    assert_eq!(was_me.send(&shop, TECHNICIAN).status, 303);
    let was_not_me = Paper {
        path: "/asked".to_owned(),
        fields: fields(&keys[1]),
    }
    .and("not_me", "yes");
    assert_eq!(was_not_me.send(&shop, OTHER).status, 422);
    assert_eq!(was_not_me.send(&shop, TECHNICIAN).status, 303);
    assert_eq!(
        open(&shop),
        before + 1,
        "one was theirs, one is not settled"
    );
    let page = text(&shop.get(As::LeadHand, "/checking").body);
    assert!(page.contains("It was not me."), "{page}");
    shop.book_is_closed();
}

#[test]
fn two_hundred_jobs_after_a_long_outage_stand_in_the_order_they_were_saved() {
    let shop = Shop::open();
    let first = Job::top_up(&shop, TECHNICIAN, "3301", "0.1");
    let saved = first.body["saved_at"].as_i64().unwrap() - 60 * MINUTE_MS;
    let facts = shop.facts();
    let keys: Vec<String> = (0..200_i64)
        .map(|n| {
            let key = Uuid::from_u128(0x5000 + u128::try_from(n).unwrap()).to_string();
            let form = first.form.with("key", &key);
            let job = Job {
                who: TECHNICIAN,
                body: first.body.clone(),
                form,
            };
            let fields: Vec<(&str, &str)> = job
                .form
                .fields
                .iter()
                .map(|(name, value)| (name.as_str(), value.as_str()))
                .collect();
            let fields = encoded(&fields);
            let at = saved + n * 15_000;
            let job = job
                .with("key", key.clone())
                .with("fields", fields)
                .with("saved_at", at)
                .with("opened_at", at - 1000);
            let answer = job.send(&shop);
            assert!([201, 202].contains(&answer.status), "{}", answer.body);
            key
        })
        .collect();
    assert_eq!(shop.facts(), facts + 200);
    let unit = contents(&shop, "3301").unit.unwrap();
    let order: Vec<String> = shop.read(async |read| {
        let jobs = read.list_jobs_of_unit(unit, None, 200).await.unwrap();
        jobs.iter()
            .rev()
            .map(|job| job.order.key.to_string())
            .collect()
    });
    assert_eq!(order, keys);
    shop.book_is_closed();
}

#[test]
fn a_tablet_that_is_none_keeps_all_and_one_that_lost_jobs_is_told_of() {
    let shop = Shop::open();
    let job = Job::top_up(&shop, TECHNICIAN, "3301", "1.5");
    let nobody = shop.browser();
    let answer = post(&nobody, "/tablet/jobs", &job.body.to_string());
    assert_eq!(
        (answer.status, &answer.json()["state"]),
        (401, &json!("not_enrolled"))
    );
    assert_eq!(nobody.get("/tablet/list").status, 401);
    let away = shop.with_browser(TECHNICIAN, |tablet| {
        let headers = [
            ("Content-Type", "application/json"),
            ("Sec-Fetch-Site", "cross-site"),
        ];
        tablet.send(("POST", "/tablet/jobs"), &headers, &job.body.to_string())
    });
    assert_eq!(away.status, 403);

    assert_eq!(contact(&shop, TECHNICIAN, 7, 3).status, 200);
    let page = text(&shop.get(As::Manager, "/tablets").body);
    assert!(page.contains("3 jobs wait to be sent"), "{page}");
    assert!(!page.contains("lost"), "{page}");
    contact(&shop, TECHNICIAN, 8, 0);
    let html = shop.get(As::Manager, "/tablets").body;
    assert!(
        text(&html).contains("This tablet lost 3 jobs"),
        "{}",
        text(&html)
    );
    let button = html
        .split("/lost\"")
        .next()
        .unwrap()
        .rsplit('"')
        .next()
        .unwrap();
    assert_eq!(
        shop.post(As::Manager, &format!("{button}/lost"), &[])
            .status,
        303
    );
    let page = text(&shop.get(As::Manager, "/tablets").body);
    assert!(!page.contains("lost 3 jobs"), "{page}");
}

#[test]
fn what_a_tablet_keeps_is_asked_for_once_and_holds_no_secret() {
    let shop = Shop::open();
    let list = shop.get(TECHNICIAN, "/tablet/list");
    assert_eq!(list.status, 200);
    let told = list.json();
    let units = told["list"]["units"].as_array().unwrap();
    assert!(units.iter().any(|unit| unit["number"] == "3301"));
    assert!(told["as_of"].as_i64().is_some());
    let tag = list.header("etag").unwrap().to_owned();
    let again = shop.with_browser(TECHNICIAN, |tablet| {
        tablet.send(("GET", "/tablet/list"), &[("If-None-Match", &tag)], "")
    });
    assert_eq!((again.status, again.body.as_str()), (304, ""));
    let sheet = shop.get(TECHNICIAN, "/offline/jobs/top_up");
    assert_eq!(sheet.status, 200);
    assert!(sheet.body.contains(" data-offline"));
    assert!(sheet.body.contains("data-tablet=\""));
    assert!(sheet.body.contains("data-proved=\"pin\""));
}

/// Sends a file as the page with its file field does.
fn import(shop: &Shop, who: As, file: &str) -> Answer {
    let body = format!(
        "--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"waiting-jobs.json\"\r\n\
         Content-Type: application/json\r\n\r\n{file}\r\n--edge--\r\n"
    );
    let headers = [
        ("Content-Type", "multipart/form-data; boundary=edge"),
        ("Sec-Fetch-Site", "same-origin"),
    ];
    shop.with_browser(who, |browser| {
        browser.send(("POST", "/waiting/import"), &headers, &body)
    })
}

#[test]
fn a_saved_file_is_taken_in_once_beside_what_the_tablet_sent_itself() {
    let shop = Shop::open();
    let sent = Job::top_up(&shop, TECHNICIAN, "3301", "1.5");
    let kept = Job::top_up(&shop, TECHNICIAN, "3302", "2.0");
    let empty = Job::top_up(&shop, TECHNICIAN, "3303", "");
    assert_eq!(sent.send(&shop).status, 201);
    let facts = shop.facts();
    let jobs = [&sent.body, &kept.body, &empty.body, &json!({ "format": 1 })];
    let file = json!({ "format": 1, "jobs": jobs }).to_string();

    let page = import(&shop, As::LeadHand, &file);
    assert_eq!(page.status, 200, "{}", page.body);
    let states = |page: &Answer| {
        let cells = page.body.split("data-label=\"State\">").skip(1);
        let states = cells.map(|cell| cell.split('<').next().unwrap().to_owned());
        states.collect::<Vec<_>>()
    };
    assert_eq!(
        states(&page),
        [
            "On record already",
            "Taken in",
            "Not taken in",
            "Not taken in"
        ]
    );
    assert_eq!(shop.facts(), facts + 1);
    kept.form.saved(&shop, TECHNICIAN);
    let checking = text(&shop.get(As::LeadHand, "/checking").body);
    assert!(
        checking.contains("name was chosen on a tablet"),
        "{checking}"
    );

    // The same file again, and what the tablet sends after all, is nothing new.
    let again = import(&shop, As::LeadHand, &file);
    assert_eq!(states(&again)[1], "On record already");
    assert!(kept.send(&shop).status < 300);
    assert_eq!(shop.facts(), facts + 1);

    let foreign = import(&shop, As::LeadHand, "no JSON");
    assert_eq!(foreign.status, 422);
    assert!(text(&foreign.body).contains("not a file of waiting jobs"));
    assert_eq!(import(&shop, TECHNICIAN, &file).status, 403);
    assert_eq!(shop.facts(), facts + 1);
    shop.book_is_closed();
}
