//! What pages read.

use crate::shop::{
    HOUR, PERSON, SHOP, START, Shop, command, fact, fill, job, movement, place, recover, run,
    the_loop, unit_card, vessel, void,
};
use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::fact::{MovedToShop, What};
use domain::ids::{ShopId, UnitId};
use domain::job::{Account, JobKind};
use domain::moment::Moment;
use std::collections::BTreeMap;
use uuid::Uuid;

#[tokio::test]
async fn contents_come_with_names_and_close_with_the_accounts_outside() {
    let shop = Shop::fitted_out().await;
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    shop.put(fact(
        START + HOUR,
        What::Job(job(
            JobKind::Spill,
            1,
            vec![movement(vessel(0), Account::Spilled, "4 L")],
        )),
    ))
    .await
    .unwrap();
    let mut read = shop.store.read().await.unwrap();
    let contents = read.list_contents().await.unwrap();
    let cart = contents
        .iter()
        .find(|each| each.place == place(vessel(0)))
        .unwrap();
    assert_eq!(cart.name.as_deref(), Some("cart 0"));
    assert_eq!(cart.shop, Some(SHOP));
    assert_eq!(cart.account, "vessel");
    let engine = contents
        .iter()
        .find(|each| each.place == place(the_loop(0)))
        .unwrap();
    assert_eq!(engine.unit_number.as_deref(), Some("2100"));
    assert_eq!(engine.name.as_deref(), Some("engine"));
    assert!(!engine.being_worked_out_again);

    let mut sums: BTreeMap<String, i64> = BTreeMap::new();
    for part in contents.iter().flat_map(|each| each.contents.parts()) {
        *sums.entry(part.component.name()).or_default() += part.ml;
    }
    for balance in read.list_outside_balances().await.unwrap() {
        *sums.entry(balance.component).or_default() += balance.ml;
    }
    assert!(sums.len() >= 2);
    assert!(sums.values().all(|ml| *ml == 0), "{sums:?}");
}

#[tokio::test]
async fn a_page_of_history_is_newest_first_and_the_next_goes_on_where_it_ended() {
    let shop = Shop::fitted_out().await;
    for n in 0..7 {
        shop.put(fact(START + n * HOUR, recover(0, "2 L")))
            .await
            .unwrap();
    }
    // Arrives last, happened first.
    shop.put(fact(START - HOUR, recover(0, "1 L")))
        .await
        .unwrap();
    let mut read = shop.store.read().await.unwrap();
    let mut seen = Vec::new();
    let mut before = None;
    loop {
        let page = read
            .list_place_history(place(the_loop(0)), before, 3)
            .await
            .unwrap();
        let Some(last) = page.last() else { break };
        before = Some(last.order);
        seen.extend(page);
    }
    assert_eq!(seen.len(), 8);
    assert!(seen.is_sorted_by(|one, other| one.order > other.order));
    // Each takes up where the one before it left off.
    assert!(
        seen.windows(2)
            .all(|two| two[0].shown_before_ml == two[1].shown_after_ml)
    );
    assert_eq!(seen[7].job_kind.as_deref(), Some("recover"));
    let of_unit = read
        .list_jobs_of_unit(UnitId(Uuid::from_u128(0x3000)), None, 100)
        .await
        .unwrap();
    assert_eq!(of_unit.len(), 8);
    let of_shop = read
        .list_jobs_of_shop(SHOP, Some(of_unit[0].order), 100)
        .await
        .unwrap();
    assert_eq!(of_shop.len(), 7);
}

#[tokio::test]
async fn totals_questions_and_outcomes_follow_a_void() {
    let shop = Shop::fitted_out().await;
    let over_drawn = shop.key();
    shop.store
        .append(command(over_drawn, fact(START, recover(0, "60 L"))))
        .await
        .unwrap();
    let month = Month::of(Moment(START).date_at_offset(-360).unwrap());
    let mut read = shop.store.read().await.unwrap();
    let totals = read
        .list_month_totals(Some(SHOP), (month, month))
        .await
        .unwrap();
    let recovered = totals
        .iter()
        .find(|total| total.measure == Measure::Recovered)
        .unwrap();
    assert_eq!((recovered.typed_ml, recovered.lines), (60_000, 1));
    let questions = read.list_open_questions(Some(SHOP), 10).await.unwrap();
    let question = questions.first().unwrap();
    assert_eq!(question.id.job, over_drawn);
    assert_eq!(question.unit_number.as_deref(), Some("2100"));
    assert_eq!(question.job_kind.as_deref(), Some("recover"));
    assert!(!read.list_postings(over_drawn).await.unwrap().is_empty());
    drop(read);

    let voiding = shop.key();
    shop.store
        .append(command(voiding, fact(START + HOUR, void(over_drawn))))
        .await
        .unwrap();
    let mut read = shop.store.read().await.unwrap();
    assert_eq!(
        read.list_month_totals(None, (month, month)).await.unwrap(),
        []
    );
    assert_eq!(read.count_open_questions(None).await.unwrap(), 0);
    let outcome = read.find_outcome(over_drawn).await.unwrap().unwrap();
    assert_eq!(outcome.standing, "voided");
    assert_eq!(outcome.voided_by, Some(voiding));
    assert_eq!(read.list_postings(over_drawn).await.unwrap(), []);
}

