//! The trail: who changed what, when, from what to what, and why.

use domain::fact::What;
use storage::Row;

use super::form::{Form, text};
use super::shop::{As, Shop};
use super::void::{job_row, top_up};

fn page(shop: &Shop, who: As, address: &str) -> String {
    let answer = shop.get(who, address);
    assert_eq!(answer.status, 200, "{who:?} {address}: {}", answer.body);
    answer.body
}

/// The events of one page, in the order they stand in.
fn events(html: &str) -> Vec<i64> {
    let rows = html.split("<tbody>").nth(1).unwrap_or_default();
    rows.split("data-label=\"Event\"><a href=\"/records/")
        .skip(1)
        .map(|row| row.split('"').next().unwrap().parse().unwrap())
        .collect()
}

/// The events of all pages.
fn all_events(shop: &Shop, who: As, address: &str) -> Vec<i64> {
    let mut address = address.to_owned();
    let mut all = Vec::new();
    loop {
        let html = page(shop, who, &address);
        all.extend(events(&html));
        let Some(older) = html
            .split("<p class=\"actions\"><a class=\"plain\" href=\"/records?")
            .nth(1)
        else {
            return all;
        };
        let query = older
            .split('"')
            .next()
            .unwrap()
            .replace("&#38;", "&")
            .replace("&amp;", "&");
        address = format!("/records?{query}");
    }
}

/// Noon of 2026-09-15 in Denver.
const NOON: i64 = 1_789_495_200_000;

fn rows(shop: &Shop) -> Vec<Row> {
    shop.read(async |read| read.list_record_after(0, 10_000).await.unwrap())
}

/// The events of the record that are meant, newest first.
fn meant(shop: &Shop, is_meant: impl Fn(&Row) -> bool) -> Vec<i64> {
    let rows = rows(shop);
    let seqs = rows.iter().filter(|row| is_meant(row)).map(|row| row.seq);
    seqs.rev().collect()
}

#[test]
fn all_of_it_is_there_newest_first_and_nothing_twice() {
    let shop = Shop::open();
    let whole = meant(&shop, |_| true);
    assert_eq!(all_events(&shop, As::Officer, "/records"), whole);
    assert_eq!(all_events(&shop, As::Reader, "/records"), whole);
    shop.book_is_closed();
}

#[test]
fn each_role_sees_its_own_part_and_no_more() {
    let shop = Shop::open();
    let own_job = job_row(&shop, &top_up(&shop, As::Technician, "1")).seq;
    let others = job_row(&shop, &top_up(&shop, As::OtherTechnician, "1")).seq;
    let (yard, person) = shop.read(async |read| {
        let person = read.find_person_by_handle("P1").await.unwrap().unwrap();
        (person.shop.unwrap().0, person.id.0)
    });
    let of_yard = |row: &Row| row.shop == Some(yard);
    assert_eq!(
        all_events(&shop, As::Manager, "/records"),
        meant(&shop, of_yard)
    );
    let of_harbour = all_events(&shop, As::HarbourManager, "/records");
    assert!(!of_harbour.is_empty() && !of_harbour.contains(&own_job));
    // Those of today, which are the two jobs just saved.
    assert_eq!(
        all_events(&shop, As::LeadHand, "/records"),
        [others, own_job]
    );
    assert_eq!(
        all_events(&shop, As::Technician, "/records"),
        meant(&shop, |row| row.person == Some(person))
    );
    let theirs = page(&shop, As::Technician, "/records?person=P2");
    assert_eq!(
        events(&theirs),
        Vec::<i64>::new(),
        "another's are not shown by asking for them"
    );

    let of_others = format!("/records/{others}");
    for (who, status) in [
        (As::Technician, 404),
        (As::OtherTechnician, 200),
        (As::LeadHand, 200),
        (As::Manager, 200),
        (As::HarbourManager, 404),
        (As::HarbourTechnician, 404),
        (As::Officer, 200),
        (As::Reader, 200),
        (As::Administrator, 403),
        (As::Nobody, 303),
    ] {
        assert_eq!(shop.get(who, &of_others).status, status, "{who:?}");
    }
    assert_eq!(shop.get(As::Administrator, "/records").status, 403);
    assert_eq!(
        shop.get(As::LeadHand, "/records/1990").status,
        404,
        "of another day"
    );
    for nowhere in [
        "0",
        "-1",
        "99999999",
        "1000000000000000000000",
        "words",
        "1e3",
        "%00",
    ] {
        assert_eq!(
            shop.get(As::Officer, &format!("/records/{nowhere}")).status,
            404,
            "{nowhere}"
        );
    }
    shop.book_is_closed();
}

