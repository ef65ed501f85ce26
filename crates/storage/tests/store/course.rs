//! What is kept of the course of units is what would be read anew, and no more is let go than has
//! changed.

use std::sync::Arc;

use crate::shop::{
    HOUR, SHOP, START, Shop, fact, fill, job, movement, place, recover, run, the_loop, vessel,
    vessel_card,
};
use domain::book::component::{Component, InhibitorClass};
use domain::condition::course::Done;
use domain::fact::{Merged, What};
use domain::fleet::Holds;
use domain::job::{Account, JobKind, Line};
use storage::UnitCourse;

/// What is known of all units; it is what reading them anew gives.
async fn courses(shop: &Shop) -> Vec<Arc<UnitCourse>> {
    shop.store.settled().await;
    let mut read = shop.store.read().await.unwrap();
    let loops = read.list_loop_figures(SHOP).await.unwrap();
    let known = read.list_courses_of_loops(&loops).await.unwrap();
    let units: Vec<_> = known.iter().map(|unit| unit.unit).collect();
    assert_eq!(known, read.list_courses(&units).await.unwrap());
    known
}

/// Units 0 and 1 are filled from vessels 0 and 1.
async fn filled() -> Shop {
    let shop = Shop::fitted_out().await;
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    shop.put(fact(START + HOUR, fill(0, "30 L"))).await.unwrap();
    let from_other = movement(vessel(1), the_loop(1), "30 L");
    let other = job(JobKind::Fill, 1, vec![from_other]);
    shop.put(fact(START + HOUR, What::Job(other)))
        .await
        .unwrap();
    shop
}

/// Another class than the vessel holds, from before the fill, on a job that names no unit.
fn received(litres: &str) -> What {
    let mut line = movement(Account::Supplier, vessel(0), litres);
    if let Line::Movement(moved) = &mut line
        && let Some(fluid) = &mut moved.fluid
    {
        fluid.class = InhibitorClass::Hoat;
    }
    let mut job = job(JobKind::Receive, 0, vec![line]);
    job.unit = None;
    job.place = Some(vessel(0));
    What::Job(job)
}

fn foreign_ml(units: &[Arc<UnitCourse>]) -> i64 {
    let parts = units[0].loops[0].contents.parts();
    let foreign = parts.iter().filter(|part| {
        matches!(
            part.component,
            Component::Concentrate(_, InhibitorClass::Hoat)
        )
    });
    foreign.map(|part| part.ml).sum()
}

#[tokio::test]
async fn a_late_fact_on_a_vessel_changes_what_is_known_of_a_loop_filled_from_it() {
    let shop = filled().await;
    assert_eq!(foreign_ml(&courses(&shop).await), 0);
    shop.put(fact(START - HOUR, received("100 L")))
        .await
        .unwrap();
    // 30 of 530 L at most were drawn off, so about a fifth of what is in the loop came with it.
    let known = courses(&shop).await;
    assert!(foreign_ml(&known) > 1_000, "{:?}", known[0]);
}

fn is_fresh(unit: &UnitCourse) -> bool {
    unit.loops[0]
        .course
        .events
        .iter()
        .any(|event| matches!(&event.done, Done::Filled { put_in, fresh } if fresh == put_in))
}

#[tokio::test]
async fn a_vessels_card_and_a_merge_let_go_only_of_units_they_concern() {
    let shop = filled().await;
    let before = courses(&shop).await;
    assert!(!is_fresh(&before[0]));
    let card = |name: &str, holds| {
        let What::Vessel(mut card) = vessel_card(0) else {
            panic!("a vessel's card is one")
        };
        name.clone_into(&mut card.name);
        card.holds = holds;
        What::Vessel(card)
    };
    let renamed = card("cart by the door", Holds::Recovered);
    shop.put(fact(START + 2 * HOUR, renamed)).await.unwrap();
    let after = courses(&shop).await;
    assert!(
        before
            .iter()
            .zip(&after)
            .all(|(was, is)| Arc::ptr_eq(was, is))
    );

    let fresh = card("cart by the door", Holds::Fresh);
    shop.put(fact(START + 3 * HOUR, fresh)).await.unwrap();
    let known = courses(&shop).await;
    assert!(is_fresh(&known[0]) && !is_fresh(&known[1]));
    assert!(Arc::ptr_eq(&known[1], &before[1]));

    let merged = What::Merged(Merged {
        from: place(vessel(1)),
        into: place(vessel(2)),
    });
    shop.put(fact(START + 4 * HOUR, merged)).await.unwrap();
    let last = courses(&shop).await;
    assert!(Arc::ptr_eq(&last[0], &known[0]));
}

#[tokio::test]
async fn what_is_read_ahead_is_not_read_again() {
    let shop = filled().await;
    shop.store.read_ahead().await.unwrap();
    // Without a fact nobody looks at the jobs again, so nobody sees that they are gone.
    let gone = run(&mut shop.raw().await, "update jobs set unit = null").await;
    assert!(gone > 0);
    let mut read = shop.store.read().await.unwrap();
    let loops = read.list_loop_figures(SHOP).await.unwrap();
    let known = read.list_courses_of_loops(&loops).await.unwrap();
    assert!(!known[0].loops[0].course.events.is_empty());
    let anew = read.list_courses(&[known[0].unit]).await.unwrap();
    assert!(anew[0].loops[0].course.events.is_empty());
}
