//! The last pressure tests of a loop: which count, in what order, and what is known of the loop.

use crate::shop::{
    HOUR, START, Shop, command, fact, fill, job, place, recover, the_loop, unit_card, void,
};
use domain::fact::What;
use domain::fleet::Unit;
use domain::ids::FactKey;
use domain::job::{Details, Job, JobKind, Replaces};
use domain::pressure_test::PressureTest;
use domain::quantity::entry::read;
use storage::LastPressureTest;
use uuid::Uuid;

const BEGAN: i64 = START - 80 * HOUR;

/// At which hour, of which unit's loop; the key is the number at the end.
async fn test(shop: &Shop, hours: i64, unit: u128, n: u128) -> FactKey {
    put(shop, hours, tested(unit), n).await
}

fn tested(unit: u128) -> Job {
    Job {
        details: Some(Details::PressureTest(Box::new(PressureTest {
            pressure_start: read("100 kPa").unwrap(),
            pressure_end: read("90 kPa").unwrap(),
            temperature_start: None,
            temperature_end: None,
            hold_s: 300,
            gauge_step: None,
            readings: Vec::new(),
            gas_volume: None,
            tank_open: false,
            tank_air: None,
            leak_class: None,
            leak_place: None,
        }))),
        ..job(JobKind::PressureTest, unit, Vec::new())
    }
}

async fn put(shop: &Shop, hours: i64, job: Job, n: u128) -> FactKey {
    let key = FactKey(Uuid::from_u128(n));
    let fact = fact(BEGAN + hours * HOUR, What::Job(job));
    shop.store.append(command(key, fact)).await.unwrap();
    key
}

async fn last(shop: &Shop, unit: u128) -> Vec<LastPressureTest> {
    let mut read = shop.store.read().await.unwrap();
    let wanted = [place(the_loop(unit)), place(the_loop(5))];
    let tests = read.list_last_pressure_tests(&wanted).await.unwrap();
    assert!(!tests.contains_key(&wanted[1]));
    tests
        .get(&wanted[0])
        .map_or_else(Vec::new, |tests| tests.to_vec())
}

fn keys(tests: &[LastPressureTest]) -> Vec<(FactKey, bool)> {
    tests
        .iter()
        .map(|test| (test.key, test.filled_since))
        .collect()
}

#[tokio::test]
async fn those_since_the_last_fill_the_newest_first_and_else_the_last_one() {
    let shop = Shop::fitted_out().await;
    assert!(last(&shop, 0).await.is_empty());
    let first = test(&shop, 10, 0, 0xA1).await;
    // Two at one moment: the key decides, whichever arrived first.
    let later = test(&shop, 20, 0, 0xA3).await;
    let earlier = test(&shop, 20, 0, 0xA2).await;
    test(&shop, 30, 1, 0xA4).await;
    assert_eq!(
        keys(&last(&shop, 0).await),
        [(later, false), (earlier, false), (first, false)]
    );
    // A fill of another loop is none of this one; one between two tests parts them.
    shop.put(fact(BEGAN + 25 * HOUR, fill(1, "1 L")))
        .await
        .unwrap();
    shop.put(fact(BEGAN + 15 * HOUR, fill(0, "1 L")))
        .await
        .unwrap();
    assert_eq!(
        keys(&last(&shop, 0).await),
        [(later, false), (earlier, false)]
    );
    let filled = FactKey(Uuid::from_u128(0xB1));
    let again = fact(BEGAN + 40 * HOUR, fill(0, "1 L"));
    shop.store.append(command(filled, again)).await.unwrap();
    assert_eq!(keys(&last(&shop, 0).await), [(later, true)]);
    shop.put(fact(BEGAN + 41 * HOUR, void(filled)))
        .await
        .unwrap();
    assert_eq!(
        keys(&last(&shop, 0).await),
        [(later, false), (earlier, false)]
    );
}

#[tokio::test]
async fn one_that_was_voided_or_replaced_does_not_count() {
    let shop = Shop::fitted_out().await;
    let first = test(&shop, 10, 0, 0xA1).await;
    let second = test(&shop, 20, 0, 0xA2).await;
    shop.put(fact(BEGAN + 21 * HOUR, void(second)))
        .await
        .unwrap();
    assert_eq!(keys(&last(&shop, 0).await), [(first, false)]);
    let in_its_place = Job {
        replaces: Some(Replaces {
            job: first,
            reason: None,
        }),
        ..tested(0)
    };
    let instead = put(&shop, 11, in_its_place, 0xA3).await;
    assert_eq!(keys(&last(&shop, 0).await), [(instead, false)]);
}

#[tokio::test]
async fn a_test_knows_what_the_loop_held_then_and_the_rating_of_its_card() {
    let shop = Shop::fitted_out().await;
    shop.put(fact(BEGAN + 5 * HOUR, recover(0, "12 L")))
        .await
        .unwrap();
    test(&shop, 10, 0, 0xA1).await;
    let held = last(&shop, 0).await[0].held.unwrap();
    let What::Unit(card) = unit_card(0) else {
        panic!()
    };
    let mut card: Unit = card;
    card.loops[0].cap_rating = Some(read("110 kPa").unwrap());
    card.loops[0].lowest_part_rating = Some(read("95 kPa").unwrap());
    shop.put(fact(BEGAN + 20 * HOUR, What::Unit(card)))
        .await
        .unwrap();
    // What is drained later changes nothing about the test.
    shop.put(fact(BEGAN + 30 * HOUR, recover(0, "12 L")))
        .await
        .unwrap();
    let found = &last(&shop, 0).await[0];
    assert_eq!(found.held, Some(held));
    assert_eq!(found.rating.unwrap().pa(), 95_000);
    let before = shop
        .store
        .with_book(|book| book.place(place(the_loop(0))).unwrap().figures().shown_ml)
        .await
        .unwrap();
    assert!(
        (held.0.shown_ml - before - 12_000).abs() < 200,
        "{held:?} {before}"
    );
}