#[tokio::test]
async fn cards_are_found_by_what_people_call_them() {
    let shop = Shop::fitted_out().await;
    let elsewhere = ShopId(Uuid::from_u128(0x99));
    let unit = UnitId(Uuid::from_u128(0x3002));
    // The move is newer than the card that comes in after it.
    shop.put(fact(
        START + HOUR,
        What::MovedToShop(MovedToShop::Unit {
            unit,
            shop: elsewhere,
        }),
    ))
    .await
    .unwrap();
    let What::Unit(mut repainted) = unit_card(2) else {
        panic!("a unit is a unit")
    };
    repainted.number = "2102-B".to_owned();
    shop.put(fact(START, What::Unit(repainted))).await.unwrap();
    let mut read = shop.store.read().await.unwrap();
    let found = read.find_unit_by_number("2102-B").await.unwrap().unwrap();
    assert_eq!((found.id, found.shop), (unit, elsewhere));
    assert_eq!(read.find_unit_by_number("2102").await.unwrap(), None);
    let second = read
        .find_vessel_by_name("cart 1", Some(SHOP))
        .await
        .unwrap()
        .unwrap();
    assert_eq!(second.id, place(vessel(1)));
    assert_eq!(
        read.find_vessel_by_name("cart 1", Some(elsewhere))
            .await
            .unwrap(),
        None
    );
    let home = read.find_shop_by_name("Heavy bay").await.unwrap().unwrap();
    assert_eq!(home.id, SHOP);
    let person = read.find_person_by_handle("P3").await.unwrap().unwrap();
    assert_eq!(person.id, PERSON);
    let digest = person.name.as_ref().and_then(|name| name.digest()).unwrap();
    assert_eq!(
        read.find_text(digest).await.unwrap().as_deref(),
        Some("Ada Invented")
    );
    assert_eq!(
        read.list_texts(&[digest]).await.unwrap()[digest],
        "Ada Invented"
    );
    assert!(read.has_opening(place(vessel(0))).await.unwrap());
    assert!(!read.has_opening(place(vessel(1))).await.unwrap());
    let trail = read.list_facts_about(unit.0, None, 10).await.unwrap();
    let kinds: Vec<_> = trail.iter().map(|row| row.kind.as_str()).collect();
    assert_eq!(kinds, ["unit", "moved_to_shop", "unit"]);
    let earlier = read
        .find_previous_fact(unit.0, "unit", trail[0].seq)
        .await
        .unwrap()
        .unwrap();
    assert_eq!(earlier.seq, trail[2].seq);
}

#[tokio::test]
async fn what_is_read_at_once_is_of_one_moment() {
    let shop = Shop::fitted_out().await;
    let mut read = shop.store.read().await.unwrap();
    let head = read.head().await.unwrap();
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    assert_eq!(read.head().await.unwrap(), head);
    assert_eq!(
        read.list_record_before(None, 1).await.unwrap()[0].seq,
        head.seq
    );
    drop(read);
    let mut read = shop.store.read().await.unwrap();
    assert_eq!(read.head().await.unwrap().seq, head.seq + 1);
}

#[tokio::test]
async fn the_log_is_carried_into_the_database_while_facts_come_in() {
    let shop = Shop::fitted_out().await;
    for n in 0..250 {
        let what = if n % 2 == 0 {
            recover(0, "2 L")
        } else {
            fill(0, "2 L")
        };
        shop.put(fact(START + n * HOUR, what)).await.unwrap();
    }
    let log = std::fs::metadata(shop.folder.path().join("coolant.db-wal"))
        .unwrap()
        .len();
    // Without it the log would hold every page ever written: some 25 for each of these facts.
    assert!(log < 250 * 20 * 4_096, "the log is {log} bytes long");
    assert!(shop.fatal.lock().unwrap().is_empty());
    let carried = std::fs::metadata(shop.file()).unwrap().len();
    assert!(carried > 400_000, "the database is {carried} bytes long");
}

#[tokio::test]
async fn an_older_file_is_copied_before_it_is_brought_up_to_date() {
    let shop = Shop::fitted_out().await;
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    let views = shop.views().await;
    let mut raw = shop.raw().await;
    // As the first migration alone would have left it.
    for view in storage::VIEWS.into_iter().chain(["stale_places"]) {
        run(&mut raw, &format!("drop table {view}")).await;
    }
    run(&mut raw, "delete from _sqlx_migrations where version > 1").await;
    drop(raw);
    let shop = shop.opened_again().await;
    assert_eq!(views, shop.views().await);
    let copy = shop.folder.path().join("backup-before-migration-1.db");
    let mut kept = crate::shop::raw(&copy).await;
    let facts: i64 = sqlx::query_scalar("select count(*) from record")
        .fetch_one(&mut kept)
        .await
        .unwrap();
    assert!(facts > 10);
    let restored = tempfile::TempDir::new().unwrap();
    let report = storage::restore(&copy, &restored.path().join("data"))
        .await
        .unwrap();
    assert_eq!(report.facts, facts);
}