#[test]
fn the_trail_is_looked_through_by_kind_person_day_and_subject() {
    let shop = Shop::open();
    let unit = shop.read(async |read| read.find_unit_by_number("4512").await.unwrap().unwrap());
    let (unit_id, circuit) = (
        unit.id.to_string(),
        unit.loops.first().unwrap().id.to_string(),
    );
    let officers = |query: &str| all_events(&shop, As::Officer, &format!("/records?{query}"));
    assert_eq!(
        officers("kind=vessel"),
        meant(&shop, |row| row.kind == "vessel")
    );
    assert_eq!(
        officers("about=4512"),
        meant(&shop, |row| row.body.contains(&unit_id)),
        "the unit itself"
    );
    assert!(!officers("about=D-6&kind=job").is_empty());
    // A unit's card was changed on that day, and nothing else was done to a card.
    let day_and_kind = officers("day=2026-09-15&kind=unit");
    let &[changed] = day_and_kind.as_slice() else {
        panic!("{day_and_kind:?}");
    };
    let day = officers("day=2026-09-15");
    let hours_off = |row: &Row| (row.at - NOON).abs() / 3_600_000;
    let near = meant(&shop, |row| hours_off(row) < 36);
    assert!(day.contains(&changed) && day.len() < near.len(), "{day:?}");
    assert!(day.iter().all(|seq| near.contains(seq)), "{day:?}");
    let by = officers("person=P8&kind=unit");
    assert!(by.contains(&changed), "{by:?}");
    let voided = officers("kind=void");
    let meant_by = shop.read(async |read| {
        let rows = read.list_facts_at(&voided[..1]).await.unwrap();
        let What::Void(void) = rows[0].fact().unwrap().what else {
            panic!()
        };
        read.find_fact(void.job).await.unwrap().unwrap().seq
    });
    let of_event = officers(&format!("about={meant_by}"));
    assert!(!of_event.is_empty());
    assert!(
        of_event.iter().all(|seq| *seq > meant_by),
        "what is about a job comes after it"
    );
    assert_eq!(
        officers(&format!("about={circuit}&kind=unit")),
        officers("about=4512&kind=unit")
    );
    for (query, said) in [
        ("person=P99", "Nobody on record has the handle \"P99\""),
        ("about=no+such", "Nothing on record is called \"no such\""),
        (
            "day=05/10/2026",
            "\"05/10/2026\" is not a day from 1990 to 2200",
        ),
        (
            "kind=gossip",
            "\"gossip\" is not one of the answers offered",
        ),
        (
            "about=%3Cscript%3Ealert(1)%3C/script%3E",
            "Nothing on record is called \"<script>alert(1)</script>\"",
        ),
        ("about=%27%20or%201=1%20--", "Nothing on record is called"),
    ] {
        let html = page(&shop, As::Officer, &format!("/records?{query}"));
        assert!(text(&html).contains(said), "{query}: {}", text(&html));
        assert_eq!(events(&html), Vec::<i64>::new(), "{query}");
        assert!(!html.contains("<script>alert"), "{query}");
    }
    shop.book_is_closed();
}

#[test]
fn a_changed_card_is_shown_from_what_to_what_with_its_reason() {
    let shop = Shop::open();
    let unit = shop.read(async |read| read.find_unit_by_number("3301").await.unwrap().unwrap());
    let edit = format!("/units/{}/edit", unit.id);
    let hostile = "<script>alert(1)</script> measured";
    Form::open(&shop, As::Manager, &edit)
        .with_all(&[("loop1_capacity", "56.5"), ("reason", hostile)])
        .saved(&shop, As::Manager);
    let seq = shop.facts();
    let html = page(&shop, As::Officer, &format!("/records/{seq}"));
    let said = text(&html);
    for part in [
        "unit 3301",
        "P10, Jessamy Thorncote (invented), proved by password",
        "in the role of shop manager",
        "Came in through these pages",
        "Loop 1, capacity (changed) 54.0 L 56.5 L",
        "Number 3301 unchanged",
        hostile,
    ] {
        assert!(
            said.to_lowercase().contains(&part.to_lowercase()),
            "{part}: {said}"
        );
    }
    assert!(!html.contains("<script>alert"));
    let row = rows(&shop).into_iter().find(|row| row.seq == seq).unwrap();
    assert!(said.contains(&row.body), "the body as stored");
    let hex = |bytes: &[u8]| {
        bytes
            .iter()
            .fold(String::new(), |hex, byte| format!("{hex}{byte:02x}"))
    };
    assert!(said.contains(&hex(&row.hash)) && said.contains(&hex(&row.prev_hash)));
    assert!(
        html.contains(&format!("href=\"/records/{}\"", seq - 1)),
        "the event before"
    );
    let list = page(&shop, As::Officer, "/records");
    assert_eq!(events(&list).first(), Some(&seq));
    assert!(text(&list).contains(hostile));
    shop.book_is_closed();
}

#[test]
fn a_void_names_the_job_it_is_about() {
    let shop = Shop::open();
    let job = top_up(&shop, As::Technician, "2.5");
    let seq = job_row(&shop, &job).seq;
    shop.post(As::Technician, &format!("{job}/undo"), &[]);
    let html = page(&shop, As::Technician, &format!("/records/{}", seq + 1));
    let said = text(&html);
    let number = |seq: i64| format!("{},{:03}", seq / 1_000, seq % 1_000);
    let title = format!(
        "Event {}: void of job {}: top up 3301",
        number(seq + 1),
        number(seq)
    );
    assert!(said.contains(&title), "{title}: {said}");
    assert!(said.contains("Reason Undo"), "{said}");
    assert!(html.contains(&format!("href=\"/records/{seq}\"")));
    let of_job = page(&shop, As::Technician, &format!("/records/{seq}"));
    assert!(of_job.contains(&format!("href=\"{job}\"")));
    assert!(text(&of_job).contains("2.5 L from D-1 to 3301"));
    shop.book_is_closed();
}

#[test]
fn every_fact_of_the_record_has_a_page_without_a_bare_digest_for_a_word() {
    let shop = Shop::open();
    let mut seen = std::collections::BTreeSet::new();
    for row in rows(&shop) {
        let fact = row.fact().unwrap();
        let detail = match &fact.what {
            What::Job(job) => job.kind.code(),
            other => other.kind(),
        };
        if !seen.insert(detail) {
            continue;
        }
        let html = page(&shop, As::Officer, &format!("/records/{}", row.seq));
        let words = html.split("As it is stored").next().unwrap();
        assert!(
            !text(words).contains("without a card"),
            "{detail}: {}",
            text(words)
        );
        assert!(!words.contains("not on record"), "{detail}");
    }
    assert!(seen.len() >= 20, "{seen:?}");
    shop.book_is_closed();
}
